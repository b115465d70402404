"""The stranger's script against published tree hashes, and against the recursive definitions of RFC 6962.

Source of leaves, roots and paths: tests/published/tree_vectors.py. Path of index 5: its last two hashes are published;
the first is the hash of leaf 4, computed from the definition.
"""

from __future__ import annotations

import hashlib

import pytest

from plant.signing.check_record import consistent, included, leaf_hash, node_hash
from tests.published.tree_vectors import FIRST_OF_EIGHT, LEAVES, ROOTS, SIXTH_OF_EIGHT

pytestmark = pytest.mark.once


# The definitions, as RFC 6962 writes them: D[n] is split at k, the largest power of two below n.


def split(size: int) -> int:
    """k of RFC 6962, section 2.1."""
    return 1 << ((size - 1).bit_length() - 1)


def tree(leaves: list[bytes]) -> bytes:
    """MTH of RFC 6962, section 2.1."""
    if not leaves:
        return hashlib.sha256(b"").digest()
    if len(leaves) == 1:
        return hashlib.sha256(b"\x00" + leaves[0]).digest()
    k = split(len(leaves))
    return hashlib.sha256(b"\x01" + tree(leaves[:k]) + tree(leaves[k:])).digest()


def path(index: int, leaves: list[bytes]) -> list[bytes]:
    """PATH of RFC 6962, section 2.1.1."""
    if len(leaves) == 1:
        return []
    k = split(len(leaves))
    if index < k:
        return [*path(index, leaves[:k]), tree(leaves[k:])]
    return [*path(index - k, leaves[k:]), tree(leaves[:k])]


def proof(first: int, leaves: list[bytes], whole: bool = True) -> list[bytes]:
    """SUBPROOF of RFC 6962, section 2.1.2."""
    if first == len(leaves):
        return [] if whole else [tree(leaves)]
    k = split(len(leaves))
    if first <= k:
        return [*proof(first, leaves[:k], whole), tree(leaves[k:])]
    return [*proof(first - k, leaves[k:], False), tree(leaves[:k])]


def test_the_hash_of_an_empty_leaf_is_the_published_root_of_one() -> None:
    """SHA-256 of the byte 00."""
    assert leaf_hash(b"") == ROOTS[1]


def test_two_leaves_give_the_published_root() -> None:
    """SHA-256 of 01 and the two leaf hashes."""
    assert node_hash(leaf_hash(LEAVES[0]), leaf_hash(LEAVES[1])) == ROOTS[2]


@pytest.mark.parametrize("size", range(9))
def test_the_definitions_give_the_published_roots(size: int) -> None:
    """The recursive definition, written out here, agrees with the table for 0 to 8 leaves."""
    assert tree(LEAVES[:size]) == ROOTS[size]


def test_the_published_path_of_the_first_leaf_is_accepted() -> None:
    """Index 0 of 8."""
    assert included(leaf_hash(LEAVES[0]), 0, 8, FIRST_OF_EIGHT, ROOTS[8])


def test_the_published_path_of_the_sixth_leaf_is_accepted() -> None:
    """Index 5 of 8."""
    assert included(leaf_hash(LEAVES[5]), 5, 8, SIXTH_OF_EIGHT, ROOTS[8])


def test_the_published_consistency_of_1_and_8_is_accepted() -> None:
    """From one leaf to eight: the same three hashes as the path of index 0."""
    assert consistent(1, ROOTS[1], 8, ROOTS[8], FIRST_OF_EIGHT)


def test_published_paths_are_refused_for_any_other_place() -> None:
    """Neither another index, nor leaf, nor root, nor order passes, nor a size that gives the tree another shape here.

    (Of 7 leaves the sixth has the same shape of path: the size is bound by the signed head, not by the path.)
    """
    leaf = leaf_hash(LEAVES[5])
    assert not any(included(leaf, index, 8, SIXTH_OF_EIGHT, ROOTS[8]) for index in range(-1, 10) if index != 5)
    assert not any(included(leaf, 5, size, SIXTH_OF_EIGHT, ROOTS[8]) for size in (0, 4, 5, 6, 9, 16, 2**40))
    assert not included(leaf_hash(LEAVES[4]), 5, 8, SIXTH_OF_EIGHT, ROOTS[8])
    assert not included(leaf, 5, 8, SIXTH_OF_EIGHT, ROOTS[7])
    assert not included(leaf, 5, 8, SIXTH_OF_EIGHT[::-1], ROOTS[8])
    assert not included(leaf, 5, 8, SIXTH_OF_EIGHT[:2], ROOTS[8])
    assert not included(leaf, 5, 8, [*SIXTH_OF_EIGHT, ROOTS[1]], ROOTS[8])


@pytest.mark.parametrize("size", [1, 2, 3, 5, 7, 8, 9, 16, 21, 33])
def test_every_path_of_the_definition_is_accepted_at_its_own_place_only(size: int) -> None:
    """For each leaf of trees of many shapes; the next index is refused."""
    leaves = [bytes([number]) for number in range(size)]
    root = tree(leaves)
    for index in range(size):
        steps = path(index, leaves)
        assert included(leaf_hash(leaves[index]), index, size, steps, root)
        assert not included(leaf_hash(leaves[index]), index + 1, size, steps, root)


@pytest.mark.parametrize("second", [1, 2, 3, 6, 7, 8, 13, 16, 33])
def test_every_consistency_of_the_definition_is_accepted_and_no_other(second: int) -> None:
    """For each earlier size; a wrong old root, a wrong size or a missing hash is refused."""
    leaves = [bytes([number]) for number in range(second)]
    root = tree(leaves)
    for first in range(1, second + 1):
        steps, old = proof(first, leaves), tree(leaves[:first])
        assert consistent(first, old, second, root, steps)
        assert not consistent(first, tree([b"x", *leaves[1:first]]), second, root, steps)
        if first < second:
            assert not consistent(first, old, second, root, steps[:-1])
            assert not consistent(first, old, second, root, [*steps, root])
            assert not consistent(first + 1, old, second, root, steps)


def test_nothing_is_consistent_with_a_shorter_ledger() -> None:
    """A second size below the first is refused."""
    assert not consistent(8, ROOTS[8], 7, ROOTS[7], [])
