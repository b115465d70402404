"""Which charts are on, which were, and what each of them still lacks: computed from the records and a moment."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any, TypeVar

from django.db.models import Exists, OuterRef, Q, QuerySet

from records.charts.models import (
    ChartCompared,
    ChartOff,
    ChartOn,
    ChartPastSpan,
    ChartPhoto,
    ChartSigned,
    RegulatorInitials,
)

R = TypeVar("R", ChartOn, ChartOff)


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart as it stands: the last of what was said of its putting on and of its taking off."""

    on: ChartOn
    off: ChartOff | None = None
    past: ChartPastSpan | None = None

    @property
    def number(self) -> int:
        """What every other record calls it: the ledger number of its first row."""
        return self.on.root or self.on.number

    @property
    def span(self) -> timedelta:
        return timedelta(minutes=self.on.span_min)

    @property
    def span_ends_at(self) -> datetime:
        return self.on.put_on_at + self.span

    @property
    def taken_off_at(self) -> datetime | None:
        return self.off.taken_off_at if self.off else None

    def until(self, now: datetime) -> datetime:
        """When it came off, or now."""
        return self.taken_off_at or now

    def is_past(self, now: datetime) -> bool:
        """Whether it ran, or has been running, past the time that it is made for."""
        return self.until(now) > self.span_ends_at

    def on_at(self, moment: datetime) -> bool:
        """Whether it was on the recorder then."""
        return self.on.put_on_at <= moment and (self.off is None or moment < self.off.taken_off_at)


def standing(rows: QuerySet[R]) -> QuerySet[R]:
    """Of these, the rows that no amendment replaces and that did happen."""
    successor = rows.model._default_manager.filter(amends=OuterRef("number"))
    return rows.filter(~Exists(successor), void=False)


def chart_of(number: int) -> Chart | None:
    """The chart of a number (that of its first row); None when there is none, or it did not happen."""
    if not 0 < number < 2**63:
        return None
    return next(iter(_charts(ChartOn.objects.filter(Q(number=number) | Q(root=number)))), None)


def _off_by(moment: datetime | None = None) -> Q:
    """Of rows of ChartOn: taken off (by a moment)."""
    off = standing(ChartOff.objects.all())
    if moment is not None:
        off = off.filter(taken_off_at__lte=moment)
    return Q(Exists(off.filter(chart=OuterRef("number")))) | Q(Exists(off.filter(chart=OuterRef("root"))))


def on_now(recorder: str = "") -> list[Chart]:
    """Charts that nobody has taken off (of one recorder), by recorder and time. Three queries."""
    rows = ChartOn.objects.filter(~_off_by())
    return _charts(rows.filter(recorder=recorder) if recorder else rows)


def on_at(recorder: str, moment: datetime) -> list[Chart]:
    """The charts that were on a recorder at a moment; more than one is a deviation. Three queries."""
    return _charts(ChartOn.objects.filter(~_off_by(moment), recorder=recorder, put_on_at__lte=moment))


def put_on_within(recorder: str, start: datetime, end: datetime) -> list[Chart]:
    """The charts put on a recorder after `start` and before `end`."""
    return _charts(ChartOn.objects.filter(recorder=recorder, put_on_at__gt=start, put_on_at__lt=end))


def between(start: datetime, end: datetime) -> list[Chart]:
    """Charts that were on at any time of [start, end), by recorder and time. Three queries."""
    return _charts(ChartOn.objects.filter(~_off_by(start), put_on_at__lt=end))


def latest(recorder: str, start: datetime | None, end: datetime | None, most: int) -> list[Chart]:
    """Charts that are off, newest first; of one recorder ("" for all), put on within a time (None: any)."""
    rows = standing(ChartOn.objects.all())
    if recorder:
        rows = rows.filter(recorder=recorder)
    if start is not None:
        rows = rows.filter(put_on_at__gte=start)
    if end is not None:
        rows = rows.filter(put_on_at__lt=end)
    rows = rows.filter(_off_by())
    newest = list(rows.order_by("-put_on_at", "-number").values_list("number", flat=True)[:most])
    found = _charts(ChartOn.objects.filter(number__in=newest))
    return sorted(found, key=lambda one: (one.on.put_on_at, one.on.number), reverse=True)


def _charts(rows: QuerySet[ChartOn]) -> list[Chart]:
    """Charts of these rows, by recorder and time, with their ends and what was noticed of them. Three queries."""
    ons = list(standing(rows).order_by("recorder", "put_on_at", "number"))
    numbers = [one.root or one.number for one in ons]
    offs = {one.chart: one for one in standing(ChartOff.objects.filter(chart__in=numbers))}
    past = {one.chart: one for one in ChartPastSpan.objects.filter(chart__in=numbers)}
    return [Chart(one, offs.get(one.root or one.number), past.get(one.root or one.number)) for one in ons]


@dataclass(slots=True)
class Papers:
    """What belongs to a chart beside its putting on and taking off, oldest first."""

    photos: list[ChartPhoto] = field(default_factory=list)
    signed: list[ChartSigned] = field(default_factory=list)
    compared: list[ChartCompared] = field(default_factory=list)

    def photo(self, side: str) -> ChartPhoto | None:
        """The newest photo of a side."""
        return next((one for one in reversed(self.photos) if one.side == side), None)


def papers_of(charts: Iterable[Chart]) -> dict[int, Papers]:
    """The papers of several charts, by their numbers. Three queries."""
    numbers = [one.number for one in charts]
    found: dict[int, Papers] = defaultdict(Papers)
    for photo in ChartPhoto.objects.filter(chart__in=numbers).order_by("number"):
        found[photo.chart].photos.append(photo)
    for signed in ChartSigned.objects.filter(chart__in=numbers).order_by("number"):
        found[signed.chart].signed.append(signed)
    for compared in ChartCompared.objects.filter(chart__in=numbers).order_by("number"):
        found[compared.chart].compared.append(compared)
    return found


def covered_by_a_signature(chart: Chart, papers: Papers) -> list[int]:
    """The ledger numbers that a signature under the chart now stands for: its two ends and its photos."""
    rows: Sequence[Any] = [chart.on, *([chart.off] if chart.off else []), *papers.photos]
    return sorted(one.number for one in rows)


def quarter_of(day: date) -> tuple[int, int]:
    """Year and quarter of a day on the plant's calendar."""
    return day.year, (day.month - 1) // 3 + 1


def initials_of(recorder: str, year: int, quarter: int) -> list[RegulatorInitials]:
    """What was copied of the regulator's initials for a recorder and quarter."""
    return list(
        RegulatorInitials.objects.filter(recorder=recorder, year=year, quarter=quarter).order_by("written_on", "number")
    )
