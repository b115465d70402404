"""What was looked at against foreign matter that day, as plain values."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from records.deviations.models import DeviationCause
from records.foreign_matter import queries
from records.foreign_matter.models import Look
from records.ledger.canonical import moment
from records.reports.values import Data, by_of, within


def looks(start: datetime, end: datetime) -> list[Data]:
    """The day's looks of all kinds in order of time, with the deviation each led to; amended ones are struck."""
    rows: list[Look] = [one for kind in queries.KINDS for one in within(kind, start, end)]
    rows.sort(key=lambda one: (one.observed_at, one.number))
    if not rows:
        return []
    amended = queries.amended_of(rows)
    causes = DeviationCause.objects.filter(cause_number__in=[one.number for one in rows if not one.good])
    led = {one.cause_number: one.deviation for one in causes}
    return [_look(one, one.number in amended, led.get(one.number)) for one in rows]


def _look(one: Look, struck: bool, deviation: int | None) -> Data:
    return {
        "kind": one.KIND,
        "where": one.place_name,
        "place": one.place,
        "words": one.words,
        "good": one.good,
        "suspect_since": moment(one.suspect_since) if one.suspect_since else "",
        "reading": one.reading,
        "photo": one.photo,
        "note": one.note,
        "amends": one.amends,
        "amend_reason": one.amend_reason,
        "void": one.void,
        "struck": struck,
        "deviation": deviation,
        **by_of(one),
    }


def in_words(rows: list[Data] | None, clock: Any) -> list[Data]:
    """The same with its times on the plant's clocks; a sheet from before there were any has none."""
    return [
        {
            **one,
            "at": clock.time(one["observed_at"]),
            "since": clock.time(one["suspect_since"]) if one["suspect_since"] else "",
        }
        for one in rows or ()
    ]
