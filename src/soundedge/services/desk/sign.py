"""Signing at the desk: a person signs exactly what they have reviewed, and only what the rules would accept from them.

Before anything is signed, the job is judged as it would stand with the signature. When a rule would not accept this person
here and now (their role, qualification for this polymer on this day, own work, own decision, the order), they are refused
with the rule's own sentence, and nothing is written. A release is signed only when it is the last thing missing; the
bench's word and the rules of the record (record/replay.py) are asked at the same time, and both are written together.

The key is the person's own, opened by their password, typed again each time. The signature of a hold point binds what it
covers, that of a release everything up to the head they have seen.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from ...basis.errors import BenchError, Conflict, NotEnough, Refused, Unknown
from ...basis.sentences import say
from ...history.register import REASON_MIN, Person, Register
from ...job.case import Case
from ...job.judge import Outcome, judge_job
from ...job.kinds import HOLD_POINTS, Event, body_of
from ...job.rules.instruction import REPAIR
from ...job.rules.repairs import each_made, own_outlines, repairs_of, unclear
from ...job.rules.waived import evidence
from ...record.canonical import plain
from ...record.covered import covered, fingerprint
from ...record.entry import Entry, Said, placed, recorded_text, statement
from ...record.replay import insist
from ...record.sign import key_id, public_of, sign_event
from ...record.verify import verify
from ...record.write import document
from ..evidence import person_keys
from ..evidence.records import body_said, events_in
from ..evidence.reviewed import Reviewed
from ..evidence.sealing import ready
from . import roles
from .actor import Actor
from .book import Known, job_lock, known, opened, person_of, register_in
from .enter import append, naming, own_id, same, since_head
from .issue import word_of
from .measuring import map_of
from .seen_values import Value, photos_of, values_of
from .shop_place import shop_key_folder
from .state import judged, state_in, unseen_by
from .which_repair import asked_of


@dataclass(frozen=True)
class Point:
    """A hold point, or the release, as somebody who may sign sees it.

    ``repair``: the letter of the one it is of, where there are several. ``status``: done, holds, next or open. ``signed``:
    name, at, meaning. ``covers``: id, kind, at. ``may``: whether this person could sign now; ``why_not`` the sentence when
    they could not. ``fingerprint``: of what it covers; a signature binds it.
    ``values``, ``photos``, ``mapped`` (there is a map of the film): what somebody who may sign sees before the password.
    """

    name: str
    status: str
    signed: list[dict[str, Any]] = field(default_factory=list)
    covers: list[dict[str, Any]] = field(default_factory=list)
    blocks: list[Any] = field(default_factory=list)
    may: bool = False
    why_not: str = ""
    repair: str = ""
    fingerprint: str = ""
    values: list[Value] = field(default_factory=list)
    photos: list[dict[str, Any]] = field(default_factory=list)
    mapped: bool = False


@dataclass(frozen=True)
class DeskReview(Reviewed):
    """The same as at the terminal, with every hold point and the release as this person sees them."""

    points: list[Point]
    release: Point


def review(data: Path, job: str, *, actor: Actor | None = None, now: datetime | None = None) -> DeskReview:
    """What stands, and what this person could sign on it.

    Parameters
    ----------
    actor : Actor, optional
        Who looks; without, nobody may sign.
    now : datetime, optional
        For the qualification of the day; the last entry's moment when left out.
    """
    with opened(data) as ledger:
        held = state_in(ledger, data, job)
        entries = list(ledger.record(job).entries)
        book = register_in(ledger, data)
        person = book.people.get(actor.person) if actor else None
        at = now or datetime.fromisoformat(entries[-1].recorded_at)
        outcome = held.outcome
        wanted = [p for p in outcome.case.hold_points if "hazards" in outcome.steps or p != "surface"]
        of = each_made(outcome.case, outcome.steps["disposition"])
        points = [_point(entries, outcome, person, book, p, at, held.next_step, one, letter)
                  for p in wanted for letter, one in of]
        release = _point(entries, outcome, person, book, "release", at, held.next_step)
    return DeskReview.of(outcome, held.head, len(entries), points=points, release=release)


def sign(
    data: Path, actor: Actor, job: str, *, what: str, meaning: str, passphrase: str, on_head: str, id: str, now: datetime,
    repair: str | None = None, on_covers: str | None = None,
) -> dict[str, Any]:
    """Sign a hold point (``disposition``, ``surface``, ``film``, ``holiday``) of a repair, or the ``release``.

    Parameters
    ----------
    on_head : str
        The fingerprint of the job's last entry when it was looked at. A release covers everything.
    on_covers : str, optional
        The fingerprint of what the hold point covers (``Point.fingerprint``): then only a change of that stands in the way.

    Returns
    -------
    dict
        ``id``, ``outcome`` (stored, or duplicate when it was sent twice), ``no``, ``head``, ``verdict``.

    Raises
    ------
    NotYours, Refused
        A rule does not accept this person's signature here and now; something else holds the job; a wrong password.
    HeadMoved
        What it covers has changed since; ``changed`` lists it.
    """
    if what != "release" and what not in HOLD_POINTS:
        raise Unknown("what", say("desk.hold_point_unknown", point=str(what)[:40], known=', '.join(HOLD_POINTS)))
    kind = "release.signed" if what == "release" else "hold_point.signed"
    body = {"meaning": meaning} if what == "release" else {"hold_point": what, "meaning": meaning} | (
        {"repair": repair} if repair else {})
    return _signed(data, actor, job, kind, body, what=what, passphrase=passphrase, on_head=on_head, id=id, now=now,
                   on_covers=on_covers)


def decide(
    data: Path, actor: Actor, job: str, *, decision: str, because: str, passphrase: str, on_head: str, id: str, now: datetime,
    **written: Any,
) -> dict[str, Any]:
    """The engineer's answer where the procedure does not allow the repair as it stands, signed with their key.

    Parameters
    ----------
    written : Any
        The written instruction of a repair all the same: ``instruction`` (the steps), ``number``, ``limits`` that it replaces,
        ``expires``, ``accepted_by``; what is None is left out. Without number and steps the answer is kept, and lifts nothing.

    Raises
    ------
    NotYours, Refused
        Not an engineer; nothing to decide; a layer was fused before the decision; forbidden; a wrong password.
    """
    body = {"decision": decision, "because": because} | {key: one for key, one in written.items() if one not in (None, "", {})}
    given = because.strip() if isinstance(because, str) else ""
    if len(given) < REASON_MIN:
        raise NotEnough("because", say("desk.reason_short", n=len(given), least=REASON_MIN))
    return _signed(data, actor, job, "escalation.decided", body, what="decision", passphrase=passphrase, on_head=on_head, id=id,
                   now=now)


# ------------------------------------------------------------------ inside


def _signed(
    data: Path, actor: Actor, job: str, kind: str, raw: dict[str, Any], *, what: str, passphrase: str, on_head: str, id: str,
    now: datetime, on_covers: str | None = None,
) -> dict[str, Any]:
    body = body_of(kind, raw)
    own_id(id)
    at = now.replace(microsecond=now.microsecond // 1000 * 1000)
    with opened(data) as ledger:
        person = _asked(ledger, data, actor, what)
    ready(data, job, folder=shop_key_folder(data))
    with job_lock(data, job), opened(data) as ledger:
        held = known(ledger, data, job)
        book = register_in(ledger, data)
        person = person_of(book, actor)
        entries = list(ledger.record(job).entries)
        if what in HOLD_POINTS:
            body = body.model_copy(update={"covers": _covers(entries, id, what, body.repair)})
        fact = Said(id, kind, person.id, at, plain(body_said(body)))
        if id in held.ids:
            return same(ledger, job, fact, now)
        if on_covers is None and on_head != held.head:
            raise since_head(ledger, job, on_head)
        if on_covers is not None and on_covers != body.covers:
            mine = {entry.no for entry in covered(entries, what, body.repair)}
            raise since_head(ledger, job, on_head, only=mine)
        event = Event(id, kind, person.id, at, body)
        outcome = _accepted(entries, judged(data, job, entries), book, event, what, held.released)
        seed = _seed(data, person, passphrase)
        signature = sign_event(seed, job, fact, prev=held.head)
        facts = [fact, *naming(held, book, [person.id], [], [], at)]
        if what == "release":
            facts.append(_word(entries, facts, outcome, held, signature, seed, now))
        try:
            stored = append(ledger, held, facts, now=now, signatures={id: signature})
        except Conflict as fault:
            if fault.field == "on_head":
                raise since_head(ledger, job, on_head) from None
            raise
    return {"id": id, "outcome": "stored", "no": stored[0].no, "head": stored[-1].digest, "verdict": outcome.verdict}


def _covers(entries: list[Entry], id: str, point: str, repair: str | None) -> str:
    """The fingerprint of what a signature covers; one that was sent twice covers what it covered."""
    before = [entry for entry in entries if entry.no < next((one.no for one in entries if one.id == id), len(entries) + 1)]
    return fingerprint(covered(before, point, repair))


def _asked(ledger: Any, data: Path, actor: Actor, what: str) -> Person:
    person = person_of(register_in(ledger, data), actor)
    roles.check(person.role, _action(what))
    return person


def _action(what: str) -> str:
    return {"release": "sign_release", "decision": "decide"}.get(what, "sign_hold_point")


def _seed(data: Path, person: Person, passphrase: str) -> bytes:
    if not person.key:
        raise Refused("password", say("desk.signing_key_missing", name=person.name))
    seed = person_keys.person_seed(person.id, passphrase, folder=shop_key_folder(data))
    if key_id(public_of(seed)) != person.key:
        raise Refused("password", say("desk.signing_key_differs", name=person.name))
    return seed


def _accepted(entries: list[Entry], before: Outcome, book: Register, event: Event, what: str, released: bool) -> Outcome:
    """The job as it would stand; refused in the rule's own sentence when the rules would not take this signature."""
    number = before.job.the("job.opened").number
    if released:
        raise Refused("job", say("desk.released_sign", job=number))
    unseen = unseen_by(entries, before)
    repair = ""
    if what in HOLD_POINTS:
        repair = _repair(before, event)
        if what not in before.case.hold_points:
            raise Refused("what", say("desk.hold_point_not_asked", procedure=before.case.procedure.id, point=what))
        if not _blocks(before, what, repair) and (what, repair) not in unseen:
            raise Refused("what", say("desk.hold_point_signed_already", point=what))
    if what == "decision" and event.body.decision == REPAIR:
        every = [block for step in before.steps.values() for block in step.blocks]
        never = next((block for block in every if block.rule == "prohibited" and block.kind == "rejected"), None)
        if never is not None:
            raise Refused("decision", say("desk.because_then", because=never.because, next_move=never.next_move))
        if not any(block.kind == "engineering_review" for block in every):
            raise Refused("decision", say("desk.no_review_asked", because=before.steps['disposition'].because))
    if what == "release":
        first = next((b for name, step in before.steps.items() if name != "release" for b in step.blocks), None) or next(
            iter(unseen.values()), None)
        if first is not None:
            raise Refused(first.rule, say("desk.release_held", job=number, because=first.because, next_move=first.next_move))
    after = judge_job([*events_in(entries), *_named(before, book, event), event], from_record=True, estimates=False)
    if what == "release" and after.verdict != "released":
        first = after.blocked_by[0]
        if first.step == "release":
            raise Refused(first.rule, say("desk.because_then", because=first.because, next_move=first.next_move))
        raise Refused(first.rule, say("desk.release_held", job=number, because=first.because, next_move=first.next_move))
    if what in HOLD_POINTS:
        against = _blocks(after, what, repair)
        if against:
            raise Refused(against[0].rule, say("desk.because_then", because=against[0].because, next_move=against[0].next_move))
    if what == "decision":
        for block in after.steps["disposition"].blocks:
            if block.rule in ("engineer_decides", "engineer_decides_first"):
                raise Refused(block.rule, say("desk.because_then", because=block.because, next_move=block.next_move))
    return after


