"""The Floor, a vessel's page and a movement's page: everybody may read them."""

from __future__ import annotations

from datetime import date
from typing import cast

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from plant.rework_places import number_of
from records.flow import further, story
from records.flow.floor import floor_at
from records.flow.models import Movement
from records.flow.pages import new_form_id, no_plan, now_and_plan, place_or_404
from records.people.middleware import Request
from records.people.rights import MAKERS, RIGHTS


def may_make(request: HttpRequest) -> bool:
    """Whether the reader may also record."""
    return bool(cast(Request, request).roles & MAKERS)


def may_set_service(request: HttpRequest) -> bool:
    """Whether the reader may take a vessel out of service, or back."""
    return bool(cast(Request, request).roles & RIGHTS["records:service"])


@require_safe
def floor(request: HttpRequest) -> HttpResponse:
    """The plant in flow order, each vessel in words."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    places = floor_at(in_force, now)
    return render(
        request,
        "records/flow/floor.html",
        {
            "places": places,
            "told": further.of_the_floor(now, in_force),
            "now": now,
            "in_force": in_force,
            "may_make": may_make(request),
            "may_set_service": may_set_service(request),
        },
    )


@require_safe
def vessel(request: HttpRequest, code: str) -> HttpResponse:
    """One vessel or line: what it is now, and its day; its QR lands here. A container of rework has its own page."""
    if (portion := number_of(code)) is not None:
        return redirect("records:rework-portion", number=portion)
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    place_or_404(in_force, code)
    today = in_force.calendar.plant_day(now)
    day = _day(request.GET.get("day", ""), today)
    (place,) = floor_at(in_force, now, [code])
    return render(
        request,
        "records/flow/vessel.html",
        {
            "place": place,
            "now": now,
            "day": day,
            "today": today,
            "before": story.day_before(day),
            "after": story.day_after(day) if day < today else None,
            "lines": story.of_day(code, day, in_force),
            "may_make": may_make(request),
            "may_set_service": may_set_service(request),
            "form_id": new_form_id(),
        },
    )


def _day(text: str, today: date) -> date:
    try:
        day = date.fromisoformat(text)
    except ValueError:
        return today
    return day if date(2000, 1, 1) < day <= today else today


@require_safe
def movement(request: HttpRequest, number: int) -> HttpResponse:
    """A movement with everything that it replaced, and what replaced it."""
    row = Movement.objects.filter(number=number).first()
    now, in_force = now_and_plan()
    if row is None or in_force is None:
        raise Http404
    chain = story.chain_of(row)
    return render(
        request,
        "records/flow/movement.html",
        {"row": row, "chain": chain, "standing": chain[-1], "may_make": may_make(request), "now": now},
    )
