"""Editing a draft: its rows, its header, its confirmations, and a new draft from any version."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from plant import clock
from plant.hazard_plan import drafts
from plant.hazard_plan.content import PlanError
from plant.hazard_plan.forms import ConfirmForm, RowForm, header_form, row_form
from plant.hazard_plan.labels import TABLES
from plant.hazard_plan.models import PlanVersion
from plant.hazard_plan.stored import plan_of
from plant.hazard_plan.views import anchor

page = require_http_methods(["GET", "HEAD", "POST"])


@require_POST
def draft_new(request: HttpRequest, number: int) -> HttpResponse:
    """A new draft that says what this version says."""
    version = get_object_or_404(PlanVersion, number=number)
    draft = drafts.new_draft(version, getattr(request, "person", None), clock.now())
    messages.success(request, _("This is a draft now. It changes nothing until two people have signed it."))
    return redirect("plant:plan-version", draft.number)


@page
def row(request: HttpRequest, number: int, table: str, row_id: UUID | None = None) -> HttpResponse:
    """One row of a draft, or a new one."""
    version = _draft(number)
    if table not in TABLES or table == "confirmations":
        raise Http404
    standing = _row(version, table, row_id) if row_id else None
    back = anchor(version, table, standing.key) if standing else reverse("plant:plan-version", args=[number])
    form = row_form(
        request.POST if request.method == "POST" else None,
        table=table,
        kind=drafts.kind_of(table),
        value=standing.value if standing else None,
        plan=plan_of(version),
        out_url=back,
    )
    if request.method == "POST" and form.is_valid() and _saved(version, table, form, row_id):
        messages.success(request, _("Saved in the draft."))
        return redirect(back)
    return _form(request, version, form, TABLES[table], table, row_id)


def _saved(version: PlanVersion, table: str, form: RowForm, row_id: UUID | None) -> bool:
    try:
        drafts.save_row(version, table, form.value_of(""), row_id)
    except (ValidationError, PlanError) as error:
        form.refuse(error)
        return False
    except drafts.Frozen:
        form.add_error(None, _("This version was approved in the meantime; nothing was saved."))
        return False
    return True


def _form(
    request: HttpRequest, version: PlanVersion, form: Any, what: Any, table: str = "", row_id: UUID | None = None
) -> HttpResponse:
    shown = {"version": version, "form": form, "what": what, "table": table, "row_id": row_id}
    return render(request, "plant/hazard_plan/row.html", shown)


@require_POST
def row_remove(request: HttpRequest, number: int, table: str, row_id: UUID) -> HttpResponse:
    """Take a row out of a draft."""
    version = _draft(number)
    if table not in TABLES:
        raise Http404
    _row(version, table, row_id)
    try:
        drafts.remove_row(version, table, row_id)
        messages.success(request, _("Taken out of the draft."))
    except drafts.Frozen:
        messages.error(request, _("This version was approved in the meantime; nothing was changed."))
    return redirect("plant:plan-version", number)


@page
def header(request: HttpRequest, number: int) -> HttpResponse:
    """A draft's title, plant and settings."""
    version = _draft(number)
    said, settings = drafts.header_of(version)
    form = header_form(
        request.POST if request.method == "POST" else None,
        title=version.title,
        header=said,
        settings=settings,
        plan=plan_of(version),
        out_url=reverse("plant:plan-version", args=[number]),
    )
    if request.method == "POST" and form.is_valid():
        try:
            drafts.save_header(version, form.cleaned_data["title"], form.value_of(""), form.value_of("settings_"))
        except (ValidationError, PlanError) as error:
            form.refuse(error)
        except drafts.Frozen:
            form.add_error(None, _("This version was approved in the meantime; nothing was saved."))
        else:
            messages.success(request, _("Saved in the draft."))
            return redirect("plant:plan-version", number)
    return _form(request, version, form, _("title, plant and settings"))


@page
def confirm(request: HttpRequest, number: int, limit: str) -> HttpResponse:
    """The qualified individual confirms a limit that is laxer than a row that nobody read in full."""
    version = _draft(number)
    if limit not in {one.key for one in plan_of(version).limits}:
        raise Http404
    back = reverse("plant:plan-version", args=[number])
    form = ConfirmForm(request.POST if request.method == "POST" else None, out_url=back)
    if request.method == "POST" and form.is_valid():
        by = getattr(request, "person", None)
        try:
            drafts.confirm(version, limit, form.cleaned_data["reason"], by.sign_in if by else "")
        except drafts.Frozen:
            form.add_error(None, _("This version was approved in the meantime; nothing was saved."))
        else:
            messages.success(request, _("Confirmed in the draft, with your reason."))
            return redirect(back)
    return _form(request, version, form, _("confirmation of the limit %(limit)s") % {"limit": limit})


def _draft(number: int) -> PlanVersion:
    """A version that may still be edited; an approved one has no such page."""
    version = get_object_or_404(PlanVersion, number=number)
    if not drafts.editable(version):
        raise Http404
    return version


def _row(version: PlanVersion, table: str, row_id: UUID) -> drafts.Row:
    found = next((one for one in drafts.rows(version, table) if one.id == row_id), None)
    if found is None:
        raise Http404
    return found
