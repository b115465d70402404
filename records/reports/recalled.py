"""What left the plant on a day and what came back, and what was done of a recall or its rehearsal."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.utils.translation import gettext as _

from plant.process.units import plain
from records.deviations.models import DeviationCause
from records.deviations.words import in_words as deviation_words
from records.ledger.canonical import moment
from records.recall import linked
from records.recall.models import GROWN, Dispatch, ProductReturned, RecallBegun, RecallEnded, RecallStep
from records.recall.returned import HeldAs, held_as
from records.recall.words import step_words
from records.reports.said import Clock
from records.reports.values import Data, by_of, within


def dispatched(start: datetime, end: datetime) -> list[Data]:
    """Every dispatch of [start, end), amended and void ones too, with the deviation that it led to."""
    return dispatch_rows(within(Dispatch, start, end))


def dispatch_rows(rows: list[Dispatch]) -> list[Data]:
    """These dispatches, each with its deviation. Two statements."""
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
            "phone": one.phone,
            "email": one.email or "",
            "carrier": one.carrier,
            "packed_as": one.packed_as or "",
            "quantity": one.quantity_typed,
            "unit": one.unit,
            "struck": one.void or one.number in later,
            "amends": one.amends,
            "amend_reason": one.amend_reason,
            "deviation": opened.get(one.number),
        }
        for one in rows
    ]


def came_back(start: datetime, end: datetime) -> list[Data]:
    """Every return of [start, end), amended and void ones too: its recall, its holds, and what became of them."""
    return return_rows(within(ProductReturned, start, end))


def return_rows(rows: list[ProductReturned]) -> list[Data]:
    """These returns, each with what became of it. Five statements, however many."""
    parts = {one.part for one in rows}
    later = set(
        ProductReturned.objects.filter(amends__in=[one.number for one in rows]).values_list("amends", flat=True)
    )
    holds, steps = held_as(parts), linked.steps_of(parts)
    return [
        {
            **by_of(one),
            "code": one.code,
            "product": one.product_name,
            "from": one.consignee,
            "quantity": one.quantity_typed,
            "unit": one.unit,
            "temperature": one.temperature_typed,
            "temperature_unit": one.temperature_unit,
            "condition": one.condition,
            "reason": one.reason,
            "kept_where": one.kept_where,
            "note": one.note,
            "recall": steps[one.part].recall if one.part in steps else None,
            "holds": [_held(each) for each in holds.get(one.part, [])],
            "struck": one.void or one.number in later,
            "void": one.void,
            "amends": one.amends,
            "amend_reason": one.amend_reason,
        }
        for one in rows
    ]


def _held(one: HeldAs) -> Data:
    ended = None
    if one.ended is not None:
        lift, disposition = one.ended
        ended = {
            "what": disposition.what, "reason": disposition.reason, **by_of(disposition), "second": by_of(lift),
        }  # fmt: skip
    return {"number": one.hold.number, "bars_release": one.hold.bars_release, "ended": ended}


def recalls(start: datetime, end: datetime) -> list[Data]:
    """Each recall or rehearsal of which anything was done in [start, end)."""
    begun: list[RecallBegun] = within(RecallBegun, start, end)
    steps: list[RecallStep] = within(RecallStep, start, end)
    ended: list[RecallEnded] = within(RecallEnded, start, end)
    numbers = {*(one.number for one in begun), *(one.recall for one in steps), *(one.recall for one in ended)}
    return _recalls(numbers, steps, ended)


def recalls_of(lot: UUID) -> list[Data]:
    """Each recall or rehearsal that has this lot in its scope as begun or grown, with all that was done in it."""
    begun = RecallBegun.objects.filter(lots__icontains=str(lot)).values_list("number", flat=True)
    grown = RecallStep.objects.filter(what=GROWN, lots__icontains=str(lot)).values_list("recall", flat=True)
    numbers = {*begun, *grown}
    steps = list(RecallStep.objects.filter(recall__in=numbers).order_by("happened_at", "number"))
    return _recalls(numbers, steps, list(RecallEnded.objects.filter(recall__in=numbers)))


def _recalls(numbers: set[int], steps: list[RecallStep], ended: list[RecallEnded]) -> list[Data]:
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


def came_back_in_words(data: list[Data] | None, clock: Clock) -> list[Data]:
    """The same for what came back; what became of it in one line for each hold."""
    return [
        {
            **one,
            "at": clock.time(one["observed_at"]),
            "received": clock.received(one),
            "fates": [_fate(each, clock) for each in one["holds"]],
        }
        for one in data or []
    ]


def _fate(hold: Data, clock: Clock) -> str:
    ended = hold["ended"]
    if ended is None:
        return _("hold %(number)s: still on hold") % {"number": hold["number"]}
    return _("hold %(number)s: %(what)s. %(why)s (%(who)s; second signature: %(second)s)") % {
        "number": hold["number"], "what": deviation_words(ended["what"]), "why": ended["reason"],
        "who": clock.signed(ended), "second": clock.signed(ended["second"]),
    }  # fmt: skip


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