def _repair(outcome: Outcome, event: Event) -> str:
    """The letter of the repair that is signed for; none where there is only one. With several it is asked."""
    repairs = repairs_of(outcome.case, outcome.steps["disposition"])
    for fault in unclear(outcome.case, repairs, [event], where="repair"):
        raise fault
    own = next((one.letter for one in repairs if event.body.repair in one.members), "")
    return own if len(each_made(outcome.case, outcome.steps["disposition"])) > 1 else ""


def _blocks(outcome: Outcome, what: str, repair: str) -> list[Any]:
    return [block for block in outcome.steps["hold_points"].blocks
            if block.rule == f"hold_point_{what}" and block.repair in ("", repair)]


def _named(before: Outcome, book: Register, event: Event) -> list[Event]:
    if event.by in before.job.people:
        return []
    return [Event(f"person-{event.by}", "person.named", "bench", event.at, book.people[event.by].named)]


def _word(
    entries: list[Entry], facts: list[Said], outcome: Outcome, held: Known, signature: dict[str, str], seed: bytes,
    now: datetime,
) -> Said:
    """The bench's word of the release; the record as it would be is held against the rules of a release once more."""
    word = word_of(entries, outcome, now=now)
    if word is None:  # an earlier word says the same of what stood before; the release is new
        raise Refused("release", say("desk.released_already", job=held.number))
    made = list(entries)
    for fact in (*facts, word):
        last = made[-1]
        made.append(placed(statement(held.number, fact), no=last.no + 1, prev=last.digest,
                           recorded_at=recorded_text(now, not_before=last.recorded_at),
                           sig=signature if fact.kind == "release.signed" else None))
    try:
        insist(verify(document(made), keys={signature["key"]: public_of(seed)}))
    except BenchError as fault:
        raise Refused("release", say("desk.nothing_signed", why=fault.message)) from None
    return word


