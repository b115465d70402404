"""Pages of receiving: the list, one load with its paper, screens and steps, a form for each act, a month's loads."""

from __future__ import annotations

import csv
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

from dateutil.relativedelta import relativedelta
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from plant.process.residue import POSITIVE, Residue
from plant.process.units import plain
from records.flow import doubts, story
from records.flow.forms import BEGINS_NOW
from records.flow.pages import no_plan, now_and_plan
from records.ledger import files
from records.ledger.models import FileKept
from records.people.plans import InForce
from records.receiving import actions, farms, forms, outside, pickups, queries, state
from records.receiving.models import (
    ARRIVED,
    CLEARED,
    DECIDED,
    OWNER_TOLD,
    REGULATOR_TOLD,
    SCREENED,
    STOPPED,
    TRACED,
    LoadEvent,
    LoadPhoto,
)
from records.receiving.state import Load
from records.receiving.words import details, means_words, state_words, step_clause, what_words
from records.run_rows import acts, pages
from records.run_rows import queries as loads
from records.run_rows.models import ENDED, NOTE, UNUSUAL

MOST = 40
FORM = "records/receiving/form.html"
SAYS = {
    "regulator": REGULATOR_TOLD,
    "owner": OWNER_TOLD,
    "decided": DECIDED,
    "producers": TRACED,
    "stopped": STOPPED,
    "cleared": CLEARED,
    "unusual": UNUSUAL,
    "note": NOTE,
    "left": ENDED,
}
COLUMNS = ("load", "arrived", "tanker", "ticket", "farms", "pounds", "residue", "tests", "counting", "missing")
_SLUGS = {what: slug for slug, what in SAYS.items()}
page = require_http_methods(["GET", "HEAD", "POST"])


@dataclass(frozen=True, slots=True)
class Line:
    """A load in the list."""

    load: Load
    state: str
    residue: str
    is_open: bool
    missing: int


@require_safe
def receiving(request: HttpRequest) -> HttpResponse:
    """The latest loads: where each is, what its residue result is, what its record lacks."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    lines = [_line(one, now, in_force) for one in loads.latest(LoadEvent, MOST)]
    context = {
        "open": [one for one in lines if one.is_open],
        "lines": lines,
        "most": MOST,
        "waiting": [(one, story.movement_words(one.row, None)) for one in outside.waiting()],
        "may_begin": pages.may(request, "records:load-new"),
        "zone": in_force.zone,
        "month": f"{in_force.calendar.local(now):%Y-%m}",
    }
    return render(request, "records/receiving/loads.html", context)


def _line(load: Load, now: datetime, in_force: InForce) -> Line:
    where, residue = state.state_at(load, now), state.residue_at(load, now, in_force)
    lacking = len(state.missing(load, in_force))
    still = where in ("at the bay", "unloading") or bool(lacking)
    return Line(load, state_words(where), state.residue_words(residue), still, lacking)


@require_safe
def load_page(request: HttpRequest, load: int) -> HttpResponse:
    """One load: its paper, its screens, what a positive asks, what happened."""
    found = pages.run_or_404(LoadEvent, load)
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    where, residue = state.state_at(found, now), state.residue_at(found, now)
    may_say = pages.may(request, "records:load-say")
    rows = loads.all_rows(LoadEvent, found)
    context = {
        "load": found,
        "run": found,
        "state": where,
        "state_words": state_words(where),
        "means": means_words(found.first.means),
        "residue": state.residue_words(residue),
        "pending": residue == Residue.PENDING,
        "positive": residue in POSITIVE,
        "before_unloading": not in_force.plan.settings.unloads_on_pending,
        "steps": [
            (what_words(one.what), one.row, step_clause(one.what), _SLUGS[one.what]) for one in state.steps(found)
        ],
        "farms": [farms.said(one, found.first, in_force) for one in found.first.farms],
        "warm": pickups.out_of_limits(found, in_force, now),
        "process_by": farms.process_by(found.first, in_force) if where in ("at the bay", "unloading") else [],
        "decided": pickups.is_decided(found, now),
        "against": pickups.against(found, now, in_force) if where == "at the bay" else [],
        "weight": _weight(found.first),
        "tags": LoadPhoto.objects.filter(load=found.number).order_by("number"),
        "linked": [one for one in found.events if actions.linked_later(one)] if may_say else [],
        "told": pages.told(rows, found, what_words, details, pages.by(request), may_say),
        "amend_route": "records:load-amend",
        "deviations": queries.deviations_of(found),
        "says": [(slug, what_words(SAYS[slug])) for slug in ("unusual", "note")],
        "may_say": may_say,
        "zone": in_force.zone,
    }
    return render(request, "records/receiving/load.html", context)


def _weight(row: LoadEvent) -> str:
    """The density [lb/gal] by which a ticket's gallons were worked out."""
    return plain(row.pounds / row.gallons, 2) if row.pounds and row.gallons else ""


