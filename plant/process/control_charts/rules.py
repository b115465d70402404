"""Run rules: patterns that are unlikely while a process is steady. They come in named sets; mixing sets cries wolf."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from plant.process.arrays import BoolArray, FloatArray
from plant.process.control_charts.data import finite, one_row
from plant.process.errors import CalculationError
from plant.process.said import say as _


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule of a set: `key`, `number` in its set, `words`, and what of a window of points in sigmas it looks for."""

    key: str
    number: int
    words: str
    span: int
    found: Callable[[FloatArray], tuple[int, ...]] = field(repr=False)


@dataclass(frozen=True, slots=True)
class Signal:
    """A pattern that is complete at `point`; `points` make it up. Points are counted from 1."""

    rule: Rule
    point: int
    points: tuple[int, ...]


def _beyond(sigmas: float, least: int) -> Callable[[FloatArray], tuple[int, ...]]:
    """At least so many points of the window further out than that, on the side of the last one, itself among them."""

    def found(window: FloatArray) -> tuple[int, ...]:
        side = math.copysign(1.0, window[-1])
        out = window * side > sigmas
        return _those(out) if out[-1] and out.sum() >= least else ()

    return found


def _whole(test: Callable[[FloatArray], bool], span: int) -> Callable[[FloatArray], tuple[int, ...]]:
    """The whole window, when it is full and the test holds."""

    def found(window: FloatArray) -> tuple[int, ...]:
        return tuple(range(span)) if len(window) == span and test(window) else ()

    return found


def _one_side(window: FloatArray) -> bool:
    return bool((window > 0).all() or (window < 0).all())


def _trend(window: FloatArray) -> bool:
    steps = np.diff(window)
    return bool((steps > 0).all() or (steps < 0).all())


def _alternating(window: FloatArray) -> bool:
    steps = np.diff(window)
    return bool((steps != 0).all() and (np.sign(steps[1:]) == -np.sign(steps[:-1])).all())


def _those(out: BoolArray) -> tuple[int, ...]:
    return tuple(int(place) for place in np.flatnonzero(out))


_ONE = ("one beyond 3", _("one point beyond 3 sigma"), 1, _beyond(3, 1))
_TWO = ("2 of 3 beyond 2", _("2 of 3 points beyond 2 sigma, on one side"), 3, _beyond(2, 2))
_FOUR = ("4 of 5 beyond 1", _("4 of 5 points beyond 1 sigma, on one side"), 5, _beyond(1, 4))
_EIGHT = ("8 one side", _("8 points in a row on one side of the center"), 8, _whole(_one_side, 8))
_NINE = ("9 one side", _("9 points in a row on one side of the center"), 9, _whole(_one_side, 9))
_TREND = ("6 trend", _("6 points in a row steadily rising or falling"), 6, _whole(_trend, 6))
_ALTERNATING = ("14 alternating", _("14 points in a row alternating up and down"), 14, _whole(_alternating, 14))
_HUGGING = (
    "15 within 1",
    _("15 points in a row within 1 sigma"),
    15,
    _whole(lambda window: bool((np.abs(window) < 1).all()), 15),
)
_MIXTURE = (
    "8 beyond 1",
    _("8 points in a row beyond 1 sigma, on either side"),
    8,
    _whole(lambda window: bool((np.abs(window) > 1).all()), 8),
)


def _set(*rules: tuple[str, str, int, Callable[[FloatArray], tuple[int, ...]]]) -> tuple[Rule, ...]:
    return tuple(Rule(key, number, words, span, found) for number, (key, words, span, found) in enumerate(rules, 1))


# Western Electric: Statistical Quality Control Handbook, 1956. Nelson: Journal of Quality Technology 16(4), 1984.
# Both from memory.
RULE_SETS: Mapping[str, tuple[Rule, ...]] = {
    "western electric": _set(_ONE, _TWO, _FOUR, _EIGHT),
    "nelson": _set(_ONE, _NINE, _TREND, _ALTERNATING, _TWO, _FOUR, _HUGGING, _MIXTURE),
}


def run_rules(
    values: ArrayLike, center: ArrayLike = 0.0, sigma: ArrayLike = 1.0, rules: str = "western electric"
) -> tuple[Signal, ...]:
    """Every signal of one named set of rules, in order of the point at which it is complete, then of the rule.

    `values` (n,) in order of time; `center` and `sigma`, the standard deviation of a point: one number or (n,) [one
    unit]. Distances count strictly: a point exactly at 3 sigma is not beyond it, one on the center is on neither side.
    A pattern that goes on signals again at each point. The rules beyond the first are for charts of location whose
    points are independent, not for moving ranges or averages.

    Range: sigma > 0; `rules` is "western electric" or "nelson".
    Raises: OutsideRange, CalculationError.
    Source: Western Electric, Statistical Quality Control Handbook, 1956; Nelson, J. Quality Technology 16(4):237, 1984
    (both from memory).

    >>> [(one.rule.key, one.point, one.points) for one in run_rules([0.2, 2.1, 0.4, 2.3, -0.2])]
    [('2 of 3 beyond 2', 4, (2, 4))]
    """
    if rules not in RULE_SETS:
        raise CalculationError(_("The sets of rules are: %(known)s.", known=", ".join(RULE_SETS)))
    row = one_row(values)
    try:
        middle, spread = (np.broadcast_to(finite(one), row.shape) for one in (center, sigma))
    except ValueError as error:
        if isinstance(error, CalculationError):
            raise
        raise CalculationError(_("Give one center and one sigma, or one for each value.")) from error
    if not (spread > 0).all():
        raise CalculationError(_("The standard deviation must be above zero."))
    # Rounded so that the hair of a division does not put a point on a bound beyond it.
    z = np.round((row - middle) / spread, 9)
    signals = []
    for end in range(1, len(z) + 1):
        for rule in RULE_SETS[rules]:
            window = z[max(0, end - rule.span) : end]
            places = rule.found(window)
            if places:
                signals.append(Signal(rule, end, tuple(end - len(window) + place + 1 for place in places)))
    return tuple(signals)
