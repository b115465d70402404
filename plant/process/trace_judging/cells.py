"""A pasteurizer's span cut where what it is judged by changes: product, set-up, validity of its test, run."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from plant.process.errors import CalculationError
from plant.process.pasteurization.numbers import hold
from plant.process.pasteurization.rows import CONTINUOUS, Row, of_methods
from plant.process.said import say as _
from plant.process.trace_judging.findings import Comparison
from plant.process.trace_judging.recorder import compare_recorder
from plant.process.trace_judging.values import Band, Cause, PasteurizerTrace, Run, SetUpWindow
from plant.process.trace_judging.whole import least_passing
from plant.process.units import exact_difference

ENDED_BY = (Cause.TEST_OVERDUE, Cause.SEAL_BROKEN, Cause.PUMP_WORKED_ON)


@dataclass(frozen=True, slots=True)
class Cell:
    """From `start` until before `end` [keys] nothing changes.

    `classes`: None where nobody said what flowed; none at all where it was no product. `doubt`: why the hold of the
    set-up is not proven. `row`: the one that governs, `least` [10^-places] the lowest that meets it; `product_class`
    the class that it is for. `short`: the hold is too short for each row of the class. `correction` [channel's unit].
    """

    start: int
    end: int
    classes: tuple[str, ...] | None
    set_up: SetUpWindow | None
    doubt: Cause | None
    run: Run | None
    compared: Comparison | None
    product_class: str = ""
    row: Row | None = None
    least: int = 0
    short: bool = False
    correction: Fraction = Fraction(0)

    @property
    def counts(self) -> bool:
        """Whether product may have been flowing."""
        return self.classes is None or bool(self.classes)


def keyed(start_ms: int, end_ms: int, trace_end_ms: int) -> tuple[int, int]:
    """A stretch of time in keys; one that reaches the end of the trace has its last moment too."""
    return 2 * int(start_ms), 2 * int(end_ms) + int(end_ms >= trace_end_ms)


def check_spans(name: str, spans: Iterable[tuple[int, int]], *, apart: bool) -> None:
    """Refuse a stretch that ends before it starts, and where `apart` is asked two at one time. CalculationError."""
    given = sorted(spans)
    if any(end < start for start, end in given):
        raise CalculationError(_("%(name)s: one ends before it starts", name=name))
    if apart and any(after[0] < before[1] for before, after in pairwise(given)):
        raise CalculationError(_("%(name)s: two at one time", name=name))


def edges_of(start: int, end: int, spans: Iterable[tuple[int, int]]) -> list[int]:
    """Where anything begins or ends from `start` to `end`, both included."""
    inside = {key for pair in spans for key in pair if start < key < end}
    return sorted({start, end, *inside})


def classes_at(key: int, bands: Sequence[tuple[int, int, Band]]) -> tuple[str, ...] | None:
    """The classes of product at a key; None where no band covers it."""
    here = [band.product_class for start, end, band in bands if start <= key < end]
    if not here:
        return None
    return tuple(sorted({one for one in here if one}))


def cells_of(trace: PasteurizerTrace, places: int) -> list[Cell]:
    """The cells of a span, in order; neighbors differ."""
    check_spans(_("products"), ((one.start_ms, one.end_ms) for one in trace.bands), apart=False)
    check_spans(_("set-ups"), ((one.start_ms, one.end_ms) for one in trace.set_ups), apart=True)
    check_spans(_("runs"), ((one.start_ms, one.end_ms) for one in trace.runs), apart=True)
    if any(one.ended_by not in ENDED_BY for one in trace.set_ups):
        raise CalculationError(_("a test of record ends by its time, a broken seal or work on the pump"))
    first, last = int(trace.start_ms), int(trace.end_ms)
    bands = [(*keyed(one.start_ms, one.end_ms, last), one) for one in trace.bands]
    set_ups = [(*keyed(one.start_ms, one.end_ms, last), one) for one in trace.set_ups]
    runs = [(*keyed(one.start_ms, one.end_ms, last), one) for one in trace.runs]
    compared = {id(one): compare_recorder(trace.temperature, one) for one in trace.runs}
    spans = [(start, end) for start, end, _one in (*bands, *set_ups, *runs)]
    for one in trace.set_ups:
        for moment in (one.tested_ms, one.counts_until_ms):
            if moment is not None:
                spans.append((2 * int(moment), 2 * int(moment)))
    found: list[Cell] = []
    for start, end in pairwise(edges_of(2 * first, 2 * last + 1, spans)):
        set_up = next((one for a, b, one in set_ups if a <= start < b), None)
        run = next((one for a, b, one in runs if a <= start < b), None)
        cell = Cell(
            start,
            end,
            classes_at(start, bands),
            set_up,
            _doubt(set_up, start),
            run,
            None if run is None else compared[id(run)],
        )
        if found and _same(found[-1], cell):
            found[-1] = _with(found[-1], end)
        else:
            found.append(cell)
    return [_governed(one, trace, places) for one in found]


def _same(one: Cell, other: Cell) -> bool:
    return (
        one.classes == other.classes
        and one.set_up is other.set_up
        and one.run is other.run
        and one.doubt is other.doubt
    )  # fmt: skip


def _with(cell: Cell, end: int) -> Cell:
    return Cell(cell.start, end, cell.classes, cell.set_up, cell.doubt, cell.run, cell.compared)


def _doubt(set_up: SetUpWindow | None, key: int) -> Cause | None:
    if set_up is None:
        return Cause.NO_SET_UP
    if set_up.tested_ms is None or key < 2 * set_up.tested_ms:
        return Cause.NO_TEST
    if set_up.counts_until_ms is not None and key >= 2 * set_up.counts_until_ms:
        return set_up.ended_by
    return None


def _governed(cell: Cell, trace: PasteurizerTrace, places: int) -> Cell:
    """A cell with the row that governs: of a class the coolest that the hold is enough for, of classes the hottest."""
    recorder = trace.temperature
    if not cell.classes or recorder is None:
        return cell
    own = recorder.downward
    correction = own
    if cell.compared is not None:
        by_run = -exact_difference(cell.compared.difference, cell.compared.unit, recorder.unit)
        correction = min(own, by_run)

    def least(row: Row) -> int:
        return least_passing(row.temperature, row.unit, recorder.unit, places, correction=correction)

    chosen: list[tuple[int, str, Row, bool]] = []
    for name in cell.classes:
        picked = governing_row(trace.rows.get(name, ()), cell.set_up, least)
        if picked is not None:
            row, short = picked
            chosen.append((least(row), name, row, short))
    if len(chosen) < len(cell.classes):
        return cell
    lowest, name, row, _short = max(chosen, key=lambda one: (one[0], one[1]))
    return Cell(
        cell.start, cell.end, cell.classes, cell.set_up, cell.doubt, cell.run, cell.compared,
        product_class=name, row=row, least=lowest, short=any(one[3] for one in chosen), correction=correction,
    )  # fmt: skip


def governing_row(
    rows: Sequence[Row], set_up: SetUpWindow | None, least: Callable[[Row], int]
) -> tuple[Row, bool] | None:
    """The coolest row of those that the hold of a set-up is enough for; (row, hold too short for all of them).

    Without a set-up, and for a hold that is too short, the coolest of all: below it no row at all is met.
    """
    methods = CONTINUOUS if set_up is None or set_up.method is None else (set_up.method,)
    mine = of_methods(rows, methods)
    if not mine:
        return None
    enough = mine if set_up is None else tuple(one for one in mine if Fraction(one.hold_s) <= hold(set_up.hold_s))
    pool = enough or mine
    return min(pool, key=lambda one: (least(one), -Fraction(one.hold_s), one.key)), not enough
