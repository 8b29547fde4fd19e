"""How can one hash stand for all events of a shop, so that one event can be shown without the others?

The Merkle tree of RFC 6962: the leaf of an event is SHA-256(0x00 ‖ its bytes), a node SHA-256(0x01 ‖ left ‖
right), split at the largest power of two below the size. A proof that one event is in a tree of 100 000
takes 17 hashes; so does a proof that an older tree is the beginning of a newer one.

>>> leaves = [leaf_hash(bytes([n])) for n in range(5)]
>>> proof = inclusion(leaves, 3)
>>> root_from(leaves[3], 3, 5, proof) == root(leaves)
True

From the leaf hashes alone everything follows. Whoever keeps the nodes of full parts too reads a few dozen of them for a proof
of any size (``path``, ``continuation``, ``root_of``): ``node(level, index)`` is the root over 2^level leaves, from leaf
index × 2^level on. What was made of kept nodes is checked before it is believed: ``root_from``, ``check_consistency``.

References
----------
RFC 6962, Certificate Transparency, 2013, section 2.1; RFC 9162, 2021, sections 2.1.3.2 and 2.1.4.2 (how
proofs are checked).
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Sequence

from ..basis.errors import OutOfRange, RecordBroken
from ..basis.sentences import say

EMPTY = hashlib.sha256(b"").digest()
Node = Callable[[int, int], bytes]


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


class Growing:
    """A tree to which leaves are added one by one; it holds the roots of its full parts only, largest first.

    >>> tree = Growing()
    >>> for n in range(5): tree.add(leaf_hash(bytes([n])))
    >>> len(tree.parts), tree.root == root([leaf_hash(bytes([n])) for n in range(5)])
    (2, True)
    """

    def __init__(self, size: int = 0, parts: Iterable[bytes] = ()) -> None:
        self.size, self.parts = size, list(parts)
        assert len(self.parts) == size.bit_count(), size

    def add(self, leaf: bytes) -> None:
        """One more leaf hash."""
        parts = self.parts
        parts.append(leaf)
        self.size = trailing = self.size + 1
        while trailing % 2 == 0:
            right = parts.pop()
            parts[-1] = hashlib.sha256(b"\1" + parts[-1] + right).digest()
            trailing //= 2

    @property
    def root(self) -> bytes:
        """The root over the leaves so far."""
        return _joined(self.parts)


def walked(leaves: Iterable[bytes], sizes: Iterable[int]) -> tuple[int, dict[int, bytes]]:
    """How many leaves there are, and the roots over the first so many, for all of ``sizes`` that there are and for the whole.

    One walk; of the leaves none is kept.
    """
    wanted, tree = set(sizes), Growing()
    found = {0: EMPTY}
    for leaf in leaves:
        tree.add(leaf)
        if tree.size in wanted:
            found[tree.size] = tree.root
    found[tree.size] = tree.root
    return tree.size, found


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
    found = walked(leaves[: max(wanted, default=0)], wanted)[1]
    return {size: found[size] for size in wanted}


def root_of(node: Node, size: int) -> bytes:
    """The root over the first ``size`` leaves, from kept nodes."""
    return _joined(full_parts(node, 0, size))


def full_parts(node: Node, start: int, end: int) -> list[bytes]:
    """The roots of the full parts that the leaves from ``start`` to before ``end`` are made of, largest first.

    ``start`` is a multiple of the smallest power of two not below ``end - start``, as it is wherever RFC 6962 splits.
    """
    found, left = [], end - start
    while left:
        level = left.bit_length() - 1
        found.append(node(level, start >> level))
        start, left = start + (1 << level), left - (1 << level)
    return found


def path(node: Node, index: int, size: int) -> list[bytes]:
    """As ``inclusion``, in the tree of the first ``size`` leaves, from kept nodes.

    Raises
    ------
    OutOfRange
        No such leaf.
    """
    if not 0 <= index < size:
        raise OutOfRange("index", say("record.leaf_missing", index=index, n=size))
    proof, start, end = [], 0, size
    while end - start > 1:
        middle = start + _split(end - start)
        if index < middle:
            proof.append(_joined(full_parts(node, middle, end)))
            end = middle
        else:
            proof.append(_joined(full_parts(node, start, middle)))
            start = middle
    return proof[::-1]


def continuation(node: Node, old: int, size: int) -> list[bytes]:
    """As ``consistency``, in the tree of the first ``size`` leaves, from kept nodes.

    Raises
    ------
    OutOfRange
        ``old`` is not between 0 and the size.
    """
    if not 0 <= old <= size:
        raise OutOfRange("old", say("record.tree_start_missing", n=size, old=old))
    if old in (0, size):
        return []
    proof, start, end = [], 0, size
    while old < end:
        middle = start + _split(end - start)
        if old <= middle:
            proof.append(_joined(full_parts(node, middle, end)))
            end = middle
        else:
            proof.append(_joined(full_parts(node, start, middle)))
            start = middle
    return proof[::-1] if start == 0 else [_joined(full_parts(node, start, end)), *proof[::-1]]


def inclusion(leaves: Sequence[bytes], index: int) -> list[bytes]:
    """The hashes that lead from leaf ``index`` (from 0) to the root, leaf's neighbour first.

    Raises
    ------
    OutOfRange
        No such leaf.
    """
    return path(_from_leaves(leaves), index, len(leaves))


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
    return continuation(_from_leaves(leaves), old, len(leaves))


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


def _joined(parts: Sequence[bytes]) -> bytes:
    """The root over full parts, largest first."""
    if not parts:
        return EMPTY
    top = parts[-1]
    for left in parts[-2::-1]:
        top = _node(left, top)
    return top


def _split(size: int) -> int:
    """The largest power of two below the size."""
    return 1 << (size - 1).bit_length() - 1


def _from_leaves(leaves: Sequence[bytes]) -> Node:
    return lambda level, index: root(leaves[index << level : (index + 1) << level])
