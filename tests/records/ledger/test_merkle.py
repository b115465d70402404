"""The tree against a second, naive implementation written straight from RFC 6962 section 2.1."""

from __future__ import annotations

import hashlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from records.ledger import merkle
from records.ledger.merkle import ProofFailed, Span

pytestmark = pytest.mark.once

sizes = st.integers(1, 600)


def leaves(count: int) -> list[bytes]:
    """Leaf hashes of the texts 0, 1, 2 …"""
    return [merkle.leaf_hash(str(n).encode()) for n in range(count)]


def split(n: int) -> int:
    """The largest power of two smaller than n."""
    k = 1
    while k * 2 < n:
        k *= 2
    return k


def mth(hashes: list[bytes]) -> bytes:
    """MTH of section 2.1."""
    if not hashes:
        return hashlib.sha256().digest()
    if len(hashes) == 1:
        return hashes[0]
    k = split(len(hashes))
    return hashlib.sha256(b"\x01" + mth(hashes[:k]) + mth(hashes[k:])).digest()


def path(m: int, hashes: list[bytes]) -> list[bytes]:
    """PATH of section 2.1.1."""
    if len(hashes) == 1:
        return []
    k = split(len(hashes))
    if m < k:
        return [*path(m, hashes[:k]), mth(hashes[k:])]
    return [*path(m - k, hashes[k:]), mth(hashes[:k])]


def subproof(m: int, hashes: list[bytes], whole: bool) -> list[bytes]:
    """SUBPROOF of section 2.1.2."""
    n = len(hashes)
    if m == n:
        return [] if whole else [mth(hashes)]
    k = split(n)
    if m <= k:
        return [*subproof(m, hashes[:k], whole), mth(hashes[k:])]
    return [*subproof(m - k, hashes[k:], False), mth(hashes[:k])]


@given(st.integers(0, 600))
def test_root_is_the_naive_root(count: int) -> None:
    """The growing tree and the recursion give one root."""
    assert merkle.root(leaves(count)) == mth(leaves(count))


@given(st.data())
def test_inclusion_is_the_naive_path_and_verifies(data: st.DataObject) -> None:
    """Every path is that of the recursion, and verifies."""
    size = data.draw(sizes)
    index = data.draw(st.integers(0, size - 1))
    hashes = leaves(size)
    found = merkle.inclusion_path(index, hashes)
    assert found == path(index, hashes)
    merkle.verify_inclusion(hashes[index], index, size, found, mth(hashes))


@given(st.data())
def test_consistency_is_the_naive_proof_and_verifies(data: st.DataObject) -> None:
    """Every consistency proof is that of the recursion, and verifies."""
    second = data.draw(sizes)
    first = data.draw(st.integers(1, second))
    hashes = leaves(second)
    found = merkle.consistency_path(first, hashes)
    assert found == subproof(first, hashes, True)
    merkle.verify_consistency(first, second, mth(hashes[:first]), mth(hashes), found)


@given(st.data())
def test_no_other_leaf_place_or_path_verifies(data: st.DataObject) -> None:
    """A changed leaf, place, size, hash or length of path fails."""
    size = data.draw(st.integers(2, 200))
    index = data.draw(st.integers(0, size - 1))
    hashes = leaves(size)
    good, root = merkle.inclusion_path(index, hashes), mth(hashes)
    at = data.draw(st.integers(0, len(good) - 1))
    wrong = [
        (merkle.leaf_hash(b"other"), index, size, good),
        (hashes[index], (index + 1) % size, size, good),
        (hashes[index], index, size, [*good[:at], b"\0" * 32, *good[at + 1 :]]),
        (hashes[index], index, size, good[:-1]),
        (hashes[index], index, size, [*good, b"\0" * 32]),
        (hashes[index], size, size, good),
        (hashes[index], -1, size, good),
    ]
    for leaf, place, count, proof in wrong:
        with pytest.raises(ProofFailed):
            merkle.verify_inclusion(leaf, place, count, proof, root)


@given(st.data())
def test_no_other_past_verifies(data: st.DataObject) -> None:
    """A history that was rewritten, or a path with a hash changed, too few or too many, fails."""
    second = data.draw(st.integers(2, 200))
    first = data.draw(st.integers(1, second - 1))
    hashes = leaves(second)
    good, new = merkle.consistency_path(first, hashes), mth(hashes)
    changed = data.draw(st.integers(0, first - 1))
    rewritten = mth([*hashes[:changed], b"\1" * 32, *hashes[changed + 1 : first]])
    at = data.draw(st.integers(0, len(good) - 1))
    old = mth(hashes[:first])
    wrong = [
        (rewritten, new, good),
        (old, rewritten, good),
        (old, new, [*good[:at], b"\0" * 32, *good[at + 1 :]]),
        (old, new, good[:-1]),
        (old, new, [*good, b"\0" * 32]),
    ]
    for before, after, proof in wrong:
        with pytest.raises(ProofFailed):
            merkle.verify_consistency(first, second, before, after, proof)


def test_equal_trees_need_equal_roots_and_no_path() -> None:
    """A tree is consistent with itself by an empty path only."""
    root = mth(leaves(5))
    merkle.verify_consistency(5, 5, root, root, [])
    for other, proof in ((mth(leaves(4)), []), (root, [root])):
        with pytest.raises(ProofFailed):
            merkle.verify_consistency(5, 5, root, other, proof)


@pytest.mark.parametrize(("first", "second"), [(0, 5), (6, 5), (-1, 5)])
def test_sizes_out_of_order_prove_nothing(first: int, second: int) -> None:
    """Nothing leads from an empty tree, or backwards."""
    with pytest.raises(ProofFailed):
        merkle.verify_consistency(first, second, b"", b"", [])
    with pytest.raises(ValueError, match="no proof leads"):
        merkle.consistency_spans(first, second)


def test_a_failed_proof_shows_both_values() -> None:
    """The message has the root expected and the one computed."""
    hashes = leaves(3)
    with pytest.raises(ProofFailed, match=f"expected {'00' * 32}, computed {mth(hashes).hex()}"):
        merkle.verify_inclusion(hashes[0], 0, 3, path(0, hashes), b"\0" * 32)


@given(sizes)
def test_a_tree_grows_by_complete_subtrees_alike(count: int) -> None:
    """Adding blocks of eight and then single leaves gives the same root, and names each subtree completed."""
    hashes, tree = leaves(count), merkle.Growing()
    for at in range(0, count - count % 8, 8):
        for level, index, root in tree.add_complete(3, mth(hashes[at : at + 8])):
            assert root == mth(hashes[index << level : (index + 1) << level])
    for leaf in hashes[count - count % 8 :]:
        tree.add(leaf)
    assert tree.root() == mth(hashes)


def test_a_subtree_starts_where_it_may() -> None:
    """A block of eight cannot follow a single leaf."""
    tree = merkle.Growing()
    tree.add(leaves(1)[0])
    with pytest.raises(ValueError, match="does not start at leaf 1"):
        tree.add_complete(3, b"\0" * 32)


@pytest.mark.parametrize("count", [0, 3, 6])
def test_a_complete_subtree_has_a_power_of_two_of_nodes(count: int) -> None:
    """Other counts are refused."""
    with pytest.raises(ValueError, match="complete subtree"):
        merkle.perfect_root(leaves(count))


def test_a_span_falls_into_complete_subtrees() -> None:
    """Leaves 8 to 14 are a subtree of four, one of two and a leaf."""
    assert merkle.complete_subtrees(Span(8, 15)) == [(2, 2), (1, 6), (0, 14)]
