"""What the sheet says of the ledger: the head under which its day was closed."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.db.models import Max

from records.ledger.canonical import moment
from records.ledger.heads import printed_lines
from records.ledger.models import Entry
from records.review.models import DayClosing


def state_of(plant_day: date, revision: int) -> dict[str, Any]:
    """The closing's size, root, signed head and who closed; for a draft only how many entries there are."""
    closing = DayClosing.objects.filter(plant_day=plant_day, revision=revision).first()
    if closing is None:
        return {"closed": False, "entries": Entry.objects.aggregate(last=Max("number"))["last"] or 0}
    return {
        "closed": True,
        "tree_size": closing.tree_size,
        "root": closing.root,
        "printed": list(printed_lines(closing.tree_size, closing.root)),
        "head": closing.head,
        "signature": closing.signature,
        "certificate": closing.certificate,
        "entry": closing.number,
        "reason": closing.reason,
        "closed_at": moment(closing.received_at),
        "closed_by": closing.by_name,
        "closed_role": closing.by_role,
    }
