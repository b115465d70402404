"""A file's form, guessed from its first bytes: what a person confirms before anything is read."""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterator
from collections.abc import Mapping as PlainMapping
from dataclasses import dataclass
from itertools import islice

from plant.process.errors import CalculationError
from plant.process.said import Said
from plant.process.said import say as _
from plant.process.trace_file.blocks import BYTE_ORDER_MARKS, MOST_LINE, column_at, no_text
from plant.process.trace_file.candidates import Candidate, best, header_of, records, time_columns, time_texts
from plant.process.trace_file.cells import UNIT_TAIL
from plant.process.trace_file.looking import (
    EMPTY,
    FAIL,
    NUMBER,
    needs_order,
    order_of,
    suspect,
    unit_alone,
    unit_in,
)  # fmt: skip
from plant.process.trace_file.mapping import DATE, MOST_COLUMNS, ChannelColumn, Mapping, TimeColumns
from plant.process.trace_file.moments import layout, shape_of
from plant.process.trace_file.refusals import FileRefused, label, shortened

HEAD = 1 << 18  # bytes of a file that are enough for a guess
_MOST_TIMES = 5000
_EXAMPLES = 3
_MOST = 0.9
_THOUSANDS = re.compile(r"[+-]?\d{1,3}(,\d{3})+", re.ASCII)
TIME, READINGS, COUNT, WORDS, NOTHING = "time", "number", "count", "text", "empty"


@dataclass(frozen=True, slots=True)
class Column:
    """A column (`number` from 0), its header, what it looks like, its unit ("" where none is named).

    `kind` is "time", "number", "count" (whole numbers, one more in each row), "text" or "empty". `suspects` are numbers
    in it that instruments write for a failed sensor.
    """

    number: int
    name: str
    kind: str
    unit: str
    examples: tuple[str, ...]
    suspects: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Shape:
    """A file's form. `decimal` is "" where it must be chosen; `to_choose` says all that must be.

    `header_row` (0: none) and `data_row` are lines of the file, from 1; `header` the header's texts; `skip` how many
    lines stand between it (or the beginning) and the first row. `order_needed`: the day or the month comes first in the
    times; `time.order` is then what the dates show, "" where they do not.
    """

    encoding: str
    delimiter: str
    decimal: str
    header_row: int
    data_row: int
    skip: int
    header: tuple[str, ...]
    columns: tuple[Column, ...]
    time: TimeColumns
    order_needed: bool
    to_choose: tuple[Said, ...]

    def mapping(
        self,
        instruments: PlainMapping[int, str],
        *,
        units: PlainMapping[int, str] | None = None,
        fail_numbers: PlainMapping[int, tuple[str, ...]] | None = None,
        order: str = "",
        decimal: str = "",
        clock: str = "",
    ) -> Mapping:
        """The mapping with what a person chose: the instrument (and unit, and fail numbers) of each column (from 0).

        Raises CalculationError where something that must be chosen was not.
        """
        if self.order_needed and not (order or self.time.order):
            raise CalculationError(_("whether the day or the month comes first must be chosen"))
        if any(not 0 <= one < len(self.columns) for one in instruments):
            raise CalculationError(_("a column is mapped that the file does not have"))
        units, fail_numbers = units or {}, fail_numbers or {}
        return Mapping(
            encoding=self.encoding,
            delimiter=self.delimiter,
            decimal=decimal or self.decimal,
            columns=len(self.columns),
            time=TimeColumns(self.time.columns, self.time.form, order or self.time.order, self.time.offset, clock),
            channels=tuple(
                ChannelColumn(at, code, units.get(at) or self.columns[at].unit, fail_numbers=fail_numbers.get(at, ()))
                for at, code in instruments.items()
            ),
            header=self.header,
            skip=self.skip,
        )


