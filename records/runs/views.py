"""Pages of runs: the list, one run with what stands against it and what happened, and a form for each act."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any, cast

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from plant.equipment.models import VesselKind
from records.deviations.models import Deviation
from records.flow.consequences import sentences_of
from records.flow.forms import BEGINS_NOW
from records.flow.pages import no_plan, now_and_plan, saved_by
from records.people.middleware import Request
from records.people.plans import InForce
from records.people.rights import RIGHTS
from records.runs import actions, queries, starting
from records.runs.forms import AmendForm, EventForm, OutForm, ProductForm, StartForm
from records.runs.models import (
    DIVERTED,
    ENDED,
    FORWARD,
    FORWARD_AGAIN,
    NOTE,
    SET_UP,
    UNUSUAL,
    WASH,
    RunEvent,
)
from records.runs.queries import Run, State
from records.runs.words import details, state_words, what_words
from records.workshop.telling import untold

MOST = 40
# The address of each act by itself, and in which states a person is offered it; what happened can be said in any.
ACTS: dict[str, tuple[str, tuple[State, ...]]] = {
    "forward": (FORWARD, ("not started",)),
    "diverted": (DIVERTED, ("on water", "on product")),
    "forward-again": (FORWARD_AGAIN, ("diverted",)),
    "set-up": (SET_UP, ("not started", "on water", "on product", "diverted")),
    "unusual": (UNUSUAL, ("not started", "on water", "on product", "diverted", "ended")),
    "note": (NOTE, ("not started", "on water", "on product", "diverted", "ended")),
    "ended": (ENDED, ("not started", "on water", "diverted")),
    "wash": (WASH, ("ended",)),
}
page = require_http_methods(["GET", "HEAD", "POST"])


@dataclass(frozen=True, slots=True)
class Line:
    """A run in the list."""

    run: Run
    state: str
    products: str
    deviations: int


@dataclass(frozen=True, slots=True)
class Told:
    """One row of a run's record."""

    row: RunEvent
    what: str
    details: str
    struck: bool
    may_amend: bool


