"""The page of a scope, its PDF and its table: from anything, what it could have reached and where that went."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import translation
from django.views.decorators.http import require_safe

from plant.spreadsheet import csv_text
from records.deviations.errors import Refused
from records.flow.pages import no_plan, now_and_plan
from records.ledger.models import Installation
from records.people.plans import InForce
from records.recall import origins, tables
from records.recall.family import family_svg
from records.recall.forms import ScopeForm
from records.recall.origins import Begun
from records.recall.scope import RecallScope, scope
from records.run_rows.pages import may

LIMIT = 400  # rows of a list on the page; the CSV has them all


@dataclass(frozen=True, slots=True)
class Found:
    """A scope with where it begins."""

    begun: Begun
    scope: RecallScope
    backward: bool


def find(form: ScopeForm, in_force: InForce, now: datetime) -> Found | None:
    """The scope of a form in order; None with the refusal beside its field."""
    if not form.is_valid():
        return None
    try:
        begun = origins.begin(form.asked(), in_force, now, backward=form.is_backward)
    except Refused as refusal:
        form.add_error(refusal.field if refusal.field in form.fields else None, str(refusal.sentence))
        return None
    return Found(begun, scope(begun.start, in_force, now, backward=form.is_backward), form.is_backward)


@require_safe
def scope_page(request: HttpRequest) -> HttpResponse:
    """From what, and then its lots with the reasoning: which movement carried it, how much, where it is."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    form = ScopeForm(request.GET or None, in_force=in_force, now=now)
    found = find(form, in_force, now) if request.GET else None
    context: dict[str, Any] = {"form": form, "zone": in_force.zone, "now": now}
    if found is not None:
        context |= {
            "found": found,
            "table": tables.told(found.scope, in_force),
            "picture": family_svg(found.scope, found.begun.words),
            "query": request.GET.urlencode(),
            "may_begin": may(request, "records:recall-new") and not found.backward,
            "limit": LIMIT,
        }
    return render(request, "records/recall/scope.html", context, status=422 if form.errors else 200)


@require_safe
def scope_csv(request: HttpRequest) -> HttpResponse:
    """The scope as a table, a line for each lot and each part of it that left."""
    asked = _asked(request)
    if asked is None:
        return _to_the_page(request)
    found, in_force, now = asked
    text = csv_text(tables.columns(), tables.rows(found.scope, in_force))
    answer = HttpResponse(text.encode("utf-8-sig"), content_type="text/csv; charset=utf-8")
    return _file(answer, f"recall-scope-{now:%Y%m%dT%H%M%SZ}.csv")


@require_safe
def scope_pdf(request: HttpRequest) -> HttpResponse:
    """The scope as a PDF, in the plant's language."""
    from plant.signing.pdf import render_pdf  # half a second

    asked = _asked(request)
    if asked is None:
        return _to_the_page(request)
    _found, in_force, now = asked
    with translation.override(in_force.plan.plant.language):
        found_again = find(ScopeForm(request.GET, in_force=in_force, now=now), in_force, now)
        assert found_again is not None
        context = {
            "found": found_again,
            "table": tables.told(found_again.scope, in_force),
            "picture": family_svg(found_again.scope, found_again.begun.words, on_paper=True),
            "plant": in_force.plan.plant,
            "installation": Installation.objects.order_by("number").first(),
            "paper": "letter" if in_force.plan.plant.temperature_unit.removeprefix("°") == "F" else "a4",
            "zone": in_force.zone,
            "now": now,
        }
        html = render_to_string("records/recall/scope_pdf.html", context)
    pdf = render_pdf(
        html,
        static_dir=Path(settings.BASE_DIR) / "static",
        created_at=now,
        identifier=f"{in_force.plan.plant.name}/scope/{request.GET.urlencode()}/{now.isoformat()}",
    )
    return _file(HttpResponse(pdf, content_type="application/pdf"), f"recall-scope-{now:%Y%m%dT%H%M%SZ}.pdf")


def _asked(request: HttpRequest) -> tuple[Found, InForce, datetime] | None:
    now, in_force = now_and_plan()
    found = find(ScopeForm(request.GET, in_force=in_force, now=now), in_force, now) if in_force else None
    return None if found is None or in_force is None else (found, in_force, now)


def _to_the_page(request: HttpRequest) -> HttpResponse:
    """What names nothing is answered by the page, with the reason beside its field."""
    query = request.GET.urlencode()
    return redirect(reverse("records:recall-scope") + (f"?{query}" if query else ""))


def _file(answer: HttpResponse, name: str) -> HttpResponse:
    answer.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    answer.headers["Cache-Control"] = "no-store"
    answer.headers["X-Content-Type-Options"] = "nosniff"
    return answer
