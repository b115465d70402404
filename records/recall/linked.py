"""A return that belongs to a recall: the recall's step is written with it, and follows when it is amended."""

from __future__ import annotations

from collections.abc import Collection
from uuid import UUID, uuid5

from django.db.models import Exists, OuterRef
from django.utils.translation import gettext as _

from records.flow.errors import Refused
from records.ledger.actions import Act
from records.recall import state
from records.recall.models import RETURNED, ProductReturned, RecallBegun, RecallStep

MOST = 20


def choices(also: int | None = None) -> list[tuple[int, str]]:
    """The latest recalls, no rehearsals, and `also`: the number of each, and what it began from. An ended one too."""
    latest = RecallBegun.objects.filter(mock=False).order_by("-begun_at", "-number")[:MOST]
    rows = dict(latest.values_list("number", "origin_words"))
    if also is not None and also not in rows:
        rows |= dict(RecallBegun.objects.filter(number=also, mock=False).values_list("number", "origin_words"))
    return [(number, f"{number}: {words}") for number, words in rows.items()]


def steps_of(parts: Collection[UUID]) -> dict[UUID, RecallStep]:
    """By the part that came back: the step of a recall that stands for it. One statement."""
    successor = RecallStep.objects.filter(amends=OuterRef("number"))
    rows = RecallStep.objects.filter(~Exists(successor), part__in=parts, void=False)
    return {one.part: one for one in rows.order_by("number") if one.part is not None}


def why_not(row: ProductReturned, number: int | None) -> None:
    """Refused beside 'recall' for a recall that this return cannot belong to."""
    if number is None or row.void:
        return
    found = state.recall_of(number)
    if found is None or found.begun.mock:
        raise Refused(_("There is no such recall."), "recall")
    if row.code not in {one.code for one in found.packs}:
        raise Refused(_("These packs are not in its scope."), "recall")
    if row.returned_at < found.begun.begun_at:
        raise Refused(_("It came back before this recall was begun: leave it out here."), "recall")


def write(a: Act, row: ProductReturned, number: int | None) -> None:
    """The step of recall `number` for this return, in its act; an older step of it is amended, or did not happen."""
    old = steps_of([row.part]).get(row.part)
    keeps = old is not None and old.recall == number and not row.void
    if old is not None:
        new = _step(row, old.recall)
        new.amends, new.void = old.number, not keeps
        new.amend_reason = row.amend_reason
        a.write(new, observed_at=new.happened_at)
    if number is not None and not keeps and not row.void:
        made = _step(row, number)
        a.write(made, observed_at=made.happened_at)


def _step(row: ProductReturned, recall: int) -> RecallStep:
    return RecallStep(
        form_id=uuid5(row.form_id, f"returned in recall {recall}"), recall=recall, what=RETURNED,
        happened_at=row.returned_at, consignee=row.consignee, code=row.code, quantity_typed=row.quantity_typed,
        quantity=row.quantity, unit=row.unit, words=f"{row.reason}; {row.condition}", part=row.part,
    )  # fmt: skip
