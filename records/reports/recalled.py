"""What left the plant on a day, and what was done of a recall or its rehearsal."""

from __future__ import annotations

from datetime import datetime

from plant.process.units import plain
from records.deviations.models import DeviationCause
from records.ledger.canonical import moment
from records.recall.models import Dispatch, RecallBegun, RecallEnded, RecallStep
from records.recall.words import step_words
from records.reports.said import Clock
from records.reports.values import Data, by_of, within


def dispatched(start: datetime, end: datetime) -> list[Data]:
    """Every dispatch of [start, end), amended and void ones too, with the deviation that it led to."""
    rows: list[Dispatch] = within(Dispatch, start, end)
    numbers = [one.number for one in rows]
    opened = dict(DeviationCause.objects.filter(cause_number__in=numbers).values_list("cause_number", "deviation"))
    later = set(Dispatch.objects.filter(amends__in=numbers).values_list("amends", flat=True))
    return [
        {
            **by_of(one),
            "code": one.code,
            "product": one.product_name,
            "to": one.consignee,
            "address": one.address,
            "carrier": one.carrier,
            "quantity": one.quantity_typed,
            "unit": one.unit,
            "struck": one.void or one.number in later,
            "amends": one.amends,
            "amend_reason": one.amend_reason,
            "deviation": opened.get(one.number),
        }
        for one in rows
    ]


def recalls(start: datetime, end: datetime) -> list[Data]:
    """Each recall or rehearsal of which anything was done in [start, end)."""
    begun: list[RecallBegun] = within(RecallBegun, start, end)
    steps: list[RecallStep] = within(RecallStep, start, end)
    ended: list[RecallEnded] = within(RecallEnded, start, end)
    numbers = {*(one.number for one in begun), *(one.recall for one in steps), *(one.recall for one in ended)}
    later = set(RecallStep.objects.filter(amends__in=[one.number for one in steps]).values_list("amends", flat=True))
    return [
        _recall(one, [row for row in steps if row.recall == one.number], ended, later)
        for one in RecallBegun.objects.filter(number__in=numbers).order_by("number")
    ]


def _recall(one: RecallBegun, steps: list[RecallStep], ended: list[RecallEnded], later: set[int | None]) -> Data:
    end = next((row for row in ended if row.recall == one.number), None)
    return {
        **by_of(one),
        "mock": one.mock,
        "from": one.origin_words,
        "reason": one.reason,
        "steps": [
            {
                **by_of(row),
                "at": moment(row.happened_at),
                "what": row.what,
                "who": row.consignee,
                "code": row.code,
                "quantity": row.quantity_typed,
                "unit": row.unit,
                "words": row.words,
                "struck": row.void or row.number in later,
            }
            for row in steps
        ],
        "ended": None
        if end is None
        else {
            **by_of(end),
            "minutes": end.minutes,
            "percent": "" if end.percent is None else plain(end.percent, 2),
            "outcome": end.outcome,
            "missing": list(end.missing),
        },
    }


def dispatched_in_words(data: list[Data] | None, clock: Clock) -> list[Data]:
    """With times on the plant's clocks; none for a day written down before there were any."""
    return [{**one, "at": clock.time(one["observed_at"])} for one in data or []]


def recalls_in_words(data: list[Data] | None, clock: Clock) -> list[Data]:
    """The same for recalls."""
    return [
        {
            **one,
            "begun": clock.time(one["observed_at"]),
            "steps": [
                {**row, "when": clock.time(row["at"]), "what_words": step_words(row["what"])} for row in one["steps"]
            ],
            "ended_when": clock.time(one["ended"]["observed_at"]) if one["ended"] else "",
        }
        for one in data or []
    ]
