"""What may, and what must, the test voltage over this one film be, and what does the stated one prove?"""

from __future__ import annotations

from ..basis.finding import worst
from ..basis.sources import cite
from . import cautions as care
from .air import humidity_factor, water_g_m3
from .answers import (
    Against,
    AirUsed,
    Estimate,
    FilmAnswer,
    GapModel,
    Method,
    Piece,
    Position,
    RuleAnswer,
    Stated,
    StrengthUsed,
)
from .findings import film_findings, is_sponge_voltage
from .gap import MODELS, TABLE_CLASS
from .given import Film, FilmRequest
from .notes import film_notes
from .rules import Rule, rules
from .setting import Setting, setting
from .sheet import film_sheet
from .state import obstacles
from .strength import area_factor
from .tip import tip_gap_v
from .window import WET_SPONGE_UM, Window, pieces, suggested_v, window

BRUSH_TIP_UM = 100.0


def one_film(request: FilmRequest) -> FilmAnswer:
    """Answer for one film.

    The verdict is that of the stated voltage together with the film's state: ``not_measured`` when none was
    stated and nothing speaks against a test, ``indeterminate`` when no strength is known.
    """
    held = setting(request)
    film = request.film_um
    w = window(
        film.min, film.max, air=held.air, strength=held.strength, fraction=held.fraction,
        demand=lambda least, most: held.demand(least, most, film.nominal),
    )
    against = obstacles(request.state.model_dump())
    method: Method = "high_voltage" if film.max > WET_SPONGE_UM else "wet_sponge"
    if any(one.bars and (method == "high_voltage" or one.sponge_too) for one in against):
        method = "not_applicable"
    split = _split(film, held) if w.high_v is not None and not w.settable else []
    findings = film_findings(request, held, w, method, split, against)
    answer = FilmAnswer(
        cautions=care.usual_cautions(request.lel_pct),
        verdict=worst([finding.verdict for finding in findings]),
        findings=findings,
        method=method,
        low_v=w.low_v,
        high_v=w.high_v,
        window_empty=w.empty,
        air_gap_v=w.air_gap_v,
        proven_from_v=w.floor_v,
        models=[GapModel(id=key, voltage_v=model(film.max, held.density), source=cite(key)) for key, model in MODELS.items()],
        low_from=_low_from(w, held, film),
        high_from=_high_from(held, film),
        suggested_v=suggested_v(w.low_v, w.high_v) if method == "high_voltage" else None,
        stated=_stated(request, held, w, method),
        rules=_rules(film, held, w),
        split=split,
        strength=_strength_used(film, held),
        air=_air_used(request, held),
        estimate=_estimate(request, held, w),
        notes=film_notes(request, held, w, method),
        zone=request.zone,
        film_um={"min": film.min, "max": film.max} | ({"nominal": film.nominal} if film.nominal else {}),
    )
    answer.sheet = film_sheet(answer, electrode=request.electrode, polymer=request.polymer)
    return answer


def _split(film: Film, held: Setting) -> list[Piece]:
    assert held.strength is not None
    out = []
    for start, end in pieces(
        film.min, film.max, air=held.air, strength=held.strength, fraction=held.fraction, demand=held.demand
    ):
        part = window(start, end, air=held.air, strength=held.strength, fraction=held.fraction, demand=held.demand)
        volts = suggested_v(part.low_v, part.high_v)
        if part.high_v is None or volts is None:
            return []
        out.append(Piece(from_um=start, to_um=end, low_v=part.low_v, high_v=part.high_v, suggested_v=volts))
    return out


def _low_from(w: Window, held: Setting, film: Film) -> str:
    if w.low_v == w.air_gap_v:
        return "the air in a straight hole through the thickest film, by the highest published model"
    if held.fixed_v == w.low_v:
        return f"the procedure: {held.fixed_source}"
    assert held.governing is not None
    return f"{held.governing.name}, {held.governing.edition or 'no edition'}: {held.governing.source}"


def _high_from(held: Setting, film: Film) -> str:
    if held.strength is None:
        return held.strength_source
    law = ", an estimate by the thickness law" if held.strength.by_law(film.min) else ""
    return (f"{held.fraction:g} of {held.strength.at(film.min):.3g} kV/mm over the thinnest film{law}; "
            f"{held.source_at(film.min)}")


def _stated(request: FilmRequest, held: Setting, w: Window, method: str) -> Stated | None:
    volts = request.stated_voltage_v
    if volts is None:
        return None
    film = request.film_um
    bridges = held.air.bridged_um(volts)
    least, most = held.strength.residual_um(volts) if held.strength else (None, None)
    if least is not None and most is not None:
        least, most = min(least, film.min), min(most, film.min)  # the film left cannot exceed the film there is
    position: Position | None = None
    if not (method == "wet_sponge" and is_sponge_voltage(volts)):
        if volts < w.low_v:
            position = "too_low" if volts < w.floor_v else "between_models"
        elif w.high_v is not None:
            position = "too_high" if volts > w.high_v else "inside"
    return Stated(
        voltage_v=volts,
        position=position,
        of_air_gap_pct=100.0 * volts / w.air_gap_v,
        stress_kv_mm=volts / film.min,
        bridges_um=bridges,
        residual_least_um=least,
        residual_most_um=most,
        stored_mj_m2=care.stored_mj_m2(volts, film.min, held.permittivity) if held.permittivity else None,
        proves=_proves(position, volts, film, bridges, most, method, w.high_v is not None),
    )


