"""What the desk keeps of the ledger in memory, so that an entry is taken in a millisecond.

Of the shop: its register. Of a job: its head, the ids that are there, whom and what it names, and whether it is released.
All of it follows from the ledger and is asked for by its head: when somebody else has written, it is read again. Bounded,
one lock for each job; nothing here is ever written.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from cachetools import LRUCache, cached

from ...basis.errors import BenchError, Refused, Unknown
from ...basis.sentences import say
from ...history.register import Person, Register, folded
from ...job.kinds.opening import InstrumentListed, LotReceived
from ...record.entry import NOBODY_BEFORE, Entry
from ...record.rotation import SHOP
from ..cache import Cache
from ..evidence.ledger_place import FILE, MARKER, open_ledger
from .actor import Actor
from .roles import NotYours

JOBS_HELD, SHOPS_HELD, OPEN_HELD = 400, 40, 4


@dataclass
class Known:
    """What the desk knows of one job, as of ``head``."""

    number: str
    head: str = NOBODY_BEFORE
    count: int = 0
    ids: set[str] = field(default_factory=set)
    people: set[str] = field(default_factory=set)
    instruments: dict[str, InstrumentListed] = field(default_factory=dict)
    lots: dict[str, LotReceived] = field(default_factory=dict)
    damages: set[str] = field(default_factory=set)
    released: bool = False

    def take(self, entries: Iterable[Entry]) -> None:
        """Entries that follow what is known already."""
        for entry in entries:
            self.head, self.count = entry.digest, entry.no
            self.ids.add(entry.id)
            if entry.kind == "person.named":
                self.people.add(entry.body["id"])
            elif entry.kind == "instrument.listed":
                self.instruments[entry.body["id"]] = InstrumentListed.model_validate(entry.body, context=_RECORD)
            elif entry.kind == "lot.received":
                self.lots[entry.body["id"]] = LotReceived.model_validate(entry.body, context=_RECORD)
            elif entry.kind == "damage.outlined":
                self.damages.add(entry.body["id"])
            elif entry.kind == "release.signed":
                self.released = True
            elif entry.kind in ("entry.corrected", "entry.voided"):
                self.released = False


_RECORD = {"decimal_strings": True}
_jobs, _registers = Cache(JOBS_HELD), Cache(SHOPS_HELD)
_mine = threading.local()


@contextmanager
def opened(data: Path, *, make: bool = False) -> Iterator[Any]:
    """The shop's ledger, to be used in a ``with``.

    Each thread keeps the ledgers it used last open: opening one asks file, settings and guards, which takes longer than an
    entry. After a fault it is closed and opened again the next time; so is one whose file is no longer the same.
    """
    data = Path(data)
    if make:
        with open_ledger(data, make=True) as ledger:
            yield ledger
        return
    held: _OpenLedgers = _mine.__dict__.setdefault("ledgers", _OpenLedgers(OPEN_HELD))
    key, mark = str(data), _mark(data)
    found = held.pop(key, None)  # taken out while it is used: who asks again inside gets another
    if found is not None and (found[0] != mark or not mark):
        found[1].close()
        found = None
    ledger = found[1] if found else open_ledger(data, make=False)
    sound = False
    try:
        yield ledger
        sound = True
    except BenchError as fault:
        sound = fault.kind not in ("not_kept", "record_broken")  # the others are about what was asked, not about the ledger
        raise
    finally:
        mark = mark or _mark(data)
        if sound and mark and key not in held:
            held[key] = (mark, ledger)
        else:
            ledger.close()


class _OpenLedgers(LRUCache[str, tuple[tuple[int, ...], Any]]):
    """The ledgers a thread keeps open; the one not used for longest is closed."""

    def popitem(self) -> tuple[str, tuple[tuple[int, ...], Any]]:
        data, found = super().popitem()
        found[1].close()
        return data, found


def _mark(data: Path) -> tuple[int, ...]:
    """What tells the ledger in this folder from another that was put in its place; empty when there is none."""
    for name in (FILE, MARKER):
        try:
            about = os.stat(data / name)
        except OSError:
            continue
        return about.st_dev, about.st_ino, (about.st_mtime_ns if name == MARKER else 0)
    return ()


@cached(LRUCache(4 * JOBS_HELD), key=lambda data, job: (str(data), job), lock=threading.Lock())
def job_lock(data: Path, job: str) -> threading.RLock:
    """One lock for a job in this process; between processes the ledger's own head decides."""
    return threading.RLock()


def head_of(ledger: Any, job: str) -> str:
    """Digest of the job's last entry.

    Raises
    ------
    Unknown
        No such job, or the shop's own chain.
    """
    head = NOBODY_BEFORE if not isinstance(job, str) or job == SHOP else ledger.head(job)
    if head == NOBODY_BEFORE:
        raise Unknown("job", say("desk.job_unknown", job=str(job)[:60]))
    return str(head)


def known(ledger: Any, data: Path, job: str) -> Known:
    """What is known of a job, read again when its head has moved. Call it under the job's lock.

    Raises
    ------
    Unknown
        No such job, or the shop's own chain.
    """
    key, head = (str(data), job), head_of(ledger, job)
    held: Known | None = _jobs.get(key)
    if held is not None and held.head == head:
        return held
    fresh = Known(job)
    if held is not None:
        later = ledger.entries(job, after=held.count)
        if later and later[0].prev == held.head:
            held.take(later)
            return held
    fresh.take(ledger.record(job).entries)
    _jobs.put(key, fresh)
    return fresh


def register_in(ledger: Any, data: Path) -> Register:
    """The shop's register as of the head of its chain."""
    head = ledger.head(SHOP)
    if head == NOBODY_BEFORE:
        return Register()
    key = str(data)
    held: tuple[str, Register] | None = _registers.get(key)
    if held is not None and held[0] == head:
        return held[1]
    entries = ledger.record(SHOP).entries
    made = folded(entries)
    _registers.put(key, (entries[-1].digest, made))
    return made


def person_of(register: Register, actor: Actor) -> Person:
    """The person who acts, as the register has them now: the role there counts, not the one in their session.

    Raises
    ------
    NotYours
        Nobody has that id, or the person was disabled; a device that was revoked.
    """
    person = register.people.get(actor.person)
    if person is None:
        raise NotYours("role", say("desk.person_unknown", person=actor.person[:40]))
    if person.disabled_at is not None:
        raise NotYours("role", say("desk.person_removed", name=person.name, at=person.disabled_at))
    device = register.devices.get(actor.device) if actor.device else None
    if device is not None and device.revoked_at is not None:
        raise Refused("role", say("desk.device_revoked", device=device.name, because=device.revoked_because))
    return person
