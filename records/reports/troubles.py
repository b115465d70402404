"""Corrections, deviations, holds and what became of them, as plain values: a few queries, however many there are."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from records.deviations import queries as deviations
from records.deviations.models import (
    Correction,
    CorrectiveAction,
    Deviation,
    DeviationCause,
    DeviationClosing,
    Disposition,
    Hold,
    HoldLift,
)
from records.ledger.canonical import moment
from records.reports.values import Data, by_of, within


def corrections(start: datetime, end: datetime) -> list[Data]:
    """Minor matters put right that day."""
    return correction_rows(within(Correction, start, end))


def correction_rows(rows: Iterable[Correction]) -> list[Data]:
    """These corrections."""
    return [{"where": one.subject_name, "text": one.text, "about": one.subject_number, **by_of(one)} for one in rows]


def of_the_day(start: datetime, end: datetime) -> list[Deviation]:
    """Those observed in the day, and earlier ones that were still open when it began."""
    inside = list(Deviation.objects.filter(observed_at__gte=start, observed_at__lt=end).order_by("number"))
    before = [one for one in deviations.open_deviations(start) if one.observed_at < start]
    return [*before, *inside]


def deviation_rows(opened: list[Deviation]) -> list[Data]:
    """Deviations with their causes, the parts written, what is missing, and the closing."""
    numbers = [one.number for one in opened]
    closings = {one.deviation: one for one in DeviationClosing.objects.filter(deviation__in=numbers)}
    causes = deviations.causes_of(numbers)
    parts = _grouped(CorrectiveAction.objects.filter(deviation__in=numbers).order_by("number"), "deviation")
    held = _grouped(deviations.open_holds().filter(deviation__in=numbers), "deviation")
    return [
        _deviation(one, causes.get(one.number, []), parts[one.number], held[one.number], closings.get(one.number))
        for one in opened
    ]


def _deviation(
    one: Deviation,
    causes: list[DeviationCause],
    parts: list[CorrectiveAction],
    held: list[Hold],
    closing: DeviationClosing | None,
) -> Data:
    words = deviations.parts_wanted(one)
    written = {each.part for each in parts}
    absent = [asks for key, asks in words.items() if key not in written]
    absent += [_("a disposition with two signatures for %(lot)s") % {"lot": each.lot_label} for each in held]
    return {
        "number": one.number,
        "where": one.subject_name,
        "subject": one.subject,
        "control_point": one.control_point_name,
        "control_point_key": one.control_point,
        "ccp": one.is_ccp,
        "cause": one.cause,
        "weight": one.weight,
        "since_at": moment(one.since_at),
        "sentence": one.sentence,
        "plan": one.plan_number,
        "causes": [
            {
                "kind": each.cause_kind,
                "entry": each.cause_number,
                "sentence": each.sentence,
                "observed_at": moment(each.observed_at),
            }
            for each in causes
        ],
        "parts": [
            {"part": each.part, "asks": _asks(each.part), "text": each.text, **by_of(each)}
            for each in sorted(parts, key=lambda row: (_place(row.part), row.number))
        ],
        "missing": [] if closing else absent,
        "closing": {"text": closing.text, **by_of(closing)} if closing else None,
        **by_of(one),
    }


def _asks(part: str) -> str:
    """What a part asks, in words; one that may be written without being wanted too."""
    return str(deviations.ALL_PARTS.get(part, part))


def _place(part: str) -> int:
    order = list(deviations.ALL_PARTS)
    return order.index(part) if part in order else len(order)


def _grouped(rows: Iterable[Any], name: str) -> dict[int, list[Any]]:
    found: dict[int, list[Any]] = defaultdict(list)
    for one in rows:
        found[getattr(one, name)].append(one)
    return found


def holds(start: datetime, end: datetime, opened: list[Deviation]) -> list[Data]:
    """Holds placed that day, and those of its deviations, each with its dispositions and the lift."""
    numbers = [one.number for one in opened]
    rows = Hold.objects.filter(observed_at__gte=start, observed_at__lt=end) | Hold.objects.filter(deviation__in=numbers)
    return hold_rows(list(rows.distinct().order_by("number")))


def hold_rows(found: list[Hold]) -> list[Data]:
    """These holds, each with its dispositions and the lift. Two statements."""
    keys = [one.number for one in found]
    proposed = _grouped(Disposition.objects.filter(hold__in=keys).order_by("number"), "hold")
    lifts = {one.hold: one for one in HoldLift.objects.filter(hold__in=keys)}
    return [_hold(one, proposed[one.number], lifts.get(one.number)) for one in found]


def _hold(one: Hold, proposed: list[Disposition], lift: HoldLift | None) -> Data:
    return {
        "number": one.number,
        "lot": one.lot_label,
        "lot_id": str(one.lot),
        "vessel": one.vessel,
        "since_at": moment(one.since_at),
        "reason": one.reason,
        "deviation": one.deviation,
        "bars_release": one.bars_release,
        "dispositions": [
            {"what": each.what, "reason": each.reason, "letter": each.letter, "number": each.number, **by_of(each)}
            for each in proposed
        ],
        "lifted": {"disposition": lift.disposition, **by_of(lift)} if lift else None,
        **by_of(one),
    }
