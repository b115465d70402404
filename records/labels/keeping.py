"""What the acts on a filling line share: columns, the same form twice, an entry that did not happen."""

from __future__ import annotations

from datetime import datetime
from typing import Any, TypeVar
from uuid import UUID

from django.utils.translation import gettext as _

from records.deviations.errors import Refused
from records.flow import closed_days
from records.flow.choices import product_of
from records.flow.common import name_of, not_ahead, plan_at, same_or_different
from records.flow.moving import may_amend
from records.labels import again, queries
from records.labels.data import Amends
from records.labels.models import ClearanceCheck, LineClearance, OfLine, PackagingCounted, PackagingOpened
from records.ledger.actions import Act, Actor, act
from records.people.plans import InForce

K = TypeVar("K", bound=OfLine)
KINDS: tuple[type[OfLine], ...] = (LineClearance, ClearanceCheck, PackagingOpened, PackagingCounted)
MOST_COUNTED = 10_000_000
# Columns that no form says: they come with the act, or follow from what was said and the book as it then was.
_GIVEN = {
    "id", "number", "act", "content_version", "received_at", "by_id", "by_name", "by_initials", "by_role", "tablet",
}  # fmt: skip
_FOUND = {"place_name", "product_name", "before", "before_name", "printed_name", "difference"}

__all__ = [
    "KINDS", "Refused", "columns", "count", "plan_at", "row_of", "void", "wanted", "why_not",
    "write",
]  # fmt: skip


def columns(
    form_id: UUID, place: str, product: str, at: datetime, note: str, in_force: InForce, said: Amends
) -> dict[str, Any]:
    """The columns of every record of a line; Refused for a time to come, no filling line, an unknown product."""
    not_ahead(at, "at")
    if not queries.is_filling_line(in_force.plan, place):
        raise Refused(_("The plan knows no such filling line."), "place")
    found = product_of(in_force, product)
    if found is None:
        raise Refused(_("The plan knows no such product."), "product")
    return {
        "form_id": form_id,
        "place": place,
        "place_name": name_of(in_force, place),
        "product": found.code,
        "product_name": found.name,
        "note": note.strip(),
        "observed_at": at,
        "amends": said.amends,
        "amend_reason": said.amend_reason.strip(),
    }


def wanted(text: str, field: str, sentence: str, most: int) -> str:
    """The text without its edges; Refused beside its field when it is empty or longer than is kept."""
    text = text.strip()
    if not text:
        raise Refused(sentence, field)
    if len(text) > most:
        raise Refused(_("This is too long: %(most)s characters are kept.") % {"most": most}, field)
    return text


def count(text: str, field: str, *, may_miss: bool = False) -> int | None:
    """A whole number of pieces; None for nothing typed where that is allowed. Refused beside its field."""
    text = text.strip()
    if not text and may_miss:
        return None
    if not (text.isascii() and text.isdecimal()) or int(text[:20]) > MOST_COUNTED:
        raise Refused(_("Write a whole number of pieces, like 1200."), field)
    return int(text)


def write(a: Act, by: Actor, row: K) -> tuple[K, bool]:
    """Keep a row once for its form: the saved one for a repeat, and whether it was written now.

    An amendment has to be this person's to make; what ran on the strength of the old one is looked at again.
    """
    model: Any = type(row)
    saved = model.objects.filter(form_id=row.form_id).first()
    if saved is not None:
        said = [one.name for one in row._meta.concrete_fields if one.name not in _GIVEN | _FOUND]
        return same_or_different(saved, row, said, by), False
    old = _replaced(by, row)
    if old is None:
        return a.write(row, observed_at=row.observed_at), True
    before = again.wrong_on(old.place, old.observed_at, row.observed_at)
    kept = a.write(row, observed_at=row.observed_at)
    again.follow_new(a, kept, before, again.wrong_on(old.place, old.observed_at, row.observed_at))
    return kept, True


def _replaced(by: Actor, row: OfLine) -> OfLine | None:
    """The row that this one amends; Refused where it may not."""
    if row.amends is None:
        return None
    old = type(row)._default_manager.filter(number=row.amends).first()
    if old is None:
        raise Refused(_("There is no such entry to amend."))
    if not row.amend_reason:
        raise Refused(_("Write why it is amended."), "amend_reason")
    if refusal := why_not(by, old):
        raise Refused(refusal)
    if old.void or successor_of(old) is not None:
        raise Refused(_("This entry was amended already. Amend the one that stands."))
    if row.place != old.place:
        raise Refused(_("Say that this one did not happen, and record the other."), "place")
    return old


def row_of(number: int) -> OfLine | None:
    """The record of a line of that number, whichever kind it is."""
    for model in KINDS:
        row = model._default_manager.filter(number=number).first() if 0 < number < 2**63 else None
        if row is not None:
            return row
    return None


def successor_of(row: OfLine) -> OfLine | None:
    """What amends a row, if anything does."""
    found: OfLine | None = type(row)._default_manager.filter(amends=row.number).first()
    return found


def why_not(by: Actor, row: OfLine) -> str:
    """Empty when the person may say that this did not happen, else the sentence that says who may."""
    in_force = plan_at(row.observed_at)
    return may_amend(by, row, closed_days.is_closed(in_force.calendar.plant_day(row.observed_at)))


def void(by: Actor, number: int, form_id: UUID, reason: str) -> OfLine:
    """A successor that says that an entry did not happen: all that it was, and why. It releases nothing."""
    reason = wanted(reason, "amend_reason", _("Write why it is amended."), 2000)
    old = row_of(number)
    if old is None:
        raise Refused(_("There is no such entry to amend."))
    kept = {one.name: getattr(old, one.name) for one in old._meta.concrete_fields if one.name not in _GIVEN}
    row = type(old)(**{**kept, "form_id": form_id, "amends": number, "amend_reason": reason, "void": True})
    with act(by) as a:
        return write(a, by, row)[0]
