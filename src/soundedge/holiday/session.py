"""A test was made: what does it prove, zone by zone, and what must be done again?

A test below the window is void, not passed: it could not have found the hole. The same holds when nobody
checked the earth, when the voltage was not measured at the electrode, when the coupon's hole was not found,
or when the electrode went too fast. A spark is a failure whatever the rest.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, model_validator

from ..basis.finding import Finding, Verdict, judge, worst
from ..basis.quantity import Instant, Prose, Quantity, Word, shown
from ..basis.question import Answer, Request, refuse
from ..basis.sentences import say
from ..basis.shape import CoordinateMm, Outline, area_mm2
from ..basis.sources import cite
from . import cautions as care
from .answers import FilmAnswer
from .coverage import Covered, covered, inside, simple
from .given import LIST_MAX, FilmMicrometres, Ground, Volts
from .setting import setting
from .sheet import session_sheet
from .zones import Zone, check_zone_ids, zone_answer

TRAVEL_M_S_MAX = 0.3
REPEATS_MAX = 1
EARTH_OHM_MAX = 10.0
METER_SHARE = 0.05        # a high-voltage meter at the electrode reads within 5 %
SAME_SETTING = 0.005      # a check belongs to a setting when both dials agree within 0.5 %
TRACK_POINTS_MAX = 10_000
LEFT_OUT_PCT_MAX = 0.1    # what drawing leaves open along a zone's edge

Status = Literal["passed", "failed", "void", "incomplete", "unproven"]
_VERDICT: dict[str, Verdict] = {
    "passed": "conforms", "failed": "does_not_conform", "void": "not_measured", "incomplete": "not_measured",
    "unproven": "indeterminate",
}


class SessionHead(Request):
    """Who tested what, when, with which instrument."""

    id: Word
    part: Word | None = None
    by: Word | None = None
    at: Instant | None = None
    instrument: Word | None = None


class TestedZone(Zone):
    """A zone as it was tested. ``earlier_passes`` counts high-voltage passes over it before this session."""

    outline_mm: Outline | None = None
    earlier_passes: Annotated[int, Quantity("Earlier passes", "", at_least=0, at_most=1000, whole=True)] = 0


class Grounding(Request):
    """The earth check: made by touching bare metal or a known hole, or by resistance."""

    checked: bool
    resistance_ohm: Annotated[float, Quantity("Resistance of the earth lead", "ohm", at_least=0, at_most=1e9)
                              ] | None = None


class ElectrodeCheck(Request):
    """What the dial said and what a high-voltage meter read at the electrode, on the lining."""

    set_v: Volts
    measured_v: Volts
    at: Instant | None = None


class Coupon(Request):
    """A coupon with a drilled hole: its film, the voltage measured at the electrode, and whether it sparked."""

    film_um: FilmMicrometres
    voltage_v: Volts
    found: bool
    hole_mm: Annotated[float, Quantity("Drilled hole", "mm", above=0, at_most=10,
                                       next_move="A needle hole of 22 gauge is 0.7 mm.")] | None = None


class Track(Request):
    """One stroke of the electrode: the middle of its way, and its contact width across the travel, mm."""

    points_mm: list[list[CoordinateMm]]
    width_mm: Annotated[float, Quantity("Contact width of the electrode", "mm", at_least=1, at_most=2000)]

    @model_validator(mode="after")
    def _a_way(self) -> Track:
        if not 2 <= len(self.points_mm) <= 5000:
            raise refuse("not_enough" if len(self.points_mm) < 2 else "out_of_range",
                         say("holiday.track_length", n=len(self.points_mm)))
        if any(len(point) != 2 for point in self.points_mm):
            raise refuse("unreadable", say("holiday.track_point_not_a_pair"))
        if len({tuple(point) for point in self.points_mm}) < 2:
            raise refuse("not_enough", say("holiday.track_of_one_place"))
        return self


class Pass(Request):
    """One pass over a zone at one dial setting. What it covered: tracks, or a share judged by eye."""

    zone: Word
    set_v: Volts
    travel_m_s: Annotated[float, Quantity("Electrode travel", "m/s", above=0, at_most=5,
                                          next_move="It is in m/s: 1 ft/s is 0.305 m/s.")] | None = None
    tracks: list[Track] = []
    covered_pct: Annotated[float, Quantity("Covered share", "%", at_least=0, at_most=100)] | None = None

    @model_validator(mode="after")
    def _one_map(self) -> Pass:
        if self.tracks and self.covered_pct is not None:
            raise refuse("contradiction", say("holiday.pass_tracks_and_share"))
        if len(self.tracks) > 2000:
            raise refuse("out_of_range", say("holiday.too_many_tracks", n=len(self.tracks)))
        return self


class Spark(Request):
    """A place that sparked."""

    zone: Word
    x: CoordinateMm | None = None
    y: CoordinateMm | None = None
    note: Prose | None = None

    @model_validator(mode="after")
    def _a_place(self) -> Spark:
        if (self.x is None) != (self.y is None):
            raise refuse("missing", say("holiday.spark_half_placed"))
        return self


class SessionRequest(Ground):
    """A test as it was made."""

    session: SessionHead
    zones: list[TestedZone]
    grounding: Grounding | None = None
    electrode_voltage: list[ElectrodeCheck] = []
    coupons: list[Coupon] = []
    passes: list[Pass] = []
    sparks: list[Spark] = []
    pulse_hz: Annotated[float, Quantity("Pulses of the set", "1/s", at_least=1, at_most=10_000)] | None = None
    contact_mm: Annotated[float, Quantity("Contact of the electrode along the travel", "mm", above=0, at_most=2000)
                          ] | None = None

    @model_validator(mode="after")
    def _hangs_together(self) -> SessionRequest:
        names = [zone.id for zone in self.zones]
        check_zone_ids(names)
        drawn = sum(len(track.points_mm) for one in self.passes for track in one.tracks)
        if drawn > TRACK_POINTS_MAX:
            raise refuse("out_of_range", say("holiday.too_many_track_points", n=drawn, most=TRACK_POINTS_MAX))
        for what, held in (("electrode_voltage", self.electrode_voltage), ("coupons", self.coupons),
                           ("passes", self.passes), ("sparks", self.sparks)):
            if len(held) > 10 * LIST_MAX:
                raise refuse("out_of_range", say("holiday.list_too_long", key=what, n=len(held), most=10 * LIST_MAX))
        for what, name in [("A pass", one.zone) for one in self.passes] + [("A spark", s.zone) for s in self.sparks]:
            if name not in names:
                raise refuse("unknown", say("holiday.zone_not_given", key=what, zone=name,
                                            known=', '.join(names[:20])))
        for zone in self.zones:
            if zone.outline_mm is not None and not simple(zone.outline_mm):
                raise refuse("contradiction", say("holiday.zone_outline_crosses_itself", zone=zone.id))
        outlines = {zone.id: zone.outline_mm for zone in self.zones}
        for one in self.passes:
            if one.tracks and outlines[one.zone] is None:
                raise refuse("missing", say("holiday.pass_zone_without_outline", zone=one.zone))
        for spark in self.sparks:
            outline = outlines[spark.zone]
            if outline is not None and spark.x is not None and spark.y is not None:
                if not inside(outline, spark.x, spark.y):
                    raise refuse("contradiction", say("holiday.spark_outside_zone", x=shown(spark.x), y=shown(spark.y),
                                                      zone=spark.zone))
        return self


class _Plain(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Place(_Plain):
    """A place on the part, mm, with its area where it has one."""

    x: float | None
    y: float | None
    area_mm2: float | None = None
    note: str = ""


class ZoneResult(_Plain):
    """What the session proves about one zone. ``void`` lists why its test counts for nothing."""

    zone: str
    kind: str
    status: Status
    verdict: Verdict
    because: str
    next_move: str
    void: list[str]
    voltage_v: float | None
    low_v: float
    high_v: float | None
    passes_so_far: int
    covered_pct: float | None
    left_out: list[Place]
    sparks: list[Place]
    stored_mj: float | None
    findings: list[Finding]


class Again(_Plain):
    """One thing to do again, and only there."""

    zone: str
    x: float | None
    y: float | None
    why: Literal["repair", "test"]
    next_move: str


class SessionAnswer(Answer):
    """Zone by zone: passed, failed, void, incomplete or unproven; and what must be done again, only there."""

    cautions: list[str]
    verdict: Verdict
    session: str
    zones: list[ZoneResult]
    again: list[Again]
    leave_alone: list[str]
    sheet: dict[str, object]


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
    findings = [found for found in window.findings if found.rule != "flammable_vapour"]
    findings += [finding for finding in (
        _travel(request, passes), _coverage(passes, seen), _repeats(request, repeats), _vapour(request)
    ) if finding is not None]
    if measured and window.high_v is not None and max(measured) > window.high_v and max(measured) != lowest:
        findings.append(judge("test_voltage_high", max(measured), limit=window.high_v, sense="at_most", unit="V",
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
        held = [c.measured_v for c in request.electrode_voltage if abs(c.set_v - one.set_v) <= SAME_SETTING * one.set_v]
        if not held:
            return []
        out += held
    return out


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
    if request.grounding is None or not request.grounding.checked:
        out.append("The earth was not checked: with a broken return lead every place looks sound.")
    elif request.grounding.resistance_ohm is not None and request.grounding.resistance_ohm > EARTH_OHM_MAX:
        out.append(f"The earth lead has {shown(request.grounding.resistance_ohm)} ohm; above {shown(EARTH_OHM_MAX)} ohm it "
                   "is not a return lead (own limit).")
    set_v = ", ".join(sorted({f"{shown(one.set_v)} V" for one in passes}))
    if not measured:
        out.append(f"The voltage was not measured at the electrode for the setting {set_v}: a dial is not a measurement.")
    elif min(measured) < window.low_v and not (window.method == "wet_sponge"):
        assert window.stated is not None
        out.append(
            f"{shown(min(measured))} V at the electrode is below the window: a hole through the thickest film, "
            f"{shown(zone.film_um.max)} µm, needs {window.low_v:.0f} V. It finds holes through film up to "
            f"{window.stated.bridges_um:.0f} µm only."
        )
    if measured:
        for coupon in request.coupons:
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
    opens = [f for f in findings if f.verdict != "conforms"]
    if not opens:
        opens = [f for f in _coupon_findings(request, zone, measured) if f.verdict != "conforms"]
    if opens:
        return "unproven", opens[0].because, opens[0].next_move
    if window.method == "wet_sponge":
        return "passed", f"No hole called at {min(measured):.0f} V with the wet sponge, over the whole zone.", "Go on."
    return ("passed", f"No spark at {min(measured):.0f} V, inside the window of {window.low_v:.0f} to {window.high_v:.0f} V, "
            "over the whole zone.", "Do not test it again at high voltage.")


def _coupon_findings(request: SessionRequest, zone: TestedZone, measured: list[float]) -> list[Finding]:
    proofs = [one for one in request.coupons
              if one.found and one.film_um >= zone.film_um.max and one.voltage_v <= (1.0 + METER_SHARE) * min(measured)]
    if proofs:
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
    return judge(
        "travel", fastest, limit=_travel_max(request), sense="at_most", unit="m/s", name="The electrode's travel",
        source=request.procedure.cite("travel_m_s_max") if named and request.procedure else
        cite("common_practice", "0.3 m/s (1 ft/s)"),
        next_move="Go slower.",
    )


def _coverage(passes: list[Pass], seen: Covered | None) -> Finding | None:
    if not passes:
        return None
    return judge(
        "coverage", None if seen is None else seen.pct, limit=100.0 - LEFT_OUT_PCT_MAX, sense="at_least", unit="%",
        name="The covered share of the zone", source=cite("common_practice", "100 %, strips overlapping"),
        next_move="Test the places left out.",
    )


def _repeats(request: SessionRequest, repeats: int) -> Finding:
    named = request.procedure is not None and "repeats_max" in request.procedure.limits
    limit = request.procedure.need("repeats_max") if named and request.procedure else REPEATS_MAX
    found = judge(
        "repeats", float(repeats), limit=limit, sense="at_most", name="The number of high-voltage passes over this zone",
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

