"""What else should the tester know about this film and this voltage, though it decides nothing?"""

from __future__ import annotations

from ..basis.quantity import shown
from .answers import Note
from .gap import AirGap
from .given import FilmRequest
from .rules import INCH_JUMP_UM, JUMP_UM, rule, straddles_jump
from .setting import Setting
from .strength import FILM_TO_UM, LAW_LEAST, LAW_MOST
from .window import WET_SPONGE_UM, Window


def film_notes(request: FilmRequest, held: Setting, w: Window, method: str) -> list[Note]:
    """Every note that this film calls for, in the order of their weight."""
    return [
        *_about_thickness(request, held, w),
        *_about_strength(request, held),
        *_about_air(request, held, w),
        *_about_electrode(request, held, w),
        Note(
            name="dark_hole",
            because="A short gap that no daylight reaches may need up to a fifth more than the tables say: an electron "
                    "must be there to begin with.",
            next_move="Go slowly over corners and under covers, and drill the coupon's hole where it is as dark.",
        ),
        Note(
            name="definition",
            because="Here a holiday is a hole open to the steel. One standard also counts thin spots and inclusions, "
                    "which no voltage of this window finds for certain.",
            next_move="Write on the sheet which meaning the contract uses.",
        ),
        Note(
            name="other_prints",
            because="Contracts also name EN 14879-4 (linings of steel equipment), ISO 29601 (porosity of paint films of any "
                    "thickness) and, for sheet welded by DVS 2207, EN 13100-4. Their tables were not read here.",
            next_move="Where the contract names one of them, enter its voltages from your copy as 'own_rule'.",
        ),
    ]


def _about_thickness(request: FilmRequest, held: Setting, w: Window) -> list[Note]:
    film, out = request.film_um, []
    two_step = rule("two_step")
    if straddles_jump(film.min, film.max):
        low, high = two_step.voltage_v(film.min), two_step.voltage_v(film.max)
        assert low is not None and high is not None
        out.append(Note(
            name="straddles_1_mm",
            because=f"The film lies on both sides of 1 mm, where the two-step rule jumps by 2.38: it asks for {low:.0f} V "
                    f"at {shown(film.min)} µm and {high:.0f} V at {shown(film.max)} µm, which is "
                    f"{high / film.min:.3g} kV/mm over the thinnest film.",
            next_move="Do not carry the thick film's voltage over the thin film: split the zone at 1 mm.",
        ))
    if JUMP_UM < film.max <= INCH_JUMP_UM:
        inch = rule("sp0490").voltage_v(film.max)
        si = two_step.voltage_v(film.max)
        assert inch is not None and si is not None
        out.append(Note(
            name="metric_and_inch_differ",
            because=f"{shown(film.max)} µm is above 1.00 mm and not above 40 mil: the metric print asks for {si:.0f} V, "
                    f"the inch print for {inch:.0f} V.",
            next_move="Write down which print the contract names.",
        ))
    if film.min <= WET_SPONGE_UM < film.max:
        out.append(Note(
            name="thin_film_in_zone",
            because=f"Part of the film is {shown(film.min)} µm. Up to {shown(WET_SPONGE_UM)} µm the wet sponge is the "
                    "usual method, and it cannot test the rest.",
            next_move="Split the zone at 500 µm, or ask the maker whether the thin part may take high voltage.",
        ))
    above = [one for one in ("two_step", "sp0274", "volts_per_mil", "manual_high")
             if w.high_v is not None and (rule(one).voltage_v(film.max) or 0.0) > w.high_v]
    if above:
        named = ", ".join(f"{rule(one).name} ({rule(one).voltage_v(film.max):.0f} V)" for one in above)
        out.append(Note(
            name="rules_above_window",
            because=f"These rules ask for more than the thinnest film may bear, {w.high_v:.0f} V: {named}.",
            next_move="Ask the maker before following them here.",
        ))
    return out


def _about_strength(request: FilmRequest, held: Setting) -> list[Note]:
    known, film = held.strength, request.film_um
    if known is None:
        return []
    out = []
    if held.strength_kind == "held":
        out.append(Note(
            name="strength_from_table",
            because=f"The strength, {known.at(film.min):.3g} kV/mm, is a table value for the polymer and not the maker's "
                    "for this grade and thickness.",
            next_move=f"Get the maker's value at about {shown(film.min)} µm; it then governs.",
        ))
    thinnest = known.points[0][0]
    if film.min < thinnest <= FILM_TO_UM:
        out.append(Note(
            name="strength_from_thicker_film",
            because=f"The strength was given at {shown(thinnest)} µm; thinner film is stronger, but what film bore is not "
                    "scaled up.",
            next_move="A value at the film's own thickness would widen the window.",
        ))
    elif known.by_law(film.min):
        given = " and ".join(f"{kv:.3g} kV/mm at {shown(at)} µm" for at, kv in known.points)
        most = known.most_at(film.min)
        band = f"; the law's other end is {most:.3g}" if f"{most:.3g}" != f"{known.at(film.min):.3g}" else ""
        out.append(Note(
            name="strength_by_law",
            because=f"The strength at {shown(film.min)} µm, {known.at(film.min):.3g} kV/mm, is an estimate: carried from "
                    f"{given} by the published thickness law, exponent {LAW_LEAST} to {LAW_MOST}, at its careful end{band}. "
                    "It is never above what film of the polymer bore.",
            next_move="Get the maker's value at the film's own thickness.",
        ))
    return out


def _about_air(request: FilmRequest, held: Setting, w: Window) -> list[Note]:
    out = []
    if abs(held.density - 1.0) > 0.02:
        level = AirGap(1.0, 1.0, 1.0).lowest_v(request.film_um.max)
        out.append(Note(
            name="air_density",
            because=f"The air is {100 * held.density:.1f} % of standard density, so by the lowest model the hole needs "
                    f"{held.air.lowest_v(request.film_um.max):.0f} V instead of {level:.0f} V. "
                    "The film's own strength does not change with the air.",
            next_move="Take the window of this place, not that of another site.",
        ))
    if request.air.rh_pct is not None and request.air.rh_pct > 85:
        out.append(Note(
            name="humid_air",
            because=f"At {shown(request.air.rh_pct)} % humidity a surface film of water lets sparks track and calls holes "
                    "that are none. In the gap itself humidity changes the voltage by 3 % at most.",
            next_move="Warm and wipe the surface dry, or wait.",
        ))
    return out


def _about_electrode(request: FilmRequest, held: Setting, w: Window) -> list[Note]:
    out = []
    if request.electrode == "wire_brush":
        out.append(Note(
            name="brush_tips",
            because="Fine wire tips spark below the smooth-electrode voltage, which is why the thin branch of 525√mil works "
                    "with a good brush. A worn brush does not, so the window does not count on it.",
            next_move="Prove a lower setting on a coupon, or stay in the window.",
        ))
    else:
        out.append(Note(
            name="blunt_electrode",
            because="A blunt electrode has no sharp tips: it needs the smooth-electrode voltage.",
            next_move="Keep it in contact; a gap under it adds about 3.6 V for each µm.",
        ))
    lifted = request.path
    if lifted.lift_off_um or lifted.roughness_um or lifted.slant_deg:
        out.append(Note(
            name="longer_path",
            because="Lift-off, roughness or a slanting hole lengthen the spark's way beyond the film's thickness; the "
                    "estimate stands beside the window.",
            next_move="Drill the coupon's hole as the worst one is expected.",
        ))
    return out
