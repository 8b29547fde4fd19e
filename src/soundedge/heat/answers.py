"""How is the model's answer given: verdict first, then the numbers, the reason, the next move and what was left out?"""

from __future__ import annotations

from typing import Any, Literal

from ..basis.errors import Contradiction, Missing, OutOfRange
from ..basis.finding import Finding, Verdict, judge, worst
from ..basis.materials import PROPERTIES, Material
from ..basis.procedure import Procedure
from ..basis.question import Answer, AnswerPart
from ..basis.sentences import say
from ..basis.sources import cite
from .case import NEEDED, STEEL_NEEDED, Case
from .given import GlossRequest, HeatRequest, InfraredRequest
from .infrared import reading_c, true_c, true_range_c
from .jet import JET_SOURCES
from .rules import gloss_bond_c, highest_useful_air_c, surface_flux_w_m2

MODEL = "heat-3"  # the name under which a record keeps what the model said; another one when its numbers change
NO_TRIAL = ("Estimate: no physical trial stands behind this model yet, and this gun was not tried, so the band is wide. An "
            "afternoon with three plates narrows it: soundedge heat trial. A contact probe decides; on the back it is a lower "
            "bound of the bond line only while all the heat comes from the front.")
TRIED = ("Estimate, with this gun's heat as its trial on plates gave it; it holds for this nozzle, setting and distance "
         "only. A contact probe decides; on the back it is a lower bound of the bond line only while all the heat comes from "
         "the front.")
NOT_PROOF = "A glossy surface is no proof of a bond: melting is needed but adhesion also needs profile, primer and dwell."
LEFT_OUT = ("Not in the model: a tilted or wandering gun, a cold roller, draught outdoors, primer, flanges and ribs, "
            "moisture, adhesion itself.")
BURN = "Air, nozzle and steel burn skin for a long time after the gun is off: gloves, and mark the part hot."
# true emissivity to reckon with, by what was aimed at: value, low, high
AIMED = {
    "polymer": (0.90, 0.85, 0.95), "painted_dot": (0.95, 0.92, 0.97), "ground_steel": (0.3, 0.1, 0.6),
    "back_contact": (1.0, 1.0, 1.0),
}


class GlossAnswer(Answer):
    """What the gloss rule gives: flux at the moment of gloss, bond then, bond when the surface is at its limit."""

    flux_w_m2: float
    gap_k: float
    gloss_bond_c: float | None
    limit_bond_c: float | None = None
    highest_useful_air_c: float | None = None
    because: str
    cautions: list[str] = []


def gloss_work(asked: GlossRequest) -> GlossAnswer:
    """The closed forms alone.

    Raises
    ------
    Contradiction
        The bond is to be as hot as the hottest surface allowed, or hotter.
    """
    g = asked.gloss_rule
    if g.surface_limit_c is not None and g.bond_needed_c is not None and g.bond_needed_c >= g.surface_limit_c:
        raise Contradiction(
            "gloss_rule.bond_needed_c",
            say("heat.bond_above_surface_limit", bond_c=g.bond_needed_c, surface_c=g.surface_limit_c))
    shared: dict[str, float] = {"h_w_m2k": g.h_w_m2k, "air_c": g.air_c, "emissivity": g.emissivity,
                                "surroundings_c": g.surroundings_c}
    flux = surface_flux_w_m2(**shared, surface_c=g.melt_c)
    film = {"thickness_mm": g.thickness_mm, "k_w_mk": g.k_w_mk}
    gap = flux * g.thickness_mm * 1e-3 / g.k_w_mk
    never = flux <= 0
    limit = None
    if g.surface_limit_c is not None and surface_flux_w_m2(**shared, surface_c=g.surface_limit_c) > 0:
        limit = gloss_bond_c(**shared, **film, melt_c=g.surface_limit_c)
    best = None
    if g.surface_limit_c is not None and g.bond_needed_c is not None:
        best = highest_useful_air_c(surface_limit_c=g.surface_limit_c, bond_needed_c=g.bond_needed_c, h_w_m2k=g.h_w_m2k,
                                    emissivity=g.emissivity, surroundings_c=g.surroundings_c, **film)
    bond = None if never else g.melt_c - gap
    if never:
        because = (f"Air of {g.air_c:g} °C cannot bring the surface to {g.melt_c:g} °C against what it radiates: "
                   "it never turns glossy. Hotter air is needed.")
    else:
        because = (f"At gloss {flux:.0f} W/m² go in and the film of {g.thickness_mm:g} mm holds {gap:.0f} K: the bond "
                   f"line is then at {bond:.0f} °C, whatever the plate. Preheat, or wait and read the back.")
        if bond is not None and bond < g.surroundings_c:
            because = (f"At gloss {flux:.0f} W/m² go in: so strong a jet melts the surface before heat has crossed the "
                       f"film at all, and the bond line is still as cold as the part. The rule's {bond:.0f} °C is no "
                       "temperature of the steel. Turn the air down, or preheat.")
    return GlossAnswer(flux_w_m2=flux, gap_k=gap, gloss_bond_c=bond, limit_bond_c=limit, highest_useful_air_c=best,
                       because=because, cautions=[NOT_PROOF])


