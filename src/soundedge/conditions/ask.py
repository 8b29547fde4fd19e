"""May this steel be worked on now, and for how long?

>>> from soundedge.basis.question import answer
>>> found = answer(FORMS, {"air_c": 21.4, "rh_pct": 63, "steel_c": 16.0})
>>> found.verdict, round(found.dew_margin_k, 1)
('does_not_conform', 1.9)
>>> print(found.findings[0].because)
Margin above the dew point is 1.94 K; it must be at least 3 K. At worst, with every instrument off by its \
tolerance, 0.48 K.
"""

from __future__ import annotations

from datetime import datetime
from itertools import pairwise
from typing import Any, Literal

from ..basis.errors import Contradiction, Missing, OutOfRange
from ..basis.finding import Decision, Finding, Sense, Verdict, judge, shown_to, worst
from ..basis.quantity import Instant, instant_text, shown
from ..basis.question import Answer, AnswerPart, Form
from ..basis.sentences import say
from ..basis.sources import cite
from .condensed import Condensed, condensed
from .dew_point import dew_point_c, frost_point_c, margin_k, margin_u_k, margin_worst_k
from .given import LOG_GAP_MIN_MAX, LOG_MAX, ConditionLimits, ConditionsRequest
from .log import Reading, Rules, intervals, state_of, trend
from .moved import moved_by
from .salts import SOURCE, check_stated, salts

FORMULA_C_MIN = -45.0
MIL_MAX, UM_MIN = 8.0, 20.0  # no blast profile is deeper than 8 mil; limits from 20 µm on are no mil

CAUTIONS = (
    "Estimate from readings at one place: the coldest steel decides, and a contact thermometer there.",
)


class IntervalAnswer(AnswerPart):
    """What held between two readings: good, bad or unknown."""

    start: Instant
    end: Instant
    minutes: float
    state: Literal["good", "bad", "unknown"]
    margin_start_k: float
    margin_end_k: float
    margin_low_k: float
    because: str


class OperationAnswer(AnswerPart):
    """What the log says of one operation: whether the rules held, whether water settled on the steel, the lowest margin."""

    name: str
    state: Literal["good", "bad", "unknown"]
    because: str
    condensed: Condensed
    margin_low_k: float | None = None


class ConditionsAnswer(Answer):
    """Dew point and margin [°C, K], what held over the log, the clocks, the surface; and the verdict of all of it."""

    dew_point_c: float | None = None
    frost_point_c: float | None = None
    dew_margin_k: float | None = None
    dew_margin_worst_k: float | None = None
    dew_point_worst_c: float | None = None
    below_dew_point: bool | None = None
    verdict: Verdict
    intervals: list[IntervalAnswer] = []
    operations: list[OperationAnswer] = []
    minutes_to_limit: float | None = None
    trend_k_per_h: float | None = None
    trend_because: str | None = None
    prep_minutes: float | None = None
    prep_minutes_left: float | None = None
    salts_mg_m2: float | None = None
    salts_factor: float | None = None
    profile_mean_um: float | None = None
    cautions: list[str] = []
    notes: list[str] = []
    sources: list[str] = []


def conditions(request: ConditionsRequest) -> ConditionsAnswer:
    """Judge the air, the steel and the prepared surface.

    Parameters
    ----------
    request : ConditionsRequest
        At least one thing measured. ``series`` in any order of time, no two readings at one moment.

    Returns
    -------
    ConditionsAnswer
        ``verdict`` is the worst of all findings. The dew rule: ``does_not_conform`` when the plain margin is
        below the limit, ``indeterminate`` when only the worst case is, else ``conforms``.

    Raises
    ------
    Missing
        Nothing was measured, or only some of air, humidity and steel.
    Contradiction
        Two readings at one moment; a first layer before the preparation, or after ``now``.
    OutOfRange
        Profile readings that look like mil.
    """
    judged = _Judged(request)
    log = _log(request)
    _first_layer_lies_behind(request)
    air = _current(request, log)
    if air is None and not judged.anything_else():
        raise Missing("air_c", say("conditions.nothing_measured"))
    answer = ConditionsAnswer(verdict="not_measured", cautions=list(CAUTIONS))
    findings = judged.air(air, answer)
    if log is not None:
        findings += judged.log(log, answer)
        _say_log(request, log, answer)
    findings += judged.clock(answer) + judged.salts(answer) + judged.profile(answer) + judged.dust()
    answer.findings = findings
    answer.verdict = worst(f.verdict for f in findings)
    answer.sources = moved_by(request, findings, air is not None)
    return answer