def guess(
    head: bytes, *, whole: bool = False, tail: bytes = b"", earliest_ms: int | None = None, now_ms: int | None = None
) -> Shape:
    """A file's form from its first bytes: `HEAD` of them are enough, more show more; `whole`: they are the whole file.

    `tail`, the last bytes of a long file, and the bounds of its times [ms UTC] help with the order of day and month,
    which is found where all dates exist in one order only or where the days run on, and else must be chosen.

    Range: as `read`; the first row of readings among the first 300.
    Raises: FileRefused for what is no text and where no column of times with readings beside it is found.
    Source: common practice, no source.

    >>> head = b"Logger 7\\nDate;Time;Milk (\\xb0C)\\n03.04.2026;23:59:59;71,6\\n04.04.2026;00:00:00;71,7\\n"
    >>> shape = guess(head, whole=True)
    >>> shape.encoding, shape.delimiter, shape.decimal, shape.time.order, shape.columns[2].unit
    ('cp1252', ';', ',', 'dmy', '°C')
    """
    why = no_text(head)
    if why is not None:
        raise FileRefused(why)
    encoding, text = _decoded(head, whole)
    lines = _split(text)
    if not whole and len(lines) > 1:
        lines.pop()
    long = next((at for at, one in enumerate(lines, 1) if len(one) > MOST_LINE), 0)
    if long:
        raise FileRefused(_("this line is longer than any that a recorder writes"), long)
    _refuse_nul(lines)
    table = best(lines)
    columns, form = time_columns(table) if table else ((), DATE)
    if table is None or not columns:
        raise _no_times(lines)
    # Where a tail begins, half a character of UTF-16 may stand: it is left out.
    last = [] if encoding.startswith("utf-16") else _split(tail.decode(encoding, "replace"))[1:-1]
    return _shape(encoding, lines, last, table, TimeColumns(columns, form), (earliest_ms, now_ms))


def _split(text: str) -> list[str]:
    return text.replace("\r\n", "\n").replace("\r", "\n").split("\n")


def _decoded(head: bytes, whole: bool) -> tuple[str, str]:
    for mark, encoding in BYTE_ORDER_MARKS:
        if head.startswith(mark):
            named = "utf-8" if encoding == "utf-8" else "utf-16"
            return named, _text(head[len(mark) :], encoding, whole)
    zeros = head[:4096].count(0)
    if zeros * 3 > len(head[:4096]):  # in UTF-16 every other byte of plain text is none
        encoding = "utf-16-le" if head[1:4096:2].count(0) * 2 > zeros else "utf-16-be"
        return encoding, _text(head, encoding, whole)
    for encoding in ("utf-8", "cp1252"):
        try:
            return encoding, codecs.getincrementaldecoder(encoding)("strict").decode(head, whole)
        except UnicodeDecodeError:
            continue
    return "latin-1", head.decode("latin-1")


def _text(data: bytes, encoding: str, whole: bool) -> str:
    try:
        return codecs.getincrementaldecoder(encoding)("strict").decode(data, whole)
    except UnicodeDecodeError as error:
        row = data[: error.start].decode(encoding, "replace").count("\n") + 1
        raise FileRefused(_("these bytes are not in the encoding %(name)s", name=encoding), row) from error


def _refuse_nul(lines: list[str]) -> None:
    for row, line in enumerate(lines, 1):
        if "\0" in line:
            delimiter = max(",;\t|", key=line.count)
            column = label(column_at(line[: line.index("\0")].encode(), delimiter))
            raise FileRefused(_("there is a NUL byte, which no text has; the file is damaged"), row, column)


def _no_times(lines: list[str]) -> FileRefused:
    row, line = next(((at, one) for at, one in enumerate(lines, 1) if one.strip()), (0, ""))
    if not row:
        return FileRefused(_("the file has no line with anything in it"))
    most = max(line.count(one) for one in ",;\t|") + 1
    if most > MOST_COLUMNS:
        return FileRefused(_("there are %(count)s columns, and 500 are the most that are read", count=str(most)), row)
    why = _("no column of times with readings beside it was found; the file begins '%(text)s'", text=shortened(line))
    return FileRefused(why, row)


