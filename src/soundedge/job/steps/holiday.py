"""Holiday: was each zone tested after its thickness, inside its window, proved on a coupon, and what was found?

Repair, overlap and parent film each have a window of their own, from their thinnest and thickest reading. A test
below its window proves nothing: it is void, not passed. A test above it may have burned sound film.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from ...basis.errors import BenchError
from ...basis.finding import Finding
from ...basis.procedure import Procedure, plain_procedure
from ...basis.sentences import Sentence, say
from ...basis.sources import cite
from ...holiday.ask import FORMS
from ...holiday.given import StrengthPoint
from ...holiday.window import WET_SPONGE_UM
from ..case import Case, clock
from ..kinds.holiday import HolidayTested
from ..rules.film_left import left_um
from ..rules.gas import gas_at, share_of, since_solvent
from ..rules.instruction import instructions
from ..rules.old_film import OLD, ground, in_service, letter_given
from ..rules.old_film import SOURCE as OLD_FILM
from ..rules.waived import Ground, asked_for, lacking, waived
from ..step import Block, BlockKind, Step

_KIND = {"repair": "patch", "overlap": "overlap", "parent": "parent"}
# What all zones of a part share in a request.
_GROUND = ("polymer", "electrode", "air", "procedure", "strength", "lel_pct")
_RULE = {"failed": "no_holiday", "void": "holiday_void", "incomplete": "holiday_incomplete", "unproven": "holiday_unproven"}


# Why voltage says nothing about a zone → in words, and the move.
NOT_BY_VOLTAGE: dict[Ground, tuple[Callable[[str], Sentence], Sentence]] = {
    "in_service": (lambda zone: say("acts.spark_in_service", zone=zone), say("acts.spark_in_service_move")),
    "conductive": (lambda zone: say("acts.spark_conductive", zone=zone), say("acts.spark_conductive_move")),
    "no_window": (lambda zone: say("acts.spark_no_window", zone=zone), say("acts.spark_no_window_move")),
}


def holiday(case: Case, thickness: Step) -> Step:
    """All tests since the film was last measured, judged zone by zone."""
    step = Step("holiday")
    job = case.job
    tests, film = job.of("holiday.tested"), job.last("film.measured")
    if not tests:
        return _untested(case, step, thickness)
    if film is None or not thickness.answers:
        step.because = "The holiday test was made before any film was measured; its voltage rests on nothing."
        step.hold("thickness_first", step.because, "Measure the film, then test again.", case.rule_book)
        return step
    counting = [test for test in tests if test.at >= film.at]
    if not counting:
        step.because = (
            f"The holiday test at {clock(tests[-1].at)} came before the film was measured at {clock(film.at)}."
        )
        step.hold("thickness_first", step.because, "Test again, at a voltage for the film as measured.", case.rule_book)
        return step
    _gas(case, step, counting)
    request = question(case, thickness.answers[0], tests, counting, _standing(case, thickness.answers[0], tests, counting))
    left = _left_out(case, step, request["zones"], counting)
    request["zones"] = [zone for zone in request["zones"] if zone["id"] not in left]
    request["passes"] = [one for one in request["passes"] if one["zone"] not in left]
    if not request["zones"]:
        step.because = "; ".join(dict.fromkeys(one.said for one in step.not_done)) or step.blocks[0].because
        return step
    plain = case.ask(FORMS, request).model_dump(mode="json")
    step.asked, step.answers = [request], [plain]
    step.cautions = plain["cautions"]
    step.findings = list(_findings(plain))
    if case.estimates:
        _whole_film(case, step, request, counting)
    _split(case, step, request, counting)
    _still_open(case, step, tests[: -len(counting)])
    _voided_hole(case, step)
    _by_sponge(case, step, request, counting)
    _after_sponge(case, step, counting)
    for zone in plain["zones"]:
        if zone["status"] != "passed":
            _hold(case, step, zone, counting)
    step.verdict = plain["verdict"] if not step.blocks or plain["verdict"] != "conforms" else "indeterminate"
    volts = ", ".join(f"{t.body.verified_v or t.body.voltage_v:g} V" for t in counting)
    step.because = step.blocks[0].because if step.blocks else (
        f"Tested at {volts}, measured at the electrode: no holiday in {_named(plain['zones'])}. It proves that no straight "
        "hole is open to the steel where the electrode touched; nothing about bond or thickness."
        + _by_coupon(plain["zones"])
    )
    return step


def _untested(case: Case, step: Step, thickness: Step) -> Step:
    """No test was made: something is open, unless each zone that was measured may go without."""
    zones = zones_of(thickness.answers[0]) if thickness.answers else []
    left = _left_out(case, step, zones_question(case, thickness.answers[0], BEFORE_A_TEST)["zones"], []) if zones else set()
    to_test = [zone["id"] for zone in zones if zone["id"] not in left]
    if zones and not to_test:
        step.because = "; ".join(dict.fromkeys(one.said for one in step.not_done)) or step.blocks[0].because
        return step
    step.because = "No high-voltage test was made."
    step.blocks.insert(0, Block(step.name, "holiday_test", step.because, f"Test {_listed(to_test)}." if left else
                                "Test repair, overlap and the parent film around it.", case.rule_book, absent=True))
    step.missing.append("holiday_test")
    return step


def _left_out(case: Case, step: Step, zones: list[dict[str, Any]], counting: list[Any]) -> set[str]:
    """The zones that were not tested and of which voltage says nothing: each accepted as such, or still open."""
    left: set[str] = set()
    for zone in _KIND:
        asked = next((one for one in zones if one["id"] == zone), None)
        over = [test.body for test in counting if zone in test.body.zones or zone in _sparked(test.body)]
        if over:
            _above(case, step, zone, over)
            continue
        why = ground(case, zone, lettered=letter_given(test.body for test in counting if not test.body.zones))
        if why is None and asked is not None and asked_for(case.job, "spark", zone=zone) and no_window(case, asked, zones):
            why = "no_window"
        accepted = waived(case, "spark", zone=zone, ground=why) if why is not None else None
        if accepted is not None:
            step.waive(accepted)
            left.add(zone)
        elif why is not None and asked is not None and all(test.body.zones for test in counting):
            step.lacks(f"spark_{zone}", True, NOT_BY_VOLTAGE[why][0](zone), NOT_BY_VOLTAGE[why][1], OLD_FILM)
            left.add(zone)
        _does_not_count(case, step, zone, why)
    return left


def _sparked(test: HolidayTested) -> set[str]:
    """The zones in which a test found a hole; one that names none is of the first zone it went over."""
    return {hole.zone or (test.zones or ["repair"])[0] for hole in test.holidays}


def _does_not_count(case: Case, step: Step, zone: str, why: Ground | None) -> None:
    """A waiver that does not count is said with its reason, so that nobody relies on it."""
    mine = [event for event in asked_for(case.job, "spark", zone=zone) if event.body.zone == zone or why is not None]
    if not mine or any(one.zone == zone for one in step.not_done):
        return
    because = say("acts.waived_can_be_tested", entry=mine[-1].id, zone=zone) if why is None else lacking(case, mine[-1], why)
    if because is not None:
        step.hold("waiver", because, say("acts.waived_move"), case.rule_book)


def _above(case: Case, step: Step, zone: str, over: list[Any]) -> None:
    """Old film from service is tested at most at the voltage that the procedure gives for it."""
    most = case.procedure.value("old_film_v_max")
    volts = max((test.verified_v or test.voltage_v for test in over), default=0.0)
    if most is not None and zone in OLD and in_service(case) and not letter_given(over) and volts > most:
        step.hold("old_film_voltage", say("acts.old_film_voltage", zone=zone, volts=volts, most=most),
                  NOT_BY_VOLTAGE["in_service"][1], case.procedure.cite("old_film_v_max"), value=volts, limit=most, unit="V")


def no_window(case: Case, zone: dict[str, Any], zones: list[dict[str, Any]]) -> bool:
    """Whether no voltage serves a zone: what its thickest film needs is more than its thinnest may bear."""
    request = ground_question(case, BEFORE_A_TEST) | {"zones": [_untried(zone) | {"state": {}}]}
    told = case.ask(FORMS, request).model_dump(mode="json")["zones"][0]
    return bool(told["method"] == "high_voltage" and told["low_v"] is not None and told["high_v"] is not None
                and told["low_v"] > told["high_v"])


def _listed(zones: list[str]) -> str:
    return zones[0] if len(zones) == 1 else f"{', '.join(zones[:-1])} and {zones[-1]}"


def _by_coupon(zones: list[dict[str, Any]]) -> str:
    """What the certificate says of a voltage on which the published models disagree and the coupon decided."""
    decided = [zone for zone in zones if zone["voltage_v"] < zone["low_v"]]
    if not decided:
        return ""
    return (f" Over {_named(decided)} the published models disagree whether that voltage jumps a hole; a pinhole through a "
            "coupon of the thickest film sparked at it.")


def _still_open(case: Case, step: Step, earlier: list[Any]) -> None:
    """A hole found before the film was measured again is closed by a layer, not by a test that does not find it."""
    layers = case.job.of("layer.fused")
    for test in earlier:
        if test.body.holidays and not any(layer.at >= test.at for layer in layers):
            step.hold(
                "no_holiday", f"{test.id} at {clock(test.at)} found {len(test.body.holidays)} holiday(s), and no layer was "
                "fused since. A later test that finds none does not close them.",
                "Grind back there, repair and test that zone again.", case.rule_book, "rejected",
                value=len(test.body.holidays), limit=0,
            )
            return


def _voided_hole(case: Case, step: Step) -> None:
    """A test that found a hole is taken back by the engineer alone; another test that finds none does not take its place."""
    for test in case.job.voided:
        void = next((one for one in case.job.voids if one.body.entry == test.id), None)
        if test.kind != "holiday.tested" or not test.body.holidays or void is None:
            continue
        person = case.job.people.get(void.by)
        closed = any(one.at >= test.at for one in (*instructions(case.part_job), *case.job.of("layer.fused")))
        if not closed and (person is None or person.role != "engineer"):
            step.hold("hole_voided", say("acts.hole_voided", entry=test.id, at=clock(test.at), n=len(test.body.holidays),
                                         name=case.job.name_of(void.by)), say("acts.hole_voided_move"), case.rule_book,
                      "engineering_review")


def _gas(case: Case, step: Step, counting: list[Any]) -> None:
    """A spark lights what burns: after solvent, or in an enclosed place, flammable gas is measured first."""
    for test in counting:
        if test.body.electrode == "wet_sponge":
            continue
        gas = gas_at(case, test.at, required=False, spark=True)
        if gas.state in ("missing", "old"):
            step.lacks("gas_before_spark", True, gas.because,
                       "Measure flammable gas at the lowest point and at the spot, then test again.",
                       case.procedure.cite("lel_pct_max"))
            return
        if gas.state == "high":
            step.hold("gas_before_spark", gas.because, "No spark. Ventilate, measure again, then test.",
                      case.procedure.cite("lel_pct_max"), value=gas.share_pct, limit=gas.limit_pct, unit="%")
            return


def _by_sponge(case: Case, step: Step, request: dict[str, Any], counting: list[Any]) -> None:
    """The low-voltage wet sponge is for thin film only; each zone it went over is asked for its own film."""
    films = [zone["film_um"]["max"] for zone in request["zones"] for test in counting
             if test.body.electrode == "wet_sponge" and (not test.body.zones or zone["id"] in test.body.zones)]
    thickest = max(films, default=0.0)
    if thickest > WET_SPONGE_UM:
        step.hold(
            "wet_sponge",
            f"The wet sponge was used on film of {thickest:g} µm; it is for film up to {WET_SPONGE_UM:g} µm.",
            "Test with high voltage, inside the window.", cite("astm_d5162"), value=thickest, limit=WET_SPONGE_UM, unit="um",
        )


def _after_sponge(case: Case, step: Step, counting: list[Any]) -> None:
    """High voltage waits after a wet sponge anywhere on the part, as long as the procedure says: moisture carries current."""
    for test in counting:
        wet = None if test.body.electrode == "wet_sponge" else wet_until(case, test.at)
        if wet is not None:
            step.hold("sponge_before_spark", say("acts.sponge_then_spark", at=clock(test.at), until=clock(wet)),
                      say("acts.sponge_void"), case.procedure.cite("sponge_to_spark_min"))
            return


def wet_until(case: Case, moment: datetime) -> datetime | None:
    """Until when the part counts as wet from the last sponge on it; None when it does not."""
    minutes = case.procedure.value("sponge_to_spark_min")
    sponged = [test.at for test in case.part_job.of("holiday.tested")
               if test.body.electrode == "wet_sponge" and test.at <= moment]
    until = None if minutes is None or not sponged else sponged[-1] + timedelta(minutes=minutes)
    return until if until is not None and moment < until else None


def question(case: Case, film: dict[str, Any], tests: list[Any], counting: list[Any],
             standing: _Standing | None = None) -> dict[str, Any]:
    """The request to the holiday room: zones from the film as measured, and of the passes since those that stand; all of them
    when that is left out."""
    first = counting[0].body
    lettered = [zone for zone in _KIND if letter_given(t.body for t in counting if went_over(t, zone))]
    request = zones_question(case, film, counting[-1].body, wet=False, lettered=lettered)
    zones, kept = request["zones"], {}
    for zone in zones:
        kept[zone["id"]] = [t for t in counting if went_over(t, zone["id"])] if standing is None else standing.tests[zone["id"]]
        zone["state"]["wet"] = any(t.body.wet and t.body.electrode != "wet_sponge" for t in kept[zone["id"]])
        if standing is not None and standing.spent.get(zone["id"]):
            zone["earlier_passes"] = standing.spent[zone["id"]]
    tried = {(t.body.instrument, t.body.voltage_v): t for t in counting if not t.body.covered_pct}.values()
    used = [t for t in counting if t in tried or any(t in mine for mine in kept.values())] or counting
    earth, several = {t.body.grounded for t in used}, len({t.body.instrument for t in used}) > 1

    def named(test: Any) -> dict[str, Any]:
        return {"instrument": test.body.instrument} if several else {}

    request |= {
        "session": {"id": counting[-1].id, "at": counting[-1].at.isoformat(), "instrument": first.instrument},
        "grounding": {"checked": True in earth},
        "electrode_voltage": [
            {"set_v": t.body.voltage_v, "measured_v": t.body.verified_v} | named(t)
            for t in used if t.body.verified_v is not None
        ],
        "coupons": [
            {"film_um": t.body.coupon_um, "voltage_v": t.body.verified_v or t.body.voltage_v, "found": t.body.coupon_hole_found}
            | named(t) for t in used if t.body.coupon_um is not None and t.body.coupon_hole_found is not None
        ],
        "passes": [
            {"zone": zone, "set_v": t.body.voltage_v, "covered_pct": covered}
            | ({"travel_m_s": t.body.travel_m_s} if t.body.travel_m_s is not None else {})
            | ({"earthed": t.body.grounded} if len(earth) > 1 else {}) | named(t)
            for t in used for zone in kept if t in kept[zone]
            for covered in _shares(t, kept[zone])
        ],
        "sparks": [
            {"zone": h.zone or (t.body.zones or [zones[0]["id"]])[0], "x": h.x, "y": h.y}
            for t in counting for h in t.body.holidays
        ],
    }
    return request


def _shares(test: Any, tests: list[Any]) -> list[float]:
    """What each pass of a test covered. Tests of a part of a zone each, by one setting, were one pass together: the places left
    out were tested afterwards."""
    part = [one for one in tests if one.body.covered_pct < 100 and one.body.voltage_v == test.body.voltage_v
            and one.body.instrument == test.body.instrument]
    if test not in part or len(part) < 2:
        return [test.body.covered_pct] * min(test.body.passes, 50)
    together = min(100.0, sum(one.body.covered_pct for one in part))
    return [together] * min(max(one.body.passes for one in part), 50) if test == part[-1] else []


def _untried(zone: dict[str, Any]) -> dict[str, Any]:
    """A zone as it is asked about before a test."""
    return {key: value for key, value in zone.items() if key != "earlier_passes"}


def went_over(test: Any, zone: str) -> bool:
    """Whether a test went over a zone; one that names none went over all, one of 0 % over none: it tried a coupon."""
    return bool(test.body.covered_pct) and (not test.body.zones or zone in test.body.zones)


@dataclass
class _Standing:
    """The tests of each zone that stand, and how many passes of the others had put their voltage on the film."""

    tests: dict[str, list[Any]]
    spent: dict[str, int] = field(default_factory=dict)


def _standing(case: Case, film: dict[str, Any], tests: list[Any], counting: list[Any]) -> _Standing:
    """A test that was void by itself gives way to one of the same zone that was not; where all are void, to the last."""
    found = _Standing({})
    for zone in (one["id"] for one in zones_of(film)):
        over = [test for test in counting if went_over(test, zone)]
        if len(over) > 1:
            told = [_alone(case, film, tests, counting, test, zone) for test in over]
            good = [test for test, said in zip(over, told, strict=True) if said.status != "void"]
            kept = good or over[-1:]
            found.spent[zone] = sum(test.body.passes for test, said in zip(over, told, strict=True)
                                    if test not in kept and _was_on(test, said.low_v))
            over = kept
        found.tests[zone] = over
    return found


def _was_on(test: Any, low_v: float | None) -> bool:
    """Whether a pass put a test voltage on the film: not by sponge, over a broken return lead, or below the window."""
    volts = test.body.verified_v or test.body.voltage_v
    return test.body.electrode != "wet_sponge" and test.body.grounded and (low_v is None or volts >= low_v)


def _alone(case: Case, film: dict[str, Any], tests: list[Any], counting: list[Any], test: Any, zone: str) -> Any:
    """What the room says of one test of one zone by itself, with the checks and coupons of the same instrument."""
    mine = [one for one in counting if one.body.instrument == test.body.instrument]
    only = _Standing({one["id"]: [test] if one["id"] == zone else [] for one in zones_of(film)})
    request, checks = question(case, film, tests, mine, only), question(case, film, tests, mine)
    request |= {key: checks[key] for key in ("electrode_voltage", "coupons")} | {
        "zones": [one for one in request["zones"] if one["id"] == zone],
        "sparks": [spark for spark in request["sparks"] if spark["zone"] == zone]}
    return case.ask(FORMS, request).zones[0]


def zones_of(film: dict[str, Any]) -> list[dict[str, Any]]:
    """Repair, overlap and parent film with their thinnest and thickest reading, corrected."""
    held: dict[str, list[float]] = {}
    for spot in film["spots"]:
        held.setdefault(spot["where"], []).extend(spot["readings_um"])
    return [
        {"id": where, "kind": _KIND[where], "film_um": {"min": min(held[where]), "max": max(held[where])}}
        for where in ("repair", "overlap", "parent")
        if held.get(where)
    ]


# How to ask about a test not made yet: as its entry would say if nothing else were typed.
BEFORE_A_TEST = HolidayTested.model_construct(electrode="wire_brush", air_c=20.0, kpa=101.325, wet=False, letter=None)


def zones_question(case: Case, film: dict[str, Any], test: HolidayTested, *, wet: bool | None = None,
                   lettered: Collection[str] | None = None) -> dict[str, Any]:
    """What all zones share (polymer, strength, air, electrode, procedure), and each zone with its film and its state."""
    wet = test.wet if wet is None else wet
    if lettered is None:
        lettered = tuple(_KIND) if test.letter else ()
    return ground_question(case, test) | {
        "zones": [zone | _service(case, wet, zone, letter=zone["id"] in lettered)
                  for zone in _with_film_left(case, zones_of(film))]}


def _with_film_left(case: Case, zones: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The zones; film left under a damage that nobody filled belongs to the repair's, whatever the gauge showed over it."""
    left = left_um(case, case.job.last("film.measured"))
    return [zone | {"film_um": {"min": min(zone["film_um"]["min"], *left), "max": zone["film_um"]["max"]}}
            if left and zone["id"] == "repair" else zone for zone in zones]


