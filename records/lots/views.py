"""Lots: what began lately, and one lot with its whole family in both directions."""

from __future__ import annotations

from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from records.flow.pages import no_plan, now_and_plan
from records.lots import queries
from records.lots.models import Lot


@require_safe
def lots(request: HttpRequest) -> HttpResponse:
    """Lots of the last days, and every one on hold."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    return render(request, "records/lots/lots.html", {"members": queries.lately(in_force, now), "now": now})


@require_safe
def lot(request: HttpRequest, lot_id: UUID) -> HttpResponse:
    """One lot: where its product came from, and where it went."""
    now, in_force = now_and_plan()
    if in_force is None:
        raise Http404
    family = queries.family_of(get_object_or_404(Lot, id=lot_id), in_force, now)
    return render(request, "records/lots/lot.html", {"family": family, "now": now})
