"""Vessels, other equipment and instruments: the list, their descriptions, the QR on each vessel."""

from __future__ import annotations

from io import BytesIO
from typing import Any

import segno
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from plant import clock
from plant.equipment.forms import FORMS
from plant.equipment.models import Equipment, Instrument, Vessel
from plant.hazard_plan import approvals

page = require_http_methods(["GET", "HEAD", "POST"])
PLANNERS = {"qualified individual", "owner"}


@require_safe
def equipment(request: HttpRequest) -> HttpResponse:
    """Everything that stands in the plant."""
    shown = {
        "vessels": Vessel.objects.all(),
        "equipment": Equipment.objects.all(),
        "instruments": Instrument.objects.all(),
        "today": clock.now().date(),
        "may_edit": bool(PLANNERS & set(getattr(request, "roles", ()))),
    }
    return render(request, "plant/equipment/equipment.html", shown)


@page
def thing(request: HttpRequest, table: str, code: str) -> HttpResponse:
    """One description; once a plan is approved a change is signed, with a reason, on the records' page."""
    form_class = FORMS.get(table)
    if form_class is None:
        raise Http404
    row = get_object_or_404(form_class._meta.model, code=code)
    if approvals.approved():
        return redirect("records:plant-revise", table, code)
    return _edit(request, table, row)


@page
def thing_add(request: HttpRequest, table: str) -> HttpResponse:
    """A new vessel, equipment or instrument. A plan has to name it before anything is due at it."""
    form_class = FORMS.get(table)
    if form_class is None:
        raise Http404
    return _edit(request, table, form_class._meta.model())


def _edit(request: HttpRequest, table: str, row: Any) -> HttpResponse:
    back = reverse("plant:equipment")
    data = request.POST if request.method == "POST" else None
    form = FORMS[table](data, instance=row, out_url=back)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, _("Saved."))
        return redirect(back)
    what = {"vessel": _("Vessel"), "equipment": _("Equipment"), "instrument": _("Instrument")}[table]
    return render(request, "plant/equipment/thing.html", {"form": form, "what": what, "row": row})


@require_safe
def labels(request: HttpRequest) -> HttpResponse:
    """A sheet of labels to print: a QR for each vessel in use, or for the one asked for."""
    vessels = Vessel.objects.filter(is_active=True)
    only = request.GET.get("vessel", "")
    if only:
        vessels = vessels.filter(code=only[:40].replace("\x00", ""))
    shown = {"vessels": [(one, request.build_absolute_uri(reverse("records:at", args=[one.code]))) for one in vessels]}
    return render(request, "plant/equipment/labels.html", shown)


@require_safe
def qr(request: HttpRequest, code: str) -> HttpResponse:
    """The QR of a vessel's own address as SVG: the round at this vessel."""
    vessel = get_object_or_404(Vessel, code=code)
    made = segno.make(request.build_absolute_uri(reverse("records:at", args=[vessel.code])), error="q", micro=False)
    file = BytesIO()
    made.save(file, kind="svg", border=4, scale=4, xmldecl=False, title=vessel.name)
    return HttpResponse(file.getvalue(), content_type="image/svg+xml")
