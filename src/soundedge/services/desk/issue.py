"""How does a job of the desk become the page that is handed over? The bench's word is written down, then it is sealed.

The same job asked for again, with nothing new in it, gives the same bytes. With something new, or when the word has changed
(an instrument's fault corrected, a restore), the word is written again; a released page that is replaced is named on the
new one.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from typing import Any

from ...basis.errors import BenchError, Conflict
from ...job.judge import Outcome
from ...record.canonical import plain
from ...record.entry import Entry, Said
from ...record.write import document
from ...store.blobs import Blobs
from .. import keys as keyring
from ..folder import Folder
from ..pages import certificate as page
from ..records import BENCH, Record, judgement
from ..seal import SealedFiles, issued_before, ready, seal
from . import book
from .place import keys_of
from .state import judged, restored_since

TRIES = 8


def certificate(data: Path, job: str, *, now: datetime) -> SealedFiles:
    """Certificate, hold notice, review or rejection of the job as it stands, sealed; the same bytes when asked again.

    Raises
    ------
    Unknown
        No such job.
    RolledBack, Forked
        Somebody outside has seen another ledger; nothing is written (services/witness.py).
    """
    keys = ready(data, job, folder=keys_of(data))
    with book.job_lock(data, job):
        record, restored = _judged(data, job, now)
        with book.opened(data) as ledger:
            entries = list(ledger.record(job).entries)
        outcome = judged(data, job, entries, estimates=True)
        folder = _files(data, outcome)
        before = entries[-1].body.get("supersedes")
        replaces = f"Replaces certificate {before}." if before else ""
        return seal(
            lambda code, inside: page(outcome, record, folder, replaces=replaces, code=code, inside=inside, restored=restored,
                                      times=("when each was entered; the record keeps beside it when it was written down",)),
            outcome, record, now=now, data=data, keys=keys,
        )


def made(data: Path, job: str, *, now: datetime) -> bool:
    """Is the page of the job as it stands made already? Then ``certificate`` hands it out and adds nothing to the ledger.

    Raises
    ------
    Unknown
        No such job.
    """
    with book.opened(data) as ledger:
        entries = list(ledger.record(job).entries)
        if word_of(entries, judged(data, job, entries), now=now) is not None:
            return False
        digest = sha256(document(entries)).hexdigest()
        return not keyring.there(keys_of(data)) or issued_before(ledger, Blobs(Path(data) / "blobs"), digest)[1] is not None


def word_of(entries: Sequence[Entry], outcome: Outcome, *, now: datetime) -> Said | None:
    """The bench's word when it has to be written: something is new since the last one, or it says another thing."""
    last = next((entry for entry in reversed(entries) if entry.kind == "job.judged"), None)
    blocked = [f"{block.step}: {block.rule}" for block in outcome.blocked_by]
    if last is not None and entries[-1].kind == "job.judged" and (
        last.body["verdict"], list(last.body.get("blocked_by", []))) == (outcome.verdict, blocked):
        return None
    count = sum(entry.kind == "job.judged" for entry in entries)
    released = [entry for entry in entries if entry.kind == "job.judged" and entry.body["verdict"] == "released"]
    revision = letters(len(released)) if released else ""
    made = judgement(outcome, now=now, revision=revision, supersedes=released[-1].body["certificate"] if released else None)
    return Said(f"judged-{count + 1}", made.kind, made.by, made.at, plain(made.body))


def letters(number: int) -> str:
    """A, B, … Z, AA, AB, …: the revision after so many released pages."""
    out = ""
    while number > 0:
        number, rest = divmod(number - 1, 26)
        out = chr(ord("A") + rest) + out
    return out


def _judged(data: Path, job: str, now: datetime) -> tuple[Record, list[str]]:
    fault: BenchError | None = None
    for _ in range(TRIES):
        with book.opened(data) as ledger:
            held = book.known(ledger, data, job)
            entries = list(ledger.record(job).entries)
            word = word_of(entries, judged(data, job, entries), now=now)
            if word is not None:
                try:
                    book_append(ledger, held, [word], now)
                except Conflict as moved:
                    fault = moved
                    continue
            written = ledger.record(job)
            last = written.entries[-1]
            assert last.kind == "job.judged" and last.by == BENCH
            restored = restored_since(ledger, data, written.entries[0])
            return Record(written.raw, written.digest, written.head, last.no, datetime.fromisoformat(last.recorded_at),
                          str(last.body["certificate"])), restored
    assert fault is not None
    raise fault


def book_append(ledger: Any, held: book.Known, facts: list[Said], now: datetime) -> None:
    """Write onto the known head, and know it."""
    stored = ledger.append(held.number, facts, now=now, on_head=held.head)
    held.take(entry for entry in stored if entry.no > held.count)


def _files(data: Path, outcome: Outcome) -> Folder:
    """The pictures of the job by their digests, as the page wants them."""
    blobs = Blobs(Path(data) / "blobs")
    folder = Folder(Path(data), {})
    for event in outcome.job.of("picture.taken"):
        folder.originals[event.body.sha256] = blobs.get(event.body.sha256)
    for event in outcome.job.of("damage.outlined"):
        drawn = ((event.body.survey or {}).get("picture") or {}).get("sha256")
        if event.body.photo_sha256 and drawn and blobs.has(drawn):
            folder.shown[event.body.photo_sha256] = blobs.get(drawn)
    return folder
