"""Pages of vat runs: the list, one run with its hold, its verdicts and what is missing, a form for each act."""

from __future__ import annotations

from dataclasses import dataclass, replace

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from plant.process import pasteurization
from plant.process.said import again
from plant.process.units import plain
from plant.rules.pasteurization import vat_rules_of
from records.flow.forms import BEGINS_NOW
from records.flow.pages import no_plan, now_and_plan
from records.flow.queries import contents_at
from records.judging.judge import GOOD
from records.judging.vat import AIR_CLAUSE, row_for
from records.judging.words import to_operator
from records.people.plans import InForce
from records.run_rows import acts, pages
from records.run_rows import queries as runs_of
from records.run_rows.models import ENDED, NOTE, UNUSUAL
from records.vat_runs import actions, queries, state
from records.vat_runs.forms import AmendForm, BeginForm, OpenForm, SayForm, ShutForm
from records.vat_runs.models import HOLD_BEGUN, HOLD_ENDED, READ, VatEvent
from records.vat_runs.state import State, VatRun
from records.vat_runs.words import details, state_words, what_words

MOST = 40
FORM = "records/vat_runs/form.html"
_GOING: tuple[State, ...] = ("not holding", "holding", "hold ended", "emptying")
# The address of each act by itself, and in which states a person is offered it; what happened can be said in any.
ACTS: dict[str, tuple[str, tuple[State, ...]]] = {
    "hold": (HOLD_BEGUN, ("not holding", "holding", "hold ended")),
    "read": (READ, ("not holding", "holding")),
    "hold-ended": (HOLD_ENDED, ("holding",)),
    "unusual": (UNUSUAL, (*_GOING, "ended")),
    "note": (NOTE, (*_GOING, "ended")),
    "ended": (ENDED, ("not holding", "hold ended")),
}
page = require_http_methods(["GET", "HEAD", "POST"])


@dataclass(frozen=True, slots=True)
class Line:
    """A run in the list."""

    run: VatRun
    state: str
    outcome: str
    missing: int


@require_safe
def vat_runs(request: HttpRequest) -> HttpResponse:
    """The vats with the run that stands at each, and the latest runs."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    found = [(one, runs_of.open_run(VatEvent, one.code)) for one in state.vats(in_force.plan)]
    latest = runs_of.latest(VatEvent, MOST)
    outcomes = queries.outcomes(latest)
    context = {
        "vats": [(one, run, state_words(state.state_at(run, now)) if run else "") for one, run in found],
        "lines": [
            Line(one, state_words(state.state_at(one, now)), outcomes.get(one.number, ""), len(state.missing(one)))
            for one in latest
        ],
        "may_begin": pages.may(request, "records:vat-run-new"),
        "most": MOST,
        "zone": in_force.zone,
    }
    return render(request, "records/vat_runs/runs.html", context)


@require_safe
def vat_run(request: HttpRequest, run: int) -> HttpResponse:
    """One run: what its hold has to be, what it was judged to be, what is missing, what happened."""
    found = pages.run_or_404(VatEvent, run)
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    current = state.state_at(found, now)
    rows = runs_of.all_rows(VatEvent, found)
    may_say = pages.may(request, "records:vat-run-event")
    holds = contents_at(now, [found.place]).get(found.place)
    context = {
        "run": found,
        "state": current,
        "state_words": state_words(current),
        "wanted": wanted(found.place, found.first.product_class, in_force),
        "contents": holds.words if holds is not None and holds.holds else "",
        "against": state.against(found, now) if current not in ("ended", "holding") else [],
        "missing": state.missing(found),
        "told": _told(request, found, rows, may_say),
        "amend_route": "records:vat-run-amend",
        "deviations": pages.deviations_of(one.number for one in rows),
        "acts": [(slug, what_words(what)) for slug, (what, states) in ACTS.items() if current in states],
        "may_say": may_say,
        "zone": in_force.zone,
    }
    return render(request, "records/vat_runs/run.html", context)


def wanted(place: str, product_class: str, in_force: InForce) -> str:
    """What a hold of this product has to be, with its clauses; empty where the tables have no row."""
    row = row_for(place, product_class, in_force)
    if row is None:
        return ""
    least = pasteurization.least_air_space(row, vat_rules_of(in_force.plan.plant.rule_set))
    words = {"row": again(row.words, _), "clause": row.clause}
    said = _("%(row)s (%(clause)s)") % words
    if least is None:
        return said
    air = {"least": plain(least, 2), "unit": row.unit, "clause": AIR_CLAUSE}
    return said + "; " + _("air space %(least)s %(unit)s or above (%(clause)s)") % air


def _told(request: HttpRequest, run: VatRun, rows: list[VatEvent], may_say: bool) -> list[pages.Told]:
    verdicts = queries.verdicts_of(rows)
    found = pages.told(rows, run, what_words, details, pages.by(request), may_say)
    return [
        replace(one, outcome=to_operator(verdicts[one.row.number].outcome), reason=verdicts[one.row.number].reason,
                is_good=verdicts[one.row.number].outcome in GOOD)
        if one.row.number in verdicts
        else one
        for one in found
    ]  # fmt: skip


@page
def new(request: HttpRequest) -> HttpResponse:
    """A run begun at a vat."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    known = {one.code: one for one in state.vats(in_force.plan)}
    vat = known.get(request.GET.get("vat", "")) or (next(iter(known.values())) if len(known) == 1 else None)
    if vat is None:
        return redirect("records:vat-runs")
    form = BeginForm(pages.sent(request), in_force=in_force, now=now, place=vat.code)
    if request.method == "POST":
        saved = pages.saved(form, lambda: actions.begin(pages.by(request), form.begin()))
        if saved is not None:
            messages.success(request, _("The run is begun."))
            return redirect("records:vat-run", run=saved.number)
    return pages.show(request, form, _("%(vat)s: begin a run") % {"vat": vat.name}, FORM)


