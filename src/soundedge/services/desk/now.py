"""What is to be done now, by this person? One task and one sentence, out of the judged job and the gates before its acts.

    before heat, gas not read, for a technician      read the gas meter, because heat may not begin yet
    the same, for the inspector                      nothing of theirs: the job waits for a technician, since 08:41
    film read and conforming, for the inspector      sign the film

The order: what does not conform and they can change; a yes of theirs that ends within a quarter of an hour; the next fact that
is missing before the next act of theirs; a signature of theirs; else whom the job waits for. Nothing is decided here: every
answer is that of ``job may`` (job/acts) and of the job's own steps.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, Literal

from ...basis.sentences import Sentence, say
from ...job.acts.may import May
from ...job.acts.of_steps import point
from ...job.acts.point import Act, Point
from .now_tasks import ACTS, FACTS, GATES, PHASE_OF, PHASES, SIGNS, TASKS, WORK, Task
from .roles import may_enter
from .state import State

SOON = timedelta(minutes=15)
Word = Literal["yes", "look", "not_yet", "no", "waits", "done"]

# Who holds what an outsider says: the technician types what gas tester, site safety, owner and laboratory have read or written.
_OUTSIDE = ("technician", "gas_tester", "site_safety", "owner", "laboratory", "store")
_ROLE = {name: "technician" for name in _OUTSIDE} | {name: name for name in ("inspector", "engineer", "manager")}
_SIGNERS = ("inspector", "manager")


@dataclass(frozen=True)
class Condition:
    """One thing an act stands on, and whether it is in place: ``conforms``, ``not_measured``, or ``does_not_conform``."""

    key: str
    word: str
    because: str = ""


@dataclass(frozen=True)
class Now:
    """What stands on top of the sheet.

    Parameters
    ----------
    task : Task
        What is to be done, and by which entry; that of ``waits`` or ``done`` when there is nothing for this person.
    word : str
        ``yes``, ``look`` (yes, and look at …), ``not_yet``, ``no`` (measured and bad), ``waits``, ``done``.
    by : str
        The role for which the job waits.
    say : Sentence
        The answer, the first heading of the page; ``question`` stands above it, ``why`` below.
    until : datetime, optional
        When a yes ends, and ``ends`` because of what.
    fixed : dict
        What the entry says without being asked.
    """

    task: Task
    word: Word
    by: str
    say: Sentence
    question: Sentence
    phase: str
    since: datetime
    why: str = ""
    what: str = ""
    until: datetime | None = None
    ends: str = ""
    act: Act | None = None
    repair: str | None = None
    hold_point: str | None = None
    conditions: tuple[Condition, ...] = ()
    fixed: dict[str, Any] = field(default_factory=dict)

    @property
    def yours(self) -> bool:
        """Whether this person has something to do."""
        return self.word not in ("waits", "done")

    @property
    def in_place(self) -> int:
        """How many conditions are in place."""
        return sum(one.word == "conforms" for one in self.conditions)

    def as_plain(self) -> dict[str, Any]:
        """Plain values for the API."""
        return {
            "task": self.task.name, "kind": self.task.kind, "for": self.by, "yours": self.yours, "word": self.word,
            "phase": self.phase, "say": self.say, "question": self.question, "why": self.why, "what": self.what,
            "until": self.until.isoformat() if self.until else None, "since": self.since.isoformat(),
            "act": self.act.act if self.act else None, "repair": self.repair, "hold_point": self.hold_point,
            "conditions": [{"key": one.key, "word": one.word} for one in self.conditions],
        }


def now_for(held: State, may: May, role: str, *, signs: Mapping[tuple[str, str], bool] | None = None) -> Now:
    """The task of this role.

    Parameters
    ----------
    signs : mapping, optional
        Hold point (or ``release``) and letter of the repair → whether this very person may sign it; by role when left out.
    """
    since = max(event.at for event in held.outcome.job.events)
    if held.verdict == "released" and may.next is None:
        return _plain("done", "done", "", since, say("now.released"))
    chosen = _first(_offered(held, may, role, signs or {}))
    if chosen is not None:
        return _made(chosen, since)
    if may.next is None:
        return _plain("done", "done", "", since, say("now.nothing"))
    return _waiting(held, may, since)


def gates_of(may: May) -> dict[str, dict[str, Any]]:
    """Every act still to come: its word, its end, and what its yes stands on, for a device that may only take a yes away."""
    found = {}
    for act in may.acts:
        name = "-".join(one for one in (act.act, act.zone or act.hold_point, act.repair) if one)
        until = act.until if act.answer != "no" else None
        found[name] = {
            "word": word_of(act), "until": until.at.isoformat() if until else None, "because": until.because if until else "",
            "first": act.first.fact if act.first else None,
            "conditions": [{"key": one.key, "word": one.word} for one in conditions_of(act)],
        }
    return found


def word_of(act: Act) -> Word:
    """Yes; yes, and look at …; not yet (missing, old or dead); no (a fact is bad)."""
    if act.answer == "go":
        return "yes"
    if act.answer == "go_with_warnings":
        return "look"
    assert act.first is not None
    return "no" if act.first.state == "failing" else "not_yet"


def conditions_of(act: Act) -> tuple[Condition, ...]:
    """What the act stands on, in the order of the trade, each in place or not; an open fact that is no usual one comes last."""
    open_ = [one for one in act.points if one.weight == "blocks"]
    found, named = [], set()
    for key, facts in GATES.get(act.act, {}).items():
        bad = [one for one in open_ if one.fact in facts or one.fact.startswith(tuple(f"{fact}_" for fact in facts))]
        named |= {one.fact for one in bad}
        found.append(_condition(key, bad))
    found += [_condition(one.fact, [one]) for one in {one.fact: one for one in open_ if one.fact not in named}.values()]
    return tuple(found)


def _condition(key: str, bad: list[Point]) -> Condition:
    if not bad:
        return Condition(key, "conforms")
    return Condition(key, "does_not_conform" if any(one.state == "failing" for one in bad) else "not_measured", bad[0].because)


# ------------------------------------------------------------------ what is offered, and which of it is first


@dataclass(frozen=True)
class _Offer:
    rank: int
    task: Task
    act: Act | None
    point: Point | None
    role: str
    fixed: dict[str, Any] = field(default_factory=dict)


def _first(offers: Iterable[_Offer]) -> _Offer | None:
    return min(offers, key=lambda one: one.rank, default=None)


def _offered(held: State, may: May, role: str, signs: Mapping[tuple[str, str], bool]) -> Iterable[_Offer]:
    acts = [act for act in may.acts if not _done_already(held, act)]
    owed = _owed(held, acts)
    if owed is not None:
        if role == owed.role:
            yield owed
        return
    several = len({act.repair for act in acts if act.repair}) > 1
    due = may.next if may.next in acts else next(iter(acts), None)
    for n, act in enumerate(acts):
        if act is not due and (act.act not in WORK.get(role, ()) or _later(acts[:n], role)):
            continue
        said = _said(held, act, ACTS[act.act], several)
        if act.act in ("sign", "release"):
            if act.answer != "no" and _signs(act, role, signs) and not _too_early(act, acts):
                yield _Offer(4, SIGNS[act.hold_point or "release"], act, act.first, role)
                if act.hold_point in ("disposition", "surface"):
                    continue  # both are of the prepared steel; what comes after another signature waits for it
                return
        elif act.answer != "no" and act.act in WORK.get(role, ()):
            soon = act.until is not None and act.until.at - may.at <= SOON
            yield _Offer(2 if soon else 3, ACTS[act.act], act, act.first, role, said)
            return
        for one in act.points:
            task = task_of(one, act)
            if one.weight == "blocks" and _can(one, task, role) and not _too_early(act, acts):
                rank = 1 if one.state == "failing" and act is due else 3
                yield _Offer(rank, task, act, one, role, _said(held, act, task, several))
                if act.act not in ("sign", "release"):
                    return
                break


def _can(one: Point, task: Task, role: str) -> bool:
    """Whether the one move of an open point is this role's, and by its entry; a signature has an act of its own."""
    if whose(one, task) != role or one.fact.startswith("hold_point_"):
        return False
    return not task.kind or task.kind in may_enter(role)


