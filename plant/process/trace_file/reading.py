"""A file read from its beginning to its end, block by block: regular rows by the thousand, the others one by one."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import tzinfo
from operator import attrgetter
from typing import BinaryIO

from plant.process.said import say as _
from plant.process.trace_file import fast, slow
from plant.process.trace_file.assembling import Bounds, channel, in_order, in_utc, shown
from plant.process.trace_file.blocks import BLOCK, MOST_LINE, Block, blocks
from plant.process.trace_file.cells import fields, number
from plant.process.trace_file.mapping import Mapping
from plant.process.trace_file.moments import shape_of
from plant.process.trace_file.refusals import CellRefused, FileRefused, Rejected, label, shortened
from plant.process.trace_file.result import Parsed
from plant.process.trace_file.table import Plan, Rows, by_row, together

MOST_ROWS = 20_000_000
MOST_REJECTED = 200  # that are named; the others are counted
_HOPELESS = 1000  # rows without one that is understood
_MOST_ABOVE = 1000  # lines above the header
_MOST_LINES = 50  # of one row, by line ends within quotation marks


def read(stream: BinaryIO, mapping: Mapping, *, now_ms: int, earliest_ms: int, zone: tzinfo) -> Parsed:
    """A recorder's file, from where `stream` stands to its end: all of it, or a refusal.

    `now_ms` and `earliest_ms` [ms UTC] bound the times that are believed (a recorder's clock may be ten minutes ahead);
    `zone` is the plant's. Memory: about a mebibyte of the file at a time, and 16 to 35 bytes for each row and channel.

    Range: at most 500 columns, lines of 100,000 bytes, 20 million rows; times from `earliest_ms` to `now_ms`.
    Raises: FileRefused, with row, column and reason, for a file that is no text, that does not have the mapping's
    header, that holds two clocks, a time outside the bounds or nothing that is understood.
    Source: RFC 4180 (cells), ISO 8601 and RFC 3339 (times); what else recorders write is common practice, no source.

    >>> import io
    >>> from datetime import UTC
    >>> from plant.process.trace_file import ChannelColumn, TimeColumns
    >>> mapping = Mapping("utf-8", ",", ".", 2, TimeColumns((0,)), (ChannelColumn(1, "TT-1", "°C"),), ("Time", "Milk"))
    >>> file = io.BytesIO(b"Time,Milk\\n2026-03-03 10:00:00,71.66\\n2026-03-03 10:00:01,OPEN\\n")
    >>> parsed = read(file, mapping, now_ms=1_772_600_000_000, earliest_ms=0, zone=UTC)
    >>> parsed.channels[0].samples.values.tolist(), parsed.channels[0].failed, parsed.first[0].values
    ([7166, 0], 1, (Decimal('71.66'),))
    """
    return read_with(stream, mapping, now_ms, earliest_ms, zone)


def read_with(
    stream: BinaryIO,
    mapping: Mapping,
    now_ms: int,
    earliest_ms: int,
    zone: tzinfo,
    *,
    size: int = BLOCK,
    one_by_one: bool = False,
) -> Parsed:
    """`read`, in blocks of `size` bytes; `one_by_one` reads every row by itself, which gives the same."""
    reader = _Reader(mapping, one_by_one)
    for block in blocks(stream, mapping.encoding, mapping.delimiter, size):
        reader.take(block)
    return reader.finished(zone, Bounds(earliest_ms, now_ms))


class _Reader:
    """Takes blocks one after the other and keeps the rows."""

    def __init__(self, mapping: Mapping, one_by_one: bool) -> None:
        self.plan, self.mapping, self.header = Plan(mapping), mapping, mapping.header
        self.one_by_one = one_by_one
        self.parts: list[Rows] = []
        self.kept = self.rejected_count = 0
        self.rejected: list[Rejected] = []
        self.left = Block(b"", 0)  # a row of several lines whose end has not come yet
        self.looking, self.to_skip = bool(mapping.header), mapping.skip
        self.before = b""  # the lines before the block's last one

    def take(self, block: Block) -> None:
        """The rows of a block; the file's last line may lack its end."""
        data, row = (self.left.data + block.data, self.left.row) if self.left.data else block
        self.left = Block(b"", 0)
        if self.looking:
            data, row = self._below_header(data, row)
        while data and self.to_skip:
            end = data.find(b"\n") + 1 or len(data)
            data, row, self.to_skip = data[end:], row + 1, self.to_skip - 1
        cut = data.rfind(b"\n") + 1
        whole, last = data[:cut], data[cut:]
        if whole:
            self._rows(whole, row)
            self.before = whole[-MOST_LINE:]
        if last:
            self._last(last, row + whole.count(b"\n"))

    def finished(self, zone: tzinfo, bounds: Bounds) -> Parsed:
        """All rows, put together."""
        if self.left.data:
            raise _never_closed(self.left.row)
        if self.looking:
            raise self._no_header()
        if not self.parts:
            raise self._nothing()
        rows = together(self.parts, len(self.plan.channels))
        utc = in_utc(rows, self.mapping, zone, bounds, MOST_REJECTED)
        del rows
        self.rejected = sorted([*self.rejected, *utc.rejected], key=attrgetter("row"))[:MOST_REJECTED]
        if not len(utc.rows):
            raise self._nothing()
        first, last = shown(utc.rows)
        ordered, late = in_order(utc.rows, utc.newest_first)
        return Parsed(
            channels=tuple(channel(ordered, at, self.mapping) for at in range(len(self.plan.channels))),
            rows=self.kept + self.rejected_count,
            rejected_count=self.rejected_count + utc.rejected_count,
            rejected=tuple(self.rejected),
            out_of_order=late,
            newest_first=utc.newest_first,
            told_apart=utc.told_apart,
            first=first,
            last=last,
        )

    def _below_header(self, data: bytes, row: int) -> tuple[bytes, int]:
        lines = data.split(b"\n", _MOST_ABOVE)
        if len(lines) > _MOST_ABOVE or not lines[-1]:
            lines.pop()
        for at, text, cells in self._records(list(enumerate(lines, row))):
            if at > _MOST_ABOVE:
                break
            if not isinstance(cells, CellRefused) and tuple(cells) == self.header:
                self.looking = False
                below = at + text.count("\n") + 1
                end = len(b"\n".join(lines[: below - row])) + 1
                return data[end:], below
        if row + len(lines) > _MOST_ABOVE:
            raise self._no_header()
        return b"", row + len(lines)

    def _rows(self, data: bytes, row: int) -> None:
        if self.one_by_one:
            rows, others = None, list(enumerate(data[:-1].split(b"\n"), row))
        else:
            rows, others = fast.read(data, row, self.plan)
        gathered = slow.Gathered(self.plan)
        first = MOST_ROWS if rows is None else int(rows.row[0])
        for at, text, cells in self._records(others):
            found = slow.row(cells, text, at, self.plan, self.header)
            if isinstance(found, slow.Row):
                gathered.rows.append(found)
            elif found is not None:
                self._reject(found)
                if self.rejected_count >= _HOPELESS and not self.kept and not gathered.rows and at < first:
                    raise self._nothing()
        self._keep(rows, gathered.columns() if gathered.rows else None)

    def _keep(self, *parts: Rows | None) -> None:
        have = [one for one in parts if one is not None]
        self.kept += sum(map(len, have))
        if self.kept + self.rejected_count > MOST_ROWS:
            raise FileRefused(_("the file has more than 20 million rows; give it in parts"))
        self.parts += [by_row(together(have, len(self.plan.channels)))] if len(have) > 1 else have

    def _reject(self, one: Rejected) -> None:
        self.rejected_count += 1
        if len(self.rejected) < MOST_REJECTED:
            self.rejected.append(one)

    def _records(self, lines: list[tuple[int, bytes]]) -> Iterator[tuple[int, str, list[str] | CellRefused]]:
        """Records of one line or, by line ends within quotation marks, of several: line, text, cells.

        One that is not closed at the end of these lines is kept for the next block.
        """
        waiting = iter(lines)
        for at, line in waiting:
            text, count = line.decode(), 1
            while (cells := _cells(text, self.plan)) is None:
                if count >= _MOST_LINES or len(text) > MOST_LINE:
                    raise _never_closed(at)
                following = next(waiting, None)
                if following is None:
                    self.left = Block(text.encode() + b"\n", at)
                    return
                text, count = f"{text}\n{following[1].decode()}", count + 1
            yield at, text, cells

    def _last(self, line: bytes, row: int) -> None:
        """A last line without its end: taken only where nothing speaks for its having been cut off."""
        text = line.decode()
        cells = _cells(text, self.plan)
        if not text.strip():
            return
        if not isinstance(cells, CellRefused) and not self._ended(cells):
            column = -1 if cells is None else min(len(cells), self.plan.width) - 1
            cell = text if cells is None else cells[-1]
            why = _("the file ends within this row, as it seems: it has no line end and is not like the row before it")
            self._reject(Rejected(row, label(column, self.header), shortened(cell), why))
            return
        found = slow.row(cells or [], text, row, self.plan, self.header)
        if isinstance(found, Rejected):
            self._reject(found)
        elif found is not None:
            gathered = slow.Gathered(self.plan, [found])
            self._keep(gathered.columns())

    def _ended(self, cells: list[str] | None) -> bool:
        if cells is None or len(cells) < self.plan.width:
            return False
        last = self.plan.width - 1
        if last not in (*self.plan.time.columns, *self.plan.channels) or len(cells) > self.plan.width:
            return True
        lines = self.before.decode(errors="replace").strip("\n").rsplit("\n", 1)
        above = _cells(lines[-1], self.plan)
        if above is None or isinstance(above, CellRefused) or len(above) != self.plan.width:
            return False
        one, other = number(cells[last], self.plan.mark), number(above[last], self.plan.mark)
        alike = one is not None and other is not None and one.places == other.places > 0
        return alike or shape_of(cells[last]) == shape_of(above[last])

    def _no_header(self) -> FileRefused:
        names = shortened(" | ".join(self.header))
        return FileRefused(_("the header that this mapping was made for is not in the file: %(names)s", names=names))

    def _nothing(self) -> FileRefused:
        if not self.rejected:
            return FileRefused(_("there is no row of readings in the file"))
        one = self.rejected[0]
        why = _("nothing here is understood as a row of readings; the first: %(why)s", why=one.why)
        return FileRefused(why, one.row, one.column, one.text)


def _cells(text: str, plan: Plan) -> list[str] | CellRefused | None:
    try:
        return fields(text, plan.delimiter)
    except CellRefused as refused:
        return refused


def _never_closed(row: int) -> FileRefused:
    return FileRefused(_("a quotation mark that opens here is never closed"), row)
