"""The trainings that were recorded that day, as plain values. Each has its own day, which may be long past."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from records.reports.values import Data, by_of, within
from records.training.models import Training
from records.training.words import proven_words


def trainings(start: datetime, end: datetime) -> list[Data]:
    """Those recorded in [start, end), in order; amended ones are struck. Two queries."""
    rows: list[Training] = within(Training, start, end)
    later = Training.objects.filter(amends__in=[one.number for one in rows])
    amended = set(later.values_list("amends", flat=True)) if rows else set()
    return [_training(one, one.number in amended) for one in rows]


def _training(one: Training, struck: bool) -> Data:
    return {
        "training": one.training,
        "topic": one.topic,
        "people": [{"name": each["name"], "initials": each["initials"]} for each in one.people],
        "trained_on": one.trained_on.isoformat(),
        "trainer": one.trainer,
        "proven": one.proven,
        "ends_on": one.ends_on.isoformat() if one.ends_on else "",
        "certificate": one.certificate,
        "note": one.note,
        "amends": one.amends,
        "amend_reason": one.amend_reason,
        "void": one.void,
        "struck": struck,
        **by_of(one),
    }


def in_words(rows: list[Data] | None, clock: Any) -> list[Data]:
    """The same in words; a sheet from before there were any has none."""
    return [
        {
            **one,
            "at": clock.time(one["observed_at"]),
            "who": ", ".join(f"{each['name']} ({each['initials']})" for each in one["people"]),
            "how": proven_words(one["proven"]),
        }
        for one in rows or ()
    ]
