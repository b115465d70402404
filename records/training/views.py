"""Pages of training: people against trainings, one person, one record with what replaced it, the form."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from plant.hazard_plan.words import again, topic
from plant.people.models import Person, Role
from plant.process.training import Standing
from records.flow.pages import no_plan, now_and_plan
from records.ingredients import keeping, pages
from records.ledger import files
from records.ledger.models import FileKept
from records.people.plans import InForce
from records.training import actions, queries, words
from records.training.forms import TrainingForm
from records.training.models import Training
from records.training.queries import Stand

FORM = "records/training/form.html"
LATELY = 40
page = require_http_methods(["GET", "HEAD", "POST"])
# The squares of the walk say the same here: filled done, open to be done, half filled late, struck missed.
SQUARES = {
    Standing.IN_DATE: "done", Standing.SOON: "due", Standing.OVERDUE: "late", Standing.MISSING: "missed",
}  # fmt: skip


def _cell(one: Stand) -> dict[str, Any]:
    """A stand in words, with its square; of a training that is not asked of the person only what is recorded."""
    return {
        "stand": one,
        "topic": topic(one.asked),
        "again": again(one.asked),
        "word": str(words.STANDINGS[one.how]),
        "square": SQUARES[one.how],
        "attend": bool(one.roles) and one.how != Standing.IN_DATE,
        "roles": [Role(role).label for role in one.roles],
    }


def _line(row: Training, in_force: InForce) -> dict[str, Any]:
    return {
        "row": row,
        "topic": words.topic_of(row, in_force),
        "people": words.people_words(row),
        "proven": words.proven_words(row.proven),
    }


@require_safe
def training(request: HttpRequest) -> HttpResponse:
    """People against trainings: the last of each and until when it counts; what was recorded lately."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    rows = [[_cell(one) for one in row] for row in queries.stands(now, in_force)]
    cells = [one for row in rows for one in row]
    lacks = [one for one in cells if one["stand"].lacks]
    context = {
        "now": now,
        "zone": in_force.zone,
        "in_force": in_force,
        "asked": [(one, topic(one), again(one)) for one in in_force.plan.trainings],
        "rows": [(row[0]["stand"].person, _roles(row[0]["stand"].person, now), row) for row in rows if _bears(row)],
        "overdue": sum(one["stand"].how == Standing.OVERDUE for one in lacks),
        "missing": sum(one["stand"].how == Standing.MISSING for one in lacks),
        "soon": [one for one in cells if one["attend"] and one["stand"].how == Standing.SOON],
        "lately": [_line(one, in_force) for one in queries.lately(LATELY)],
        "most": LATELY,
        "may_record": pages.may(request, "records:training-new"),
    }
    return render(request, "records/training/training.html", context)


def _bears(row: list[dict[str, Any]]) -> bool:
    """Whether the plan asks something of the person, or has something of the person."""
    return any(one["stand"].roles or one["stand"].last for one in row)


def _roles(person: Person, now: Any) -> list[Any]:
    return [Role(role).label for role in sorted(person.roles_at(now))]


@require_safe
def person(request: HttpRequest, person_id: UUID) -> HttpResponse:
    """One person: what the plan asks and how it stands, and every training that is recorded, the latest first."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    who = get_object_or_404(Person.objects.prefetch_related("held_roles"), id=person_id)
    mine = queries.stands(now, in_force, who)
    context = {
        "who": who,
        "zone": in_force.zone,
        "roles": _roles(who, now),
        "cells": [_cell(one) for one in (mine[0] if mine else []) if one.roles or one.last],
        "lines": [_line(one, in_force) for one in queries.of_person(who, LATELY)],
        "most": LATELY,
        "may_record": pages.may(request, "records:training-new"),
    }
    return render(request, "records/training/person.html", context)


def _to(row: Any) -> str:
    return reverse("records:training-entry", args=[row.number])


@page
def new(request: HttpRequest) -> HttpResponse:
    """A training recorded; ?training= and ?person= come from a cell that was tapped."""
    now, in_force = pages.plan_or_404()
    start = {"training": request.GET.get("training", "")[:80], "people": request.GET.getlist("person")[:1]}
    form = TrainingForm(**pages.sent(request), in_force=in_force, now=now, initial=start)
    act = lambda: actions.record(pages.by(request), form.said())  # noqa: E731
    return pages.answered(request, form, _("Record a training"), act, _to, FORM)


@require_safe
def entry(request: HttpRequest, number: int) -> HttpResponse:
    """One training as recorded, with what replaced it."""
    _now, in_force = pages.plan_or_404()
    row: Any = pages.record_or_404(number, Training)
    context = {
        **pages.context_of(request, row, in_force),
        "told": words.told(row, in_force),
        "may_amend": pages.may(request, "records:training-amend"),
    }
    return render(request, "records/training/entry.html", context)


@page
def amend(request: HttpRequest, number: int) -> HttpResponse:
    """A training as it should have been recorded, or that it was not held."""
    row = pages.record_or_404(number, Training)
    now, in_force = pages.plan_or_404()
    latest = pages.standing_or_404(row)
    if latest.number != row.number:
        return redirect(_to(latest))
    form = TrainingForm(**pages.sent(request), in_force=in_force, now=now, row=row)
    refusal = keeping.why_not(pages.by(request), row)
    act = lambda: actions.record(pages.by(request), form.said())  # noqa: E731
    return pages.answered(request, form, _("Amend the training"), act, _to, FORM, refusal=refusal)


@require_safe
def certificate(request: HttpRequest, number: int) -> HttpResponseBase:
    """The certificate or attendance list, as it was kept."""
    row = pages.record_or_404(number, Training)
    sha256 = getattr(row, "certificate", "")
    kept = FileKept.objects.filter(sha256=sha256).first() if sha256 else None
    if kept is None:
        raise Http404(_("No certificate was kept with this training."))
    return FileResponse(files.open_kept(sha256), content_type=kept.mime, filename=kept.name)
