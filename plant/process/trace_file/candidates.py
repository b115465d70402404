"""Which delimiter and decimal mark make a table of a file's lines, and where its header and its rows are."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import islice

from plant.process.trace_file.cells import BLANKS, fields
from plant.process.trace_file.looking import (
    CLOCK,
    DAY,
    EMPTY,
    FAIL,
    HALF,
    MOMENT,
    NUMBER,
    OFFSET,
    TEXT,
    epoch,
    kind,
    unit_alone,
)  # fmt: skip
from plant.process.trace_file.mapping import DATE, EPOCH_MS, EPOCH_S, MOST_COLUMNS
from plant.process.trace_file.refusals import CellRefused

# Of two that fit equally the first is taken: blanks separate words too.
_DELIMITERS = (";", "\t", "|", ",", BLANKS)
_RECORDS = 300
_MOST_LINES = 50  # of one record, by line ends within quotation marks
_MOST = 0.9  # of a column's cells make its kind


@dataclass(frozen=True, slots=True)
class Record:
    """A line that is not blank: its number `row` (from 1), that of the line behind it, its cells."""

    row: int
    next_row: int
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Candidate:
    """A delimiter and a decimal mark, and those `records` that look like rows of readings by them, of one width."""

    delimiter: str
    mark: str
    records: list[Record]
    rows: list[Record]
    width: int
    known: int  # cells that are a number, a time, a failure or empty

    @property
    def score(self) -> float:
        """How many rows' worth of cells are understood."""
        return self.known / self.width if self.width else 0.0

    @property
    def words(self) -> Fraction:
        """How many cells of a row are none of these."""
        return self.width - Fraction(self.known, len(self.rows))

    def kinds(self, at: int) -> Counter[str]:
        """How often each kind of cell is in a column."""
        return Counter(kind(one.cells[at], self.mark) for one in self.rows)


def records(lines: list[str], delimiter: str) -> Iterator[Record]:
    """The records of these lines that have anything in them; nothing from a quotation mark on that is never closed."""
    at = 0
    while at < len(lines):
        text, first = lines[at], at
        while (cells := _cells(text, delimiter)) is None:
            at += 1
            if at == len(lines) or at - first > _MOST_LINES:
                return
            text = f"{text}\n{lines[at]}"
        at += 1
        if any(cells):
            yield Record(first + 1, at + 1, tuple(cells))


def best(lines: list[str]) -> Candidate | None:
    """The delimiter and the decimal mark that make most of the lines rows of readings; None where none does."""
    found = []
    for delimiter in _DELIMITERS:
        some = list(islice(records(lines, delimiter), _RECORDS))
        if any(1 < len(one.cells) <= MOST_COLUMNS for one in some):
            found += [_candidate(some, delimiter, mark) for mark in (".", ",")]
    found = [one for one in found if one.score > 0]
    first = max(found, key=lambda one: one.score, default=None)  # of those that score alike the first
    if first is None or first.delimiter != BLANKS:
        return first
    # Blanks part a date from its time, which looks like more understood: it is, where fewer words are left.
    parted = max((one for one in found if one.delimiter != BLANKS), key=lambda one: one.score, default=None)
    same = parted is not None and len(parted.rows) >= len(first.rows) and parted.words <= first.words
    return parted if same else first


def header_of(table: Candidate) -> tuple[Record | None, Record | None, int]:
    """The header, the row of units below it (None where there is none) and the line of the first row of readings."""
    first = table.rows[0]
    above = [one for one in table.records if one.row < first.row]
    while above and _has_time(above[-1].cells, table.mark):  # a row that was not understood is no header
        first = above.pop()
    if len(above) > 1 and _between(above[-1].cells, table.mark) and _names(above[-2].cells, table):
        return above[-2], above[-1], first.row
    if above and _names(above[-1].cells, table):
        return above[-1], None, first.row
    return None, None, first.row


def time_columns(table: Candidate) -> tuple[tuple[int, ...], str]:
    """The columns that hold the time, and its form; none where no column does."""
    kinds = [table.kinds(at) for at in range(table.width)]

    def first(wanted: str) -> int:
        return next((at for at, one in enumerate(kinds) if one[wanted] >= _MOST * len(table.rows)), -1)

    whole, day, clock = first(MOMENT), first(DAY), first(CLOCK)
    found: tuple[int, ...] = (whole,) if whole >= 0 else (day, clock) if day >= 0 and clock >= 0 else ()
    if found:
        for belonging in (HALF, OFFSET):
            following = found[-1] + 1
            if following < table.width and kinds[following][belonging] >= _MOST * len(table.rows):
                found += (following,)
        return found, DATE
    for at in range(table.width):
        forms = Counter(epoch(one.cells[at], table.mark) for one in table.rows)
        form, count = forms.most_common(1)[0]
        if form and count >= _MOST * len(table.rows):
            return (at,), EPOCH_S if form == "s" else EPOCH_MS
    return (), DATE


def time_texts(lines: Iterable[Record], columns: tuple[int, ...], width: int) -> Iterator[str]:
    """The time of each record that has the right number of cells."""
    for one in lines:
        if len(one.cells) == width:
            yield " ".join(one.cells[at] for at in columns)


def _cells(text: str, delimiter: str) -> list[str] | None:
    try:
        return fields(text, delimiter)
    except CellRefused:
        return []


def _candidate(some: list[Record], delimiter: str, mark: str) -> Candidate:
    rows = [one for one in some if len(one.cells) <= MOST_COLUMNS and _is_row(one.cells, mark)]
    if not rows:
        return Candidate(delimiter, mark, some, [], 0, 0)
    width = Counter(len(one.cells) for one in rows).most_common(1)[0][0]
    rows = [one for one in rows if len(one.cells) == width]
    known = sum(kind(cell, mark) != TEXT for one in rows for cell in one.cells)
    return Candidate(delimiter, mark, some, rows, width, known)


def _is_row(cells: tuple[str, ...], mark: str) -> bool:
    """Whether it has a time and at least one reading beside it."""
    kinds = Counter(kind(one, mark) for one in cells)
    readings = kinds[NUMBER] + kinds[FAIL]
    if kinds[MOMENT] or (kinds[DAY] and kinds[CLOCK]):
        return readings > 0
    return readings > 1 and any(epoch(one, mark) for one in cells)


def _has_time(cells: tuple[str, ...], mark: str) -> bool:
    return any(kind(one, mark) in (MOMENT, DAY, CLOCK) or epoch(one, mark) for one in cells)


def _names(cells: tuple[str, ...], table: Candidate) -> bool:
    """Whether these cells name the columns: one for each (but for an empty one at the end), most of them words."""
    width = table.width
    while len(cells) > width and not cells[-1]:
        cells = cells[:-1]
    without_last = len(cells) == width - 1 and table.kinds(width - 1)[EMPTY] == len(table.rows)
    words = [one for one in cells if one and kind(one, table.mark) != NUMBER]
    return (len(cells) == width or without_last) and 2 * len(words) > len([one for one in cells if one]) > 0


def _between(cells: tuple[str, ...], mark: str) -> bool:
    """Whether these cells are units, or a rule below the header."""
    have = [one for one in cells if one]
    return any(unit_alone(one) for one in have) or all(kind(one, mark) == FAIL for one in have)
