"""Pages of traces: which instruments have them, and the strip chart of one. They read and judge nothing."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any, cast

from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.urls import NoReverseMatch, reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from plant.pictures.strip_time import milliseconds, said
from records.flow.pages import no_plan, now_and_plan
from records.people.middleware import Request
from records.people.plans import InForce
from records.people.rights import RIGHTS
from records.traces import recorded, strip, windows
from records.traces.findings import standing
from records.traces.models import TraceJudged
from records.traces.over import place_of
from records.traces.place_strip import newest_of
from records.traces.recorded import Recorded, TooManySamples
from records.traces.windows import Window, WrongWindow


@require_safe
def traces(request: HttpRequest) -> HttpResponse:
    """The instruments that have traces, each with the days of its last weeks."""
    _now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    listed = [
        (one.recorded, [(day, _address(one.recorded, _of_day(day, in_force))) for day in one.days])
        for one in recorded.instruments(in_force.calendar)
    ]
    may_import = bool(cast(Request, request).roles & RIGHTS["records:trace-import"])
    return render(request, "records/traces/traces.html", {"listed": listed, "may_import": may_import})


@require_safe
def trace(request: HttpRequest, instrument: str) -> HttpResponse:
    """The strip chart of one instrument, with its table; by default of the last plant day that has samples.

    An address that asks for what cannot be shown gets the usual window, and its sentence beside the form; a window with
    too many samples gets the sentence alone.
    """
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    found = _recorded_or_404(instrument)
    usual = windows.day_of(found.last, in_force.calendar)
    wrong: WrongWindow | None = None
    window, unit, width = usual, found.unit, windows.USUAL_WIDTH
    try:
        window = windows.asked(request.GET, in_force.calendar, usual)
        unit = windows.unit_of(request.GET, found.unit)
        width = windows.whole_number(request.GET, "width", windows.NARROWEST, windows.WIDEST, windows.USUAL_WIDTH)
    except WrongWindow as refusal:
        wrong, window, unit = refusal, usual, found.unit
    loaded: strip.Loaded | None = None
    try:
        loaded = strip.load(found, window, unit, in_force, now)
    except TooManySamples:
        wrong = _too_many()
    context = {
        "recorded": found,
        "chart": loaded.picture(width) if loaded else "",
        "sentences": loaded.sentences() if loaded else [],
        "readings": loaded.readings if loaded else (),
        **_found(found, window, in_force),
        "table": loaded.table() if loaded else None,
        "unit": unit,
        "wrong": wrong,
        "typed": {name: request.GET.get(name, "") for name in ("from", "until")},
        "shortest_ms": str(windows.SHORTEST // timedelta(milliseconds=1)),
        **_moves(found, window, unit, in_force),
    }
    return render(request, "records/traces/strip.html", context, status=422 if wrong else 200)


@require_safe
def trace_window(request: HttpRequest, instrument: str) -> HttpResponse:
    """The columns of a window as JSON, for the page's script. 422 with a sentence for what cannot be shown."""
    _now, in_force = now_and_plan()
    if in_force is None:
        sentence = _(
            "No hazard plan is in force yet. The plant's vessels, checks and limits are known once one is approved."
        )
        return JsonResponse({"wrong": sentence}, status=409)
    found = _recorded_or_404(instrument)
    try:
        window = windows.asked(request.GET, in_force.calendar, windows.day_of(found.last, in_force.calendar))
        unit = windows.unit_of(request.GET, found.unit)
        width = windows.whole_number(request.GET, "width", 1, windows.MOST_COLUMNS, windows.USUAL_COLUMNS)
        data = strip.columns_of(found, window, width, unit)
    except WrongWindow as refusal:
        return JsonResponse({"wrong": refusal.sentence, "field": refusal.field}, status=422)
    except TooManySamples:
        return JsonResponse({"wrong": _too_many().sentence, "field": "until"}, status=422)
    return JsonResponse(data, json_dumps_params={"separators": (",", ":"), "allow_nan": False})


def _found(recorded_: Recorded, window: Window, in_force: InForce) -> dict[str, Any]:
    """What stands found at the instrument's place in the window, and what of it was judged."""
    place = place_of(recorded_.instrument, in_force)
    if not place:
        return {"place": ""}
    judged = TraceJudged.objects.filter(place=place, start_at__lt=window.end, end_at__gte=window.start)
    return {
        "place": place,
        "findings": standing(window.start, window.end, [place], in_force.zone),
        "judged": newest_of(judged.order_by("number")),
    }


def _recorded_or_404(instrument: str) -> Recorded:
    found = recorded.instrument(instrument)
    if found is None:
        raise Http404(_("Nothing is recorded of an instrument of that number."))
    return found


def _too_many() -> WrongWindow:
    most = f"{recorded.MOST_SAMPLES:,}"
    return WrongWindow("until", _("That time holds more than %(most)s samples. Ask for less of it.") % {"most": most})


def _of_day(day: date, in_force: InForce) -> Window:
    return Window(*in_force.calendar.day_bounds(day))


def _address(found: Recorded, window: Window, unit: str = "") -> str:
    more = {"unit": unit.removeprefix("°")} if unit and unit != found.unit else {}
    try:
        address = reverse("records:trace", kwargs={"instrument": found.instrument})
    except NoReverseMatch:  # a recorder's own name for a channel may hold what no address does
        return ""
    return f"{address}?{window.query(**more)}"


def _moves(found: Recorded, window: Window, unit: str, in_force: InForce) -> dict[str, Any]:
    """The links from a window to others, and what the page says of when it is."""
    start, end = milliseconds(window.start), milliseconds(window.end)
    day = windows.day_of(window.start + window.length / 2, in_force.calendar)
    other = {"°F": "°C", "°C": "°F"}.get(found.unit, "")
    other = found.unit if other and unit != found.unit else other
    moves = [
        ("earlier", _("Earlier"), window.moved(-1) if window.start > found.first else None),
        ("later", _("Later"), window.moved(1) if window.end <= found.last else None),
        ("closer", _("Closer"), window.zoomed(0.5) if window.length > windows.SHORTEST else None),
        ("wider", _("Wider"), window.zoomed(2) if window.length < windows.LONGEST else None),
        ("day", _("Whole day"), day if day != window else None),
    ]
    return {
        "moves": [(key, label, _address(found, to, unit) if to else "") for key, label, to in moves],
        "other_unit": other,
        "other_address": _address(found, window, other) if other else "",
        "when": said(start, in_force.zone),
        "when_until": said(end, in_force.zone),
        "local_from": _local(window.start, in_force),
        "local_until": _local(window.end, in_force),
        "plant_zone": in_force.zone,
        "longest_ms": str(windows.LONGEST // timedelta(milliseconds=1)),
        "window_address": reverse("records:trace-window", kwargs={"instrument": found.instrument}),
    }


def _local(moment: datetime, in_force: InForce) -> str:
    return in_force.calendar.local(moment).strftime("%Y-%m-%dT%H:%M:%S")
