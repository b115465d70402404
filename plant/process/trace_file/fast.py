"""Thousands of regular rows at once, by their bytes: numbers by columns of digits, times by the layout of their text.

A row is regular when it has the right number of cells, each mapped one holding a plain number or nothing, and its time
has one of the block's common layouts. Every other row is left to `slow`, which also knows the reasons; both give the
same for a row that both read.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plant.process.arrays import BoolArray
from plant.process.trace_blocks import MOST_PLACES
from plant.process.trace_file.cells import MOST_WHOLE_DIGITS, Cells
from plant.process.trace_file.digits import At, Bytes, numbers, trimmed, window
from plant.process.trace_file.mapping import DATE, EPOCH_S
from plant.process.trace_file.moments import Layout, OrderNeeded, layout, moments, shape_of
from plant.process.trace_file.table import Column, Places, Plan, Rows, Whole, one_places

Offsets = NDArray[np.int32]

_PAD = 64  # bytes before and behind a block, so that no window reaches over its ends
_LAYOUTS = 24  # different layouts of time tried in one block
_BLANK, _TAB, _FEED, _QUOTE = 32, 9, 10, 34
_NEVER = np.iinfo(np.int64).min


@dataclass(slots=True)
class _Lines:
    """A block's lines: where they start and end in `data` (padded); `found` are those with the right number of cells.

    `starts` and `ends` say where the mapped cells of the found lines are: for each column an array.
    """

    data: Bytes
    line_starts: At
    line_ends: At
    found: At
    starts: dict[int, At]
    ends: dict[int, At]


@dataclass(slots=True)
class _Raw:
    """A channel in the found lines before the regular rows are chosen; `places` of each value."""

    values: Whole
    places: Places
    failed: BoolArray
    there: BoolArray

    def column(self, which: BoolArray) -> Column:
        failed, there = self.failed[which], self.there[which]
        values, places = one_places(self.values[which], self.places[which], there & ~failed)
        return Column(values, places, failed, there)


def read(block: bytes, first_row: int, plan: Plan) -> tuple[Rows | None, list[tuple[int, bytes]]]:
    """The regular rows of a block of whole lines, None for none; and the other lines with their rows, in order."""
    plain = _unquoted(block, plan) if b'"' in block else block
    if plain is None:
        return None, list(enumerate(block[:-1].split(b"\n"), first_row))
    lines = _lines(plain, plan)
    time_ms, offset_ms, regular = _times(lines, plan)
    raw, good = _channels(lines, plan)
    regular &= good
    others = np.ones(len(lines.line_starts), np.bool_)
    others[lines.found[regular]] = False
    irregular = np.flatnonzero(others)
    left = _left(block, plain, lines, irregular, first_row) if len(irregular) else []
    if not regular.any():
        return None, left
    rows = Rows(
        (lines.found[regular] + first_row).astype(np.int32),
        time_ms[regular],
        None if offset_ms is None else offset_ms[regular],
        [one.column(regular) for one in raw],
    )
    return rows, left


def _left(block: bytes, plain: bytes, lines: _Lines, irregular: At, first_row: int) -> list[tuple[int, bytes]]:
    if plain is not block:  # with the quotation marks that were taken out
        whole = block[:-1].split(b"\n")
        return [(first_row + one, whole[one]) for one in irregular.tolist()]
    starts, ends = lines.line_starts[irregular] - _PAD, lines.line_ends[irregular] - _PAD
    spans = zip(irregular.tolist(), starts.tolist(), ends.tolist(), strict=True)
    return [(first_row + one, block[start:end]) for one, start, end in spans]


def _unquoted(block: bytes, plan: Plan) -> bytes | None:
    """The block without its quotation marks, where each pair encloses a whole cell that would not need it."""
    if plan.by_blanks:
        return None
    data = np.frombuffer(block, np.uint8)
    quotes = np.flatnonzero(data == _QUOTE)
    if len(quotes) % 2:
        return None
    opening, closing = quotes[::2], quotes[1::2]
    stop = (data == ord(plan.delimiter)) | (data == _FEED)
    stops = np.flatnonzero(stop)
    alone = stop[opening - 1].all() and stop[np.minimum(closing + 1, len(data) - 1)].all()  # a block ends in a stop
    if not alone or (np.searchsorted(stops, opening) != np.searchsorted(stops, closing)).any():
        return None
    return block.replace(b'"', b"")


def _lines(plain: bytes, plan: Plan) -> _Lines:
    padding = b"\n" * _PAD
    data = np.frombuffer(padding + plain + padding, np.uint8)
    inner = data[:-_PAD]
    feeds = inner == _FEED
    feeds[:_PAD] = False
    wanted = {*plan.time.columns, *plan.channels}
    if plan.by_blanks:
        blank = feeds | (inner == _BLANK) | (inner == _TAB)
        blank[:_PAD] = True
        edges = np.flatnonzero(blank[1:] != blank[:-1]) + 1
        cell_starts, cell_ends = edges[0::2], edges[1::2]
        line_ends = np.flatnonzero(feeds)
        line_starts = np.concatenate([[_PAD], line_ends[:-1] + 1])
        firsts = np.searchsorted(cell_starts, line_starts)
        counts = np.diff(firsts, append=len(cell_starts))
        found = np.flatnonzero(counts == plan.width)
        at = firsts[found]
        starts, ends = {one: cell_starts[at + one] for one in wanted}, {one: cell_ends[at + one] for one in wanted}
        return _Lines(data, line_starts, line_ends, found, starts, ends)
    stop = feeds | (inner == ord(plan.delimiter))
    stops = np.flatnonzero(stop)
    last = np.flatnonzero(feeds[stops])
    line_ends = stops[last]
    line_starts = np.concatenate([[_PAD], line_ends[:-1] + 1])
    found = np.flatnonzero(np.diff(last, prepend=-1) == plan.width)
    at = last[found] - plan.width + 1
    ends = {one: stops[at + one] for one in wanted}
    starts = {one: stops[at + one - 1] + 1 if one else line_starts[found] for one in wanted}
    return _Lines(data, line_starts, line_ends, found, starts, ends)


def _times(lines: _Lines, plan: Plan) -> tuple[Whole, Offsets | None, BoolArray]:
    spans = [trimmed(lines.data, lines.starts[one], lines.ends[one]) for one in plan.time.columns]
    if plan.time.form == DATE:
        return _dates(lines.data, spans, plan)
    if len(spans) > 1 or not len(lines.found):
        nothing = np.zeros(len(lines.found), np.int64)
        return nothing, None, np.zeros(len(lines.found), np.bool_)
    by_second = plan.time.form == EPOCH_S
    value, places, good = numbers(lines.data, *spans[0], plan.mark, 11 if by_second else 14)
    shift = places.astype(np.int64) - (3 if by_second else 0)
    time_ms = value * 10 ** np.maximum(-shift, 0) // 10 ** np.maximum(shift, 0)
    return time_ms, None, good


def _dates(data: Bytes, spans: list[tuple[At, At]], plan: Plan) -> tuple[Whole, Offsets | None, BoolArray]:
    count = len(spans[0][0])
    widths = [end - start for start, end in spans]
    time_ms, good = np.zeros(count, np.int64), np.zeros(count, np.bool_)
    offset_ms = np.zeros(count, np.int32) if plan.time.offset else None
    left = np.arange(count)
    for _turn in range(_LAYOUTS):
        if not len(left):
            break
        text = b" ".join(data[start[left[0]] : end[left[0]]].tobytes() for start, end in spans).decode("latin-1")
        where = _layout(text, plan)
        if where is None:
            left = left[1:]
            continue
        same = np.ones(len(left), np.bool_)
        for width in widths:
            same &= width[left] == width[left[0]]
        some = left if same.all() else left[same]
        digits, alike = _like(data, spans, some, shape_of(text).encode("latin-1"))
        if not alike.all():
            some, digits = some[alike], digits[:, alike]
        read_ = moments(digits, where)
        time_ms[some], good[some] = read_.local_ms, read_.valid
        if offset_ms is not None and read_.offset_ms is not None:
            offset_ms[some] = read_.offset_ms
        same[same] = alike
        left = left[~same]
    return time_ms, offset_ms, good


def _layout(text: str, plan: Plan) -> Layout | None:
    try:
        where = layout(shape_of(text), plan.time.order)
    except OrderNeeded:
        return None
    return None if where is None or (where.offset_sign != 0) != plan.time.offset else where


def _like(data: Bytes, spans: list[tuple[At, At]], some: At, shape: bytes) -> tuple[Bytes, BoolArray]:
    """The texts of these rows, turned: shape (length, n), digits as numbers; and which are of this shape."""
    parts = []
    for start, end in spans:
        first = start[some]
        width = int(end[some[0]] - first[0])
        parts += [window(data, first, width), np.full((1, len(some)), _BLANK, np.uint8)]
    texts = np.concatenate(parts[:-1]) if len(parts) > 2 else parts[0]
    alike = np.ones(len(some), np.bool_)
    for one, wanted in zip(texts, shape, strict=True):
        if wanted == ord("0"):
            one -= ord("0")
            alike &= one <= 9
        else:
            alike &= one == wanted
    return texts, alike


def _channels(lines: _Lines, plan: Plan) -> tuple[list[_Raw], BoolArray]:
    """The channels' cells, those of one width in one long row: few steps read them, none reads a narrow cell wide."""
    count = len(lines.found)
    every = np.ones(count, np.bool_)
    found: dict[int, _Raw] = {}
    for mine in _by_width(lines, plan):
        starts, ends = (np.concatenate([side[plan.channels[at]] for at in mine]) for side in (lines.starts, lines.ends))
        starts, ends = trimmed(lines.data, starts, ends)
        values, places, good = numbers(lines.data, starts, ends, plan.mark, MOST_WHOLE_DIGITS)
        there = ends > starts
        good |= ~there
        every &= np.logical_and.reduce(good.reshape(len(mine), count))
        parts = (one.reshape(len(mine), count) for one in (values, places, there))
        for at, *one in zip(mine, *parts, strict=True):
            found[at] = _raw(plan.cells[at], *one)
    return [found[at] for at in range(len(plan.channels))], every


def _by_width(lines: _Lines, plan: Plan) -> list[list[int]]:
    """The places of the channels in the plan, together those whose widest cell is alike."""
    found: dict[int, list[int]] = {}
    for at, one in enumerate(plan.channels):
        widest = int((lines.ends[one] - lines.starts[one]).max(initial=0))
        found.setdefault(widest, []).append(at)
    return list(found.values())


def _raw(cells: Cells, values: Whole, places: Places, there: BoolArray) -> _Raw:
    failed = np.zeros(len(values), np.bool_)
    for code in cells.fail_numbers:
        written = np.array([_NEVER if (at := code.at(one)) is None else at for one in range(MOST_PLACES + 1)])
        failed |= there & (values == written[places])
    if cells.blank_fails:
        failed |= ~there
        there = np.ones(len(values), np.bool_)
    return _Raw(values, places, failed, there)