def ground_question(case: Case, test: HolidayTested) -> dict[str, Any]:
    """What all zones share."""
    lining = case.job.the("lining.identified")
    request: dict[str, Any] = {
        "polymer": lining.polymer,
        "electrode": test.electrode if test.electrode != "wet_sponge" else "wire_brush",
        "air": {"c": test.air_c, "kpa": test.kpa},
        "procedure": own_procedure(case.procedure, lining.polymer),
    }
    if read := since_solvent(case.job, max(event.at for event in case.job.events)):
        request["lel_pct"] = share_of(read[-1])
    return request


def own_procedure(procedure: Procedure, polymer: str) -> dict[str, Any]:
    """All that a procedure says of the test, as the holiday room reads it: head, limits (usable share, least voltage), the
    test-voltage rule and the strength of this polymer's film. A strength's clause stands in the procedure itself."""
    plain = plain_procedure(procedure)
    asked: dict[str, Any] = {key: plain[key] for key in ("procedure", "limits", "holiday_rule") if key in plain}
    points = plain.get("strength")
    if isinstance(points, dict):
        points = points.get(polymer)
    if points:
        asked["strength"] = [{key: point[key] for key in StrengthPoint.model_fields if key in point} for point in points]
    return asked


def _whole_film(case: Case, step: Step, request: dict[str, Any], counting: list[Any]) -> None:
    """The window of all film together and every published rule beside it, for the page; the zones decide."""
    asked = at_voltage(whole_film_question(request), counting[-1].body.verified_v or counting[-1].body.voltage_v)
    try:
        plain = case.ask(FORMS, asked).model_dump(mode="json")
    except BenchError:
        if not case.from_record:
            raise
        return  # it decides nothing; the zones have said what they could
    step.asked.append(asked)
    step.answers.append(plain)