def _point(
    entries: list[Entry], outcome: Outcome, person: Person | None, book: Register, what: str, at: datetime, following: str,
    case: Case | None = None, repair: str = "",
) -> Point:
    job = (case or outcome.case).job
    if what == "release":
        signed = job.of("release.signed")
        blocks = list(outcome.steps["release"].blocks)
        covers: list[Event] = []
    else:
        signed = [e for e in job.of("hold_point.signed") if e.body.hold_point == what]
        blocks = _blocks(outcome, what, repair) or [
            block for point, block in unseen_by(entries, outcome).items() if point == (what, repair)]
        covers = own_outlines(case or outcome.case, evidence(job, what))
    step = "release" if what == "release" else "hold_points"
    status = "done" if not blocks else "holds" if any(not b.absent for b in blocks) else "next" if following == step else "open"
    allowed, why = False, ""
    if blocks and person is not None:
        kind = "release.signed" if what == "release" else "hold_point.signed"
        body = {"meaning": "-"} if what == "release" else {"hold_point": what, "meaning": "-"} | (
            {"repair": repair} if repair else {})
        released = any(e.kind == "job.judged" and e.body.get("verdict") == "released" for e in entries[-1:])
        try:
            if person.disabled:
                raise Refused("role", say("desk.person_disabled", name=person.name))
            roles.check(person.role, _action(what))
            if what != "release" and not covers:
                raise Refused("what", say("desk.nothing_to_sign"))
            _accepted(entries, outcome, book, Event("review", kind, person.id, at, body_of(kind, body)), what, released)
            allowed = True
        except BenchError as fault:
            why = fault.message
    shown = allowed and what != "release"
    return Point(
        what, status, [{"name": job.name_of(e.by), "at": _text(e.at), "meaning": e.body.meaning} for e in signed],
        [{"id": e.id, "kind": e.kind, "at": _text(e.at)} for e in covers], blocks, allowed, why, repair,
        "" if what == "release" else fingerprint(covered(entries, what, repair or None)),
        values_of(outcome, what, case or outcome.case, repair) if shown else [],
        photos_of(outcome, case.members if case and case.members else ()) if shown else [],
        shown and what == "film" and map_of(asked_of(outcome, repair) if repair else outcome) is not None,
    )


def _text(moment: datetime) -> str:
    from ...basis.quantity import instant_text

    return instant_text(moment)