def _proves(
    position: str | None, volts: float, film: Film, bridges: float, most: float | None, method: str, top_known: bool
) -> str:
    if method == "not_applicable":
        return "Nothing: the method is not applicable to this film as it is."
    if method == "wet_sponge" and is_sponge_voltage(volts):
        return "That no hole open to the steel takes up water; nothing about thin spots."
    if position == "too_low":
        return (f"Nothing about this film: {volts:.0f} V can be relied on to jump {bridges:.0f} µm of air at most, and "
                f"the film is up to {film.max:g} µm thick.")
    if position == "between_models":
        tail = "" if top_known else " Whether sound film stands the voltage is not known."
        return (f"Nothing until a coupon proves it: the published models disagree whether {volts:.0f} V jumps a hole "
                f"through {film.max:g} µm. Prove it on a coupon with a pinhole through the thickest film.{tail}")
    if position is None:
        return "That a straight hole sparks; whether sound film stands the voltage is not known."
    if position == "too_high":
        return "Nothing for certain: a spark may be a hole that the test itself made."
    hidden = f" Blind defects with more than {most:.0f} µm of film left stay hidden." if most else ""
    return (f"If nothing sparks: no straight hole open to the steel where the electrode touched.{hidden} "
            "Nothing about bond or thickness.")


def _rules(film: Film, held: Setting, w: Window) -> list[RuleAnswer]:
    listed = list(rules())
    own = held.governing
    if own is not None and own.id == "own":
        listed.insert(0, own)
    return [_rule_answer(one, film, w, governs=own is not None and one.id == own.id) for one in listed]


def _rule_answer(one: Rule, film: Film, w: Window, *, governs: bool) -> RuleAnswer:
    used = one.film_used_um(film.min, film.max, film.nominal)
    volts = one.voltage_v(used)
    against: Against = "unknown"
    if volts is not None:
        if volts < w.low_v:
            against = "below"
        elif w.high_v is not None:
            against = "above" if volts > w.high_v else "inside"
    takes = one.takes
    if takes == "nominal" and film.nominal is None:
        takes = "max"
    return RuleAnswer(
        rule=one.name, id=one.id, edition=one.edition, voltage_v=volts,
        range_v=list(one.range_v) if one.range_v else None, film_um_used=used,
        takes=f"{takes} ({one.takes_why})" if one.takes_why else takes,
        applies=one.made_for_film(used), governs=governs, against_window=against,
        stress_kv_mm=None if volts is None else volts / film.min, made_for=one.made_for, says=one.says,
        source=one.source,
    )


def _strength_used(film: Film, held: Setting) -> StrengthUsed:
    known = held.strength
    return StrengthUsed(
        kind=held.strength_kind,
        kv_mm=known.at(film.min) if known else None,
        kv_mm_most=known.most_at(film.min) if known else None,
        estimate=known.by_law(film.min) if known else None,
        at_um=film.min,
        between_points=known.covers(film.min) if known else None,
        fraction=held.fraction,
        fraction_source=held.fraction_source,
        breakdown_v=known.breakdown_v(film.min) if known else None,
        source=held.source_at(film.min),
    )


def _air_used(request: FilmRequest, held: Setting) -> AirUsed:
    rh = request.air.rh_pct
    factor = None if rh is None else humidity_factor(water_g_m3(request.air.c, rh), held.density)
    weather = held.air.densest / held.air.density * held.air.moist - 1.0
    return AirUsed(c=request.air.c, kpa=held.air_kpa, density=held.density, humidity_factor=factor,
                   class_pct=100.0 * TABLE_CLASS, weather_pct=100.0 * weather)


def _estimate(request: FilmRequest, held: Setting, w: Window) -> Estimate:
    from math import cos, radians

    path = request.path
    path_um = request.film_um.max / cos(radians(path.slant_deg)) + path.lift_off_um + path.roughness_um
    tip_um = path.tip_radius_um
    if tip_um is None and request.electrode == "wire_brush":
        tip_um = BRUSH_TIP_UM
    weaker = area_factor(request.area_m2, request.weibull_beta) if request.area_m2 else None
    return Estimate(
        path_um=path_um,
        path_v=held.air.surest_v(path_um),
        tip_radius_um=tip_um,
        tip_v=tip_gap_v(path_um, held.density, tip_um) if tip_um else None,
        area_factor=weaker,
        high_area_v=weaker * held.strength.breakdown_v(request.film_um.min) if weaker and held.strength else None,
    )