@require_safe
def runs(request: HttpRequest) -> HttpResponse:
    """The pasteurizers with the run that stands at each, and the latest runs."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    presses = [
        (one, queries.open_run(one.code)) for one in in_force.plan.vessels if one.kind == VesselKind.PASTEURIZER
    ]
    found = queries.latest(MOST)
    opened = queries.deviations_of(found, now)
    context = {
        "presses": [
            (
                one, run, state_words(run.state_at(now)) if run else "",
                queries.ended_elsewhere(run, now) if run else None,
            )
            for one, run in presses
        ],
        "lines": [_line(one, now, len(opened[one.number])) for one in found],
        "may_begin": _may(request, "records:run-new"),
        "most": MOST,
        "zone": in_force.zone,
    }
    return render(request, "records/runs/runs.html", context)


def _line(run: Run, now: datetime, deviations: int) -> Line:
    names = [one.product_name for one in run.events if one.movement and one.product_name]
    return Line(run, state_words(run.state_at(now)), ", ".join(dict.fromkeys(names)), deviations)


@require_safe
def run(request: HttpRequest, run: int) -> HttpResponse:
    """One run: its state, what stands between it and product, what happened, and what can be said now."""
    found = _run_or_404(run)
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    state = found.state_at(now)
    first = found.first_product()
    items = starting.items(found, first.happened_at if first else now, in_force)
    rows = queries.all_rows(found)
    standing = {one.number for one in found.events}
    set_up = found.set_up_at(now)
    # Read again on a set-up changed in the run; and late, where product flowed without it.
    changed = first is not None and first.happened_at < set_up.happened_at
    since = set_up.happened_at if changed or (first and starting.unread(items)) else None
    readings = starting.read_since(found, since, found.ended_at or now, in_force) if since else []
    opened = queries.deviations_of([found], now)[found.number]
    by = cast(Request, request).actor
    may_say = _may(request, "records:run-event")
    back = reverse("records:run", args=[found.number])
    against = [] if state == "ended" else _against(found, items, now, in_force)
    context = {
        "run": found,
        "state": state,
        "state_words": state_words(state),
        "set_up": set_up,
        "items": items,
        "against": [(one, starting.answer_page(one, found.place, now, back)) for one in against],
        "untold": untold(found.place, in_force),
        "unknown": starting.unknown(found, now, in_force) if not first else [],
        "first": first,
        "asked": sum(bool(one.key) for one in items),
        "answered": sum(one.reading is not None for one in items),
        "readings": readings,
        "since": since,
        "during": starting.read_during(found, now, in_force),
        "told": [
            Told(
                one, what_words(one.what), details(one), one.number not in standing,
                one.number in standing and one.movement is None and may_say and not actions.why_not(by, one),
            )
            for one in rows
        ],
        "deviations": Deviation.objects.filter(number__in=opened).order_by("number"),
        "acts": [(slug, what_words(what)) for slug, (what, states) in ACTS.items()
                 if state in states and not (what == WASH and any(one.what == WASH for one in found.events))],
        "may_say": may_say,
        "divert": bool(against) and state == "on product",  # the first thing to do then
        "may_product": state != "ended" and _may(request, "records:run-product"),
        "runs_product": found.movement_at(now) is not None,
        "ended": queries.ended_elsewhere(found, now) if state != "ended" else None,
        "zone": in_force.zone,
    }  # fmt: skip
    return render(request, "records/runs/run.html", context)


def _against(run: Run, items: list[starting.Item], now: datetime, in_force: InForce) -> list[starting.Item]:
    """What stands against product now: before it first flowed `items` and the washes, afterwards as things are now."""
    if run.first_product() is not None:
        return starting.against(run, now, in_force)
    unclean = starting.not_clean(run, now, in_force)
    vessel = reverse("records:vessel", args=[run.place])  # where its wash and its sanitizing are recorded
    bar = [starting.barred(unclean, page=vessel)] if unclean else []
    return [*(one for one in items if not one.is_good), *bar]


@page
def new(request: HttpRequest) -> HttpResponse:
    """A start begun at a press."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    presses = {one.code: one for one in in_force.plan.vessels if one.kind == VesselKind.PASTEURIZER}
    asked = request.GET.get("press", "")
    press = presses.get(asked) or (next(iter(presses.values())) if len(presses) == 1 else None)
    if press is None:
        return redirect("records:runs")
    form = StartForm(_sent(request), in_force=in_force, now=now, place=press.code)
    if request.method == "POST":
        saved = _save(form, lambda: actions.begin_start(_by(request), form.start()))
        if saved is not None:
            messages.success(request, _("The start is begun. Its checks are asked below."))
            return redirect("records:run", run=saved.number)
    return _show(request, form, _("%(press)s: begin a start") % {"press": press.name})


@page
def product(request: HttpRequest, run: int) -> HttpResponse:
    """Product instead of water, or after another product: it begins now, or has begun."""
    found, now, in_force = _open(run)
    form = ProductForm(_sent(request), in_force=in_force, now=now, place=found.place, run=found)
    against: list[starting.Item] = []
    if request.method == "POST":
        begins = BEGINS_NOW in request.POST
        saved = _save(form, lambda: actions.product_in(_by(request), form.product(found.number, begins_now=begins)))
        if saved is not None:
            return _saved(request, saved, found)
    else:
        against = starting.against(found, now, in_force)
    heading = _("%(press)s: product") % {"press": found.first.place_name}
    return _show(request, form, heading, run=found, against=against)


