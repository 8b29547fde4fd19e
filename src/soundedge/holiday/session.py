"""A test was made: what does it prove, zone by zone, and what must be done again?

A test below the window is void, not passed: it could not have found the hole. The same holds when nobody
checked the earth, when the voltage was not measured at the electrode, when the coupon's hole was not found,
or when the electrode went too fast. A spark is a failure, whatever else was found.
"""

from __future__ import annotations

from ..basis.finding import Finding, Verdict, judge, worst
from ..basis.quantity import shown
from ..basis.shape import area_mm2
from ..basis.sources import cite
from . import cautions as care
from .answers import Again, FilmAnswer, Place, SessionAnswer, Status, ZoneResult
from .coverage import Covered, covered
from .plain import judge_plain
from .session_given import Coupon, Pass, SessionRequest, TestedZone
from .setting import setting
from .sheet import session_sheet
from .zones import zone_answer

TRAVEL_M_S_MAX = 0.3
REPEATS_MAX = 1
EARTH_OHM_MAX = 10.0
METER_SHARE = 0.05        # a high-voltage meter at the electrode reads within 5 %
SAME_SETTING = 0.005      # a check belongs to a setting when both dials agree within 0.5 %
LEFT_OUT_PCT_MAX = 0.1    # what drawing leaves open along a zone's edge

_VERDICT: dict[str, Verdict] = {
    "passed": "conforms", "failed": "does_not_conform", "void": "not_measured", "incomplete": "not_measured",
    "unproven": "indeterminate",
}


def judge_session(request: SessionRequest) -> SessionAnswer:
    """Judge a test session. The verdict is the worst of its zones; a void zone is ``not_measured``."""
    results = [_zone_result(request, zone) for zone in request.zones]
    findings = [
        finding.model_copy(update={"because": f"Zone {one.zone}: {finding.because}"})
        for one in results for finding in one.findings
    ]
    answer = SessionAnswer(
        cautions=care.usual_cautions(request.lel_pct),
        verdict=worst([one.verdict for one in results]),
        findings=findings,
        session=request.session.id,
        zones=results,
        again=[again for one in results for again in _again(one)],
        leave_alone=[one.zone for one in results if one.status == "passed"],
        sheet={},
    )
    answer.sheet = session_sheet(answer, request)
    return answer


def _zone_result(request: SessionRequest, zone: TestedZone) -> ZoneResult:
    passes = [one for one in request.passes if one.zone == zone.id]
    sparks = [Place(x=s.x, y=s.y, note=s.note or "") for s in request.sparks if s.zone == zone.id]
    measured = _measured(request, passes)
    lowest = min(measured) if measured else None
    window = zone_answer(request, zone, lowest)
    repeats = zone.earlier_passes + len(passes)
    seen = _covered(zone, passes)

    voids = _voids(request, zone, passes, measured, window)
    findings = _by_coupon(request, zone, window, lowest)
    findings += [finding for finding in (
        _travel(request, passes), _coverage(passes, seen), _repeats(request, repeats), _vapour(request)
    ) if finding is not None]
    if measured and window.high_v is not None and max(measured) > window.high_v and max(measured) != lowest:
        findings.append(judge_plain("test_voltage_high", max(measured), limit=window.high_v, sense="at_most", unit="V",
                                    name="The highest voltage measured", source=window.high_from,
                                    next_move="Ask the maker whether the film was harmed."))
    status, because, move = _status(request, zone, passes, sparks, voids, window, measured, seen, findings)
    permittivity = setting(request).permittivity
    stored = None
    if permittivity and measured and zone.outline_mm:
        stored = care.stored_mj_m2(max(measured), zone.film_um.min, permittivity) * area_mm2(zone.outline_mm) * 1e-6
    return ZoneResult(
        zone=zone.id, kind=zone.kind, status=status, verdict=_VERDICT[status], because=because, next_move=move,
        void=voids, voltage_v=lowest, low_v=window.low_v, high_v=window.high_v, passes_so_far=repeats,
        covered_pct=None if seen is None else seen.pct,
        left_out=[Place(x=x, y=y, area_mm2=a) for x, y, a in seen.left_out] if seen else [],
        sparks=sparks, stored_mj=stored, findings=findings,
    )


def _measured(request: SessionRequest, passes: list[Pass]) -> list[float]:
    """Every voltage measured at the electrode at a setting that was used; [] when one setting was never checked."""
    out: list[float] = []
    for one in passes:
        held = [c.measured_v for c in request.electrode_voltage
                if abs(c.set_v - one.set_v) <= SAME_SETTING * one.set_v and _of(c.instrument, one.instrument)]
        if not held:
            return []
        out += held
    return out


def _of(check: str | None, used: str | None) -> bool:
    """Whether a check speaks for a pass: of the same instrument, as far as both name theirs."""
    return None in (check, used) or check == used


def _covered(zone: TestedZone, passes: list[Pass]) -> Covered | None:
    tracks = [([(p[0], p[1]) for p in t.points_mm], t.width_mm) for one in passes for t in one.tracks]
    if tracks and zone.outline_mm is not None:
        return covered(zone.outline_mm, tracks)
    by_eye = [one.covered_pct for one in passes if one.covered_pct is not None]
    return Covered(max(by_eye), ()) if by_eye else None