def whole_film_question(request: dict[str, Any]) -> dict[str, Any]:
    """The window over all film together: what all zones share, from the thinnest reading to the thickest."""
    films = [zone["film_um"] for zone in request["zones"]]
    return {key: request[key] for key in _GROUND if key in request} | {
        "film_um": {"min": min(f["min"] for f in films), "max": max(f["max"] for f in films)}}


def at_voltage(asked: dict[str, Any], voltage_v: float | None) -> dict[str, Any]:
    """The same question with the voltage that is to be judged, if one is stated."""
    return asked if voltage_v is None else asked | {"stated_voltage_v": voltage_v}


def _service(case: Case, wet: bool, zone: dict[str, Any], *, letter: bool) -> dict[str, Any]:
    """The zone's own state: old film may have been in service, the new patch was not."""
    why = ground(case, zone["id"], lettered=letter)
    return {"state": {"conductive_filler": why == "conductive", "wet": wet, "immersed": why == "in_service"}}


def _findings(plain: dict[str, Any]) -> Iterator[Finding]:
    """The findings of every zone, the zone named in the rule."""
    for zone in plain["zones"]:
        for finding in zone["findings"]:
            yield Finding.model_validate(finding | {"rule": f"{finding['rule']}, {zone['zone']}"})


def _split(case: Case, step: Step, request: dict[str, Any], counting: list[Any]) -> None:
    """One voltage over zones whose windows do not overlap: say so, with the voltages that would do."""
    used = {test.body.voltage_v for test in counting}
    if len(used) > 1 or len(request["zones"]) < 2:
        return
    zones = {key: request[key] for key in _GROUND if key in request} | {"zones": [_untried(zone) for zone in request["zones"]]}
    asked = at_voltage(zones, counting[-1].body.verified_v or counting[-1].body.voltage_v)
    plain = case.ask(FORMS, asked).model_dump(mode="json")
    if plain["one_voltage_serves_all"] is not False:
        return
    note = next((n for n in plain["notes"] if n["name"] == "zones_apart"), plain["notes"][0])
    step.hold("split_zones", note["because"], note["next_move"], "window of each zone, from its thinnest and thickest film")


