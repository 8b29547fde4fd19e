"""How do a job's events become a record, and a record a judged job again?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from ...basis.errors import BenchError, RecordBroken
from ...basis.quantity import read_instant
from ...basis.sentences import say
from ...job.judge import Outcome, judge_job
from ...job.kinds import Event, body_of
from ...record.entry import Entry, Said
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
    """A body as the record keeps it. What was given as *not measured* where left out would mean something else stays."""
    said: dict[str, Any] = body.model_dump(mode="json", exclude_none=True)
    for name, field in type(body).model_fields.items():
        if getattr(body, name) is None and field.default is not None and not field.is_required():
            said[name] = None
    return said


def judgement(outcome: Outcome, *, now: datetime, revision: str = "", supersedes: str | None = None) -> Said:
    """The bench's own last event: what the rules made of the job."""
    number = outcome.job.the("job.opened").number
    body: dict[str, Any] = {
        "certificate": f"{number}-{revision}" if revision else number,
        "verdict": outcome.verdict,
        "blocked_by": [f"{block.step}: {block.rule}" for block in outcome.blocked_by],
    }
    if supersedes:
        body["supersedes"] = supersedes
    return Said("judged", "job.judged", BENCH, now, body)


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
                f"event {entry.no}", say("evidence.event_does_say_what_kind", no=entry.no, kind=entry.kind,
                                         message=fault.message)
            ) from None
        out.append(Event(entry.id, entry.kind, entry.by, read_instant(entry.at), body))
    return out


def outcome_of(raw: bytes, *, estimates: bool = True) -> Outcome:
    """The job of a record, judged again from nothing but the record.

    Raises
    ------
    RecordBroken
        The record does not hold, or its last event says another verdict than the rules give.
    """
    return replayed(raw, estimates=estimates)[1]


def replayed(
    raw: bytes, *, estimates: bool = False, persons: Mapping[str, bytes] | None = None
) -> tuple[Verified, Outcome, Event]:
    """The verified record, the job judged again, and the judgement written in it.

    Raises
    ------
    RecordBroken
        See ``outcome_of``.
    """
    held = verify(raw, keys=persons)
    events = events_in(list(held.entries()))
    last = next((event for event in reversed(events) if event.kind != "certificate.issued"), None)
    if last is None or last.kind != "job.judged" or last.by != BENCH:
        raise RecordBroken(f"event {len(events)}", say("evidence.record_does_end_bench_judgement", job=held.job))
    try:
        outcome = judge_job(events, from_record=True, estimates=estimates)
    except BenchError as fault:
        raise RecordBroken("job", say("evidence.job_record_judged", job=held.job, message=fault.message)) from None
    blocked = [f"{block.step}: {block.rule}" for block in outcome.blocked_by]
    if (outcome.verdict, blocked) != (last.body.verdict, last.body.blocked_by):
        raise RecordBroken(
            f"event {len(events)}",
            say("evidence.event_job_judged_says_held", n=len(events), verdict=last.body.verdict,
                value=last.body.blocked_by or 'nothing', verdict_2=outcome.verdict, value_2=blocked or 'nothing'),
        )
    return held, outcome, last


def same_content(one: bytes, other: bytes) -> bool:
    """Whether two records say the same, apart from when it was written down."""

    def said(raw: bytes) -> list[tuple[Any, ...]]:
        return [(e.id, e.kind, e.by, e.at, e.body) for e in verify(raw).entries() if e.kind != "job.judged"]

    return said(one) == said(other)
