"""The page of one tub: its code typed or scanned, and everything that bears on it."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_safe

from plant import clock
from records.flow.pages import no_plan, now_and_plan
from records.flow.queries import label_of, not_free_at
from records.labels.words import kind_words
from records.lots.models import Lot
from records.recall import codes, tables
from records.recall.family import family_svg
from records.recall.returned import came_back_of
from records.recall.strips import strips_of
from records.recall.tub import tub_of
from records.run_rows.pages import may


@require_safe
def find(request: HttpRequest) -> HttpResponse:
    """The lot of a code, as it stands on the tub or as a scanner types its label."""
    typed = request.GET.get("code", "")
    if not typed.strip():
        return render(request, "records/recall/tub_find.html", {"code": "", "codes": [], "most": codes.LONGEST})
    found = codes.look(typed, clock.now().year)
    if found.lot is not None:
        return redirect("records:tub", lot_id=found.lot.id)
    context = {"code": typed, "codes": found.like, "refusal": found.sentence, "most": codes.LONGEST}
    return render(request, "records/recall/tub_find.html", context, status=404)


@require_safe
def tub(request: HttpRequest, lot_id: UUID) -> HttpResponse:
    """Everything of one lot."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    lot = get_object_or_404(Lot, id=lot_id)
    if came := came_back_of(lot):
        return redirect("records:tub", lot_id=came)
    found = tub_of(lot, in_force, now)
    label = label_of(lot, in_force)
    context: dict[str, Any] = {
        "tub": found,
        "label": label,
        "holds": list(dict.fromkeys(not_free_at(now).get(lot.id, []))),
        "before": tables.told(found.before, in_force),
        "after": tables.told(found.after, in_force),
        "picture_before": family_svg(found.before, label, ident="before"),
        "picture_after": "" if lot.code else family_svg(found.after, label, ident="after"),
        "pressed": strips_of(found.pressed, in_force, now),
        "packaging": [(one, kind_words(one.kind)) for one in found.packaging],
        "back": [back for one in found.after.packs if one.lot == lot.id for back in one.back],
        "may_send": may(request, "records:dispatch-new"),
        "zone": in_force.zone,
        "now": now,
    }
    return render(request, "records/recall/tub.html", context)