def _voids(
    request: SessionRequest, zone: TestedZone, passes: list[Pass], measured: list[float], window: FilmAnswer
) -> list[str]:
    """Why the test of this zone counts for nothing, each a full sentence."""
    out = []
    if not passes:
        return ["The zone was not tested."]
    if window.method == "not_applicable":
        out += [finding.because for finding in window.findings if finding.rule.startswith("state_")]
    checked = request.grounding is not None and request.grounding.checked
    if not all(checked if one.earthed is None else one.earthed for one in passes):
        out.append("The earth was not checked: with a broken return lead every place looks sound.")
    elif request.grounding is not None and (request.grounding.resistance_ohm or 0.0) > EARTH_OHM_MAX:
        out.append(f"The earth lead has {shown(request.grounding.resistance_ohm or 0.0)} ohm; above {shown(EARTH_OHM_MAX)} ohm "
                   "it is not a return lead (own limit).")
    set_v = ", ".join(sorted({f"{shown(one.set_v)} V" for one in passes}))
    if not measured:
        out.append(f"The voltage was not measured at the electrode for the setting {set_v}: a dial is not a measurement.")
    elif min(measured) < window.proven_from_v and not (window.method == "wet_sponge"):
        assert window.stated is not None
        out.append(
            f"{shown(min(measured))} V at the electrode is below the window: a hole through the thickest film, "
            f"{shown(zone.film_um.max)} µm, needs {window.low_v:.0f} V, and {window.proven_from_v:.0f} V by the lowest of "
            "the published models or rules. It finds holes through film up to "
            f"{window.stated.bridges_um:.0f} µm only."
        )
    if measured:
        for coupon in (c for c in request.coupons if any(_of(c.instrument, one.instrument) for one in passes)):
            enough = coupon.voltage_v >= (1.0 - METER_SHARE) * min(measured)
            if coupon.film_um <= zone.film_um.max and enough and not coupon.found:
                out.append(f"The drilled hole in the coupon of {shown(coupon.film_um)} µm was not found at "
                           f"{shown(coupon.voltage_v)} V: this setting does not find holes.")
    fastest = max((one.travel_m_s for one in passes if one.travel_m_s is not None), default=None)
    limit = _travel_max(request)
    if fastest is not None and fastest > limit:
        out.append(f"The electrode went at {shown(fastest)} m/s; above {shown(limit)} m/s it can pass over a hole.")
    if fastest is not None and request.pulse_hz is not None and request.contact_mm is not None:
        step = 1000.0 * fastest / request.pulse_hz
        if step > request.contact_mm:
            out.append(f"Between two pulses the electrode went {step:.1f} mm, more than its contact of "
                       f"{shown(request.contact_mm)} mm: strips were left without voltage.")
    return out


def _status(
    request: SessionRequest, zone: TestedZone, passes: list[Pass], sparks: list[Place], voids: list[str],
    window: FilmAnswer, measured: list[float], seen: Covered | None, findings: list[Finding],
) -> tuple[Status, str, str]:
    same = f"Grind to sound lining, repair, let it cool, and test zone {zone.id} again, only there."
    if sparks:
        too_high = bool(measured) and window.high_v is not None and max(measured) > window.high_v
        because = f"{len(sparks)} place{'s' if len(sparks) > 1 else ''} sparked."
        if too_high:
            because += f" {max(measured):.0f} V is above what the thinnest film may bear: the test itself may have made it."
        if voids:
            because += " The rest of the zone counts as not tested: " + " ".join(voids)
        return "failed", because, same
    if voids:
        split = next((f.next_move for f in window.findings if f.rule == "window" and f.verdict != "conforms"), "")
        move = f"Set {window.suggested_v:.0f} V, measured at the electrode, and test zone {zone.id} again." if (
            window.suggested_v
        ) else split or f"Mend this and test zone {zone.id} again."
        return "void", "Void, not passed. " + " ".join(voids), move
    if seen is None:
        return "incomplete", "Nobody said what was covered.", "Draw the tracks on the outline, or state the share."
    if 100.0 - seen.pct > LEFT_OUT_PCT_MAX:
        places = "; ".join(f"({x:.0f}, {y:.0f}) {a:.0f} mm²" for x, y, a in seen.left_out[:3])
        where = f", among them {places}" if places else ""
        return ("incomplete", f"Only {seen.pct:.1f} % of the zone was covered{where}.",
                "Test the places left out, and only those.")
    opens = [f for f in findings if f.verdict != "conforms"] or _coupon_findings(request, zone, measured)
    if opens:
        return "unproven", opens[0].because, opens[0].next_move
    if window.method == "wet_sponge":
        return "passed", f"No hole called at {min(measured):.0f} V with the wet sponge, over the whole zone.", "Go on."
    by = "inside the window of" if min(measured) >= window.low_v else "proved on the coupon, below the window of"
    return ("passed", f"No spark at {min(measured):.0f} V, {by} {window.low_v:.0f} to {window.high_v:.0f} V, "
            "over the whole zone.", "Do not test it again at high voltage.")


