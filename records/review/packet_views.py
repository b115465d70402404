"""An inspector's packet of one lot, joined with what the review has of its days."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from uuid import UUID

from django.db.models import Max
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import translation
from django.views.decorators.http import require_safe

from records.flow.pages import no_plan, now_and_plan
from records.ledger.canonical import moment
from records.ledger.heads import printed_lines
from records.ledger.models import Entry
from records.lots.models import Lot
from records.recall.returned import came_back_of
from records.reports import pages
from records.reports.lot_packet import packet_of
from records.reports.lot_packet_pdf import file_name, render_packet
from records.reports.values import Data, by_of
from records.review.models import DayClosing, SheetSignature


@require_safe
def lot_packet(request: HttpRequest, lot_id: UUID) -> HttpResponse:
    """Everything of one lot as a PDF, in the plant's language; made anew each time, and not kept."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    lot = get_object_or_404(Lot, id=lot_id)
    if came := came_back_of(lot):
        return redirect("records:lot-packet", lot_id=came)
    with translation.override(in_force.plan.plant.language):
        packet = packet_of(lot, in_force, now, ledger_of)
        pdf = render_packet(packet)
    return pages.download(pdf, f"{file_name(packet.data)}.pdf", "application/pdf", inline=True)


def ledger_of(days: Sequence[date]) -> Data:
    """How many entries there are, the newest closing of each of these days with its signatures, the newest head.

    `open_days`: those of them that nobody has closed. Four statements.
    """
    closings: dict[date, DayClosing] = {}
    for one in DayClosing.objects.filter(plant_day__in=days).order_by("revision"):
        closings[one.plant_day] = one
    signed: dict[tuple[date, int], list[SheetSignature]] = {}
    for sign in SheetSignature.objects.filter(plant_day__in=days).order_by("number"):
        signed.setdefault((sign.plant_day, sign.revision), []).append(sign)
    newest = DayClosing.objects.order_by("-number").first()
    return {
        "entries": Entry.objects.aggregate(last=Max("number"))["last"] or 0,
        "days": [_day(one, signed.get((day, one.revision), [])) for day, one in sorted(closings.items())],
        "open_days": [day.isoformat() for day in days if day not in closings],
        "newest": None
        if newest is None
        else {
            "day": newest.plant_day.isoformat(),
            "tree_size": newest.tree_size,
            "root": newest.root,
            "printed": list(printed_lines(newest.tree_size, newest.root)),
            "head": newest.head,
            "signature": newest.signature,
            "certificate": newest.certificate,
        },
    }


def _day(one: DayClosing, signed: list[SheetSignature]) -> Data:
    return {
        "day": one.plant_day.isoformat(),
        "revision": one.revision,
        "tree_size": one.tree_size,
        "root": one.root,
        "closed_at": moment(one.received_at),
        "signed": [{"as": each.signed_as, "meaning": each.meaning, **by_of(each)} for each in signed],
        **by_of(one),
    }
