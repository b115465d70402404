"""Rows that were read, held in columns: what both ways of reading give, and what is put together from them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from plant.process.arrays import BoolArray
from plant.process.trace_file.cells import BLANKS, Cells
from plant.process.trace_file.mapping import Mapping

Whole = NDArray[np.int64]
Places = NDArray[np.int8]
AnyWhole = NDArray[np.signedinteger]
T = TypeVar("T", bound=np.generic)
_SMALL = 2**31 - 1


class Plan:
    """A mapping made ready for reading."""

    def __init__(self, mapping: Mapping) -> None:
        self.mapping, self.time = mapping, mapping.time
        self.width, self.delimiter, self.mark = mapping.columns, mapping.delimiter, mapping.decimal
        self.by_blanks = mapping.delimiter == BLANKS
        self.channels = tuple(one.column for one in mapping.channels)
        self.cells = tuple(
            Cells(one.unit, mapping.decimal, one.fail_texts, one.fail_numbers) for one in mapping.channels
        )


@dataclass(slots=True)
class Column:
    """A channel in some rows: `values` [10^-places] with 0 where none is; which `failed`; which are `there` at all."""

    values: AnyWhole
    places: int
    failed: BoolArray
    there: BoolArray
    rounded: int = 0


@dataclass(slots=True)
class Rows:
    """n rows: their lines in the file, their times [ms] as written, offsets [ms] where written, and the channels."""

    row: NDArray[np.int32]
    time_ms: Whole
    offset_ms: NDArray[np.int32] | None
    columns: list[Column]

    def __len__(self) -> int:
        return len(self.row)


def one_places(values: Whole, places: Places, counts: BoolArray) -> tuple[AnyWhole, int]:
    """Values that each have places of their own, all on the most that one of those that count has; 0 for the others."""
    most = int(places[counts].max(initial=0))
    if (places != most).any():
        values = np.where(counts, values * 10 ** np.maximum(most - places, 0).astype(np.int64), 0)
    elif not counts.all():
        values = np.where(counts, values, 0)
    return narrow(values), most


def narrow(values: Whole) -> AnyWhole:
    """In half the room where they fit."""
    if len(values) and max(-int(values.min()), int(values.max())) > _SMALL:
        return values
    return values.astype(np.int32)


def together(parts: Sequence[Rows], channels: int) -> Rows:
    """All of them on end. The parts are used up, column by column, so that memory is not needed twice."""
    offsets = [one.offset_ms for one in parts if one.offset_ms is not None]
    return Rows(
        _joined([one.row for one in parts], np.int32),
        _joined([one.time_ms for one in parts], np.int64),
        _joined(offsets, np.int32) if offsets else None,
        [column([one.columns.pop(0) for one in parts]) for _channel in range(channels)],
    )


def column(parts: list[Column]) -> Column:
    """One column out of its parts, on the most places of one of them."""
    most = max((one.places for one in parts), default=0)
    values = [
        one.values if one.places == most else one.values.astype(np.int64) * 10 ** (most - one.places) for one in parts
    ]
    return Column(
        _joined(values, np.int64),
        most,
        _joined([one.failed for one in parts], np.bool_),
        _joined([one.there for one in parts], np.bool_),
        sum(one.rounded for one in parts),
    )


def _joined(parts: Sequence[NDArray[Any]], kind: type[T]) -> NDArray[T]:
    return np.concatenate([*parts, np.zeros(0, kind)]).astype(kind, copy=False)


def chosen(rows: Rows, which: NDArray[np.intp] | BoolArray) -> Rows:
    """Some of the rows, or all in another order."""
    return Rows(
        rows.row[which],
        rows.time_ms[which],
        None if rows.offset_ms is None else rows.offset_ms[which],
        [
            Column(one.values[which], one.places, one.failed[which], one.there[which], one.rounded)
            for one in rows.columns
        ],
    )


def by_row(rows: Rows) -> Rows:
    """The rows in order of the file."""
    return chosen(rows, np.argsort(rows.row, kind="stable"))
