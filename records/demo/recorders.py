"""Files as the invented plant's recorders write them: the press each second, the tanks each minute.

They follow what the days' records say: when the press ran and what, what each tank was read at. Only the noise, and
what the scenario says happened between two readings, is made up here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray

from plant.process.trace_file import ChannelColumn, Mapping, TimeColumns
from records.checks.models import Reading
from records.checks.queries import governing
from records.deviations.models import Outage, OutageEnd
from records.flow.held_spans import held_between
from records.people.plans import InForce
from records.washes.models import WashStep

Values = NDArray[np.float64]
WARM_UP, RUN_DOWN = 50 * 60, 5 * 60  # seconds on hot water before product and after it
OFF, HEATS = 68.0, 0.4  # °F, and °F a second
# What the press is run at, by class of product, on the recorder [°F]; it never reads above the indicating thermometer.
HOT = {"milk": 163.8, "raised": 168.7, "mix": 177.8}
PRESS = ("tr-press-1", "fd-press-1", "pump-press-1", "tr-press-out", "pr-press-1")
TANKS = ("silo-a", "finished-1", "finished-2")
CIP, CIP_UNITS = ("tr-cip", "cd-cip", "fl-cip"), ("°F", "mS/cm", "gal/min")
PRESS_UNITS, TANK_UNIT = ("°F", "1", "1", "°F", "psi"), "°F"


@dataclass(frozen=True, slots=True)
class Event:
    """The temperature at the holding tube's end falls to `value` for `seconds`; `diverted`: the device saw it."""

    at: datetime
    seconds: int
    value: Decimal
    diverted: bool


def press_mapping() -> Mapping:
    """How the press recorder's file is read."""
    return _mapping(PRESS, PRESS_UNITS)


def tank_mapping() -> Mapping:
    """How the tank logger's file is read."""
    return _mapping(tuple(f"tr-{one}" for one in TANKS), (TANK_UNIT,) * len(TANKS))


def _mapping(codes: Sequence[str], units: Sequence[str]) -> Mapping:
    channels = tuple(
        ChannelColumn(at, code, unit) for at, (code, unit) in enumerate(zip(codes, units, strict=True), 1)
    )
    return Mapping(
        "utf-8", ",", ".", len(codes) + 1, TimeColumns((0,)), channels, ("Date and time", *_headers(codes, units))
    )


def _headers(codes: Sequence[str], units: Sequence[str]) -> list[str]:
    return [code if unit == "1" else f"{code} ({unit})" for code, unit in zip(codes, units, strict=True)]


def cip_mapping() -> Mapping:
    """How the file of the CIP's return line is read."""
    return _mapping(CIP, CIP_UNITS)


def press_file(start: datetime, end: datetime, events: Sequence[Event], in_force: InForce) -> bytes:
    """The press recorder's file of [start, end): a row each second while it has power."""
    at = np.arange(int((end - start).total_seconds()))
    chance = np.random.default_rng(int(start.timestamp()))
    wanted, running, forward = np.full(len(at), OFF), np.zeros(len(at), np.int64), np.zeros(len(at), np.int64)
    before = 0
    for run in held_between("press-1", start, end, in_force).spans:
        first, last = (round(((moment or end) - start).total_seconds()) for moment in (run.start, run.end))
        on = slice(max(before, first - WARM_UP), last + RUN_DOWN)
        wanted[on], running[on] = HOT.get(run.product_class, HOT["mix"]), 1
        forward[max(0, first) : last] = 1
        before = last
    hot = _slowly(wanted) + 0.12 * np.sin(at / 170.0) * running + chance.normal(0, 0.06, len(at))
    out = np.where(hot > HOT["milk"] - 3, 37.4, 60.0) + chance.normal(0, 0.1, len(at))
    for one in events:
        first = round((one.at - start).total_seconds())
        hot[first : first + one.seconds] = float(one.value)
        if one.diverted:  # the device is quicker than what it sees: it is over before, and back well after
            forward[first - 3 : first + one.seconds + 20] = 0
    pressure = np.where(running, 3.8, 2.6) + chance.normal(0, 0.08, len(at))
    columns = (_texts(hot), _whole(forward), _whole(running), _texts(out), _texts(pressure))
    return _written(_headers(PRESS, PRESS_UNITS), start, at, columns, in_force)


