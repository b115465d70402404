"""Outages: opened once with everything under them; at the end every tank is asked."""

from __future__ import annotations

from datetime import datetime
from typing import Any, cast

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from plant import clock
from records.deviations import actions
from records.deviations.models import Outage, OutageEnd
from records.deviations.words import in_words
from records.flow.pages import no_plan
from records.ledger.actions import Actor, act
from records.people.plans import InForce, plan_in_force
from records.people.refused import Refused
from records.review import outage_data
from records.review.common import by_of, may, page, paged, show
from records.review.outage_forms import OutageEndForm, OutageForm


@require_safe
def outages(request: HttpRequest) -> HttpResponse:
    """Every outage, newest first."""
    one_page = paged(cast(Any, Outage.objects.order_by("-started_at")), request)
    numbers = [one.number for one in one_page.object_list]
    ends = {one.outage: one for one in OutageEnd.objects.filter(outage__in=numbers)}
    rows = [(one, in_words(one.what), ends.get(one.number)) for one in one_page.object_list]
    return show(
        request,
        "records/deviations/outages.html",
        listed=one_page,
        rows=rows,
        may_open=may(request, "records:outage-new"),
    )


def _outage(number: int) -> Outage:
    found = Outage.objects.filter(number=number).first() if number < 2**63 else None
    if found is None:
        raise Http404
    return found


@page
def outage_new(request: HttpRequest) -> HttpResponse:
    """Open an outage; what it covers is found from the plan and the book."""
    now = clock.now()
    in_force = plan_in_force(now)
    if in_force is None:
        return no_plan(request)
    form = OutageForm(request.POST or None, in_force=in_force, now=now, initial={"started_at": now})
    if request.method == "POST" and form.is_valid():
        try:
            saved = _open(by_of(request), form.cleaned_data, now)
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(request, _("Opened, with everything under it."))
            return redirect("records:outage", saved.number)
    return show(request, "records/deviations/outage_new.html", wrong=bool(form.errors), form=form)


def _open(by: Actor, data: dict[str, Any], now: datetime) -> Outage:
    started, ended = data["started_at"], data["ended_at"]
    in_force = plan_in_force(started)
    if in_force is None:
        raise Refused(_("No plan was in force at that time."), "started_at")
    under = outage_data.covers(in_force, started, ended or now, now)
    with act(by):
        saved, _deviation = actions.open_outage(by, in_force, data["what"], started, under, data["text"].strip())
        if ended is not None:
            actions.end_outage(by, saved, ended, outage_data.covers_at_end(saved, in_force, ended, now))
    return saved


@page
def outage(request: HttpRequest, number: int) -> HttpResponse:
    """One outage: what it covers, each tank by reading, and its end."""
    found, now = _outage(number), clock.now()
    end = OutageEnd.objects.filter(outage=number).first()
    in_force = plan_in_force(now)
    if in_force is None:
        return no_plan(request)
    form = None
    if end is None and may(request, "records:outage-new"):
        form = OutageEndForm(request.POST or None, in_force=in_force, now=now, initial={"ended_at": now})
    if request.method == "POST":
        if form is None:
            messages.info(request, _("Its end is recorded already."))
            return redirect("records:outage", number)
        if form.is_valid() and _end(by_of(request), found, form, in_force, now):
            messages.success(request, _("Over. Every tank that holds product is to be read now."))
            return redirect("records:outage", number)
    checks = [one for one in (end.covers if end and end.covers else found.covers) if one.get("check")]
    return show(
        request,
        "records/deviations/outage.html",
        wrong=bool(form and form.errors),
        one=found,
        what=in_words(found.what),
        end=end,
        tanks=outage_data.tanks(found, end, now),
        checks=[{**one, "due_at": _moment(one.get("due", ""))} for one in checks],
        form=form,
    )


def _moment(text: str) -> datetime | None:
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        return None


def _end(by: Actor, found: Outage, form: OutageEndForm, in_force: InForce, now: datetime) -> bool:
    ended = form.cleaned_data["ended_at"]
    try:
        if ended <= found.started_at:
            raise Refused(_("It cannot end before it began."), "ended_at")
        actions.end_outage(by, found, ended, outage_data.covers_at_end(found, in_force, ended, now))
    except Refused as refused:
        form.refuse(refused)
        return False
    return True
