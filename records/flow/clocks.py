"""The clocks of vessels and lines: since when each runs, and when it runs out."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING

from django.utils.translation import gettext as _

from plant.process import storage
from plant.process.contents import Condition
from records.flow.choices import vessel_of
from records.flow.history import History
from records.flow.lines import runs_of

if TYPE_CHECKING:
    from records.flow.queries import Contents
    from records.people.plans import InForce

RAW_STORAGE_HOURS = 72


@dataclass(frozen=True, slots=True)
class Clock:
    """One clock: its kind, its words, since when it runs, and when it runs out (None: it only counts)."""

    kind: str  # raw storage, age, emptied, washed, sanitized, run hours, washed daily
    words: str
    since: datetime
    runs_out_at: datetime | None = None
    clause: str = ""

    def is_out(self, moment: datetime) -> bool:
        """Whether it has run out at a moment."""
        return self.runs_out_at is not None and moment >= self.runs_out_at


def clocks_of(one: Contents, history: History, in_force: InForce, moment: datetime) -> list[Clock]:
    """Every clock of a vessel or line that runs at `moment`, the one that runs out first before the others."""
    vessel = vessel_of(in_force, one.vessel)
    if vessel is None:
        return []
    found: list[Clock] = []
    if vessel.storage_class == "raw storage" and one.first_product_at:
        rule = storage.raw_storage_clock(one.first_product_at, moment, RAW_STORAGE_HOURS)
        words = _("raw storage, to be emptied and washed within 72 h; first product")
        found.append(Clock("raw storage", words, one.first_product_at, rule.limit_at, rule.clause))
    if vessel.stage == "raw" and one.holds and one.oldest_at and one.oldest_at != one.first_product_at:
        found.append(Clock("age", _("the oldest milk in it came in"), one.oldest_at))
    if vessel.storage_class == "daily" and one.first_product_at:
        found.append(_daily(one, in_force, moment))
    if one.emptied_at and not one.holds:
        found.append(Clock("emptied", _("emptied, not washed since"), one.emptied_at))
    if vessel.storage_class == "line":
        found += _line(one, history, in_force, moment)
    ready = one.condition in (Condition.CLEAN, Condition.SANITIZED)
    washed = one.washed_at if vessel.holds_product else one.last_wash
    if washed and ready:
        found.append(Clock("washed", _("washed"), washed))
    sanitized = one.sanitized_at if vessel.holds_product else _sanitized_line(one)
    if sanitized and ready:
        valid = timedelta(hours=in_force.plan.settings.sanitized_valid_h)
        words = _("sanitized, for first product within the plan's hours")
        found.append(Clock("sanitized", words, sanitized, sanitized + valid))
    return sorted(found, key=lambda clock: (clock.runs_out_at is None, clock.runs_out_at or clock.since, clock.kind))


def _sanitized_line(one: Contents) -> datetime | None:
    if one.last_sanitized and one.last_wash and one.last_sanitized >= one.last_wash:
        return one.last_sanitized
    return None


def _daily(one: Contents, in_force: InForce, moment: datetime) -> Clock:
    """Other equipment is cleaned at least once each day it is used; a tank that holds milk, once it is empty."""
    assert one.first_product_at is not None
    rule = storage.daily_wash_clock(one.first_product_at, moment, in_force.calendar)
    runs_out = None if one.holds else rule.limit_at
    words = _("to be washed each day of use; first product")
    return Clock("washed daily", words, one.first_product_at, runs_out, rule.clause)


def _line(one: Contents, history: History, in_force: InForce, moment: datetime) -> list[Clock]:
    """Hours run since the last full wash, by the plan's own rule."""
    hours = in_force.plan.settings.run_hours_between_washes
    runs = [(run.started_at, run.ended_at) for run in runs_of(history) if run.subject == one.vessel]
    rule = storage.run_hours_clock(runs, one.last_wash, moment, Decimal(hours))
    ran = timedelta(hours=hours) - rule.left
    if not ran:
        return []
    # Past its hours and standing still, it ran out when it stopped at the latest: say so by a moment gone by.
    runs_out = rule.limit_at or (moment if rule.left <= timedelta(0) else None)
    words = _("run %(ran)s h of %(allowed)d h since its last full wash") % {
        "ran": round(ran.total_seconds() / 3600, 1),
        "allowed": hours,
    }
    return [Clock("run hours", words, one.last_wash or min(at for at, _end in runs), runs_out)]