class _Judged:
    """The findings, one method for each thing measured, under one request's limits."""

    def __init__(self, request: ConditionsRequest) -> None:
        self.request = request
        self.limits = request.limits or ConditionLimits()
        self.decision: Decision = request.decision.plain()
        for key in request.limit_sources:
            if key not in ConditionLimits.model_fields:
                raise Contradiction(f"limit_sources.{key}", say("conditions.limit_of_another_room", key=key))

    def anything_else(self) -> bool:
        r = self.request
        return any(part is not None for part in (r.salts, r.profile_um, r.dust, r.prepared_at))

    def source(self, key: str) -> str:
        """Where a limit comes from: as the request says, else the request itself, else our default."""
        if key in self.request.limit_sources:
            return self.request.limit_sources[key]
        if key in self.limits.model_fields_set:
            return "the request"
        default = "ambient_every_2h" if key == "log_gap_min_max" else "steel_3k_rule"
        return f"default, your procedure sets none: {cite(default)}"

    # --- air and steel ------------------------------------------------------------------------------------------------
    def air(self, now: Reading | None, answer: ConditionsAnswer) -> list[Finding]:
        r, limits = self.request, self.limits
        limit = limits.dew_margin_k
        move = (
            "Warm the steel or dry the air, then read again at the coldest place. No direct-fired gas heater: "
            "it adds water."
        )
        if now is None:
            found = []
            if limit is not None:
                found.append(judge("dew_margin", None, limit=limit, sense="at_least", unit="K", next_move=move,
                                   source=self.source("dew_margin_k"), name="Margin above the dew point"))
            if limits.rh_pct_max is not None:
                found.append(judge("relative_humidity", None, limit=limits.rh_pct_max, sense="at_most", unit="%",
                                   next_move="", source=self.source("rh_pct_max")))
            return found + self._steel(None)
        tols = {"tol_air_k": r.tol_air_k, "tol_rh_pct": r.tol_rh_pct, "tol_steel_k": r.tol_steel_k}
        plain = margin_k(now.air_c, now.rh_pct, now.steel_c)
        at_worst = margin_worst_k(now.air_c, now.rh_pct, now.steel_c, **tols)
        answer.dew_point_c = dew_point_c(now.air_c, now.rh_pct)
        answer.frost_point_c = frost_point_c(now.air_c, now.rh_pct)
        answer.dew_margin_k, answer.dew_margin_worst_k = plain, at_worst
        answer.dew_point_worst_c = now.steel_c - r.tol_steel_k - at_worst
        answer.below_dew_point = plain < 0
        found = []
        if limit is not None:
            found.append(self._dew(plain, at_worst, limit, margin_u_k(now.air_c, now.rh_pct, **tols), move))
        else:
            answer.notes.append("The limit for the margin above the dew point is null; it was not judged.")
        if limits.rh_pct_max is not None:
            found.append(self._held("relative_humidity", now.rh_pct, limits.rh_pct_max, "at_most", "%", r.tol_rh_pct,
                                    "rh_pct_max", "Dry the air and wait."))
        else:
            answer.notes.append("The limit for relative humidity is null; it was not judged.")
        if now.rh_pct <= 1.0:
            found.append(Finding(
                rule="humidity_plausible", value=now.rh_pct, limit=1.0, sense="at_least", unit="%",
                as_written="indeterminate", verdict="indeterminate",
                because=f"{now.rh_pct:g} % is drier than any shop; it reads like a share of one.",
                next_move=f"If the meter showed {now.rh_pct:g} of one, give {100 * now.rh_pct:g}.",
                source=cite("common_practice"),
            ))
        if now.rh_pct < 1.0 or answer.dew_point_c < FORMULA_C_MIN:
            place = "lies outside" if answer.dew_point_c < FORMULA_C_MIN else "lies near the end of"
            answer.notes.append(
                f"At {shown(now.rh_pct)} % the dew point, {answer.dew_point_c:.0f} °C, {place} the formula's range, "
                f"{FORMULA_C_MIN:g} to 60 °C, and below 1 % no common hygrometer reads. The margin is not to be built on."
            )
        self._say_air(now, plain, answer)
        return found + self._steel(now)

    def _dew(self, plain: float, at_worst: float, limit: float, u: float, move: str) -> Finding:
        found = _also_at_worst(judge("dew_margin", plain, limit=limit, sense="at_least", unit="K", u=u, next_move=move,
                                     source=self.source("dew_margin_k"), name="Margin above the dew point"), at_worst, move)
        if plain < 0:
            return found.model_copy(update={
                "because": f"The steel is below the dew point: it is wet, or will be at once. {found.because}"})
        return found

    def _steel(self, now: Reading | None) -> list[Finding]:
        value = None if now is None else now.steel_c
        tol, limits = self.request.tol_steel_k, self.limits
        found = []
        if limits.steel_c_min is not None:
            found.append(self._held("steel_temperature_min", value, limits.steel_c_min, "at_least", "°C", tol,
                                    "steel_c_min", "Warm the steel.", "Steel temperature"))
        if limits.steel_c_max is not None:
            found.append(self._held("steel_temperature_max", value, limits.steel_c_max, "at_most", "°C", tol,
                                    "steel_c_max", "Let the steel cool.", "Steel temperature"))
        return found

    def _held(self, rule: str, value: float | None, limit: float, sense: Sense, unit: str, tol: float, key: str, move: str,
              name: str | None = None) -> Finding:
        """One limit on what an instrument showed; guarded, it is decided as the dew rule is, by the worst case."""
        found = judge(rule, value, limit=limit, sense=sense, unit=unit, u=tol / 3**0.5, next_move=move,
                      source=self.source(key), name=name)
        if value is None or self.decision.rule != "guarded":
            return found
        return _also_at_worst(found, value - tol if sense == "at_least" else value + tol, move)

    def _say_air(self, now: Reading, plain: float, answer: ConditionsAnswer) -> None:
        frost = answer.frost_point_c
        if frost is not None and frost > now.steel_c:
            answer.cautions.append(
                f"Frost settles on steel below {frost:.1f} °C in this air, {frost - (answer.dew_point_c or 0):.1f} K above "
                f"the dew point over water; the steel is at {now.steel_c:g} °C. Ice cannot be seen on a ground surface: "
                "warm it through and dry it."
            )
        if now.steel_c < 0 or now.air_c < 0 or frost is not None:
            answer.cautions.append(
                "Below 0 °C the dew point is over supercooled water; frost comes earlier, and old ice may sit in pits. "
                "Warm the steel above 0 °C and dry it before any work."
            )
        if now.steel_c > 100:
            answer.notes.append(
                "This spot is above 100 °C: no water settles on it while it is. The rule counts again for "
                "the cold steel beside it, for wiping and priming, and before every restart."
            )
        if plain >= (self.limits.dew_margin_k or 0.0) and now.steel_c < now.air_c:
            answer.notes.append("The steel is colder than the air; thick steel lags behind warm damp air, most of all "
                                "in the morning. Read again soon.")

    # --- the log ------------------------------------------------------------------------------------------------------
    def log(self, log: list[Reading], answer: ConditionsAnswer) -> list[Finding]:
        r = self.request
        gap = self.limits.log_gap_min_max
        gap = LOG_GAP_MIN_MAX if gap is None else gap
        rules = Rules(self.limits.dew_margin_k, self.limits.rh_pct_max, gap, r.tol_air_k, r.tol_rh_pct, r.tol_steel_k,
                      guarded=self.decision.rule == "guarded")
        found = intervals(log, rules)
        answer.intervals = [
            IntervalAnswer(
                start=b.start, end=b.end, minutes=b.minutes, state=b.state, margin_start_k=b.margin_start_k,
                margin_end_k=b.margin_end_k, margin_low_k=b.margin_low_k, because=b.because,
            )
            for b in found
        ]
        line = trend(log, rules)
        if line is not None:
            answer.minutes_to_limit, answer.trend_k_per_h = line.minutes_to_limit, line.slope_k_per_h
            answer.trend_because = line.because
        out = []
        for operation in r.operations:
            state, because = state_of(operation.start, operation.end, found)
            wet = condensed(log, operation.start, operation.end, rules)
            answer.operations.append(OperationAnswer(name=operation.name, state=state, because=because, condensed=wet.state,
                                                     margin_low_k=wet.margin_k))
            verdict: Verdict = {"good": "conforms", "bad": "does_not_conform", "unknown": "not_measured"}[state]  # type: ignore[assignment]
            out.append(Finding(
                rule="air_during_operation", value=None, limit=self.limits.dew_margin_k, sense="at_least", unit="K",
                as_written=verdict, verdict=verdict, because=f"{operation.name}: {because}",
                next_move="Go on." if state == "good" else "Treat that work as done in bad air: prepare it again, or "
                "ask the engineer.",
                source=self.source("dew_margin_k"),
            ))
        if r.now is not None:
            age = (r.now - log[-1].at).total_seconds() / 60.0
            if age < 0:
                raise Contradiction("now", say("conditions.last_reading_after_now"))
            out.append(judge("reading_age", age, limit=gap, sense="at_most", unit="min", next_move="Read the air again.",
                             source=self.source("log_gap_min_max"), name="Age of the last air reading"))
        return out

    # --- the clock ----------------------------------------------------------------------------------------------------
    def clock(self, answer: ConditionsAnswer) -> list[Finding]:
        r, limit = self.request, self.limits.prep_to_layer_min_max
        move = "Prepare the steel again before the first layer."
        name = "Time from preparation to the first layer"
        until: datetime | None = r.first_layer_at or r.now
        if r.prepared_at is None or until is None:
            if r.first_layer_at is not None and r.prepared_at is None:
                raise Missing("prepared_at", say("conditions.first_layer_without_prepared"))
            if r.prepared_at is not None:
                raise Missing("now", say("conditions.prepared_without_end"))
            if limit is None:
                return []
            return [judge("prep_to_first_layer", None, limit=limit, sense="at_most", unit="min", next_move=move,
                          source=self.source("prep_to_layer_min_max"), name=name)]
        minutes = (until - r.prepared_at).total_seconds() / 60.0
        if minutes < 0:
            which = "first_layer_at" if r.first_layer_at is not None else "now"
            raise Contradiction(which, say("conditions.time_before_prepared", key=which))
        answer.prep_minutes = minutes
        answer.notes.append("Any rust bloom ends the clock at once, whatever it shows.")
        if limit is None:
            answer.notes.append(
                f"No limit for the time since preparation was given; one published text asks for 4 h "
                f"({cite('small_repair_procedure')})."
            )
            return []
        answer.prep_minutes_left = limit - minutes
        return [judge("prep_to_first_layer", minutes, limit=limit, sense="at_most", unit="min", next_move=move,
                      source=self.source("prep_to_layer_min_max"), name=name)]

    # --- the prepared surface -----------------------------------------------------------------------------------------
    def salts(self, answer: ConditionsAnswer) -> list[Finding]:
        test, limit = self.request.salts, self.limits.salts_mg_m2_max
        move = "Wash with clean water, dry, and test again."
        if test is None:
            if limit is None:
                return []
            return [judge("soluble_salts", None, limit=limit, sense="at_most", unit="mg/m²", next_move=move,
                          source=self.source("salts_mg_m2_max"))]
        if test.volume_ml is None:
            return self._stated(test.stated_mg_m2 or 0.0, answer, move)
        held = salts(test.rise(), test.volume_ml, test.area_mm2, test.expressed_as)
        answer.salts_mg_m2, answer.salts_factor = held.mg_m2, held.factor
        answer.notes.append(
            f"Salts as {held.species.replace('_', ' ')}: {held.factor:.3g} mg/m² for each µS/cm at "
            f"{test.volume_ml:g} ml on {test.area_mm2:g} mm² ({cite(SOURCE[held.species])})."
        )
        fault = None
        if test.stated_mg_m2 is not None:
            fault = check_stated(test.stated_mg_m2, test.rise(), test.volume_ml, test.area_mm2, test.expressed_as)
        if limit is None:
            answer.notes.append("No limit for salts was given; they were not judged.")
            if fault is None:
                return []
            return [Finding(
                rule="soluble_salts_stated", value=test.stated_mg_m2, limit=held.mg_m2, sense="at_most", unit="mg/m²",
                as_written="indeterminate", verdict="indeterminate", because=fault,
                next_move="Find out how much water was used, and state the result again.",
                source=cite(SOURCE[held.species]),
            )]
        found = judge("soluble_salts", held.mg_m2, limit=limit, sense="at_most", unit="mg/m²", next_move=move,
                      source=self.source("salts_mg_m2_max"))
        if fault is not None:
            verdict: Verdict = "does_not_conform" if found.as_written == "does_not_conform" else "indeterminate"
            found = found.model_copy(update={
                "verdict": verdict, "because": f"{found.because} {fault}",
                "next_move": f"Find out how much water was used. {move}",
            })
        return [found]

    def _stated(self, stated_mg_m2: float, answer: ConditionsAnswer, move: str) -> list[Finding]:
        """A result without water and conductivity: it conforms only if it would with the wrong factor as well."""
        limit = self.limits.salts_mg_m2_max
        answer.salts_mg_m2 = stated_mg_m2
        unknown = "Water and conductivity were not given, so the factor of 3 ml may stand where 15 ml belongs."
        if limit is None:
            answer.notes.append(f"No limit for salts was given; they were not judged. {unknown}")
            return []
        found = judge("soluble_salts", stated_mg_m2, limit=limit, sense="at_most", unit="mg/m²", next_move=move,
                      source=self.source("salts_mg_m2_max"))
        if found.verdict == "conforms" and 5 * stated_mg_m2 > limit:
            found = found.model_copy(update={
                "verdict": "indeterminate", "because": f"{found.because} {unknown} It could be five times as much.",
                "next_move": "Find out how much water was used, or test again.",
            })
        return [found]

    def profile(self, answer: ConditionsAnswer) -> list[Finding]:
        readings, low, high = self.request.profile_um, self.limits.profile_um_min, self.limits.profile_um_max
        mean = None
        if readings is not None:
            if not readings:
                raise Missing("profile_um", say("conditions.profile_empty"))
            limits = [limit for limit in (low, high) if limit is not None]
            if limits and min(limits) >= UM_MIN and 0 < min(readings) <= max(readings) < MIL_MAX:
                raise OutOfRange(
                    "profile_um",
                    say("conditions.profile_looks_like_mil", lowest=shown(min(readings)),
                        highest=shown(max(readings)), limit_um=min(limits)),
                )
            mean = sum(readings) / len(readings)
            answer.profile_mean_um = mean
            if len(readings) < 3:
                answer.notes.append(f"{len(readings)} profile reading(s): too few to speak for the area "
                                    f"({cite('astm_d4417')}).")
        found = []
        if low is not None:
            found.append(judge("profile_min", mean, limit=low, sense="at_least", unit="µm", name="Mean profile",
                               next_move="Roughen again, without polishing.", source=self.source("profile_um_min")))
            if readings and min(readings) < low <= (mean or 0):
                answer.notes.append(f"The lowest profile reading, {min(readings):g} µm, is below {low:g} µm though the "
                                    "mean is not.")
        if high is not None:
            found.append(judge("profile_max", mean, limit=high, sense="at_most", unit="µm", name="Mean profile",
                               next_move="Ask the engineer: peaks may stand out of the first layer.",
                               source=self.source("profile_um_max")))
        if readings and low is None and high is None:
            answer.notes.append("No limit for the profile was given; it was not judged.")
        return found

    def dust(self) -> list[Finding]:
        test = self.request.dust
        found = []
        for rule, key, value in (
            ("dust_rating", "dust_rating_max", None if test is None else test.rating),
            ("dust_size", "dust_size_max", None if test is None else test.size),
        ):
            limit = getattr(self.limits, key)
            if limit is not None:
                found.append(judge(rule, value, limit=limit, sense="at_most", source=self.source(key),
                                   next_move="Blow off with oil-free dry air or vacuum, and press the tape again."))
        return found


