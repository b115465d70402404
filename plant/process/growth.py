"""Growth of bacteria that a temperature allows: the square-root model, over a trace, and Q10.

It supports an evaluation by a qualified person, together with counts and the product's history. It never releases a
product: a model knows neither how many cells were there nor what the product does to them. No lag is assumed, as if
the cells were growing already.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from plant.process.arrays import FloatArray, trace
from plant.process.errors import Infeasible, OutsideRange, within
from plant.process.said import say as _

__all__ = [
    "Growth",
    "LISTERIA_IN_MILK",
    "SquareRootModel",
    "converted_rate",
    "days_to_increase",
    "generation_time_h",
    "growth_over",
    "growth_rate",
    "q10",
    "relative_spoilage_rate",
    "square_root_model",
    "time_by_q10",
]

LOG10_2: Final = math.log10(2)
_DAY_S: Final = 86_400.0
_HIGHEST_C: Final = 30.0  # beyond, the square root bends down towards the optimum
_LOWEST_C: Final = -20.0
_HIGHEST_TMIN_C: Final = 10.0
_NEAREST_C: Final = 0.01  # closer to Tmin a rate says nothing about another temperature


@dataclass(frozen=True, slots=True)
class SquareRootModel:
    """sqrt(rate) = slope (T - tmin), rate in log10 a day, T in °C between low_c and high_c; nothing at or below tmin.

    `slope` [square root of log10 a day, per °C].
    """

    slope: float
    tmin_c: float
    low_c: float
    high_c: float
    name: str = ""
    source: str = ""

    def __post_init__(self) -> None:
        """Refuse a model without a slope, or for temperatures where no straight line is known (OutsideRange)."""
        within("slope", self.slope, 1e-6, 100)
        within("Tmin", self.tmin_c, _LOWEST_C, _HIGHEST_TMIN_C, "°C")
        within("lowest temperature of the model", self.low_c, _LOWEST_C, _HIGHEST_C, "°C")
        within("highest temperature of the model", self.high_c, self.low_c, _HIGHEST_C, "°C")


@dataclass(frozen=True, slots=True)
class Growth:
    """What a trace allows: growth in log10 units.

    `log_increase` is the estimate, temperature on straight lines between readings; `lowest` and `highest` take each
    interval at its colder and at its warmer reading. `final_log` is start + increase where a start was given [log10
    per mL]; `capped`: it reached the stated maximum. `times_s` [s] and `cumulative_log` are the course of the estimate.
    """

    log_increase: float
    lowest: float
    highest: float
    doublings: float
    final_log: float | None
    capped: bool
    times_s: FloatArray = field(compare=False, repr=False)
    cumulative_log: FloatArray = field(compare=False, repr=False)


def square_root_model(
    rate_log_day: float, at_c: float, tmin_c: float, low_c: float, high_c: float, name: str = "", source: str = ""
) -> SquareRootModel:
    """The model through one known rate: slope = sqrt(rate)/(at - tmin).

    rate_log_day: growth rate at `at_c` [log10/day].
    at_c, tmin_c: temperature of the rate, and where growth stops in the model [°C].
    low_c, high_c: where the model may be used, below the organism's optimum [°C].

    Range: rate 0.001 to 100 log10/day; tmin -20 to 10 °C; at 0.01 °C and more above tmin; -20 <= low <= high <= 30 °C.
    Raises: OutsideRange.
    Source: Ratkowsky, Olley, McMeekin and Ball, J. Bacteriol. 149:1, 1982 (from memory).

    >>> round(square_root_model(0.257, 5, -1.18, 0, 20).slope, 5)
    0.08203
    """
    rate = within("growth rate", rate_log_day, 0.001, 100, "log10/day")
    tmin = _tmin(tmin_c)
    _above(at_c, tmin)
    return SquareRootModel(math.sqrt(rate) / (at_c - tmin), tmin, low_c, high_c, name, source)


def growth_rate(model: SquareRootModel, temperature_c: float) -> float:
    """The growth rate at a temperature [log10/day]; none at or below the model's Tmin.

    model: square-root model.
    temperature_c: [°C].

    Range: the model's own, low_c to high_c.
    Raises: OutsideRange.
    Source: Ratkowsky, Olley, McMeekin and Ball, J. Bacteriol. 149:1, 1982 (from memory).

    >>> round(growth_rate(LISTERIA_IN_MILK, 7), 4)
    0.4503
    """
    temperature = within("temperature", temperature_c, model.low_c, model.high_c, "°C")
    return (model.slope * max(temperature - model.tmin_c, 0.0)) ** 2


def generation_time_h(rate_log_day: float) -> float:
    """The time in which cells double at a growth rate [h]: 24 log10(2)/rate.

    rate_log_day: [log10/day].

    Range: 0.000001 to 1000 log10/day.
    Raises: OutsideRange.
    Source: by definition.

    >>> round(generation_time_h(0.4503), 1)
    16.0
    """
    return 24 * LOG10_2 / within("growth rate", rate_log_day, 1e-6, 1000, "log10/day")


def days_to_increase(model: SquareRootModel, temperature_c: float, log_increase: float) -> float:
    """How long a temperature takes for an increase, without lag [days].

    model: square-root model.
    temperature_c: [°C].
    log_increase: [log10].

    Range: the model's own temperatures; increase 0 to 12 log10.
    Raises: OutsideRange; Infeasible where the model does not grow.
    Source: by definition, from growth_rate.

    >>> round(days_to_increase(LISTERIA_IN_MILK, 4, 3), 1)
    16.6
    """
    wanted = within("increase", log_increase, 0, 12, "log10")
    rate = growth_rate(model, temperature_c)
    if rate == 0:
        raise Infeasible(
            _("at %(temperature)s °C this model does not grow at all", temperature=f"{temperature_c:g}"),
            target="increase",
            wanted=wanted,
            highest=0.0,
            unit="log10",
        )
    return wanted / rate


def converted_rate(rate: float, from_c: float, to_c: float, tmin_c: float) -> float:
    """A growth rate at another temperature, in the unit of the rate: r2 = r1 ((T2 - Tmin)/(T1 - Tmin))^2.

    rate: at `from_c` [any unit of growth a time].
    from_c, to_c, tmin_c: [°C].

    Range: rate 0 and more; tmin -20 to 10 °C; from_c 0.01 °C above tmin to 30 °C, to_c tmin to
        30 °C, both below the organism's optimum.
    Raises: OutsideRange.
    Source: square-root model, as used in the FDA/FSIS Listeria risk assessment, 2003, appendix 8
        (https://corpora.tika.apache.org/base/docs/govdocs1/465/465930.html; its Tmin of -1.18 °C from memory).

    >>> round(converted_rate(2.1 / 28, 4, 5, -1.18), 3)
    0.107
    """
    known = within("growth rate", rate, 0)
    tmin = _tmin(tmin_c)
    _above(from_c, tmin)
    return known * ((within("temperature", to_c, tmin, _HIGHEST_C, "°C") - tmin) / (from_c - tmin)) ** 2


def relative_spoilage_rate(temperature_c: float) -> float:
    """How many times faster than at 0 °C psychrotrophic bacteria spoil a product: (1 + 0.1 T)^2.

    temperature_c: T [°C].

    Range: 0 to 15 °C.
    Raises: OutsideRange.
    Source: Olley and Ratkowsky, general spoilage curve, Tmin -10 °C, 1973 (from memory).

    >>> round(relative_spoilage_rate(7), 2)
    2.89
    """
    return (1 + 0.1 * within("temperature", temperature_c, 0, 15, "°C")) ** 2


def q10(from_c: float, to_c: float, tmin_c: float) -> float:
    """The Q10 that the square-root model has between two temperatures: (r2/r1)^(10/(T2 - T1)).

    It is not a constant: near Tmin it grows without bound.

    from_c, to_c: two different temperatures above tmin [°C].
    tmin_c: [°C].

    Range: tmin -20 to 10 °C; temperatures 0.01 °C above tmin to 30 °C.
    Raises: OutsideRange; Infeasible for two equal temperatures.
    Source: by definition, from the square-root model.

    >>> round(q10(4, 10, -1.18), 2)
    12.99
    """
    tmin = _tmin(tmin_c)
    _above(from_c, tmin)
    _above(to_c, tmin)
    if from_c == to_c:
        raise Infeasible(_("Q10 needs two different temperatures"), target="Q10")
    # In logarithms: close to Tmin the value itself may be beyond what a number holds.
    exponent = 20 / (to_c - from_c) * math.log10((to_c - tmin) / (from_c - tmin))
    if exponent > 300:
        raise OutsideRange("Q10 as a power of ten", exponent, None, 300)
    return float(10**exponent)


def time_by_q10(time: float, from_c: float, to_c: float, q10_value: float) -> float:
    """How long something takes at another temperature when 10 °C more multiply its rate by Q10.

    t / Q10^((T2 - T1)/10). Only between temperatures between which that Q10 was found: Q10 is not a constant (see q10).

    time: at `from_c` [any unit].
    from_c, to_c: [°C].
    q10_value: [1].

    Range: time 0 and more; Q10 1 to 20; temperatures -20 to 60 °C and at most 20 °C apart.
    Raises: OutsideRange.
    Source: by definition of Q10.

    >>> round(time_by_q10(14, 4, 7, 2.5), 1)
    10.6
    """
    known = within("time", time, 0)
    factor = within("Q10", q10_value, 1, 20)
    first, second = within("temperature", from_c, -20, 60, "°C"), within("temperature", to_c, -20, 60, "°C")
    return float(known / factor ** (within("temperature difference", second - first, -20, 20, "°C") / 10))


def growth_over(
    times_s: ArrayLike,
    temperatures_c: ArrayLike,
    model: SquareRootModel,
    *,
    longest_gap_s: float,
    start_log: float | None = None,
    maximum_log: float | None = None,
) -> Growth:
    """What a temperature trace allows to grow, without lag, up to a stated maximum.

    On a straight line from u0 to u1 above Tmin (°C) over dt days the increase is slope^2 dt (u0^2 + u0 u1 + u1^2)/3:
    exact for the line; where it crosses Tmin, only the part above grows.

    times_s: moments of the readings, rising, n >= 2 [s].
    temperatures_c: the reading at each, of the warmest place [°C], shape (n,).
    model: square-root model.
    longest_gap_s: how far apart two readings may be for a line between them to mean anything [s].
    start_log, maximum_log: level at the start and highest level of growth [log10 per mL]; a maximum needs a start.

    Range: temperatures within the model's own range, low_c to high_c; gaps up to longest_gap_s; levels -3 to 12 log10
        per mL, start not above maximum.
    Raises: OutsideRange; Infeasible for a gap, and for a maximum without a start; CalculationError for a wrong trace.
    Source: Ratkowsky, Olley, McMeekin and Ball, J. Bacteriol. 149:1, 1982 (from memory), integrated here.

    >>> fortnight = growth_over([0, 14 * 86400], [4, 4], LISTERIA_IN_MILK, longest_gap_s=14 * 86400)
    >>> round(fortnight.log_increase, 2), round(fortnight.doublings, 1)
    (2.53, 8.4)
    """
    times, levels = trace(times_s, temperatures_c)
    steps = np.diff(times)
    longest = within("longest gap", longest_gap_s, 0, None, "s")
    for extreme in (float(levels.min()), float(levels.max())):
        within("temperature", extreme, model.low_c, model.high_c, "°C")
    if steps.max() > longest * (1 + 1e-9):  # the difference of two moments is not exact
        place = int(steps.argmax())
        raise Infeasible(
            _(
                "nothing was read for %(gap)s min after minute %(minute)s: a line may span at most %(most)s min",
                gap=f"{steps[place] / 60:.6g}",
                minute=f"{times[place] / 60:.6g}",
                most=f"{longest / 60:.6g}",
            ),
            target="gap",
            wanted=float(steps[place]),
            highest=longest,
            unit="s",
        )
    room = _room(start_log, maximum_log)
    above = np.maximum(levels - model.tmin_c, 0.0)
    before, after = above[:-1], above[1:]
    per_step = model.slope**2 * steps / _DAY_S
    below = levels - model.tmin_c
    # The part of each step that lies above Tmin: all of it, or from the crossing on.
    spread = np.abs(np.diff(below))
    crosses = (below[:-1] < 0) != (below[1:] < 0)
    share = np.where(crosses, (before + after) / np.where(spread > 0, spread, 1.0), 1.0)
    course = np.concatenate(([0.0], np.cumsum(per_step * share * (before**2 + before * after + after**2) / 3)))
    lowest = float(np.sum(per_step * np.minimum(before, after) ** 2))
    highest = float(np.sum(per_step * np.maximum(before, after) ** 2))
    capped = bool(course[-1] > room)
    course = np.minimum(course, room)
    increase = float(course[-1])
    return Growth(
        log_increase=increase,
        lowest=min(lowest, increase),
        highest=min(highest, room),
        doublings=increase / LOG10_2,
        final_log=None if start_log is None else start_log + increase,
        capped=capped,
        times_s=times,
        cumulative_log=course,
    )


def _room(start_log: float | None, maximum_log: float | None) -> float:
    """How many log10 fit between the start and the maximum; endless without a maximum."""
    if start_log is not None:
        within("start", start_log, -3, 12, "log10 per mL")
    if maximum_log is None:
        return math.inf
    if start_log is None:
        raise Infeasible(_("a highest level needs a level at the start"), target="start")
    return within("highest level", maximum_log, start_log, 12, "log10 per mL") - start_log


def _tmin(tmin_c: float) -> float:
    return within("Tmin", tmin_c, _LOWEST_C, _HIGHEST_TMIN_C, "°C")


def _above(temperature_c: float, tmin_c: float) -> None:
    within("temperature", temperature_c, tmin_c + _NEAREST_C, _HIGHEST_C, "°C")


LISTERIA_IN_MILK: Final = square_root_model(
    0.257,
    at_c=5.0,
    tmin_c=-1.18,
    low_c=-1.18,
    high_c=20.0,
    name="Listeria monocytogenes in pasteurized milk",
    source="FDA/FSIS Listeria risk assessment, 2003: mean 0.257 log10/day at 5 °C, Tmin -1.18 °C (from memory)",
)
