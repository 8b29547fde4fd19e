"""Would this photo mislead? Then no area is given, and the reason and the next move are.

>>> tilt(62.0, wall=False).because
'The card is seen 62° from square; at most 55° is measured.'
>>> tilt(20.0, wall=False) is None
True
"""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict


class Reason(BaseModel):
    """One check that refuses or warns: its name, why, and what to do."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    check: str
    because: str
    next_move: str
    weight: Literal["refuse", "warn"] = "refuse"


# Limits of the method: own choices from rendered and real photos, to be confirmed with shapes of known area.
TAGS_WARN, TAGS_MIN = 12, 6
RESIDUAL_WARN_MM, RESIDUAL_MAX_MM = 0.05, 0.15
TILT_WARN_DEG, TILT_MAX_DEG = 30.0, 55.0
TILT_WARN_WALL_DEG, TILT_MAX_WALL_DEG = 10.0, 20.0
WALL_MM = 1.0
PX_MM_WARN, PX_MM_MIN = 6.0, 3.0
ACROSS_MIN_PX = 25.0
BLUR_WARN_MM, BLUR_MAX_MM = 0.25, 0.50
GLARE_MAX = 0.15
AREA_WARN_MM2, AREA_MIN_MM2 = 40.0, 10.0
BAR_OFF_MAX_MM = 5.0
BAR_AGE_WARN_DAYS = 30
RADIUS_WARN_MM, RADIUS_MIN_MM, OFF_CENTRE_WARN_MM = 500.0, 150.0, 5.0
WINDOW_MARGIN_MM = 0.3
TAPS_WARN = 8


def _warn(check: str, because: str, next_move: str) -> Reason:
    return Reason(check=check, because=because, next_move=next_move, weight="warn")


def _refuse(check: str, because: str, next_move: str) -> Reason:
    return Reason(check=check, because=because, next_move=next_move)


def cards(numbers: list[int], names: set[str]) -> Reason | None:
    """Two cards in one photo, or none."""
    if not numbers:
        return _refuse("no_card", "No mark of a target card was found in the photo.",
                       "Lay the card round the damage, all marks in view, sharp and without glare, and take it again.")
    if len(names) > 1:
        return _refuse("two_cards", f"Marks of {len(names)} different cards are in the photo ({', '.join(sorted(names))}).",
                       "Leave one card in view and take it again.")
    if len(set(numbers)) < len(numbers):
        twice = sorted({n for n in numbers if numbers.count(n) > 1})
        return _refuse("two_cards", f"Mark {twice[0]} is in the photo more than once: there are two cards.",
                       "Leave one card in view and take it again.")
    return None


def tags(found: int, on_card: int) -> Reason | None:
    """Enough marks for a plane that can be trusted."""
    if found < TAGS_MIN:
        return _refuse("tags", f"Only {found} of {on_card} marks could be measured; at least {TAGS_MIN} are needed.",
                       "Clear the marks of fingers and glare, come nearer, and take it again.")
    if found < min(TAGS_WARN, on_card):
        return _warn("tags", f"Only {found} of {on_card} marks could be measured.", "Take it again with all marks in view.")
    return None


def flatness(residual_mm: float) -> Reason | None:
    """The residual of the plane fit is a gauge of flatness."""
    words = f"The marks lie {residual_mm:.2g} mm off one plane (root mean square)"
    if residual_mm > RESIDUAL_MAX_MM:
        return _refuse("flatness", f"{words}; at most {RESIDUAL_MAX_MM:g} mm is measured. The card is bent or lifted.",
                       "Press the card flat, or mount it on a stiff sheet; on a curved part chalk the outline and call "
                       "the engineer.")
    if residual_mm > RESIDUAL_WARN_MM:
        return _warn("flatness", f"{words}: the card is not quite flat.", "Press it flat and take a second photo.")
    return None


def tilt(tilt_deg: float, *, wall: bool) -> Reason | None:
    """How slanted; ``wall``: the bottom edge of a lining thicker than 1 mm is outlined."""
    most, warn = (TILT_MAX_WALL_DEG, TILT_WARN_WALL_DEG) if wall else (TILT_MAX_DEG, TILT_WARN_DEG)
    why = " when the bottom edge of a thick lining is outlined" if wall else ""
    words = f"The card is seen {tilt_deg:.0f}° from square"
    if tilt_deg > most:
        return _refuse("tilt", f"{words}; at most {most:g}° is measured{why}.",
                       "Hold the phone square over the card and take it again."
                       + (" Or outline the top edge of the lining." if wall else ""))
    if tilt_deg > warn:
        return _warn("tilt", f"{words}{why}.", "Hold the phone squarer.")
    return None


def resolution(px_per_mm: float) -> Reason | None:
    """Pixels to the millimetre in the worst direction."""
    words = f"One millimetre covers {px_per_mm:.1f} pixels in the worst direction"
    if px_per_mm < PX_MM_MIN:
        return _refuse("resolution", f"{words}; at least {PX_MM_MIN:g} are needed.", "Come nearer and take it again.")
    if px_per_mm < PX_MM_WARN:
        return _warn("resolution", f"{words}; {PX_MM_WARN:g} and more are better.", "Come nearer.")
    return None


def sharpness(blur_mm: float) -> Reason | None:
    """How far the borders of the marks are smeared."""
    words = f"The edges of the marks are smeared over {blur_mm:.2f} mm (standard deviation)"
    if blur_mm > BLUR_MAX_MM:
        return _refuse("blur", f"{words}; at most {BLUR_MAX_MM:g} mm is measured.",
                       "Wipe the lens, tap to focus on the card, hold still, and take it again.")
    if blur_mm > BLUR_WARN_MM:
        return _warn("blur", f"{words}.", "Tap to focus and take a second photo.")
    return None


def glare(share: float) -> Reason | None:
    """Share of the outline where both sides are blown out."""
    if share > GLARE_MAX:
        return _refuse("glare", f"Along {100 * share:.0f} % of the outline the picture is blown out; at most "
                                f"{100 * GLARE_MAX:.0f} % is measured.", "Shade the lamp or move it, and take it again.")
    if share > 0.005:
        return _warn("glare", f"Along {100 * share:.0f} % of the outline the picture is blown out.",
                     "Shade the lamp and take a second photo.")
    return None


def few_taps(taps: int, *, straight: bool) -> Reason | None:
    """Below eight taps the straight lines turn so sharply that a round edge looks like corners, and nothing foresees
    what the lines cut off."""
    if not straight or taps >= TAPS_WARN:
        return None
    return _warn("few_taps", f"{taps} taps are joined by straight lines, and each counts as a sharp corner: of a round edge "
                             "they cut off more than the ± says, and the area is too small.",
                 "Tap 10 to 16 times round the edge, unless it really has straight sides.")


def size(area_mm2: float, across_px: float) -> Reason | None:
    """Too small to measure with a photo."""
    if area_mm2 < AREA_MIN_MM2:
        return _refuse("size", f"The damage is smaller than {AREA_MIN_MM2:g} mm²; a photo does not measure that.",
                       "Record it as smaller than 10 mm², or measure it with a graduated loupe.")
    if across_px < ACROSS_MIN_PX:
        return _refuse("size", f"The damage is {across_px:.0f} pixels across; at least {ACROSS_MIN_PX:g} are needed.",
                       "Come nearer and take it again.")
    if area_mm2 < AREA_WARN_MM2:
        return _warn("size", f"Below {AREA_WARN_MM2:g} mm² where the edge is set decides the result.",
                     "Read the area only with its uncertainty.")
    return None


def bars(bar_x_mm: float | None, bar_y_mm: float | None) -> Reason | None:
    """The print was checked: a sheet printed too small shows nothing in the photo."""
    if bar_x_mm is None or bar_y_mm is None:
        lacking = [name for name, bar in (("x", bar_x_mm), ("y", bar_y_mm)) if bar is None]
        return _refuse("print_check", f"The check bar in {' and '.join(lacking)} was not measured. A card printed 2 % "
                                      "small makes the area 4 % wrong and no photo shows it.",
                       "Measure both 100 mm bars on the card with a steel rule and type what you read.")
    for name, bar in (("x", bar_x_mm), ("y", bar_y_mm)):
        if abs(bar - 100.0) > BAR_OFF_MAX_MM:
            return _refuse("print_check", f"The bar in {name} measures {bar:g} mm; more than {BAR_OFF_MAX_MM:g} mm off 100 is "
                                          "not a slip of the printer but a wrong setting.", "Print the card again at 100 %.")
    return None


def bar_age(days: int | None) -> Reason | None:
    """How long ago the bars were measured, when both dates are known."""
    if days is not None and days > BAR_AGE_WARN_DAYS:
        return _warn("print_check", f"The bars were measured {days} days before the photo.",
                     "Measure them again; paper shrinks and swells.")
    if days is not None and days < 0:
        return _warn("print_check", f"The bars were measured {-days} days after the photo.", "Check both dates.")
    return None


def curvature(radius_mm: float | None, off_centre_mm: float, photos: int) -> list[Reason]:
    """A flat card on a curved part."""
    if radius_mm is None:
        return []
    if radius_mm < RADIUS_MIN_MM:
        return [_refuse("curvature", f"The part is curved with radius {radius_mm:g} mm; a flat card measures from "
                                     f"{RADIUS_MIN_MM:g} mm on.",
                        "Press a paper round the part, trace the damage on it, and lay the tracing flat under the card.")]
    if photos < 2:
        return [_refuse("curvature", f"The part is curved with radius {radius_mm:g} mm; one photo cannot show what that does.",
                        "Take a second photo from the opposite side, card unmoved, and give both.")]
    if radius_mm < RADIUS_WARN_MM and off_centre_mm > OFF_CENTRE_WARN_MM:
        return [_warn("curvature", f"Radius {radius_mm:g} mm, and the damage lies {off_centre_mm:.0f} mm from where the card "
                                   "touches.",
                      "Lay the card so that it touches at the damage.")]
    return []


def opposite(angle_deg: float) -> Reason | None:
    """Two photos of a curved part: angle between the two directions the camera stood in."""
    if angle_deg < 90:
        return _refuse("curvature", f"The two photos were taken from directions {angle_deg:.0f}° apart; a curved part needs "
                                    "them from opposite sides.", "Take the second photo from the other side, card unmoved.")
    return None


def camera(zoom: float | None, ratio: float) -> list[Reason]:
    """What the camera did to the picture."""
    out = []
    if zoom is not None and zoom > 1.05:
        out.append(_warn("camera", f"The camera notes a digital zoom of {zoom:g}.", "Step nearer instead of zooming."))
    if min(abs(ratio - native) for native in (4 / 3, 3 / 2, 16 / 9, 1.0)) > 0.02:
        out.append(_warn("camera", "The photo does not have the shape a camera gives; it was cropped, and the lens is no "
                                   "longer centred on it.", "Send the photo as it was taken."))
    return out


def disagreement(a: float, b: float, u: float, unit: str = "mm²") -> Reason:
    """Two outlines of one place that cannot both be right."""
    return _refuse("disagreement", f"Two outlines of the same place give {a:.1f} and {b:.1f} {unit}; they may differ by at "
                                   f"most {2 * u:.1f} {unit} (twice their joint standard uncertainty). Neither is used.",
                   "Agree where the edge is, look at the part again, and outline it once more. On a curved part the card "
                   "does not lie flat enough: call the engineer.")


def outline(check: str, because: str, next_move: str) -> Reason:
    """A fault of the outline itself."""
    return _refuse(check, because, next_move)
