"""Signing a job sheet: a person signs for what they have just reviewed, and for nothing else.

``review`` says what stands: the verdict, what holds the job, how much was corrected, and the digest of the job's last
event. ``sign`` writes the signature on top of exactly that digest, with the person's own key, opened by their passphrase
(typed again at each signing), keeps it in the ledger and adds the entry to the sheet. If anybody has written something
in between, nothing is signed.
"""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path
from typing import Any

from ...basis.errors import Conflict, Contradiction, Unknown
from ...basis.quantity import instant_text
from ...basis.sentences import say
from ...job.judge import Outcome, judge_job, with_estimate
from ...job.kinds import HOLD_POINTS, Event, body_of
from ...job.rules.repairs import repairs_of, unclear
from ...job.typed import events_of
from ...record.sign import sign_event
from ..evidence import person_keys
from ..evidence.keep_job import as_kept, keep, kept_of
from ..evidence.ledger_place import open_ledger
from ..evidence.records import facts_of
from ..evidence.reviewed import Reviewed
from ..evidence.sealing import ready
from ..files import read_text, write_whole
from .contents import read_folder


def review(folder: Path, data: Path, *, now: datetime) -> Reviewed:
    """Keep what is new on the sheet and say what stands.

    Raises
    ------
    BenchError
        The sheet, the ledger or its witnesses do not allow it.
    """
    outcome, head, count = _kept(folder, data, now)
    return Reviewed.of(outcome, head, count)


def sign(
    folder: Path, data: Path, reviewed: Reviewed, *, person: str, passphrase: str, what: str, meaning: str, now: datetime,
    repair: str | None = None,
) -> Event:
    """Sign a hold point or the release on top of what was reviewed.

    Parameters
    ----------
    person : str
        The id of a ``[[person]]`` of the sheet, who has a key of that name (``soundedge key new --person``).
    what : str
        ``disposition``, ``surface``, ``film``, ``holiday`` or ``release``.
    meaning : str
        What the signature means; it is printed.
    repair : str, optional
        The letter of the repair that is signed for, where there are several.

    Returns
    -------
    Event
        As it was kept.

    Raises
    ------
    Conflict
        The job has moved on since it was reviewed. Nothing was signed.
    Refused
        Not this person's passphrase.
    Unknown, Contradiction
        Nobody of that id on the sheet; another hold point than there is; a second release.
    """
    outcome, _, _ = _kept(folder, data, now)
    job = outcome.job
    if person not in job.people:
        raise Unknown("person", say("evidence.person_not_on_sheet", person=person[:40], known=', '.join(sorted(job.people))))
    event = _event(outcome, person, what, meaning, now, repair)
    seed = person_keys.person_seed(person, passphrase)
    fact = facts_of([event])[0]
    with open_ledger(data, make=False) as ledger:
        if ledger.head(reviewed.job) != reviewed.head:
            raise Conflict("head", say("evidence.job_moved_on", job=reviewed.job))
        signature = sign_event(seed, reviewed.job, fact, prev=reviewed.head)
        ledger.append(reviewed.job, [fact], now=now, on_head=reviewed.head, signatures={fact.id: signature})
    _onto_sheet(folder / "job.toml", event)
    return event


def _kept(folder: Path, data: Path, now: datetime) -> tuple[Outcome, str, int]:
    read = read_folder(folder)
    events = events_of(read.sheet)
    outcome = judge_job(events, estimates=False)
    number = outcome.job.the("job.opened").number
    before = kept_of(data, number)
    events, outcome = with_estimate(as_kept(events, before), outcome, kept={entry.id for entry in before})
    ready(data, number)
    record = keep(data, read, events, outcome, now=now)
    with open_ledger(data, make=False) as ledger:
        return outcome, ledger.head(number), record.count


def _event(outcome: Outcome, person: str, what: str, meaning: str, now: datetime, repair: str | None) -> Event:
    at = now.replace(microsecond=0)
    job = outcome.job
    every = (*job.events, *job.voided)
    if what == "release":
        if any(event.kind == "release.signed" for event in every):
            raise Contradiction("what", say("evidence.already_released"))
        return Event("release", "release.signed", person, at, body_of("release.signed", {"meaning": meaning}))
    if what not in HOLD_POINTS:
        raise Unknown("what", say("evidence.hold_point_unknown", point=what[:40], known=', '.join(HOLD_POINTS)))
    number = 1 + sum(event.kind == "hold_point.signed" for event in every)
    body: dict[str, Any] = {"hold_point": what, "meaning": meaning} | ({"repair": repair} if repair else {})
    event = Event(f"sign-{number}", "hold_point.signed", person, at, body_of("hold_point.signed", body))
    for fault in unclear(outcome.case, repairs_of(outcome.case, outcome.steps["disposition"]), [event]):
        raise fault
    return event


def _onto_sheet(sheet: Path, event: Event) -> None:
    """The entry as somebody would have typed it, at the end of the sheet."""
    head = "[release]" if event.kind == "release.signed" else "[[sign]]"
    lines = ["", head, f"at = {instant_text(event.at)}", f"by = {json.dumps(event.by)}"]
    said = event.body.model_dump(exclude_none=True)
    lines += [f"{key} = {json.dumps(value, ensure_ascii=False)}" for key, value in said.items()]
    text = read_text(sheet, what="The job sheet", field="job.toml")
    write_whole(sheet, (text.rstrip("\n") + "\n" + "\n".join(lines) + "\n").encode())
