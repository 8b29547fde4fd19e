"""Turns a finished page into a document that an outsider can check without the shop.

Without keys: the page with its record inside, as before. With keys it is signed (PAdES B-B). With the shop's ledger too:

    in the page     a square code: the signed claim of what the page says, and the ledger's size and root
    in the PDF      record.json; record.tlog-proof, that the judgement stands in the log; log.pub
    in the ledger   certificate.issued with the SHA-256 of the finished PDF
    beside the PDF  certificate.proof, that this event stands in the log: with it every single byte of the PDF is checked

The finished PDF is kept by its digest. The same record asked for again gives the same file, byte for byte, for thirty
years: what was issued is issued once.

The square code speaks of the ledger as it stood when the judgement was written, so it does not depend on what came after.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from ...basis.errors import BenchError, OutOfRange, Refused
from ...basis.sentences import say
from ...job.judge import Outcome
from ...record.checkpoint import Checkpoint, make_checkpoint
from ...record.claim import make_claim
from ...record.entry import Entry
from ...record.proof import make_proof
from ...record.tree import root
from ...store.blobs import Files
from ...store.ledger import Ledger
from . import keyring, shop_chain
from .keyring import Keys
from .ledger_place import files_of, open_ledger
from .records import Record
from .witness import guard, last_signed, leaves_of, sign_checkpoint

Build = Callable[[str, Mapping[str, bytes]], bytes]
PDF, PROOF = "certificate.pdf", "certificate.proof"
INSIDE_PROOF, INSIDE_KEY = "record.tlog-proof", "log.pub"


@dataclass(frozen=True)
class SealedFiles:
    """What is handed over: file name → bytes, and one sentence on how it was sealed (empty when it was not)."""

    files: dict[str, bytes]
    said: str = ""

    @property
    def pdf(self) -> bytes:
        """The certificate."""
        return self.files[PDF]


def ready(data: Path | None, number: str, *, folder: Path | None = None) -> Keys | None:
    """To be asked before anything is kept: the shop's keys, or None; and may the ledger be written at all?

    Parameters
    ----------
    data : Path, optional
        The shop's data folder.
    number : str
        The job's number.
    folder : Path, optional
        The keys' folder; see ``key_files.key_folder``.

    Raises
    ------
    Refused
        Keys in the wrong place or open to others; a job that is called like the shop's own chain.
    RolledBack, Forked
        Somebody outside has seen another ledger; see ``witness.guard``.
    """
    keys = keyring.load(folder, data=data) if keyring.there(folder) else None
    if data is not None:
        if number == shop_chain.SHOP:
            raise Refused("job.number", say("evidence.job_number_reserved", number=number))
        guard(data, folder=folder)
    return keys


def seal(
    build: Build, outcome: Outcome, record: Record, *, now: datetime, data: Path | None = None, keys: Keys | None = None
) -> SealedFiles:
    """Set the page, sign it, and put its digest into the ledger.

    Parameters
    ----------
    build : callable
        Square code's text (may be empty) and attachments → the PDF, unsigned.
    outcome : Outcome
        The judged job: what the claim says.
    record : Record
        Its record; with ``data``, as it is kept in the ledger.
    data : Path, optional
        The shop's data folder.
    now : datetime
        The moment of signing.
    keys : Keys, optional
        From ``ready``, which has to be asked before.

    Raises
    ------
    BenchError
        The ledger counts another key; the disk did not take it; there is no key to sign the page with.
    """
    if keys is None:
        return SealedFiles({PDF: build("", {})})
    if data is None:
        return SealedFiles({PDF: _signed(build("", {}), outcome, record, keys, now)},
                           f"Signed with the key {_short(keys)}; not in any ledger.")
    number = outcome.job.the("job.opened").number
    with open_ledger(data) as ledger:
        keys = shop_chain.enrol(ledger, keys, now=now)
        blobs = files_of(data)
        issued, pdf = issued_before(ledger, blobs, record.digest)
        if issued is None or pdf is None:
            pdf = _signed(_page(build, ledger, outcome, record, keys, number), outcome, record, keys, now)
            issued = _issue(ledger, blobs, outcome, record, pdf, now)
        return _handed_over(ledger, issued, pdf, sign_checkpoint(ledger, keys, data=data))


def kept(ledger: Ledger, record_sha256: str, *, data: Path, folder: Path) -> SealedFiles | None:
    """What was sealed of this very record, as it lies there; None when nothing was. Nothing is written.

    Parameters
    ----------
    data : Path
        The shop's data folder.
    folder : Path
        The keys' folder, with the checkpoint that was signed last; ``ready`` has to be asked before.
    """
    found = covered(ledger, record_sha256, data=data, folder=folder)
    return _handed_over(ledger, *found) if found else None


def covered(ledger: Ledger, record_sha256: str, *, data: Path, folder: Path) -> tuple[Entry, bytes, str] | None:
    """Event and file of this very record, and the checkpoint signed since; None when one of the three is not there."""
    issued, pdf = issued_before(ledger, files_of(data), record_sha256)
    note = last_signed(folder)
    if issued is None or pdf is None or ledger.places(shop_chain.SHOP)[issued.no - 1] >= _size(note):
        return None
    return issued, pdf, note


def issued_before(ledger: Ledger, blobs: Files, record_sha256: str) -> tuple[Entry | None, bytes | None]:
    """The event and the file of this very record, when it was issued already and the file still holds."""
    for entry in reversed(shop_chain.chain(ledger)):
        body = entry.body
        if entry.kind == "certificate.issued" and body.get("record_sha256") == record_sha256:
            try:
                return entry, blobs.get(str(body["pdf_sha256"]))
            except (BenchError, KeyError):
                continue
    return None, None


def _handed_over(ledger: Ledger, issued: Entry, pdf: bytes, note: str) -> SealedFiles:
    place = ledger.places(shop_chain.SHOP)[issued.no - 1]
    proof = make_proof(issued.raw, place, leaves_of(ledger)[: _size(note)], note)
    return SealedFiles({PDF: pdf, PROOF: proof.encode()},
                       f"Signed, and issued as entry {place + 1} of the ledger; {PROOF} beside it proves every byte.")


def _size(note: str) -> int:
    """How many events a signed checkpoint covers; 0 for none."""
    return int(note.split("\n")[1]) if note else 0


def _page(build: Build, ledger: Ledger, outcome: Outcome, record: Record, keys: Keys, number: str) -> bytes:
    place = ledger.places(number)[record.count - 1]
    leaves = leaves_of(ledger)[: place + 1]
    point = Checkpoint(keys.origin, len(leaves), root(leaves))
    note = make_checkpoint(keys.origin, leaves, keys.seed)
    judged = ledger.record(number).entries[record.count - 1]
    inside = {
        INSIDE_PROOF: make_proof(judged.raw, place, leaves, note).encode(),
        INSIDE_KEY: ("\n".join(key.text for key in keys.public) + "\n").encode(),
    }
    return build(_claim(outcome, record, keys, point), inside)


def _issue(ledger: Ledger, blobs: Files, outcome: Outcome, record: Record, pdf: bytes, now: datetime) -> Entry:
    blobs.put(pdf)  # on disk before any event names it
    digest = hashlib.sha256(pdf).hexdigest()
    body = {
        "certificate": record.certificate, "job": outcome.job.the("job.opened").number, "verdict": outcome.verdict,
        "record_sha256": record.digest, "pdf_sha256": digest,
    }
    return shop_chain.write(ledger, "certificate.issued", body, now=now, id=f"issued-{digest[:32]}")


def _signed(pdf: bytes, outcome: Outcome, record: Record, keys: Keys, now: datetime) -> bytes:
    from ...report.sign import sign_pdf

    if keys.signing is None:
        raise Refused("keys", say("evidence.certificate_key_missing", folder=keys.folder, origin=keys.origin))
    word = outcome.verdict.replace("_", " ")
    return sign_pdf(pdf, keys.signing, at=now, reason=f"{record.certificate}: {word}")


def _claim(outcome: Outcome, record: Record, keys: Keys, point: Checkpoint) -> str:
    """The square code's text; long names are cut until it fits."""
    part = outcome.job.the("part.identified").tag
    signer = _releaser(outcome)
    for size_bytes in (120, 60, 40, 24, 12):
        try:
            return make_claim(
                point, keys.seed, certificate=_cut(record.certificate, max(size_bytes, 40)), part=_cut(part, size_bytes),
                verdict=outcome.verdict, date=f"{record.issued_at:%Y-%m-%d}", released_by=_cut(signer, size_bytes),
                record=record.digest,
            )
        except OutOfRange:
            continue
    raise AssertionError("a claim of 12-byte names fits")


def _releaser(outcome: Outcome) -> str:
    releases = outcome.job.of("release.signed")
    if outcome.verdict != "released" or not releases:
        return "-"
    who = releases[-1].by
    names = {event.body.id: event.body.name for event in outcome.job.of("person.named")}
    return names.get(who, who)


def _cut(text: str, size_bytes: int) -> str:
    """The text without what a claim cannot hold, at most so many bytes long."""
    clean = "".join("/" if c == "|" else c for c in text if c.isprintable()).strip() or "-"
    if len(clean.encode()) <= size_bytes:
        return clean
    return clean.encode()[: size_bytes - 3].decode("utf-8", "ignore") + "…"


def _short(keys: Keys) -> str:
    from ...report.sign import fingerprint

    return fingerprint(keys.signing.certificate_pem)[:19] + " …" if keys.signing else ""