def _slowly(wanted: Values) -> Values:
    """What is wanted, reached no faster than a press heats and cools."""
    found, now = np.empty(len(wanted)), float(wanted[0]) if len(wanted) else 0.0
    for at, goal in enumerate(wanted.tolist()):
        now += min(HEATS, max(-HEATS, goal - now))
        found[at] = now
    return found


def tank_file(start: datetime, end: datetime, in_force: InForce) -> bytes:
    """The tank logger's file of [start, end): a row each minute while it has power."""
    at = np.arange(0, int((end - start).total_seconds()), 60)
    chance = np.random.default_rng(int(start.timestamp()) + 1)
    columns = [_texts(_tank(one, start, end, at, in_force) + chance.normal(0, 0.05, len(at))) for one in TANKS]
    codes = [f"tr-{one}" for one in TANKS]
    return _written(_headers(codes, (TANK_UNIT,) * len(codes)), start, at, columns, in_force)


def cip_file(start: datetime, end: datetime, in_force: InForce) -> bytes:
    """The file of the CIP's return line of [start, end): a row each ten seconds, hot and strong as the steps were told.

    The line warms and fills in the last rows before a step, so that the step is whole.
    """
    at = np.arange(0, int((end - start).total_seconds()), 10)
    chance = np.random.default_rng(int(start.timestamp()) + 2)
    hot, strong, flow = (np.full(len(at), idle) for idle in (OFF, 0.4, 0.0))
    programs = {one.program for one in in_force.plan.wash_steps if one.recorder == CIP[0]}
    rows = WashStep.objects.filter(program__in=programs, started_at__lt=end, ended_at__gt=start)
    for one in rows.order_by("started_at"):
        first, last = ((moment - start).total_seconds() for moment in (one.started_at, one.ended_at))
        while_on = (at >= first - 20) & (at <= last)
        hot[while_on] = float(one.temperature) + 1 if one.temperature is not None else 90.0
        strong[while_on] = float(one.strength) if one.strength is not None else 0.6
        flow[while_on] = 46.0
    on = flow > 0
    columns = (
        _texts(hot + np.abs(chance.normal(0, 0.3, len(at)))),
        _texts(np.abs(strong + chance.normal(0, 0.2, len(at)) * on)),
        _texts(flow + chance.normal(0, 0.4, len(at)) * on),
    )
    return _written(_headers(CIP, CIP_UNITS), start, at, columns, in_force)


def _tank(vessel: str, start: datetime, end: datetime, at: NDArray[np.int64], in_force: InForce) -> Values:
    """On a line from reading to reading; while it is washed it is hot."""
    rows = governing(
        Reading.objects.filter(
            subject=vessel,
            monitoring_key__contains="temperature",
            unit="°F",
            value__isnull=False,
            observed_at__gte=start - timedelta(hours=12),
            observed_at__lte=end,
        )
    )
    read = sorted((round((one.observed_at - start).total_seconds()), float(one.value or 0)) for one in rows)
    moments, values = zip(*(read or [(0, 37.5)]), strict=True)
    found: Values = np.interp(at, moments, values)
    for since, until in held_between(vessel, start, end, in_force).washed:
        first, last = ((moment - start).total_seconds() for moment in (since, until))
        found[(at >= first) & (at < last)] = 158.0
    return found


def _texts(values: Values) -> list[str]:
    return [f"{one:.1f}" for one in values.tolist()]


def _whole(values: NDArray[np.int64]) -> list[str]:
    return [str(one) for one in values.tolist()]


def _written(
    headers: Sequence[str],
    start: datetime,
    at: NDArray[np.int64],
    columns: Sequence[Sequence[str]],
    in_force: InForce,
) -> bytes:
    """Rows in the plant's own time; none while the power was out."""
    silent = [
        (one.started_at, OutageEnd.objects.filter(outage=one.number).values_list("ended_at", flat=True).first())
        for one in Outage.objects.filter(what="power")
    ]
    lines = [",".join(["Date and time", *headers])]
    for row, second in enumerate(at.tolist()):
        moment = start + timedelta(seconds=second)
        if any(since <= moment and (until is None or moment < until) for since, until in silent):
            continue
        local = in_force.calendar.local(moment)
        lines.append(",".join([f"{local:%Y-%m-%d %H:%M:%S}", *(column[row] for column in columns)]))
    return ("\n".join(lines) + "\n").encode()