class InfraredAnswer(Answer):
    """The corrected reading, or the reading to expect; ``true_low_c`` and ``true_high_c`` over the range of
    emissivity such a target can have."""

    true_c: float | None = None
    reading_c: float | None = None
    true_low_c: float | None = None
    true_high_c: float | None = None
    emissivity_true: float
    useful: bool
    because: str
    cautions: list[str] = []


def infrared_work(asked: InfraredRequest) -> InfraredAnswer:
    """Correct a reading for the emissivity it was taken with.

    Raises
    ------
    Missing
        Neither reading nor true temperature, or no emissivity and nothing aimed at.
    Contradiction
        Both given.
    """
    i = asked.infrared
    if (i.reading_c is None) == (i.true_c is None):
        kind = Missing if i.reading_c is None else Contradiction
        raise kind("infrared", say("heat.infrared_one_of_two"))
    aim = AIMED.get(i.aimed_at or "")
    if i.aimed_at == "back_contact":
        return InfraredAnswer(
            true_c=i.reading_c, reading_c=i.true_c, emissivity_true=1.0, useful=True,
            because="A contact probe is no infrared reading: it is taken as it stands, whatever emissivity is set. On the "
                    "back it is a lower bound of the bond line while all the heat comes from the front, and no bound of it "
                    "when the back is heated too.")
    if i.emissivity_true is None and aim is None:
        raise Missing("infrared.emissivity_true", say("heat.aim_missing"))
    e = i.emissivity_true if i.emissivity_true is not None or aim is None else aim[0]
    assert e is not None
    shared: dict[str, Any] = {"emissivity_set": i.emissivity_set, "surroundings_c": i.surroundings_c}
    useful = i.aimed_at != "ground_steel" and e >= 0.8
    because = (f"Target emissivity {e:g}, instrument set to {i.emissivity_set:g}, surroundings {i.surroundings_c:g} °C, "
               f"band {i.band_um[0]:g} to {i.band_um[1]:g} µm.")
    if not useful:
        because += (" A target that mirrors this much cannot be trusted to a table's emissivity: ground steel runs from "
                    "0.1 to 0.6 and moves while it heats. Aim at the polymer or at a painted dot, or put a contact "
                    "probe on the back of a part that is heated from the front.")
    if i.true_c is not None:
        shown = reading_c(true_c=i.true_c, emissivity_true=e, band_um=i.band_um, **shared)
        return InfraredAnswer(reading_c=shown, emissivity_true=e, useful=useful, because=because)
    assert i.reading_c is not None
    true = true_c(reading_c=i.reading_c, emissivity_true=e, band_um=i.band_um, **shared)
    low = high = None
    if aim is not None:
        try:
            low, high = true_range_c(reading_c=i.reading_c, emissivity_low=aim[1], emissivity_high=aim[2], **shared)
        except OutOfRange:  # the far end of the range may belong to no temperature: no range then
            low = high = None
    return InfraredAnswer(true_c=true, true_low_c=low, true_high_c=high, emissivity_true=e, useful=useful,
                          because=because)