@page
def new(request: HttpRequest) -> HttpResponse:
    """A load at the bay."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    waiting = outside.waiting_of(_number(request.GET.get("movement", "")))
    known = _carried(request, waiting)
    form = forms.ArriveForm(pages.sent(request), in_force=in_force, now=now, initial=known)
    if form.asks_for_a_farm:
        form.only_grow()
    elif request.method == "POST":
        saved = pages.saved(form, lambda: actions.arrive(pages.by(request), form.arrived()))
        if saved is not None and waiting is not None:
            messages.success(request, _("Recorded. Say below that the milk was this load's."))
            return redirect("records:load-of-movement", movement=waiting.row.number)
        if saved is not None:
            messages.success(request, _("Recorded. The residue screen is asked below."))
            return redirect("records:load", load=saved.number)
    return pages.show(request, form, _("A load has arrived"), FORM)


def _number(text: str) -> int:
    """A ledger number of the address; 0 for anything else."""
    return int(text) if text.isascii() and text.isdigit() and len(text) < 19 else 0


CARRIED = ("place", "product", "farm_1", "farm_pounds_1", "pounds", "words")


def _carried(request: HttpRequest, waiting: outside.Waiting | None) -> dict[str, Any]:
    """What was typed of a movement, or what the book has of one without a load."""
    if waiting is not None:
        row = waiting.row
        pounds = row.quantity_typed if row.unit == "lb" else ""
        known = {"place": row.target, "product": row.product, "farm_1": row.source_name, "happened_at": row.started_at}
        return known | {"pounds": pounds, "farm_pounds_1": pounds, "words": row.note}
    known = {name: request.GET[name] for name in CARRIED if request.GET.get(name)}
    try:
        at = datetime.fromisoformat(request.GET.get("happened_at", ""))
    except ValueError:
        return known
    return known | ({"happened_at": at} if at.tzinfo is not None else {})


@page
def without_load(request: HttpRequest, movement: int) -> HttpResponse:
    """Raw milk that the book has without a load: to which it belongs; or, where it did not come in, its wait ended."""
    now, in_force = now_and_plan()
    waiting = outside.waiting_of(movement) if 0 < movement < 2**63 else None
    if in_force is None or waiting is None:
        raise Http404(_("Nothing of this movement waits for a residue result."))
    given: dict[str, Any] = {"in_force": in_force, "now": now}
    form: Any
    if waiting.happened:
        near = [one for one in loads.latest(LoadEvent, MOST) if one.first.happened_at <= waiting.row.started_at]
        choices = [(str(one.number), _load_choice(one, now, in_force)) for one in near if not _gone(one, now)]
        form = forms.LinkForm(pages.sent(request), loads=choices, **given)
    else:
        choices = []
        form = forms.WhyForm(pages.sent(request), button=_("It did not come in: end its wait"), **given)
    if request.method == "POST":
        by = pages.by(request)
        if waiting.happened:
            saved = pages.saved(form, lambda: actions.link(by, form.link(waiting.row.number)))
        else:
            saved = pages.saved(form, lambda: outside.end_wait(by, movement, form.cleaned_data["reason"]))
        if saved is not None:
            messages.success(request, _("Recorded."))
            return redirect("records:load", load=saved.run) if waiting.happened else redirect("records:receiving")
    context = {
        "form": form,
        "heading": _("Raw milk without a load: movement %(number)d") % {"number": waiting.row.number},
        "waiting": waiting,
        "about": story.movement_words(waiting.row, None),
        "loads": choices,
        "zone": in_force.zone,
    }
    return render(request, "records/receiving/without_load.html", context, status=422 if form.errors else 200)


def _gone(load: Load, now: datetime) -> bool:
    return state.state_at(load, now) == "gone"


def _load_choice(load: Load, now: datetime, in_force: InForce) -> str:
    words = {
        "number": load.number,
        "named": load.first.tanker or load.first.ticket or ", ".join(one["farm"] for one in load.first.farms),
        "when": in_force.calendar.local(load.first.happened_at).strftime("%Y-%m-%d %H:%M"),
        "state": state_words(state.state_at(load, now)),
        "residue": state.residue_words(state.residue_at(load, now, in_force)),
    }
    return _("Load %(number)d, %(named)s, arrived %(when)s: %(state)s; drug residues: %(residue)s") % words


@page
def unlink(request: HttpRequest, number: int) -> HttpResponse:
    """A movement was not this load's after all."""
    row = pages.row_or_404(LoadEvent, number)
    if not actions.linked_later(row):
        raise Http404(_("There is no such event."))
    found, now, in_force = pages.opened(LoadEvent, row.run or row.number)
    form = forms.WhyForm(pages.sent(request), in_force=in_force, now=now, button=_("It was not: record it"))
    if request.method == "POST":
        given = form.cleaned_data if form.is_valid() else {}
        saved = pages.saved(
            form, lambda: actions.unlink(pages.by(request), number, given["form_id"], given["reason"])
        )
        if saved is not None:
            return _saved(request, saved, found)
    heading = _("Load %(number)d: this milk was not of this load") % {"number": found.number}
    return pages.show(request, form, heading, FORM, load=found, refusal=acts.why_not(pages.by(request), row))


