"""Takes an entry from a tablet into the ledger: once, in its order, and in a millisecond.

Nothing is judged here. An entry that can be read, by a person who may record its kind, is taken; what the rules make of it
is asked when somebody looks (state.py). Each entry of a batch has its own outcome, so one bad entry stops no other:

    stored      it is on disk
    duplicate   it was there already, the same
    conflict    its id is there with another content; a person must look
    refused     it cannot be used; ``error`` says why

Corrections and voids decide something, so they name the head they were made on, and are refused when it has moved.
"""

from __future__ import annotations

import re
import threading
from collections.abc import Container, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from ...basis.errors import BenchError, Conflict, Contradiction, Missing, NotEnough, OutOfRange, Refused, Unknown, Unreadable
from ...basis.quantity import NotThat, instant_text, read_instant
from ...basis.sentences import Sentence, say
from ...history.register import REASON_MIN, Person, Register
from ...job.judge import Outcome, judge_job
from ...job.kinds import KINDS, SECTIONS, WRITTEN_BY_THE_BENCH, Event, body_of
from ...job.kinds.heat import HeatPlanned
from ...job.rules.changed import bears_on
from ...record.canonical import plain
from ...record.entry import Entry, Said
from ..evidence.keep_job import CLOCK_SLACK_S, note_clock
from ..evidence.ledger_place import files_of
from ..evidence.records import BENCH, body_said, events_in
from . import roles
from .actor import Actor
from .book import Known, job_lock, known, opened, person_of, register_in
from .correctable import why_not_corrected, why_not_voided
from .heat_plan import kept_estimate, with_trial
from .part_place import fits_the_part, stays_in_place
from .state import state
from .which_repair import names_its_repair

AHEAD = timedelta(minutes=5)  # how far a tablet's clock may run ahead; own estimate
BATCH_MAX = 1000
TRIES = 20
_OWN_IDS = re.compile(r"(?:person|instrument|lot|judged|issued)-")
_CLOCK_TOLD: dict[str, datetime] = {}
_CLOCK_LOCK = threading.Lock()


class HeadMoved(Conflict):
    """The job has moved on since the author looked at it; ``changed`` says by what."""

    def __init__(self, field: str, message: Sentence, changed: list[dict[str, Any]]) -> None:
        super().__init__(field, message)
        self.changed = changed


def enter(data: Path, actor: Actor, job: str, entries: Sequence[Any], *, now: datetime) -> list[dict[str, Any]]:
    """Take additive entries.

    Parameters
    ----------
    entries : list of dict
        ``{"id", "kind", "at", "body"}``, in the order in which they were made.

    Returns
    -------
    list of dict
        For each: ``id``, ``outcome``, ``no`` (its number in the job, or None), ``error`` (kind, field, message, or None)
        and ``warning`` (a sentence, or None): it is stored, and the rules will hold the job for it.

    Raises
    ------
    Unknown
        No such job.
    Refused
        The person may not record anything, or was disabled.
    NotKept
        The disk did not take it; nothing of what was not answered counts as saved.
    """
    if not isinstance(entries, (list, tuple)) or len(entries) > BATCH_MAX:
        raise Unreadable("entries", say("desk.entries_list", most=BATCH_MAX))
    told = _estimates(data, job, entries)
    with job_lock(data, job), opened(data) as ledger:
        _clock(ledger, data, now)
        for _ in range(TRIES):
            held = known(ledger, data, job)
            book = register_in(ledger, data)
            person = person_of(book, actor)
            roles.check(person.role, "enter")
            try:
                return _take(ledger, data, held, book, person, entries, now, told=told)
            except _LookAgain:
                continue
    raise Conflict("ledger", say("desk.job_busy"))


