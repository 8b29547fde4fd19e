"""The door of the survey room: which questions about a photo does it take?

The room itself reads no file; whoever asks hands over the bytes of the photos by name:

    survey(read(SurveyRequest, {"photo": "spot.jpg", "outline": {…}, "card": {…}}), {"spot.jpg": data})
"""

from __future__ import annotations

import hashlib
import math
from typing import Any

from ..basis.errors import Missing, OutOfRange
from ..basis.finding import Finding, Verdict, judge
from ..basis.question import Answer, AnswerPart, Form
from ..basis.sentences import say
from . import checks
from .checks import Reason
from .given import CardFacts, Clicks, DraftRequest, FindCardRequest, SurveyRequest

CAUTION = "The area is what the outline encloses. Lining that is loose beyond it does not show in a photo: probe the edge."


class BudgetRow(AnswerPart):
    """One influence on the area: standard uncertainty in per cent of it, and what stands behind the number."""

    name: str
    u_pct: float
    words: str = ""


class OneOutline(AnswerPart):
    """One of several outlines of the same place."""

    photo: str
    by: str | None = None
    area_mm2: float
    u_area_mm2: float


class Suggestion(AnswerPart):
    """The edge the picture shows near the taps, for a person to accept or not. ``outline_px`` goes back as taps."""

    offered: bool
    because: str
    contrast: float | None = None
    outline_px: list[tuple[float, float]] | None = None
    outline_mm: list[tuple[float, float]] | None = None
    area_mm2: float | None = None


class CardAnswer(Answer):
    """Where the card is: pose and scale only."""

    sheet: str | None = None
    tags_found: int = 0
    tilt_deg: float | None = None
    distance_mm: float | None = None
    u_distance_mm: float | None = None
    residual_mm: float | None = None
    px_per_mm: float | None = None
    blur_mm: float | None = None
    k1: float | None = None
    photo_px: tuple[int, int] | None = None
    photo_sha256: str | None = None
    taken_on: str | None = None
    window_px: list[tuple[float, float]] | None = None
    refused: list[Reason] = []
    warned: list[Reason] = []
    cautions: list[str] = []


class FoundCard(CardAnswer):
    """The card, and for a grid over the photo the plane of the lining as one homography.

    ``plane_px_to_mm``: nine numbers, row by row, upright pixels to millimetres on the lining (the card's thickness taken
    into account). It leaves out the lens; ``plane_off_mm`` is how far it is off at worst within the window. For drawing
    and for estimates: a measurement takes the fitted plane with the lens.
    """

    plane_px_to_mm: list[float] | None = None
    plane_off_mm: float | None = None


class DraftAnswer(CardAnswer):
    """A draft outline for a person to correct; never measured by itself."""

    outline_px: list[tuple[float, float]] | None = None
    confirmed: bool = False


class SurveyAnswer(CardAnswer):
    """One damaged place. When ``refused`` is not empty there is no area, no length and no outline.

    ``u_…`` are standard uncertainties. A crack has ``length_mm``, ``path_mm`` (its line) and ``width_mm`` or
    ``width_below_mm``; it has an area and an outline only when ``band_mm`` was given on purpose.
    """

    verdict: Verdict | None = None
    kind: str = "chip"
    confirmed: bool = False
    area_mm2: float | None = None
    u_area_mm2: float | None = None
    perimeter_mm: float | None = None
    length_mm: float | None = None
    u_length_mm: float | None = None
    width_mm: float | None = None
    width_below_mm: float | None = None
    centroid_mm: tuple[float, float] | None = None
    outline_mm: list[tuple[float, float]] | None = None
    holes_mm: list[list[tuple[float, float]]] = []
    path_mm: list[tuple[float, float]] | None = None
    budget: list[BudgetRow] = []
    outlines: list[OneOutline] = []
    suggestion: Suggestion | None = None


