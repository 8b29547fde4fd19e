"""What falls when a gauge fails, and how good is the gauge?

>>> answer = judge_checks(ChecksRequest.model_validate({"tol_pct": 3, "checks": [
...     {"instrument": "G7", "at": "2031-05-04T07:00:00Z", "reference_um": 1000, "reading_um": 1004},
...     {"instrument": "G7", "at": "2031-05-04T16:00:00Z", "reference_um": 1000, "reading_um": 1062}],
...     "readings": [{"id": "r1", "instrument": "G7", "at": "2031-05-04T09:00:00Z", "job": "J-12", "value_um": 1040}]}))
>>> answer.suspect, answer.jobs_held, answer.last_good["G7"].isoformat(), answer.verdict
(['r1'], ['J-12'], '2031-05-04T07:00:00+00:00', 'does_not_conform')
"""

from __future__ import annotations

import math
from datetime import datetime, timedelta
from typing import Annotated, Any

from pydantic import model_validator
from pydantic_core import core_schema

from ..basis.errors import Contradiction, NotEnough
from ..basis.finding import Finding, Verdict, judge, worst
from ..basis.quantity import Instant, NotThat, Quantity, Word
from ..basis.question import Answer, AnswerPart, Form, Request, refuse
from ..basis.sentences import say
from ..basis.sources import cite
from .capability import capability
from .checks import Check, Reading, Suspects, find_suspects
from .control import Chart, averages_and_ranges, individuals
from .study import Line, crossed_study, range_study

_UM = "Film is in micrometres (1 mil = 25.4 µm); check the unit."
ReferenceUm = Annotated[float, Quantity("A reference thickness", "um", above=0, at_most=50_000, next_move=_UM)]
ReadingUm = Annotated[float, Quantity("A reading", "um", at_least=0, at_most=50_000, next_move=_UM)]
TolerancePct = Annotated[float, Quantity("Check tolerance", "%", above=0, at_most=50)]
_POINT = Quantity("A value", "", at_least=-1e12, at_most=1e12)
Value = Annotated[float, _POINT]
POINTS_MAX = 100_000


class CheckRequest(Request):
    """A gauge held against a shim or a coated plate of known thickness."""

    instrument: Word
    at: Instant
    reference_um: ReferenceUm
    reading_um: ReadingUm
    tol_pct: TolerancePct | None = None
    u_reference_um: Annotated[float, Quantity("Uncertainty of the shim", "um", at_least=0, at_most=1000)] | None = None


class ReadingRequest(Request):
    """One film reading with the gauge, the moment and the job it belongs to."""

    id: Word
    instrument: Word
    at: Instant
    job: Word
    value_um: ReadingUm
    certificate: Word | None = None


class CalibrationRequest(Request):
    """A calibration: the day, its certificate, and how long the shop lets it stand."""

    instrument: Word
    on: Instant
    interval_days: Annotated[float, Quantity("Days between calibrations", "d", above=0, at_most=3660)] = 365.0
    certificate: Word | None = None


class ChecksRequest(Request):
    """Checks, readings and calibrations, in any order."""

    checks: list[CheckRequest]
    tol_pct: TolerancePct = 3.0
    readings: list[ReadingRequest] = []
    calibrations: list[CalibrationRequest] = []
    at: Instant | None = None
    min_um: Annotated[float, Quantity("Thinnest film", "um", above=0, at_most=20_000, next_move=_UM)] | None = None

    @model_validator(mode="after")
    def _once(self) -> ChecksRequest:
        seen = set()
        for reading in self.readings:
            if reading.id in seen:
                raise refuse("contradiction", say("instruments.reading_twice", reading=reading.id))
            seen.add(reading.id)
        return self


class TriageAnswer(AnswerPart):
    """A held job and its turn: rank 1 is looked at first."""

    job: str
    min_um: float
    corrected_min_um: float
    corrected_min_offset_um: float
    below_minimum: bool | None
    readings: int
    rank: int


class DueAnswer(AnswerPart):
    """When a calibration lapses, and whether it has."""

    instrument: str
    calibrated_on: Instant
    due_on: Instant
    days_left: float | None
    lapsed: bool | None


class ChecksAnswer(Answer):
    """What falls, what is not proven yet, and who comes first.

    ``known_u_pct``: the error a gauge showed at its last good check, with the shim's uncertainty, in % of a reading. A check
    within its tolerance says that the gauge may be used, not that it has no error: this belongs to all its readings.
    """

    suspect: list[str]
    suspect_because: dict[str, str]
    unproven: list[str]
    jobs_held: list[str]
    jobs_unproven: list[str]
    certificates_held: list[str]
    last_good: dict[str, Instant | None]
    known_u_pct: dict[str, float]
    triage: list[TriageAnswer]
    calibration: list[DueAnswer]
    verdict: Verdict
    because: str
    next_move: str
    cautions: list[str]


