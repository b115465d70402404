"""One finding of a trace: its sentence, its verdicts, its earlier parts, and the picture of its place around it."""

from __future__ import annotations

from datetime import timedelta

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from plant.pictures.strip_chart import strip_chart_svg
from records.flow.pages import no_plan, now_and_plan
from records.judging.models import Verdict
from records.people.plans import plan_in_force
from records.traces import strip
from records.traces.findings import in_words
from records.traces.models import TraceFinding
from records.traces.place_strip import strip_of_place
from records.traces.recorded import TooManySamples
from records.traces.windows import LONGEST, Window

LEAST_AROUND = timedelta(minutes=5)
WIDTH = 976


@require_safe
def trace_finding(request: HttpRequest, number: int) -> HttpResponse:
    """A finding with every verdict on it and every part of it; the picture shows as much again on both sides."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    row = TraceFinding.objects.filter(number=number).first()
    if row is None:
        raise Http404(_("No finding has that number."))
    then = plan_in_force(row.start_at) or in_force
    parts = list(TraceFinding.objects.filter(key=row.key).order_by("number"))
    around = max(row.end_at - row.start_at, LEAST_AROUND)
    window = Window(row.start_at - around, row.end_at + around)
    chart = ""
    try:
        drawn = strip_of_place(row.place, window, then, now) if window.length <= LONGEST else None
        chart = strip_chart_svg(drawn, WIDTH, words=strip.words()) if drawn is not None else ""
    except TooManySamples:
        chart = ""
    verdicts = Verdict.objects.filter(subject_kind=TraceFinding.KIND, subject_number=row.number)
    shown = {
        "told": in_words([row], then.zone)[0],
        "others": [one for one in in_words(parts, then.zone) if one.row.number != row.number],
        "newest": parts[-1].number if parts[-1].number != row.number else None,
        "verdicts": verdicts.order_by("number"),
        "chart": chart,
        "window": window.query(),
        "plant_zone": then.zone,
    }
    return render(request, "records/traces/finding.html", shown)
