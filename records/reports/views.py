"""Pages of a day that need no review: its chart, its readings as a table, blank forms."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import translation
from django.views.decorators.http import require_safe

from plant import clock
from records.reports import forms as paper
from records.reports import pages, picture, tables
from records.reports.day import day_data
from records.reports.values import Data


@require_safe
def day_chart(request: HttpRequest, day: str = "") -> HttpResponse:
    """The Day chart of a day, by default of today; the days before and after are a tap away."""
    plant_day = pages.day_of(day) if day else pages.today()
    before, after = pages.beside(plant_day)
    data = _data(plant_day.isoformat())
    now = pages.today()
    context = {
        "data": data,
        "day": plant_day,
        "chart": picture.svg(data, print_=False),
        "before": before,
        "after": after if after <= now else None,
        "marks": [(lane["name"], lane["marks"], lane["deviations"]) for lane in data["chart"]["lanes"]],
    }
    return render(request, "records/reports/day_chart.html", context)


@require_safe
def day_csv(request: HttpRequest, day: str) -> HttpResponse:
    """Every reading of a day as CSV."""
    data = _data(day)
    text = tables.readings_csv(data, tables.clock_of(data))
    return pages.download(text.encode("utf-8-sig"), f"readings-{data['day']}.csv", "text/csv; charset=utf-8")


def _data(day: str) -> Data:
    pages.in_force_or_404()
    return day_data(pages.day_of(day), 1, clock.now(), pages.unreviewed())


@require_safe
def blank_forms(request: HttpRequest) -> HttpResponse:
    """Which blank forms to print: of one check or all, for which day."""
    in_force = pages.in_force_or_404()
    checks = [(one.key, paper.title(one, in_force)) for one in in_force.plan.monitoring]
    return render(request, "records/reports/blank_forms.html", {"checks": checks, "day": pages.today()})


@require_safe
def blank_forms_pdf(request: HttpRequest) -> HttpResponse:
    """The blank forms themselves, each with a number that no other has."""
    in_force, now = pages.in_force_or_404(), clock.now()
    asked = request.GET.get("day", "")
    day = pages.day_of(asked) if asked else pages.today()
    with translation.override(in_force.plan.plant.language):
        pdf = paper.blank_forms(in_force, day, request.GET.get("check", ""), now)
    return pages.download(pdf, f"blank-forms-{day.isoformat()}.pdf", "application/pdf", inline=True)
