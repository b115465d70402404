"""What the strip chart draws, as plain data. Moments are whole milliseconds since 1970 UTC; values are in the channel's
unit.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from plant.process.arrays import BoolArray, FloatArray
from plant.process.trace_blocks import Samples
from plant.process.units import exact

Moments = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Trace:
    """Samples in order of time: ``times_ms`` [ms], ``values`` and ``failed`` (the sensor said so; no value), each of
    shape (n,). They may reach beyond the window, so that the line runs on to its edges.

    ``gap_ms``: a longer step is a gap; None for more than the usual step (see strip_columns.allowed_steps).
    """

    times_ms: Moments
    values: FloatArray
    failed: BoolArray
    gap_ms: float | None = None
    allowed: FloatArray | None = field(default=None, init=False, repr=False, compare=False)  # strip_columns keeps it

    def __post_init__(self) -> None:
        """Refuse arrays of different lengths, moments that go back, and values that are not numbers (ValueError)."""
        if not (self.times_ms.ndim == 1 and self.times_ms.shape == self.values.shape == self.failed.shape):
            raise ValueError("each sample needs a moment, a value and a mark")
        if (self.times_ms[1:] < self.times_ms[:-1]).any():
            raise ValueError("the moments of a trace must not go back")
        if not np.isfinite(self.values[~self.failed]).all():
            raise ValueError("a drawing cannot place a value that is no number")

    @classmethod
    def of(cls, samples: Samples, gap_ms: float | None = None) -> Trace:
        """The trace of kept samples, their values in the unit that they were kept in."""
        return cls(samples.times_ms, samples.values / 10.0**samples.places, samples.failed, gap_ms)

    def __len__(self) -> int:
        return len(self.times_ms)


@dataclass(frozen=True, slots=True)
class Rule:
    """A limit, ruled across the plot with its words: 'limit 161 °F at least'. ``act``: an operating limit.

    It is drawn while it was in force; None: from the beginning, to the end.
    """

    value: float
    words: str
    act: bool = False
    start_ms: int | None = None
    end_ms: int | None = None


@dataclass(frozen=True, slots=True)
class Spot:
    """A reading by a person, as a mark on the trace, and its words. ``out``: they say that it is out of limits.
    ``tip``: all that is to be said of it; as the words where it is empty.
    """

    at_ms: int
    value: float
    words: str
    out: bool = False
    tip: str = ""


@dataclass(frozen=True, slots=True)
class Band:
    """A product that ran or was held, along the top; the end is None while it goes on. ``family``: see textures."""

    start_ms: int
    end_ms: int | None
    words: str
    family: str = "other"


@dataclass(frozen=True, slots=True)
class Stretch:
    """A marked time with its sentence: a diversion, a finding. ``out``: in the accent, because something is wrong."""

    start_ms: int
    end_ms: int | None
    words: str
    out: bool = True


@dataclass(frozen=True, slots=True)
class Channel:
    """One trace with all that stands beside it. ``beside``: samples that contradict it, as a thin second line.

    ``places``: decimals of its values in words.
    """

    name: str
    unit: str
    trace: Trace
    beside: Trace | None = None
    rules: tuple[Rule, ...] = ()
    spots: tuple[Spot, ...] = ()
    places: int = 1


@dataclass(frozen=True, slots=True)
class Strip:
    """A window of one or several channels. ``zone``: IANA name, for the hours. ``now_ms``: after it nothing is missing.

    Raises ValueError for a window without length, and for no channel.
    """

    title: str
    note: str
    start_ms: int
    end_ms: int
    zone: str
    channels: tuple[Channel, ...]
    bands: tuple[Band, ...] = ()
    stretches: tuple[Stretch, ...] = ()
    now_ms: int | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot be drawn."""
        if self.end_ms <= self.start_ms:
            raise ValueError("a strip's window must end after it starts")
        if not self.channels:
            raise ValueError("a strip needs a channel")


def in_unit(channel: Channel, unit: str) -> Channel:
    """The channel with every value in another unit, for display and never for judging.

    Raises UnitError (plant.process.units) when the units measure different things.
    """
    if unit == channel.unit:
        return channel
    zero, one = (exact(Fraction(value), channel.unit, unit) for value in (0, 1))
    offset, factor = float(zero), float(one - zero)

    def trace(given: Trace) -> Trace:
        return replace(given, values=given.values * factor + offset)

    return replace(
        channel,
        unit=unit,
        trace=trace(channel.trace),
        beside=trace(channel.beside) if channel.beside is not None else None,
        rules=tuple(replace(rule, value=rule.value * factor + offset) for rule in channel.rules),
        spots=tuple(replace(spot, value=spot.value * factor + offset) for spot in channel.spots),
    )
