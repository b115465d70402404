"""Is the plan laxer than its rule set? In limit, in direction, in frequency. Pure.

A row whose wording was read refuses a laxer plan. Any other basis (mirror, twin, secondary, memory, computed) warns,
says so, and needs the qualified individual's confirmation with a reason, kept in the plan's confirmations.
"""

from __future__ import annotations

import calendar as months
from datetime import date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction

from plant.hazard_plan.check_limits import PLANT_RULE, numbers_of
from plant.hazard_plan.content import FrequencyDef, LimitDef, Plan
from plant.hazard_plan.problem import Findings
from plant.process.plant_calendar import parse_rule
from plant.process.units import UnitError, exact, exact_difference
from plant.rules import Rule, keys, rule_set

TIME_UNITS = ("s", "min", "h")
# Quantities that are differences: 1 °C of them is 1.8 °F, without the 32.
_DIFFERENCES = ("minus", "raise", "accuracy", "spread", "drop", "difference")
_AT_A_RUN = ("before_use", "during_run", "run_ends")


def check_rules(plan: Plan, found: Findings) -> None:
    """Compare every limit that names a row with it, and the checks that use it."""
    if plan.plant.rule_set not in keys():
        return
    rows = rule_set(plan.plant.rule_set).rows
    confirmed = {one.get("limit", "") for one in plan.confirmations if one.get("reason", "").strip()}
    for at, limit in enumerate(plan.limits):
        path = f"limits[{at}]"
        if not limit.rule:
            if limit.basis != PLANT_RULE:
                found.warn(path, f"{limit.key} says {limit.basis!r} and names no row of the rule set")
            continue
        if limit.rule not in rows:
            found.refuse(f"{path}.rule", f"{limit.rule!r} is no row of the rule set {plan.plant.rule_set}")
            continue
        row = rows[limit.rule]
        if limit.basis != row.basis:
            found.refuse(f"{path}.basis", f"the row {row.id} stands on {row.basis!r}, not {limit.basis!r}")
        for sentence in (laxer_limit(limit, row), laxer_frequency(plan, limit, row)):
            if sentence:
                _say(limit, row, sentence, path, confirmed, found)


def _say(limit: LimitDef, row: Rule, sentence: str, path: str, confirmed: set[str], found: Findings) -> None:
    said = f"{limit.key} is laxer than {row.clause} ({row.id}): {sentence}"
    if row.was_read:
        found.refuse(path, said)
    elif limit.key in confirmed:
        found.warn(path, f"{said} That row stands on {row.basis!r}; the plan confirms it with a reason.")
    else:
        found.ask(
            path,
            f"{said} That row stands on {row.basis!r}, not on its own wording: the qualified individual must "
            "confirm this with a reason.",
            limit.key,
        )


def laxer_limit(limit: LimitDef, row: Rule) -> str:
    """Why a limit is laxer than its row, or an empty text."""
    bounds = numbers_of(limit)
    try:
        if limit.unit in TIME_UNITS and row.unit not in TIME_UNITS and (row.seconds or row.minutes):
            return _laxer_hold(bounds, limit.unit, row)
        return _laxer_bounds(bounds, limit, row)
    except UnitError:
        return f"it is in {limit.unit}, the row in {row.unit}; they cannot be compared."


def _laxer_hold(bounds: dict[str, Decimal], unit: str, row: Rule) -> str:
    wanted = exact(Decimal(row.seconds), "s", unit) if row.seconds else exact(Decimal(row.minutes), "min", unit)
    said = f"{row.seconds} s" if row.seconds else f"{row.minutes} min"
    if "low" not in bounds:
        return f"it sets no shortest time; the row asks for {said}."
    return f"{bounds['low']} {unit} is less than {said}." if Fraction(bounds["low"]) < wanted else ""


def _laxer_bounds(bounds: dict[str, Decimal], limit: LimitDef, row: Rule) -> str:
    if not row.low and not row.high:
        return "" if bounds or limit.wanted else "it bounds nothing."
    if not bounds:
        return "it wants an answer in words where the row names a number."
    for name, other in (("low", "high"), ("high", "low")):
        asked = getattr(row, name)
        if not asked:
            continue
        words = "or above" if name == "low" else "or below"
        if name not in bounds:
            turned = other in bounds and not getattr(row, other)
            start = "it bounds the wrong side;" if turned else f"it has no {name} bound;"
            return f"{start} the row asks for {asked} {row.unit} {words}."
        mine = _in_unit(bounds[name], limit, row)
        if mine < Fraction(asked) if name == "low" else mine > Fraction(asked):
            return f"{bounds[name]} {limit.unit} where the row asks for {asked} {row.unit} {words}."
    return ""


def _in_unit(value: Decimal, limit: LimitDef, row: Rule) -> Fraction:
    """In the governing unit, exactly: 71.7 °C is 161.06 °F and meets 161 °F."""
    difference = any(word in row.quantity for word in _DIFFERENCES)
    return (exact_difference if difference else exact)(value, limit.unit, row.unit)


def laxer_cooling(plan: Plan, limit: LimitDef, minutes: int, path: str, found: Findings) -> None:
    """Say so where a plan gives more time to cool than the limit's row does; a row without a time gives none."""
    row = rule_set(plan.plant.rule_set).rows.get(limit.rule) if plan.plant.rule_set in keys() else None
    if row is None or (row.hours and minutes <= Decimal(row.hours) * 60):
        return
    asked = f"within {row.hours} h" if row.hours else "at once"
    confirmed = {one.get("limit", "") for one in plan.confirmations if one.get("reason", "").strip()}
    sentence = f"it may take {minutes} min where the row asks for it {asked}."
    _say(limit, row, sentence, f"{path}.cool_min", confirmed, found)


def laxer_frequency(plan: Plan, limit: LimitDef, row: Rule) -> str:
    """Why no check on this limit is done as often as its row asks, or an empty text."""
    if not row.months and not row.each:
        return ""
    mine = [one.frequency for one in plan.monitoring if limit.key in one.limits]
    if not mine or any(_often_enough(one, row) for one in mine):
        return ""
    asked = f"at least every {row.months} months" if row.months else f"at each {row.each}"
    return f"no check on it is done {asked}."


def _often_enough(one: FrequencyDef, row: Rule) -> bool:
    if row.months:
        return (
            _within_months(one, row.months)
            if one.kind == "calendar"
            else one.kind
            not in (
                "each_event",
                "after_event",
            )
        )
    if row.each == "run":
        return one.kind in _AT_A_RUN
    if row.each == "day":
        return one.kind in (*_AT_A_RUN, "each_shift", "while_holding") or "FREQ=DAILY" in one.rule.upper()
    return one.kind in ("each_event", "after_event") and one.event == row.each


def _within_months(one: FrequencyDef, count: int) -> bool:
    """Whether each date follows the one before within so many months, through the end of the month due."""
    try:
        start = datetime.fromisoformat(one.start)
        rule = parse_rule(one.rule, start)
    except ValueError:
        return True  # said elsewhere
    dates = [at.date() for at in rule.between(start, start + timedelta(days=31 * count * 4), inc=True)]
    if len(dates) < 2:
        return False
    return all(after <= _month_end(before, count) for before, after in zip(dates, dates[1:], strict=False))


def _month_end(day: date, count: int) -> date:
    year, month = divmod(day.year * 12 + day.month - 1 + count, 12)
    return date(year, month + 1, months.monthrange(year, month + 1)[1])
