"""Turns a job's events into a record, and a record back into a judged job."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from ...basis.errors import BenchError, RecordBroken
from ...basis.quantity import read_instant
from ...basis.sentences import say
from ...job import edition
from ...job.judge import Outcome, judge_job
from ...job.kinds import Event, body_of
from ...record.entry import Entry, Said
from ...record.replay import rules_edition
from ...record.verify import Verified, verify
from ...record.write import write

BENCH = "bench"  # what the bench itself writes down, as no person does


@dataclass(frozen=True)
class Record:
    """A record as written: its bytes, digests, how many events, when, and the certificate it speaks of."""

    raw: bytes
    digest: str
    head: str
    count: int
    issued_at: datetime
    certificate: str


def facts_of(events: Sequence[Event]) -> list[Said]:
    """The events as the record keeps them: every value that was given, nothing that was not."""
    return [Said(event.id, event.kind, event.by, event.at, body_said(event.body)) for event in events]


def body_said(body: Any) -> dict[str, Any]:
    """A body as the record keeps it. What was given as *not measured* where left out would mean something else stays, and so
    does a value that is corrected from or to *not measured*."""
    said: dict[str, Any] = body.model_dump(mode="json", exclude_none=True)
    for name, field in type(body).model_fields.items():
        if getattr(body, name) is None and (field.is_required() or field.default is not None):
            said[name] = None
    return said


def judgement(outcome: Outcome, *, now: datetime, revision: str = "", supersedes: str | None = None) -> Said:
    """The bench's own last event: what the rules made of the job."""
    number = outcome.job.the("job.opened").number
    body: dict[str, Any] = {
        "certificate": f"{number}-{revision}" if revision else number,
        "verdict": outcome.verdict,
        "blocked_by": [f"{block.step}: {block.rule}" for block in outcome.blocked_by],
        "rules": edition.RULES_EDITION,
    }
    if outcome.outcome != outcome.verdict:
        body["outcome"] = outcome.outcome
    if supersedes:
        body["supersedes"] = supersedes
    return Said("judged", "job.judged", BENCH, now, body)


def next_judgement(judged: Sequence[Entry], outcome: Outcome, *, now: datetime) -> Said:
    """The bench's word after those it has given: what replaces a released page is its next revision."""
    released = [entry for entry in judged if entry.body["verdict"] == "released"]
    made = judgement(outcome, now=now, revision=letters(len(released)),
                     supersedes=released[-1].body["certificate"] if released else None)
    return replace(made, id=f"judged-{len(judged) + 1}")


def letters(number: int) -> str:
    """A, B, … Z, AA, AB, …: the revision after so many released pages; nothing before the first.

    >>> letters(0), letters(2), letters(27)
    ('', 'B', 'AA')
    """
    out = ""
    while number > 0:
        number, rest = divmod(number - 1, 26)
        out = chr(ord("A") + rest) + out
    return out


def record_of(
    events: Sequence[Event], outcome: Outcome, *, now: datetime, revision: str = "", supersedes: str | None = None
) -> Record:
    """The record of a judged job, written down at ``now``."""
    last = judgement(outcome, now=now, revision=revision, supersedes=supersedes)
    made = write(outcome.job.the("job.opened").number, [*facts_of(events), last], now=now)
    return Record(made.raw, made.digest, made.head, len(made.entries), now, str(last.body["certificate"]))


def events_in(entries: Sequence[Entry]) -> list[Event]:
    """The events of a record, read strictly.

    Raises
    ------
    RecordBroken
        An event whose body is not what its kind must have; its number and kind are named.
    """
    out = []
    for entry in entries:
        try:
            body = body_of(entry.kind, entry.body, from_record=True)
        except BenchError as fault:
            raise RecordBroken(
                f"event {entry.no}", say("evidence.entry_body_differs", no=entry.no, kind=entry.kind,
                                         why=fault.message)
            ) from None
        out.append(Event(entry.id, entry.kind, entry.by, read_instant(entry.at), body))
    return out


@dataclass(frozen=True)
class Replayed:
    """A record that holds: its bytes, the bench's word in it, and the job judged again; None by rules of another edition."""

    held: Verified
    word: dict[str, Any]
    outcome: Outcome | None

    @property
    def verdict(self) -> str:
        """The word; judged again it is the same one."""
        return str(self.word["verdict"])

    @property
    def said(self) -> str:
        """What was made of the rules, in one sentence."""
        if self.outcome is None:
            return edition.told(edition.judged_by(self.word))
        return f"Judged again by the procedure inside it is what it says: {self.verdict.replace('_', ' ')}."

    def as_plain(self) -> dict[str, Any]:
        """As ``job.json``; without steps when it is not judged again."""
        if self.outcome is not None:
            return self.outcome.as_plain()
        blocked = [dict(zip(("step", "rule"), one.split(": ", 1), strict=False)) for one in self.word.get("blocked_by", [])]
        return {"job": self.held.job, "verdict": self.verdict,
                "outcome": self.word.get("outcome", self.verdict), "because": self.said, "blocked_by": blocked, "missing": [],
                "steps": {}}


