"""What holds for forward flow whatever its temperature: signal, product, set-up, hold, the recorder's comparison."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from plant.process.limits import Outcome
from plant.process.said import say as _
from plant.process.trace_judging import words
from plant.process.trace_judging.cells import Cell, keyed
from plant.process.trace_judging.findings import Comparison
from plant.process.trace_judging.flow import Steps, Windows, together
from plant.process.trace_judging.notes import Notes, Pair
from plant.process.trace_judging.pieces import Ready
from plant.process.trace_judging.values import Cause, Cited, FlowState, Kind, PasteurizerTrace
from plant.process.trace_judging.whole import number
from plant.process.units import exact_difference

_NO_ROW_CITED = Cited("", "21 CFR 1240.61", "text consulted")


@dataclass(slots=True)
class Case:
    """What the parts of a judgement share."""

    trace: PasteurizerTrace
    steps: Steps
    recorder: Ready | None
    cells: list[Cell]
    forward: Windows
    notes: Notes

    def forward_in(self, cell: Cell) -> Windows:
        """Forward flow within a cell."""
        return self.forward.cut(cell.start, cell.end)


def note_signal(case: Case) -> None:
    """Time at which nobody knows whether product was in forward flow."""
    unknown = case.steps.windows(FlowState.UNKNOWN)
    for start, end in together([unknown.cut(cell.start, cell.end) for cell in case.cells if cell.counts]).pairs():
        if start >> 1 == end >> 1:
            continue
        if case.trace.forward is None:
            cause, sentence = Cause.NO_CHANNEL, _("No signal shows when flow was forward: nothing is proven.")
        else:
            cause = Cause.GAP
            sentence = _(
                "The forward-flow signal is missing for %(time)s: whether product was in forward flow is not proven.",
                time=words.time((end >> 1) - (start >> 1)),
            )
        lowest = _lowest(case.recorder, start, end)
        unit = "" if case.recorder is None or lowest is None else case.recorder.channel.unit
        if lowest is not None:
            sentence = _(
                "%(sentence)s The lowest temperature recorded meanwhile is %(value)s.",
                sentence=sentence,
                value=words.amount(lowest, unit),
            )
        case.notes.add(
            Kind.SIGNAL, cause, Outcome.NOT_PROVEN, [(start, end)], sentence, case.trace.clauses.forward,
            extreme=lowest, unit=unit, legal=True,
        )  # fmt: skip


def _lowest(given: Ready | None, start: int, end: int) -> Fraction | None:
    """The lowest value that was recorded from `start` until before `end` [keys], in the recorder's unit."""
    if given is None:
        return None
    first, last = np.searchsorted(given.keys, [start, end])
    if first == last:
        return None
    return Fraction(int(given.low[first:last].min()), 10**given.places)


def note_products(case: Case) -> None:
    """Forward flow of what nobody named or what no row is for; a product without any forward flow."""
    cited = case.trace.clauses.product
    for cell in case.cells:
        windows = [pair for pair in case.forward_in(cell).pairs() if pair[0] >> 1 < pair[1] >> 1]
        if cell.classes is None:
            sentence = _("Forward flow, and nobody named the product: no row can be held against it.")
            for pair in windows:
                case.notes.add(Kind.PRODUCT, Cause.NO_PRODUCT, Outcome.NOT_PROVEN, [pair], sentence, cited, legal=True)
        elif cell.classes and cell.row is None and windows and case.recorder is not None:
            sentence = _("No row for continuous flow is known for %(class)s.", **{"class": " / ".join(cell.classes)})
            case.notes.add(
                Kind.TEMPERATURE, Cause.NO_ROW, Outcome.NOT_PROVEN, windows, sentence, _NO_ROW_CITED, legal=True
            )
    for band in case.trace.bands:
        start, end = keyed(band.start_ms, band.end_ms, case.trace.end_ms)
        whole = case.trace.start_ms <= band.start_ms and band.end_ms <= case.trace.end_ms
        if not band.product_class or not whole or len(case.forward.cut(start, end)):
            continue
        if len(case.steps.windows(FlowState.UNKNOWN).cut(start, end)):
            continue  # said there already
        sentence = _("Product is recorded for this time, and the trace shows no forward flow.")
        case.notes.add(
            Kind.PRODUCT, Cause.NO_FORWARD_FLOW, Outcome.NOT_PROVEN, [(start, end)], sentence, cited
        )  # fmt: skip


