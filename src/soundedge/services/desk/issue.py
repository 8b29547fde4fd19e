"""Turns a job of the desk into the page that is handed over: the bench's word is written down, then the page is sealed.

Making a page writes; handing one out does not. The same job made again, with nothing new in it, gives the same bytes. With
something new, or when the word has changed (an instrument's fault corrected, a restore), the word is written again; a
released page that is replaced is named on the new one.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from hashlib import sha256
from itertools import pairwise
from pathlib import Path
from typing import Any

from ...basis.errors import BenchError, Conflict, Refused
from ...basis.sentences import say
from ...job import edition
from ...job.edition import judged_by
from ...job.judge import Outcome
from ...record.entry import Entry, Said
from ...record.write import document
from ..evidence import keyring
from ..evidence.certificate_page import certificate as page
from ..evidence.keyring import Keys
from ..evidence.ledger_place import files_of
from ..evidence.originals import Originals
from ..evidence.records import BENCH, Record, next_judgement, released_by_other, said_by, says_now
from ..evidence.sealing import SealedFiles, covered, kept, ready, seal
from . import book, roles
from .actor import Actor
from .enter import own_id, since_head
from .new_passwords import signed_soon
from .shop_place import shop_key_folder
from .state import judged, restored_since

TRIES = 8


def certificate(data: Path, job: str, *, now: datetime, on_head: str | None = None) -> SealedFiles:
    """Make the certificate, hold notice, review or rejection of the job as it stands; the same bytes when made again.

    Parameters
    ----------
    on_head : str, optional
        Digest of the job's last entry that was looked at; the job as it is found when left out.

    Raises
    ------
    Unknown
        No such job.
    HeadMoved
        The job has moved on since ``on_head``.
    RolledBack, Forked
        Somebody outside has seen another ledger; nothing is written (services/evidence/witness.py).
    """
    keys = ready(data, job, folder=shop_key_folder(data))
    with book.job_lock(data, job):
        with book.opened(data) as ledger:
            _not_by_other_rules(ledger, job)
        record, restored, outcome = _judged(data, job, now, on_head)
        return _sealed(data, job, record, restored, outcome, now, keys)


def make(data: Path, actor: Actor, job: str, *, id: str, on_head: str, now: datetime) -> dict[str, Any]:
    """Make the page of a job, for somebody who works on it, of exactly what they have seen.

    The head names the page: sent twice, the second makes nothing new, also when the job has moved on meanwhile.

    Returns
    -------
    dict
        ``id``, ``outcome`` (stored, or duplicate when the page was there), ``certificate``, ``verdict``, ``head``.

    Raises
    ------
    NotYours
        The role makes no pages.
    HeadMoved
        The job has moved on since ``on_head``, and no page was made of that.
    """
    own_id(id)
    with book.job_lock(data, job):
        with book.opened(data) as ledger:
            roles.check(book.person_of(book.register_in(ledger, data), actor).role, "make_page")
            book.known(ledger, data, job)
            entries = list(ledger.record(job).entries)
        word = next((later for seen, later in pairwise(entries) if seen.digest == on_head and later.kind == "job.judged"), None)
        there = (word is not None and word is not entries[-1]) or made(data, job, now=now)
        if word is None or word is entries[-1]:
            certificate(data, job, now=now, on_head=word.digest if word else on_head)
            with book.opened(data) as ledger:
                word = next(one for one in reversed(ledger.record(job).entries) if one.kind == "job.judged")
    return {"id": id, "outcome": "duplicate" if there else "stored", "certificate": str(word.body["certificate"]),
            "verdict": str(word.body["verdict"]), "head": word.digest}


def certify(data: Path, job: str, *, release: str, now: datetime) -> None:
    """The certificate of a release, by the id of its entry; none, and nothing new, when the job has moved on since."""
    with book.job_lock(data, job):
        with book.opened(data) as ledger:
            entries = list(ledger.record(job).entries)
            at = next((place for place, entry in enumerate(entries) if entry.id == release), len(entries))
            word = next((entry for entry in entries[at:] if entry.kind == "job.judged"), None)
            stands = word is entries[-1] and word_of(entries, judged(data, job, entries), now=now) is None
        if stands:
            certificate(data, job, now=now, on_head=entries[-1].digest)


def at_hand(data: Path, job: str, *, now: datetime) -> SealedFiles | None:
    """The page of the job as it stands, as it was made; None when none was. Nothing is written.

    Raises
    ------
    Unknown
        No such job.
    RolledBack, Forked
        Somebody outside has seen another ledger.
    """
    keys = ready(data, job, folder=shop_key_folder(data))
    with book.opened(data) as ledger:
        entries = list(ledger.record(job).entries)
        word = released_by_other(entries)
        if word is not None:
            issued = sha256(document(entries[:word.no])).hexdigest()
            return kept(ledger, issued, data=data, folder=keys.folder) if keys is not None else None
        outcome = judged(data, job, entries, estimates=keys is None)
        if word_of(entries, outcome, now=now) is not None:
            return None
        if keys is not None:
            return kept(ledger, sha256(document(entries)).hexdigest(), data=data, folder=keys.folder)
        record, restored = _written(ledger, data, job)
    return _sealed(data, job, record, restored, outcome, now, None)


def made(data: Path, job: str, *, now: datetime) -> bool:
    """Is the page of the job as it stands made already? Then ``at_hand`` hands it out.

    Raises
    ------
    Unknown
        No such job.
    """
    folder = shop_key_folder(data)
    with book.opened(data) as ledger:
        entries = list(ledger.record(job).entries)
        word = released_by_other(entries)
        if word is not None:
            entries = entries[:word.no]
        elif word_of(entries, judged(data, job, entries), now=now) is not None:
            return False
        if not keyring.there(folder):
            return word is None
        return covered(ledger, sha256(document(entries)).hexdigest(), data=data, folder=folder) is not None


def word_of(entries: Sequence[Entry], outcome: Outcome, *, now: datetime) -> Said | None:
    """The bench's word when it has to be written: something is new since the last one, or it says another thing."""
    last = entries[-1]
    if last.kind == "job.judged" and (said_by(last) == says_now(outcome) or released_by_other(entries) is last):
        return None
    return next_judgement([entry for entry in entries if entry.kind == "job.judged"], outcome, now=now)


