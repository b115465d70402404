"""Pages of ingredients: what is on hand, a form for each act, one record, its certificate."""

from __future__ import annotations

from typing import Any

from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from records.flow.pages import no_plan, now_and_plan
from records.ingredients import actions, keeping, pages, queries, words
from records.ingredients.forms import ApprovalForm, ReceivedForm, StockForm
from records.ingredients.models import IngredientReceived, KeptOnce, StockEvent, SupplierApproval
from records.ledger import files
from records.ledger.models import FileKept

FORM = "records/ingredients/form.html"
# The form and the act of each kind of record.
KINDS: dict[type[KeptOnce], tuple[Any, Any]] = {
    IngredientReceived: (ReceivedForm, actions.receive),
    StockEvent: (StockForm, actions.say),
    SupplierApproval: (ApprovalForm, actions.approve_supplier),
}
page = require_http_methods(["GET", "HEAD", "POST"])


@require_safe
def ingredients(request: HttpRequest) -> HttpResponse:
    """The lots on hand, what stands against each, and the approved suppliers."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    context = {
        "lots": queries.on_hand(now, in_force),
        "approvals": keeping.standing(SupplierApproval.objects.all()).order_by("item", "supplier")[: queries.MOST],
        "today": in_force.calendar.local(now).date(),
        "may_log": pages.may(request, "records:ingredient-received"),
        "may_approve": pages.may(request, "records:supplier-approve"),
        "zone": in_force.zone,
    }
    return render(request, "records/ingredients/ingredients.html", context)


def _to(row: Any) -> str:
    return reverse("records:ingredient-entry", args=[row.number])


@page
def approve(request: HttpRequest) -> HttpResponse:
    """A supplier approved."""
    now, in_force = pages.plan_or_404()
    form = ApprovalForm(**pages.sent(request), in_force=in_force, now=now)
    act = lambda: actions.approve_supplier(pages.by(request), form.said())  # noqa: E731
    return pages.answered(request, form, _("Approve a supplier for an item"), act, _to, FORM)


@page
def received(request: HttpRequest) -> HttpResponse:
    """A lot received."""
    now, in_force = pages.plan_or_404()
    form = ReceivedForm(**pages.sent(request), in_force=in_force, now=now)
    act = lambda: actions.receive(pages.by(request), form.said())  # noqa: E731
    return pages.answered(request, form, _("Ingredient or packaging received"), act, _to, FORM)


@page
def stock(request: HttpRequest) -> HttpResponse:
    """A lot opened, used, used up or thrown away."""
    now, in_force = pages.plan_or_404()
    start = {"received": request.GET.get("lot", "")[:20]}
    form = StockForm(**pages.sent(request), in_force=in_force, now=now, initial=start)
    act = lambda: actions.say(pages.by(request), form.said(begins_now=pages.begins(request)))  # noqa: E731
    return pages.answered(request, form, _("Opened, used or used up"), act, _to, FORM)


@require_safe
def entry(request: HttpRequest, number: int) -> HttpResponse:
    """One record of ingredients, with what replaced it and what followed."""
    now, in_force = pages.plan_or_404()
    row = pages.record_or_404(number, *KINDS)
    lot = row if isinstance(row, IngredientReceived) else None
    context = {
        **pages.context_of(request, row, in_force),
        "kind": words.in_words(row.KIND),
        "told": words.told(row),
        "against": queries.against(lot, now, in_force) if lot is not None else [],
        "uses": queries.events_of([keeping.first_of(lot).number])[keeping.first_of(lot).number] if lot else [],
        "may_amend": pages.may(request, _amend_route(row)),
        "amend_route": _amend_route(row),
        "may_log": pages.may(request, "records:ingredient-received"),
    }
    return render(request, "records/ingredients/entry.html", context)


def _amend_route(row: KeptOnce) -> str:
    return "records:supplier-amend" if isinstance(row, SupplierApproval) else "records:ingredient-amend"


@page
def amend(request: HttpRequest, number: int) -> HttpResponse:
    """A lot, or what became of it, as it should have been said."""
    return _amend(request, pages.record_or_404(number, IngredientReceived, StockEvent))


@page
def amend_approval(request: HttpRequest, number: int) -> HttpResponse:
    """An approval as it should have been said, or ended earlier."""
    return _amend(request, pages.record_or_404(number, SupplierApproval))


def _amend(request: HttpRequest, row: KeptOnce) -> HttpResponse:
    return pages.amended(request, row, KINDS, words.in_words(row.KIND), _to, FORM)


@require_safe
def certificate(request: HttpRequest, number: int) -> HttpResponseBase:
    """The certificate that came with a lot, as it was kept."""
    row = pages.record_or_404(number, IngredientReceived)
    sha256 = getattr(row, "certificate", "")
    kept = FileKept.objects.filter(sha256=sha256).first() if sha256 else None
    if kept is None:
        raise Http404(_("No certificate was kept with this lot."))
    return FileResponse(files.open_kept(sha256), content_type=kept.mime, filename=kept.name)
