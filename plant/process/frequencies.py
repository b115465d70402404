"""How often a check is due: the frequency kinds that a plan may name."""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Literal

from plant.process.plant_calendar import clock, elapsed, parse_rule


def _positive(name: str, value: int) -> None:
    if value <= 0:
        raise ValueError(f"{name} must be more than zero, not {value}")


@dataclass(frozen=True, slots=True)
class EachShift:
    """Each shift at a time of its own.

    Each entry of `at` is "+HH:MM" (elapsed time after the shift's start), "-HH:MM" (before its end) or
    "HH:MM", a local clock time that counts when it falls inside the shift. `shifts` names the shifts meant;
    empty means every shift.
    """

    at: tuple[str, ...]
    shifts: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not self.at:
            raise ValueError("a check each shift needs at least one time")
        for text in self.at:
            if text[:1] in ("+", "-"):
                elapsed(text[1:])
            else:
                clock(text)


@dataclass(frozen=True, slots=True)
class WhileHolding:
    """Every `every_min` minutes while the vessel holds product.

    The first `first_min` minutes after the fill began.
    """

    every_min: int
    first_min: int = 0

    def __post_init__(self) -> None:
        _positive("every_min", self.every_min)
        if self.first_min < 0:
            raise ValueError(f"first_min must not be below zero, but is {self.first_min}")


@dataclass(frozen=True, slots=True)
class BeforeUse:
    """A gate before first product into a vessel or through a line.

    A reading stays valid for `valid_min` minutes.
    """

    valid_min: int

    def __post_init__(self) -> None:
        _positive("valid_min", self.valid_min)


@dataclass(frozen=True, slots=True)
class DuringRun:
    """While a run is on: every so many minutes from its start, every so many units, or both."""

    every_min: int | None = None
    every_units: Decimal | None = None

    def __post_init__(self) -> None:
        if self.every_min is None and self.every_units is None:
            raise ValueError("a check during a run needs every_min or every_units")
        if self.every_min is not None:
            _positive("every_min", self.every_min)
        if self.every_units is not None and self.every_units <= 0:
            raise ValueError(f"every_units must be more than zero, not {self.every_units}")


@dataclass(frozen=True, slots=True)
class RunEnds:
    """At the first and/or the last of a run: due at its start and at its end."""

    first: bool = True
    last: bool = True

    def __post_init__(self) -> None:
        if not (self.first or self.last):
            raise ValueError("a check at the ends of a run needs first or last")


@dataclass(frozen=True, slots=True)
class AfterEvent:
    """So many minutes after an event of this kind."""

    event: str
    minutes: int

    def __post_init__(self) -> None:
        if self.minutes < 0:
            raise ValueError(f"minutes must not be below zero, but is {self.minutes}")


@dataclass(frozen=True, slots=True)
class EachEvent:
    """At each event of this kind: a tanker, a batch, a label roll, a chart change."""

    event: str


@dataclass(frozen=True, slots=True)
class Calendar:
    """By the plant's calendar.

    An RFC 5545 RRULE counted from `start`, at the plant-local time `at` ("HH:MM").


    `closed` says what happens on a day without production: "skip" makes nothing due, "keep" leaves it due.
    """

    rrule: str
    at: str
    closed: Literal["skip", "keep"]
    start: date

    def __post_init__(self) -> None:
        if self.closed not in ("skip", "keep"):
            raise ValueError(f"on a closed day a check is skipped or kept: skip or keep, not '{self.closed}'")
        parse_rule(self.rrule, datetime.combine(self.start, clock(self.at)))


Frequency = EachShift | WhileHolding | BeforeUse | DuringRun | RunEnds | AfterEvent | EachEvent | Calendar
