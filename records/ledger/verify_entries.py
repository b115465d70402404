"""Verification, first part: every entry against its typed row, every leaf against its content, the line without a gap.

Works through the numbers in pieces of a fixed size, so that its memory does not grow with the ledger.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, NamedTuple

from django.db import DatabaseError, models
from django.db.models import Exists, OuterRef
from django.db.models.functions import Cast

from records.ledger.canonical import NotCanonical
from records.ledger.content_fields import FIELDS
from records.ledger.findings import Findings
from records.ledger.merkle import leaf_hash
from records.ledger.models import Entry, Record
from records.ledger.registry import kinds, uuid_text, writer

PIECE = 2048  # entries; a multiple of a stored subtree's 256
_LONGEST_VALUE = 80


class Line(NamedTuple):
    """An entry as read; ids as the database writes them."""

    number: int
    act: str
    kind: str
    record: str
    content: str
    leaf: str


_LINE: list[str | Cast] = [
    "number", Cast("act", models.TextField()), "kind", Cast("record", models.TextField()), "content", "leaf"
]  # fmt: skip


@dataclass(slots=True)
class Row:
    """A typed row as read: what the ledger should say of it, or why that cannot be told."""

    kind: str
    id: str
    act: str
    text: str
    trouble: str = ""


@dataclass(slots=True)
class Piece:
    """Leaf hashes, computed from the contents, of entries first … first + len - 1; `faulty` are the numbers found."""

    first: int
    leaves: list[bytes]
    faulty: set[int]


def pieces(upto: int, found: Findings) -> Iterator[Piece]:
    """Every entry up to number `upto`, checked, a piece at a time; ends where the line breaks, but checks on."""
    expected, whole = 1, True
    for lines, rows in _read(upto):
        piece = Piece(expected, [], set())
        for line in lines:
            if line.number != expected:
                whole = False
                _report_gap(line.number, expected, found)
            expected = max(expected, line.number) + 1
            leaf = leaf_hash(line.content.encode())
            if not _right(line, leaf, rows.pop(line.number, []), found):
                piece.faulty.add(line.number)
            if whole:
                piece.leaves.append(leaf)
        for number, orphans in rows.items():
            for row in orphans:
                _report_orphan(row.kind, number, row.id, found)
        if piece.leaves:
            yield piece
    if expected <= upto:
        _report_gap(upto + 1, expected, found)


def stray_rows(upto: int, found: Findings) -> None:
    """Typed rows numbered outside the line of entries. Rows being appended meanwhile have their entries."""
    entry = Entry.objects.filter(number=OuterRef("number"), record=OuterRef("pk"))
    for kind, model in kinds().items():
        outside = models.Q(number__gt=upto) | models.Q(number__lt=1)
        stray = model._default_manager.filter(outside).exclude(Exists(entry))
        for number, id_ in stray.values_list("number", Cast("pk", models.TextField()))[:50]:
            _report_orphan(kind, number, id_, found)


def _read(upto: int) -> Iterator[tuple[list[Line], dict[int, list[Row]]]]:
    # Kinds without a record are not asked again for each piece; what is appended meanwhile is not looked at.
    readers = [_Reader(model) for model in kinds().values() if model._default_manager.exists()]
    entries = Entry.objects.order_by("number").values_list(*_LINE)
    # A number below 1 can only have been put there by hand.
    after = min(0, (Entry.objects.order_by("number").values_list("number", flat=True).first() or 0) - 1)
    while after < upto:
        lines = _lines(entries.filter(number__gt=after, number__lte=upto))
        end = lines[-1].number if len(lines) == PIECE else upto
        rows: dict[int, list[Row]] = {}
        for reader in readers:
            for number, row in reader.between(max(after, 0), end):
                rows.setdefault(number, []).append(row)
        yield lines, rows
        after = end


# What a hand may have put into a column of SQLite, which holds anything anywhere, fails in one of these ways.
_UNREADABLE = (ValueError, TypeError, AttributeError, ArithmeticError, DatabaseError)


def _lines(entries: models.QuerySet[Entry, Any]) -> list[Line]:
    try:
        lines = [Line(*one) for one in entries[:PIECE]]
    except _UNREADABLE:
        lines = [_one_line(number) for number in entries.values_list("number", flat=True)[:PIECE]]
    # SQLite gives bytes where a hand put bytes.
    return [
        one if one.content.__class__ is str else one._replace(content=f"(no text: {one.content!r})") for one in lines
    ]


def _one_line(number: int) -> Line:
    try:
        return Line(*Entry.objects.values_list(*_LINE).get(number=number))
    except _UNREADABLE as error:
        return Line(number, "", "unreadable", "", f"(cannot be read: {error})", "")


class _Reader:
    """Reads the rows of one kind and writes their content again, by the writer of each row's own version."""

    def __init__(self, model: type[Record]) -> None:
        self._kind = model.KIND
        writers = [writer(model.KIND, version) for version in FIELDS[model.KIND]]
        read = {name: column for one in writers for name, column in zip(one.names, one.read_as, strict=True)}
        columns = ["content_version", *read]
        self._rows = model._default_manager.order_by("number").values_list("content_version", *read.values())
        self._number, self._id, self._act = (columns.index(name) for name in ("number", "id", "act"))
        self._writers: dict[int, Callable[[tuple[Any, ...]], str]] = {}
        for version, fields in FIELDS[model.KIND].items():
            self._writers[version] = self._writer(version, [columns.index(name) for name in fields])

    def _writer(self, version: int, places: list[int]) -> Callable[[tuple[Any, ...]], str]:
        write = writer(self._kind, version).stored_text
        if places == list(range(1, len(places) + 1)):
            return lambda values: write(values[1 : len(places) + 1])
        return lambda values: write([values[place] for place in places])

    def between(self, after: int, end: int) -> Iterator[tuple[int, Row]]:
        rows = self._rows.filter(number__gt=after, number__lte=end)
        try:
            read = list(rows)
        except _UNREADABLE:
            read = []
            for number in rows.values_list("number", flat=True):
                try:
                    read.append(self._rows.get(number=number))
                except _UNREADABLE as error:
                    trouble = f"its columns cannot be read: {error}"
                    yield number, Row(self._kind, "", "", "", trouble)
        for values in read:
            text, trouble = "", ""
            try:
                text = self._writers[values[0]](values)
            except KeyError:
                trouble = f"its content version {values[0]} was never released"
            except (NotCanonical, ArithmeticError, ValueError) as error:
                trouble = f"its columns cannot be written as content: {error}"
            yield values[self._number], Row(self._kind, values[self._id], values[self._act], text, trouble)


