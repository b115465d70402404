"""Cut-in and cut-out as a trace shows them: the first and the last temperature of each forward flow."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from plant.process.limits import Outcome
from plant.process.said import Said
from plant.process.said import say as _
from plant.process.trace_judging import words
from plant.process.trace_judging.cells import Cell
from plant.process.trace_judging.findings import Crossing
from plant.process.trace_judging.flow import STATES, Steps
from plant.process.trace_judging.notes import Notes
from plant.process.trace_judging.pieces import Ready
from plant.process.trace_judging.values import Cause, Cited, Clauses, FlowState, Kind
from plant.process.trace_judging.whole import governing

_FORWARD, _UNKNOWN = STATES.index(FlowState.FORWARD), STATES.index(FlowState.UNKNOWN)


def crossings(
    given: Ready | None, steps: Steps, cells: list[Cell], notes: Notes, clauses: Clauses
) -> tuple[Crossing, ...]:
    """Each crossing between two known states while product was there; those not met or not proven are noted too."""
    found: list[Crossing] = []
    starts = [cell.start for cell in cells]
    keys, states = steps.keys.tolist(), steps.states.tolist()
    for place in range(1, len(keys)):
        before, after = states[place - 1], states[place]
        if _FORWARD not in (before, after) or _UNKNOWN in (before, after):
            continue
        kind = Kind.CUT_IN if after == _FORWARD else Kind.CUT_OUT
        moment = keys[place]
        inside = moment if kind is Kind.CUT_IN else moment - 1  # a key of the forward flow itself
        cell = cells[int(np.searchsorted(starts, inside, "right")) - 1]
        if not cell.counts:
            continue
        if kind is Kind.CUT_IN:
            bounds = moment, keys[place + 1] if place + 1 < len(keys) else steps.end
        else:
            bounds = keys[place - 1], moment
        one = _crossing(given, kind, moment, bounds, cell)
        found.append(one)
        _note(notes, one, cell, given, clauses)
    return tuple(found)


def _crossing(given: Ready | None, kind: Kind, moment: int, flow: tuple[int, int], cell: Cell) -> Crossing:
    """The crossing at `moment` [key] of the forward flow `flow` [keys]."""
    row = cell.row
    if given is None or row is None:
        return Crossing(kind, moment >> 1, Outcome.NOT_PROVEN, None, None, "", "")
    shift = min(cell.correction, Fraction(0))
    # Places in Ready of the sample on this side of the moment and of the one on the other.
    right = int(np.searchsorted(given.keys, moment, "left"))
    inside, other = (right, right - 1) if kind is Kind.CUT_IN else (right - 1, right)
    exact_moment = given.keys[right] == moment
    # The step that holds the moment has to prove something; at a sample's own moment a cut-in needs none.
    proven = bool(given.after[right - 1] == 0) or (kind is Kind.CUT_IN and bool(exact_moment))
    real = [place for place in (inside, other) if 0 < place < len(given.keys) - 1]
    # Without a sample in all of that forward flow both sides of it count.
    decisive = [inside] if flow[0] <= int(given.keys[inside]) < flow[1] else real
    if not decisive:
        return Crossing(kind, moment >> 1, Outcome.NOT_PROVEN, None, None, row.unit, row.key)
    low = min(int(given.low[place]) for place in decisive)
    outcome = Outcome.MET if proven and not given.doubted[decisive].any() else Outcome.NOT_PROVEN
    if low < cell.least and (proven or inside in decisive):
        outcome = Outcome.NOT_MET
    unit = given.channel.unit
    neighbor = governing(int(given.low[other]), given.places, Fraction(0), unit, row.unit) if other in real else None
    value = governing(low, given.places, shift, unit, row.unit)
    return Crossing(kind, moment >> 1, outcome, value, neighbor, row.unit, row.key)


def _note(notes: Notes, one: Crossing, cell: Cell, given: Ready | None, clauses: Clauses) -> None:
    if one.outcome is Outcome.MET:
        return
    row, moment = cell.row, 2 * one.at_ms
    cited = clauses.cut if row is None else Cited(row.key, row.clause, row.basis)
    cause, sentence = Cause.PROCESS, _not_proven(one.kind)
    if one.outcome is Outcome.NOT_MET and row is not None and one.temperature is not None:
        sentence = _not_met(one.kind, words.amount(one.temperature, one.unit), row.words)
    else:
        cause, cited = (Cause.NO_CHANNEL if given is None else Cause.GAP), clauses.cut
        if row is None and given is not None:
            cause = Cause.NO_PRODUCT if cell.classes is None else Cause.NO_ROW
    notes.add(
        one.kind, cause, one.outcome, [(moment, moment)], sentence, cited,
        channel="" if given is None else given.channel.name, extreme=one.temperature, unit=one.unit,
    )  # fmt: skip


def _not_met(kind: Kind, value: Said, row: Said) -> Said:
    if kind is Kind.CUT_IN:
        return _("Cut-in at %(value)s, below the row %(row)s.", value=value, row=row)
    return _("Cut-out at %(value)s, below the row %(row)s.", value=value, row=row)


def _not_proven(kind: Kind) -> Said:
    if kind is Kind.CUT_IN:
        return _("No temperature is recorded at this cut-in that a row can be held against: it is not proven.")
    return _("No temperature is recorded at this cut-out that a row can be held against: it is not proven.")
