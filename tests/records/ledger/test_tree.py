"""Heads and proofs from the database: right at every size, and from a few rows."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from records.ledger import merkle, tree
from records.ledger.actions import _store_subtrees
from records.ledger.models import Entry, Subtree
from tests.records.ledger.made import made_row

pytestmark = pytest.mark.django_db

SIZE = 1100


@pytest.fixture
def leaves(db: None) -> list[bytes]:
    """A ledger of 1,100 leaves; the tree looks at nothing else."""
    found = [merkle.leaf_hash(str(number).encode()) for number in range(1, SIZE + 1)]
    for start in range(0, SIZE, 256):
        Entry.objects.bulk_create(
            Entry(number, made_row("lot").act, "lot", made_row("lot", number).id, "", found[number - 1].hex())
            for number in range(start + 1, min(start + 256, SIZE) + 1)
        )
        if start + 256 <= SIZE:
            _store_subtrees(start + 256)
    return found


def test_heads_are_those_of_the_leaves(leaves: list[bytes]) -> None:
    """At sizes before, at and after the stored subtrees."""
    for at in (0, 1, 2, 255, 256, 257, 511, 512, 768, 1000, 1024, SIZE):
        assert tree.head(at) == merkle.root(leaves[:at]), at


def test_inclusion_paths_lead_to_the_head(leaves: list[bytes]) -> None:
    """First, last and middle entries, under heads of several sizes."""
    for at in (1, 255, 256, 700, 1024, SIZE):
        for number in {1, at // 2 or 1, at}:
            path = tree.inclusion(number, at)
            merkle.verify_inclusion(leaves[number - 1], number - 1, at, path, merkle.root(leaves[:at]))


def test_consistency_links_two_heads(leaves: list[bytes]) -> None:
    """Between any two of several sizes."""
    sizes = [1, 200, 256, 300, 512, 900, 1024, SIZE]
    for at, first in enumerate(sizes):
        for second in sizes[at:]:
            path = tree.consistency(first, second)
            merkle.verify_consistency(first, second, tree.head(first), tree.head(second), path)


def test_a_proof_reads_a_few_rows(leaves: list[bytes], monkeypatch: pytest.MonkeyPatch) -> None:
    """Two queries; fewer than 512 leaves and at most two subtrees a level, whatever the size."""
    read: list[int] = []
    stored, found = tree._stored, tree._leaves
    monkeypatch.setattr(tree, "_stored", lambda nodes: counted(stored(nodes), read))
    monkeypatch.setattr(tree, "_leaves", lambda nodes: counted(found(nodes), read))
    for call in (lambda: tree.inclusion(300, SIZE), lambda: tree.consistency(300, SIZE), lambda: tree.head(SIZE)):
        read.clear()
        with CaptureQueriesContext(connection) as queries:
            call()
        assert len(queries) == 2
        assert read[0] <= 2 * 3 and read[1] < 512, read


def counted(rows: dict[Any, bytes], read: list[int]) -> dict[Any, bytes]:
    """The rows, after noting how many they are."""
    read.append(len(rows))
    return rows


def test_a_missing_leaf_says_what_to_do(leaves: list[bytes]) -> None:
    """A head beyond the entries is an error that names the command to run."""
    with pytest.raises(tree.TreeDamaged, match=r"manage\.py verify"):
        tree.head(SIZE + 1)


def test_a_missing_subtree_says_what_to_do(db: None) -> None:
    """So is one whose stored subtree is not there."""
    assert not Subtree.objects.exists()
    with pytest.raises(tree.TreeDamaged, match="level 8"):
        tree.head(256)