class Milestone(Answer):
    """What to expect at one time while the film is whole: the polymer's surface, the bond, the back, and what an
    instrument set to 0.95 shows when aimed at the polymer."""

    time_s: float
    surface_c: float
    bond_c: float
    back_c: float
    infrared_shows_c: float


class RadiusTold(AnswerPart):
    """What the part's radius does: the hottest bond on a disc of a smaller and of a larger radius than the one used."""

    used_mm: float
    given: bool
    smaller_mm: float
    smaller_bond_c: float
    larger_mm: float
    larger_bond_c: float


class HeatAnswer(Answer):
    """What will happen: times in s from the gun's start, temperatures in °C; null where it does not happen in two
    hours. ``bond_*``: under a whole film; ``bare_*``: the bare dish. ``neighbour_max_c``: the lining around the spot
    when the bare steel is hot enough, or its hottest in two hours. ``melted_c``: end of melting and its margin;
    ``fusion_c``: where it flows and wets steel, or what the procedure asks. Low and high: 90 % of the ensemble; ``p_both``:
    share of it whose bond fuses with no lining over its limit; ``band_pct``: 80 % of its times."""

    gloss_bond_c: float | None
    gloss_bond_c_low: float | None
    gloss_bond_c_high: float | None
    gloss_at_s: float | None
    bond_reaches_fusion: bool
    bond_fusion_at_s: float | None
    bond_max_c: float
    surface_at_fusion_c: float | None
    neighbour_max_c: float
    overheats_first: Literal["neighbour_lining", "repair_surface"] | None
    preheat_needed_c: float | None
    cool_to_touch_s: float | None
    band_pct: list[float]
    verdict: Verdict
    because: str
    next_moves: list[str]
    first_mistake: Literal["cold_bond_under_gloss", "burnt_neighbour", "burnt_surface"] | None
    bare_steel_fusion_at_s: float | None
    bare_steel_max_c: float
    gloss_rule_bond_c: float | None
    limit_bond_c: float | None
    highest_useful_air_c: float | None
    melted_c: float
    bond_melted_at_s: float | None
    fusion_c: float
    surface_limit_c: float
    p_both: float
    tried: bool
    radius: RadiusTold
    gun: dict[str, float]
    to_read: list[Milestone]
    warnings: list[str]
    charts: dict[str, Any] | None = None
    cautions: list[str]
    sources: list[str]


