"""Pages of batches: the list, one batch with its lines, a form for each act, one record."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from plant.process.units import plain
from records.batches import actions, added, identity, second, state, words
from records.batches.forms import AdditionForm, BlendTestForm, FlavorForm, SeparationForm, SheetForm, VitaminForm
from records.batches.models import BatchAddition, BatchSheet, BlendTest, FlavorAdded, Separated, VitaminAdded
from records.deviations.errors import Refused
from records.flow.pages import new_form_id, no_plan, now_and_plan
from records.ingredients import keeping, pages
from records.ingredients.models import KeptOnce
from records.people.plans import InForce

FORM = "records/ingredients/form.html"
# The form and the act of each kind of record.
KINDS: dict[type[KeptOnce], tuple[Any, Any]] = {
    BatchSheet: (SheetForm, actions.write_sheet),
    BatchAddition: (AdditionForm, actions.add),
    BlendTest: (BlendTestForm, actions.record_test),
    Separated: (SeparationForm, actions.separated),
    VitaminAdded: (VitaminForm, added.add_vitamin),
    FlavorAdded: (FlavorForm, added.add_flavor),
}
page = require_http_methods(["GET", "HEAD", "POST"])


@require_safe
def batches(request: HttpRequest) -> HttpResponse:
    """The latest batch sheets, and what else was added and tested."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    others: list[KeptOnce] = []
    for model in (BlendTest, Separated, VitaminAdded, FlavorAdded):
        rows: Any = model
        others += list(keeping.standing(rows.objects.all()).order_by("-number")[: state.MOST // 4])
    looks = second.looks_at(one for one in others if isinstance(one, second.KINDS))
    waiting = {one.number for one in others if one.number not in looks and second.asks(one)}
    context = {
        "sheets": state.latest(),
        "others": [
            (one, words.in_words(one.KIND), words.told(one)[:3], one.number in waiting)
            for one in sorted(others, key=_newest)
        ],
        "may_say": pages.may(request, "records:batch-new"),
        "zone": in_force.zone,
    }
    return render(request, "records/batches/batches.html", context)


def _newest(row: KeptOnce) -> int:
    return -row.number


def _batch_or_404(number: int) -> state.Batch:
    found = state.batch_of(number)
    if found is None:
        raise Http404(_("There is no such batch sheet."))
    return found


@require_safe
def batch(request: HttpRequest, number: int) -> HttpResponse:
    """One batch: what the sheet asks, what was weighed, what the blend is, what is missing."""
    now, in_force = pages.plan_or_404()
    found = _batch_or_404(number)
    context = {
        "batch": found,
        "wanted": words.told(found.sheet)[3:4],
        "computed": words.contents_words(found.sheet.computed),
        "blend": words.contents_words(found.blend),
        "missing": state.missing(found),
        "identity": [(identity.in_words(one), one.met) for one in identity.beside(found, in_force)],
        "room": _room(found, in_force),
        "confirmed": found.confirmed,
        "form_id": new_form_id(),
        "may_say": pages.may(request, "records:batch-add"),
        "me": pages.by(request).person_id,
        "zone": in_force.zone,
    }
    return render(request, "records/batches/batch.html", context)


def _room(found: state.Batch, in_force: InForce) -> str:
    """The volume of a batch in words, with the density that it was taken by."""
    known = state.room(found, in_force)
    if known is None:
        return ""
    volume, density = known
    words = {
        "volume": plain(volume), "unit": in_force.plan.plant.volume_unit, "weight": plain(density.lb_per_gal),
        "doubt": plain(density.doubt * 100, 1),
    }  # fmt: skip
    if found.tests:
        return _("About %(volume)s %(unit)s at %(weight)s lb/gal, by its test, give or take %(doubt)s %%.") % words
    return _("About %(volume)s %(unit)s at %(weight)s lb/gal, by the sheet, give or take %(doubt)s %%.") % words


def _to_batch(row: Any) -> str:
    sheet = keeping.first_of(row).number if isinstance(row, BatchSheet) else row.sheet
    if sheet is None or state.batch_of(sheet) is None:
        return reverse("records:batches")
    return reverse("records:batch", args=[sheet])


def _to_entry(row: Any) -> str:
    return reverse("records:batch-entry", args=[row.number])


@page
def new(request: HttpRequest) -> HttpResponse:
    """A batch sheet computed."""
    now, in_force = pages.plan_or_404()
    form = SheetForm(**pages.sent(request), in_force=in_force, now=now)
    act = lambda: actions.write_sheet(pages.by(request), form.said())  # noqa: E731
    return pages.answered(request, form, _("Compute a batch sheet"), act, _to_batch, FORM)


@page
def add(request: HttpRequest, number: int, line: int) -> HttpResponse:
    """A line weighed in."""
    now, in_force = pages.plan_or_404()
    found = _batch_or_404(number)
    if line >= len(found.lines):
        raise Http404(_("That is not a line of this sheet."))
    form = AdditionForm(**pages.sent(request), in_force=in_force, now=now, batch=found, line=line)
    asks = found.lines[line].said
    said = {"name": asks["name"], "target": asks["target"], "batch": found.sheet.batch}
    asked = _("The sheet asks for %(target)s kg of %(name)s.") % said
    act = lambda: actions.add(pages.by(request), form.said(begins_now=pages.begins(request)))  # noqa: E731
    return pages.answered(
        request, form, _("Batch %(batch)s: weigh in %(name)s") % said, act, _to_batch, FORM, asked=asked
    )


@require_POST
def confirm(request: HttpRequest, number: int) -> HttpResponse:
    """A second person confirms an addition."""
    row = pages.record_or_404(number, *second.KINDS)
    try:
        second.confirm(pages.by(request), row.number, new_form_id())
        messages.success(request, _("The addition is confirmed."))
    except Refused as refusal:
        messages.error(request, str(refusal.sentence))
    return redirect(_to_batch(row) if isinstance(row, BatchAddition) else _to_entry(row))


@page
def test(request: HttpRequest) -> HttpResponse:
    """Fat and total solids of a vat."""
    now, in_force = pages.plan_or_404()
    start = {"sheet": request.GET.get("batch", "")[:20], "place": request.GET.get("vat", "")[:40]}
    form = BlendTestForm(**pages.sent(request), in_force=in_force, now=now, initial=start)
    act = lambda: actions.record_test(pages.by(request), form.said())  # noqa: E731
    return pages.answered(request, form, _("Fat and solids of a blend"), act, _to_batch, FORM)


@page
def separation(request: HttpRequest) -> HttpResponse:
    """Milk separated."""
    now, in_force = pages.plan_or_404()
    form = SeparationForm(**pages.sent(request), in_force=in_force, now=now)
    act = lambda: actions.separated(pages.by(request), form.said())  # noqa: E731
    return pages.answered(request, form, _("Cream and skim from milk"), act, _to_entry, FORM)


@page
def vitamin(request: HttpRequest) -> HttpResponse:
    """A vitamin used."""
    now, in_force = pages.plan_or_404()
    form = VitaminForm(**pages.sent(request), in_force=in_force, now=now)
    act = lambda: added.add_vitamin(pages.by(request), form.said(begins_now=pages.begins(request)))  # noqa: E731
    return pages.answered(request, form, _("Vitamin A or D used"), act, _to_entry, FORM)


@page
def flavor(request: HttpRequest) -> HttpResponse:
    """A flavor into pasteurized product."""
    now, in_force = pages.plan_or_404()
    form = FlavorForm(**pages.sent(request), in_force=in_force, now=now)
    act = lambda: added.add_flavor(pages.by(request), form.said(begins_now=pages.begins(request)))  # noqa: E731
    return pages.answered(request, form, _("Flavor into pasteurized product"), act, _to_entry, FORM)


@require_safe
def entry(request: HttpRequest, number: int) -> HttpResponse:
    """One record of batches, with what replaced it and what followed."""
    now, in_force = pages.plan_or_404()
    row = pages.record_or_404(number, *KINDS)
    look = second.looks_at([row]).get(row.number) if isinstance(row, second.KINDS) else None
    shown = pages.context_of(request, row, in_force)
    context = {
        **shown,
        "kind": words.in_words(row.KIND),
        "told": words.told(row, look),
        "waits": look is None and shown["successor"] is None and isinstance(row, second.KINDS) and second.asks(row),
        "me": pages.by(request).person_id,
        "may_say": pages.may(request, "records:batch-confirm"),
        "may_amend": pages.may(request, "records:batch-amend"),
    }
    return render(request, "records/batches/entry.html", context)


@page
def amend(request: HttpRequest, number: int) -> HttpResponse:
    """A record of batches as it should have been said."""
    row = pages.record_or_404(number, *KINDS)
    more = {"batch": _batch_or_404(row.sheet), "line": row.line} if isinstance(row, BatchAddition) else {}
    return pages.amended(request, row, KINDS, words.in_words(row.KIND), _to_entry, FORM, **more)
