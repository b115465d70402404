"""The filling of a day: lines cleared and checked, packaging opened, caught and counted, with what differs."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from records.deviations.models import DeviationCause
from records.labels.keeping import KINDS
from records.labels.models import OfLine, PackagingCounted, PackagingOpened
from records.labels.overview import in_words as entry_words
from records.labels.queries import counts_of, standing
from records.ledger.canonical import moment
from records.reports.said import Clock
from records.reports.values import Data


def filling(start: datetime, end: datetime) -> Data:
    """What was observed on the filling lines in [start, end), in order, and the packaging that nobody counted.

    What an entry says is written in the plant's language. Void entries stay, named as what did not happen.
    """
    rows: list[OfLine] = []
    for model in KINDS:
        rows += list(model._default_manager.filter(observed_at__gte=start, observed_at__lt=end))
    rows.sort(key=lambda one: (one.observed_at, one.number))
    opened = _deviations(one.number for one in rows)
    return {
        "entries": [_entry(one, opened) for one in rows],
        "not_counted": _not_counted([one for one in rows if isinstance(one, PackagingOpened)]),
        "uneven": [one.number for one in rows if isinstance(one, PackagingCounted) and one.difference and not one.void],
    }


def _entry(row: OfLine, opened: dict[int, int]) -> Data:
    what, details, warns = entry_words(row)
    return {
        "entry": row.number,
        "at": moment(row.observed_at),
        "place": row.place,
        "place_name": row.place_name,
        "kind": row.KIND,
        "what": what,
        "details": details,
        "note": row.note,
        "photo": getattr(row, "photo", ""),
        "warns": warns,
        "by": row.by_initials,
        "amends": row.amends,
        "amend_reason": row.amend_reason,
        "void": row.void,
        "deviation": opened.get(row.number),
    }


def _deviations(numbers: Iterable[int]) -> dict[int, int]:
    rows = DeviationCause.objects.filter(cause_number__in=list(numbers))
    return dict(rows.order_by("number").values_list("cause_number", "deviation"))  # the last of each


def _not_counted(rows: list[PackagingOpened]) -> list[str]:
    """Rolls and sleeves of the day that were used and that no count took off the line since."""
    numbers = [one.number for one in rows if one.matches or one.used]
    stands = list(standing(PackagingOpened.objects.filter(number__in=numbers)).order_by("number"))
    counted = counts_of(one.number for one in stands)
    return [f"{one.roll_code} ({one.printed_name})" for one in stands if one.number not in counted]


def in_words(data: Data | None, clock: Clock) -> Data | None:
    """The filling of a day's data in words; None for a day without any, or written down before there was any."""
    if data is None or not data["entries"]:
        return None
    return {**data, "entries": [{**one, "when": clock.time(one["at"])} for one in data["entries"]]}
