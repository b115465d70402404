"""Deviations and corrections: the supervisor's first page, and one deviation with all that is answered under it."""

from __future__ import annotations

from typing import Any, cast

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.utils.translation import pgettext
from django.views.decorators.http import require_safe

from plant import clock
from records.deviations import actions, queries
from records.deviations.forms import CloseForm, PartForm, RaiseForm
from records.deviations.models import Correction, Deviation
from records.people.components import signature_actor
from records.people.middleware import Request
from records.people.plans import plan_in_force
from records.people.refused import Refused
from records.review import deviation_data, hold_data
from records.review.common import by_of, may, page, paged, show, signed

FILTERS = ("open", "closed", "all")


@require_safe
def deviations(request: HttpRequest) -> HttpResponse:
    """What is open, oldest first; what waits for a second signature; corrections; what was missed and is none."""
    now = clock.now()
    which = request.GET.get("show", "open")
    which = which if which in FILTERS else "open"
    one_page = paged(cast(Any, deviation_data.of_filter(which)), request)
    corrected = Correction.objects.filter(received_at__gte=now - deviation_data.LATELY).order_by("-number")
    return show(
        request,
        "records/deviations/deviations.html",
        which=which,
        filters=[
            ("open", pgettext("deviations", "open")),
            ("closed", pgettext("deviations", "closed")),
            ("all", _("all")),
        ],
        listed=one_page,
        rows=deviation_data.rows(list(one_page.object_list)),
        waiting=hold_data.waiting(),
        held=hold_data.open_count(),
        corrections=deviation_data.corrections(list(corrected[:25])),
        missed=deviation_data.missed_lines(now),
        may_raise=may(request, "records:correction-raise"),
        may_outage=may(request, "records:outage-new"),
        now=now,
    )


def _deviation(number: int) -> Deviation:
    found = Deviation.objects.filter(number=number).first() if number < 2**63 else None
    if found is None:
        raise Http404
    return found


@require_safe
def deviation(request: HttpRequest, number: int) -> HttpResponse:
    """One deviation: causes, product, parts, time line, and what is missing."""
    return _page(request, _deviation(number))


def _page(request: HttpRequest, found: Deviation, refused: PartForm | None = None) -> HttpResponse:
    story = deviation_data.story_of(found, clock.now())
    may_write = may(request, "records:deviation-part") and story.closing is None
    parts = []
    for one in story.parts:
        form = refused if refused is not None and refused.part == one.key else None
        if form is None and may_write:
            form = PartForm(part=one.key, asks=_("Write it anew") if one.written else one.asks, again=bool(one.written))
        parts.append((one, form))
    barred = any(row.hold.bars_release and row.lift is None for row in story.held)
    return show(
        request,
        "records/deviations/deviation.html",
        wrong=refused is not None,
        story=story,
        one=found,
        parts=parts,
        may_write=may_write,
        may_close=may(request, "records:deviation-close") and story.closing is None,
        may_dispose=may(request, "records:disposition-new"),
        barred=barred,
        read_it=by_of(request).person_id in queries.readers(found.number),
    )


@page
def part(request: HttpRequest, number: int, part: str) -> HttpResponse:
    """Write one part; it stands on the deviation's page."""
    found = _deviation(number)
    asks = queries.parts_offered(found).get(part)
    if asks is None:
        raise Http404
    if request.method != "POST":
        return redirect("records:deviation", number)
    again = bool(queries.parts_written(number).get(part))
    form = PartForm(request.POST, part=part, asks=_("Write it anew") if again else asks, again=again)
    if form.is_valid():
        data = form.cleaned_data
        try:
            actions.write_part(by_of(request), found, part, data["text"].strip(), data["form_id"])
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(request, _("Written down."))
            return redirect("records:deviation", number)
    return _page(request, found, form)


@signed
@page
def close(request: HttpRequest, number: int) -> HttpResponse:
    """Close a complete deviation, signed afresh; the reasons against it stand on the page."""
    found, asked = _deviation(number), cast(Request, request)
    if queries.is_closed(number):
        messages.info(request, _("This deviation is closed."))
        return redirect("records:deviation", number)
    form = CloseForm(request.POST or None, request=asked)
    if request.method == "POST" and form.is_valid():
        try:
            by = signature_actor(asked, form)
            actions.close(by, found, form.cleaned_data["text"].strip())
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(request, _("Deviation %(number)d is closed and signed.") % {"number": number})
            return redirect("records:deviation", number)
    story = deviation_data.story_of(found, clock.now())
    own = by_of(request).person_id in queries.readers(number)
    silent = any(one.key == "regulator" and not one.written for one in story.parts)
    return show(
        request,
        "records/deviations/close.html",
        wrong=bool(form.errors),
        story=story,
        one=found,
        form=form,
        read_it=own,
        silent=silent,
    )


@require_safe
def corrections(request: HttpRequest) -> HttpResponse:
    """Every correction, newest first."""
    one_page = paged(cast(Any, Correction.objects.order_by("-number")), request)
    return show(
        request,
        "records/deviations/corrections.html",
        listed=one_page,
        corrections=deviation_data.corrections(list(one_page.object_list)),
        may_raise=may(request, "records:correction-raise"),
    )


@signed
@page
def raise_correction(request: HttpRequest, number: int) -> HttpResponse:
    """Raise a correction to a deviation, signed; never the other way."""
    row = Correction.objects.filter(number=number).first() if number < 2**63 else None
    if row is None:
        raise Http404
    asked = cast(Request, request)
    (led,) = deviation_data.corrections([row])
    if led.deviation is not None:
        messages.info(request, _("This correction is part of a deviation already."))
        return redirect("records:deviation", led.deviation)
    form = RaiseForm(request.POST or None, request=asked)
    if request.method == "POST" and form.is_valid():
        try:
            by = signature_actor(asked, form)
            in_force = plan_in_force(row.observed_at)
            opened = actions.raise_correction(by, in_force, row, form.cleaned_data["why"].strip())
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(request, _("Raised to deviation %(number)d.") % {"number": opened.number})
            return redirect("records:deviation", opened.number)
    return show(request, "records/deviations/raise.html", wrong=bool(form.errors), row=row, form=form)