def _also_at_worst(found: Finding, at_worst: float, move: str) -> Finding:
    """It conforms when it does with every instrument off by its tolerance in the unkind direction; when it does on the plain
    reading alone, it is too close to call."""
    limit = found.limit or 0.0
    unit = f" {found.unit}" if found.unit else ""
    because = f"{found.because} At worst, with every instrument off by its tolerance, {shown_to(at_worst, limit)}{unit}."
    kept = at_worst >= limit if found.sense == "at_least" else at_worst <= limit
    changed: dict[str, Any] = {"because": because}
    if found.as_written == "conforms" and not kept:
        changed |= {"verdict": "indeterminate",
                    "next_move": f"It holds only if the instruments are right. {move} Or read with better ones."}
    return found.model_copy(update=changed)


def _first_layer_lies_behind(request: ConditionsRequest) -> None:
    now, first = request.now, request.first_layer_at
    if now is not None and first is not None and first > now:
        raise Contradiction(
            "first_layer_at",
            say("conditions.first_layer_after_now", first=instant_text(first), now=instant_text(now)),
        )


def _say_log(request: ConditionsRequest, log: list[Reading], answer: ConditionsAnswer) -> None:
    """What the verdict on one reading leaves out of the log."""
    bad = sum(one.state == "bad" for one in answer.intervals)
    if bad and not request.operations:
        answer.notes.append(
            f"{bad} of {len(answer.intervals)} intervals of the log {'is' if bad == 1 else 'are'} bad. The verdict is about "
            "the air of the reading that counts as now; work done before is judged only when it is named in operations."
        )
    given, last = (request.air_c, request.rh_pct, request.steel_c), log[-1]
    if request.now is None and None not in given and given != (last.air_c, last.rh_pct, last.steel_c):
        answer.notes.append(
            f"The reading given by itself ({given[0]:g} °C, {given[1]:g} %, steel {given[2]:g} °C) is judged; the last of "
            f"the series, {instant_text(last.at)}, is another ({last.air_c:g} °C, {last.rh_pct:g} %, steel "
            f"{last.steel_c:g} °C), and the trend starts from that one. Say which is now."
        )


