"""A wash (cleaning in place) judged by its steps: what the plan wants, what was recorded, what that proves.

Strengths, times and temperatures are settings of each circuit that the plant validates; no statute fixes them. What is
missing is not proven and never counts as met. A wash that meets its plan is a record of the wash, not proof that a
surface is clean: that takes looking, and swabs or rinses.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from plant.process.errors import within
from plant.process.limits import SEVERITY, Judged, Limit, Outcome, judge_number, not_proven, recorded, worst
from plant.process.said import say as _
from plant.process.units import CELSIUS, FAHRENHEIT, UnitError, exact, plain

__all__ = [
    "Finding",
    "Measured",
    "PlannedStep",
    "StepResult",
    "WashResult",
    "WashedStep",
    "flow_for_velocity_l_per_h",
    "judge_chlorine",
    "judge_hot_water",
    "judge_step",
    "judge_trace",
    "judge_wash",
    "line_velocity_m_s",
]

HOTTEST_C = 150.0  # no wash is hotter, and none is frozen: our own bounds against a slip of the finger


@dataclass(frozen=True, slots=True)
class Measured:
    """A value as it was recorded, with its unit."""

    value: Decimal
    unit: str


@dataclass(frozen=True, slots=True)
class PlannedStep:
    """A step as the plan wants it: `limits` bound its quantities ("time", "temperature", "conductivity",
    "concentration", "flow"), each in its own unit."""

    name: str
    limits: tuple[Limit, ...] = ()


@dataclass(frozen=True, slots=True)
class WashedStep:
    """A step as it was recorded: quantity -> what was measured; None or absent: nothing recorded. `beside`: what else
    bears on it and is judged already, as the traces of the same time."""

    name: str
    measured: Mapping[str, Measured | None]
    beside: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class Finding:
    """One quantity of one step and what its record proves."""

    quantity: str
    judged: Judged


@dataclass(frozen=True, slots=True)
class StepResult:
    """One step's verdict: the worst of its findings."""

    name: str
    outcome: Outcome
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class WashResult:
    """A wash's verdict: the worst of its steps and of their order. `steps` in the plan's order, then unplanned ones."""

    outcome: Outcome
    steps: tuple[StepResult, ...]
    order: Judged


def judge_step(planned: PlannedStep, washed: WashedStep | None) -> StepResult:
    """One step against the plan: each quantity that the plan bounds gets its own result and reason.

    `planned` has its limits in their own units [any]; `washed` None: no record of the step.

    Range: none; a value missing, not a number, or in a unit of another kind is not proven; so is a limit that is none.
    Raises: nothing.
    Source: 7 Pa. Code 59.212(b)(1) for a set regimen for each circuit, followed (text consulted in a state mirror);
    that what is missing proves nothing: 21 CFR 117.305 asks for actual values (text consulted).

    >>> caustic = PlannedStep("caustic", (Limit("t", "temperature", "°C", low=Decimal(70)),))
    >>> judge_step(caustic, WashedStep("caustic", {"temperature": Measured(Decimal("71.5"), "°C")})).outcome.value
    'met'
    >>> judge_step(caustic, WashedStep("caustic", {})).outcome.value
    'not proven'
    """
    if washed is None:
        nothing = not_proven(_("Nothing recorded of this step."))
        return StepResult(planned.name, nothing.outcome, (Finding("", nothing),))
    findings = tuple(Finding(one.quantity, _judge(washed.measured.get(one.quantity), one)) for one in planned.limits)
    findings = (*findings, *washed.beside)
    if not findings:
        findings = (Finding("", recorded()),)
    return StepResult(planned.name, _worst_outcome(one.judged.outcome for one in findings), findings)


def judge_wash(planned: Sequence[PlannedStep], washed: Sequence[WashedStep]) -> WashResult:
    """A whole wash: every planned step, in the plan's order, and the order itself.

    `washed` in the order in which the steps were done. Steps are matched by name so that most of them stand in
    order. A planned step without record is not proven; one done at another place in the order makes the order not
    met; one that the plan does not have there is not proven, since nobody said what it does to the wash.

    Range: none; a plan without steps proves nothing.
    Raises: nothing.
    Source: 7 Pa. Code 59.212(b)(1) for a set regimen for each circuit, followed (text consulted in a state mirror);
    the order as the plan's own (common practice, no source).

    >>> plan = [PlannedStep("rinse"), PlannedStep("caustic")]
    >>> judge_wash(plan, [WashedStep("rinse", {}), WashedStep("caustic", {})]).outcome.value
    'met'
    >>> judge_wash(plan, [WashedStep("caustic", {}), WashedStep("rinse", {})]).outcome.value
    'not met'
    """
    pairs, displaced, extra = _matched([one.name for one in planned], [one.name for one in washed])
    steps = [
        judge_step(one, washed[pairs[place]] if place in pairs else None) for place, one in enumerate(planned)
    ]  # fmt: skip
    for place in extra:
        unplanned = not_proven(_("The plan has no such step here; what it does to the wash is not known."))
        steps.append(StepResult(washed[place].name, unplanned.outcome, (Finding("", unplanned),)))
    order = _judge_order(planned, pairs, displaced)
    return WashResult(_worst_outcome([order.outcome, *(one.outcome for one in steps)]), tuple(steps), order)