# --- what differs, in words


def _right(line: Line, leaf: bytes, rows: list[Row], found: Findings) -> bool:
    """Whether an entry is as it should be; what is not is added to the findings."""
    row = rows.pop(0) if len(rows) == 1 and rows[0].kind == line.kind else _row_of(line, rows)
    for orphan in rows:
        _report_orphan(orphan.kind, line.number, orphan.id, found)
    fits = (
        row is not None
        and line.content == row.text
        and line.leaf == leaf.hex()
        and line.kind == row.kind
        and line.record == row.id
        and line.act == row.act
    )
    if fits and not rows:
        return True
    _explain(line, leaf, row, found)
    return False


def _row_of(line: Line, rows: list[Row]) -> Row | None:
    """The row that an entry means, when kinds or numbers no longer match: by content, by id, by kind."""
    if not rows:
        return None
    best = max(rows, key=lambda row: (row.text == line.content, row.id == line.record, row.kind == line.kind))
    if best.text != line.content and best.id != line.record and best.kind != line.kind:
        return None
    rows.remove(best)
    return best


def _explain(line: Line, leaf: bytes, row: Row | None, found: Findings) -> None:
    entry, name = line.number, f"entry {line.number} ({line.kind})"
    if line.leaf != leaf.hex():
        found.add("leaf", entry, f"{name}: its content hashes to {leaf.hex()}, its leaf says {line.leaf}")
    said = _parsed(line.content)
    if said is None:
        found.add("content", entry, f"{name}: its content is not the JSON of a record")
        said = {"kind": line.kind, "record": {}}
    record = said["record"]
    columns: list[tuple[str, object, object]] = [
        ("number", line.number, record.get("number")),
        ("kind", line.kind, said["kind"]),
        ("record", _dashed(line.record), record.get("id")),
        ("act", _dashed(line.act), record.get("act")),
    ]
    for column, beside, inside in columns:
        if beside != inside:
            found.add("column", entry, f"{name}: its column '{column}' says {beside}, its content says {inside}")
    if row is None:
        found.add("row", entry, f"{name}: its typed row {_dashed(line.record)} is missing")
    elif row.trouble:
        found.add("row", entry, f"{name}: its typed row differs from its content: {row.trouble}")
    elif row.text != line.content:
        found.add("row", entry, f"{name}: its typed row differs from its content: {_differences(said, row.text)}")


def _parsed(content: str) -> dict[str, Any] | None:
    try:
        value = json.loads(content)
    except ValueError:
        return None
    right = isinstance(value, dict) and isinstance(value.get("record"), dict) and "kind" in value
    return value if right else None


def _differences(said: dict[str, Any], row_text: str) -> str:
    row = json.loads(row_text)
    found = []
    for name in ("kind", "version"):
        if row.get(name) != said.get(name):
            found.append(f"{name} is {row.get(name)!r} in the row, {said.get(name)!r} in the entry")
    for name in sorted(row["record"].keys() | said["record"].keys()):
        in_row, in_entry = row["record"].get(name), said["record"].get(name)
        if in_row != in_entry:
            found.append(f"{name} is {_short(in_row)} in the row, {_short(in_entry)} in the entry")
    return "; ".join(found) or "the same values, written otherwise"


def _short(value: Any) -> str:
    text = repr(value)
    return text if len(text) <= _LONGEST_VALUE else text[: _LONGEST_VALUE - 1] + "…"


def _report_gap(number: int, expected: int, found: Findings) -> None:
    if number < expected:
        found.add("gap", number, f"entry {number} is outside the line of numbers, which begins at 1")
    elif number == expected + 1:
        found.add("gap", expected, f"entry {expected} is missing")
    else:
        found.add("gap", expected, f"entries {expected} to {number - 1} are missing")


def _dashed(stored: str) -> str:
    return uuid_text(stored) if len(stored) in {32, 36} else stored


def _report_orphan(kind: str, number: int, id_: str, found: Findings) -> None:
    found.add("orphan", number, f"{kind} {_dashed(id_)} numbered {number} has no entry of its own")
