"""What the pages of reports share: the day of an address, files to download."""

from __future__ import annotations

import re
from datetime import date, timedelta

from django.http import Http404, HttpResponse
from django.utils.translation import gettext as _

from plant import clock
from records.ledger.models import Entry
from records.people.plans import InForce, plan_in_force
from records.reports.day import Review

FIRST, LAST = date(2000, 1, 1), date(2200, 1, 1)  # a plant has no day outside of these, and calendars have ends


def day_of(text: str) -> date:
    """The day that an address names; 404 for anything else."""
    try:
        day = date.fromisoformat(text) if re.fullmatch(r"\d{4}-\d\d-\d\d", text) else None
    except ValueError:
        day = None
    if day is None or not FIRST <= day <= LAST:
        raise Http404(_("There is no such day. Write it as 2026-03-01."))
    return day


def in_force_or_404() -> InForce:
    """The plan in force now; 404 before the first."""
    found = plan_in_force(clock.now())
    if found is None:
        raise Http404(_("No plan has been approved yet, so there is no day to show."))
    return found


def today() -> date:
    """The plant day of this moment."""
    return in_force_or_404().calendar.plant_day(clock.now())


def beside(day: date) -> tuple[date, date]:
    """The day before and the day after."""
    return day - timedelta(days=1), day + timedelta(days=1)


def unreviewed() -> Review:
    """What stands for the review where a page shows none of it."""
    last = Entry.objects.order_by("-number").values_list("number", flat=True).first()
    return Review(ledger={"closed": False, "entries": last or 0})


def download(data: bytes, name: str, mime: str, *, inline: bool = False) -> HttpResponse:
    """A file for the reader; it is made anew each time, so nobody keeps it."""
    answer = HttpResponse(data, content_type=mime)
    place = "inline" if inline else "attachment"
    answer.headers["Content-Disposition"] = f'{place}; filename="{name}"'
    answer.headers["Cache-Control"] = "no-store"
    answer.headers["X-Content-Type-Options"] = "nosniff"
    return answer
