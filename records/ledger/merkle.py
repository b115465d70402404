"""The Merkle tree of RFC 6962 section 2.1 (RFC 9162 section 2.1 keeps the same hashes). Pure: no Django.

Leaves are counted from 0. A `Span` is a run of leaves [start, end) that is a node of some tree: what a proof needs is
first said as spans, then read from wherever their hashes are kept.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from typing import NamedTuple


class ProofFailed(ValueError):
    """A proof does not hold; the message carries the expected and the computed value."""


class Span(NamedTuple):
    """Leaves start … end - 1."""

    start: int
    end: int


def leaf_hash(data: bytes) -> bytes:
    """SHA-256(0x00 ‖ data)."""
    return hashlib.sha256(b"\x00" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """SHA-256(0x01 ‖ left ‖ right)."""
    return hashlib.sha256(b"\x01" + left + right).digest()


EMPTY_ROOT = hashlib.sha256(b"").digest()


def perfect_root(hashes: Sequence[bytes]) -> bytes:
    """The root over 2^k nodes of one level; ValueError for another count."""
    if not hashes or len(hashes) & (len(hashes) - 1):
        raise ValueError(f"{len(hashes)} nodes do not make a complete subtree")
    while len(hashes) > 1:
        hashes = [node_hash(hashes[at], hashes[at + 1]) for at in range(0, len(hashes), 2)]
    return hashes[0]


def root(leaves: Sequence[bytes]) -> bytes:
    """The tree's root over leaf hashes, any number of them (2.1: MTH)."""
    tree = Growing()
    for leaf in leaves:
        tree.add(leaf)
    return tree.root()


class Growing:
    """A tree that grows a leaf at a time and keeps only the roots of its complete subtrees (at most one a level)."""

    def __init__(self) -> None:
        self.size = 0
        self._peaks: list[bytes] = []  # of falling level: the binary digits of size

    def add(self, leaf: bytes) -> None:
        """Append a leaf hash."""
        rest = self.size
        self.size += 1
        peaks = self._peaks
        while rest & 1:
            leaf = node_hash(peaks.pop(), leaf)
            rest >>= 1
        peaks.append(leaf)

    def add_complete(self, level: int, node: bytes) -> list[tuple[int, int, bytes]]:
        """Append the root of 2^level leaves; gives each subtree that it completes as (level, index, root).

        ValueError unless the tree's size is a multiple of that width.
        """
        if self.size % (1 << level):
            raise ValueError(f"a subtree of level {level} does not start at leaf {self.size}")
        index = self.size >> level
        self.size += 1 << level
        completed = [(level, index, node)]
        while index & 1:
            level, index, node = level + 1, index >> 1, node_hash(self._peaks.pop(), node)
            completed.append((level, index, node))
        self._peaks.append(node)
        return completed

    def copy(self) -> Growing:
        """The same tree, to be grown apart."""
        other = Growing()
        other.size, other._peaks = self.size, self._peaks.copy()
        return other

    def root(self) -> bytes:
        """The root at this size: the last node is promoted, never doubled."""
        if not self._peaks:
            return EMPTY_ROOT
        found = self._peaks[-1]
        for peak in reversed(self._peaks[:-1]):
            found = node_hash(peak, found)
        return found


# --- what a proof consists of


def complete_subtrees(span: Span) -> list[tuple[int, int]]:
    """The complete subtrees that make up a span, left to right, as (level, index within the level).

    The span starts at a multiple of the largest one, as every node of a tree does.
    """
    found, start = [], span.start
    while start < span.end:
        level = (span.end - start).bit_length() - 1
        found.append((level, start >> level))
        start += 1 << level
    return found


def inclusion_spans(index: int, size: int) -> list[Span]:
    """The nodes of the inclusion path of a leaf, from its sibling upwards (2.1.1: PATH)."""
    if not 0 <= index < size:
        raise ValueError(f"leaf {index} is not in a tree of {size}")
    spans: list[Span] = []
    start, end = 0, size
    while end - start > 1:
        split = start + _split(end - start)
        if index < split:
            spans.append(Span(split, end))
            end = split
        else:
            spans.append(Span(start, split))
            start = split
    return spans[::-1]