def _log(request: ConditionsRequest) -> list[Reading] | None:
    """The series in order of time; None when there is none."""
    if request.series is None:
        if request.operations:
            raise Missing("series", say("conditions.operations_without_series"))
        return None
    if not request.series:
        raise Missing("series", say("conditions.series_empty"))
    if len(request.series) > LOG_MAX:
        raise Contradiction("series", say("conditions.series_too_long", n=len(request.series), most=LOG_MAX))
    log = sorted((Reading(r.at, r.air_c, r.rh_pct, r.steel_c) for r in request.series), key=lambda r: r.at)
    for a, b in pairwise(log):
        if a.at == b.at:
            raise Contradiction("series", say("conditions.two_readings_at_once", at=a.at.isoformat()))
    return log


def _current(request: ConditionsRequest, log: list[Reading] | None) -> Reading | None:
    """The reading that is judged: the one given by itself, else the last of the series."""
    single = {"air_c": request.air_c, "rh_pct": request.rh_pct, "steel_c": request.steel_c}
    missing = [key for key, value in single.items() if value is None]
    if len(missing) == 3:
        return log[-1] if log else None
    if missing:
        raise Missing(missing[0], say("conditions.dew_point_value_missing", key=missing[0]))
    moment = request.now or datetime.min
    return Reading(moment, request.air_c or 0.0, request.rh_pct or 0.0, request.steel_c or 0.0)


FORMS = (Form("conditions", request=ConditionsRequest, answer=ConditionsAnswer, work=conditions),)
