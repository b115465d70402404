"""Template tags and filters of every page."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from django import template

register = template.Library()


@register.filter
def clock_at(moment: datetime | None, zone: str = "") -> str:
    """A time of day in the plant's zone: 17:05."""
    return "" if moment is None else _local(moment, zone).strftime("%H:%M")


@register.filter
def day_and_clock(moment: datetime | None, zone: str = "") -> str:
    """A date and time in the plant's zone: 2026-03-03 17:05."""
    return "" if moment is None else _local(moment, zone).strftime("%Y-%m-%d %H:%M")


def _local(moment: datetime, zone: str) -> datetime:
    return moment.astimezone(ZoneInfo(zone)) if zone else moment