def note_conditions(case: Case) -> None:
    """What holds for forward flow as a whole: the set-up, its hold and the recorder's comparison."""
    gathered: dict[tuple[Kind, Cause, int], list[tuple[Cell, list[Pair]]]] = defaultdict(list)
    for cell in case.cells:
        windows = case.forward_in(cell).pairs()
        if not windows or not cell.counts:
            continue
        set_up = cell.set_up
        if cell.doubt is not None:
            gathered[Kind.HOLDING, cell.doubt, id(set_up)].append((cell, windows))
        if set_up is not None and any(one not in set_up.classes for one in cell.classes or ()):
            gathered[Kind.SET_UP, Cause.NOT_COVERED, id(set_up)].append((cell, windows))
        if cell.short:
            gathered[Kind.HOLDING, Cause.HOLD_SHORT, id(set_up)].append((cell, windows))
        if cell.compared is None:
            gathered[Kind.RECORDER, Cause.NOT_COMPARED, id(cell.run)].append((cell, windows))
        elif cell.compared.difference > 0:
            gathered[Kind.RECORDER, Cause.READS_HIGHER, id(cell.run)].append((cell, windows))
        elif _too_low(case, cell.compared):
            gathered[Kind.RECORDER, Cause.OUT_OF_TOLERANCE, id(cell.run)].append((cell, windows))
    for (kind, cause, _one), found in gathered.items():
        _note_condition(case, kind, cause, found[0][0], [pair for _cell, pairs in found for pair in pairs])
    _changes(case)


def _too_low(case: Case, compared: Comparison) -> bool:
    allowed = case.trace.tolerance
    return allowed is not None and -compared.difference > exact_difference(
        number(allowed.value), allowed.unit, compared.unit
    )


def _note_condition(case: Case, kind: Kind, cause: Cause, cell: Cell, windows: list[Pair]) -> None:
    clauses, set_up, compared = case.trace.clauses, cell.set_up, cell.compared
    add = case.notes.add
    if cause in words.HOLD_NOT_PROVEN:
        cited = clauses.seals if cause in (Cause.SEAL_BROKEN, Cause.PUMP_WORKED_ON) else clauses.test
        add(kind, cause, Outcome.NOT_PROVEN, windows, words.HOLD_NOT_PROVEN[cause], cited, legal=True)
    elif cause is Cause.NOT_COVERED and set_up is not None:
        others = " / ".join(one for one in cell.classes or () if one not in set_up.classes)
        sentence = _("The set-up %(name)s is not approved for %(others)s.", name=set_up.name, others=others)
        add(kind, cause, Outcome.NOT_MET, windows, sentence, clauses.test, legal=True)
    elif cause is Cause.HOLD_SHORT and set_up is not None and cell.row is not None:
        row = cell.row
        sentence = _(
            "The hold of record of the set-up %(name)s is %(hold)s, too short for each row of %(product)s; the coolest "
            "is %(row)s.",
            name=set_up.name,
            hold=words.amount(set_up.hold_s, "s"),
            product=cell.product_class,
            row=row.words,
        )
        cited, held = Cited(row.key, row.clause, row.basis), number(set_up.hold_s)
        add(kind, cause, Outcome.NOT_MET, windows, sentence, cited, extreme=held, unit="s", legal=True)
    elif cause is Cause.NOT_COMPARED:
        sentence = _("No indicating thermometer was read beside the recorder in this run: it is not proven.")
        add(kind, cause, Outcome.NOT_PROVEN, windows, sentence, clauses.indicator, legal=True)
    elif compared is not None and cause is Cause.READS_HIGHER:
        # The temperature is judged as corrected: this is a rule of its own.
        add(
            kind, cause, Outcome.NOT_MET, windows, words.higher(compared), clauses.not_higher,
            extreme=compared.difference, unit=compared.unit,
        )  # fmt: skip
    elif compared is not None and case.trace.tolerance is not None:
        allowed = words.amount(case.trace.tolerance.value, case.trace.tolerance.unit)
        add(
            kind, cause, Outcome.NOT_PROVEN, windows, words.too_low(compared, allowed), clauses.tolerance,
            extreme=compared.difference, unit=compared.unit, legal=True,
        )  # fmt: skip


def _changes(case: Case) -> None:
    """Another set-up while flow was forward."""
    for before, after in zip(case.cells, case.cells[1:], strict=False):
        one, other = before.set_up, after.set_up
        if one is None or other is None or one is other or one.name == other.name:
            continue
        flowing = case.forward.cut(before.end - 2, before.end + 1)
        if any(start < before.end < end for start, end in flowing.pairs()):
            sentence = _(
                "The set-up went from %(before)s to %(after)s in forward flow: it is changed stopped or diverted.",
                before=one.name,
                after=other.name,
            )
            pairs = [(before.end, before.end)]
            case.notes.add(
                Kind.SET_UP, Cause.CHANGED_IN_FLOW, Outcome.NOT_MET, pairs, sentence, case.trace.clauses.set_up
            )
