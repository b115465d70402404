"""The pasteurizer runs of a day: each with what happened in it, in order, as its record stands."""

from __future__ import annotations

from datetime import datetime

from records.deviations.models import DeviationCause
from records.ledger.canonical import moment
from records.reports.said import Clock
from records.reports.values import Data
from records.runs.models import OPENED, RunEvent
from records.runs.queries import Run, runs_between
from records.runs.words import details, state_words, what_words


def runs(start: datetime, end: datetime, at: datetime) -> list[Data]:
    """The runs of which anything happened in [start, end), with their state at its end or now. Four queries."""
    found = [one for one in runs_between(start, end) if any(start <= each.happened_at < end for each in one.events)]
    numbers = [row.number for one in found for row in one.events]
    opened = dict(
        DeviationCause.objects.filter(cause_kind=RunEvent.KIND, cause_number__in=numbers).values_list(
            "cause_number", "deviation"
        )
    )
    return [_run(one, start, end, min(end, at), opened) for one in found]


def _run(one: Run, start: datetime, end: datetime, at: datetime, opened: dict[int, int]) -> Data:
    rows = [row for row in one.events if start <= row.happened_at < end]
    return {
        "entry": one.number,
        "place": one.place,
        "place_name": one.first.place_name,
        "set_up": one.first.set_up_name,
        "set_point": one.first.set_point,
        "begun_at": moment(one.first.happened_at),
        "state": one.state_at(at),
        "events": [
            {
                "entry": row.number,
                "what": row.what,
                "at": moment(row.happened_at),
                "details": "" if row.what == OPENED else details(row),
                "product": row.product_name if row.what == OPENED else "",
                "chart": row.chart_number,
                "movement": row.movement,
                "by": row.by_initials,
                "amends": row.amends,
                "amend_reason": row.amend_reason,
                "deviation": opened.get(row.number),
            }
            for row in rows
        ],
    }


def in_words(data: list[Data] | None, clock: Clock) -> list[Data]:
    """The runs of a day's data in words; none for a day written down before runs were."""
    return [
        {
            **one,
            "state_words": state_words(one["state"]),
            "begun": clock.time(one["begun_at"]),
            "events": [
                {**each, "when": clock.time(each["at"]), "what_words": what_words(each["what"])}
                for each in one["events"]
            ],
        }
        for one in data or []
    ]
