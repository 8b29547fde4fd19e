"""What does the shop sign so that everything before it is fixed? Three lines, in a published form.

    kelderbeck-basin.example/ledger                       the log's name (origin)
    4712                                               how many events
    CsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=       the root over them, base64

as a signed note (note.py). Who keeps one of these — a tablet, a second machine, a printed certificate — is a
witness: later the log must be a continuation of it, or it was changed (witness.py).

References
----------
C2SP tlog-checkpoint (github.com/C2SP/C2SP, at 2793893).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from ..basis.errors import Unreadable
from ..basis.sentences import say
from .note import Note, NoteKey, _b64, _bytes, open_note, sign_note
from .tree import root

_SIZE = re.compile(r"(0|[1-9][0-9]{0,14})\Z")


@dataclass(frozen=True)
class Checkpoint:
    """The state of a log: its name, how many events it holds, the root over them."""

    origin: str
    size: int
    root: bytes

    @property
    def text(self) -> str:
        """The three lines that are signed."""
        return f"{self.origin}\n{self.size}\n{_b64(self.root)}\n"


def make_checkpoint(origin: str, leaves: Sequence[bytes], seed: bytes) -> str:
    """A signed checkpoint over the leaf hashes of a log; the key bears the log's name."""
    return sign_checkpoint(Checkpoint(origin, len(leaves), root(leaves)), seed)


def sign_checkpoint(point: Checkpoint, seed: bytes) -> str:
    """The checkpoint, signed by the key that bears the log's name."""
    return sign_note(point.text, point.origin, seed)


def open_checkpoint(note: str | bytes, keys: Sequence[NoteKey], *, all_known: bool = False) -> tuple[Checkpoint, Note]:
    """Check a signed checkpoint.

    Raises
    ------
    RecordBroken
        No trusted key signed it, or a signature does not hold.
    Unreadable
        It is not a checkpoint.
    """
    opened = open_note(note, keys, all_known=all_known)
    return read_checkpoint(opened.text), opened


def read_checkpoint(text: str) -> Checkpoint:
    """The three lines, without any signature. Other lines are refused: no log of ours writes them.

    Raises
    ------
    Unreadable
        It is not a checkpoint.
    """
    lines = text.split("\n")
    raw = _bytes(lines[2]) if len(lines) == 4 else None
    if len(lines) != 4 or lines[3] or not lines[0] or not _SIZE.match(lines[1]) or raw is None or len(raw) != 32:
        raise Unreadable("checkpoint", say("record.checkpoint_form"))
    return Checkpoint(lines[0], int(lines[1]), raw)
