"""Pages of freezer runs: the list, one run with what stands against its draw, a form for each act."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from records.checks.asking import KEY_TIME
from records.checks.models import Reading
from records.flow.forms import BEGINS_NOW
from records.flow.pages import no_plan, now_and_plan, with_query
from records.freezer_runs import actions, queries, state
from records.freezer_runs.forms import AmendForm, BeginForm, DrawForm, DrawnForm, SayForm
from records.freezer_runs.models import (
    CUP,
    DRAW,
    FED,
    FIRST_RIGHT,
    HARDENING,
    PURGED,
    FreezerEvent,
)
from records.freezer_runs.state import FreezerRun, State
from records.freezer_runs.words import details, state_words, what_words
from records.judging.queries import governing
from records.judging.words import to_operator
from records.people.plans import InForce
from records.run_rows import acts, pages
from records.run_rows import queries as runs_of
from records.run_rows.models import ENDED, NOTE, UNUSUAL

MOST = 40
FORM = "records/freezer_runs/form.html"
_GOING: tuple[State, ...] = ("not drawing", "drawing", "between products")
# The address of each act by itself, and in which states a person is offered it; what happened can be said in any.
ACTS: dict[str, tuple[str, tuple[State, ...]]] = {
    "purged": (PURGED, ("not drawing", "between products")),
    "first-tubs": (FIRST_RIGHT, ("drawing",)),
    "temperature": (DRAW, ("drawing",)),
    "cup": (CUP, ("drawing",)),
    "feeder": (FED, _GOING),
    "hardening": (HARDENING, ("drawing", "between products")),
    "unusual": (UNUSUAL, (*_GOING, "ended")),
    "note": (NOTE, (*_GOING, "ended")),
    "ended": (ENDED, ("not drawing", "between products")),
}
page = require_http_methods(["GET", "HEAD", "POST"])


@dataclass(frozen=True, slots=True)
class Line:
    """A run in the list."""

    run: FreezerRun
    state: str
    products: str
    tubs: int
    missing: int
    deviations: int


@require_safe
def freezer_runs(request: HttpRequest) -> HttpResponse:
    """The freezers with the run that stands at each, and the latest runs."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    found = [(one, runs_of.open_run(FreezerEvent, one.code)) for one in state.freezers(in_force.plan)]
    latest = runs_of.latest(FreezerEvent, MOST)
    opened = queries.causes(latest)
    context = {
        "freezers": [(one, run, state_words(state.state_at(run, now)) if run else "") for one, run in found],
        "lines": [_line(one, now, in_force, opened) for one in latest],
        "may_begin": pages.may(request, "records:freezer-run-new"),
        "most": MOST,
        "zone": in_force.zone,
    }
    return render(request, "records/freezer_runs/runs.html", context)


def _line(run: FreezerRun, now: datetime, in_force: InForce, opened: dict[int, int]) -> Line:
    names = dict.fromkeys(one.product_name for one in run.events if one.movement)
    numbers = {opened[one] for one in queries.numbers(run) if one in opened}
    return Line(
        run, state_words(state.state_at(run, now)), ", ".join(names), queries.tubs_made(run),
        len(state.missing(run, in_force)), len(numbers),
    )  # fmt: skip


@require_safe
def freezer_run(request: HttpRequest, run: int) -> HttpResponse:
    """One run: its state, what stands against the draw, what is missing, what happened, what can be said now."""
    found = pages.run_or_404(FreezerEvent, run)
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    current = state.state_at(found, now)
    drawing = state.drawing_at(found, now)
    product = drawing.product if drawing else found.first.product
    at = drawing.happened_at if drawing else now
    rows = runs_of.all_rows(FreezerEvent, found)
    may_say = pages.may(request, "records:freezer-run-event")
    causes = [*(one.number for one in rows), *queries.readings_of(rows)]
    items = [] if current == "ended" else state.items(found, product, at, in_force)
    context = {
        "run": found,
        "state": current,
        "state_words": state_words(current),
        "product": queries.product_name(product, in_force),
        "items": [(one, _ask(one, found, now)) for one in items],
        "against": [one for one in items if not one.good],
        "missing": state.missing(found, in_force),
        "told": _told(request, found, rows, may_say),
        "tubs": queries.tubs_made(found),
        "aside": queries.tubs_aside(found),
        "rework": queries.rework(found),
        "amend_route": "records:freezer-run-amend",
        "deviations": pages.deviations_of(causes),
        "acts": [(slug, what_words(what)) for slug, (what, states) in ACTS.items() if current in states],
        "may_say": may_say,
        "zone": in_force.zone,
    }
    return render(request, "records/freezer_runs/run.html", context)


def _told(request: HttpRequest, run: FreezerRun, rows: list[FreezerEvent], may_say: bool) -> list[pages.Told]:
    outcomes = governing(Reading.KIND, queries.readings_of(rows))
    found = pages.told(rows, run, what_words, details, pages.by(request), may_say)
    with_readings = []
    for one, row in zip(found, rows, strict=True):
        numbers = [number for number in (row.reading, row.reading_two) if number]
        read = tuple((each, to_operator(outcomes[each].outcome) if each in outcomes else "") for each in numbers)
        with_readings.append(replace(one, readings=read))
    return with_readings


def _ask(one: state.Item, run: FreezerRun, now: datetime) -> str:
    """The page on which what is wanted is answered now; it leads back to the run."""
    if not one.ask:
        return ""
    page = reverse("records:round-check", kwargs={"key": f"{one.ask}||{now.strftime(KEY_TIME)}"})
    return with_query(page, next=reverse("records:freezer-run", args=[run.number]))