def damage(data: Path, actor: Actor, job: str, asked: dict[str, Any], *, now: datetime) -> dict[str, Any]:
    """Measure damage on a photo that is kept already, and enter it.

    Parameters
    ----------
    asked : dict
        ``id``, ``at``, ``damage`` (its name on the part), ``stage``, ``photo_sha256``, ``outline`` and ``card`` as the survey
        room takes them, ``x`` and ``y`` of its centre on the part in mm, or from its ``place``, and of ``damage.outlined``:
        kind, through, pit_depth_mm, photo (the file's own name).

    Returns
    -------
    dict
        As one answer of ``enter``, with ``kind`` (``damage.outlined``, or ``survey.refused`` when the photo would mislead)
        and ``survey``, the room's own answer.
    """
    from .photos import measured

    kind, body, answer = measured(data, asked)
    said = {"id": asked.get("id"), "kind": kind, "at": asked.get("at"), "body": body}
    with job_lock(data, job), opened(data) as ledger:
        for _ in range(TRIES):
            held = known(ledger, data, job)
            book = register_in(ledger, data)
            person = person_of(book, actor)
            roles.check_kind(person.role, "damage.outlined")
            try:
                taken = _take(ledger, data, held, book, person, [said], now, measured=True)[0]
                return taken | {"kind": kind, "survey": answer}
            except _LookAgain:
                continue
    raise Conflict("ledger", say("desk.job_busy"))


def correct(
    data: Path, actor: Actor, job: str, body: dict[str, Any], *, id: str, at: datetime, on_head: str, now: datetime
) -> dict[str, Any]:
    """A value that was wrong when it was written: entry, field, old, new and the reason.

    It is made when it is sent: the bench's clock counts, not ``at``, so nothing is changed behind a signature that was given
    already. By its author, or by an inspector or engineer. What a failing step rests on is corrected by an engineer only, and
    nothing by a person who signed a release of this job.

    Raises
    ------
    HeadMoved
        Somebody has written since ``on_head``; ``changed`` lists it.
    Refused
        Not this person's to correct.
    """
    return _decide(data, actor, job, "entry.corrected", body, id=id, at=at, on_head=on_head, now=now)


def void(
    data: Path, actor: Actor, job: str, body: dict[str, Any], *, id: str, at: datetime, on_head: str, now: datetime
) -> dict[str, Any]:
    """An entry that must not count, with the reason; by the same people as ``correct``."""
    return _decide(data, actor, job, "entry.voided", body, id=id, at=at, on_head=on_head, now=now)


def since_head(ledger: Any, job: str, on_head: str, *, only: Container[int] | None = None) -> HeadMoved:
    """What has changed since a head, as the error that says so; ``only``: the numbers of the entries that matter."""
    entries = list(ledger.record(job).entries)
    after = next((entry.no for entry in entries if entry.digest == on_head), 0)
    changed = [{"no": e.no, "kind": e.kind, "by": e.by, "at": e.at} for e in entries
               if e.no > after and (only is None or e.no in only)]
    last = next((e for e in reversed(entries) if only is None or e.no in only), entries[-1])
    return HeadMoved("on_head", say("desk.job_moved", job=job, n=len(changed), no=last.no, kind=last.kind, by=last.by), changed)


def naming(held: Known, book: Register, people: Sequence[str], tools: Sequence[str], lots: Sequence[str],
           now: datetime) -> list[Said]:
    """The entries by which a job names from the register whom and what it does not name yet."""
    out = []
    for name, wanted, there in (("person", people, held.people), ("instrument", tools, held.instruments),
                                ("lot", lots, held.lots)):
        for one in dict.fromkeys(wanted):
            if one in there:
                continue
            body: Any = {"person": lambda n: book.people[n].named, "instrument": lambda n: book.instruments[n].listed,
                         "lot": lambda n: book.lots[n].received}[name](one)
            out.append(Said(f"{name}-{one}", SECTIONS[name].name, BENCH, now.replace(microsecond=0), plain(body_said(body))))
    return out


def append(
    ledger: Any, held: Known, facts: list[Said], *, now: datetime, signatures: dict[str, dict[str, str]] | None = None
) -> tuple[Entry, ...]:
    """Write onto exactly the head that is known, and know it."""
    stored: tuple[Entry, ...] = ledger.append(held.number, facts, now=now, on_head=held.head, signatures=signatures)
    held.take(entry for entry in stored if entry.no > held.count)
    return stored


# ------------------------------------------------------------------ taking entries


class _LookAgain(Exception):
    """Somebody else wrote to the job in between; look again."""