def _shape(
    encoding: str,
    lines: list[str],
    last: list[str],
    table: Candidate,
    time: TimeColumns,
    bounds: tuple[int | None, int | None],
) -> Shape:
    header, units, first = header_of(table)
    names = header.cells if header else ()
    texts, ending = (
        [one for one in islice(_times(some, table, time.columns), _MOST_TIMES) if layout(shape_of(one), "dmy")]
        for some in (lines[first - 1 :], last)
    )
    needed = time.form == DATE and needs_order([*texts, *ending])
    order = order_of(texts, ending, *bounds) if needed else ""
    where = layout(shape_of(texts[0]), "dmy") if texts and time.form == DATE else None
    columns = tuple(_column(table, at, time.columns, names, units.cells if units else ()) for at in range(table.width))
    decimal = "" if _may_be_thousands(table, columns) else table.mark
    return Shape(
        encoding=encoding,
        delimiter=table.delimiter,
        decimal=decimal,
        header_row=header.row if header else 0,
        data_row=first,
        skip=first - (header.next_row if header else 1),
        header=names,
        columns=columns,
        time=TimeColumns(time.columns, time.form, order, offset=where is not None and where.offset_sign != 0),
        order_needed=needed,
        to_choose=tuple(_to_choose(columns, names, texts[0] if needed and not order else "", decimal)),
    )


def _times(lines: list[str], table: Candidate, columns: tuple[int, ...]) -> Iterator[str]:
    return time_texts(records(lines, table.delimiter), columns, table.width)


def _column(table: Candidate, at: int, time: tuple[int, ...], names: tuple[str, ...], units: tuple[str, ...]) -> Column:
    cells = [one.cells[at] for one in table.rows]
    name = names[at] if at < len(names) else ""
    kinds = table.kinds(at)
    have = len(cells) - kinds[EMPTY]
    unit = unit_alone(units[at]) if at < len(units) else ""
    unit = unit or unit_in(name) or _unit_of(cells)
    if at in time:
        looks = TIME
    elif not have:
        looks = NOTHING
    elif kinds[NUMBER] + kinds[FAIL] < _MOST * have:
        looks = WORDS
    else:
        looks = COUNT if not unit and _counts(cells) else READINGS
    suspects = {str(one) for one in (suspect(cell, table.mark) for cell in cells) if one is not None}
    numbers = looks == READINGS
    return Column(
        at,
        name,
        looks,
        unit if numbers else "",
        tuple(shortened(one) for one in cells[:_EXAMPLES]),
        tuple(sorted(suspects)) if numbers else (),
    )


def _unit_of(cells: list[str]) -> str:
    """The unit that cells carry themselves: °C or °F behind each number."""
    tails = {f"°{tail[1].upper()}" for one in cells if (tail := UNIT_TAIL.search(one)) and one[0].isdigit()}
    return tails.pop() if len(tails) == 1 else ""


def _counts(cells: list[str]) -> bool:
    if len(cells) < _EXAMPLES or not all(one.isascii() and one.isdigit() and len(one) < 10 for one in cells):
        return False
    return all(int(later) - int(earlier) == 1 for earlier, later in zip(cells, cells[1:], strict=False))


def _may_be_thousands(table: Candidate, columns: tuple[Column, ...]) -> bool:
    """Whether each comma may as well stand for thousands: 71,600 between tabs."""
    if table.mark != "," or table.delimiter == ";":
        return False
    numbers = [one.number for one in columns if one.kind == READINGS]
    cells = [one.cells[at] for one in table.rows for at in numbers if "," in one.cells[at]]
    return bool(cells) and all(_THOUSANDS.fullmatch(one) for one in cells)


def _to_choose(columns: tuple[Column, ...], names: tuple[str, ...], text: str, decimal: str) -> Iterator[Said]:
    if text:
        yield _("whether the day or the month comes first in '%(text)s' must be chosen", text=shortened(text))
    if not decimal:
        yield _("whether a comma is the decimal mark or stands for thousands must be chosen")
    for one in columns:
        if one.kind == READINGS and not one.unit:
            yield _("the unit of column %(column)s must be chosen", column=label(one.number, names))
