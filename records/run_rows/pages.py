"""What the pages of runs share: one row as a page shows it, forms and their answers, what a person may."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any, cast

from django.contrib import messages
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from records.deviations.models import Deviation, DeviationCause
from records.flow.consequences import sentences_of
from records.flow.pages import now_and_plan, saved_by
from records.ledger.actions import Actor
from records.people.middleware import Request
from records.people.plans import InForce
from records.people.rights import RIGHTS
from records.run_rows import acts
from records.run_rows.models import RunRow
from records.run_rows.queries import R, Run, run_of


@dataclass(frozen=True, slots=True)
class Told:
    """One row of a run's record: in words, struck through or not, with the readings that it answered."""

    row: RunRow
    what: str
    details: str
    struck: bool
    may_amend: bool
    readings: tuple[tuple[int, str], ...] = ()  # number, outcome in words
    outcome: str = ""  # of its own verdict, in words
    reason: str = ""
    is_good: bool = True


def told(
    rows: Iterable[R], run: Run[R], what: Callable[[str], str], details: Callable[[R], str], by: Actor, may_say: bool
) -> list[Told]:
    """Every row of a run, amended and void ones too."""
    standing = {one.number for one in run.events}
    return [
        Told(
            one,
            what(one.what),
            details(one),
            one.number not in standing,
            one.number in standing and one.movement is None and may_say and not acts.why_not(by, one),
        )
        for one in rows
    ]


def deviations_of(numbers: Iterable[int]) -> QuerySet[Deviation]:
    """The deviations of which any of these records is a cause."""
    causes = DeviationCause.objects.filter(cause_number__in=[one for one in numbers if one]).values("deviation")
    return Deviation.objects.filter(number__in=causes).order_by("number")


def run_or_404(model: type[R], number: int) -> Run[R]:
    """The run of the address."""
    found = run_of(model, number)
    if found is None:
        raise Http404(_("There is no such run."))
    return found


def opened(model: type[R], number: int) -> tuple[Run[R], datetime, InForce]:
    """The run of the address with the moment and the plan in force; not found without either."""
    found = run_or_404(model, number)
    now, in_force = now_and_plan()
    if in_force is None:
        raise Http404(_("No plan is in force."))
    return found, now, in_force


def row_or_404(model: type[R], number: int) -> R:
    """The row of the address."""
    row = model._default_manager.filter(number=number).first() if number < 2**63 else None
    if row is None:
        raise Http404(_("There is no such event."))
    return row


def by(request: HttpRequest) -> Actor:
    """Who acts."""
    return cast(Request, request).actor


def sent(request: HttpRequest) -> Any:
    """What was posted; None when the page is only opened."""
    return request.POST if request.method == "POST" else None


def may(request: HttpRequest, route: str) -> bool:
    """Whether a role of the person may open a route."""
    return bool(cast(Request, request).roles & RIGHTS.get(route, frozenset()))


def saved(form: Any, act: Callable[[], Any]) -> Any:
    """What the act made of a form in order, or None with each refusal beside its field."""
    return saved_by(form, act) if form.is_valid() else None


def say_saved(request: HttpRequest, row: Any, what: str) -> None:
    """Say what was saved and what followed from it."""
    messages.success(request, _("Recorded: %(what)s.") % {"what": what})
    for number in filter(None, [row.number, row.movement, getattr(row, "reading", 0), getattr(row, "reading_two", 0)]):
        for text in sentences_of(number):
            messages.warning(request, text)


def onward(request: HttpRequest, row: R, run: Run[R], what: str, to_run: str, to_list: str) -> HttpResponse:
    """Say what was saved, then the run's page; the list where its beginning was said not to have happened."""
    say_saved(request, row, what)
    return redirect(to_list) if run_of(type(row), run.number) is None else redirect(to_run, run=run.number)


def show(request: HttpRequest, form: Any, heading: str, template: str, **more: Any) -> HttpResponse:
    """A page with one form of a run on it."""
    status = 422 if form.errors else 200
    context = {"form": form, "heading": heading, "zone": form.in_force.zone, **more}
    return render(request, template, context, status=status)
