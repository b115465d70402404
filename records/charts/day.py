"""What a chart must carry and what it still lacks, in words; and a day's charts as plain values for the day sheet."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _

from plant import clock
from records.charts import queries
from records.charts.models import (
    BACK,
    DISAGREE,
    FRONT,
    ChartCompared,
    ChartOff,
    ChartOn,
    ChartPastSpan,
)
from records.charts.queries import Chart, Papers
from records.deviations.models import DeviationCause
from records.ledger.models import Record

CAUSE_KINDS = (ChartOn.KIND, ChartOff.KIND, ChartPastSpan.KIND, ChartCompared.KIND)


@dataclass(frozen=True, slots=True)
class ChartOfDay:
    """A chart that was on that day, as it stands now. Words are in the language spoken; empty where nothing was said.

    `number` names the chart (a ledger number); `span_h` hours as typed; `missing` what it must carry and lacks.
    """

    number: int
    recorder: str
    recorder_name: str
    place: str
    place_name: str
    chart_number: str
    shape: str
    span_h: str
    put_on_at: datetime
    put_on_by: str
    put_on_reading: str
    put_on_entry: int
    taken_off_at: datetime | None
    taken_off_by: str
    taken_off_reading: str
    taken_off_entry: int | None
    amended: tuple[str, ...]
    past_span_from: datetime | None
    overlapped: bool | None
    products: str
    unusual: str
    clock: str
    photos: tuple[str, ...]
    signed: tuple[str, ...]
    compared: tuple[str, ...]
    deviations: tuple[int, ...]
    missing: tuple[str, ...]


def charts_for_day(start: datetime, end: datetime) -> list[ChartOfDay]:
    """The charts that were on at any time of [start, end), by recorder and time; about ten queries for any number."""
    now = clock.now()
    charts = queries.between(start, end)
    papers = queries.papers_of(charts)
    opened = deviations_of(charts)
    return [_of_day(one, papers[one.number], opened[one.number], now) for one in charts]


def _of_day(chart: Chart, papers: Papers, deviations: list[int], now: datetime) -> ChartOfDay:
    on, off = chart.on, chart.off
    return ChartOfDay(
        number=chart.number,
        recorder=on.recorder,
        recorder_name=on.recorder_name,
        place=on.place,
        place_name=on.place_name,
        chart_number=on.chart_number,
        shape=on.shape,
        span_h=on.span_typed,
        put_on_at=on.put_on_at,
        put_on_by=on.by_initials or on.by_name,
        put_on_reading=reading_words(on),
        put_on_entry=on.number,
        taken_off_at=chart.taken_off_at,
        taken_off_by=(off.by_initials or off.by_name) if off else "",
        taken_off_reading=reading_words(off) if off else "",
        taken_off_entry=off.number if off else None,
        amended=tuple(amended_words(one) for one in (on, off) if one is not None and one.amends),
        past_span_from=chart.span_ends_at if chart.is_past(now) else None,
        overlapped=off.overlapped if off else None,
        products=off.products if off else "",
        unusual=unusual_words(off) if off else "",
        clock=clock_words(off) if off else "",
        photos=tuple(side_words(side) for side in (FRONT, BACK) if papers.photo(side)),
        signed=tuple(dict.fromkeys(one.by_initials or one.by_name for one in papers.signed)),
        compared=tuple(compared_words(one) for one in papers.compared),
        deviations=tuple(deviations),
        missing=tuple(missing(chart, papers)),
    )


def missing(chart: Chart, papers: Papers) -> list[str]:
    """What a chart must carry and the book does not have yet, in words.

    ATCP 65.66(3)(g) to (k), reading at a change, product and amount, unusual occurrences, plant, signature; 1 NYCRR
    3.27(a) (texts consulted: state rules). The regulator's quarterly initials are the regulator's to give and are no
    fault of a chart. That both sides are photographed and the trace held against them is this book's own rule.
    """
    off = chart.off
    found = []
    if not chart.on.typed:
        found.append(_("the indicating reading when it was put on"))
    if off is None:
        return found  # the rest is written when it comes off
    if not off.typed:
        found.append(_("the indicating reading when it came off"))
    if not off.products:
        found.append(_("name and amount of each run's product"))
    if off.clock_right is None:
        found.append(_("whether its clock was right"))
    found += [words for side, words in _photo_sides() if papers.photo(side) is None]
    covers = queries.covered_by_a_signature(chart, papers)
    if not papers.signed:
        found.append(_("the operator's signature"))
    elif all(one.covers != covers for one in papers.signed):
        found.append(_("the operator's signature under what was added or amended since"))
    if papers.photo(FRONT) is not None and not papers.compared:
        found.append(_("the photo held against the stored trace"))
    return found


def _photo_sides() -> list[tuple[str, str]]:
    return [(FRONT, _("a photo of the front")), (BACK, _("a photo of the back"))]


def reading_words(row: ChartOn | ChartOff) -> str:
    """'161.8 °F, ti-press-1', or that it was not taken and why."""
    if row.not_taken:
        return _("not taken: %(why)s") % {"why": row.not_taken}
    return ", ".join(one for one in (f"{row.typed} {row.unit}".strip(), row.instrument) if one)


def amended_words(row: ChartOn | ChartOff) -> str:
    """Which entry a row amends, and why."""
    return _("amends entry %(old)s: %(why)s") % {"old": row.amends, "why": row.amend_reason}


def unusual_words(off: ChartOff) -> str:
    """What happened, or that nothing did; empty when nobody said."""
    if off.unusual is None:
        return ""
    return off.unusual_words if off.unusual else _("nothing unusual")


def clock_words(off: ChartOff) -> str:
    """How its clock stood against which; empty when nobody looked."""
    if off.clock_right is None:
        return ""
    if off.clock_right:
        return _("right, against %(against)s") % {"against": off.clock_against}
    words = {"shown": off.clock_words, "against": off.clock_against}
    return _("not right: it showed %(shown)s, against %(against)s") % words


def after_closing(start: datetime, end: datetime, number: int) -> list[tuple[Record, str]]:
    """What was done to the charts of [start, end) after the entry `number`, and is no record of that time itself.

    Taken off later, photographed, held against the trace, signed: each with its words.
    """
    found: list[tuple[Record, str]] = []
    charts = queries.between(start, end)
    papers = queries.papers_of(charts)
    for chart in charts:
        name = {"recorder": chart.on.recorder_name, "chart": chart.on.chart_number}
        if chart.off is not None and chart.off.taken_off_at >= end:
            found.append((chart.off, _("%(recorder)s: chart %(chart)s taken off") % name))
        kept = papers[chart.number]
        for photo in kept.photos:
            words = name | {"side": side_words(photo.side)}
            found.append((photo, _("%(recorder)s: chart %(chart)s photographed, %(side)s") % words))
        for one in kept.compared:
            words = name | {"found": compared_words(one)}
            found.append((one, _("%(recorder)s: chart %(chart)s, %(found)s") % words))
        found += [(one, _("%(recorder)s: chart %(chart)s signed") % name) for one in kept.signed]
    return [(row, words) for row, words in found if row.number > number]


def side_words(side: str) -> str:
    """Front or back."""
    return _("front") if side == FRONT else _("back")


def compared_words(one: ChartCompared) -> str:
    """That photo and trace agree, or what was found."""
    if one.outcome != DISAGREE:
        return _("photo and trace agree")
    return _("photo and trace disagree: %(because)s") % {"because": one.because}


def span_words(chart: Chart) -> str:
    """'circular, 24 h'."""
    shape = _("strip") if chart.on.shape == "strip" else _("circular")
    return _("%(shape)s, %(hours)s h") % {"shape": shape, "hours": chart.on.span_typed}


def deviations_of(charts: Iterable[Chart]) -> dict[int, list[int]]:
    """The deviations that each chart is a cause of, by the chart's number; a few queries for all."""
    owner: dict[int, int] = {}
    numbers = [one.number for one in charts]
    for kind in (ChartOff, ChartPastSpan, ChartCompared):
        rows = kind._default_manager.filter(chart__in=numbers)
        owner |= dict(rows.values_list("number", "chart"))
    owner |= {number: number for number in numbers}
    owner |= {one.number: one.root for one in ChartOn.objects.filter(root__in=numbers) if one.root}
    found: dict[int, list[int]] = defaultdict(list)
    causes = DeviationCause.objects.filter(cause_kind__in=CAUSE_KINDS, cause_number__in=list(owner)).order_by("number")
    for number, deviation in causes.values_list("cause_number", "deviation"):
        chart = owner[number]
        if deviation not in found[chart]:
            found[chart].append(deviation)
    return found


def charts_of_causes(numbers: Iterable[int]) -> dict[int, int]:
    """Of causes (ledger numbers) that are records of charts: the number that names each one's chart."""
    wanted = list(numbers)
    found = {one.number: one.root or one.number for one in ChartOn.objects.filter(number__in=wanted)}
    for kind in (ChartOff, ChartPastSpan, ChartCompared):
        found |= dict(kind._default_manager.filter(number__in=wanted).values_list("number", "chart"))
    return found
