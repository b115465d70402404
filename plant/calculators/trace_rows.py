"""Rows of times and temperatures that people type, as traces in the unit that the limit is written in."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.utils.translation import gettext_lazy as _

from plant.calculators.asks import TIMES, degrees_ask
from plant.calculators.working import Ask, decimal_of
from plant.process.errors import CalculationError
from plant.process.said import Said, say
from plant.process.units import exact

MOST_TIME = 60 * 24 * 366  # of the unit that the times are typed in; a leap year of minutes
READINGS_UNIT = _("Unit of the readings")
UNIT = degrees_ask(READINGS_UNIT)
MINUTES = _("minutes")
MINUTES_HELP = _("Minutes since the start, then the temperature of the warmest place: 30; 39.5")


def readings_ask(example: str, time: Any = MINUTES, help_: Any = MINUTES_HELP) -> Ask:
    """The ask for rows of times and temperatures; `time` heads the first column."""
    return Ask(
        name="readings",
        label=_("Readings, one a line"),
        kind="rows",
        columns=(time, _("temperature")),
        example=example,
        help=help_,
    )


def gap_ask(example: str, help_: Any) -> Ask:
    """The ask for the longest time between two readings that counts as unbroken."""
    return Ask(
        name="gap",
        label=_("Readings may lie so far apart"),
        units=TIMES,
        low=0,
        high=60 * 24 * 366,
        example=example,
        help=help_,
    )


def trace_of(
    rows: Sequence[tuple[str, ...]], unit: str, to: str, time_unit: str = "min"
) -> tuple[list[Fraction], list[Fraction]]:
    """Times as typed [time_unit] and temperatures in the unit `to`, both exact. Raises CalculationError."""
    times, values = [], []
    for place, (when, value) in enumerate(rows, start=1):
        time = _decimal(when, place)
        if not 0 <= time <= MOST_TIME:
            named = {"line": str(place), "most": str(MOST_TIME), "unit": time_unit}
            raise CalculationError(say("line %(line)s: times from 0 to %(most)s %(unit)s are taken", **named))
        times.append(Fraction(time))
        values.append(exact(_decimal(value, place), unit, to))
    return times, values


def seconds(minutes: Sequence[Fraction]) -> list[float]:
    """Minutes as seconds."""
    return [float(one * 60) for one in minutes]


def hours(times_s: Sequence[float]) -> list[float]:
    """Seconds as hours."""
    return [one / 3600 for one in times_s]


def in_minutes(seconds_of: float) -> str:
    """A time for people, in minutes to a tenth."""
    return f"{seconds_of / 60:.1f} min"


def _decimal(text: str, place: int) -> Decimal:
    def wrong(fault: str) -> Said:
        return say("line %(line)s: %(fault)s", line=str(place), fault=fault)

    return decimal_of(text, wrong)
