"""How can one hash stand for all events of a shop, so that one event can be shown without the others?

The Merkle tree of RFC 6962: the leaf of an event is SHA-256(0x00 ‖ its bytes), a node SHA-256(0x01 ‖ left ‖
right), split at the largest power of two below the size. A proof that one event is in a tree of 100 000
takes 17 hashes; so does a proof that an older tree is the beginning of a newer one.

>>> leaves = [leaf_hash(bytes([n])) for n in range(5)]
>>> proof = inclusion(leaves, 3)
>>> root_from(leaves[3], 3, 5, proof) == root(leaves)
True

Everything is computed from the leaf hashes; no tree is stored.

References
----------
RFC 6962, Certificate Transparency, 2013, section 2.1; RFC 9162, 2021, sections 2.1.3.2 and 2.1.4.2 (how
proofs are checked).
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence

from ..basis.errors import OutOfRange, RecordBroken
from ..basis.sentences import say

EMPTY = hashlib.sha256(b"").digest()


def leaf_hash(entry: bytes) -> bytes:
    """The leaf of an event's bytes."""
    return hashlib.sha256(b"\0" + entry).digest()


def root(leaves: Sequence[bytes]) -> bytes:
    """The root over leaf hashes, 32 bytes; SHA-256 of nothing for an empty tree."""
    if not leaves:
        return EMPTY
    level = list(leaves)
    while len(level) > 1:
        level = _above(level)
    return level[0]


def roots(leaves: Sequence[bytes], sizes: Iterable[int]) -> dict[int, bytes]:
    """The roots over the first so many leaves, for many sizes in one walk.

    Raises
    ------
    OutOfRange
        A size beyond the number of leaves.
    """
    wanted = set(sizes)
    beyond = [size for size in wanted if not 0 <= size <= len(leaves)]
    if beyond:
        raise OutOfRange("size", say("record.tree_too_large", size=beyond[0], n=len(leaves)))
    found = {0: EMPTY} if 0 in wanted else {}
    whole: list[bytes] = []  # the roots of the full trees that the leaves so far are made of, largest first
    for count, leaf in enumerate(leaves[: max(wanted, default=0)], 1):
        whole.append(leaf)
        trailing = count
        while trailing % 2 == 0:
            right = whole.pop()
            whole[-1] = _node(whole[-1], right)
            trailing //= 2
        if count in wanted:
            top = whole[-1]
            for left in whole[-2::-1]:
                top = _node(left, top)
            found[count] = top
    return found


def inclusion(leaves: Sequence[bytes], index: int) -> list[bytes]:
    """The hashes that lead from leaf ``index`` (from 0) to the root, leaf's neighbour first.

    Raises
    ------
    OutOfRange
        No such leaf.
    """
    if not 0 <= index < len(leaves):
        raise OutOfRange("index", say("record.leaf_missing", index=index, n=len(leaves)))
    level, proof = list(leaves), []
    while len(level) > 1:
        neighbour = index ^ 1
        if neighbour < len(level):
            proof.append(level[neighbour])
        level, index = _above(level), index // 2
    return proof


def root_from(leaf: bytes, index: int, size: int, proof: Sequence[bytes]) -> bytes:
    """The root that a leaf and its inclusion proof give.

    Raises
    ------
    RecordBroken
        The proof has not the length that index and size demand.
    """
    if not 0 <= index < size:
        raise RecordBroken("proof", say("record.proof_leaf_missing", index=index, size=size))
    left = list(proof)
    node, last = leaf, size - 1
    while last:
        if index % 2 or index != last:
            if not left:
                raise RecordBroken("proof", say("record.inclusion_too_short"))
            other = left.pop(0)
            node = _node(other, node) if index % 2 else _node(node, other)
        index, last = index // 2, last // 2
    if left:
        raise RecordBroken("proof", say("record.inclusion_too_long"))
    return node


def consistency(leaves: Sequence[bytes], old: int) -> list[bytes]:
    """The hashes that show the first ``old`` leaves to be the beginning of all ``leaves``.

    Raises
    ------
    OutOfRange
        ``old`` is not between 0 and the size.
    """
    if not 0 <= old <= len(leaves):
        raise OutOfRange("old", say("record.tree_start_missing", n=len(leaves), old=old))
    if old in (0, len(leaves)):
        return []
    return _consistency(leaves, old, True)


def check_consistency(old: int, new: int, old_root: bytes, new_root: bytes, proof: Sequence[bytes]) -> None:
    """Whether the tree of ``new`` leaves continues that of ``old`` leaves.

    Raises
    ------
    RecordBroken
        It does not: something before was changed, or the tree has become smaller.
    """
    forked = RecordBroken("proof", say("record.log_not_continued", new=new, old=old))
    if old > new:
        raise RecordBroken("proof", say("record.log_shortened", new=new, old=old))
    if old == new or old == 0:
        if proof or (old == new and old_root != new_root) or (old == 0 and old_root != EMPTY):
            raise forked
        return
    left = list(proof)
    index, last = old - 1, new - 1
    while index % 2:
        index, last = index // 2, last // 2
    if old & (old - 1) == 0:  # a power of two is its own first node
        old_node = new_node = old_root
    else:
        if not left:
            raise forked
        old_node = new_node = left.pop(0)
    while last:
        if index % 2 or index != last:
            if not left:
                raise forked
            other = left.pop(0)
            if index % 2:
                old_node, new_node = _node(other, old_node), _node(other, new_node)
            else:
                new_node = _node(new_node, other)
        index, last = index // 2, last // 2
    if left or old_node != old_root or new_node != new_root:
        raise forked


def _node(left: bytes, right: bytes) -> bytes:
    return hashlib.sha256(b"\1" + left + right).digest()


def _above(level: list[bytes]) -> list[bytes]:
    """The next level; an odd last node moves up as it is, which is RFC 6962's split."""
    sha = hashlib.sha256
    pairs = [sha(b"\1" + level[n] + level[n + 1]).digest() for n in range(0, len(level) - 1, 2)]
    return [*pairs, level[-1]] if len(level) % 2 else pairs


def _consistency(leaves: Sequence[bytes], old: int, whole: bool) -> list[bytes]:
    size = len(leaves)
    if old == size:
        return [] if whole else [root(leaves)]
    split = 1 << (size - 1).bit_length() - 1
    if old <= split:
        return [*_consistency(leaves[:split], old, whole), root(leaves[split:])]
    return [*_consistency(leaves[split:], old - split, False), root(leaves[:split])]
