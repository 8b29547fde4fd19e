"""Opening a job, and what the ledger holds of it.

A job is opened under an approved procedure that stands; its whole text goes into the job as it is that day, so the record
can be judged in thirty years without the shop.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

from ...basis.errors import Conflict, Missing, Refused, Unknown, Unreadable
from ...basis.procedure import plain_procedure
from ...basis.sentences import say
from ...history.register import Register, Revision
from ...job import edition
from ...job.judge import judge_job
from ...job.kinds import SECTIONS, WRITTEN_BY_THE_BENCH, Event, body_of
from ...record.canonical import plain
from ...record.entry import NOBODY_BEFORE, Said
from ...record.rotation import SHOP
from ..evidence.new_part import check_new_part
from ..evidence.records import BENCH, body_said
from . import roles
from .actor import Actor
from .book import head_of, job_lock, opened, person_of, register_in

NUMBER = re.compile(r"[A-Za-z0-9][A-Za-z0-9._ -]{0,59}\Z")
_OPENING = ("number", "site", "customer", "note", "procedure", "part", "lining")


def head(data: Path, job: str) -> str:
    """Digest of the job's last event."""
    with opened(data) as ledger:
        return head_of(ledger, job)


def record(data: Path, job: str) -> bytes:
    """The exact bytes of the job's ``record.json``."""
    with opened(data) as ledger:
        head_of(ledger, job)
        return bytes(ledger.record(job).raw)


def size(data: Path) -> int:
    """How many events the ledger holds."""
    with opened(data) as ledger:
        return int(ledger.size())


def open_job(data: Path, actor: Actor, opening: dict[str, Any], *, id: str, now: datetime) -> str:
    """Open a job.

    Parameters
    ----------
    opening : dict
        number, site, customer, note; procedure: the procedure's id, or a revision's name, in the register; part and
        lining as ``part.identified`` and ``lining.identified``.
    id : str
        Made where it was typed: the same id with the same content opens one job.

    Returns
    -------
    str
        The job's number.

    Raises
    ------
    Conflict
        The number is taken.
    Refused
        The procedure is not approved, or was withdrawn.
    Unreadable, Contradiction
        A number, or a new part's tag, that some file system would not keep apart from another (basis/file_names.py).
    """
    for key in ("number", "site", "procedure", "part", "lining"):
        if key not in opening:
            raise Missing(key, say("desk.key_missing", key=key))
    for key in opening:
        if key not in _OPENING:
            raise Unknown(str(key)[:60], say("desk.key_unknown", key=str(key)[:60], known=', '.join(_OPENING)))
    if not isinstance(id, str) or not 1 <= len(id) <= 100:
        raise Unreadable("id", say("desk.opening_id"))
    at = now.replace(microsecond=0)
    with opened(data) as ledger:
        book = register_in(ledger, data)
        person = person_of(book, actor)
        roles.check(person.role, "open_job")
        revision = _procedure(book, opening["procedure"])
        about: dict[str, Any] = {key: opening[key] for key in ("number", "site", "customer", "note") if key in opening}
        about |= {"procedure": plain_procedure(revision.procedure), "procedure_sha256": revision.sha256} | edition.opening()
        given = {"job": (about, ""), "part": (opening["part"], "part"), "lining": (opening["lining"], "lining")}
        events = [Event(f"{id}-{section}", kind, actor.person, at, body_of(kind, raw, where=where))
                  for section, (raw, where) in given.items() for kind in [SECTIONS[section].name]]
        number = str(events[0].body.number)
        if not NUMBER.match(number) or number == SHOP:
            raise Unreadable("number", say("desk.job_number", number=number[:60]))
        judge_job(events, estimates=False)  # a job that cannot be judged is not opened
        facts = [Said(e.id, e.kind, e.by, e.at, plain(body_said(e.body))) for e in events]
        naming = Said(f"person-{person.id}", "person.named", BENCH, at, body_said(person.named))
        with job_lock(data, number):
            if ledger.head(number) != NOBODY_BEFORE:
                return _opened_already(ledger, number, facts)
            check_new_part(ledger, str(events[1].body.tag))
            try:
                ledger.append(number, [*facts, naming], now=now, on_head=NOBODY_BEFORE)
            except Conflict:
                return _opened_already(ledger, number, facts)
    return number


def _procedure(book: Register, name: Any) -> Revision:
    found = book.revisions.get(name) or book.procedures.get(name) if isinstance(name, str) else None
    if found is None:
        waiting = [one.id for one in book.proposals.values()]
        held = ", ".join(one.id for one in book.procedures.values() if one.stands) or "none"
        if name in waiting:
            raise Refused("procedure", say("desk.procedure_not_approved", procedure=name))
        raise Unknown("procedure", say("desk.procedure_unknown", procedure=str(name)[:60], held=held))
    if found.withdrawn_at is not None:
        raise Refused("procedure", say("desk.procedure_withdrawn", procedure=found.id, at=found.withdrawn_at,
                                       because=found.withdrawn_because))
    if found.approved_at is None:
        raise Refused("procedure", say("desk.revision_not_approved", revision=found.revision))
    return found


def _opened_already(ledger: Any, number: str, facts: Sequence[Said]) -> str:
    def typed(body: Any) -> dict[str, Any]:
        """Without what the bench writes: sent once more to a newer program, it opens the same job."""
        return {key: value for key, value in body.items() if key not in WRITTEN_BY_THE_BENCH}

    first = {entry.id: entry for entry in ledger.record(number).entries[:3]}
    if all(fact.id in first and (first[fact.id].by, typed(first[fact.id].body)) == (fact.by, typed(fact.body))
           for fact in facts):
        return number
    raise Conflict("number", say("desk.job_exists", job=number))