def heat_work(asked: HeatRequest) -> HeatAnswer:
    """Run the case and tell it.

    Raises
    ------
    Contradiction
        The hottest surface allowed is not above the coldest bond that fuses.
    """
    from .estimate import LOOK_S, estimate

    case = asked.case()
    held: Procedure = asked.procedure or Procedure()
    need, limit = case.polymer_value("fusion_c"), case.polymer_value("surface_limit_c")
    if limit <= need:
        raise Contradiction("surface_limit_c", say("heat.surface_limit_below_fusion", limit_c=limit, fusion_c=need))
    told = estimate(case)
    jet, doubt, radius = case.blow(), told.spread, told.spread.radius
    hottest = max(told.neighbour_c, told.surface_at_fusion_c or float(told.whole.joint_max.max()))
    findings = [
        _fusion_finding(case, told, need, held, doubt.u_bond_k),
        _surface_finding(told, limit, hottest, case, held, doubt.u_hottest_k),
    ]
    whole = told.whole
    look = [t for t in LOOK_S if told.fusion_s is None or t <= told.fusion_s * 1.05] or [60.0]
    milestones = [
        Milestone(time_s=t, surface_c=whole.at(whole.surface, t), bond_c=whole.at(whole.bond, t),
                  back_c=whole.at(whole.back, t),
                  infrared_shows_c=reading_c(true_c=whole.at(whole.surface, t), emissivity_set=0.95,
                                             emissivity_true=AIMED["polymer"][0], surroundings_c=case.ambient_c))
        for t in look
    ]
    verdict, because = worst(f.verdict for f in findings), _because(case, told, need, limit)
    if verdict == "conforms" and held.decision.rule == "guarded" and doubt.p_both < held.decision.probability:
        verdict = "indeterminate"
        because += (f" Both at once, a fused bond and no burnt lining, come out in {100 * doubt.p_both:.0f} % of the ensemble; "
                    f"the procedure asks for {100 * held.decision.probability:g} %.")
    low, high = doubt.gloss_bond_c or (None, None)
    part = RadiusTold(used_mm=case.radius_mm, given=asked.part.radius_mm is not None, **vars(radius))
    return HeatAnswer(
        findings=findings, verdict=verdict,
        gloss_bond_c=told.gloss_bond_c, gloss_bond_c_low=low, gloss_bond_c_high=high,
        gloss_at_s=told.gloss_s, bond_reaches_fusion=told.reaches,
        bond_fusion_at_s=told.fusion_s, bond_max_c=told.bond_max_c, surface_at_fusion_c=told.surface_at_fusion_c,
        neighbour_max_c=told.neighbour_c, overheats_first=told.overheats, preheat_needed_c=told.preheat_c,
        cool_to_touch_s=told.cool_s, band_pct=list(doubt.band_pct), because=because,
        next_moves=_moves(case, told, need), first_mistake=told.first_mistake,
        bare_steel_fusion_at_s=told.bare_fusion_s, bare_steel_max_c=told.bare_max_c,
        gloss_rule_bond_c=told.gloss_rule_c, limit_bond_c=told.limit_bond_c, highest_useful_air_c=told.best_air_c,
        melted_c=case.film.melted_c, bond_melted_at_s=told.melted_s, fusion_c=need, surface_limit_c=limit,
        p_both=doubt.p_both, tried=case.tried,
        radius=part,
        gun={"flow_g_s": 1000 * jet.blow.flow_kg_s, "flow_cold_l_min": jet.blow.cold_l_min,
             "flow_hot_l_min": jet.blow.hot_l_min, "speed_m_s": jet.speed_m_s, "reynolds": jet.reynolds,
             "h_axis_w_m2k": jet.h0_w_m2k * case.h_factor},
        to_read=milestones, warnings=list(jet.warnings), cautions=[*cautions(case), *radius_caution(part)],
        sources=moved_by(case),
        charts=_charts(case, told, need, limit) if asked.charts else None,
    )


def _charts(case: Case, told: Any, need: float, limit: float) -> dict[str, Any]:
    from .case import values
    from .charts import section_map, temperatures
    from .march import Program, march

    dish = case.section(dish=True)
    at = told.bare_fusion_s if told.bare_fusion_s is not None else 3600.0
    run = march(dish, values(case, dish), Program(end_s=at + 1.0, snaps_s=(max(at, 0.5),)))
    return {
        "whole_film": temperatures(told.whole, fusion_c=need, limit_c=limit, title="Through the whole film (estimate)"),
        "bare_steel": temperatures(told.bare, fusion_c=need, limit_c=limit, title="Bare steel under the gun (estimate)"),
        "section": section_map(dish, run.snaps[0][1], title=f"Section after {minutes(at)} (estimate)"),
    }


def moved_by(case: Case) -> list[str]:
    """Every source whose figure moved the estimate, with what was taken from it; limits name theirs in the findings."""
    taken: dict[str, list[str]] = {}

    def take(line: str, what: str) -> None:
        taken.setdefault(line, []).append(what)

    own = {"fusion_c": case.fusion_c, "surface_limit_c": case.surface_limit_c}
    for one, needed in ((case.steel, STEEL_NEEDED), (case.film, NEEDED)):
        for what in needed:
            if own.get(what) is None:
                take(one.held(what).cited(), f"{one.name}, {PROPERTIES[what].called}")
    take(cite("own_estimate"), f"{case.film.name}, heat conductivity of the melt")
    for key, what in JET_SOURCES:
        take(cite(key), what)
    take("the shop's own trial" if case.tried else cite("own_estimate"), "how far this gun may lie off its jet")
    take(cite("own_estimate"), "how far film, plate, back and radius may lie off; unfused powder; still air")
    return [f"{line}: {'; '.join(what)}" for line, what in taken.items()]


