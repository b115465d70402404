"""Verification, second part: the tree over the leaves, the subtrees stored of it, the heads that days closed with."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from django.conf import settings
from django.db.models import Q

from records.ledger import merkle
from records.ledger.actions import STORED_FROM
from records.ledger.findings import Findings
from records.ledger.heads import SignedHead, signature_problem
from records.ledger.models import Entry, Subtree
from records.ledger.registry import kinds
from records.ledger.verify_entries import Piece

_WIDTH = 1 << STORED_FROM
_MANY = 10_000


@dataclass(frozen=True, slots=True)
class Closing:
    """A closed day's head, as its record keeps it."""

    number: int
    day: str
    head: SignedHead

    def __str__(self) -> str:
        return f"the closing of {self.day} (entry {self.number})"


def closings() -> list[Closing]:
    """Every closing, in the order of the trees that they sign."""
    columns = ("number", "plant_day", "revision", "tree_size", "root", "head", "signature", "certificate")
    found = []
    for number, day, revision, *head in kinds()["day closing"]._default_manager.values_list(*columns):
        name = f"{day}" if revision == 0 else f"{day}, revision {revision}"
        found.append(Closing(number, name, SignedHead(*head)))
    return sorted(found, key=lambda one: (one.head.tree_size, one.number))


class TreeCheck:
    """Builds the tree from the pieces and compares what is stored of it; keeps the roots at the sizes asked for."""

    def __init__(self, sizes: Iterable[int], found: Findings) -> None:
        self.tree = merkle.Growing()
        self.roots: dict[int, str] = {}
        self._sizes = sorted({size for size in sizes if size >= 0}, reverse=True)
        self._found = found
        self._tail: list[bytes] = []
        self._faulty: set[int] = set()
        self._stored = 0
        self._note_roots()

    def add(self, piece: Piece) -> None:
        """The next piece; pieces follow each other without a gap."""
        self._tail += piece.leaves
        completed = []
        at = 0
        while at + _WIDTH <= len(self._tail):
            block = self._tail[at : at + _WIDTH]
            self._note_roots(block)
            completed += self.tree.add_complete(STORED_FROM, merkle.perfect_root(block))
            at += _WIDTH
        self._tail = self._tail[at:]
        if len(self._faulty) < _MANY:
            self._faulty |= piece.faulty
        self._compare(completed)

    def finish(self) -> None:
        """After the last piece: the rest of the leaves, and no subtree stored too many."""
        self._note_roots(self._tail)
        for leaf in self._tail:
            self.tree.add(leaf)
        self._note_roots()
        self._extra_subtrees()

    def _note_roots(self, coming: Iterable[bytes] = ()) -> None:
        """The roots asked for at this size and at each size within the leaves that come next."""
        coming = list(coming)
        end = self.tree.size + len(coming)
        grown: merkle.Growing | None = None
        while self._sizes and self._sizes[-1] <= end:
            size = self._sizes.pop()
            grown = grown or self.tree.copy()
            for leaf in coming[grown.size - self.tree.size : size - self.tree.size]:
                grown.add(leaf)
            self.roots[size] = grown.root().hex()

    def _compare(self, completed: list[tuple[int, int, bytes]]) -> None:
        if not completed:
            return
        wanted = Q(pk__in=[])
        for level in {level for level, _, _ in completed}:
            places = [index for one, index, _ in completed if one == level]
            wanted |= Q(level=level, index__gte=places[0], index__lte=places[-1])
        rows = Subtree.objects.filter(wanted).values_list("level", "index", "root")
        stored = {(level, index): root for level, index, root in rows}
        self._stored += len(stored)
        for level, index, root in completed:
            first, last = (index << level) + 1, (index + 1) << level
            name = f"the stored subtree over entries {first} to {last}"
            kept = stored.get((level, index))
            if kept is None:
                self._found.add("subtree", last, f"{name} is missing")
            elif kept != root.hex() and not any(first <= number <= last for number in self._faulty):
                # Where an entry below is named already, that is the reason.
                self._found.add("subtree", last, f"{name}: stored {kept}, computed {root.hex()}")

    def _extra_subtrees(self) -> None:
        if Subtree.objects.count() == self._stored:
            return
        last = Entry.objects.order_by("-number").values_list("number", flat=True).first() or 0
        for level, index in Subtree.objects.values_list("level", "index").iterator(chunk_size=2000):
            if level < STORED_FROM or index < 0 or (index + 1) << level > last:
                first = (index << level) + 1
                self._found.add("subtree", None, f"a subtree is stored for entries from {first} on that are not there")


def check_days(days: list[Closing], roots: dict[int, str], found: Findings) -> None:
    """Each closing in itself, then against the tree: the first that no longer fits is named."""
    root_certificate = _root_certificate()
    unfit: list[Closing] = []
    for one in days:
        if problem := signature_problem(one.head) or _foreign(one.head.certificate, root_certificate):
            found.add("day", one.number, f"{one}: {problem}")
        if one.head.tree_size >= one.number:
            found.add("day", one.number, f"{one}: signs {one.head.tree_size} entries, more than there were before it")
        if roots.get(one.head.tree_size) != one.head.root:
            unfit.append(one)
    if unfit:
        first = unfit[0]
        fits = [one for one in days if one not in unfit and one.head.tree_size < first.head.tree_size]
        since = f"changed after entry {fits[-1].head.tree_size}" if fits else "changed, maybe from the first entry on"
        computed = roots.get(first.head.tree_size) or "none: the line of entries breaks before"
        found.add(
            "day",
            first.number,
            f"{first} no longer fits, the first of {len(unfit)}: it signed {first.head.tree_size} entries with root "
            f"{first.head.root}, computed {computed}. Something up to entry {first.head.tree_size} was {since}",
        )


def _root_certificate() -> x509.Certificate | None:
    path = Path(settings.KEYS_DIR) / "authority.pem"
    try:
        return x509.load_pem_x509_certificate(path.read_bytes())
    except (OSError, ValueError):
        return None


def _foreign(certificate: str, root: x509.Certificate | None) -> str:
    """Whether a head's certificate comes from another authority than the one in the keys folder."""
    if root is None:
        return ""
    try:
        x509.load_pem_x509_certificate(certificate.encode()).verify_directly_issued_by(root)
    except (ValueError, TypeError, InvalidSignature):
        return "its certificate was not issued by this plant's authority"
    return ""