def _proof(request: SessionRequest, zone: TestedZone, at_v: float, within: float) -> Coupon | None:
    """The coupon whose hole, through film as thick as the zone's thickest, sparked at this voltage or below; one of each
    instrument that went over the zone."""
    used = {one.instrument for one in request.passes if one.zone == zone.id} or {None}
    sparked = [one for one in request.coupons if one.found and one.film_um >= zone.film_um.max
               and one.voltage_v <= (1.0 + within) * at_v]
    found = [next((one for one in sparked if _of(one.instrument, instrument)), None) for instrument in used]
    return None if None in found else found[0]


def _by_coupon(request: SessionRequest, zone: TestedZone, window: FilmAnswer, lowest: float | None) -> list[Finding]:
    """The window's findings; what the published models leave open is decided once a coupon has sparked at the setting."""
    proof = None if lowest is None else _proof(request, zone, lowest, SAME_SETTING)
    out = [found for found in window.findings if found.rule != "flammable_vapour"]
    if proof is None or lowest is None or window.high_v is None or lowest > window.high_v:
        return out
    decided = (f"The coupon decided: its hole through {shown(proof.film_um)} µm sparked at {shown(proof.voltage_v)} V.")
    return [found.model_copy(update={
        "verdict": "conforms", "next_move": "Go on.", "source": cite("cfr_49_180_407", "the coupon"),
        "because": f"{found.because} {decided}"})
        if found.rule in ("test_voltage_low", "window") and found.verdict == "indeterminate" else found for found in out]


def _coupon_findings(request: SessionRequest, zone: TestedZone, measured: list[float]) -> list[Finding]:
    if _proof(request, zone, min(measured), METER_SHARE) is not None:
        return []
    return [Finding(
        rule="coupon", value=None, limit=zone.film_um.max, sense="at_least", unit="um", as_written="not_measured",
        verdict="indeterminate",
        because=f"No drilled hole in a coupon of at least {shown(zone.film_um.max)} µm was found at this voltage or below: "
                "by the formula the setting finds holes, and nobody has seen it do so.",
        next_move="Spark the hole of a coupon of the thickest film with the same set, electrode and cable.",
        source=cite("cfr_49_180_407", "the coupon"),
    )]


def _travel_max(request: SessionRequest) -> float:
    if request.procedure is not None and "travel_m_s_max" in request.procedure.limits:
        return request.procedure.need("travel_m_s_max")
    return TRAVEL_M_S_MAX


def _travel(request: SessionRequest, passes: list[Pass]) -> Finding | None:
    if not passes:
        return None
    known = [one.travel_m_s for one in passes]
    fastest = None if None in known else max(v for v in known if v is not None)
    named = request.procedure is not None and "travel_m_s_max" in request.procedure.limits
    return judge_plain(
        "travel", fastest, limit=_travel_max(request), sense="at_most", unit="m/s", name="The electrode's travel",
        source=request.procedure.cite("travel_m_s_max") if named and request.procedure else
        cite("common_practice", "0.3 m/s (1 ft/s)"),
        next_move="Go slower.",
    )


def _coverage(passes: list[Pass], seen: Covered | None) -> Finding | None:
    if not passes:
        return None
    return judge_plain(
        "coverage", None if seen is None else seen.pct, limit=100.0 - LEFT_OUT_PCT_MAX, sense="at_least", unit="%",
        name="The covered share of the zone", source=cite("common_practice", "100 %, strips overlapping"),
        next_move="Test the places left out.",
    )


def _repeats(request: SessionRequest, repeats: int) -> Finding:
    named = request.procedure is not None and "repeats_max" in request.procedure.limits
    limit = request.procedure.need("repeats_max") if named and request.procedure else REPEATS_MAX
    found = judge(
        "repeats", float(repeats), u=0.0, limit=limit, sense="at_most", name="The number of high-voltage passes over this zone",
        source=request.procedure.cite("repeats_max") if named and request.procedure else
        cite("common_practice", "one pass; each leaves charge and wears the film"),
        next_move="Do not test it again; ask the maker whether the film was harmed.",
    )
    if found.verdict == "does_not_conform" and not named:
        found = found.model_copy(update={"verdict": "indeterminate"})
    return found


def _vapour(request: SessionRequest) -> Finding | None:
    if request.lel_pct is None:
        return None
    procedure = request.procedure
    return care.vapour_finding(request.lel_pct, procedure.value("lel_pct_max") if procedure else None,
                               procedure.cite("lel_pct_max") if procedure else "")


def _again(one: ZoneResult) -> list[Again]:
    if one.status == "failed":
        return [Again(zone=one.zone, x=spark.x, y=spark.y, why="repair", next_move=one.next_move) for spark in one.sparks]
    if one.status in ("void", "incomplete"):
        places = [(p.x, p.y) for p in one.left_out] if one.status == "incomplete" and one.left_out else [(None, None)]
        return [Again(zone=one.zone, x=x, y=y, why="test", next_move=one.next_move) for x, y in places]
    return []

