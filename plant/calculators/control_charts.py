"""A control chart of values in their order: limits from a steady time, and what signals since."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from django.utils.translation import gettext_lazy as _

from plant.calculators.control_charts_asks import ASKS
from plant.calculators.working import BY_DEFINITION, Calculator, Step, Table, Values, Working, number
from plant.pictures.control_chart import control_chart_svg
from plant.process.control_charts import (
    Chart,
    Shewhart,
    Signal,
    cusum,
    ewma,
    factors,
    individuals,
    run_rules,
    xbar_r,
    xbar_s,
)
from plant.process.errors import CalculationError
from plant.process.said import Said, say

NIST = "NIST/SEMATECH e-Handbook 6.3.2 (from memory)"
MOST_SIGNALS = 60
CAUTIONS = (
    say(
        "Control limits come from the process. They are no critical limits: a process in control can miss its limit, "
        "and each reading is still judged by its own."
    ),
    say("Take the limits from a time known to be steady, and take one set of rules and stay with it."),
    say("A signal asks for a cause. Without one found, record what was looked at."),
)


@dataclass(frozen=True, slots=True)
class _Drawn:
    """A chart with what it says: steps, point -> words of its signals, rows for the table."""

    chart: Chart
    steps: tuple[Step, ...]
    signals: dict[int, str]
    rows: tuple[tuple[str, ...], ...]
    baseline: int = 0


@dataclass(frozen=True, slots=True)
class _Spread:
    """How a chart measures the spread: its words and symbol, what it is divided by, and its factors."""

    words: Said
    symbol: str
    divisor: str
    divided: float
    name: str
    factor: float
    low: float
    high: float


def _work(values: Values) -> Working:
    table = _table(values["values"])
    kind, baseline = values["kind"], _baseline(values["baseline"], len(table))
    if kind in ("ewma", "cusum"):
        if table.shape[1] > 1:
            raise CalculationError(say("This chart takes one value a line; give the mean of each sample."))
        drawn = (_ewma if kind == "ewma" else _cusum)(table[:, 0], values, baseline)
    else:
        drawn = _shewhart(kind, table, values["rules"], baseline)
    chart = drawn.chart
    signals = drawn.signals
    return Working(
        answer=_answer(signals, len(chart.points)),
        steps=drawn.steps,
        cautions=CAUTIONS,
        tables=(
            Table(
                say("Signals"), (say("point"), say("value"), say("what"), say("points that make it up")), drawn.rows
            ),
        ),
        picture=control_chart_svg(
            chart.points.tolist(), chart.center.tolist(), chart.lower.tolist(), chart.upper.tolist(), signals,
            values["unit"] or "", _words(), baseline=drawn.baseline,
        ),
    )  # fmt: skip


def _answer(signals: dict[int, str], points: int) -> Said:
    if not signals:
        return say("No signal in %(points)s points.", points=str(points))
    return say(
        "%(signals)s of %(points)s points signal, the first is point %(first)s: %(why)s.",
        signals=str(len(signals)),
        points=str(points),
        first=str(min(signals)),
        why=signals[min(signals)],
    )


def _shewhart(kind: str, table: np.ndarray, rules: str, baseline: int) -> _Drawn:
    source = table[:baseline]
    if kind == "individuals":
        if table.shape[1] > 1:
            raise CalculationError(say("A chart of individuals takes one value a line."))
        made, size = individuals(table[:, 0], source[:, 0]), 2
    else:
        made, size = (xbar_r if kind == "xbar-r" else xbar_s)(table, source), table.shape[1]
    signals, rows = _told(run_rules(made.location.points, made.mean, made.location.sigma, rules), made.location.points)
    for point in made.spread.beyond:
        words = say("spread beyond its limits")
        _add(signals, point, words)
        rows.append((str(point), f"{made.spread.points[point - 1]:.5g}", words, str(point)))
    return _Drawn(
        made.location,
        _shewhart_steps(made, _spread(kind, size)),
        signals,
        tuple(rows[:MOST_SIGNALS]),
        baseline if baseline < len(table) else 0,
    )


def _spread(kind: str, size: int) -> _Spread:
    each = factors(size)
    return {
        "individuals": _Spread(
            say("Mean moving range"), "MR-bar", "d2", each.d2, "3/d2", 3 / each.d2, each.D3, each.D4
        ),
        "xbar-r": _Spread(say("Mean range"), "R-bar", "d2", each.d2, "A2", each.A2, each.D3, each.D4),
        "xbar-s": _Spread(say("Mean standard deviation"), "s-bar", "c4", each.c4, "A3", each.A3, each.B3, each.B4),
    }[kind]


def _shewhart_steps(made: Shewhart, of: _Spread) -> tuple[Step, ...]:
    spread = f"{made.spread_mean:.5g}"
    counted = say("from the first %(count)s points", count=str(made.baseline))
    return (
        Step(say("Mean"), counted, f"{made.mean:.5g}", BY_DEFINITION),
        Step(of.words, counted, spread, BY_DEFINITION),
        Step(
            say("Standard deviation of the process"),
            f"{of.symbol}/{of.divisor} = {spread}/{of.divided:.4f}",
            f"{made.sigma:.5g}",
            NIST,
        ),
        Step(
            say("Control limits"),
            f"{made.mean:.5g} ± {of.name} {of.symbol} = {made.mean:.5g} ± {of.factor:.4f} x {spread}",
            f"{made.location.lower[0]:.5g}; {made.location.upper[0]:.5g}",
            NIST,
        ),
        Step(
            say("Control limits of the spread"),
            f"{of.low:.4f} x {spread}; {of.high:.4f} x {spread}",
            f"{made.spread.lower[0]:.5g}; {made.spread.upper[0]:.5g}",
            NIST,
        ),
    )


def _ewma(row: np.ndarray, values: Values, baseline: int) -> _Drawn:
    target, sigma = _standards(row, values, baseline)
    weight = _plain(values["weight"], 0.2)
    made = ewma(row, target, sigma, weight)
    chart = made.chart
    beyond = say("average beyond its limits")
    rows = [(str(point), f"{chart.points[point - 1]:.5g}", beyond, str(point)) for point in chart.beyond]
    steps = (
        _standards_step(target, sigma, values, baseline),
        Step(
            say("Limits of point 1"),
            f"{target:.5g} ± 3 x {sigma:.5g} x {weight:g}",
            f"{chart.lower[0]:.5g}; {chart.upper[0]:.5g}",
            NIST,
        ),
        Step(
            say("Limits that they settle at"),
            f"{target:.5g} ± 3 x {sigma:.5g} x sqrt({weight:g}/(2 - {weight:g}))",
            f"{made.steady_lower:.5g}; {made.steady_upper:.5g}",
            NIST,
        ),
    )
    return _Drawn(chart, steps, dict.fromkeys(chart.beyond, beyond), tuple(rows[:MOST_SIGNALS]))


def _cusum(row: np.ndarray, values: Values, baseline: int) -> _Drawn:
    target, sigma = _standards(row, values, baseline)
    allowance, decision = _plain(values["k"], 0.5) * sigma, _plain(values["h"], 5.0) * sigma
    made = cusum(row, target, allowance, decision)
    signals: dict[int, str] = {}
    rows = []
    for points, sums, runs, words in (
        (made.upper_signals, made.upper, made.upper_run, say("shift upward")),
        (made.lower_signals, made.lower, made.lower_run, say("shift downward")),
    ):
        for point in points:
            signals[point] = words
            since = say("since point %(point)s", point=str(point - runs[point - 1] + 1))
            rows.append((str(point), f"{sums[point - 1]:.5g}", words, since))
    shown = np.where(made.upper >= made.lower, made.upper, -made.lower)
    every = np.ones(len(row))
    chart = Chart(shown, 0 * every, -decision * every, decision * every, sigma * every)
    steps = (
        _standards_step(target, sigma, values, baseline),
        Step(say("Allowance K and decision interval H"), "k sigma; h sigma", f"{allowance:.5g}; {decision:.5g}", NIST),
        Step(
            say("Sums after the last point"),
            "max(0, x - (target + K) + C); max(0, (target - K) - x + C)",
            f"{made.upper[-1]:.5g}; {made.lower[-1]:.5g}",
            NIST,
        ),
    )
    return _Drawn(chart, steps, signals, tuple(rows[:MOST_SIGNALS]))


def _told(found: Sequence[Signal], points: np.ndarray) -> tuple[dict[int, str], list[tuple[str, ...]]]:
    signals: dict[int, str] = {}
    rows: list[tuple[str, ...]] = []
    for one in found:
        _add(signals, one.point, one.rule.words)
        members = ", ".join(str(place) for place in one.points)
        rows.append((str(one.point), f"{points[one.point - 1]:.5g}", one.rule.words, members))
    return signals, rows


def _add(signals: dict[int, str], point: int, words: str) -> None:
    """Another signal of a point, beside what is said of it already."""
    before = signals.get(point)
    signals[point] = words if before is None else say("%(one)s; %(other)s", one=before, other=words)


def _standards(row: np.ndarray, values: Values, baseline: int) -> tuple[float, float]:
    """The target and standard deviation that were given, else those of the baseline's individuals."""
    given = values["target"], values["sigma"]
    if None in given:
        made = individuals(row, row[:baseline])
        target = made.mean if given[0] is None else float(given[0].value)
        return target, made.sigma if given[1] is None else float(given[1].value)
    return float(given[0].value), float(given[1].value)


