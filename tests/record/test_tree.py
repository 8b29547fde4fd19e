"""Does the tree stand as RFC 6962 draws it, and do proofs hold for what is true and for nothing else?"""

import hashlib
import random

import pytest

from soundedge.basis.errors import BenchError, OutOfRange, RecordBroken
from soundedge.record.tree import EMPTY, check_consistency, consistency, inclusion, leaf_hash, root, root_from, roots

# The reference inputs and roots of Certificate Transparency for RFC 6962 hashing, and two proofs between them.
# Second hand: as printed in the public transparency-dev/merkle test data (testonly/constants.go), read there.
LEAVES = [bytes.fromhex(text) for text in (
    "", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f")]
ROOTS = [
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
]
SIX_TO_EIGHT = ["0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a",
                "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0",
                "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7"]
TWO_TO_FIVE = ["5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
               "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b"]


def some(count, seed=0):
    return [leaf_hash(f"{seed}.{n}".encode()) for n in range(count)]


def test_the_roots_are_the_published_ones():
    hashed = [leaf_hash(leaf) for leaf in LEAVES]

    assert [root(hashed[:n]).hex() for n in range(1, 9)] == ROOTS
    assert root([]) == EMPTY == hashlib.sha256(b"").digest()


def test_the_proofs_are_the_published_ones():
    hashed = [leaf_hash(leaf) for leaf in LEAVES]

    assert [node.hex() for node in consistency(hashed, 6)] == SIX_TO_EIGHT
    assert [node.hex() for node in consistency(hashed[:5], 2)] == TWO_TO_FIVE
    assert [node.hex() for node in inclusion(hashed[:3], 2)] == [ROOTS[1]]


def test_many_roots_in_one_walk_are_those_of_many_walks():
    leaves = some(130)

    assert roots(leaves, range(131)) == {size: root(leaves[:size]) for size in range(131)}
    assert roots(leaves, []) == {} and roots(leaves, [64])[64] == root(leaves[:64])
    with pytest.raises(OutOfRange):
        roots(leaves, [131])


def test_another_tree_library_gives_the_same_roots_and_accepts_our_proofs():
    """Oracle: pymerkle (in tests only), an independent implementation of the same tree."""
    from pymerkle import InmemoryTree, verify_consistency, verify_inclusion
    from pymerkle.proof import MerkleProof

    tree = InmemoryTree(algorithm="sha256")
    hashed = []
    for n in range(40):
        data = f"entry {n}".encode()
        tree.append_entry(data)
        hashed.append(leaf_hash(data))

        assert tree.get_root() == root(hashed)
    for n in (1, 2, 3, 7, 8, 21, 40):
        theirs = tree.prove_inclusion(n, 40)
        assert isinstance(theirs, MerkleProof)
        verify_inclusion(hashed[n - 1], root(hashed), theirs)
        path = [bytes.fromhex(node) for node in theirs.serialize()["path"]]
        assert sorted(path[1:]) == sorted(inclusion(hashed, n - 1))
        verify_consistency(root(hashed[:n]), root(hashed), tree.prove_consistency(n, 40))


def test_every_leaf_of_every_tree_up_to_40_is_shown_in_its_place_and_in_no_other():
    for size in range(1, 41):
        leaves = some(size)
        top = root(leaves)
        for index in range(size):
            proof = inclusion(leaves, index)

            assert root_from(leaves[index], index, size, proof) == top
            assert len(proof) <= (size - 1).bit_length()
            other = (index + 1) % size
            if size > 1:
                try:
                    assert root_from(leaves[index], other, size, proof) != top
                except RecordBroken:
                    pass
                assert root_from(leaves[other], index, size, proof) != top


def test_every_older_tree_up_to_40_is_shown_to_be_the_beginning():
    for size in range(1, 41):
        leaves = some(size)
        for old in range(size + 1):
            check_consistency(old, size, root(leaves[:old]), root(leaves), consistency(leaves, old))


def test_a_tree_with_one_other_leaf_is_never_shown_to_be_a_continuation():
    dice = random.Random(3)
    for _ in range(300):
        size = dice.randrange(2, 60)
        old = dice.randrange(1, size)
        leaves = some(size)
        changed = list(leaves)
        changed[dice.randrange(old)] = leaf_hash(b"forged")
        with pytest.raises(RecordBroken):
            check_consistency(old, size, root(leaves[:old]), root(changed), consistency(changed, old))


def test_a_smaller_tree_is_named_as_smaller():
    leaves = some(9)

    with pytest.raises(RecordBroken, match="has 5 entries now and had 9"):
        check_consistency(9, 5, root(leaves), root(leaves[:5]), [])


def test_every_bit_of_a_proof_counts():
    leaves = some(21)
    proof = inclusion(leaves, 13)
    for n in range(len(proof)):
        for bit in range(256):
            bad = list(proof)
            bad[n] = (int.from_bytes(bad[n], "big") ^ (1 << bit)).to_bytes(32, "big")
            assert root_from(leaves[13], 13, 21, bad) != root(leaves)
    for wrong in (proof[:-1], [*proof, proof[0]]):
        with pytest.raises(RecordBroken):
            root_from(leaves[13], 13, 21, wrong)


def test_places_that_are_not_there_are_refused():
    for call in (lambda: inclusion(some(3), 3), lambda: consistency(some(3), 4)):
        with pytest.raises(OutOfRange):
            call()
    with pytest.raises(BenchError):
        root_from(some(1)[0], 5, 3, [])
