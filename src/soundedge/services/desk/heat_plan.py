"""How a page waits for a heat plan, which may take a quarter of a minute.

The question is put to one worker in the background and named by its digest; the page asks again until the answer is
there. The same question asked twice is worked out once. At most ``WAITING_MAX`` wait; answers are kept for a while.

>>> digest({"b": 1, "a": 2}) == digest({"a": 2, "b": 1})
True
"""

from __future__ import annotations

import hashlib
import json
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from cachetools import LRUCache

from ...basis.errors import BenchError, Contradiction, NotEnough, Unknown
from ...basis.sentences import say
from ...job.judge import Outcome
from ...job.kinds.heat import HeatEstimate, HeatPlanned
from ...job.steps.heat import NOT_RECORDED as NOT_RECORDED
from ...job.steps.heat import kept, log_question, question
from ..ask import ask
from ..cache import Cache
from ..heat import plan
from ..heat_trial import as_tried

WORKERS = 1  # the machine in the shop serves people meanwhile
WAITING_MAX = 8
KEPT_MAX = 64
ESTIMATE_WAIT_S = 1.5  # own estimate: the model takes half a second
_SHOWN = Cache(256)
_ESTIMATES = ThreadPoolExecutor(WORKERS, thread_name_prefix="heat-estimate")


def request_of(outcome: Outcome) -> dict[str, Any]:
    """The heat question of this job, with the recorded plan's gun if there is one."""
    last = outcome.job.last("heat.planned")
    return question(outcome.case, last.body if last is not None else None, outcome.steps["disposition"])


def log_request(outcome: Outcome) -> dict[str, Any]:
    """The question about this job's heat log, without its readings."""
    plans = outcome.job.of("heat.planned")
    request = log_question(outcome.case, outcome.job.of("heat.logged"), plans[-1].body if plans else None)
    return {key: value for key, value in request.items() if key != "log"}


def kept_estimate(outcome: Outcome, planned: HeatPlanned) -> HeatPlanned:
    """A plan that is being recorded, with what the model says of it.

    What a page has shown of it lies here already; else it is worked out beside, and waited for ``ESTIMATE_WAIT_S`` at most:
    an entry is never held up for longer. What is not there by then is not recorded.
    """
    asked = question(outcome.case, planned, outcome.steps["disposition"])
    name = digest(asked)
    found = _SHOWN.get(name)
    if found is None:
        try:
            found = _ESTIMATES.submit(_estimate, asked).result(ESTIMATE_WAIT_S)
        except (BenchError, TimeoutError):
            return planned
    return planned.model_copy(update={"estimate": found})


def with_trial(data: Path, planned: HeatPlanned) -> HeatPlanned:
    """A plan whose gun has what the shop's trial of it gave; as it is when that gun was not tried, or at another setting."""
    try:
        gun = as_tried(data, planned.gun.model_dump(exclude_none=True))
    except (Unknown, Contradiction):
        return planned
    return planned.model_copy(update={"gun": type(planned.gun).model_validate(gun)})


def shown(asked: Any, answer: dict[str, Any]) -> None:
    """The heat room has answered a page: whoever takes over that plan records what was shown."""
    if isinstance(asked, dict) and "gun" in asked and "bond_reaches_fusion" in answer:
        _SHOWN.put(digest(asked), kept(answer))


def _estimate(asked: dict[str, Any]) -> HeatEstimate:
    answer = ask("heat", asked)
    shown(asked, answer)
    return kept(answer)


def plan_request(outcome: Outcome) -> dict[str, Any]:
    """The planner's question for this job: the recorded gun, and as many layers as the build-up plans."""
    step = outcome.steps.get("buildup")
    layers = [answer["layers"] for answer in step.answers] if step is not None else []
    return request_of(outcome) | {"plan": {"layers": max(layers)} if layers else {}}


def limits_of(outcome: Outcome) -> tuple[float, float]:
    """Coldest bond that fuses and hottest polymer surface [°C]: the procedure's, else what is held of the polymer."""
    from ...basis.materials import material

    lining = outcome.job.the("lining.identified")
    film = material(lining.polymer, kind="polymer").of_class(lining.melt_class)
    procedure = outcome.case.procedure
    return (
        float(procedure.value("fusion_c_min") or film.value("fusion_c")),
        float(procedure.value("surface_c_max") or film.value("surface_limit_c")),
    )


def digest(request: dict[str, Any]) -> str:
    """The name of a question: the same for the same question, also where a browser writes 12 for 12.0."""
    return hashlib.sha256(json.dumps(_floats(request), sort_keys=True, allow_nan=False).encode()).hexdigest()[:32]


def _floats(node: Any) -> Any:
    if isinstance(node, dict):
        return {key: _floats(value) for key, value in node.items()}
    if isinstance(node, list):
        return [_floats(value) for value in node]
    return float(node) if isinstance(node, int) and not isinstance(node, bool) else node


@dataclass
class Asked:
    """One question and how far it is. ``state``: waiting, working, done or failed."""

    id: str
    state: str
    asked_at: datetime
    began_at: datetime | None = None
    ended_at: datetime | None = None
    answer: dict[str, Any] | None = None
    why: str = ""

    def seconds(self, now: datetime) -> int:
        """Whole seconds of work so far."""
        if self.began_at is None:
            return 0
        return max(0, int(((self.ended_at or now) - self.began_at).total_seconds()))


class Planner:
    """Works out heat plans one after the other; each belongs to a shop and a job."""

    def __init__(self, work: Callable[[dict[str, Any]], dict[str, Any]] = plan) -> None:
        self._work = work
        self._held: LRUCache[tuple[str, str, str], Asked] = LRUCache(KEPT_MAX)
        self._lock = threading.Lock()
        self._pool: ThreadPoolExecutor | None = None

    def start(self, data: Path, job: str, request: dict[str, Any]) -> Asked:
        """Put a question; the same question again is the same one, unless it failed.

        Raises
        ------
        NotEnough
            Too many questions wait already, or there is no gun to plan with.
        """
        if "gun" not in request:
            raise NotEnough("gun", say("desk.plan_missing"))
        name = digest(request)
        key = (str(data), job, name)
        with self._lock:
            held = self._held.get(key)
            if held is not None and held.state != "failed":
                return held
            if sum(one.state in ("waiting", "working") for one in self._held.values()) >= WAITING_MAX:
                raise NotEnough("plan", say("desk.heat_plans_waiting", n=WAITING_MAX))
            asked = Asked(name, "waiting", _now())
            self._held[key] = asked
            if self._pool is None:
                self._pool = ThreadPoolExecutor(WORKERS, thread_name_prefix="heat-plan")
            self._pool.submit(self._run, asked, request)
        return asked

    def look(self, data: Path, job: str, name: str) -> Asked:
        """How far a question is.

        Raises
        ------
        Unknown
            This shop asked no such question for this job, or its answer is no longer kept.
        """
        with self._lock:
            held = self._held.get((str(data), job, name))
        if held is None:
            raise Unknown("plan", say("desk.plan_gone"))
        return held

    def _run(self, asked: Asked, request: dict[str, Any]) -> None:
        asked.began_at, asked.state = _now(), "working"
        try:
            asked.answer = self._work(request)
            asked.ended_at, asked.state = _now(), "done"
        except BenchError as fault:
            asked.why, asked.ended_at, asked.state = fault.message, _now(), "failed"
        except Exception:
            asked.why, asked.ended_at, asked.state = "The plan has a fault of the bench's own.", _now(), "failed"
            raise


def _now() -> datetime:
    return datetime.now(UTC)


PLANNER = Planner()