@page
def tag_new(request: HttpRequest, load: int) -> HttpResponse:
    """A photo of the wash tag."""
    found, now, in_force = pages.opened(LoadEvent, load)
    uploads = request.FILES if request.method == "POST" else None
    form = forms.TagForm(pages.sent(request), uploads, in_force=in_force, now=now)
    if request.method == "POST":
        by = pages.by(request)

        def keep() -> Any:
            given = form.cleaned_data
            return actions.keep_tag(by, found.number, given["photo"], given["words"], given["form_id"])

        if pages.saved(form, keep) is not None:
            messages.success(request, _("The photo is kept."))
            return redirect("records:load", load=found.number)
    heading = _("Load %(number)d: photo of the wash tag") % {"number": load}
    return pages.show(request, form, heading, FORM, load=found, has_file=True)


@require_safe
def tag(request: HttpRequest, load: int, photo: int) -> HttpResponse:
    """A photo exactly as it came."""
    row = LoadPhoto.objects.filter(load=load, number=photo).first() if max(load, photo) < 2**63 else None
    kept = FileKept.objects.filter(sha256=row.file).first() if row is not None else None
    if kept is None:
        raise Http404(_("There is no such photo of this load."))
    try:
        data = files.read(kept.sha256)
    except files.FileDamaged as damaged:
        raise Http404(str(damaged)) from damaged
    mime = kept.mime if kept.mime.startswith("image/") else "application/octet-stream"
    response = HttpResponse(data, content_type=mime)
    response["X-Content-Type-Options"] = "nosniff"
    return response


@page
def screen(request: HttpRequest, load: int) -> HttpResponse:
    """A residue test of the load."""
    found, now, in_force = pages.opened(LoadEvent, load)
    known = {"sample": found.first.sample, **_last_kit(now)}
    form = forms.ScreenForm(pages.sent(request), in_force=in_force, now=now, initial=known)
    if request.method == "POST":
        saved = pages.saved(form, lambda: actions.screen(pages.by(request), form.screened(found.number)))
        if saved is not None:
            return _saved(request, saved, found)
    return pages.show(request, form, _("Load %(number)d: residue screen") % {"number": load}, FORM, load=found)


def _last_kit(now: datetime) -> dict[str, Any]:
    """The kit of the last test, offered again: it changes with its box."""
    last = LoadEvent.objects.filter(what=SCREENED, happened_at__lte=now).order_by("-happened_at", "-number").first()
    return {} if last is None else {"kit": last.kit, "kit_lot": last.kit_lot, "kit_expires": last.kit_expires}


