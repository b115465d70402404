"""Pages of tablets: the list, enrol, withdraw."""

from __future__ import annotations

from typing import cast
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_safe

from plant.people.models import Tablet
from records.people import actions
from records.people.components import signature_actor
from records.people.forms import EnrolTablet, SignatureFields
from records.people.middleware import Request
from records.people.refused import Refused

page = require_http_methods(["GET", "HEAD", "POST"])
signed = sensitive_post_parameters("signer_secret")


@require_safe
def tablets(request: HttpRequest) -> HttpResponse:
    """Every tablet, those in use first."""
    rows = sorted(Tablet.objects.all(), key=lambda one: (one.withdrawn_at is not None, one.name))
    return render(request, "records/people/tablets.html", {"rows": rows})


@never_cache
@signed
@page
def enrol(request: HttpRequest) -> HttpResponse:
    """Enrol a tablet; the answer shows the link to open on it, this once."""
    asked = cast(Request, request)
    form = EnrolTablet(request.POST or None, request=asked, out_url=reverse("records:tablets"))
    form.out = _("Leave it")
    if request.method == "POST" and form.is_valid():
        try:
            by = signature_actor(asked, form)
            tablet, token = actions.enrol_tablet(by, form.cleaned_data["name"], form.cleaned_data["place"])
        except Refused as refused:
            form.refuse(refused)
        else:
            link = request.build_absolute_uri(reverse("records:tablet-open", args=[token]))
            return render(request, "records/people/tablet_link.html", {"tablet": tablet, "link": link})
    return render(request, "records/people/form.html", {"form": form, "title": _("Enrol a tablet")})


@signed
@page
def withdraw(request: HttpRequest, tablet_id: UUID) -> HttpResponse:
    """Withdraw a tablet: lost, broken, given away."""
    asked, tablet = cast(Request, request), get_object_or_404(Tablet, id=tablet_id)
    form = SignatureFields(request.POST or None, request=asked, out_url=reverse("records:tablets"))
    form.out = _("Leave it")
    if request.method == "POST" and form.is_valid():
        try:
            actions.withdraw_tablet(signature_actor(asked, form), tablet)
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(request, _("Written and signed."))
            return redirect("records:tablets")
    title = _("Withdraw %(name)s") % {"name": tablet.name}
    return render(request, "records/people/form.html", {"form": form, "title": title})