def survey(asked: SurveyRequest, photos: dict[str, bytes]) -> SurveyAnswer:
    """Measure one damaged place.

    Parameters
    ----------
    asked : SurveyRequest
    photos : dict
        Bytes of every photo the request names.

    Raises
    ------
    Unreadable, OutOfRange
        A file that is no usable photo. Everything that speaks against measuring a good photo comes back in ``refused``.
    """
    from .measure import Part, measure_place
    from .seen import see

    bars = _bars(asked.card)
    names = [asked.photo, *(other.photo or asked.photo for other in asked.others)]
    clicks = [asked.outline, *(other.outline for other in asked.others)]
    seen = {name: see(_bytes(photos, name), bars=bars, name=f"The photo '{name}'") for name in dict.fromkeys(names)}
    first = seen[asked.photo]
    answer = SurveyAnswer(kind=asked.outline.kind, confirmed=all(c.confirmed for c in clicks), cautions=[CAUTION])
    _describe(answer, first, photos[asked.photo])
    reasons = _card_reasons(asked, first)
    for name, one in seen.items():
        reasons += [_named(reason, name) if len(seen) > 1 else reason for reason in one.reasons]
    reasons += checks.curvature(asked.radius_mm, asked.off_centre_mm, len(seen))
    views = [one.view for one in seen.values() if one.view is not None]
    opposite_tilt = None
    if asked.radius_mm is not None and len(views) > 1:
        apart = _angle_deg(views[0].away, views[1].away)
        wrong = checks.opposite(apart)
        reasons += [wrong] if wrong else []
        opposite_tilt = views[1].tilt_deg
    part = Part(asked.lining_mm, asked.radius_mm, asked.off_centre_mm, opposite_tilt)
    places = []
    for name, one_clicks in zip(names, clicks):
        if seen[name].plane is None:
            continue
        place = measure_place(seen[name], one_clicks, asked.card, part)
        reasons += [_named(r, name) if len(names) > 1 else r for r in place.reasons]
        places.append(place)
    if not _any_refused(reasons):
        if asked.outline.kind == "crack":
            reasons += _crack(answer, asked, first, places)
        else:
            reasons += _area(answer, names, clicks, places)
        if asked.suggest:
            answer.suggestion = suggest(first, asked.outline, asked.card)
    answer.refused = _once([r for r in reasons if r.weight == "refuse"])
    answer.warned = _once([r for r in reasons if r.weight == "warn"])
    _judge(answer, asked)
    return answer


def find_card(asked: FindCardRequest, photos: dict[str, bytes]) -> FoundCard:
    """Pose and scale of the card in a photo, and what speaks against measuring with it."""
    from .seen import see

    seen = see(_bytes(photos, asked.photo), bars=_bars(asked.card), name=f"The photo '{asked.photo}'", colour=False)
    answer = FoundCard()
    _describe(answer, seen, photos[asked.photo])
    if seen.view is not None:
        answer.plane_px_to_mm, answer.plane_off_mm = _drawn_plane(seen, asked.card)
    reasons = list(seen.reasons)
    if asked.card.bar_x_mm is not None and asked.card.bar_y_mm is not None:
        wrong = checks.bars(asked.card.bar_x_mm, asked.card.bar_y_mm)
        reasons += [wrong] if wrong else []
    if seen.view is not None:
        slanting = checks.tilt(seen.view.tilt_deg, wall=False)
        reasons += [slanting] if slanting else []
    answer.refused = _once([r for r in reasons if r.weight == "refuse"])
    answer.warned = _once([r for r in reasons if r.weight == "warn"])
    return answer


def draft(asked: DraftRequest, photos: dict[str, bytes]) -> DraftAnswer:
    """A draft outline from a box and taps; a photo that cannot be measured is refused here already."""
    import numpy as np

    from .draft import draft_outline
    from .seen import see

    seen = see(_bytes(photos, asked.photo), name=f"The photo '{asked.photo}'")
    answer = DraftAnswer()
    _describe(answer, seen, photos[asked.photo])
    answer.refused = _once([r for r in seen.reasons if r.weight == "refuse"])
    answer.warned = _once([r for r in seen.reasons if r.weight == "warn"])
    if answer.refused:
        return answer
    assert seen.plane is not None
    width, height = seen.photo.size_px
    for field, points in (("box_px", asked.box_px), ("taps_px", asked.taps_px)):
        for x, y in points:
            if not (-0.5 <= x <= width - 0.5 and -0.5 <= y <= height - 0.5):
                raise OutOfRange(field, say("survey.point_off_photo", x=x, y=y, width=width, height=height))
    (x0, y0), (x1, y1) = asked.box_px
    corners = seen.plane.to_card(np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], float))
    low, high = corners.min(axis=0), corners.max(axis=0)
    found = draft_outline(seen.flat, (low[0], low[1], high[0], high[1]), seen.plane.to_card(np.array(asked.taps_px, float)))
    answer.outline_px = [(round(float(x), 2), round(float(y), 2)) for x, y in seen.plane.to_photo(found)]
    return answer


