"""Rows in order of the file made channels in order of time: clocks, order, duplicates, contradictions, gaps."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta, tzinfo

import numpy as np
from numpy.typing import NDArray

from plant.process.arrays import BoolArray
from plant.process.said import Said
from plant.process.said import say as _
from plant.process.trace_blocks import Samples
from plant.process.trace_file import zones
from plant.process.trace_file.cells import decimal
from plant.process.trace_file.mapping import DATE, Mapping, zone_of
from plant.process.trace_file.moments import DAY_MS, MINUTE_MS
from plant.process.trace_file.refusals import FileRefused, Rejected, label
from plant.process.trace_file.result import Channel, Contradictions, ParsedRow
from plant.process.trace_file.table import Column, Rows, Whole, chosen

AHEAD_MS = 10 * MINUTE_MS  # a recorder's clock may be so far ahead of ours (this project's choice)
_MOST_BACK_MS = 30 * MINUTE_MS  # rows out of order go back less; a clock that was set goes back more
_GAP = 2  # usual steps
_SHOWN = 5
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Bounds:
    """What a time may be: not before `earliest_ms`, not after `now_ms` [ms UTC] and what a clock may be ahead."""

    earliest_ms: int
    now_ms: int


@dataclass(frozen=True, slots=True)
class InUtc:
    """Rows whose `time_ms` is UTC, in order of the file; those of a time that is not there or not known are out."""

    rows: Rows
    rejected: tuple[Rejected, ...]
    rejected_count: int
    told_apart: int
    newest_first: bool
    usual_ms: int


def in_utc(rows: Rows, mapping: Mapping, zone: tzinfo, bounds: Bounds, most_rejected: int) -> InUtc:
    """The rows' times as UTC. Raises FileRefused for a time outside the bounds and for two clocks in one file."""
    newest_first, usual_ms = _running(rows.time_ms)
    where = label(mapping.time.columns[0], mapping.header)
    _refuse_outside(rows, rows.time_ms, bounds, DAY_MS, where)
    placed: zones.Placed | None = None
    rejected: tuple[Rejected, ...] = ()
    if rows.offset_ms is not None:
        rows = replace(rows, time_ms=rows.time_ms - rows.offset_ms)
        _refuse_mixed(rows, zone_of(mapping.time.clock, zone), where)
    elif mapping.time.form == DATE:
        turned = rows.time_ms[::-1] if newest_first else rows.time_ms
        placed = zones.to_utc(turned, zone_of(mapping.time.clock, zone), usual_ms)
        if newest_first:
            placed = zones.Placed(*(getattr(placed, one)[::-1] for one in zones.Placed.__slots__))
        out = placed.skipped | placed.unknown
        rejected = tuple(_not_placed(rows, placed, at, where) for at in np.flatnonzero(out)[:most_rejected].tolist())
        rows = replace(rows, time_ms=placed.utc_ms)
        if out.any():
            rows = chosen(rows, ~out)
    count = int(np.count_nonzero(placed.skipped | placed.unknown)) if placed else 0
    told = int(np.count_nonzero(placed.told)) if placed else 0
    if len(rows):
        _refuse_outside(rows, rows.time_ms, bounds, 0, where)
        if not mapping.any_order:
            _refuse_jump(rows, newest_first, usual_ms, where)
    return InUtc(rows, rejected, count, told, newest_first, usual_ms)


def _running(times_ms: Whole) -> tuple[bool, int]:
    """Whether the times mostly fall from row to row, and their usual step [ms], whichever its sign."""
    steps = np.diff(times_ms)
    steps = steps[steps != 0]
    if not len(steps):
        return False, 0
    return 2 * int(np.count_nonzero(steps < 0)) > len(steps), int(_median(np.abs(steps)))


def _refuse_outside(rows: Rows, times_ms: Whole, bounds: Bounds, margin_ms: int, where: str) -> None:
    early = times_ms < bounds.earliest_ms - margin_ms
    outside = early | (times_ms > bounds.now_ms + AHEAD_MS + margin_ms)
    if not outside.any():
        return
    at = int(outside.argmax())
    text, earliest = _written(int(times_ms[at])), _written(bounds.earliest_ms)
    why = (
        _(
            "%(time)s is before %(earliest)s, the earliest time that is taken",
            time=text,
            earliest=earliest,
        )
        if early[at]
        else _("%(time)s has not come yet", time=text)
    )
    raise FileRefused(why, int(rows.row[at]), where, text)


def _refuse_mixed(rows: Rows, zone: tzinfo, where: str) -> None:
    """Offsets differ in a file of one clock only as its zone's do."""
    written = rows.offset_ms
    if written is None or (written == written[0]).all() or (written == zones.offsets(rows.time_ms, zone)).all():
        return
    at = int((written != written[0]).argmax())
    offsets = {"here": _offset(int(written[at])), "there": _offset(int(written[0])), "row": str(rows.row[0])}
    why = _("the offset from UTC is %(here)s here and %(there)s in row %(row)s: one file holds one clock", **offsets)
    raise FileRefused(why, int(rows.row[at]), where, offsets["here"])


