"""Does every row of the ledger still say what it said? Asked with little memory, however many there are.

    check_rows(read)      'The ledger holds: 421000 entries of 10000 jobs, chained to 5a1c…'

Two walks over one picture of the table. In the order of arrival the bytes are held against their hashes and the running chain;
of each job only one hash remains, of all its entries in their order. Then, one job at a time, each entry is read strictly
(record/verify.py) and held against its columns, and the job's hash must come out the same: both walks saw the same bytes.
When something does not hold, a slower walk finds the first row of which that can be said.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import groupby
from operator import itemgetter
from typing import Any

from ..basis.errors import RecordBroken
from ..basis.on_paper import counted
from ..basis.sentences import say
from ..record.verify import kind_at, verified_one_by_one, verify
from ..record.write import document
from .ledger import NO_LINK, read_entry

COLUMNS = "seq, job, no, id, entry, leaf, link"
BY_ARRIVAL, BY_JOB = "seq", "job, no"
Row = Sequence[Any]
Read = Callable[[str], Iterable[Row]]


def check_rows(read: Read) -> str:
    """Hold all rows against their bytes and both chains.

    Parameters
    ----------
    read : callable
        Rows (seq, job, no, id, entry, leaf, link) in the order asked for: ``BY_ARRIVAL`` or ``BY_JOB``; of one moment.

    Returns
    -------
    str
        One sentence without its end: how many events of how many jobs, and the chain's last value.

    Raises
    ------
    RecordBroken
        The first row that does not hold, by number, job and kind.
    """
    count, link, jobs = _hashed(read(BY_ARRIVAL))
    left = len(jobs)
    for job, rows in groupby(read(BY_JOB), itemgetter(1)):
        try:
            same = _read_strictly(rows) == jobs.get(job)
        except RecordBroken:
            same = False
        if not same:
            raise _what_is_wrong(read, job)
        left -= 1
    if left:  # rows that the second walk did not come by
        raise _what_is_wrong(read, next(iter(jobs)))
    of = f"{counted(count, 'entry', 'entries')} of {counted(len(jobs), 'job')}"
    return f"The ledger holds: {of}, chained to {link.hex()[:16]}"


def _hashed(rows: Iterable[Row]) -> tuple[int, bytes, dict[str, bytes]]:
    """How many rows, the chain's last value, and of each job one hash over all its leaves."""
    seq, link, sha = 0, NO_LINK, hashlib.sha256
    jobs: dict[str, bytes] = {}
    for row in rows:
        seq += 1
        leaf = sha(b"\0" + _bytes(row)).digest()
        link = sha(link + leaf).digest()
        if row[0] != seq or leaf != row[5] or link != row[6]:
            raise _broken_row(seq, row, leaf)
        jobs[row[1]] = sha(jobs.get(row[1], NO_LINK) + leaf).digest()
    return seq, link, jobs


def _read_strictly(rows: Iterable[Row]) -> bytes:
    """One hash over the leaves of one job's rows, each of which is what a record may hold and what its columns say."""
    now: list[Row] = []
    held, sha = NO_LINK, hashlib.sha256

    def pieces() -> Iterator[bytes]:
        nonlocal held
        for row in rows:
            now[:] = [row]
            raw = _bytes(row)
            held = sha(held + sha(b"\0" + raw).digest()).digest()
            yield raw

    for event in verified_one_by_one(pieces()):
        if (event["job"], event["no"], event["id"]) != tuple(now[0][1:4]):
            raise RecordBroken(f"row {now[0][0]}", say("store.row_columns_differ", job=event["job"], no=event["no"]))
    return held


def _broken_row(seq: int, row: Row, leaf: bytes) -> RecordBroken:
    if row[0] != seq:
        return RecordBroken(f"row {seq}", say("store.row_missing", row=seq, next=row[0], place=_place(row)))
    return _told(seq, row, say("store.row_hash_differs") if leaf != row[5] else say("store.row_link_differs"))


def _what_is_wrong(read: Read, job: str) -> RecordBroken:
    """The hashes hold and a job does not: the first row that is no entry or another's, else what its record says."""
    own: list[bytes] = []
    for row in read(BY_ARRIVAL):
        try:
            entry = read_entry(_bytes(row))
        except RecordBroken:
            return _told(row[0], row, say("store.row_not_an_entry"))
        if (entry.job, entry.no, entry.id) != tuple(row[1:4]):
            return _told(row[0], row, say("store.row_columns_differ", job=entry.job, no=entry.no))
        if entry.job == job:
            own.append(_bytes(row))
    try:
        verify(document([read_entry(raw) for raw in own]))
    except RecordBroken as fault:
        return RecordBroken(fault.field, say("store.job_broken", job=job[:60], why=fault.message))
    return RecordBroken("ledger", say("store.job_broken", job=job[:60], why=say("store.rows_found_otherwise")))


def _told(seq: int, row: Row, why: str) -> RecordBroken:
    kind = kind_at(_bytes(row).decode("utf-8", "replace"))
    return RecordBroken(f"row {seq}", say("store.row_broken", row=seq, place=_place(row), kind=kind, why=why))


def _bytes(row: Row) -> bytes:
    return row[4] if isinstance(row[4], bytes) else b""


def _place(row: Row) -> str:
    return say("store.row_place", job=str(row[1])[:60], no=row[2])