def suggest(seen: Any, clicks: Clicks, card: CardFacts) -> Suggestion:
    """The edge near the taps as the picture shows it; refused with a reason where inside and outside look alike."""
    import numpy as np

    from .outline import curve_through, measured
    from .snap import CONTRAST_MIN, snap
    from .view import shifted

    if clicks.kind == "crack":
        return Suggestion(offered=False, because="A crack has no inside; tap along it.")
    taps = seen.plane.to_card(np.array(clicks.outline_px, float))
    ring = np.array(curve_through([tuple(p) for p in taps.tolist()]) if len(taps) <= 60 else taps)
    found = snap(seen.flat, ring)
    if found.outline_mm is None:
        return Suggestion(
            offered=False, contrast=found.d_prime,
            because=f"Inside and outside differ too little in colour (contrast {found.d_prime:.1f}, needed "
                    f"{CONTRAST_MIN:g}); the strongest step may be a shadow. Draw a chalk or pencil line round it and "
                    "photograph it again.",
        )
    from shapely.geometry import Polygon

    if not Polygon(found.outline_mm).is_valid:
        return Suggestion(offered=False, contrast=found.d_prime,
                          because="The edge found crosses itself. Tap closer to the edge.")
    on_lining = [(float(x), float(y)) for x, y in shifted(found.outline_mm, seen.view, card.stand_off_mm[0])]
    return Suggestion(
        offered=True, contrast=found.d_prime, area_mm2=measured(on_lining).area_mm2,
        because="Compare it with your taps. Take it over only where it follows the edge you mean.",
        outline_px=[(round(float(x), 2), round(float(y), 2)) for x, y in seen.plane.to_photo(found.outline_mm)],
        outline_mm=on_lining,
    )


def _bars(card: CardFacts) -> tuple[float, float]:
    return (card.bar_x_mm or 100.0) / 100.0, (card.bar_y_mm or 100.0) / 100.0


def _bytes(photos: dict[str, bytes], name: str) -> bytes:
    if name not in photos:
        raise Missing("photo", say("survey.photo_bytes_missing", name=name))
    return photos[name]


def _describe(answer: CardAnswer, seen: Any, data: bytes) -> None:
    answer.photo_sha256 = hashlib.sha256(data).hexdigest()
    answer.photo_px = seen.photo.size_px
    answer.taken_on = seen.photo.head.taken_on.isoformat() if seen.photo.head.taken_on else None
    answer.tags_found = len({mark.number for mark in seen.marks})
    answer.sheet = seen.sheet.name if seen.sheet else None
    if seen.plane is None or seen.view is None:
        return
    import numpy as np

    answer.tilt_deg, answer.distance_mm = seen.view.tilt_deg, seen.view.distance_mm
    answer.u_distance_mm, answer.residual_mm = seen.view.u_distance_mm, seen.plane.residual_mm
    answer.px_per_mm, answer.blur_mm, answer.k1 = seen.px_per_mm, seen.blur_mm, seen.plane.k1
    corners = seen.plane.to_photo(np.array(seen.open_region_mm()))
    answer.window_px = [(round(float(x), 2), round(float(y), 2)) for x, y in corners]


def _drawn_plane(seen: Any, card: CardFacts) -> tuple[list[float], float]:
    """The plane of the lining as a single homography, fitted to the window, and how far that is off there."""
    import cv2
    import numpy as np

    from .plane import _homography
    from .view import shifted

    xs, ys = zip(*seen.open_region_mm())
    places = np.stack(np.meshgrid(np.linspace(min(xs), max(xs), 9), np.linspace(min(ys), max(ys), 9)), axis=-1).reshape(-1, 2)
    pixels = seen.plane.to_photo(places)
    on_lining = shifted(places, seen.view, card.stand_off_mm[0])
    h, _ = cv2.findHomography(pixels, on_lining)
    off = float(np.hypot(*(_homography(h, pixels) - on_lining).T).max())
    return [float(v) for v in h.ravel()], off