def _refuse_jump(rows: Rows, newest_first: bool, usual_ms: int, where: str) -> None:
    steps = np.diff(rows.time_ms) * (-1 if newest_first else 1)
    back = steps < -max(_MOST_BACK_MS, 2 * usual_ms)
    if back.any():
        at = int(back.argmax()) + 1
        minutes = str(-int(steps[at - 1]) // MINUTE_MS)
        why = _(
            "the time jumps by %(minutes)s minutes against the order of the rows: one file holds one clock; cut the "
            "file where its clock was set, or say that its rows are in any order",
            minutes=minutes,
        )
        raise FileRefused(why, int(rows.row[at]), where, _written(int(rows.time_ms[at])))


def _not_placed(rows: Rows, placed: zones.Placed, at: int, where: str) -> Rejected:
    why: Said = (
        _("the spring clock change leaves this time out; a recorder that keeps no summer time has a fixed offset")
        if placed.skipped[at]
        else _("this time came twice on the night of the clock change, and the rows do not tell which is meant")
    )
    return Rejected(int(rows.row[at]), where, _written(int(rows.time_ms[at])).removesuffix("Z"), why)


def shown(rows: Rows) -> tuple[tuple[ParsedRow, ...], tuple[ParsedRow, ...]]:
    """The first and the last rows."""
    count = len(rows)
    ends = range(min(_SHOWN, count)), range(max(count - _SHOWN, 0), count)
    first, last = (tuple(_shown(rows, at) for at in end) for end in ends)
    return first, last


def _shown(rows: Rows, at: int) -> ParsedRow:
    valued = [bool(one.there[at]) and not one.failed[at] for one in rows.columns]
    return ParsedRow(
        int(rows.row[at]),
        int(rows.time_ms[at]),
        tuple(
            decimal(int(one.values[at]), one.places) if have else None
            for one, have in zip(rows.columns, valued, strict=True)
        ),
        tuple(bool(one.failed[at]) for one in rows.columns),
    )


def in_order(rows: Rows, newest_first: bool) -> tuple[Rows, int]:
    """The rows by time, those of one moment as in the file; and how many were out of order."""
    times = rows.time_ms[::-1] if newest_first else rows.time_ms
    late = int(np.count_nonzero(times < np.maximum.accumulate(times)))
    if (np.diff(rows.time_ms) >= 0).all():
        return rows, late
    return chosen(rows, np.argsort(rows.time_ms, kind="stable")), late


def channel(rows: Rows, at: int, mapping: Mapping) -> Channel:
    """One channel of rows in order of time."""
    mapped, column = mapping.channels[at], rows.columns[at]
    there = column.there
    row, times, values, failed = rows.row, rows.time_ms, column.values.astype(np.int64, copy=False), column.failed
    if not there.all():
        row, times, values, failed = row[there], times[there], values[there], failed[there]
    again = np.zeros(len(times), np.bool_)
    again[1:] = times[1:] == times[:-1]
    doubled = bool(again.any())
    contradictions, duplicates = _compared(row, times, values, failed, again, column)
    if doubled:
        times, values, failed = times[~again], values[~again], failed[~again]
    steps = np.diff(times)
    usual = _median(steps) if len(steps) else 0.0
    gaps = np.flatnonzero(steps > _GAP * usual)
    return Channel(
        column=mapped.column,
        name=mapping.header[mapped.column] if mapped.column < len(mapping.header) else "",
        instrument=mapped.instrument,
        unit=mapped.unit,
        samples=Samples(times, values, failed, column.places),
        contradictions=contradictions,
        duplicates=duplicates,
        empty=int(np.count_nonzero(~there)),
        rounded=column.rounded,
        usual_step_ms=usual,
        gaps_ms=np.stack([times[gaps], times[gaps + 1]], axis=1),
    )


def _compared(
    row: NDArray[np.int32], times: Whole, values: Whole, failed: BoolArray, again: BoolArray, column: Column
) -> tuple[Contradictions, int]:
    """Samples of a moment that has one already: what contradicts the first of it, each value once; and the repeats."""
    later = np.flatnonzero(again)
    first = np.maximum.accumulate(np.where(again, 0, np.arange(len(times))))[later] if len(later) else later
    other = later[(values[later] != values[first]) | (failed[later] != failed[first])]
    if len(other):
        alike = np.stack([times[other], values[other], failed[other]])
        other = other[np.sort(np.unique(alike, axis=1, return_index=True)[1])]
    base = first[np.searchsorted(later, other)]
    found = Contradictions(
        row[other], times[other], values[base], failed[base], values[other], failed[other], column.places
    )
    return found, len(later) - len(other)


def _median(steps: Whole) -> float:
    # Most steps of a recorder are alike: sorting runs is quick, numpy's own median is not.
    ordered = np.sort(steps, kind="stable")
    return float(ordered[(len(ordered) - 1) // 2] + ordered[len(ordered) // 2]) / 2


def _written(time_ms: int) -> str:
    """A moment as ISO 8601 has it, in UTC."""
    try:
        moment = _EPOCH + timedelta(milliseconds=time_ms)
    except OverflowError:
        return f"{time_ms} ms"
    return moment.isoformat(sep=" ", timespec="milliseconds").removesuffix("+00:00").removesuffix(".000") + "Z"


def _offset(offset_ms: int) -> str:
    sign, minutes = "-" if offset_ms < 0 else "+", abs(offset_ms) // MINUTE_MS
    return f"{sign}{minutes // 60:02d}:{minutes % 60:02d}"
