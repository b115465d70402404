"""What was read from a file: for each channel its samples, and what a person should know about them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray

from plant.process.arrays import BoolArray
from plant.process.trace_blocks import Samples
from plant.process.trace_file.cells import decimal
from plant.process.trace_file.refusals import Rejected

Whole = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Contradiction:
    """Two samples of one moment [ms UTC]: the `first`, which stands, and the `other`, in line `row`. None: failed."""

    row: int
    time_ms: int
    first: Decimal | None
    other: Decimal | None


@dataclass(frozen=True, slots=True, eq=False)
class Contradictions:
    """All contradictions of a channel, as arrays of shape (n,); going through them gives each as a Contradiction."""

    rows: NDArray[np.int32]
    times_ms: Whole
    first: Whole
    first_failed: BoolArray
    other: Whole
    other_failed: BoolArray
    places: int

    def __len__(self) -> int:
        return len(self.rows)

    def __iter__(self) -> Iterator[Contradiction]:
        for at in range(len(self)):
            first = None if self.first_failed[at] else decimal(int(self.first[at]), self.places)
            other = None if self.other_failed[at] else decimal(int(self.other[at]), self.places)
            yield Contradiction(int(self.rows[at]), int(self.times_ms[at]), first, other)


@dataclass(frozen=True, slots=True, eq=False)
class Channel:
    """A column's samples, in the column's own `unit`, in order of time, each moment once.

    `column` counts from 0; `name` is its header. `duplicates`: samples that repeat one of the same moment and value.
    `empty`: cells with nothing in them, which are no sample. `rounded`: values with more than six digits behind the
    mark that are not zeros. `usual_step_ms` [ms] is the median of the steps (0 below two samples); `gaps_ms` [ms UTC],
    shape (n, 2), the steps longer than twice that: from, until.
    """

    column: int
    name: str
    instrument: str
    unit: str
    samples: Samples
    contradictions: Contradictions
    duplicates: int
    empty: int
    rounded: int
    usual_step_ms: float
    gaps_ms: Whole

    @property
    def failed(self) -> int:
        """How many samples are marks of a failed sensor."""
        return int(np.count_nonzero(self.samples.failed))

    @property
    def lowest(self) -> Decimal | None:
        """The lowest value: a number that a failed sensor writes shows here. None without one."""
        have = self.samples.values[~self.samples.failed]
        return decimal(int(have.min()), self.samples.places) if len(have) else None

    @property
    def highest(self) -> Decimal | None:
        """The highest value, as `lowest`."""
        have = self.samples.values[~self.samples.failed]
        return decimal(int(have.max()), self.samples.places) if len(have) else None


@dataclass(frozen=True, slots=True)
class ParsedRow:
    """A row as it was understood: its line, its moment [ms UTC]; each channel's value (None: none) and failure."""

    row: int
    time_ms: int
    values: tuple[Decimal | None, ...]
    failed: tuple[bool, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Parsed:
    """A whole file as read: the caller keeps all of it or nothing.

    `rows` is how many rows there are (blank lines are none), `rejected_count` how many of them are left out, with all
    their channels; `rejected` names the first 200. `out_of_order`: rows earlier than one before them (in a file that is
    `newest_first`: later). `told_apart`: rows whose local time came twice in autumn and which the order of the rows
    told apart. `first` and `last` are the first and last five rows of the file that were kept, in its order.
    """

    channels: tuple[Channel, ...]
    rows: int
    rejected_count: int
    rejected: tuple[Rejected, ...]
    out_of_order: int
    newest_first: bool
    told_apart: int
    first: tuple[ParsedRow, ...]
    last: tuple[ParsedRow, ...]

    @property
    def kept(self) -> int:
        """How many rows were understood."""
        return self.rows - self.rejected_count