def _card_reasons(asked: SurveyRequest, first: Any) -> list[Reason]:
    reasons = []
    wrong = checks.bars(asked.card.bar_x_mm, asked.card.bar_y_mm)
    taken = asked.taken_on or first.photo.head.taken_on
    old = checks.bar_age((taken - asked.card.checked_on).days if taken and asked.card.checked_on else None)
    reasons += [r for r in (wrong, old) if r is not None]
    if asked.card.thickness_mm is None:
        reasons.append(Reason(check="card_thickness", weight="warn",
                              because="The card's thickness was not stated; 0.5 ± 0.3 mm is taken.",
                              next_move="Measure card and mount with a calliper and type it."))
    if not asked.outline.confirmed:
        reasons.append(Reason(check="unconfirmed", weight="warn",
                              because="Nobody has confirmed the outline; it decides nothing.",
                              next_move="Look at the outline on the picture and confirm it."))
    return reasons


def _area(answer: SurveyAnswer, names: list[str], clicks: list[Clicks], places: list[Any]) -> list[Reason]:
    """Fill in the numbers of an area; or the disagreement, when several outlines differ."""
    from .budget import total_pct
    from .together import Estimate, together

    estimates = []
    for place in places:
        own = total_pct([row for row in place.rows if not row.shared])
        shared = total_pct([row for row in place.rows if row.shared])
        estimates.append(Estimate(place.shape.area_mm2, own / 100 * place.shape.area_mm2, shared / 100 * place.shape.area_mm2))
    both = together(estimates)
    if both.quarrel is not None:
        return [both.quarrel]
    assert both.area_mm2 is not None and both.u_mm2 is not None
    place, shape = places[0], places[0].shape
    # the outline handed on encloses the area that is stated
    grow = math.sqrt(both.area_mm2 / shape.area_mm2) if len(places) > 1 else 1.0
    answer.area_mm2, answer.u_area_mm2 = both.area_mm2, both.u_mm2
    answer.perimeter_mm, answer.length_mm = shape.perimeter_mm * grow, shape.length_mm * grow
    answer.width_mm, answer.centroid_mm = shape.width_mm * grow, shape.centroid_mm
    answer.u_length_mm = math.hypot(both.u_mm2 / both.area_mm2 / 2 * shape.length_mm, 0.15 * math.sqrt(2))
    answer.outline_mm = _grown(place.outline_mm, shape.centroid_mm, grow)
    answer.holes_mm = [_grown(ring, shape.centroid_mm, grow) for ring in place.holes_mm]
    if len(places) > 1:
        own = math.sqrt(max(both.u_mm2**2 - (sum(e.shared_mm2 for e in estimates) / len(estimates)) ** 2, 0.0))
        answer.outlines = [
            OneOutline(photo=name, by=c.by, area_mm2=e.area_mm2, u_area_mm2=math.hypot(e.own_mm2, e.shared_mm2))
            for name, c, e in zip(names, clicks, estimates)
        ]
        answer.budget = [BudgetRow(name=row.name, u_pct=row.u_pct, words=row.words) for row in place.rows if row.shared]
        answer.budget.insert(0, BudgetRow(name="outlines_together", u_pct=100 * own / both.area_mm2,
                                          words=f"{len(places)} outlines: edge, taps and plane of each, or their spread"))
    else:
        answer.budget = [BudgetRow(name=row.name, u_pct=row.u_pct, words=row.words) for row in place.rows]
    return []


def _grown(ring: list[tuple[float, float]], centre: tuple[float, float], factor: float) -> list[tuple[float, float]]:
    if factor == 1.0:
        return ring
    cx, cy = centre
    return [(cx + (x - cx) * factor, cy + (y - cy) * factor) for x, y in ring]