@page
def new(request: HttpRequest) -> HttpResponse:
    """A run begun at a freezer."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    known = {one.code: one for one in state.freezers(in_force.plan)}
    freezer = known.get(request.GET.get("freezer", "")) or (next(iter(known.values())) if len(known) == 1 else None)
    if freezer is None:
        return redirect("records:freezer-runs")
    form = BeginForm(pages.sent(request), in_force=in_force, now=now, place=freezer.code)
    if request.method == "POST":
        saved = pages.saved(form, lambda: actions.begin(pages.by(request), form.begin()))
        if saved is not None:
            messages.success(request, _("The run is begun. What is wanted before the draw stands below."))
            return redirect("records:freezer-run", run=saved.number)
    return pages.show(request, form, _("%(freezer)s: begin a run") % {"freezer": freezer.name}, FORM)


@page
def draw(request: HttpRequest, run: int) -> HttpResponse:
    """The draw of a product: it begins now, or has begun."""
    found, now, in_force = pages.opened(FreezerEvent, run)
    initial = {"product": found.first.product}
    form = DrawForm(pages.sent(request), in_force=in_force, now=now, place=found.place, initial=initial)
    against: list[state.Item] = []
    if request.method == "POST":
        begins = BEGINS_NOW in request.POST
        saved = pages.saved(
            form, lambda: actions.draw_begins(pages.by(request), form.draw(found.number, begins_now=begins))
        )
        if saved is not None:
            return _saved(request, saved, found)
    else:
        against = state.against(found, found.first.product, now, in_force)
    heading = _("%(freezer)s: draw") % {"freezer": found.first.place_name}
    return pages.show(request, form, heading, FORM, run=found, against=against)


@page
def drawn(request: HttpRequest, run: int) -> HttpResponse:
    """The draw ended."""
    found, now, in_force = pages.opened(FreezerEvent, run)
    form = DrawnForm(pages.sent(request), in_force=in_force, now=now, place=found.place)
    if request.method == "POST":
        saved = pages.saved(form, lambda: actions.draw_ends(pages.by(request), form.drawn(found.number)))
        if saved is not None:
            return _saved(request, saved, found)
    heading = _("%(freezer)s: draw ended") % {"freezer": found.first.place_name}
    return pages.show(request, form, heading, FORM, run=found)


@page
def event(request: HttpRequest, run: int, what: str) -> HttpResponse:
    """One thing that happened, with the values of the last weeks beside it."""
    if what not in ACTS:
        raise Http404(_("There is no such event."))
    found, now, in_force = pages.opened(FreezerEvent, run)
    kind = ACTS[what][0]
    form = SayForm(
        pages.sent(request), in_force=in_force, now=now, place=found.place, what=kind,
        initial=queries.known_before(found, kind),
    )  # fmt: skip
    if request.method == "POST":
        saved = pages.saved(form, lambda: actions.say(pages.by(request), form.said(found.number)))
        if saved is not None:
            return _saved(request, saved, found)
    words = {"freezer": found.first.place_name, "what": what_words(kind)}
    return pages.show(
        request, form, _("%(freezer)s: %(what)s") % words, FORM, run=found, is_cup=kind == CUP,
        before=[(one, details(one)) for one in queries.last_weeks(found, kind)], mark=in_force.plan.plant.decimal_mark,
        limits=_limits(found, kind, in_force),
    )  # fmt: skip


def _limits(run: FreezerRun, kind: str, in_force: InForce) -> list[str]:
    """The plan's limits on what is asked, each with its clause."""
    quantities = {
        DRAW: [state.DRAW_QUANTITY], CUP: [state.OVERRUN_QUANTITY, state.WEIGHT_QUANTITY],
        HARDENING: [state.HARDENING_QUANTITY],
    }.get(kind, [])  # fmt: skip
    return [one for quantity in quantities for one in queries.limit_words(quantity, run.place, in_force)]


@page
def amend(request: HttpRequest, number: int) -> HttpResponse:
    """An event as it should have been said."""
    row = pages.row_or_404(FreezerEvent, number)
    found, now, in_force = pages.opened(FreezerEvent, row.run or row.number)
    known = {name: getattr(row, name) for name in AMENDED if getattr(row, name) not in (None, "")}
    known |= {"amount": row.amount_typed, "allergens": row.allergens.split(", "), "no_allergens": not row.allergens}
    form = AmendForm(
        pages.sent(request), in_force=in_force, now=now, place=found.place, what=row.what, initial=known
    )
    if request.method == "POST":
        saved = pages.saved(form, lambda: _amended(request, form, row, found))
        if saved is not None:
            return _saved(request, saved, found)
    words = {"freezer": found.first.place_name, "what": what_words(row.what)}
    heading = _("%(freezer)s: amend “%(what)s”") % words
    refusal = acts.why_not(pages.by(request), row)
    return pages.show(request, form, heading, FORM, run=found, refusal=refusal)


AMENDED = (
    "happened_at", "words", "about", "tubs", "became", "use_within_h", "ingredient", "lot_code", "unit", "instrument",
    "cup_empty", "cup_mix", "cup_product", "mass_unit", "mix_lb_gal", "drawn_at",
)  # fmt: skip


def _amended(request: HttpRequest, form: AmendForm, row: FreezerEvent, found: FreezerRun) -> FreezerEvent:
    given = form.cleaned_data
    return actions.amend(
        pages.by(request), row.number, form.said(found.number), given["reason"], void=given["void"]
    )


def _saved(request: HttpRequest, row: FreezerEvent, run: FreezerRun) -> HttpResponse:
    return pages.onward(request, row, run, what_words(row.what), "records:freezer-run", "records:freezer-runs")