@page
def unload(request: HttpRequest, load: int) -> HttpResponse:
    """Unloading: it begins now, or has begun."""
    found, now, in_force = pages.opened(LoadEvent, load)
    known = {"target": found.place}
    form = forms.UnloadForm(pages.sent(request), in_force=in_force, now=now, initial=known)
    against: list[str] = []
    if request.method == "POST":
        begins = BEGINS_NOW in request.POST
        saved = None
        if form.is_valid():
            said = form.unload(found.number, begins_now=begins)
            if not form.doubt(_full("target", lambda: actions.unloading_too_full(found, said))):
                saved = pages.saved(form, lambda: actions.unload(pages.by(request), said))
        if saved is not None:
            return _saved(request, saved, found)
    else:
        against = pickups.against(found, now, in_force)
    heading = _("Load %(number)d: unloading") % {"number": load}
    return pages.show(request, form, heading, FORM, load=found, against=against)


@page
def unloaded(request: HttpRequest, load: int) -> HttpResponse:
    """Unloading ended."""
    found, now, in_force = pages.opened(LoadEvent, load)
    form = forms.UnloadedForm(pages.sent(request), in_force=in_force, now=now)
    if request.method == "POST":
        saved = None
        if form.is_valid():
            said = form.unloaded(found.number)
            if not form.doubt(_full("quantity", lambda: actions.unloaded_too_full(found, said))):
                saved = pages.saved(form, lambda: actions.unloaded(pages.by(request), said))
        if saved is not None:
            return _saved(request, saved, found)
    return pages.show(request, form, _("Load %(number)d: unloading ended") % {"number": load}, FORM, load=found)


def _full(field: str, ask: Callable[[], list[str]]) -> list[doubts.Doubt]:
    """The question whether the vessel can hold it, beside this field."""
    return [replace(one, field=field) for one in doubts.too_full([], ask)]


@page
def say(request: HttpRequest, load: int, what: str) -> HttpResponse:
    """A step after a positive, an unusual occurrence, a note, or that it left."""
    if what not in SAYS:
        raise Http404(_("There is no such event."))
    found, now, in_force = pages.opened(LoadEvent, load)
    form = forms.SayForm(pages.sent(request), in_force=in_force, now=now, what=SAYS[what])
    if request.method == "POST":
        saved = pages.saved(form, lambda: actions.say(pages.by(request), form.said(found.number)))
        if saved is not None:
            return _saved(request, saved, found)
    heading = _("Load %(number)d: %(what)s") % {"number": load, "what": what_words(SAYS[what])}
    return pages.show(request, form, heading, FORM, load=found, clause=step_clause(SAYS[what]))


@page
def amend(request: HttpRequest, number: int) -> HttpResponse:
    """What was said of a load, as it should have been said."""
    row = pages.row_or_404(LoadEvent, number)
    found, now, in_force = pages.opened(LoadEvent, row.run or row.number)
    given: dict[str, Any] = {"in_force": in_force, "now": now, "initial": _known(row)}
    form: Any
    if row.what == ARRIVED:
        form = forms.AmendArriveForm(pages.sent(request), **given)
    elif row.what == SCREENED:
        form = forms.AmendScreenForm(pages.sent(request), **given)
    else:
        form = forms.AmendSayForm(pages.sent(request), what=row.what, **given)
    if row.what == ARRIVED and form.asks_for_a_farm:
        form.only_grow()
    elif request.method == "POST":
        saved = pages.saved(form, lambda: _amended(request, form, row, found))
        if saved is not None:
            return _saved(request, saved, found)
    words = {"number": found.number, "what": what_words(row.what)}
    refusal = acts.why_not(pages.by(request), row)
    heading = _("Load %(number)d: amend “%(what)s”") % words
    return pages.show(request, form, heading, FORM, load=found, refusal=refusal)


