"""Pages of paper charts to read: which are on, which were; one with all that it carries and lacks; its photos."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from records.charts import day, queries
from records.charts.during import ran_while_on
from records.charts.models import BACK, FRONT, ChartFit, ChartOff, ChartOn, ChartPhoto
from records.charts.pages import chart_or_404, may, photo_or_404, plan_or_404
from records.charts.queries import Chart, Papers
from records.charts.recorders import Recorder, recorders
from records.checks.models import Reading
from records.checks.queries import superseded
from records.checks.saying import value_words
from records.deviations.models import Deviation
from records.flow.pages import no_plan, now_and_plan
from records.ledger import files
from records.ledger.models import FileKept
from records.people.plans import InForce

MOST = 100


@dataclass(frozen=True, slots=True)
class Line:
    """A chart in a list."""

    chart: Chart
    span: str
    past: bool
    missing: tuple[str, ...]
    deviations: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Standing:
    """A recorder and the charts that are on it."""

    recorder: Recorder
    lines: tuple[Line, ...]


@require_safe
def charts(request: HttpRequest) -> HttpResponse:
    """The charts that are on, by recorder; and those that were, newest first, of a recorder and plant day if asked."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    known = recorders(in_force)
    asked = request.GET.get("recorder", "")
    recorder = asked if asked in {one.code for one in known} else ""
    on = queries.on_now()
    plant_day = _day(request.GET.get("day", ""))
    start, end = in_force.calendar.day_bounds(plant_day) if plant_day else (None, None)
    past = queries.latest(recorder, start, end, MOST)
    lines = _lines([*on, *past], now)
    gone = {one.on.recorder for one in on} - {one.code for one in known}
    context = {
        "standing": [
            Standing(one, tuple(lines[row.number] for row in on if row.on.recorder == one.code)) for one in known
        ],
        # A chart whose recorder the plan no longer knows is still on.
        "others": [lines[row.number] for row in on if row.on.recorder in gone],
        "past": [lines[row.number] for row in past],
        "recorders": known,
        "recorder": recorder,
        "day": plant_day.isoformat() if plant_day else "",
        "most": MOST,
        "zone": in_force.zone,
        "may_change": may(request, "records:chart-new"),
        "may_copy": may(request, "records:chart-initials"),
        "quarter": _quarter(in_force, now),
        "initials": {one.code: queries.initials_of(one.code, *_quarter(in_force, now)) for one in known},
    }
    return render(request, "records/charts/charts.html", context)


def _lines(found: list[Chart], now: datetime) -> dict[int, Line]:
    papers, opened = queries.papers_of(found), day.deviations_of(found)
    return {
        one.number: Line(
            one,
            day.span_words(one),
            one.is_past(now),
            tuple(day.missing(one, papers[one.number])),
            tuple(opened[one.number]),
        )
        for one in found
    }


def _day(text: str) -> date | None:
    try:
        found = date.fromisoformat(text)
    except ValueError:
        return None
    return found if 2000 <= found.year <= 2200 else None


def _quarter(in_force: InForce, at: datetime) -> tuple[int, int]:
    return queries.quarter_of(in_force.calendar.local(at).date())


# --- one chart


@dataclass(frozen=True, slots=True)
class Told:
    """One row of a line of amendments, with its reading as it stands now."""

    row: ChartOn | ChartOff
    struck: bool
    reading: str
    reading_number: int | None
    reading_now: str


@require_safe
def chart(request: HttpRequest, chart: int) -> HttpResponse:
    """All that a chart must carry, what is missing of it, its photos, and how it came to be."""
    found = chart_or_404(chart)
    now, in_force = plan_or_404()
    papers = queries.papers_of([found])[found.number]
    opened = day.deviations_of([found])[found.number]
    year, quarter = _quarter(in_force, found.taken_off_at or now)
    context = {
        "chart": found,
        "span": day.span_words(found),
        "is_past": found.is_past(now),
        "on_rows": _told(ChartOn.objects.filter(number=found.number) | ChartOn.objects.filter(root=found.number)),
        "off_rows": _told(ChartOff.objects.filter(chart=found.number)),
        "missing": day.missing(found, papers),
        "ran": ran_while_on(found, now),
        "photos": photos_of(papers),
        "signed": _signed(found, papers),
        "compared": [(one, day.compared_words(one)) for one in papers.compared],
        "deviations": Deviation.objects.filter(number__in=opened).order_by("number"),
        "unusual": day.unusual_words(found.off) if found.off else "",
        "clock": day.clock_words(found.off) if found.off else "",
        "year": year,
        "quarter": quarter,
        "initials": queries.initials_of(found.on.recorder, year, quarter),
        "zone": in_force.zone,
        "address": in_force.plan.plant.address,
        "may_change": may(request, "records:chart-off"),
        "may_copy": may(request, "records:chart-initials"),
        "may_amend": may(request, "records:chart-amend-on"),
    }
    return render(request, "records/charts/chart.html", context)


def _told(rows: Any) -> list[Told]:
    """Every row of a line, the first first; those that an amendment replaced are struck through."""
    ordered = list(rows.order_by("number"))
    replaced = {one.amends for one in ordered}
    found = []
    for one in ordered:
        reading = Reading.objects.filter(number=one.reading).first() if one.reading else None
        newer = superseded(reading) if reading else None
        found.append(
            Told(
                one,
                one.number in replaced or one.void,
                day.reading_words(one),
                one.reading,
                value_words(newer) if newer else "",
            )
        )
    return found


@dataclass(frozen=True, slots=True)
class Shown:
    """A photo on a chart's page: `older` photos of the same side are linked, not shown."""

    photo: ChartPhoto
    side: str
    older: bool
    fit: ChartFit | None


def photos_of(papers: Papers) -> list[Shown]:
    """The newest photo of each side first, then older ones."""
    newest = {one.number for side in (FRONT, BACK) if (one := papers.photo(side))}
    marks = ChartFit.objects.filter(photo__in=[one.number for one in papers.photos]).order_by("number")
    fits = {one.photo: one for one in marks}
    shown = [
        Shown(one, day.side_words(one.side), one.number not in newest, fits.get(one.number)) for one in papers.photos
    ]
    return sorted(shown, key=lambda one: (one.older, one.photo.side != FRONT, -one.photo.number))


def _signed(found: Chart, papers: Papers) -> list[tuple[Any, bool]]:
    """Each signature, and whether it stands for all that there is now."""
    covers = queries.covered_by_a_signature(found, papers)
    return [(one, one.covers == covers) for one in papers.signed]


@require_safe
def photo_file(request: HttpRequest, chart: int, photo: int) -> HttpResponse:
    """A photo exactly as it came."""
    found = photo_or_404(chart_or_404(chart), photo)
    kept = FileKept.objects.filter(sha256=found.file).first()
    if kept is None:
        raise Http404(_("There is no such photo of this chart."))
    try:
        data = files.read(kept.sha256)
    except files.FileDamaged as damaged:
        raise Http404(str(damaged)) from damaged
    mime = kept.mime if kept.mime.startswith("image/") else "application/octet-stream"
    response = HttpResponse(data, content_type=mime)
    response["X-Content-Type-Options"] = "nosniff"
    return response
