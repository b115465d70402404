"""The ledger's tree as the database keeps it: heads and proofs from a few rows.

Stored subtrees begin at 256 leaves; what is smaller is computed from the leaves, of which any head or proof reads
fewer than 512. Each call makes two queries.
"""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import Q

from records.ledger import merkle
from records.ledger.actions import STORED_FROM
from records.ledger.merkle import Span
from records.ledger.models import Entry, Subtree


class TreeDamaged(LookupError):
    """A leaf or a stored subtree that should be there is missing: run `manage.py verify`."""


def size() -> int:
    """The number of the last entry; 0 for an empty ledger."""
    return Entry.objects.order_by("-number").values_list("number", flat=True).first() or 0


def head(at: int) -> bytes:
    """The root of the tree of the first `at` entries."""
    return merkle.EMPTY_ROOT if at == 0 else _hashes([Span(0, at)])[0]


def inclusion(number: int, at: int) -> list[bytes]:
    """The path from entry `number` (from 1) to the head of the first `at` entries."""
    return _hashes(merkle.inclusion_spans(number - 1, at))


def consistency(first: int, second: int) -> list[bytes]:
    """The proof that the head of `second` entries continues the head of `first`."""
    return _hashes(merkle.consistency_spans(first, second))


def _hashes(spans: list[Span]) -> list[bytes]:
    subtrees = {node for span in spans for node in merkle.complete_subtrees(span)}
    stored = _stored(node for node in subtrees if node[0] >= STORED_FROM)
    small = [(level, index) for level, index in subtrees if level < STORED_FROM]
    leaves = _leaves(small)

    def node(level: int, index: int) -> bytes:
        try:
            if level >= STORED_FROM:
                return stored[level, index]
            first = index << level
            return merkle.perfect_root([leaves[at] for at in range(first, first + (1 << level))])
        except KeyError as missing:
            raise TreeDamaged(f"the tree lacks {missing} at level {level}: run manage.py verify") from missing

    return [merkle.span_root(span, node) for span in spans]


def _stored(nodes: Iterable[tuple[int, int]]) -> dict[tuple[int, int], bytes]:
    wanted = Q(pk__in=[])
    for level, index in nodes:
        wanted |= Q(level=level, index=index)
    rows = Subtree.objects.filter(wanted).values_list("level", "index", "root")
    return {(level, index): bytes.fromhex(root) for level, index, root in rows}


def _leaves(nodes: Iterable[tuple[int, int]]) -> dict[int, bytes]:
    """Leaf hashes by leaf number (from 0), of all the given subtrees in one query."""
    wanted = Q(pk__in=[])
    for start, end in _joined(sorted((index << level, (index + 1) << level) for level, index in nodes)):
        wanted |= Q(number__gt=start, number__lte=end)
    rows = Entry.objects.filter(wanted).values_list("number", "leaf")
    return {number - 1: bytes.fromhex(leaf) for number, leaf in rows}


def _joined(ranges: list[tuple[int, int]]) -> list[tuple[int, int]]:
    joined: list[tuple[int, int]] = []
    for start, end in ranges:
        if joined and joined[-1][1] == start:
            joined[-1] = (joined[-1][0], end)
        else:
            joined.append((start, end))
    return joined
