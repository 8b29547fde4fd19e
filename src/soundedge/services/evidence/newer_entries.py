"""What was recorded since this file was made, and whether it still counts.

A file says only what was so when it was made. A certificate of a release stays whole although a value of its job was
corrected the day after and the job is held again. The shop's own ledger knows; whoever has it at hand asks it:

    of a certificate or record   its entries, one by one by their digests, beside those of the ledger
    of a square code             the certificate the shop issued under that name and record

The job is judged as it stands in the ledger now. Without a ledger the question stays open, and is named as not checked.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from hashlib import sha256
from pathlib import Path
from typing import Any

from ...basis.errors import Unknown
from ...record.entry import Entry
from ...record.write import document
from ...store.ledger import Ledger
from . import shop_chain
from .ledger_place import open_ledger
from .records import BENCH, as_it_stands

REPLACED = "whether it has been replaced since"


@dataclass(frozen=True)
class Issued:
    """A page that the shop has issued, as its ledger keeps it."""

    certificate: str
    record_sha256: str
    pdf_sha256: str


@dataclass(frozen=True)
class Since:
    """``counts``: True while nothing has changed it, False when something has, None when this ledger cannot say.

    ``issued``: every page of this very job that the ledger has issued.
    """

    counts: bool | None
    sentence: str
    issued: tuple[Issued, ...] = ()


def since(data: Path, job: str, digests: Sequence[str]) -> Since:
    """What the ledger of ``data`` has of this job beyond a file with these entries.

    Parameters
    ----------
    data : Path
        The shop's data folder.
    job : str
        The job's number.
    digests : sequence of str
        The digests of the file's entries, in their order; at least one.

    Raises
    ------
    Unreadable
        There is no ledger in ``data``.
    """
    with open_ledger(data, make=False) as ledger:
        entries = _entries(ledger, job)
        if entries is None or entries[0].digest != digests[0]:
            other = "has no job" if entries is None else "has another job, with another beginning, under the number"
            return Since(None, f"The ledger at hand {other} {job}; it cannot say whether this file still counts.")
        return replace(_beside(ledger, job, entries, digests), issued=_issued(ledger, job))


def since_issued(data: Path, certificate: str, record_start: str) -> Since:
    """The same for a square code, which names a certificate and the first 32 hex digits of its record's digest."""
    with open_ledger(data, make=False) as ledger:
        for issued in reversed(shop_chain.chain(ledger)):
            body = issued.body
            if issued.kind == "certificate.issued" and str(body.get("record_sha256", "")).startswith(record_start):
                job = str(body["job"])
                entries = _entries(ledger, job) or []
                ends = [entry.no for entry in entries if entry.kind == "job.judged"
                        and sha256(document(entries[:entry.no])).hexdigest() == body["record_sha256"]]
                if ends:
                    return _after(ledger, job, entries, ends[0])
                break
    return Since(None, f"The ledger at hand has issued no certificate {certificate} with that record; it cannot say whether "
                       "the paper still counts.")


def _beside(ledger: Ledger, job: str, entries: list[Entry], digests: Sequence[str]) -> Since:
    """The ledger's entries beside those of the file, one by one."""
    for entry, digest in zip(entries, digests, strict=False):
        if entry.digest != digest:
            return Since(False, f"From entry {entry.no} of job {job} on, the ledger at hand says something else than this "
                                "file. One of them was written anew: do not rely on either until it is known which.")
    if len(entries) < len(digests):
        return Since(None, f"This file holds {len(digests)} entries of job {job}, the ledger at hand only {len(entries)}: "
                           "an older copy of it was put back, or it is not the shop's newest. Ask the shop which counts.")
    return _after(ledger, job, entries, len(digests))


def _issued(ledger: Ledger, job: str) -> tuple[Issued, ...]:
    return tuple(Issued(*(str(entry.body.get(key)) for key in ("certificate", "record_sha256", "pdf_sha256")))
                 for entry in shop_chain.chain(ledger) if entry.kind == "certificate.issued" and entry.body.get("job") == job)


def _after(ledger: Ledger, job: str, entries: list[Entry], known: int) -> Since:
    """The file's entries are the first ``known`` ones of the ledger; what do the others say?"""
    later = entries[known:]
    said = next((entry for entry in reversed(entries[:known]) if entry.kind == "job.judged"), None)
    if not later:
        return Since(True, f"The ledger at hand holds nothing later of job {job}.")
    outcome = as_it_stands(entries)
    repeated = all(entry.kind == "job.judged" for entry in later)
    if repeated and said is not None and outcome.verdict == said.body.get("verdict"):
        return Since(True, f"The ledger at hand holds nothing later of job {job} but the same judgement again.")
    first = next((entry for entry in later if entry.by != BENCH), later[0])
    by = outcome.job.name_of(first.by)
    count = "1 entry has" if len(later) == 1 else f"{len(later)} entries have"
    because = outcome.blocked_by[0].because if outcome.blocked_by else outcome.because
    which = "the first" if first.by == BENCH else "the first by hand"
    kind = first.kind.replace(".", " ").replace("_", " ")
    verdict = outcome.verdict.replace("_", " ").upper()
    return Since(False, f"It does not count any more: since it was made, {count} come into job {job}; {which} is number "
                        f"{first.no}, {kind}, by {by} at {first.recorded_at}. The job is now {verdict}: {because}"
                        f"{_newer(ledger, job, entries)}")


def _newer(ledger: Ledger, job: str, entries: list[Entry]) -> str:
    """The page that counts now, when there is one."""
    last = entries[-1]
    if last.kind != "job.judged":
        return ""
    digest = sha256(document(entries)).hexdigest()
    issued: dict[str, Any] | None = next((entry.body for entry in reversed(shop_chain.chain(ledger))
                                          if entry.body.get("record_sha256") == digest), None)
    return f" Its newest page is {issued['certificate']}." if issued else ""


def _entries(ledger: Ledger, job: str) -> list[Entry] | None:
    try:
        return list(ledger.record(job).entries)
    except Unknown:
        return None