def whose(one: Point, task: Task) -> str:
    """The role whose move it is: that of the task where it is always the same, else that of the point."""
    return task.by or _ROLE.get(one.by, "technician")


def _signs(act: Act, role: str, signs: Mapping[tuple[str, str], bool]) -> bool:
    return role in _SIGNERS and signs.get((act.hold_point or "release", act.repair or ""), role == "inspector")


def _later(before: list[Act], role: str) -> bool:
    """Whether somebody else's work comes first: nobody checks the gauge for a film that is not laid."""
    return role != "technician" and any(act.act in WORK["technician"] for act in before)


def _too_early(act: Act, acts: list[Act]) -> bool:
    """Damage as found is not signed while it is still to be ground back: the signature is of it as prepared."""
    return act.act == "sign" and any(one.act == "grind" for one in acts)


def _done_already(held: State, act: Act) -> bool:
    """Heat that is on is not switched on again; the layer is next."""
    if act.act != "heat_on":
        return False
    on, off = held.outcome.job.last("heat.started"), held.outcome.job.of("heat.paused", "hot_work.ended")
    return on is not None and (not off or off[-1].at < on.at)


def _owed(held: State, acts: list[Act]) -> _Offer | None:
    """After the last layer: the end of hot work and the heat log, which no gate asks for before the release."""
    if any(act.act in ("grind", "heat_on", "first_layer", "restart", "next_layer") for act in acts):
        return None
    for name, rule in (("hazards", "fire_watch"), ("heat", "heat_log")):
        step = held.outcome.steps.get(name)
        for block in step.blocks if step is not None else ():
            if block.rule == rule and block.absent and step is not None:
                return _Offer(3, TASKS[FACTS[rule]], None, point(step, block, "", "P", by="technician"), "technician")
    return None


