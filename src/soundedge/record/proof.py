"""How can one event be shown to be in the shop's log, without the log and without the shop?

One text file, ``C-2031-014.tlog-proof``, about 1 kB:

    c2sp.org/tlog-proof@v1
    extra eyJhdCI6…                     the event's own bytes, base64
    index 4711                          its place in the log, from 0
    gSKyXoYZUgZ6jduWYrkDOARinOMGJveXjgMkBTcdPlQ=
    …                                   the hashes from the leaf to the root

    kelderbeck-basin.example/ledger        the signed checkpoint
    4712
    …

With it a stranger who holds the shop's public key (from a printed certificate) checks the event offline.
The finished certificate's own digest is kept this way: it cannot be inside the PDF, so an event
``certificate.issued`` holds it, and the proof of that event is handed over beside the PDF.

References
----------
C2SP tlog-proof (github.com/C2SP/C2SP, at 0065ea5).
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from ..basis.errors import RecordBroken, Unreadable
from ..basis.sentences import say
from .canonical import fast_text
from .checkpoint import Checkpoint, open_checkpoint, read_checkpoint
from .note import Note, NoteKey, _b64, _bytes
from .tree import inclusion, leaf_hash, root_from

FIRST_LINE = "c2sp.org/tlog-proof@v1"
_INDEX = re.compile(r"index (0|[1-9][0-9]{0,14})\Z")
PROOF_MAX_BYTES = 6_000_000


@dataclass(frozen=True)
class Proven:
    """An event shown to be in a log: its bytes, its place, the checkpoint and who signed that."""

    entry: bytes
    index: int
    checkpoint: Checkpoint
    note: Note

    @property
    def event(self) -> dict[str, Any]:
        """The event as values."""
        event: dict[str, Any] = json.loads(self.entry)
        return event

    @property
    def sentence(self) -> str:
        """What is proven, in one sentence."""
        event, seen = self.event, ", ".join(signature.name for signature in self.note.signed)
        return (
            f"Entry {event['no']} ({event['kind']}) of job {event['job']} is number {self.index + 1} of "
            f"{self.checkpoint.size} in the log {self.checkpoint.origin}, signed by {seen}. "
            "Not checked: anything after that checkpoint; ask for a newer one."
        )


def make_proof(entry: bytes, index: int, leaves: Sequence[bytes], checkpoint: str) -> str:
    """The proof text of one event.

    Parameters
    ----------
    entry : bytes
        The event's bytes.
    index : int
        Its place in the log, from 0.
    leaves : sequence of bytes
        The leaf hashes the checkpoint was made over.
    checkpoint : str
        The signed checkpoint, with any witness's signature.
    """
    assert leaves[index] == leaf_hash(entry), index
    return proof_text(entry, index, inclusion(leaves, index), checkpoint)


def proof_text(entry: bytes, index: int, nodes: Sequence[bytes], checkpoint: str) -> str:
    """The proof text of one event from the hashes that lead to the checkpoint's root.

    Raises
    ------
    RecordBroken
        They do not lead there: such a proof is not handed out.
    """
    point = read_checkpoint(checkpoint.partition("\n\n")[0] + "\n")
    if root_from(leaf_hash(entry), index, point.size, nodes) != point.root:
        raise RecordBroken("proof", say("record.entry_not_in_log", number=index + 1, origin=point.origin))
    lines = [FIRST_LINE, f"extra {_b64(entry)}", f"index {index}", *(_b64(node) for node in nodes)]
    return "\n".join(lines) + "\n\n" + checkpoint


def check_proof(proof: str | bytes, keys: Sequence[NoteKey], *, all_known: bool = False) -> Proven:
    """Check a proof with keys one trusts.

    Raises
    ------
    RecordBroken
        The event is not in the log the checkpoint speaks of, or the checkpoint does not hold.
    Unreadable
        It is not a proof of this form.
    """
    wrong = Unreadable("proof", say("record.proof_form", first_line=FIRST_LINE))
    try:
        text = proof.decode("utf-8") if isinstance(proof, bytes) else proof
        size = len(text.encode("utf-8"))
    except UnicodeError:
        raise wrong from None
    if size > PROOF_MAX_BYTES:
        raise wrong
    head, _, checkpoint = text.partition("\n\n")
    lines = head.split("\n")
    if len(lines) < 3 or lines[0] != FIRST_LINE or not lines[1].startswith("extra ") or not checkpoint:
        raise wrong
    entry, index = _bytes(lines[1][6:]), _INDEX.match(lines[2])
    nodes = [_bytes(line) for line in lines[3:]]
    if entry is None or index is None or any(node is None or len(node) != 32 for node in nodes):
        raise wrong
    point, note = open_checkpoint(checkpoint, keys, all_known=all_known)
    place = int(index[1])
    if root_from(leaf_hash(entry), place, point.size, [node for node in nodes if node]) != point.root:
        raise RecordBroken("proof", say("record.entry_not_in_log", number=place + 1, origin=point.origin))
    try:
        event = json.loads(entry)
        sound = isinstance(event, dict) and fast_text(event).encode() == entry and {"no", "kind", "job"} <= set(event)
    except (ValueError, RecursionError):
        sound = False
    if not sound:
        raise RecordBroken("proof", say("record.proven_not_an_entry"))
    return Proven(entry, place, point, note)


def check_certificate(pdf: bytes, proof: str | bytes, keys: Sequence[NoteKey]) -> Proven:
    """Check that a finished certificate is, byte for byte, the one that was issued.

    Parameters
    ----------
    pdf : bytes
        The whole file.
    proof : str or bytes
        The detached proof handed over beside it; its event must be ``certificate.issued``.

    Raises
    ------
    RecordBroken
        Another file, or another event.
    """
    proven = check_proof(proof, keys)
    event = proven.event
    if event["kind"] != "certificate.issued":
        raise RecordBroken("proof", say("record.proof_of_another_kind", kind=event['kind']))
    if event["body"].get("pdf_sha256") != hashlib.sha256(pdf).hexdigest():
        raise RecordBroken(
            "certificate", say("record.certificate_file_changed", certificate=str(event['body'].get('certificate'))[:60]),
        )
    return proven
