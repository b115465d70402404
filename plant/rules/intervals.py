"""When a test of record counts no more, and when a regulator has to be told: days and hours from the rule set's rows.

No Django here. The stricter day decides; what a rule allows beyond it is shown beside it.
"""

from __future__ import annotations

import calendar
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from plant.process.pasteurization import last_valid_day
from plant.rules import Rule, rule_set

INSTRUMENTS, HOLDING = "test-instruments", "test-holding-time"
TOLD_HOURS, TOLD_AT_ONCE, SEALS = "seal-broken-wi", "seal-broken", "seals"
# Rows that let a test run through the end of the month due: La. 51 VII-313 says so of the instruments (text consulted).
THROUGH_MONTH = frozenset({INSTRUMENTS})
# Months where the rule set has no such row: what the US rows ask.
MONTHS = {INSTRUMENTS: 3, HOLDING: 6}
# ATCP 65.68(6)(a), text consulted: the written notice follows within so many business days.
FORM_BUSINESS_DAYS = 5
WORKING_DAYS = 5  # Monday to Friday


@dataclass(frozen=True, slots=True)
class CountsUntil:
    """The last day on which a test counts: `strict` decides. `month_end`, where the rule lets it run so long."""

    strict: date
    month_end: date | None
    months: int
    rule: Rule | None


@dataclass(frozen=True, slots=True)
class ToTell:
    """What one rule asks after a broken seal: tell by `told_by` (None: at once), in writing by `form_by` (None: no)."""

    rule: Rule
    told_by: datetime | None
    form_by: date | None


def rule_of(key: str, row: str) -> Rule | None:
    """A row of a rule set, or None where the set or the row is not there."""
    try:
        return rule_set(key).rows.get(row)
    except KeyError:
        return None


def counts_until(key: str, row: str, tested_on: date) -> CountsUntil:
    """How long a test made on a day counts by a rule set's row; KeyError for a row that has no months anywhere.

    >>> counts_until("us", INSTRUMENTS, date(2026, 1, 15)).strict.isoformat()
    '2026-04-15'
    """
    rule = rule_of(key, row)
    months = rule.months if rule is not None and rule.months else MONTHS[row]
    strict = last_valid_day(tested_on, months)
    last = calendar.monthrange(strict.year, strict.month)[1]
    return CountsUntil(strict, strict.replace(day=last) if row in THROUGH_MONTH else None, months, rule)


def business_day_after(day: date, count: int) -> date:
    """The day `count` business days after another, Monday to Friday: a regulator's holidays are not known here."""
    found = day
    while count > 0:
        found += timedelta(days=1)
        count -= found.weekday() < WORKING_DAYS
    return found


def to_tell(key: str, at: datetime, local_day: date) -> list[ToTell]:
    """What a rule set's rows ask after a seal was broken or found so at `at`, on the plant's day `local_day`."""
    found = []
    hours = rule_of(key, TOLD_HOURS)
    if hours is not None and hours.unit == "h":
        by = at + timedelta(hours=float(hours.high))
        found.append(ToTell(hours, by, business_day_after(local_day, FORM_BUSINESS_DAYS)))
    at_once = rule_of(key, TOLD_AT_ONCE)
    if at_once is not None:
        found.append(ToTell(at_once, None, None))
    return found