def _take(
    ledger: Any, data: Path, held: Known, book: Register, person: Person, entries: Sequence[Any], now: datetime, *,
    measured: bool = False, told: Mapping[str, HeatPlanned] | None = None,
) -> list[dict[str, Any]]:
    answers: list[dict[str, Any]] = []
    facts: list[Said] = []
    events: list[Event] = []
    coming: dict[str, int] = {}
    tools: list[str] = []
    lots: list[str] = []
    for given in entries:
        sent = given.get("id") if isinstance(given, dict) else None
        name = sent if isinstance(sent, str) else ""
        answer: dict[str, Any] = {"id": name[:120], "outcome": "refused", "no": None, "error": None, "warning": None}
        answers.append(answer)
        try:
            fact, body = _read(given, person, now, measured)
            if fact.kind == "heat.planned":
                fact = _with_estimate(ledger, held, fact, body, told or {})
            if fact.id in held.ids or fact.id in coming:
                earlier = facts[coming[fact.id]] if fact.id in coming else None
                _replay_or_conflict(ledger, held.number, fact, earlier, answer, now)
                continue
            _still_open(held, person, fact)
            tool, lot = getattr(body, "instrument", None), getattr(body, "lot", None)
            answer["warning"] = _usable(held, book, tool, lot, read_instant(fact.at))
            _file_kept(data, body)
            event = Event(fact.id, fact.kind, person.id, read_instant(fact.at), body)
            names_its_repair(ledger, held, event, events)
            fits_the_part(ledger, held, event)
        except BenchError as fault:
            if fault.kind == "not_kept":
                raise
            answer["error"] = fault.as_json()["error"]
            continue
        coming[fact.id] = len(facts)
        events.append(event)
        facts.append(fact)
        answer["outcome"] = "stored"
        tools += [tool] if tool else []
        lots += [lot] if lot else []
    if facts:
        named = naming(held, book, [person.id], tools, lots, now)
        try:
            stored = append(ledger, held, [*named, *facts], now=now)
        except Conflict as fault:
            if fault.field == "on_head":
                raise _LookAgain from None
            raise
        numbers = {entry.id: entry.no for entry in stored}
        for answer in answers:
            if answer["no"] is None and answer["error"] is None:
                answer["no"] = numbers.get(answer["id"])
    return answers


def _estimates(data: Path, job: str, entries: Sequence[Any]) -> dict[str, HeatPlanned]:
    """The heat plans among entries, by id, with what the model says of them: asked before the job is held by this request."""
    plans = [given for given in entries if isinstance(given, dict) and given.get("kind") == "heat.planned"]
    if not plans:
        return {}
    stands = state(data, job)
    there = {row["id"] for row in stands.events}
    found = {}
    for given in plans:
        name = given.get("id")
        if isinstance(name, str) and name not in there:
            with suppress(BenchError):  # said where the entry is taken
                plan = with_trial(data, body_of("heat.planned", given.get("body")))
                found[name] = kept_estimate(stands.outcome, plan)
    return found


def _with_estimate(ledger: Any, held: Known, fact: Said, body: HeatPlanned, told: Mapping[str, HeatPlanned]) -> Said:
    """The plan with what was said of it: when it was recorded, if it was, else now."""
    if fact.id in held.ids:
        stands = next(entry for entry in ledger.record(held.number).entries if entry.id == fact.id)
        said = {"estimate": stands.body["estimate"]} if "estimate" in stands.body else {}
        return replace(fact, body=fact.body | said)
    return replace(fact, body=plain(body_said(told.get(fact.id, body))))


def _read(given: Any, person: Person, now: datetime, measured: bool) -> tuple[Said, Any]:
    """One entry, read strictly; ``by`` is the person at the device, whatever the sender says."""
    if not isinstance(given, dict):
        raise Unreadable("entry", say("desk.entry_not_object"))
    for key in ("id", "kind", "at", "body"):
        if key not in given:
            raise Missing(key, say("desk.entry_key_missing", key=key))
    for key in given:
        if key not in ("id", "kind", "at", "body"):
            raise Unknown(str(key)[:60], say("desk.entry_key_unknown", key=str(key)[:60]))
    name, kind = given["id"], given["kind"]
    if not isinstance(name, str) or not 1 <= len(name) <= 120 or not name.isprintable() or name != name.strip():
        raise Unreadable("id", say("desk.entry_id", name=str(name)[:60]))
    if _OWN_IDS.match(name):
        raise Unreadable("id", say("desk.id_reserved", name=name[:60]))
    if not isinstance(kind, str) or kind not in KINDS:
        raise Unknown("kind", say("desk.kind_unknown", kind=str(kind)[:60], known=', '.join(roles.ADDING)))
    if kind not in roles.ADDING and not (measured and kind == "survey.refused"):
        raise Refused("kind", say("desk.kind_not_added_here", kind=kind))
    roles.check_kind(person.role, kind)
    try:
        at = read_instant(given["at"])
    except NotThat as bad:
        raise Unreadable("at", bad.message) from None
    if at > now + AHEAD:
        here = instant_text(now.replace(microsecond=0))
        raise OutOfRange("at", say("desk.entry_in_the_future", at=instant_text(at), now=here))
    for key in WRITTEN_BY_THE_BENCH:
        if isinstance(given["body"], dict) and key in given["body"]:
            raise Refused(f"body.{key}", say("job.written_by_the_bench", spot="body", key=key))
    body = body_of(kind, given["body"], where="body")
    if kind == "damage.outlined" and not measured and (body.measured == "photo" or body.survey is not None):
        raise Refused("body.measured", say("desk.outline_measured_here"))
    return Said(name, kind, person.id, instant_text(at), plain(body_said(body))), body