def judge_checks(request: ChecksRequest) -> ChecksAnswer:
    """Find the suspect readings and everything that stands on them."""
    checks = [Check(c.instrument, c.at, c.reference_um, c.reading_um, c.tol_pct) for c in request.checks]
    readings = [Reading(r.id, r.instrument, r.at, r.job, r.value_um, r.certificate) for r in request.readings]
    due = _due(request)
    lapsed = {line.instrument: line.due_on for line in due}
    found = find_suspects(checks, readings, tol_pct=request.tol_pct, lapsed=lapsed)
    source = cite("sspc_pa_2", "5, verification of accuracy")
    findings: list[Finding] = []
    for check in sorted(request.checks, key=lambda c: (c.at, c.instrument)):
        tol = check.tol_pct if check.tol_pct is not None else request.tol_pct
        findings.append(judge(
            "check_error_pct", round(100 * abs(check.reading_um - check.reference_um) / check.reference_um, 9), limit=tol,
            sense="at_most", unit="%", source=source, u=_shim_pct(check),
            name=f"The error of {check.instrument} on {check.reference_um:g} µm at {check.at:%Y-%m-%d %H:%M}",
            next_move="Clean the probe, check again; if it still fails, take the gauge out of use and hold every "
                      "reading "
                      "since its last good check."))
    verdicts: list[Verdict] = ["does_not_conform"] if found.suspect else []
    verdicts += ["not_measured"] if found.unproven else []
    if not readings:
        verdicts = ["does_not_conform"] if found.failed else ["conforms" if checks else "not_measured"]
    elif not verdicts:
        verdicts = ["conforms"]
    because, move = _reason(found, checks, readings)
    return ChecksAnswer(
        findings=findings, suspect=found.suspect, suspect_because=found.because, unproven=found.unproven,
        jobs_held=found.jobs_held, jobs_unproven=found.jobs_unproven, certificates_held=found.certificates_held,
        last_good=found.last_good, known_u_pct=_known(request, found.last_good),
        triage=[TriageAnswer(
            job=t.job, min_um=t.min_um, corrected_min_um=t.corrected_min_um,
            corrected_min_offset_um=t.corrected_min_offset_um,
            below_minimum=None if request.min_um is None else min(t[2], t[3]) < request.min_um,
            readings=t.readings, rank=t.rank) for t in found.triage],
        calibration=due, verdict=worst(verdicts), because=because, next_move=move,
        cautions=["A corrected value says who comes first. It never clears a reading: measure again with a good gauge."]
        if found.suspect else [],
    )


def _shim_pct(check: CheckRequest) -> float | None:
    """The shim's own uncertainty in % of its thickness; None when nobody stated one."""
    return None if not check.u_reference_um else 100 * check.u_reference_um / check.reference_um


def _known(request: ChecksRequest, last_good: dict[str, datetime | None]) -> dict[str, float]:
    """By gauge, what its last good check leaves to every reading, in %: the error found and the shim's uncertainty."""
    return {
        name: max(math.hypot(100 * (c.reading_um / c.reference_um - 1), _shim_pct(c) or 0.0)
                  for c in request.checks if c.instrument == name and c.at == at)
        for name, at in last_good.items() if at is not None
    }


def _due(request: ChecksRequest) -> list[DueAnswer]:
    latest: dict[str, CalibrationRequest] = {}
    for one in request.calibrations:
        if one.instrument not in latest or one.on > latest[one.instrument].on:
            latest[one.instrument] = one
    lines = []
    for name, one in latest.items():
        due_on = _later(one.on, one.interval_days)
        left = None if request.at is None else (due_on - request.at).total_seconds() / 86_400
        lines.append(DueAnswer(instrument=name, calibrated_on=one.on, due_on=due_on, days_left=left,
                               lapsed=None if left is None else left <= 0))
    return sorted(lines, key=lambda line: line.due_on)


def _later(moment: datetime, days: float) -> datetime:
    try:
        return moment + timedelta(days=days)
    except OverflowError:
        return datetime.max.replace(tzinfo=moment.tzinfo, microsecond=0)


def _reason(found: Suspects, checks: list[Check], readings: list[Reading]) -> tuple[str, str]:
    because, move = _of_readings(found, checks, readings)
    if found.failed and (not readings or not found.suspect):
        gauges = ", ".join(found.failed)
        out = f"Take {gauges} out of use until a check is good again."
        because = f"{gauges} failed the last check." if not readings else f"{because} {gauges} failed the last check."
        move = out if move == "Go on." else f"{move} {out}"
    return because, move


