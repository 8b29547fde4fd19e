"""Does this certificate or record still say what it said? Checked offline, from the file alone."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from ..basis.errors import RecordBroken, Unreadable
from ..job.judge import Outcome
from ..report.from_job import TITLES
from .files import read_bytes
from .records import replayed

FILE_MAX_BYTES = 200_000_000


def verify_file(path: Path | str) -> dict[str, Any]:
    """Check a ``certificate.pdf`` or a ``record.json``.

    Returns
    -------
    dict
        ``file``, ``sentence``, ``verdict``, ``job``, ``events``, ``head``, ``record_sha256``.

    Raises
    ------
    RecordBroken
        What does not hold, by name.
    Missing, Unreadable
        No such file, or neither PDF nor record.
    """
    raw = read_bytes(path, what="The file to verify", field=str(path), size_max_bytes=FILE_MAX_BYTES)
    if raw[:5] == b"%PDF-":
        return {"file": str(path)} | _certificate(raw, str(path))
    if raw[:1] in (b"{", b"[") or str(path).endswith(".json"):
        return {"file": str(path)} | _record(raw)
    raise Unreadable(str(path), f"'{path}' is neither a certificate (PDF) nor a record (JSON). Name one of them.")


def _record(raw: bytes) -> dict[str, Any]:
    held, outcome, _ = replayed(raw)
    return _plain(outcome, held) | {
        "sentence": f"Record {held.job} holds: {held.events} events in an unbroken chain (head {held.head[:16]}), and its own "
        f"procedure gives the verdict it states, {_word(outcome)}. {_LIMITS}",
    }


def _certificate(raw: bytes, name: str) -> dict[str, Any]:
    inside, printed = _opened(raw, name)
    held, outcome, judged = replayed(inside)
    wanted = [TITLES[outcome.verdict], judged.body.certificate, held.digest[:32]]
    for text in wanted:
        if text not in printed:
            raise RecordBroken(
                "page", f"The page of '{name}' does not carry '{text}', which its record demands. Page and record do not "
                "belong together; ask the issuer for the original.",
            )
    return _plain(outcome, held) | {
        "certificate": judged.body.certificate,
        "sentence": f"Certificate {judged.body.certificate} holds: its record of {held.events} events is unbroken (head "
        f"{held.head[:16]}), the procedure inside gives the verdict it states, {_word(outcome)}, and the page names this "
        f"record. {_LIMITS}",
    }


_LIMITS = (
    "Not checked: whether what was typed was read rightly, and whether the whole was written anew before you first saw "
    "its head."
)


def _word(outcome: Outcome) -> str:
    return outcome.verdict.replace("_", " ")


def _plain(outcome: Outcome, held: Any) -> dict[str, Any]:
    return {"job": held.job, "verdict": outcome.verdict, "events": held.events, "head": held.head,
            "record_sha256": held.digest}


def _opened(raw: bytes, name: str) -> tuple[bytes, str]:
    """The attached record and all printed words, spaces squeezed out."""
    import io

    from pypdf import PdfReader
    from pypdf.errors import PyPdfError

    try:
        reader = PdfReader(io.BytesIO(raw), strict=False)
        found = [bytes(content) for title, contents in reader.attachments.items() if title == "record.json"
                 for content in contents]
        printed = "\n".join(page.extract_text() for page in reader.pages)
    except (PyPdfError, ValueError, KeyError, TypeError, IndexError, AttributeError, RecursionError, AssertionError, OSError,
            NotImplementedError, EOFError, OverflowError) as error:
        raise RecordBroken("pdf", f"'{name}' cannot be read as a certificate: {str(error)[:120]}. It is damaged.") from None
    if len(found) != 1:
        raise RecordBroken(
            "pdf", f"'{name}' carries {len(found)} attachments called record.json; a certificate carries exactly one."
        )
    return found[0], printed