def class_caution(film: Material, asked: str | None) -> list[str]:
    """Which melting class was planned on where none was named, and how far the others lie off."""
    if asked is not None or not film.other_classes:
        return []
    classes = [film, *(film.of_class(name) for name in film.other_classes)]
    told = " or ".join(f"{one.value('melt_c'):g} °C ({str(one.melt_class).replace('_', ' ')})" for one in classes)
    return [f"{film.name} is made in grades that melt at about {told}, and which this is was not said (lining.melt_class): "
            "the higher-melting one is taken. The lot's data sheet says which it is."]


def radius_caution(part: RadiusTold) -> list[str]:
    """What is lost while nobody says how wide the part is."""
    if part.given:
        return []
    return [f"The radius of the part was not given (part.radius_mm): a disc of {part.used_mm:g} mm was taken. On one of "
            f"{part.smaller_mm:.0f} mm the hottest bond is {part.smaller_bond_c:.0f} °C, on one of {part.larger_mm:.0f} mm "
            f"{part.larger_bond_c:.0f} °C: measure the steel that is heated along, and give it."]


def cautions(case: Case) -> list[str]:
    """What stands above every answer about this case."""
    out = [TRIED if case.tried else NO_TRIAL, *class_caution(case.film, case.melt_class), NOT_PROOF, BURN]
    need = case.polymer_value("fusion_c")
    if case.fusion_c is None and case.film.held("fusion_c").derived:
        out.append(f"From what temperature {case.film.name} flows and wets steel was not read: {need:g} °C is molten and no "
                   "more. The procedure's fusion temperature decides, or the powder maker's sheet.")
    if need < case.film.melted_c:
        out.append(f"The fusion asked for, {need:g} °C, lies below where {case.film.name} of this class is melted through "
                   f"({case.film.melted_c:g} °C): let the engineer look at the procedure and at the lot's data sheet.")
    fume, toxic = case.film.values.get("fume_c"), case.film.values.get("toxic_fume_c")
    if fume is None:
        out.append(f"From which temperature {case.film.name} fumes is not held for this polymer: ask its maker. Until then "
                   "take it that it fumes under this air. Extract at the spot, no smoking and no tobacco near it.")
    elif case.gun_c > fume.value:
        poison = f"toxic from about {toxic.value:g} °C; " if toxic else ""
        out.append(
            f"The air of {case.gun_c:g} °C is above {fume.value:g} °C, where {case.film.name} begins to fume ({poison}"
            f"{fume.cited()}): a surface left under it gets there. Extract at the spot, no smoking and no tobacco near it."
        )
    out.append(LEFT_OUT)
    return out


def _source(case: Case, held: Procedure, key: str, what: str, own: float | None) -> str:
    if key in held.limits and own is not None:
        return held.cite(key)
    if own is not None:
        return "the request"
    return case.film.held(what).cited(f"{case.film.name}, {what.replace('_c', '').replace('_', ' ')}")


def _fusion_finding(case: Case, told: Any, need: float, held: Procedure, u: float) -> Finding:
    if told.reaches:
        move = "Read the back with a contact probe before the first layer."
    else:
        move = _moves(case, told, need)[0]
    return judge("bond_fusion", round(told.bond_max_c, 2), limit=need, sense="at_least", unit="°C", u=u, decision=held.decision,
                 name="The hottest the bond line gets in two hours (estimate)", next_move=move,
                 source=_source(case, held, "fusion_c_min", "fusion_c", case.fusion_c))


def _surface_finding(
    told: Any, limit: float, hottest: float, case: Case, held: Procedure, u: float
) -> Finding:
    when = "when the bond fuses" if told.reaches else "in two hours"
    return judge("surface_limit", round(hottest, 2), limit=limit, sense="at_most", unit="°C", u=u, decision=held.decision,
                 name=f"The hottest lining surface {when} (estimate)",
                 next_move="Turn the air down or go further away, and preheat the part instead.",
                 source=_source(case, held, "surface_c_max", "surface_limit_c", case.surface_limit_c))


def minutes(seconds: float) -> str:
    """A time as people say it.

    >>> minutes(0.2), minutes(42), minutes(1261), minutes(7300)
    ('less than 1 s', '42 s', '21 min', '2 h 2 min')
    """
    if seconds < 1:
        return "less than 1 s"
    if seconds < 100:
        return f"{seconds:.0f} s"
    if seconds < 5970:
        return f"{seconds / 60:.0f} min"
    whole = round(seconds / 60)
    return f"{whole // 60} h {whole % 60} min"


