"""Which instruments have traces, of which days, and the samples around a window."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Max, Min, Q, Sum

from plant.process.plant_calendar import PlantCalendar
from plant.process.trace_blocks import Samples
from records.traces.blocks import HOUR
from records.traces.models import TraceBlock
from records.traces.sources import samples_of
from records.traces.windows import Window

DAYS_LISTED = timedelta(days=35)
MOST_SAMPLES = 4_000_000  # of one picture: a month at one a second, with room


class TooManySamples(ValueError):
    """A window holds more samples than one picture is made of."""


@dataclass(frozen=True, slots=True)
class Recorded:
    """An instrument that has traces. `first` and `last`: the first and the last hour (UTC) that has samples of it."""

    instrument: str
    name: str
    unit: str
    first: datetime
    last: datetime

    @property
    def label(self) -> str:
        return f"{self.instrument} {self.name}".strip()


@dataclass(frozen=True, slots=True)
class Listed:
    """An instrument on the list, with the plant days of its last weeks that have samples, newest first."""

    recorded: Recorded
    days: tuple[date, ...]


def instrument(code: str) -> Recorded | None:
    """What is recorded of an instrument; None where nothing is. Two queries."""
    found = TraceBlock.objects.filter(instrument=code)
    last = found.order_by("-hour", "-part").values_list("instrument_name", "unit", "hour").first()
    if last is None:
        return None
    first = found.aggregate(first=Min("hour"))["first"]
    return Recorded(code, last[0], last[1], first, last[2])


def instruments(calendar: PlantCalendar) -> list[Listed]:
    """Every instrument that has traces, by its code. Three queries, two of them of the index alone."""
    spans = {
        one["instrument"]: (one["first"], one["last"])
        for one in TraceBlock.objects.order_by("instrument")
        .values("instrument")
        .annotate(first=Min("hour"), last=Max("hour"))
    }
    if not spans:
        return []
    newest = Q(pk__in=())
    for code, (_first, last) in spans.items():
        newest |= Q(instrument=code, hour=last, part=0)
    named = {
        code: (name, unit)
        for code, name, unit in TraceBlock.objects.filter(newest).values_list("instrument", "instrument_name", "unit")
    }
    days = _days(calendar, {code: last for code, (_first, last) in spans.items()})
    return [
        Listed(Recorded(code, *named.get(code, ("", "")), first, last), days.get(code, ()))
        for code, (first, last) in spans.items()
    ]


def _days(calendar: PlantCalendar, last: dict[str, datetime]) -> dict[str, tuple[date, ...]]:
    """The plant days of each instrument's own last weeks. A day's first minutes may belong to the hour before it: the
    hour's end tells as much as its beginning.
    """
    since = max(last.values()) - DAYS_LISTED
    rows = (
        TraceBlock.objects.filter(instrument__in=last, hour__gte=since)
        .order_by("instrument", "hour")
        .values_list("instrument", "hour")
        .distinct()
    )
    found: dict[str, set[date]] = {}
    known: dict[datetime, date] = {}
    for code, hour in rows:
        if hour not in known:
            known[hour] = calendar.plant_day(hour + HOUR / 2)
        found.setdefault(code, set()).add(known[hour])
    return {code: tuple(sorted(days, reverse=True)) for code, days in found.items()}


def names_of(codes: Iterable[str]) -> dict[str, tuple[str, str]]:
    """The name and the unit of the newest block of each instrument that has one. A query for each."""
    found = {}
    for code in codes:
        newest = TraceBlock.objects.filter(instrument=code).order_by("-hour", "-part")
        one = newest.values_list("instrument_name", "unit").first()
        if one is not None:
            found[code] = one
    return found


def around(code: str, window: Window) -> tuple[Samples, Samples]:
    """The samples of a window and an hour more on both sides, so that a line runs on to the edges, and those that
    contradict them. Raises TooManySamples before it reads any.
    """
    return around_many([code], window)[code]


def around_many(codes: Sequence[str], window: Window) -> dict[str, tuple[Samples, Samples]]:
    """`around` for each of several instruments, with the queries of one. Raises TooManySamples for any."""
    start, end = window.start - HOUR, window.end + HOUR
    held = TraceBlock.objects.filter(instrument__in=codes, hour__gte=start - HOUR, hour__lt=end, last_at__gte=start)
    counted = held.order_by("instrument").values("instrument").annotate(of_one=Sum("samples"))
    if any(samples > MOST_SAMPLES for _code, samples in counted.values_list("instrument", "of_one")):
        raise TooManySamples
    return samples_of(codes, start, end)