@page
def opened(request: HttpRequest, run: int) -> HttpResponse:
    """The outlet opened: it opens now, or was opened."""
    found, now, in_force = pages.opened(VatEvent, run)
    form = OpenForm(pages.sent(request), in_force=in_force, now=now, place=found.place)
    against: list[str] = []
    if request.method == "POST":
        begins = BEGINS_NOW in request.POST
        saved = pages.saved(
            form, lambda: actions.open_outlet(pages.by(request), form.opened(found.number, begins_now=begins))
        )
        if saved is not None:
            return _saved(request, saved, found)
    else:
        against = state.against(found, now)
    heading = _("%(vat)s: outlet opened") % {"vat": found.first.place_name}
    return pages.show(request, form, heading, FORM, run=found, against=against)


@page
def shut(request: HttpRequest, run: int) -> HttpResponse:
    """The outlet shut."""
    found, now, in_force = pages.opened(VatEvent, run)
    form = ShutForm(pages.sent(request), in_force=in_force, now=now, place=found.place)
    if request.method == "POST":
        saved = pages.saved(form, lambda: actions.shut_outlet(pages.by(request), form.shut(found.number)))
        if saved is not None:
            return _saved(request, saved, found)
    heading = _("%(vat)s: outlet shut") % {"vat": found.first.place_name}
    return pages.show(request, form, heading, FORM, run=found)


@page
def event(request: HttpRequest, run: int, what: str) -> HttpResponse:
    """One thing that happened, with what the last weeks' holds of the product were beside it."""
    if what not in ACTS:
        raise Http404(_("There is no such event."))
    found, now, in_force = pages.opened(VatEvent, run)
    kind = ACTS[what][0]
    form = SayForm(pages.sent(request), in_force=in_force, now=now, place=found.place, what=kind)
    if request.method == "POST":
        saved = pages.saved(form, lambda: actions.say(pages.by(request), form.said(found.number)))
        if saved is not None:
            return _saved(request, saved, found)
    words = {"vat": found.first.place_name, "what": what_words(kind)}
    before = [(one, details(one)) for one in queries.last_weeks(found, kind)]
    asked = wanted(found.place, found.first.product_class, in_force) if kind in (HOLD_BEGUN, READ, HOLD_ENDED) else ""
    return pages.show(request, form, _("%(vat)s: %(what)s") % words, FORM, run=found, before=before, wanted=asked)


@page
def amend(request: HttpRequest, number: int) -> HttpResponse:
    """An event as it should have been said."""
    row = pages.row_or_404(VatEvent, number)
    found, now, in_force = pages.opened(VatEvent, row.run or row.number)
    known = {
        "happened_at": row.happened_at, "words": row.words, "unit": row.unit, "indicating": row.indicating_typed,
        "recording": row.recording_typed, "air_space": row.air_space_typed, "valve_closed": row.valve_closed,
        "leak_drained": row.leak_drained, "agitated": row.agitated, "cover_closed": row.cover_closed,
        "fill_min": row.fill_typed, "empty_min": row.empty_typed,
    }  # fmt: skip
    form = AmendForm(pages.sent(request), in_force=in_force, now=now, place=found.place, what=row.what, initial=known)
    if request.method == "POST":
        saved = pages.saved(form, lambda: _amended(request, form, row, found))
        if saved is not None:
            return _saved(request, saved, found)
    words = {"vat": found.first.place_name, "what": what_words(row.what)}
    refusal = acts.why_not(pages.by(request), row)
    return pages.show(request, form, _("%(vat)s: amend “%(what)s”") % words, FORM, run=found, refusal=refusal)


def _amended(request: HttpRequest, form: AmendForm, row: VatEvent, found: VatRun) -> VatEvent:
    given = form.cleaned_data
    return actions.amend(pages.by(request), row.number, form.said(found.number), given["reason"], void=given["void"])


def _saved(request: HttpRequest, row: VatEvent, run: VatRun) -> HttpResponse:
    return pages.onward(request, row, run, what_words(row.what), "records:vat-run", "records:vat-runs")