def judge_hot_water(
    rows: Sequence[tuple[Limit, Limit]],
    temperature: Measured | None,
    time: Measured | None,
    at_outlet: bool | None,
) -> Judged:
    """Sanitizing with hot water against the rows of a rule: each row a pair (lowest temperature, least time).

    The rows are alternatives, and one met whole is enough. `temperature` [°C or °F] is the lowest at the outlet
    during the `time` [s, min or h]; measured elsewhere, or not known where, it proves nothing.

    Range: none; no row, or a value missing, is not proven.
    Raises: nothing.
    Source: 1 NYCRR 2.18 (farm item 11r): 77 °C (170 °F) for at least 5 min, measured at the outlet (text consulted in a
    state mirror); 21 CFR 129.80 gives alternatives, 77 °C 15 min or 94 °C 5 min (secondary).

    >>> hot = Limit("t", "temperature", "°F", low=Decimal(170)), Limit("s", "time", "min", low=Decimal(5))
    >>> judge_hot_water([hot], Measured(Decimal(171), "°F"), Measured(Decimal(5), "min"), True).outcome.value
    'met'
    """
    # A row without a lowest temperature and a least time asks for nothing.
    asking = [row for row in rows if row[0].low is not None and row[1].low is not None]
    tried = [worst([_judge(temperature, row[0]), _judge(time, row[1])]) for row in asking]
    if not tried:
        return worst(())
    best = max(tried, key=lambda one: (SEVERITY.index(one.outcome), one.margin or 0))
    if at_outlet is True:
        return best
    why = (
        _("The temperature was not measured at the outlet.")
        if at_outlet is False
        else _("It is not recorded whether the temperature was measured at the outlet.")
    )
    return _with_faults(best, [(Outcome.NOT_PROVEN, why)])


def judge_chlorine(
    limits: Sequence[Limit],
    strength: Measured | None,
    contact_time: Measured | None,
    fresh: bool | None,
    all_wet: bool | None,
) -> Judged:
    """Sanitizing with chlorine: strength, contact time, a solution used once, every surface wet and pipes full.

    `limits` bound "strength" [mg/L; the same as ppm by mass in water] and "time" [s or min]; the label governs.
    `strength` at the end of the contact. `fresh`: the solution was not used before; `all_wet`: all surfaces wet for
    the whole time, pipes full; None: not recorded, which is not proven.

    Range: none; without a limit for the strength and one for the time it is not proven.
    Raises: nothing.
    Source: 1 NYCRR 2.18 (farm item 11r): at least 1 min, all surfaces wet, pipes full, solution not used again (text
    consulted in a state mirror); 100 mg/L or as labelled (21 CFR 178.1010, 40 CFR 180.940; from memory).

    >>> rule = [Limit("c", "strength", "mg/L", low=Decimal(100)), Limit("t", "time", "min", low=Decimal(1))]
    >>> judge_chlorine(rule, Measured(Decimal(90), "mg/L"), Measured(Decimal(2), "min"), True, True).outcome.value
    'not met'
    """
    given = {"strength": strength, "time": contact_time}
    judged = [
        worst(_judge(given[name], one) for one in limits if one.quantity == name)
        for name in given
        if any(one.low is not None for one in limits if one.quantity == name)
    ]
    if len(judged) < len(given):  # without a least strength and a least time nothing is shown
        judged.append(worst(()))
    faults = []
    if fresh is not True:
        faults.append(
            (Outcome.NOT_MET, _("The solution had been used before."))
            if fresh is False
            else (Outcome.NOT_PROVEN, _("It is not recorded whether the solution was fresh."))
        )
    if all_wet is not True:
        faults.append(
            (Outcome.NOT_MET, _("Not all surfaces were wet, or pipes not full, for the whole time."))
            if all_wet is False
            else (Outcome.NOT_PROVEN, _("It is not recorded whether all surfaces stayed wet and pipes full."))
        )
    return _with_faults(worst(judged), faults)