def task_of(one: Point, act: Act) -> Task:
    """The entry that answers an open point; the act's own page where no single entry does."""
    if one.verb == "ask_engineer":
        return TASKS["decide"]
    if one.fact.startswith("hold_point_"):
        return SIGNS[one.fact.removeprefix("hold_point_")]
    return TASKS[FACTS.get(one.fact, _PAGE_OF.get(act.act, "elsewhere"))]


_PAGE_OF = {"open_part": "open_part", "measure_film": "film", "spark_on": "spark"}


def _said(held: State, act: Act, task: Task, several: bool) -> dict[str, Any]:
    """What an entry says without being asked: the repair where there are several, and the number of the layer."""
    said: dict[str, Any] = {}
    if act.repair and several and task.of_repair:
        said["repair"] = act.repair
    if task.kind == "layer.fused":
        said["number"] = 1 + max((event.body.number for event in held.outcome.job.of("layer.fused")
                                  if event.body.repair in (None, act.repair)), default=0)
    return said


# ------------------------------------------------------------------ in words


def _made(one: _Offer, since: datetime) -> Now:
    act, fact = one.act, one.point
    until = act.until if act is not None and act.answer != "no" else None
    word: Word = "not_yet" if act is None else word_of(act)
    signs = act is not None and one.task.name.startswith("sign_")
    if word == "no" and fact is not None and fact.state != "failing":
        word = "not_yet"  # what this person can do is only missing
    numbered = {"number": one.fixed.get("number", "")}
    sentence = (say("now.say_no", what=one.task.say(**numbered)) if word == "no" else
                say("now.say_not_yet", what=one.task.say(**numbered)) if word == "not_yet" else
                say("now.say_look", what=one.task.say(**numbered)) if word == "look" else
                say("now.say_yes", what=one.task.say(**numbered)))
    return Now(
        one.task, word, one.role, sentence, _question(act, one.task) if not signs else say("now.you_sign"),
        PHASE_OF.get(one.task.step, "find"), since, why=fact.because if fact else "", what=fact.what if fact else "",
        until=until.at if until else None, ends=until.because if until else "", act=act, repair=act.repair if act else None,
        hold_point=act.hold_point if act else None, conditions=conditions_of(act) if act is not None and not signs else (),
        fixed=one.fixed,
    )


def _question(act: Act | None, task: Task) -> Sentence:
    found = ACTS.get(act.act) if act is not None else None
    return (found or task).question


def _waiting(held: State, may: May, since: datetime) -> Now:
    """Whom the job waits for, and for what."""
    owed = _owed(held, list(may.acts))
    act = may.next
    assert act is not None
    fact = owed.point if owed is not None else next((one for one in act.points if one.weight == "blocks"), None)
    if fact is not None:
        task = owed.task if owed is not None else task_of(fact, act)
        by = whose(fact, task)
    else:
        task = SIGNS[act.hold_point or "release"] if act.act in ("sign", "release") else ACTS[act.act]
        by = next(role for role, acts in WORK.items() if act.act in acts)
    number = _said(held, act, task, False).get("number", "")
    signs = owed is not None or act.act in ("sign", "release")
    return Now(TASKS["waits"], "waits", by, say("now.waits", by=_BY[by], what=task.say(number=number)),
               task.question if owed is not None else _question(act, task), PHASE_OF.get(task.step, "find"), since,
               why=fact.because if fact else "", act=None if owed is not None else act, repair=act.repair,
               hold_point=act.hold_point, conditions=() if signs else conditions_of(act))


_BY = {"technician": say("now.by_technician"), "inspector": say("now.by_inspector"), "engineer": say("now.by_engineer"),
       "manager": say("now.by_manager")}


def _plain(name: str, word: Word, by: str, since: datetime, sentence: Sentence) -> Now:
    return Now(TASKS[name], word, by, sentence, say("now.the_job"), PHASES[-1][0], since)