def _not_by_other_rules(ledger: Any, job: str) -> None:
    """The page of a release under other rules was made under those rules, or cannot be made any more.

    Raises
    ------
    Refused
        The job stands released by another edition of the rules.
    """
    word = released_by_other(list(ledger.record(job).entries))
    if word is not None:
        raise Refused("rules", say("desk.released_by_other_edition", number=job, told=edition.told(judged_by(word.body))))


def _judged(data: Path, job: str, now: datetime, on_head: str | None) -> tuple[Record, list[str], Outcome]:
    """The record with the bench's word at its end, and the job as it was judged for it, once; the word is written when it has
    to be, and changes nothing that is judged."""
    fault: BenchError | None = None
    for _ in range(TRIES):
        with book.opened(data) as ledger:
            held = book.known(ledger, data, job)
            if on_head is not None and on_head != held.head:
                raise since_head(ledger, job, on_head)
            entries = list(ledger.record(job).entries)
            outcome = judged(data, job, entries, estimates=True)
            word = word_of(entries, outcome, now=now)
            if word is not None:
                try:
                    book_append(ledger, held, [word], now)
                except Conflict as newer:
                    fault = newer
                    continue
            return *_written(ledger, data, job), outcome
    assert fault is not None
    raise fault


def _written(ledger: Any, data: Path, job: str) -> tuple[Record, list[str]]:
    """The record as it lies in the ledger, which ends with the bench's word; and what was restored since it was opened."""
    written = ledger.record(job)
    last = written.entries[-1]
    assert last.kind == "job.judged" and last.by == BENCH
    return Record(written.raw, written.digest, written.head, last.no, datetime.fromisoformat(last.recorded_at),
                  str(last.body["certificate"])), restored_since(ledger, data, written.entries[0])


def _sealed(
    data: Path, job: str, record: Record, restored: list[str], outcome: Outcome, now: datetime, keys: Keys | None
) -> SealedFiles:
    with book.opened(data) as ledger:
        entries = list(ledger.record(job).entries)
        soon = signed_soon(ledger, data, entries)
    files = _files(data, outcome)
    before = entries[-1].body.get("supersedes")
    replaces = f"Replaces certificate {before}." if before else ""
    return seal(
        lambda code, inside: page(outcome, record, files, replaces=replaces, code=code, inside=inside, restored=restored,
                                  times=("when each was entered; the record keeps beside it when it was written down",),
                                  signed_soon=soon),
        outcome, record, now=now, data=data, keys=keys,
    )


def book_append(ledger: Any, held: book.Known, facts: list[Said], now: datetime) -> None:
    """Write onto the known head, and know it."""
    stored = ledger.append(held.number, facts, now=now, on_head=held.head)
    held.take(entry for entry in stored if entry.no > held.count)


def _files(data: Path, outcome: Outcome) -> Originals:
    """The pictures of the job by their digests, as the page wants them."""
    blobs = files_of(data)
    files = Originals()
    for event in outcome.job.of("picture.taken"):
        files.originals[event.body.sha256] = blobs.get(event.body.sha256)
    for event in (*outcome.job.replaced, *outcome.job.of("damage.outlined")):
        drawn = ((event.body.survey or {}).get("picture") or {}).get("sha256")
        if event.body.photo_sha256 and drawn and blobs.has(drawn):
            files.shown[event.body.photo_sha256] = blobs.get(drawn)
    return files