def judge_trace(
    low: Limit,
    least: Limit,
    samples: Sequence[tuple[int, Fraction | None]],
    start_ms: int,
    end_ms: int,
    *,
    slowest_ms: int,
    dip_ms: int = 0,
) -> Judged:
    """A step's trace: was it within `low` for `least` on end, between its typed ends `start_ms` and `end_ms` [ms]?

    `low` bounds a temperature, a strength or a flow, from below, above or both. `samples`: (time [ms], value in the
    unit of `low`; None: the sensor failed), of one moment the worst governs. Two samples further apart than
    `slowest_ms` leave a gap, which is never counted as within: where it decides, the step is not proven. Outside for
    `dip_ms` at most is a spike. Ends are typed to the minute: a sample counts that is nearer to them than `slowest_ms`,
    and no more time than the step took.

    Range: none; without a sample, or without a bound and a least time, it is not proven.
    Raises: nothing.
    Source: a recorder in the return line shows temperature and time of each circuit: 7 Pa. Code 59.212(b) (text
    consulted in a state mirror); the longest unbroken time as what counts: common practice, no source.

    >>> low, least = Limit("l", "temperature", "°F", low=Decimal(170)), Limit("t", "time", "min", low=Decimal(5))
    >>> hot = [(at, Fraction(171)) for at in range(0, 300_001, 10_000)]
    >>> judge_trace(low, least, hot, 0, 300_000, slowest_ms=15_000).outcome.value
    'met'
    >>> judge_trace(low, least, hot[:10], 0, 300_000, slowest_ms=15_000).outcome.value
    'not proven'
    """
    if (low.low is None and low.high is None) or least.low is None:
        return worst(())
    wanted = exact(least.low, least.unit, "s") * 1000
    given: dict[int, bool | None] = {}
    for at, value in samples:
        if start_ms - slowest_ms <= at <= end_ms + slowest_ms:
            now, before = None if value is None else _inside(value, low), given.get(at, True)
            given[at] = None if now is None or before is None else now and before
    if not given:
        return not_proven(_("No trace of this time is kept."), low)
    shown, possible = _longest(given, start_ms, end_ms, slowest_ms, dip_ms)
    words = {"low": low.words(), "minutes": plain(Fraction(shown, 60_000), 1)}
    if shown >= wanted:
        return Judged(Outcome.MET, (_("The trace shows %(low)s for %(minutes)s min on end.", **words),), low)
    words["wanted"] = least.words()
    if possible >= wanted:
        sentence = _(
            "The trace shows %(low)s for %(minutes)s min on end (%(wanted)s is asked); its gaps prove nothing.", **words
        )
        return not_proven(sentence, low)
    sentence = _("The trace shows %(low)s for no longer than %(minutes)s min on end; %(wanted)s is asked.", **words)
    return Judged(Outcome.NOT_MET, (sentence,), low)


def _inside(value: Fraction, limit: Limit) -> bool:
    return (limit.low is None or value >= Fraction(limit.low)) and (
        limit.high is None or value <= Fraction(limit.high)
    )


def _longest(
    given: Mapping[int, bool | None], start_ms: int, end_ms: int, slowest_ms: int, dip_ms: int
) -> tuple[int, int]:
    """The longest time [ms] that was within its limit (hot, here) on end: shown, and possible if every gap was so."""
    points: list[tuple[int, bool | None]] = sorted(given.items())
    ends = [] if points[-1][0] >= end_ms else [(end_ms, None)]
    begins = [] if points[0][0] <= start_ms else [(start_ms, None)]
    shown = possible = 0
    hot_since: int | None = None
    last_hot = before_at = min(start_ms, points[0][0])
    could_since: int | None = before_at
    for at, hot in [*begins, *points, *ends]:
        if hot is None or at - before_at > slowest_ms:
            hot_since = None  # a gap
        if hot is False:
            if could_since is not None and at - before_at > slowest_ms:
                possible = max(possible, at - could_since)
            back = next((later for later, is_hot in points if later > at and is_hot), None)
            if back is None or back - last_hot > dip_ms:
                hot_since = could_since = None
        else:
            could_since = before_at if could_since is None and hot is None else could_since
            could_since = at if could_since is None else could_since
            possible = max(possible, at - could_since)
            if hot:
                hot_since = at if hot_since is None else hot_since
                last_hot, shown = at, max(shown, at - hot_since)
        before_at = at
    length = end_ms - start_ms
    return min(shown, length), min(max(shown, possible), length)


def line_velocity_m_s(flow_l_per_h: float, bore_mm: float) -> float:
    """Mean velocity [m/s] in a pipe that runs full, from `flow_l_per_h` [L/h] and inside diameter `bore_mm` [mm].

    Range: flow 0 to 1,000,000 L/h, bore 1 to 1000 mm.
    Raises: OutsideRange.
    Source: by definition, Q/A. What is wanted: at least 1.5 m/s, about 2 (dairy processing handbook, text consulted:
    https://issuhub.com/view/index?id=5697&pageIndex=453); as 5 ft/s, 1.524 m/s, from memory.

    >>> round(line_velocity_m_s(5000, 47.498), 4)
    0.7838
    """
    return _flow_m3_s(flow_l_per_h) / _area_m2(bore_mm)