def _because(case: Case, told: Any, need: float, limit: float) -> str:
    plate = f"{case.plate_mm:g} mm {case.steel.name}"
    if case.start_c > limit:
        return (f"The part starts at {case.start_c:g} °C, above the surface limit of {limit:g} °C: its lining is overheated "
                "before the gun is on.")
    if told.gloss_s is None:
        said = f"The surface never turns glossy: this gun's air does not melt {case.film.name}. "
    else:
        low, high = told.spread.gloss_bond_c or (told.gloss_bond_c, told.gloss_bond_c)
        said = (f"The surface turns glossy after {minutes(told.gloss_s)} with the bond line at {told.gloss_bond_c:.0f} °C "
                f"({low:.0f} to {high:.0f} °C); it must reach {need:g} °C. ")
    if told.reaches and told.overheats is None:
        said += (f"On {plate} the bond line gets there after about {minutes(told.fusion_s)} "
                 f"with the surface at {told.surface_at_fusion_c:.0f} °C (limit {limit:g} °C).")
    elif told.reaches:
        what = "the lining around the spot" if told.overheats == "neighbour_lining" else "the surface of the repair"
        at = told.neighbour_limit_s if told.overheats == "neighbour_lining" else told.surface_limit_s
        said += (f"On {plate} the bond line would get there after {minutes(told.fusion_s)}, but {what} passes "
                 f"{limit:g} °C after {minutes(at)}.")
    else:
        said += f"Never: on {plate} the bond line stays at or below {told.bond_max_c:.0f} °C, two hours or more."
    return said


def _moves(case: Case, told: Any, need: float) -> list[str]:
    out = []
    limit = case.polymer_value("surface_limit_c")
    if case.start_c > limit:
        return [f"Let the part cool below {limit:g} °C before the gun is put on, look at the lining all over for colour and "
                "bubbles, and check the number: is it °F?"]
    if told.reaches and told.overheats is None:
        start = min(need + 15.0, case.polymer_value("surface_limit_c") - 20.0)
        out.append("Heat the bare steel first and lay the first layer only when a contact probe on the back shows "
                   f"{max(min(start, told.bare_max_c), need):.0f} °C, for cold powder takes some of it away; do not go by "
                   "the gloss.")
        if told.bare_max_c < start:
            out.append("There is little to spare: preheat the part, or insulate the back.")
        return out
    melt, axis = case.film.value("melt_to_c"), case.blow().axis_c
    if case.gun_c <= melt:
        out.append(f"Set the air above {melt:g} °C, where {case.film.name} is molten; {case.gun_c:g} °C never melts it.")
    elif case.gun_c <= need:
        out.append(f"Set the air well above {need:g} °C, where the bond fuses; {case.gun_c:g} °C never gets it there.")
    elif axis < 0.9 * case.gun_c:
        out.append(f"Come nearer: at {case.distance_mm:g} mm the air has cooled to {axis:.0f} °C before it meets the part.")
    if told.best_air_c is not None and told.best_air_c < case.gun_c:
        out.append(f"Turn the air down to {max(told.best_air_c, melt):.0f} °C or less, or take the reducer off: above "
                   "that the surface burns before the bond fuses, however long one waits.")
    elif told.overheats is not None:
        out.append("Turn the air down a little or go further away, so that the surface stays below its limit for longer.")
    if told.preheat_c is not None:
        if told.preheat_c >= need:
            out.append(f"Heat the whole part to {need:g} °C first (oven or pads): the gun alone does not hold it there.")
        else:
            out.append(f"Preheat the whole part to about {told.preheat_c:.0f} °C and keep it warm while working.")
    if case.back == "free":
        out.append("Insulate the back, or put a second gun there.")
    out.append("Or heat a smaller field of steel, or take the repair to an oven.")
    return out


def p10_p50_p90(values: tuple[float, float, float]) -> dict[str, float | None]:
    return {name: (None if value > 9000 else value) for name, value in zip(("p10", "p50", "p90"), values)}