def _of_readings(found: Suspects, checks: list[Check], readings: list[Reading]) -> tuple[str, str]:
    if not readings and not checks:
        return "No check and no reading is given: nothing is known of any gauge.", "Check the gauge on a shim and give it."
    if not readings:
        return "Every gauge was good at its last check. No reading is given, so none is judged.", "Go on."
    if found.suspect:
        return (f"{len(found.suspect)} reading(s) in {len(found.jobs_held)} job(s) stand on a gauge that is not known "
                "to have "
                f"been good. {next(iter(found.because.values()))}",
                f"Hold {', '.join(found.jobs_held[:5])}; measure again with a good gauge, {found.jobs_held[0]} first.")
    if found.unproven:
        return (f"{len(found.unproven)} reading(s) have no good check on both sides yet.",
                "Check the gauge on a shim near the film's thickness before the part leaves.")
    return "Every reading lies between two good checks.", "Go on."


class TrialRequest(Request):
    """One measurement of a study."""

    part: Word
    operator: Word
    trial: Annotated[int, Quantity("Trial", "", at_least=1, at_most=1000, whole=True)]
    value: Value


class StudyRequest(Request):
    """Every operator measures every part equally often."""

    study: list[TrialRequest]
    pool_above_p: Annotated[float, Quantity("p-value above which the interaction is "
                                            "pooled", "", at_least=0, at_most=1)] = 0.25
    tolerance: Annotated[float, Quantity("Width of the tolerance", "", above=0, at_most=1e12)] | None = None

    @model_validator(mode="after")
    def _once(self) -> StudyRequest:
        seen = set()
        for row in self.study:
            key = (row.part, row.operator, row.trial)
            if key in seen:
                raise refuse("contradiction", say("instruments.trial_twice", part=row.part,
                                                  operator=row.operator, trial=row.trial))
            seen.add(key)
        return self


class RangeAnswer(AnswerPart):
    """The same study by averages and ranges."""

    repeatability: float
    reproducibility: float
    grr: float
    part: float
    total: float
    ndc: int


class StudyAnswer(Answer):
    """Standard deviations in the unit of the values; shares are of the total spread, in %."""

    repeatability: float
    reproducibility: float
    interaction: float
    grr: float
    part: float
    total: float
    ndc: int
    pooled: bool
    grr_pct: float | None
    grr_of_tolerance_pct: float | None
    anova: list[Line]
    by_range: RangeAnswer | None
    verdict: Verdict


def judge_study(request: StudyRequest) -> StudyAnswer:
    """Analyse a crossed study by variance, and by ranges where its factors are tabled.

    Raises
    ------
    NotEnough, Contradiction
        Too few parts, operators or trials; a pair that lacks trials.
    """
    rows = [(row.part, row.operator, row.value) for row in request.study]
    one = crossed_study(rows, pool_above_p=request.pool_above_p)
    by_range = None
    parts, operators = {row.part for row in request.study}, {row.operator for row in request.study}
    if len(parts) <= 10 and len(operators) <= 10 and len(rows) <= 5 * len(parts) * len(operators):
        other = range_study(rows)
        by_range = RangeAnswer(repeatability=other.repeatability, reproducibility=other.reproducibility, grr=other.grr,
                               part=other.part, total=other.total, ndc=other.ndc)
    share = 100 * one.grr / one.total if one.total else None
    source = cite("aiag_msa")
    findings = [
        judge("grr_pct", share, limit=30.0, sense="at_most", unit="%", source=source,
              name="The gauge's share of the total spread",
              next_move="Find the larger of repeatability and reproducibility and work on that one first."),
        judge("ndc", float(one.ndc), u=0.0, limit=5.0, sense="at_least", source=source, name="The number of classes the "
                                                                                      "gauge tells apart",
              next_move="Use a finer gauge, or average several readings."),
    ]
    return StudyAnswer(
        findings=findings, repeatability=one.repeatability, reproducibility=one.reproducibility, interaction=one.interaction,
        grr=one.grr, part=one.part, total=one.total, ndc=one.ndc, pooled=one.pooled, grr_pct=share,
        grr_of_tolerance_pct=None if request.tolerance is None else 100 * 6 * one.grr / request.tolerance,
        anova=list(one.anova),
        by_range=by_range, verdict=worst(finding.verdict for finding in findings),
    )