def _hold(case: Case, step: Step, zone: dict[str, Any], counting: list[Any]) -> None:
    status, move = zone["status"], zone["next_move"]
    kind: BlockKind = "rejected" if status == "failed" else "held"
    over = [test for test in counting if went_over(test, zone["zone"])]
    allowed = case.procedure.value("repeats_max")
    why = ground(case, zone["zone"], lettered=letter_given(test.body for test in over))
    if status == "void" and why is not None:
        move = NOT_BY_VOLTAGE[why][1]
    elif any(found["rule"] == "repeats" and found["because"] == zone["because"] for found in zone["findings"]):
        move = say("acts.spark_passes_over", n=zone["passes_so_far"])
    elif status == "void" and allowed is not None and zone["passes_so_far"] >= allowed and any(
            _was_on(test, zone["low_v"]) for test in over):
        move = say("acts.spark_pass_spent", move=move, n=zone["passes_so_far"], allowed=int(allowed))
    elif any(found["rule"] == "coupon" for found in zone["findings"]) or zone["because"].startswith("No drilled hole"):
        move = say("acts.spark_coupon", move=move)
    step.blocks.append(Block(
        step.name, _RULE[status], f"Zone {zone['zone']}: {zone['because']}", move, case.rule_book, kind,
        zone["voltage_v"], zone["low_v"], "V",
    ))


def _named(zones: list[dict[str, Any]]) -> str:
    names = [zone["zone"] for zone in zones]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