def _replay_or_conflict(ledger: Any, job: str, fact: Said, coming: Said | None, answer: dict[str, Any], now: datetime) -> None:
    """An id that is there already: the same entry, or another one."""
    if coming is not None:
        if coming != fact:
            answer["outcome"] = "conflict"
            raise Conflict("id", say("desk.entry_twice", entry=fact.id))
        answer["outcome"] = "duplicate"
        return
    try:
        (entry,) = ledger.append(job, [fact], now=now)
    except Conflict as fault:
        if fault.field == "id":
            answer["outcome"] = "conflict"
        raise
    answer["outcome"], answer["no"] = "duplicate", entry.no


def _still_open(held: Known, person: Person, fact: Said) -> None:
    if not held.released:
        return
    if not KINDS[fact.kind].after_release:
        raise Refused("job", say("desk.released_entry", job=held.number))
    if person.id not in held.people:
        raise Refused("job", say("desk.released_picture", job=held.number))


def _usable(held: Known, book: Register, tool: str | None, lot: str | None, at: datetime) -> Sentence | None:
    """What is named must be in the register; what is out of date is taken with a warning, since the rules hold the job."""
    said = []
    if tool is not None:
        item = book.instruments.get(tool)
        if item is None:
            raise Unknown("body.instrument", say("desk.instrument_unknown", instrument=tool[:60],
                                                 held=list(book.instruments) or say("desk.none_held")))
        if item.withdrawn_at is not None and item.withdrawn_at <= at:
            raise Refused("body.instrument", say("desk.instrument_withdrawn", instrument=tool, at=item.withdrawn_at,
                                                 because=item.withdrawn_because))
        listed = held.instruments.get(tool, item.listed)
        if not listed.calibrated_on <= at <= listed.calibration_due:
            said.append(say("desk.instrument_out_of_calibration", instrument=tool, at=instant_text(at),
                            since=listed.calibrated_on, until=listed.calibration_due))
    if lot is not None:
        stock = book.lots.get(lot)
        if stock is None:
            raise Unknown("body.lot", say("desk.lot_unknown", lot=lot[:60], held=list(book.lots) or say("desk.none_held")))
        if stock.withdrawn_at is not None and stock.withdrawn_at <= at:
            raise Refused("body.lot", say("desk.lot_withdrawn", lot=lot, at=stock.withdrawn_at,
                                          because=stock.withdrawn_because))
        if held.lots.get(lot, stock.received).expires < at:
            said.append(say("desk.lot_expired", lot=lot, expires=stock.received.expires))
    return say("desk.both", first=said[0], second=said[1]) if len(said) == 2 else said[0] if said else None


def _file_kept(data: Path, body: Any) -> None:
    for field in ("sha256", "photo_sha256"):
        digest = getattr(body, field, None)
        if digest is not None and not files_of(data).has(digest):
            raise Missing(f"body.{field}", say("desk.photo_not_here", digest=digest[:16]))


def _clock(ledger: Any, data: Path, now: datetime) -> None:
    """A clock that stands behind the ledger is an event of its own; told once in ten minutes, not with every entry."""
    if ledger.seconds_behind(now) <= CLOCK_SLACK_S:
        return
    with _CLOCK_LOCK:
        last = _CLOCK_TOLD.get(str(data))
        if last is not None and abs(now - last) < timedelta(minutes=10):
            return
        _CLOCK_TOLD[str(data)] = now
    note_clock(ledger, now)


# ------------------------------------------------------------------ corrections and voids