def consistency_spans(first: int, second: int) -> list[Span]:
    """The nodes of the proof that the tree of `first` leaves begins the tree of `second` (2.1.2: PROOF)."""
    if not 0 < first <= second:
        raise ValueError(f"no proof leads from a tree of {first} to one of {second}")
    spans: list[Span] = []
    start, end, whole = 0, second, True
    while first != end:
        split = start + _split(end - start)
        if first <= split:
            spans.append(Span(split, end))
            end = split
        else:
            spans.append(Span(start, split))
            start, whole = split, False
    if not whole:
        spans.append(Span(start, end))
    return spans[::-1]


def inclusion_path(index: int, leaves: Sequence[bytes]) -> list[bytes]:
    """The inclusion path of leaf `index`, computed from all leaf hashes."""
    return [root(leaves[span.start : span.end]) for span in inclusion_spans(index, len(leaves))]


def consistency_path(first: int, leaves: Sequence[bytes]) -> list[bytes]:
    """The proof that the first `first` leaves made the tree that these leaves continue."""
    return [root(leaves[span.start : span.end]) for span in consistency_spans(first, len(leaves))]


def _split(width: int) -> int:
    """The largest power of two below `width` (at least 2)."""
    return 1 << ((width - 1).bit_length() - 1)


# --- checking a proof, as RFC 9162 writes it


def verify_inclusion(leaf: bytes, index: int, size: int, path: Sequence[bytes], expected: bytes) -> None:
    """Fails with ProofFailed unless the path leads from the leaf hash to the root (RFC 9162 section 2.1.3.2)."""
    # 1. The leaf must lie in the tree.
    if not 0 <= index < size:
        raise ProofFailed(f"leaf {index} is not in a tree of {size}")
    # 2., 3. Start at the leaf, with the place of the leaf and of the last leaf.
    place, last, computed = index, size - 1, leaf
    # 4. Climb: a right-hand node, or the last of its level, has its sibling on the left.
    for step, sibling in enumerate(path, start=1):
        if last == 0:
            raise ProofFailed(f"the path has {len(path)} hashes, expected {step - 1}")
        if place & 1 or place == last:
            computed = node_hash(sibling, computed)
            while not place & 1 and place:
                place, last = place >> 1, last >> 1
        else:
            computed = node_hash(computed, sibling)
        place, last = place >> 1, last >> 1
    # 5. The top must be reached, and be the root.
    if last != 0:
        raise ProofFailed(f"the path ends below the root after {len(path)} hashes")
    _require_equal("root", expected, computed)


def verify_consistency(
    first: int, second: int, first_root: bytes, second_root: bytes, path: Sequence[bytes]
) -> None:
    """Fails with ProofFailed unless the first tree begins the second (RFC 9162 section 2.1.4.2)."""
    # 1. Two sizes in order; equal sizes need equal roots and an empty path.
    if not 0 < first <= second:
        raise ProofFailed(f"no proof leads from a tree of {first} to one of {second}")
    if first == second:
        if path:
            raise ProofFailed(f"the path has {len(path)} hashes, expected 0")
        _require_equal("root", first_root, second_root)
        return
    # 2. A complete first tree is itself the first node.
    nodes = list(path)
    if first & (first - 1) == 0:
        nodes.insert(0, first_root)
    if not nodes:
        raise ProofFailed("the path is empty")
    # 3., 4. Up to where the first tree's last complete subtree begins.
    place, last = first - 1, second - 1
    while place & 1:
        place, last = place >> 1, last >> 1
    # 5., 6. Build both roots from the same nodes.
    old = new = nodes[0]
    for node in nodes[1:]:
        if last == 0:
            raise ProofFailed(f"the path has {len(path)} hashes, too many for {first} and {second}")
        if place & 1 or place == last:
            old, new = node_hash(node, old), node_hash(node, new)
            while not place & 1 and place:
                place, last = place >> 1, last >> 1
        else:
            new = node_hash(new, node)
        place, last = place >> 1, last >> 1
    # 7. Both must be the roots, and the top reached.
    _require_equal("root of the first tree", first_root, old)
    _require_equal("root of the second tree", second_root, new)
    if last != 0:
        raise ProofFailed(f"the path ends below the root after {len(path)} hashes")


def _require_equal(what: str, expected: bytes, computed: bytes) -> None:
    if expected != computed:
        raise ProofFailed(f"{what}: expected {expected.hex()}, computed {computed.hex()}")


def span_root(span: Span, subtree: Callable[[int, int], bytes]) -> bytes:
    """A span's hash from its complete subtrees; `subtree(level, index)` gives each."""
    parts = [subtree(level, index) for level, index in complete_subtrees(span)]
    found = parts[-1]
    for part in reversed(parts[:-1]):
        found = node_hash(part, found)
    return found
