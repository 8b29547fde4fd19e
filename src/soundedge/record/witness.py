"""Has the log been changed since somebody outside last saw it?

A witness keeps the newest checkpoint it was shown. The log as it stands must be a continuation of it:

    smaller now               → rolled back: an old copy was put in place, or the tail was cut off
    same size, another root   → forked: something was changed, or two logs are being shown
    larger, not a continuation→ forked

The chain alone cannot see this; every tablet, second machine and printed certificate can.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from ..basis.errors import BenchError, RecordBroken
from ..basis.sentences import say
from .checkpoint import Checkpoint, open_checkpoint
from .note import NoteKey, cosign
from .tree import check_consistency, roots


class RolledBack(RecordBroken):
    """The log is smaller than a witness has seen it."""

    kind = "rolled_back"


class Forked(RecordBroken):
    """The log is not a continuation of what a witness has seen."""

    kind = "forked"


def compare(leaves: Sequence[bytes], seen: Iterable[tuple[str, Checkpoint]]) -> str:
    """Hold the log as it stands against every checkpoint that is kept anywhere.

    Parameters
    ----------
    leaves : sequence of bytes
        Leaf hashes of the log now.
    seen : iterable of (str, Checkpoint)
        Who keeps it ("tablet 3", "certificate KBW-2031-014") and what; signatures checked before.

    Returns
    -------
    str
        One sentence: up to where nothing was changed, and who says so.

    Raises
    ------
    RolledBack, Forked
        With the witness's name and the two sizes.
    """
    kept = list(seen)
    tops = roots(leaves, {point.size for _, point in kept if point.size <= len(leaves)})
    return continues(len(leaves), tops.__getitem__, kept)


def continues(size: int, root_at: Callable[[int], bytes], seen: Iterable[tuple[str, Checkpoint]]) -> str:
    """As ``compare``, of a log of ``size`` events whose roots are asked for: ``root_at`` so many events."""
    newest, names = 0, []
    for who, point in sorted(seen, key=lambda item: -item[1].size):
        if point.size > size:
            raise RolledBack("ledger", say("record.ledger_rolled_back", n=size, who=who, seen=point.size))
        if root_at(point.size) != point.root:
            raise Forked("ledger", say("record.ledger_forked", seen=point.size, who=who))
        newest = max(newest, point.size)
        names.append(who)
    if not names:
        return "No witness has seen this ledger yet; nobody can tell whether it was written anew."
    return f"Unchanged up to entry {newest} of {size}, seen by {', '.join(names[:6])}."


def disagree(one: Checkpoint, other: Checkpoint) -> bool:
    """Whether two checkpoints of the same size and log cannot both be true: two logs are being shown."""
    return one.origin == other.origin and one.size == other.size and one.root != other.root


def witness(
    kept: Checkpoint | None, shown: str, proof: Sequence[bytes], keys: Sequence[NoteKey],
    *, name: str, seed: bytes, time_s: int,
) -> tuple[Checkpoint, str]:
    """What a witness does when it is shown a new checkpoint: check that it continues, then co-sign and keep it.

    Parameters
    ----------
    kept : Checkpoint or None
        The newest one it has.
    shown : str
        The signed checkpoint it is shown.
    proof : sequence of bytes
        Consistency proof from ``kept`` to ``shown`` (tree.consistency).
    keys : sequence of NoteKey
        The log's keys.
    name, seed, time_s
        The witness's key name and seed, and its clock in seconds since 1970.

    Returns
    -------
    tuple
        The checkpoint to keep from now on, and the note with the witness's signature.

    Raises
    ------
    RolledBack, Forked
        The log does not continue what the witness keeps. It keeps the old one.
    RecordBroken
        The checkpoint is not signed by the log.
    """
    point, _ = open_checkpoint(shown, keys)
    if kept is not None:
        if kept.origin != point.origin:
            raise Forked("checkpoint", say("record.checkpoint_of_another_log", origin=point.origin[:60],
                                           watched=kept.origin[:60]))
        if point.size < kept.size:
            raise RolledBack("checkpoint", say("record.checkpoint_too_small", size=point.size, seen=kept.size))
        try:
            check_consistency(kept.size, point.size, kept.root, point.root, proof)
        except BenchError as fault:
            raise Forked("checkpoint", fault.message) from None
    return point, cosign(shown, name, seed, time_s=time_s)