def _decide(
    data: Path, actor: Actor, job: str, kind: str, raw: Any, *, id: str, at: datetime, on_head: str, now: datetime
) -> dict[str, Any]:
    body = body_of(kind, raw)
    if len(body.because.strip()) < REASON_MIN:
        raise NotEnough("because", say("desk.reason_short", n=len(body.because.strip()), least=REASON_MIN))
    own_id(id)
    at = now.replace(microsecond=now.microsecond // 1000 * 1000)
    with job_lock(data, job), opened(data) as ledger:
        held = known(ledger, data, job)
        book = register_in(ledger, data)
        person = person_of(book, actor)
        roles.check(person.role, "correct_own")
        fact = Said(id, kind, person.id, instant_text(at), plain(body_said(body)))
        if id in held.ids:
            return same(ledger, job, fact, now)
        if on_head != held.head:
            raise since_head(ledger, job, on_head)
        entries = list(ledger.record(job).entries)
        outcome, target = _allowed(entries, held, person, Event(id, kind, person.id, at, body))
        tool, lot = (getattr(target, key, None) for key in ("instrument", "lot"))
        if kind == "entry.corrected":
            _usable(held, book, tool if "instrument" in body.field else None, lot if "lot" in body.field else None, at)
        else:
            tool = lot = None
        tools, lots = [tool] if tool in book.instruments else [], [lot] if lot in book.lots else []
        named = naming(held, book, [person.id], tools, lots, now)
        try:
            stored = append(ledger, held, [*named, fact], now=now)
        except Conflict as fault:
            if fault.field == "on_head":
                raise since_head(ledger, job, on_head) from None
            raise
    return {"id": id, "outcome": "stored", "no": stored[-1].no, "error": None, "warning": None, "head": stored[-1].digest,
            "verdict": outcome.verdict}


def _allowed(entries: list[Entry], held: Known, person: Person, event: Event) -> tuple[Outcome, Any]:
    """Whether this person may correct or void this entry; the job as it would stand, and the entry's new body."""
    name, kind = event.body.entry, event.kind
    word = "corrected" if kind == "entry.corrected" else "voided"
    target = next((entry for entry in entries if entry.id == name), None)
    if target is None:
        raise Unknown("entry", say("desk.entry_unknown", job=held.number, entry=name[:60]))
    stays = why_not_corrected(target.kind) if word == "corrected" else why_not_voided(target.kind)
    if stays:
        raise Refused("entry", stays)
    if word == "corrected" and target.kind == "job.opened" and event.body.field.split(".")[0] == "procedure":
        raise Refused("field", say("acts.procedure_corrected_back"))
    if any(entry.kind == "release.signed" and entry.by == person.id for entry in entries):
        raise Refused("entry", say("desk.signer_changes_nothing", name=person.name))
    if target.by != person.id:
        roles.check(person.role, "correct")
    events = events_in(entries)
    before = judge_job(events, from_record=True, estimates=False)
    after = judge_job([*events, event], from_record=True, estimates=False)
    stays_in_place(before.job, after.job)
    fails = bears_on(before, after, event)
    if fails is not None and person.role not in roles.MAY["correct_failed"]:
        raise Refused("entry", say("desk.entry_holds_job", entry=name, step=fails[0], rule=fails[1].replace('_', ' ')))
    standing = next((e for e in after.job.events if e.id == name), None)
    return after, standing.body if standing else None


def own_id(name: Any) -> None:
    """Refuses an id that cannot be an entry's, or that the bench gives itself."""
    if not isinstance(name, str) or not 1 <= len(name) <= 120 or not name.isprintable() or name != name.strip():
        raise Unreadable("id", say("desk.entry_id", name=str(name)[:60]))
    if _OWN_IDS.match(name):
        raise Unreadable("id", say("desk.id_reserved", name=name[:60]))


def same(ledger: Any, job: str, fact: Said, now: datetime) -> dict[str, Any]:
    """The answer to a deciding entry that was sent twice; Conflict when it says something else now."""
    for entry in ledger.record(job).entries:
        if entry.id == fact.id:
            if (entry.kind, entry.by, entry.body) != (fact.kind, fact.by, fact.body):
                break
            return {"id": fact.id, "outcome": "duplicate", "no": entry.no, "error": None, "warning": None, "head": entry.digest}
    raise Contradiction("id", say("desk.id_taken", entry=fact.id[:60]))


