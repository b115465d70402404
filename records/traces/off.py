"""Instruments that a later calibration found off: the times of a trace that this puts in doubt, and by how much."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from fractions import Fraction

from plant.hazard_plan.content import TracedDef
from plant.process.units import exact_difference
from records.people.plans import InForce
from records.workshop.doubt import OffTime, off_times

MOMENT = timedelta(milliseconds=1)


def off_at(
    place: str, rows: Iterable[TracedDef], start: datetime, end: datetime, in_force: InForce
) -> list[OffTime]:
    """Of what is traced at a place, and of the instruments that the plan has there. One query where there is none."""
    there = {one.code for one in in_force.plan.instruments if one.place_code == place}
    return off_times({one.key for one in rows} | there, start, end)


def parts(off: Iterable[OffTime], start: datetime, end: datetime) -> list[tuple[datetime, datetime]]:
    """[start, end] cut where an instrument may have gone off and where it was put right; judged each for itself."""
    cuts = {one.since for one in off if one.since is not None} | {one.until + MOMENT for one in off}
    edges = [start, *sorted(one for one in cuts if start < one < end), end]
    return list(zip(edges, edges[1:], strict=False))


def errors_of(code: str, unit: str, off: Iterable[OffTime]) -> tuple[Fraction, ...]:
    """The errors found of an instrument [unit]."""
    mine = [one for one in off if one.instrument == code]
    return tuple(exact_difference(error, one.unit, unit) for one in mine for error in one.errors)


def lowered(value: Fraction, unit: str, code: str, at: datetime, off: Sequence[OffTime]) -> Fraction:
    """What an instrument read at a moment, as read or with the errors taken off: the least of them."""
    then = [one for one in off if one.touches(at, at + MOMENT)]
    return min([value, *(value - error for error in errors_of(code, unit, then))])
