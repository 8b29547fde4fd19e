"""Is the permit in force, and may the fire watch leave: what is asked, and what is answered?"""

from __future__ import annotations

from typing import Annotated

from pydantic import model_validator

from ..basis.errors import Contradiction, Missing
from ..basis.finding import Finding, Verdict, judge, worst
from ..basis.procedure import LIMITS
from ..basis.quantity import Instant, Prose, Quantity, Word
from ..basis.question import Answer, Request, refuse
from ..basis.sentences import say
from ..basis.sources import cite
from .cautions import WATCH_DECIDES
from .clocks import later, minutes_between, watch_until

FIRE_WATCH_MIN = 60.0


class Permit(Request):
    """A hot-work permit: from when until when."""

    start: Instant
    end: Instant
    number: Word | None = None

    @model_validator(mode="after")
    def _in_order(self) -> Permit:
        if self.end <= self.start:
            raise refuse("contradiction", say("hazards.permit_ends_before_start"))
        return self


class ClockLimits(Request):
    """The limits of the procedure that these clocks run against. [min]"""

    fire_watch_min: Annotated[float, LIMITS["fire_watch_min"]] = FIRE_WATCH_MIN
    permit_min_max: Annotated[float, LIMITS["permit_min_max"]] | None = None
    gas_retest_min_max: Annotated[float, Quantity("Longest time between gas tests", "min", above=0, at_most=1440)] | None = None


class ClockRequest(Request):
    """The times of hot work, and now. All are given; nothing is read from a clock."""

    now: Instant
    permit: Permit | None = None
    hot_work_ended_at: Instant | None = None
    gas_tested_at: Instant | None = None
    limits: ClockLimits | None = None
    limit_sources: dict[Word, Prose] = {}


class ClockAnswer(Answer):
    """Whether the permit covers the work, and until when the fire watch stays. [min]"""

    verdict: Verdict
    permit_minutes_left: float | None = None
    fire_watch_until: Instant | None = None
    fire_watch_minutes_left: float | None = None
    gas_test_due_at: Instant | None = None
    cautions: list[str] = []
    notes: list[str] = []


def clock(request: ClockRequest) -> ClockAnswer:
    """Permit, fire watch and gas re-test against the times given.

    Raises
    ------
    Missing
        Neither a permit nor the end of hot work was given.
    Contradiction
        The end of hot work, or the gas test, lies after now.
    """
    r = request
    limits = r.limits or ClockLimits()
    if r.permit is None and r.hot_work_ended_at is None:
        raise Missing("permit", say("hazards.clock_start_missing"))
    for key in ("hot_work_ended_at", "gas_tested_at"):
        moment = getattr(r, key)
        if moment is not None and moment > r.now:
            raise Contradiction(key, say("hazards.time_after_now", key=key))
    for key in r.limit_sources:
        if key not in ClockLimits.model_fields:
            raise Contradiction(f"limit_sources.{key}", say("hazards.limit_of_another_room", key=key[:40]))
    answer = ClockAnswer(verdict="not_measured", cautions=[WATCH_DECIDES, "A heat gun is hot work, and so is grinding."])
    found = []
    if r.permit is not None:
        found += _permit(r, r.permit, limits, answer)
    if r.hot_work_ended_at is not None:
        found.append(_watch(r, limits, answer))
    if limits.gas_retest_min_max is not None:
        found.append(_gas(r, limits.gas_retest_min_max, answer))
    answer.findings = found
    answer.verdict = worst(f.verdict for f in found)
    return answer


def _permit(r: ClockRequest, permit: Permit, limits: ClockLimits, answer: ClockAnswer) -> list[Finding]:
    left = minutes_between(r.now, permit.end)
    answer.permit_minutes_left = max(0.0, left)
    source = permit.number or "the permit"
    if r.hot_work_ended_at is not None:
        over = minutes_between(permit.end, r.hot_work_ended_at)
        early = minutes_between(r.hot_work_ended_at, permit.start)
        found = [judge("hot_work_inside_permit", max(0.0, over, early), limit=0, sense="at_most", unit="min", source=source,
                       name="Hot work outside the permit",
                       next_move="Report it: work ran outside its permit. No more heat without a new one.")]
    else:
        found = [
            judge("permit_begun", minutes_between(permit.start, r.now), limit=0, sense="at_least", unit="min",
                  name="Time since the permit began", source=source, next_move="No heat before the permit begins."),
            judge("permit_in_force", left, limit=0, sense="at_least", unit="min", name="Time left on the permit",
                  source=source, next_move="Stop the heat. A new permit needs a new gas test."),
        ]
        if 0 <= left < 30:
            answer.notes.append(f"{left:.0f} min are left on the permit: enough for no new layer?")
    if limits.permit_min_max is not None:
        found.append(judge("permit_length", minutes_between(permit.start, permit.end), limit=limits.permit_min_max,
                           sense="at_most", unit="min", name="The permit", source=_clock_source(r, "permit_min_max"),
                           next_move="Ask for a shorter one."))
    return found


def _watch(r: ClockRequest, limits: ClockLimits, answer: ClockAnswer) -> Finding:
    assert r.hot_work_ended_at is not None
    until = watch_until(r.hot_work_ended_at, limits.fire_watch_min)
    watched = minutes_between(r.hot_work_ended_at, r.now)
    answer.fire_watch_until = until
    answer.fire_watch_minutes_left = max(0.0, limits.fire_watch_min - watched)
    found = judge("fire_watch", watched, limit=limits.fire_watch_min, sense="at_least", unit="min",
                  name="Time since the last heat", source=_clock_source(r, "fire_watch_min"),
                  next_move=f"Keep watching until {until:%H:%M} UTC, also in the room behind and below.")
    if found.verdict == "conforms":
        return found.model_copy(update={"next_move": "Look once more, feel the neighbours with a contact thermometer, "
                                                     "and write who watched."})
    return found


def _gas(r: ClockRequest, limit: float, answer: ClockAnswer) -> Finding:
    age = None
    if r.gas_tested_at is not None:
        age = minutes_between(r.gas_tested_at, r.now)
        answer.gas_test_due_at = later(r.gas_tested_at, limit)
    if r.hot_work_ended_at is not None and r.gas_tested_at is not None:
        age = max(0.0, minutes_between(r.gas_tested_at, r.hot_work_ended_at))
    return judge("gas_test_age", age, limit=limit, sense="at_most", unit="min", name="Age of the gas test",
                 source=_clock_source(r, "gas_retest_min_max"), next_move="Stop the heat and test the air again.")


def _clock_source(r: ClockRequest, key: str) -> str:
    if key in r.limit_sources:
        return r.limit_sources[key]
    if r.limits is not None and key in r.limits.model_fields_set:
        return "the request"
    return f"default, your procedure sets none: {cite('nfpa_51b')}; 30 min in {cite('ifc_2018')}"