def _known(row: LoadEvent) -> dict[str, Any]:
    """The form of a row as it was filled in."""
    known = {field.name: getattr(row, field.name) for field in LoadEvent._meta.concrete_fields}
    known.pop("form_id")
    known |= {"pounds": row.pounds_typed, "agitated": row.agitated_typed}
    for at, one in enumerate(row.farms, 1):
        known |= {f"farm_{at}": one["farm"], f"farm_pounds_{at}": one["pounds"]}
        known[f"farm_temperature_{at}"] = one.get("temperature", "")
        known[f"farm_collected_{at}"] = one.get("collected", "")
        times = ("picked_up", "milking_ended", "first_milking")
        known |= {f"farm_{name}_{at}": farms.moment(one, name) for name in times}
    return known


def _amended(request: HttpRequest, form: Any, row: LoadEvent, found: Load) -> LoadEvent:
    given = form.cleaned_data
    said: Any
    if row.what == ARRIVED:
        said = form.arrived()
    else:
        said = form.screened(found.number) if row.what == SCREENED else form.said(found.number)
    return actions.amend(pages.by(request), row.number, said, given["reason"], void=given["void"])


@require_safe
def month(request: HttpRequest) -> HttpResponse:
    """A month's loads and residue results, one to one, what is missing named; as a page or as CSV."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    first = _first_day(request.GET.get("month", ""), in_force.calendar.local(now).date())
    start, end = (in_force.calendar.utc(one, time()) for one in (first, first + relativedelta(months=1)))
    lines, alone = queries.month(start, end, in_force), outside.waiting_between(start, end)
    if request.GET.get("as") == "csv":
        return _month_csv(lines, alone, first, in_force)
    context = {
        "lines": [(one, state.residue_words(one.residue), [what_words(key) for key in one.missing]) for one in lines],
        "waiting": [(one, story.movement_words(one.row, None)) for one in alone],
        "may_begin": pages.may(request, "records:load-new"),
        "month": f"{first:%Y-%m}",
        "before": f"{first - relativedelta(months=1):%Y-%m}",
        "after": f"{first + relativedelta(months=1):%Y-%m}",
        "without": sum(not one.is_whole for one in lines),
        "pounds": plain(sum((one.load.first.pounds or Decimal(0) for one in lines), Decimal(0))),
        "zone": in_force.zone,
    }
    return render(request, "records/receiving/month.html", context)


def _first_day(text: str, today: date) -> date:
    try:
        first = date.fromisoformat(f"{text}-01")
    except ValueError:
        return today.replace(day=1)
    return first if date(2000, 1, 1) <= first <= today else today.replace(day=1)


def _month_csv(
    lines: list[queries.MonthLine], alone: list[outside.Waiting], first: date, in_force: InForce
) -> HttpResponse:
    answer = HttpResponse(content_type="text/csv; charset=utf-8")
    answer.headers["Content-Disposition"] = f'attachment; filename="loads-{first:%Y-%m}.csv"'
    writer = csv.writer(answer)
    writer.writerow(COLUMNS)
    for one in lines:
        row = one.load.first
        arrived = in_force.calendar.local(row.happened_at).isoformat(timespec="minutes")
        farms = ", ".join(each["farm"] for each in row.farms)
        cells = [one.load.number, arrived, row.tanker, row.ticket, farms, row.pounds_typed, one.residue.value]
        writer.writerow([_plain(cell) for cell in (*cells, one.tests, one.counting, ", ".join(one.missing))])
    for waits in alone:  # raw milk that no load brought: it has no number of a load, and lacks one
        moved = waits.row
        came = in_force.calendar.local(moved.started_at).isoformat(timespec="minutes")
        pounds = moved.quantity_typed if moved.unit == "lb" else ""
        cells = ["", came, "", "", moved.source_name, pounds, Residue.PENDING.value]
        writer.writerow([_plain(cell) for cell in (*cells, 0, 0, f"load of movement {moved.number}")])
    return answer


def _plain(cell: Any) -> Any:
    """A cell that no spreadsheet takes for a formula."""
    return f"'{cell}" if isinstance(cell, str) and cell[:1] in ("=", "+", "-", "@", "\t", "\r") else cell


def _saved(request: HttpRequest, row: Any, load: Load) -> HttpResponse:
    pages.say_saved(request, row, what_words(row.what))
    if loads.run_of(LoadEvent, load.number) is None:
        return redirect("records:receiving")
    return redirect("records:load", load=load.number)