def _crack(answer: SurveyAnswer, asked: SurveyRequest, first: Any, places: list[Any]) -> list[Reason]:
    """A crack is a length; width only where it is resolvable; an area only by the stated band."""
    from .crack import closed_length_mm, measure_crack, u_length_mm

    clicks, place = asked.outline, places[0]
    round_it = closed_length_mm(place.outline_mm)
    crack = measure_crack(place.outline_mm, None if round_it else first.flat, first.px_per_mm)
    lengths = [closed_length_mm(p.outline_mm) or measure_crack(p.outline_mm, None, first.px_per_mm).length_mm for p in places]
    length = sum(lengths) / len(lengths)
    joint = math.sqrt(2) * u_length_mm(length)
    if max(lengths) - min(lengths) > 2 * joint:
        return [checks.disagreement(min(lengths), max(lengths), joint, unit="mm")]
    answer.length_mm, answer.u_length_mm = length, u_length_mm(length)
    answer.width_mm, answer.width_below_mm = crack.width_mm, crack.width_below_mm
    if round_it:
        answer.width_mm = answer.width_below_mm = None
    answer.path_mm = place.outline_mm  # an open line is no outline: it must not become an area further on
    if clicks.band_mm is not None:
        from shapely.geometry import LineString

        band = LineString(place.outline_mm).buffer(clicks.band_mm / 2, cap_style="flat")
        area = length * clicks.band_mm
        answer.area_mm2 = area
        answer.u_area_mm2 = area * (answer.u_length_mm / length)
        answer.outline_mm = [(float(x), float(y)) for x, y in list(band.exterior.coords)[:-1]]
        answer.centroid_mm = (float(band.centroid.x), float(band.centroid.y))
        answer.budget = [BudgetRow(name="length", u_pct=100 * answer.u_length_mm / length,
                                   words=f"length × a band of {clicks.band_mm:g} mm, by the stated convention")]
    return []


def _judge(answer: SurveyAnswer, asked: SurveyRequest) -> None:
    limit = asked.limits.bare_area_mm2_max
    if answer.refused:
        answer.verdict = "not_measured"
        return
    if limit is None:
        return
    finding = judge(
        "bare_area", answer.area_mm2, limit=limit, sense="at_most", u=answer.u_area_mm2, unit="mm²",
        decision=asked.decision.plain(), name="The bare area", source="the request",
        next_move="Take a second photo or a second outline; if it stays so, the engineer decides.",
    )
    answer.findings = [_honest(finding, answer)]
    answer.verdict = answer.findings[0].verdict


def _honest(finding: Finding, answer: SurveyAnswer) -> Finding:
    """Nothing conforms on an outline that nobody confirmed, and a crack has no area to compare."""
    if finding.value is None:
        return finding.model_copy(update={
            "because": f"A crack is measured as a length, {answer.length_mm:.1f} mm; the limit is an area, at most "
                       f"{finding.limit:g} mm².",
            "next_move": "State the band that the procedure counts along a crack (band_mm), or let the engineer decide.",
        })
    if finding.verdict == "does_not_conform":
        return finding.model_copy(update={"next_move": "No spot repair by this limit: the engineer decides."})
    if finding.verdict == "conforms" and not answer.confirmed:
        return finding.model_copy(update={
            "verdict": "indeterminate",
            "because": finding.because + " Nobody has confirmed the outline, so it decides nothing.",
            "next_move": "Look at the outline on the picture and confirm it.",
        })
    return finding


def _named(reason: Reason, name: str) -> Reason:
    return reason.model_copy(update={"because": f"{name}: {reason.because}"})


def _once(reasons: list[Reason]) -> list[Reason]:
    return list(dict.fromkeys(reasons))


def _any_refused(reasons: list[Reason]) -> bool:
    return any(reason.weight == "refuse" for reason in reasons)


def _angle_deg(a: tuple[float, float], b: tuple[float, float]) -> float:
    return math.degrees(math.acos(max(-1.0, min(1.0, a[0] * b[0] + a[1] * b[1]))))


def _needs_bytes(asked: Any) -> Answer:
    raise Missing("photo", say("survey.photo_named_as_file", photo=asked.photo))


FORMS = (
    Form("find_card", FindCardRequest, FoundCard, _needs_bytes, marked_by="find_card"),
    Form("draft", DraftRequest, DraftAnswer, _needs_bytes, marked_by="box_px"),
    Form("survey", SurveyRequest, SurveyAnswer, _needs_bytes),
)

WORK: dict[str, Any] = {"find_card": find_card, "draft": draft, "survey": survey}
"""What answers each form, with the bytes of the photos handed over."""
