"""The plant's days: their list, one day in short, who is in charge, hand-overs, closing and signing."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any, cast

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from plant import clock
from plant.people.models import Person
from records.flow.pages import no_plan
from records.people.components import signature_actor
from records.people.middleware import Request
from records.people.plans import InForce, plan_in_force
from records.people.refused import Refused
from records.reports.pages import day_of
from records.review import actions, day_data, queries
from records.review.common import by_of, may, page, paged, show, signed
from records.review.day_forms import CloseDayForm, HandOverForm, InChargeForm, SignSheetForm

PLACES = {"operator": actions.OPERATOR_IN_CHARGE, "supervisor": actions.SUPERVISOR}


def _day(text: str) -> tuple[date, datetime, InForce]:
    """The day of an address, now, and the plan it goes by; 404 for a day that has not come or had no plan."""
    found, now = day_of(text), clock.now()
    in_force = day_data.plan_at(found, now)
    if in_force is None or not day_data.first_day(in_force) <= found <= in_force.calendar.plant_day(now):
        raise Http404(_("There is no such day in this book."))
    return found, now, in_force


@require_safe
def days(request: HttpRequest) -> HttpResponse:
    """Every plant day, today first, with how far its sheet is."""
    now = clock.now()
    in_force = plan_in_force(now)
    if in_force is None:
        return no_plan(request)
    one_page = paged(day_data.listed(in_force, now), request, 14)
    return show(
        request,
        "records/review/days.html",
        listed=one_page,
        rows=day_data.rows(list(one_page.object_list), in_force, now),
    )


@require_safe
def day(request: HttpRequest, day: str) -> HttpResponse:
    """One day in short: completeness, shifts, what stands against closing, signatures, every state of the sheet."""
    found, now, in_force = _day(day)
    closing = queries.closing(found)
    signatures = queries.signatures(found, closing.revision) if closing else {}
    changed = queries.changed_since(closing, now) if closing else []
    against = actions.why_not_close(found, now) if closing is None or changed else []
    return show(
        request,
        "records/review/day.html",
        day=found,
        state=day_data.state_words(found, closing, signatures, bool(changed), in_force, now),
        shifts=day_data.shifts(found, in_force, now),
        closing=closing,
        changed=changed[:20],
        changed_count=len(changed),
        against=against,
        signatures=[signatures[one] for one in PLACES.values() if one in signatures],
        to_sign=_to_sign(request, found, now) if closing and not changed else [],
        states=queries.states(found),
        may_make=may(request, "records:day-close"),
        **day_data.summary(found, in_force, now),
    )


def _to_sign(request: HttpRequest, found: date, now: datetime) -> list[tuple[str, str, str]]:
    """(address part, who signs there, why the reader may not) of each signature that is missing."""
    if not may(request, "records:day-sign"):
        return []
    closing = queries.closing(found)
    assert closing is not None  # asked only of a closed day
    done = queries.signatures(found, closing.revision)
    # The page's own route lets readers in; who acts is settled by the signing page.
    by = _as_signer(request)
    return [(key, said, actions.may_sign(by, found, said, now)[0]) for key, said in PLACES.items() if said not in done]


def _as_signer(request: HttpRequest) -> Any:
    from dataclasses import replace

    from records.people import rights

    asked = cast(Request, request)
    allowed = rights.RIGHTS["records:day-sign"]
    role = next((one for one in rights.ORDER if one in asked.roles & allowed), asked.actor.role)
    return replace(asked.actor, role=role)


@signed
@page
def close(request: HttpRequest, day: str) -> HttpResponse:
    """Close the day under the ledger's head, signed afresh; again, with the reason, when its records changed."""
    found, now, _in_force = _day(day)
    asked, before = cast(Request, request), queries.closing(found)
    if before is not None and not queries.changed_since(before, now):
        messages.info(request, _("This day is closed, and nothing of it has changed since."))
        return redirect("records:day", day)
    form = CloseDayForm(request.POST or None, request=asked, again=before is not None)
    if request.method == "POST" and form.is_valid():
        try:
            by = signature_actor(asked, form)
            closed = actions.close_day(by, found, form.cleaned_data.get("reason", ""))
        except Refused as refused:
            form.refuse(refused)
        else:
            said = _("Closed: revision %(number)d. The operator in charge signs next.")
            messages.success(request, said % {"number": closed.revision})
            return redirect("records:day", day)
    return show(
        request,
        "records/review/close_day.html",
        wrong=bool(form.errors),
        day=found,
        form=form,
        before=before,
        against=actions.why_not_close(found, now),
        unsigned=queries.unsigned_rounds(found, now),
    )


