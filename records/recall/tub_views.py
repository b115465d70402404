"""The page of one tub: its code typed or scanned, and everything that bears on it."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_safe

from plant import clock
from plant.pictures.strip_chart import strip_chart_svg
from records.flow.pages import no_plan, now_and_plan
from records.flow.queries import label_of, not_free_at
from records.labels.words import kind_words
from records.lots.models import Lot
from records.people.plans import InForce
from records.recall import codes, tables
from records.recall.family import family_svg
from records.recall.models import ProductReturned
from records.recall.returned import ORIGIN
from records.recall.tub import Pressed, is_pasteurizer, tub_of
from records.run_rows.pages import may
from records.traces import strip
from records.traces.place_strip import strip_of_place
from records.traces.recorded import TooManySamples
from records.traces.windows import Window

MOST_STRIPS = 2  # pictures of traces on one page; further windows are named with a link
AROUND = timedelta(minutes=10)
LONGEST = timedelta(hours=24)
WIDTH = 976


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
    if lot.origin == ORIGIN:
        came = ProductReturned.objects.filter(part=lot.id).values_list("lot", flat=True)[0]
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
        "pressed": [(one, _strip(one, place < MOST_STRIPS, in_force, now)) for place, one in enumerate(found.pressed)],
        "packaging": [(one, kind_words(one.kind)) for one in found.packaging],
        "back": [back for one in found.after.packs if one.lot == lot.id for back in one.back],
        "may_send": may(request, "records:dispatch-new"),
        "zone": in_force.zone,
        "now": now,
    }
    return render(request, "records/recall/tub.html", context)


def _strip(one: Pressed, draw: bool, in_force: InForce, now: Any) -> str:
    """The trace of the time in a pasteurizer; '' where none is stored, or for another line."""
    if not draw or not is_pasteurizer(one.line_code, in_force):
        return ""
    window = Window(one.start - AROUND, min((one.end or now) + AROUND, one.start + LONGEST))
    try:
        drawn = strip_of_place(one.line_code, window, in_force, now)
    except TooManySamples:
        return ""
    return strip_chart_svg(drawn, WIDTH, words=strip.words()) if drawn is not None else ""
