"""Checks that a certificate or record still says what it said: offline, from the file alone."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

from ...basis.errors import RecordBroken, Unreadable
from ...basis.sentences import say
from ...record.replay import insist
from ...record.rotation import SHOP
from ...record.verify import Verified, verify
from ...report.from_job import TITLES
from ..files import read_bytes, write_whole
from .check_document import (
    READ_RIGHT,
    WRITTEN_ANEW,
    Found,
    Given,
    check_bytes,
    check_claim_text,
    check_log,
    check_place,
    check_signature,
    check_witness,
    keys_known,
    said_since,
    shop_chain,
)
from .newer_entries import Since, since
from .page_tie import untied
from .records import Replayed, replayed

FILE_MAX_BYTES = 200_000_000


def verify_file(path: Path | str, *, at_hand: Given | None = None) -> dict[str, Any]:
    """Check a ``certificate.pdf``, a ``record.json``, a whole log (``log.jsonl``), or a square code's text.

    Parameters
    ----------
    path : Path or str
        A file, or the text of a square code itself (it begins with ``SE1|``).
    at_hand : Given, optional
        Keys, proof and witness to check with; see ``check_document.py``.

    Returns
    -------
    dict
        ``file`` and ``sentence``; of a job also ``verdict``, ``job``, ``events``, ``head``, ``record_sha256``, and ``counts``:
        whether the ledger at hand has anything later that changes it (None without one; see ``newer_entries.py``). Of a page
        also ``page_proved``: whether anything shows that it belongs to the record inside; if not, ``page_because`` says why,
        in the words with which ``sentence`` begins (see ``page_tie.py``).

    Raises
    ------
    RecordBroken
        What does not hold, by name.
    Missing, Unreadable
        No such file, or nothing that can be verified.
    """
    at_hand = at_hand or Given()
    if str(path).startswith("SE1|"):
        return {"file": "square code"} | check_claim_text(str(path), at_hand)
    raw = read_bytes(path, what="The file to verify", field=str(path), size_max_bytes=FILE_MAX_BYTES)
    beside = Path(path).with_suffix(".proof")
    if at_hand.proof is None and beside.is_file():
        at_hand = replace(at_hand, proof=beside)
    return verify_bytes(raw, str(path), at_hand=at_hand)


def verify_bytes(raw: bytes, name: str, *, at_hand: Given) -> dict[str, Any]:
    """As ``verify_file``, of a file's bytes; ``name`` is what the answer calls it, and nothing is read under it."""
    if raw[:5] == b"%PDF-":
        return {"file": name} | _certificate(raw, name, at_hand)
    if raw[:4] == b"SE1|":
        return {"file": name} | check_claim_text(raw.decode("utf-8", "replace"), at_hand)
    if raw.startswith(b'{"at":'):
        return {"file": name} | check_log(raw, name, at_hand)
    if raw[:1] in (b"{", b"[") or name.endswith(".json"):
        return {"file": name} | _record(raw, at_hand)
    raise Unreadable(name, say("evidence.document_kind_unknown", path=name))


def verify_page() -> bytes:
    """``verify.html``, the second implementation in one file, for outsiders."""
    from importlib.resources import files

    return files("soundedge.record").joinpath("verify.html").read_bytes()


def write_page(path: Path) -> None:
    """Write ``verify.html``, to hand over beside a certificate."""
    write_whole(path, verify_page())


def _record(raw: bytes, at_hand: Given) -> dict[str, Any]:
    if verify(raw).job == SHOP:
        return {"job": SHOP, "sentence": shop_chain(raw)}
    again = replayed(raw, persons=at_hand.persons)
    found = Found([again.held.core, _rules(again)], [*_not_judged(again), READ_RIGHT, WRITTEN_ANEW])
    return _plain(again) | said_since(_since(again.held, at_hand), found)


