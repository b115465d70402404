"""What every part of a day's data is made with."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from records.ledger.canonical import moment
from records.ledger.models import Record

Data = dict[str, Any]


def by_of(one: Record) -> Data:
    """Who made a record, when it was so and when it was received, with its entry."""
    return {
        "entry": one.number,
        "observed_at": moment(one.observed_at),
        "received_at": moment(one.received_at),
        "by": one.by_name,
        "initials": one.by_initials,
        "role": one.by_role,
    }


def within(kind: type[Any], start: datetime, end: datetime) -> list[Any]:
    """The records of a kind observed in [start, end), in order of time."""
    return list(kind.objects.filter(observed_at__gte=start, observed_at__lt=end).order_by("observed_at", "number"))