def _standards_step(target: float, sigma: float, values: Values, baseline: int) -> Step:
    how = say("mean, and mean moving range/d2, of the first %(count)s points", count=str(baseline))
    if values["target"] is not None and values["sigma"] is not None:
        how = say("as given")
    return Step(say("Target and standard deviation"), how, f"{target:.5g}; {sigma:.5g}", BY_DEFINITION)


def _plain(given: object, otherwise: float) -> float:
    return otherwise if given is None else float(given.value)  # type: ignore[attr-defined]


def _baseline(given: object, points: int) -> int:
    count = _plain(given, float(points))
    if count != math.floor(count) or not 2 <= count <= points:
        raise CalculationError(
            say("The baseline is a whole number of points, from 2 to the %(points)s there are.", points=str(points))
        )
    return int(count)


def _table(rows: Sequence[tuple[str, ...]]) -> np.ndarray:
    table = [[number(part, say("value")) for part in one.replace("\t", " ").split()] for (one,) in rows]
    if len(table) < 2 or not table[0] or any(len(one) != len(table[0]) for one in table):
        raise CalculationError(say("Give at least two lines, each with as many values as the others."))
    return np.array(table)


def _words() -> dict[str, str]:
    return {
        "title": str(_("Control chart")),
        "point": str(_("point")),
        "center": str(_("center")),
        "limit": str(_("control limit")),
        "upper": str(_("upper control limit")),
        "lower": str(_("lower control limit")),
        "baseline": str(_("limits come from the points up to here")),
        "signal": str(_("signal")),
        "none": str(_("no signal")),
    }


CALCULATOR = Calculator(
    key="control_charts",
    title=_("Control chart"),
    purpose=_("Whether a process is as steady as it was: control limits from a steady time, and the signals since."),
    asks=ASKS,
    work=_work,
)
