"""What stands beside a trace now: the limits that apply to its instrument, and what people read from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from fractions import Fraction

from django.db.models import Q
from django.utils.translation import gettext as _

from plant.hazard_plan.content import LimitDef, MonitoringDef
from plant.pictures.strip_data import Rule, Spot
from plant.pictures.strip_time import milliseconds
from plant.process.units import UnitError, exact, plain
from records.checks.asking import what_words
from records.checks.entry import recorder_of
from records.checks.models import Reading
from records.checks.queries import governing
from records.flow.held_spans import HeldSpan, held_between
from records.judging import queries as verdicts
from records.judging.judge import GOOD, OUT, applying_limits, as_limit
from records.judging.words import to_operator
from records.people.plans import InForce, versions_between
from records.traces.windows import Window

NUMERIC = ("number", "pair")


@dataclass(frozen=True, slots=True)
class ReadingBeside:
    """A person's reading of the window: when, as typed, what it was judged, its ledger number, and its mark."""

    at: datetime
    words: str
    outcome: str
    number: int
    spot: Spot


def checks_of(instrument: str, in_force: InForce) -> list[MonitoringDef]:
    """The checks of a plan that read an instrument.

    Of one that no check reads, on a vessel that holds product: those that read another instrument of that vessel. The
    product is the same, and so are its limits; on a line each place has its own.
    """
    asked = [one for one in in_force.plan.monitoring if one.answer.kind in NUMERIC]
    direct = [one for one in asked if instrument in one.instruments]
    if direct:
        return direct
    place = next((one.place_code for one in in_force.plan.instruments if one.code == instrument), "")
    if not any(one.code == place and one.holds_product for one in in_force.plan.vessels):
        return []
    there = {one.code for one in in_force.plan.instruments if one.place_code == place}
    return [one for one in asked if place in one.subjects and there & set(one.instruments)]


def limits_of(instrument: str, unit: str, shown: str, window: Window) -> tuple[Rule, ...]:
    """The limits that the plan set for an instrument within a window, each while its version was in force; one query.

    Values in `unit`, which the trace was recorded in; words in the plan's own unit, and in `shown` where it is another.
    A limit of some classes of product stands where one of them was there, from the first time to the last; where the
    book names no product at all, every limit stands.
    """
    found: list[Rule] = []
    for in_force, start, end in versions_between(window.start, window.end):
        checks = checks_of(instrument, in_force)
        limits = [limit for one in checks for limit in applying_limits(one, in_force, "")]
        there: list[HeldSpan] = []
        if any(limit.products for limit in limits):
            there = _products_at(instrument, start, end, in_force)
        for limit in limits:
            span = _when(limit, there, start, end)
            if span is not None:
                found += _rules(limit, unit, shown, milliseconds(span[0]), milliseconds(span[1]))
    return tuple(_together(found))


def _products_at(instrument: str, start: datetime, end: datetime, in_force: InForce) -> list[HeldSpan]:
    """What the place of an instrument held or ran; only what has a class."""
    place = next((one.place for one in in_force.plan.traced if one.key == instrument), "")
    place = place or next((one.place_code for one in in_force.plan.instruments if one.code == instrument), "")
    spans = held_between(place, start, end, in_force).spans if place else ()
    return [one for one in spans if one.product_class]


def _when(
    limit: LimitDef, there: Sequence[HeldSpan], start: datetime, end: datetime
) -> tuple[datetime, datetime] | None:
    """From when to when a limit stands in [start, end]; None where none of its classes was there."""
    if not limit.products or not there:
        return start, end
    mine = [one for one in there if one.product_class in limit.products]
    if not mine:
        return None
    since, until = min(one.start for one in mine), max(one.end or end for one in mine)
    return (max(start, since), min(end, until)) if since < end and until > start else None


def _rules(limit: LimitDef, unit: str, shown: str, start: int, end: int) -> list[Rule]:
    read = as_limit(limit)
    patterns = (
        (read.low, _("limit %(value)s at least"), False),
        (read.high, _("limit %(value)s at most"), False),
        (read.act_low, _("act below %(value)s"), True),
        (read.act_high, _("act above %(value)s"), True),
    )
    found = []
    for value, pattern, act in patterns:
        if value is None:
            continue
        try:
            at = exact(value, limit.unit, unit)
            words = pattern % {"value": _both(value, limit.unit, shown)}
        except UnitError:
            return []
        if limit.products:
            words += f" ({', '.join(limit.products)})"
        found.append(Rule(float(at), words, act, start, end))
    return found


def _both(value: Decimal, unit: str, shown: str) -> str:
    said = f"{plain(value)} {unit}"
    return said if unit == shown else f"{said} ({plain(exact(value, unit, shown), 1)} {shown})"


def _together(rules: list[Rule]) -> list[Rule]:
    """Each limit once: what the next version kept goes on, what two checks share is said once."""
    found: list[Rule] = []
    for one in sorted(rules, key=lambda rule: rule.start_ms or 0):
        for at, before in enumerate(found):
            same = (before.value, before.words, before.act) == (one.value, one.words, one.act)
            if same and one.start_ms is not None and before.end_ms is not None and one.start_ms <= before.end_ms:
                end = max(before.end_ms, one.end_ms or before.end_ms)
                found[at] = Rule(one.value, one.words, one.act, before.start_ms, end)
                break
        else:
            found.append(one)
    return found


def readings_of(instrument: str, unit: str, window: Window, in_force: InForce) -> list[ReadingBeside]:
    """What people read from an instrument within a window, in order of time; two queries.

    Of a pair of thermometers the recorder's own value stands on the recorder's trace.
    """
    pairs = [
        one.key
        for one in in_force.plan.monitoring
        if one.answer.kind == "pair" and (recorder := recorder_of(one, in_force)) and recorder.code == instrument
    ]
    rows = governing(
        Reading.objects.filter(
            Q(instrument=instrument) | Q(monitoring_key__in=pairs),
            observed_at__gte=window.start,
            observed_at__lt=window.end,
            answer_kind__in=NUMERIC,
            not_taken="",
        )
    )
    judged = verdicts.governing(Reading.KIND, [one.number for one in rows]) if rows else {}
    found = []
    for row in rows:
        verdict = judged.get(row.number)
        one = _beside(row, instrument, unit, verdict.outcome if verdict else "", in_force)
        if one is not None:
            found.append(one)
    return found


def _beside(row: Reading, instrument: str, unit: str, outcome: str, in_force: InForce) -> ReadingBeside | None:
    own = row.instrument == instrument
    typed, value = (row.typed, row.value) if own else (row.typed_second, row.value_second)
    if value is None:
        return None
    try:
        at = exact(Fraction(value), row.unit, unit)
    except UnitError:
        return None
    judged = to_operator(outcome) if outcome in (*GOOD, *OUT) else ""
    monitoring = in_force.plan.monitoring_by_key(row.monitoring_key)
    other = f"{row.instrument}: {row.typed} {row.unit}" if not own and row.typed else ""
    said = [f"{typed} {row.unit}", what_words(monitoring) if monitoring else row.what, other, row.by_initials, judged]
    words = ", ".join(part for part in said if part)
    short = f"{typed} {judged}" if outcome and outcome != GOOD[0] else typed
    spot = Spot(milliseconds(row.observed_at), float(at), short, outcome == OUT[0], words)
    return ReadingBeside(row.observed_at, words, outcome, row.number, spot)
