"""The tree against the vectors of the Certificate Transparency reference tests.

Hashing: RFC 6962 (June 2013) section 2.1. Leaves, roots and paths with their source: tests/published/tree_vectors.py.
"""

from __future__ import annotations

import pytest

from records.ledger import merkle
from tests.published.tree_vectors import FIRST_OF_EIGHT, LEAVES, ROOTS, SIXTH_OF_EIGHT

pytestmark = pytest.mark.once


def leaf_hashes(count: int = 8) -> list[bytes]:
    """Hashes of the first leaves of the suite."""
    return [merkle.leaf_hash(leaf) for leaf in LEAVES[:count]]


@pytest.mark.parametrize("count", range(9))
def test_roots_of_the_first_leaves(count: int) -> None:
    """The nine published roots, of no leaf to eight."""
    assert merkle.root(leaf_hashes(count)) == ROOTS[count]


def test_inclusion_path_of_the_first_leaf() -> None:
    """Index 0 of 8; the suite has it as the proof from one leaf to eight."""
    assert merkle.inclusion_path(0, leaf_hashes()) == FIRST_OF_EIGHT


def test_inclusion_path_of_the_sixth_leaf() -> None:
    """Index 5 of 8."""
    assert merkle.inclusion_path(5, leaf_hashes()) == SIXTH_OF_EIGHT


def test_consistency_of_one_leaf_with_eight() -> None:
    """The proof from a tree of one to a tree of eight."""
    assert merkle.consistency_path(1, leaf_hashes()) == FIRST_OF_EIGHT


def test_published_paths_verify() -> None:
    """The verifier accepts what the suite publishes."""
    merkle.verify_inclusion(leaf_hashes()[0], 0, 8, FIRST_OF_EIGHT, ROOTS[8])
    merkle.verify_inclusion(leaf_hashes()[5], 5, 8, SIXTH_OF_EIGHT, ROOTS[8])
    merkle.verify_consistency(1, 8, ROOTS[1], ROOTS[8], FIRST_OF_EIGHT)