def flow_for_velocity_l_per_h(velocity_m_s: float, bore_mm: float) -> float:
    """Flow [L/h] that gives a mean velocity `velocity_m_s` [m/s] in a full pipe of inside diameter `bore_mm` [mm].

    Range: velocity 0 to 50 m/s, bore 1 to 1000 mm.
    Raises: OutsideRange.
    Source: by definition, v A.

    >>> round(flow_for_velocity_l_per_h(1.524, 47.498))
    9721
    """
    return within(_("velocity"), velocity_m_s, 0, 50, "m/s") * _area_m2(bore_mm) * 3.6e6


def _flow_m3_s(flow_l_per_h: float) -> float:
    return within(_("flow"), flow_l_per_h, 0, 1_000_000, "L/h") / 3.6e6


def _area_m2(bore_mm: float) -> float:
    return math.pi / 4 * (within(_("bore"), bore_mm, 1, 1000, "mm") / 1000) ** 2


def _judge(measured: Measured | None, limit: Limit) -> Judged:
    if measured is None:
        return not_proven(_("Nothing recorded."), limit)
    if not measured.value.is_finite():
        return not_proven(_("What is recorded is not a number."), limit)
    if measured.value < 0 and measured.unit not in (CELSIUS, FAHRENHEIT):
        return not_proven(_("What is recorded is below zero, which cannot be."), limit)
    if measured.unit in (CELSIUS, FAHRENHEIT) and not 0 <= exact(measured.value, measured.unit, CELSIUS) <= HOTTEST_C:
        return not_proven(_("What is recorded is no temperature of a wash."), limit)
    try:
        return judge_number(measured.value, measured.unit, None, [limit])
    except UnitError:
        words = {"unit": measured.unit or _("no unit"), "limit": limit.words()}
        return not_proven(_("Recorded in %(unit)s, which does not compare with %(limit)s.", **words), limit)


def _with_faults(judged: Judged, faults: Sequence[tuple[Outcome, str]]) -> Judged:
    """The judgement made worse by faults of its circumstances, their reasons first where they decide."""
    if not faults:
        return judged
    outcome = _worst_outcome([judged.outcome, *(one for one, _why in faults)])
    reasons = tuple(why for _one, why in sorted(faults, key=lambda fault: SEVERITY.index(fault[0])))
    if outcome == judged.outcome:
        return replace(judged, reasons=(*judged.reasons, *reasons))
    return replace(judged, outcome=outcome, reasons=(*reasons, *judged.reasons))


def _worst_outcome(outcomes: Iterable[Outcome]) -> Outcome:
    return min(outcomes, key=SEVERITY.index)


def _matched(wanted: Sequence[str], done: Sequence[str]) -> tuple[dict[int, int], list[int], list[int]]:
    """Planned place -> place in the record; the planned places found out of order; what the plan does not have.

    A longest common subsequence keeps as many steps as possible in order, so that one left out does not make the
    others look misplaced.
    """
    longest = [[0] * (len(done) + 1) for _row in range(len(wanted) + 1)]
    for i in range(len(wanted) - 1, -1, -1):
        for j in range(len(done) - 1, -1, -1):
            same = wanted[i] == done[j]
            longest[i][j] = 1 + longest[i + 1][j + 1] if same else max(longest[i + 1][j], longest[i][j + 1])
    pairs: dict[int, int] = {}
    i = j = 0
    while i < len(wanted) and j < len(done):
        if wanted[i] == done[j]:
            pairs[i] = j
            i, j = i + 1, j + 1
        elif longest[i + 1][j] >= longest[i][j + 1]:
            i += 1
        else:
            j += 1
    left = [place for place in range(len(done)) if place not in pairs.values()]
    displaced = []
    for place, name in enumerate(wanted):
        elsewhere = next((one for one in left if done[one] == name), None)
        if place not in pairs and elsewhere is not None:
            pairs[place] = elsewhere
            displaced.append(place)
            left.remove(elsewhere)
    return pairs, displaced, left


def _judge_order(planned: Sequence[PlannedStep], pairs: Mapping[int, int], displaced: Sequence[int]) -> Judged:
    if displaced:
        names = ", ".join(planned[place].name for place in displaced)
        return Judged(Outcome.NOT_MET, (_("Not done at its place in the order: %(names)s.", names=names),))
    if len(pairs) < len(planned) or not planned:
        return not_proven(_("Not every step of the plan is recorded, so the order is not proven."))
    return Judged(Outcome.MET, (_("All steps were done in the order of the plan."),))