@signed
@page
def sign(request: HttpRequest, day: str, place: str) -> HttpResponse:
    """Sign the day's sheet as the operator in charge or as the supervisor, both components afresh."""
    found, now, _in_force = _day(day)
    said = PLACES.get(place)
    if said is None:
        raise Http404
    asked, closing = cast(Request, request), queries.closing(found)
    why_not, own_work = actions.may_sign(by_of(request), found, said, now)
    if why_not or closing is None:
        messages.warning(request, why_not)
        return redirect("records:day", day)
    state = queries.newest_state(found, closing.revision)
    if state is None:
        messages.warning(request, actions.not_rendered())
        return redirect("records:day", day)
    back = reverse("records:day", args=[day])
    form = SignSheetForm(request.POST or None, request=asked, initial={"sheet": state.number}, out_url=back)
    if request.method == "POST" and form.is_valid():
        try:
            by = signature_actor(asked, form)
            if form.cleaned_data["sheet"] != state.number:
                raise Refused(_("The sheet is another one by now. Open it again and read it."))
            actions.sign_sheet(by, found, said)
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(request, _("Signed. The signed sheet is kept."))
            return redirect("records:day", day)
    return show(
        request,
        "records/review/sign_sheet.html",
        wrong=bool(form.errors),
        day=found,
        form=form,
        state=state,
        said=said,
        meaning=actions.meaning_of(said, own_work),
        own_work=own_work,
    )


def _shift_or_404(in_force: InForce, found: date, key: str, now: datetime) -> day_data.ShiftRow:
    row = next((one for one in day_data.shifts(found, in_force, now) if one.key == key), None)
    if row is None:
        raise Http404
    return row


@page
def in_charge(request: HttpRequest, day: str, shift: str) -> HttpResponse:
    """Name the operator in charge of a shift."""
    found, now, in_force = _day(day)
    row = _shift_or_404(in_force, found, shift, now)
    form = InChargeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        person = Person.objects.get(id=form.cleaned_data["person"])
        try:
            actions.name_in_charge(by_of(request), found, shift, person)
        except Refused as refused:
            form.refuse(refused)
        else:
            words = {"name": person.name, "shift": row.name}
            messages.success(request, _("%(name)s is in charge of %(shift)s.") % words)
            return redirect("records:day", day)
    return show(request, "records/review/in_charge.html", wrong=bool(form.errors), day=found, shift=row, form=form)


@signed
@page
def hand_over(request: HttpRequest, day: str, shift: str, side: str) -> HttpResponse:
    """Sign one side of a shift's hand-over; the notes begin with what the book knows."""
    found, now, in_force = _day(day)
    row = _shift_or_404(in_force, found, shift, now)
    if side not in day_data.SIDES:
        raise Http404
    asked = cast(Request, request)
    known = {"notes": day_data.what_to_say(in_force, now)} if side == "leaving" else {}
    form = HandOverForm(request.POST or None, request=asked, initial=known, out_url=reverse("records:hand-over"))
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        try:
            by = signature_actor(asked, form)
            actions.hand_over(by, found, shift, side, data["notes"], data["form_id"])
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(request, _("The hand-over is signed."))
            return redirect("records:hand-over")
    return show(
        request,
        "records/review/hand_over.html",
        wrong=bool(form.errors),
        day=found,
        shift=row,
        side=side,
        already=row.signed(side),
        form=form,
    )


@require_safe
def present(request: HttpRequest) -> HttpResponse:
    """The hand-over of the present shift and of the one before it."""
    now = clock.now()
    in_force = plan_in_force(now)
    if in_force is None:
        return no_plan(request)
    found, key = day_data.present_shift(in_force, now)
    shifts = day_data.shifts(found, in_force, now)
    at = next((index for index, one in enumerate(shifts) if one.key == key), 0)
    return show(
        request,
        "records/review/present.html",
        day=found,
        now=now,
        shift=shifts[at] if shifts else None,
        earlier=shifts[at - 1] if at else None,
        said=day_data.what_to_say(in_force, now).splitlines(),
    )
