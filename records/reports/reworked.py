"""Rework of a day: set aside, used, thrown away, and what was kept at its end: as plain values."""

from __future__ import annotations

from datetime import datetime

from records.deviations.models import DeviationCause
from records.ledger.canonical import moment
from records.people.plans import InForce
from records.reports.said import Clock
from records.reports.values import Data, by_of
from records.rework.pages import amount_words, took_words
from records.rework.state import Portion, is_thrown_away, portions


def rework(start: datetime, end: datetime, at: datetime, in_force: InForce) -> list[Data]:
    """The portions set aside in [start, end), and those of which any was used or thrown away then. Five queries."""
    by = min(end, at)
    found = [
        one
        for one in portions(by, in_force)
        if start <= one.row.happened_at < end or any(start <= each.started_at < end for each in one.out)
    ]
    numbers = [each.number for one in found for each in one.out]
    causes = DeviationCause.objects.filter(cause_number__in=numbers)
    opened = dict(causes.values_list("cause_number", "deviation")) if numbers else {}
    return [_portion(one, start, end, by, opened, in_force) for one in found]


def _portion(
    one: Portion, start: datetime, end: datetime, by: datetime, opened: dict[int, int], in_force: InForce
) -> Data:
    row, until = one.row, one.until(in_force)
    kept = one.emptied_at is None or one.emptied_at > by
    return {
        "portion": one.number,
        "name": in_force.names.get(one.code, one.code),
        "entry": row.number,
        "run": row.run,
        "lot": str(one.lot or ""),
        "product": row.product_name,
        "amount": amount_words(one),
        "tubs": row.tubs,
        "quantity": row.amount_typed,
        "unit": row.unit,
        "allergens": row.allergens,
        "set_aside_at": moment(row.happened_at),
        "this_day": start <= row.happened_at < end,
        "use_within_h": row.use_within_h,
        "until": moment(until),
        "kept": kept,
        "past": kept and by > until,
        **by_of(row),
        "took": [
            {
                "movement": each.number,
                "at": moment(each.started_at),
                "thrown_away": is_thrown_away(each),
                "to": each.target_name,
                "to_code": each.target,
                "product": each.product_name,
                "quantity": each.quantity_typed,
                "unit": each.unit,
                "note": each.note,
                "words": took_words(each),
                "deviation": opened.get(each.number),
                **by_of(each),
            }
            for each in one.out
            if start <= each.started_at < end
        ],
    }


def in_words(data: list[Data] | None, clock: Clock) -> list[Data]:
    """The rework of a day's data in words; none for a day written down before it was."""
    return [
        {
            **one,
            "when": clock.time(one["set_aside_at"]),
            "by_when": clock.time(one["until"]),
            "took": [{**each, "when": clock.time(each["at"])} for each in one["took"]],
        }
        for one in data or []
    ]
