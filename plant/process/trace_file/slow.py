"""One row at a time: the reading that knows every form and every reason."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from plant.process.said import say as _
from plant.process.trace_file.cells import Reading, number
from plant.process.trace_file.mapping import DATE, EPOCH_S
from plant.process.trace_file.moments import OrderNeeded, moment
from plant.process.trace_file.refusals import CellRefused, FileRefused, Rejected, label, shortened
from plant.process.trace_file.table import Column, Plan, Rows, Whole, one_places

LATEST_MS = 10**14  # of an epoch: the year 5138, so that every time fits


@dataclass(slots=True)
class Row:
    """A row that was understood: its line, its time [ms] as written, its offset [ms], each channel's reading."""

    row: int
    time_ms: int
    offset_ms: int | None
    readings: list[Reading | None]


@dataclass(slots=True)
class Gathered:
    """Rows one by one, until they are made columns."""

    plan: Plan
    rows: list[Row] = field(default_factory=list)

    def columns(self) -> Rows:
        """All of them, as columns."""
        count = len(self.rows)
        offsets = [one.offset_ms for one in self.rows]
        return Rows(
            np.array([one.row for one in self.rows], np.int32),
            np.array([one.time_ms for one in self.rows], np.int64),
            np.array(offsets, np.int32) if self.plan.time.offset else None,
            [self._column([one.readings[at] for one in self.rows], count) for at in range(len(self.plan.channels))],
        )

    @staticmethod
    def _column(readings: list[Reading | None], count: int) -> Column:
        there = np.array([one is not None for one in readings], np.bool_)
        failed = np.array([one is not None and one.failed for one in readings], np.bool_)
        values: Whole = np.array([one.value if one else 0 for one in readings], np.int64)
        places = np.array([one.places if one else 0 for one in readings], np.int8)
        rounded = sum(one.rounded for one in readings if one)
        return Column(*one_places(values, places, there & ~failed), failed, there, rounded)


def row(
    cells: list[str] | CellRefused, text: str, at: int, plan: Plan, header: tuple[str, ...]
) -> Row | Rejected | None:
    """What a record of these cells says that begins in line `at`; None where it is blank, else a reason.

    Raises FileRefused for what concerns the whole file: an order of day and month that was not chosen, times of which
    some have an offset and some have none, columns that change places.
    """
    try:
        if isinstance(cells, CellRefused):
            raise cells
        if not any(cells):
            return None
        if len(cells) != plan.width:
            numbers = {"count": str(len(cells)), "wanted": str(plan.width)}
            raise CellRefused(_("its number of cells is %(count)s, and a row has %(wanted)s", **numbers), -1, text)
        time_ms, offset_ms = _time(cells, plan)
        return Row(at, time_ms, offset_ms, _readings(cells, plan))
    except OrderNeeded as need:
        first = plan.time.columns[0]
        raise FileRefused(need.why, at, label(first, header), text) from need
    except CellRefused as refused:
        if not isinstance(cells, CellRefused) and tuple(cells) != header and sorted(cells) == sorted(header):
            why = _("the header comes again here with its columns in another order; cut the file in two")
            raise FileRefused(why, at, text=text) from refused
        return Rejected(at, label(refused.column, header), shortened(refused.text or text), refused.why)
    except _OffsetMissing as missing:
        why = (
            _("this time has no offset from UTC, and the others have one: one file holds one clock")
            if plan.time.offset
            else _("this time has an offset from UTC, and the others have none: one file holds one clock")
        )
        raise FileRefused(why, at, label(plan.time.columns[0], header), missing.text) from missing


class _OffsetMissing(Exception):
    def __init__(self, text: str) -> None:
        super().__init__(text)
        self.text = text


def _time(cells: list[str], plan: Plan) -> tuple[int, int | None]:
    columns = plan.time.columns
    text = " ".join(cells[one] for one in columns)
    try:
        if not text.strip():
            raise CellRefused(_("the time is missing"))
        if plan.time.form != DATE:
            return _since_1970(text, plan), None
        time_ms, offset_ms = moment(text, plan.time.order)
    except OrderNeeded:
        raise
    except CellRefused as refused:
        raise CellRefused(refused.why, columns[0], text) from refused
    if (offset_ms is not None) != plan.time.offset:
        raise _OffsetMissing(text)
    return time_ms, offset_ms


def _since_1970(text: str, plan: Plan) -> int:
    found = number(text, plan.mark)
    time_ms = LATEST_MS
    if found is not None:
        time_ms = found.value * (1000 if plan.time.form == EPOCH_S else 1) // found.unit
    if abs(time_ms) >= LATEST_MS:
        raise CellRefused(_("'%(text)s' is no count of time since 1970", text=shortened(text)))
    return time_ms


def _readings(cells: list[str], plan: Plan) -> list[Reading | None]:
    readings = []
    for at, reader in zip(plan.channels, plan.cells, strict=True):
        try:
            readings.append(reader.read(cells[at]))
        except CellRefused as refused:
            raise CellRefused(refused.why, at, cells[at]) from refused
    return readings