@page
def out(request: HttpRequest, run: int) -> HttpResponse:
    """Water after the product."""
    found, now, in_force = _open(run)
    form = OutForm(_sent(request), in_force=in_force, now=now, place=found.place, run=found)
    if request.method == "POST":
        saved = _save(form, lambda: actions.product_out(_by(request), form.out(found.number)))
        if saved is not None:
            return _saved(request, saved, found)
    return _show(request, form, _("%(press)s: product to water") % {"press": found.first.place_name}, run=found)


@page
def event(request: HttpRequest, run: int, what: str) -> HttpResponse:
    """One thing that happened."""
    if what not in ACTS:
        raise Http404(_("There is no such event."))
    found, now, in_force = _open(run)
    kind = ACTS[what][0]
    form = EventForm(_sent(request), in_force=in_force, now=now, place=found.place, run=found, what=kind)
    if request.method == "POST":
        saved = _save(form, lambda: actions.say(_by(request), form.event(found.number)))
        if saved is not None:
            return _saved(request, saved, found)
    words = {"press": found.first.place_name, "what": what_words(kind)}
    return _show(request, form, _("%(press)s: %(what)s") % words, run=found)


@page
def amend(request: HttpRequest, number: int) -> HttpResponse:
    """An event as it should have been said."""
    row = RunEvent.objects.filter(number=number).first() if number < 2**63 else None
    if row is None:
        raise Http404(_("There is no such event."))
    found, now, in_force = _open(row.run or row.number)
    known = {
        "happened_at": row.happened_at, "words": row.words, "set_up": row.set_up, "product": row.product,
        "chart_number": row.chart_number,
    }  # fmt: skip
    form = AmendForm(
        _sent(request), in_force=in_force, now=now, place=found.place, run=found, what=row.what, initial=known
    )
    refusal = actions.why_not(cast(Request, request).actor, row)
    if request.method == "POST":
        saved = _save(form, lambda: _amended(request, form, row, found))
        if saved is not None:
            return _saved(request, saved, found)
    words = {"press": found.first.place_name, "what": what_words(row.what)}
    heading = _("%(press)s: amend “%(what)s”") % words
    return _show(request, form, heading, run=found, refusal=refusal)


def _amended(request: HttpRequest, form: AmendForm, row: RunEvent, found: Run) -> RunEvent:
    said = form.cleaned_data
    return actions.amend(_by(request), row.number, form.event(found.number), said["reason"], void=said["void"])


def _saved(request: HttpRequest, row: Any, run: Run) -> HttpResponse:
    """Say what was saved and what followed, and go to the run."""
    messages.success(request, _("Recorded: %(what)s.") % {"what": what_words(row.what)})
    for number in filter(None, [row.number, row.movement]):
        for text in sentences_of(number):
            messages.warning(request, text)
    if queries.run_of(run.number) is None:
        return redirect("records:runs")
    return redirect("records:run", run=run.number)


def _save(form: Any, act: Callable[[], RunEvent]) -> Any:
    """What the act made of a form in order, or None with each refusal beside its field."""
    return saved_by(form, act) if form.is_valid() else None


def _show(request: HttpRequest, form: Any, heading: str, **more: Any) -> HttpResponse:
    status = 422 if form.errors else 200
    context = {"form": form, "heading": heading, "zone": form.in_force.zone, **more}
    return render(request, "records/runs/form.html", context, status=status)


def _run_or_404(number: int) -> Run:
    found = queries.run_of(number)
    if found is None:
        raise Http404(_("There is no such run."))
    return found


def _open(number: int) -> tuple[Run, datetime, InForce]:
    found = _run_or_404(number)
    now, in_force = now_and_plan()
    if in_force is None:
        raise Http404(_("No plan is in force."))
    return found, now, in_force


def _by(request: HttpRequest) -> Any:
    return cast(Request, request).actor


def _sent(request: HttpRequest) -> Any:
    return request.POST if request.method == "POST" else None


def _may(request: HttpRequest, route: str) -> bool:
    return bool(cast(Request, request).roles & RIGHTS.get(route, frozenset()))