def _certificate(raw: bytes, name: str, at_hand: Given) -> dict[str, Any]:
    inside, pages = _opened(raw, name)
    found = Found()
    signature = check_signature(raw, name, at_hand, inside, found)
    again = replayed(inside["record.json"], persons=at_hand.persons)
    held, number = again.held, str(again.word["certificate"])
    missing = _not_printed((TITLES.get(again.verdict, ""), number, held.digest[:32]), pages, name)
    if missing:
        raise RecordBroken("page", say("evidence.page_text_missing", name=name, text=missing[0]))
    last = list(held.entries())[-1]
    proofs = [check_place(name, last, at_hand, inside, found), check_bytes(raw, name, held.digest, at_hand, inside, found)]
    check_witness(proofs, at_hand, inside, found)
    asked = _since(held, at_hand)
    why = untied(raw, name, held.digest, signature=signature, by_proof=proofs[1] is not None and keys_known(at_hand, inside),
                 issued=asked.issued if asked else (), key_named=at_hand.named)
    found.not_checked[:0] = [*_not_judged(again), READ_RIGHT]
    page = why or f"Certificate {number} holds and names its record.{'' if signature else ' The page is not signed.'}"
    found.checked[:0] = [page, held.core, _rules(again)]
    told = {"certificate": number, "page_proved": why is None} | ({"page_because": why} if why else {})
    return _plain(again) | told | said_since(asked, found)


def _rules(again: Replayed) -> str:
    """The job judged again, and for a release the rules of who may do what, asked of the record alone.

    Raises RecordBroken when the record claims a release under which a rule was broken.
    """
    held, said = again.held, again.said
    if held.signed:
        said += f" Personal signatures checked against keys at hand and good: {held.signatures_checked} of {held.signed}."
    return f"{said} {insist(held).sentence}" if again.verdict == "released" else said


def _not_judged(again: Replayed) -> list[str]:
    """What a record by another edition of the rules is not asked."""
    return [] if again.outcome is not None else ["whether the rules by which it was judged give that verdict"]


def _since(held: Verified, at_hand: Given) -> Since | None:
    return since(at_hand.data, held.job, [entry.digest for entry in held.entries()]) if at_hand.data else None


def _plain(again: Replayed) -> dict[str, Any]:
    held = again.held
    return {"job": held.job, "verdict": again.verdict, "events": held.events, "head": held.head, "record_sha256": held.digest}


def _opened(raw: bytes, name: str) -> tuple[dict[str, bytes], list[Any]]:
    """The attachments by name, each exactly once, and the pages, each of which can be unpacked."""
    import io

    from pypdf import PdfReader

    with _readable(name):
        reader = PdfReader(io.BytesIO(raw), strict=False)
        found = [(title, bytes(content)) for title, contents in reader.attachments.items() for content in contents]
        pages = list(reader.pages)
        for page in pages:
            if (drawn := page.get_contents()) is not None:
                drawn.get_data()
    titles = [title for title, _ in found]
    for title in {"record.json", *titles}:
        if titles.count(title) != 1:
            raise RecordBroken("pdf", say("evidence.attachment_count", name=name, n=titles.count(title), title=title[:60]))
    return dict(found), pages


def _not_printed(wanted: Sequence[str], pages: Sequence[Any], name: str) -> list[str]:
    """Which of the wanted words stand on no page. First by the pages' text alone, without what is drawn between: that is quick,
    and finds them on the first page of every certificate; what is not found so is looked for in the whole of each page."""
    left = list(wanted)
    with _readable(name):
        for read in (_text_alone, _all_text):
            for page in pages:
                if not left:
                    return left
                text = read(page)
                left = [one for one in left if one not in text]
    return left


def _all_text(page: Any) -> str:
    return str(page.extract_text())


def _text_alone(page: Any) -> str:
    """A page's text by its text objects alone (BT to ET, ISO 32000-2, 9.4): nothing that is drawn is taken apart."""
    from pypdf.generic import DecodedStreamObject, NameObject

    drawn = page.get_contents()
    if drawn is None:
        return ""
    texts, contents, key = DecodedStreamObject(), page.raw_get("/Contents"), NameObject("/Contents")
    texts.set_data(b"\n".join(re.findall(rb"\bBT\b.*?\bET\b", drawn.get_data(), re.DOTALL)))
    try:
        page[key] = texts
        return str(page.extract_text())
    finally:
        page[key] = contents


@contextmanager
def _readable(name: str) -> Iterator[None]:
    """What a PDF library may raise at any bytes becomes one refusal."""
    from pypdf.errors import PyPdfError

    try:
        yield
    except (PyPdfError, ValueError, KeyError, TypeError, IndexError, AttributeError, RecursionError, AssertionError, OSError,
            NotImplementedError, EOFError, OverflowError) as error:
        raise RecordBroken("pdf", say("evidence.certificate_unreadable", name=name, why=str(error)[:120])) from None