class _PointsRule:
    """Numbers, or lists of numbers: the first item says which of the two it is."""

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> core_schema.CoreSchema:
        def number(value: Any, spot: str, decimal_strings: bool) -> float:
            try:
                return _POINT.read(value, decimal_strings=decimal_strings)
            except NotThat as bad:
                raise refuse(bad.kind, say("instruments.point_unreadable", spot=spot, why=bad.message)) from None

        def points(value: Any, info: core_schema.ValidationInfo) -> list[Any]:
            strings = bool((info.context or {}).get("decimal_strings"))
            if not isinstance(value, list):
                raise refuse("unreadable", say("instruments.points_not_numbers"))
            if len(value) > POINTS_MAX:
                raise refuse("out_of_range", say("instruments.too_many_points", n=len(value), most=POINTS_MAX))
            if not value or not isinstance(value[0], list):
                return [number(v, f"Point {i}", strings) for i, v in enumerate(value, 1)]
            groups = []
            for i, group in enumerate(value, 1):
                if not isinstance(group, list):
                    raise refuse("unreadable", say("instruments.subgroup_not_a_list", number=i))
                groups.append([number(v, f"Subgroup {i}", strings) for v in group])
            return groups

        return core_schema.with_info_plain_validator_function(points)

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> dict[str, Any]:
        numbers = {"type": "array", "items": {"type": "number"}}
        return {"anyOf": [numbers, {"type": "array", "items": numbers}]}


Points = Annotated[list[Any], _PointsRule()]


class ChartRequest(Request):
    """Points of a control chart: single values, or subgroups of one size."""

    chart: Points
    unit: Word = "um"


class ChartAnswer(Answer):
    """One chart of single values, or two of averages and ranges."""

    charts: list[Chart]
    verdict: Verdict
    because: str
    cautions: list[str]


def judge_chart(request: ChartRequest) -> ChartAnswer:
    """Limits and signals of a control chart.

    Raises
    ------
    NotEnough, Contradiction
        Too few points; subgroups of different sizes.
    """
    grouped = bool(request.chart) and isinstance(request.chart[0], list)
    made = averages_and_ranges(request.chart) if grouped else (individuals(request.chart),)
    spoken = [signal for chart in made for signal in chart.signals]
    return ChartAnswer(
        charts=list(made),
        verdict="does_not_conform" if any(x.rule == "beyond_limits" for x in spoken)
        else "indeterminate" if spoken else "conforms",
        because=" ".join(x.because for x in spoken[:5]) or "No point speaks: the gauge is as steady as it was.",
        cautions=["Limits from fewer than 20 points are only a first guess."] if len(request.chart) < 20 else [],
    )


class CapabilityRequest(Request):
    """Values of one process against its limits; subgroups give the short-term spread R̄/d2."""

    capability: Points
    low: Value | None = None
    high: Value | None = None
    target: Value | None = None
    confidence: Annotated[float, Quantity("Confidence", "", above=0.5, below=1)] = 0.95


class CapabilityAnswer(Answer):
    """Indices with their confidence limits; the verdict asks that the lower limit of Cpk is at least 1."""

    n: int
    mean: float
    sigma: float
    sigma_from: str
    cp: float | None
    cp_limits: list[float] | None
    cpl: float | None
    cpu: float | None
    cpk: float
    cpk_limits: list[float]
    cpm: float | None
    one_sided_lower: float | None
    below_pct: float | None
    above_pct: float | None
    verdict: Verdict


def judge_capability(request: CapabilityRequest) -> CapabilityAnswer:
    """Capability of a process.

    Raises
    ------
    NotEnough, Missing, Contradiction
        Too few values or no spread; no limit; limits the wrong way round.
    """
    if not request.capability:
        raise NotEnough("capability", say("instruments.value_missing"))
    if request.low is not None and request.high is not None and request.low >= request.high:
        raise Contradiction("low", say("instruments.limits_crossed", low=request.low, high=request.high))
    if isinstance(request.capability[0], list):
        chart, _ = averages_and_ranges(request.capability)
        n, centre, sigma = sum(map(len, request.capability)), chart.centre, chart.sigma
        origin = "mean range / d2"
    else:
        values: list[float] = request.capability
        n, centre = len(values), math.fsum(values) / len(values)
        sigma = math.sqrt(math.fsum((v - centre) ** 2 for v in values) / max(1, n - 1))
        origin = "standard deviation"
    c = capability(mean=centre, sigma=sigma, n=n, low=request.low, high=request.high, target=request.target,
                   confidence=request.confidence)
    lowest = c.one_sided_lower if c.one_sided_lower is not None else c.cpk_limits[0]
    finding = judge(
        "cpk_lower", lowest, limit=1.0, sense="at_least", source=cite("common_practice"), name="The lower confidence "
                                                                                               "limit of Cpk",
        next_move="Narrow the spread or move the mean away from the nearer limit; then take more readings.")
    return CapabilityAnswer(
        findings=[finding], n=n, mean=centre, sigma=sigma, sigma_from=origin, verdict=finding.verdict, **c._asdict())


FORMS = (
    Form("chart", marked_by="chart", request=ChartRequest, answer=ChartAnswer, work=judge_chart),
    Form("capability", marked_by="capability", request=CapabilityRequest, answer=CapabilityAnswer, work=judge_capability),
    Form("study", marked_by="study", request=StudyRequest, answer=StudyAnswer, work=judge_study),
    Form("checks", request=ChecksRequest, answer=ChecksAnswer, work=judge_checks),
)
