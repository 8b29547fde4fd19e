"""What does every step look at? The current job and the procedure it is done under.

What a procedure may *require* beyond the gates that always apply:
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from datetime import datetime
from hashlib import sha256
from typing import Any

from ..basis.errors import Unknown, Unreadable
from ..basis.procedure import Procedure, plain_procedure, read_procedure
from ..basis.question import Form, answer
from ..basis.remembered import remembered
from ..basis.sentences import say
from .fold import Job
from .kinds import HOLD_POINTS
from .rules import prohibited
from .rules.instruction import governed

# name → what it is called when it is missing. A procedure lists the names it needs in `required`.
EVIDENCE = {
    "as_prepared": "the damage outlined again after grinding",
    "edge_ph": "pH at the edge of a part from service",
    "weep_test": "the edge of a part from service looked at after a warm soak",
    "surface_profile": "surface profile",
    "salts": "soluble salts",
    "dust": "dust on the prepared steel",
    "permit": "hot-work permit",
    "vapour_reading": "flammable-gas meter reading before heat",
    "heat_plan": "heat plan",
    "heat_log": "heat log",
    "cooling": "film temperature before measuring",
    "gauge_check_before": "gauge check on a shim before the readings",
    "gauge_check_after": "gauge check on a shim after the readings",
    "coupon": "coupon with a drilled hole at the test voltage",
    "fire_watch": "fire watch after hot work",
    "edge_probed": "the rim probed with a blade",
    "polymer_known": "how the polymer was identified",
    "meter_bump": "the gas meter tried on known gas in that shift",
    "visual": "a look at the finished film",
    "bond": "a bond test on a plate",
}
# These are required even if the procedure does not mention them.
ALWAYS = ("as_prepared", "cooling")
QUESTIONS_HELD = 1_500_000  # letters of questions to the rooms whose answers are remembered: some hundreds of usual ones


@dataclass(frozen=True)
class Case:
    """A job under its procedure: ``procedure`` with the limits that a written instruction replaced, ``printed`` without."""

    job: Job
    procedure: Procedure
    printed: Procedure
    from_record: bool = False
    estimates: bool = True  # whether models that decide nothing are asked as well, for the page
    repair: str | None = None  # the letter of the one repair it is asked about (rules/repairs.py); None: all of them
    members: tuple[str, ...] = ()  # then the letters of all damage in it
    left: tuple[str, ...] = ()  # and of all that is left in place beside it
    whole: Job | None = None  # and the job of the whole part
    answers: dict[tuple[int, str], Any] = field(default_factory=dict, compare=False, repr=False)  # what rooms have said already

    def ask(self, forms: tuple[Form, ...], request: dict[str, Any]) -> Any:
        """A room's answer; from a record, the procedure's numbers are decimal strings and are read as such. A room is pure:
        the same question is asked once, also at another moment of the same job."""
        text = json.dumps(request, sort_keys=True, default=lambda one: {type(one).__name__: str(one)})
        key = id(forms), sha256(text.encode()).hexdigest()  # a long log's question is long
        if key not in self.answers:
            self.answers[key] = _answer(key, len(text), forms, request, self.from_record)
        return self.answers[key]

    @property
    def part_job(self) -> Job:
        """The job with the entries of every repair."""
        return self.whole or self.job

    @property
    def asked_procedure(self) -> dict[str, Any]:
        """Head, rule of decision and limits of the procedure, as every room is asked with them behind every door."""
        return asked(self.procedure)

    def requires(self, what: str) -> bool:
        """Whether the procedure (or the house) needs this evidence."""
        assert what in EVIDENCE, what
        return what in self.required

    @property
    def required(self) -> tuple[str, ...]:
        """All evidence needed, the house's own first."""
        named = self.procedure.choices.get("required", [])
        return (*ALWAYS, *(what for what in named if what not in ALWAYS))

    @property
    def hold_points(self) -> tuple[str, ...]:
        """The hold points of this procedure, in the order of the job; all four when it names none."""
        named = self.procedure.choices.get("hold_points", list(HOLD_POINTS))
        return tuple(point for point in HOLD_POINTS if point in named)

    @property
    def rule_book(self) -> str:
        """How the procedure is cited when no single clause is meant."""
        return ", ".join(part for part in (self.procedure.id, self.procedure.edition) if part)


def asked(procedure: Procedure) -> dict[str, Any]:
    """A procedure as rooms are asked with it: head, rule of decision and limits."""
    plain = plain_procedure(procedure)
    return {key: plain[key] for key in ("procedure", "decision", "limits")}


@remembered(QUESTIONS_HELD, key=lambda key, size, forms, request, from_record: (*key, from_record, size),
            weigh=lambda asked: asked[-1])
def _answer(key: tuple[int, str], size: int, forms: tuple[Form, ...], request: dict[str, Any], from_record: bool) -> Any:
    """The same question is asked once of all jobs as well: most of a job is as it was before its latest entry."""
    return answer(forms, request, from_record=from_record)


def case_of(job: Job, *, from_record: bool = False, estimates: bool = True,
            answers: dict[tuple[int, str], Any] | None = None) -> Case:
    """The case of a job; the procedure is the one written into the job when it was opened. ``answers`` are those of another
    case of the same record, which are not asked again.

    Raises
    ------
    Unknown
        The procedure requires evidence or a hold point by a name that is not known here.
    """
    raw = job.the("job.opened").procedure
    procedure = read_procedure(raw, from_record=from_record)
    for name, known in (("required", EVIDENCE), ("hold_points", HOLD_POINTS)):
        for what in _texts(procedure.choices.get(name, []), name):
            if what not in known:
                raise Unknown(
                    f"procedure.{name}",
                    say("job.procedure_asks_unknown", procedure=procedure.id, key=name, value=what, known=', '.join(known)),
                )
    _shapes(procedure)
    prohibited.check(procedure)
    return Case(job, governed(procedure, job), procedure, from_record, estimates, answers={} if answers is None else answers)


def _shapes(procedure: Procedure) -> None:
    """Check the type of every procedure choice that the steps read themselves."""
    choices = procedure.choices
    _texts(choices.get("polymers", []), "polymers")
    if not isinstance(choices.get("powder", {}), dict):
        raise Unreadable("procedure.powder", say("job.powder_not_a_table"))
    strength = choices.get("strength", [])
    for points in strength.values() if isinstance(strength, dict) else [strength]:
        if not isinstance(points, list) or not all(isinstance(p, dict) and {"kv_mm", "at_um"} <= set(p) for p in points):
            raise Unreadable("procedure.strength", say("job.strength_not_a_list"))


def _texts(given: Any, name: str) -> list[str]:
    if not isinstance(given, list) or not all(isinstance(item, str) for item in given):
        raise Unknown(f"procedure.{name}", say("job.procedure_names_not_a_list", key=name))
    return given


def clock(moment: datetime) -> str:
    """A moment as people in the shop read it: ``08:20 UTC on 4 May 2031``."""
    return f"{moment:%H:%M} UTC on {moment.day} {moment:%B %Y}"


def digits(moment: datetime) -> str:
    """A moment in digits, for a sentence in any language: ``2031-05-04 08:20``."""
    return f"{moment:%Y-%m-%d %H:%M}"


def clock_time(moment: datetime, now: datetime) -> str:
    """A moment as it is said on the same day, ``08:40``; on another day with its date."""
    return f"{moment:%H:%M}" if moment.date() == now.date() else digits(moment)