def replayed(raw: bytes, *, estimates: bool = False, persons: Mapping[str, bytes] | None = None) -> Replayed:
    """The verified record, and the job of it judged again from nothing but the record.

    A record of an earlier or later edition of the rules is not judged again (job/edition.py); everything else is checked, of a
    later one without reading what its entries say.

    Raises
    ------
    RecordBroken
        The record does not hold, or its last event says another verdict than the rules give.
    """
    held = verify(raw, keys=persons)
    entries = list(held.entries())
    last = word_in(entries)
    if last is None or any(entry.kind != "certificate.issued" for entry in entries[last.no:]):
        raise RecordBroken(f"event {len(entries)}", say("evidence.record_without_judgement", job=held.job))
    made_by = rules_edition(entries)
    events = events_in(entries) if made_by <= edition.RULES_EDITION else []
    if not edition.judged_here(made_by):
        return Replayed(held, _word(last), None)
    try:
        outcome = judge_job(events, from_record=True, estimates=estimates)
    except BenchError as fault:
        raise RecordBroken("job", say("evidence.record_not_judged", job=held.job, why=fault.message)) from None
    if says_now(outcome) != said_by(last):
        raise RecordBroken(
            f"event {last.no}",
            say("evidence.judgement_differs", no=last.no, verdict=said_by(last)[0],
                held_by=said_by(last)[1] or 'nothing', given=outcome.outcome, given_by=says_now(outcome)[1] or 'nothing'),
        )
    return Replayed(held, _word(last), outcome)


def word_in(entries: Sequence[Entry]) -> Entry | None:
    """The bench's newest judgement; None when there is none."""
    return next((entry for entry in reversed(entries) if entry.kind == "job.judged" and entry.by == BENCH), None)


def said_by(word: Entry) -> tuple[str, list[str], int]:
    """The outcome, what holds the job, and the edition of the rules, as a judgement says them."""
    return word.body.get("outcome") or word.body["verdict"], list(word.body.get("blocked_by", [])), edition.judged_by(word.body)


def says_now(outcome: Outcome) -> tuple[str, list[str], int]:
    """The same as the rules of today give them."""
    return outcome.outcome, [f"{block.step}: {block.rule}" for block in outcome.blocked_by], edition.RULES_EDITION


def released_by_other(entries: Sequence[Entry]) -> Entry | None:
    """The judgement by which a job stands released under another edition of the rules, with nothing after it but pictures.

    Such a job is closed: nobody judges it again, neither a page nor a door. Whatever else comes in opens it, and an open job is
    judged by the rules of today.
    """
    word = word_in(entries)
    if word is None or word.body["verdict"] != "released" or edition.judged_here(edition.judged_by(word.body)):
        return None
    return None if any(entry.kind not in ("picture.taken", "certificate.issued") for entry in entries[word.no:]) else word


def as_it_stands(entries: Sequence[Entry], *, events: Sequence[Event] | None = None, estimates: bool = False) -> Outcome:
    """The job of entries that somebody looks at: judged by the rules of today, unless it was released by others.

    Then its own word counts. The steps are those of today, for their numbers; what they hold against the job is left out.
    ``events``: the entries as they were read already.
    """
    outcome = judge_job(events_in(entries) if events is None else events, from_record=True, estimates=estimates)
    word = released_by_other(entries)
    if word is None:
        return outcome
    steps = {name: replace(step, blocks=[], not_done=[]) for name, step in outcome.steps.items()}
    return replace(outcome, verdict="released", because=edition.told(edition.judged_by(word.body)), blocked_by=[], steps=steps,
                   missing=[])


def rules_told(entries: Sequence[Entry]) -> str:
    """What whoever looks at a job must know of the rules it is judged by; empty when they have always been those of today."""
    word = released_by_other(entries)
    if word is not None:
        return say("evidence.released_then_numbers_now", told=edition.told(edition.judged_by(word.body)))
    first = edition.judged_by(entries[0].body)
    if edition.judged_here(first):
        return ""
    return say("evidence.opened_then_judged_now", first=first, now=edition.RULES_EDITION)


def _word(entry: Entry) -> dict[str, Any]:
    """The body of a judgement, as far as every edition has it.

    Raises
    ------
    RecordBroken
        It is not what a judgement holds.
    """
    body = entry.body
    blocked = body.get("blocked_by", [])
    if not (isinstance(body.get("verdict"), str) and isinstance(body.get("certificate"), str) and isinstance(blocked, list)
            and all(isinstance(one, str) for one in blocked)):
        raise RecordBroken(f"event {entry.no}", say("evidence.judgement_unreadable", no=entry.no))
    return body


def same_content(one: bytes, other: bytes) -> bool:
    """Whether two records say the same by the same rules, apart from when it was written down."""

    def said(raw: bytes) -> list[tuple[Any, ...]]:
        return [(e.id, e.kind, e.by, e.at, e.body) if e.kind != "job.judged" else (e.kind, edition.judged_by(e.body))
                for e in verify(raw).entries()]

    return said(one) == said(other)
