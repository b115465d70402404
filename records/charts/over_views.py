"""Pages that lay the stored trace over a chart's photo: marks on the photo, the picture, and what a person found."""

from __future__ import annotations

from typing import Any, cast

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from plant.pictures.chart_over import grid_svg
from records.charts import actions, queries
from records.charts.day import compared_words, side_words
from records.charts.fit_forms import SHOW, CompareForm, FitForm, marked
from records.charts.fitting import row_of
from records.charts.models import ChartCompared, ChartFit, ChartPhoto
from records.charts.over import Laid, height_of, lay_over
from records.charts.pages import chart_or_404, may, photo_or_404, plan_or_404, recorder_or_404, saved_by
from records.charts.queries import Chart
from records.deviations.errors import Refused
from records.flow.consequences import sentences_of
from records.people.middleware import Request

page = require_http_methods(["GET", "HEAD", "POST"])


def newest_fit(photo: ChartPhoto) -> ChartFit | None:
    """The marks that stand for a photo."""
    return ChartFit.objects.filter(photo=photo.number).order_by("-number").first()


@page
def fit(request: HttpRequest, chart: int, photo: int) -> HttpResponse:
    """Marks on a photo: shown first without keeping them, if wished; then kept."""
    found = chart_or_404(chart)
    picture = photo_or_404(found, photo)
    now, in_force = plan_or_404()
    height = height_of(picture)
    if height is None:
        return render(request, "records/charts/no_size.html", {"chart": found, "photo": picture}, status=409)
    form = FitForm(
        request.POST if request.method == "POST" else None,
        in_force=in_force,
        now=now,
        shape=found.on.shape,
        recorder=recorder_or_404(found, in_force),
        initial=_as_marked(newest_fit(picture)),
    )
    shown = Laid()
    if request.method == "POST" and SHOW in request.POST:
        shown = saved_by(form, lambda: _shown(form, found, picture, height, in_force, now)) or Laid()
    elif request.method == "POST":
        kept = saved_by(form, lambda: actions.keep_fit(cast(Request, request).actor, form.fit(picture.number)))
        if kept is not None:
            messages.success(request, _("The marks are kept; the trace lies over the photo."))
            return redirect("records:chart-over", chart=found.number, photo=picture.number)
    context = {
        "chart": found,
        "photo": picture,
        "side": side_words(picture.side),
        "form": form,
        "marked": marked(form),
        "grid": grid_svg(height, _crosses(form), title=_("A grid in thousandths of the photo's width")),
        "shown": shown,
        "decimal_mark": in_force.plan.plant.decimal_mark,
    }
    return render(request, "records/charts/fit.html", context, status=422 if form.errors else 200)


def _shown(form: FitForm, found: Chart, photo: ChartPhoto, height: float, in_force: Any, now: Any) -> Laid:
    row, chart, fit = row_of(form.fit(photo.number))
    return lay_over(chart, row, height, in_force, now, fit)


def _as_marked(row: ChartFit | None) -> dict[str, Any]:
    """A form as the newest marks were typed; a new id, so that they become marks of their own."""
    if row is None:
        return {}
    known: dict[str, Any] = {**row.marks, "unit": row.unit, "first_at": row.first_at}
    return known | ({"second_at": row.second_at} if row.second_at else {})


def _crosses(form: FitForm) -> list[tuple[float, float, str]]:
    """What is typed so far, as crosses on the grid; what is no number is left to its sentence."""
    found = []
    for name, words in marked(form):
        try:
            x, y = (float(str(form[f"{name}_{axis}"].value() or "").replace(",", ".")) for axis in "xy")
        except ValueError:
            continue
        if abs(x) <= 10_000 and abs(y) <= 10_000:
            found.append((x, y, words))
    return found


@require_safe
def over(request: HttpRequest, chart: int, photo: int) -> HttpResponse:
    """The stored trace over the photo, and what people found."""
    return _over(request, chart, photo, None)


@page
def compare(request: HttpRequest, chart: int, photo: int) -> HttpResponse:
    """Keep what a person found; a disagreement is a deviation."""
    found = chart_or_404(chart)
    picture = photo_or_404(found, photo)
    if request.method != "POST":
        return redirect("records:chart-over", chart=found.number, photo=picture.number)
    now, in_force = plan_or_404()
    form = CompareForm(request.POST, in_force=in_force, now=now)
    data = (found.number, picture.number)
    saved = saved_by(form, lambda: actions.compare(cast(Request, request).actor, form.compared(*data)))
    if saved is None:
        return _over(request, chart, photo, form)
    messages.success(request, _("Recorded."))
    for text in sentences_of(saved.number):
        messages.warning(request, text)
    return redirect("records:chart", chart=found.number)


def _over(request: HttpRequest, chart: int, photo: int, form: CompareForm | None) -> HttpResponse:
    found = chart_or_404(chart)
    picture = photo_or_404(found, photo)
    now, in_force = plan_or_404()
    marks, height = newest_fit(picture), height_of(picture)
    laid = Laid()
    if marks is not None and height is not None:
        try:
            laid = lay_over(found, marks, height, in_force, now)
        except Refused as refused:  # kept by another span, since amended
            laid = Laid(sentences=(str(refused.sentence),))
    context = {
        "chart": found,
        "photo": picture,
        "side": side_words(picture.side),
        "marks": marks,
        "height": height,
        "laid": laid,
        "form": form or CompareForm(in_force=in_force, now=now, initial={"fit": marks.number if marks else ""}),
        "compared": [(one, compared_words(one)) for one in ChartCompared.objects.filter(photo=picture.number)],
        "papers": queries.papers_of([found])[found.number],
        "zone": in_force.zone,
        "may_mark": may(request, "records:chart-fit"),
        "may_compare": may(request, "records:chart-compare") and bool(laid.svg),
    }
    return render(request, "records/charts/over.html", context, status=422 if form is not None else 200)
