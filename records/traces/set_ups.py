"""The set-up that each part of a run is judged by, with its holding time of record.

The set-up that the run's own record names; where no run was recorded, of the plan's set-ups the one with the lowest set
point that covers what ran. With it the test of record that then stood in the workshop's book; where somebody read a
shorter time from the test, the shorter one. Without any test in the book, as it was read in the run: who reads it reads
the report of the set-up that runs.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal
from itertools import pairwise

from plant.hazard_plan.content import SetUpDef
from plant.process.pasteurization import Method
from plant.process.trace_judging import SetUpWindow
from plant.process.units import FAHRENHEIT, exact
from records.checks.models import Reading
from records.checks.queries import governing
from records.flow.held_spans import HeldSpan
from records.judging.pasteurizer import holding_checks
from records.people.plans import InForce
from records.runs.queries import set_ups_recorded
from records.traces.moments import to_ms
from records.workshop.standing import TestWindow, test_windows, unproven_since

# A holding time read up to so long before forward flow belongs to the run that follows.
BEFORE_RUN = timedelta(hours=3)
METER = "meter"
Part = tuple[datetime, datetime, frozenset[str]]


def set_up_windows(
    press: str, runs: Sequence[tuple[datetime, datetime]], spans: Sequence[HeldSpan], in_force: InForce
) -> tuple[SetUpWindow, ...]:
    """The windows of runs of which none overlaps the next, in order of time."""
    planned = {one.key: one for one in in_force.plan.set_ups if one.press == press}
    said = set_ups_recorded(press, runs[0][0], runs[-1][1]) if runs else []
    every = test_windows(press, runs[0][0], runs[-1][1], in_force) if runs else []
    found: list[SetUpWindow] = []
    for since, until in runs:
        read = _read(press, since - BEFORE_RUN, until, in_force)
        tests = [
            replace(one, start=max(one.start, since), end=min(one.end, until))
            for one in every
            if one.start < until and one.end > since
        ]
        if not any(one.test is not None for one in tests):
            found += _as_read(press, since, until, spans, _least(read), in_force)
            continue
        for start, end, ran in _parts(since, until, spans):
            first, last = start == since, end == until
            mine = [one for one in read if (first or one.observed_at >= start) and (last or one.observed_at < end)]
            for since_then, until_then, key in _recorded(said, start, end):
                used = planned.get(key) or covering(planned.values(), ran)
                found += _tested(used, tests, since_then, until_then, _least(mine))
    return tuple(found)


def _recorded(
    said: Sequence[tuple[datetime, str]], start: datetime, end: datetime
) -> list[tuple[datetime, datetime, str]]:
    """[start, end) cut where the run's record names another set-up; an empty key before anything was said."""
    before = [key for at, key in said if at <= start]
    steps = [(start, before[-1] if before else ""), *((at, key) for at, key in said if start < at < end)]
    ends = [*(at for at, _key in steps[1:]), end]
    return [(since, until, key) for (since, key), until in zip(steps, ends, strict=True)]


def covering(planned: Iterable[SetUpDef], ran: Iterable[str]) -> SetUpDef:
    """The set-up with the lowest set point that covers every class that ran; where none does, the lowest: a fault."""
    lowest = sorted(planned, key=lambda one: exact(Decimal(one.set_point), one.unit, FAHRENHEIT))
    return next((one for one in lowest if set(ran) <= set(one.classes)), lowest[0])


def _parts(since: datetime, until: datetime, spans: Sequence[HeldSpan]) -> list[Part]:
    """A run cut where other classes of product begin or end: milk before mix is not judged by the set-up of mix."""
    mine = [(one.start, one.end or until, one.product_class) for one in spans if one.start < until]
    edges = {since, until, *(at for start, end, _name in mine for at in (start, end) if since < at < until)}
    found: list[Part] = []
    for start, end in pairwise(sorted(edges)):
        classes = frozenset(name for a, b, name in mine if a < end and start < b)
        if found and found[-1][2] == classes:
            found[-1] = (found[-1][0], end, classes)
        else:
            found.append((start, end, classes))
    return found


def _tested(
    set_up: SetUpDef, tests: Iterable[TestWindow], start: datetime, end: datetime, read: Reading | None
) -> list[SetUpWindow]:
    found = []
    meter = set_up.timing == METER
    for one in tests:
        since, until = max(start, one.start), min(end, one.end)
        if one.set_up != set_up.key or since >= until:
            continue
        hold = one.seconds
        if hold is not None and read is not None and read.value is not None:
            hold = min(hold, read.value)
        found.append(
            SetUpWindow(
                to_ms(since),
                to_ms(until),
                set_up.name,
                hold if hold is not None else Decimal(0),
                set_up.classes,
                to_ms(one.tested_at) if one.tested_at is not None and hold is not None else None,
                to_ms(one.counts_until) if one.counts_until is not None else None,
                one.ended_by,
                Method(set_up.method),
                Decimal(set_up.top_rate) if meter else None,
                set_up.top_rate_unit if meter else "",
            )
        )
    return found


def _as_read(
    press: str,
    since: datetime,
    until: datetime,
    spans: Sequence[HeldSpan],
    read: Reading | None,
    in_force: InForce,
) -> list[SetUpWindow]:
    """The least that was read in a run. A seal not whole or work on the pump ends it, and only a test in the book mends
    that: nobody can see from a reading whether the test was made before or after.
    """
    if read is None or read.value is None:
        return []
    classes = sorted({name for _start, _end, ran in _parts(since, until, spans) for name in ran if name})
    window = SetUpWindow(to_ms(since), to_ms(until), f"{read.typed} s", read.value, tuple(classes), to_ms(since))
    ended = unproven_since(press, until, in_force)
    if ended is not None:
        window = replace(window, counts_until_ms=to_ms(max(since, ended[0])), ended_by=ended[1])
    return [window]


def _read(press: str, since: datetime, until: datetime, in_force: InForce) -> list[Reading]:
    """The holding times that were read from a test of record."""
    return governing(
        Reading.objects.filter(
            subject=press,
            monitoring_key__in=holding_checks(in_force),
            observed_at__gte=since,
            observed_at__lte=until,
            value__isnull=False,
            unit="s",
        )
    )


def _least(read: Iterable[Reading]) -> Reading | None:
    return min(read, key=lambda one: (one.value or 0, one.number), default=None)
