"""What the acts of ingredients and batches share: the same form twice, amendments, texts and numbers in order."""

from __future__ import annotations

from decimal import Decimal
from typing import Any, TypeVar

from django.db.models import Exists, OuterRef, QuerySet
from django.utils.translation import gettext as _

from records.flow import closed_days
from records.flow.common import not_ahead, plan_at, same_or_different, typed_number
from records.flow.errors import Refused
from records.flow.moving import may_amend
from records.ingredients.data import Said
from records.ingredients.models import KeptOnce
from records.ledger import registry
from records.ledger.actions import Act, Actor
from records.people.plans import InForce

K = TypeVar("K", bound=KeptOnce)
LONGEST = 4000
_GIVEN = {
    "id", "number", "act", "content_version", "received_at", "by_id", "by_name", "by_initials", "by_role", "tablet",
}  # fmt: skip


def common(said: Said, field: str = "at") -> dict[str, Any]:
    """The columns of every such record; Refused for a time that is still to come."""
    not_ahead(said.at, field)
    return {
        "form_id": said.form_id,
        "note": text(said.note, "note", needed=False),
        "amends": said.amends,
        "amend_reason": text(said.amend_reason, "reason", needed=False),
        "void": said.void,
        "observed_at": said.at,
    }


def text(said: str, field: str, most: int = LONGEST, *, needed: bool = True) -> str:
    """The text without its edges; Refused beside its field when it is empty or longer than is kept."""
    said = said.strip()
    if needed and not said:
        raise Refused(_("Write a few words here."), field)
    if len(said) > most:
        raise Refused(_("This is too long: %(most)s characters are kept.") % {"most": most}, field)
    return said


def number(typed: str, field: str, in_force: InForce, *, above_zero: bool = True) -> Decimal:
    """A number that has to be there."""
    found = typed_number(typed.strip(), in_force, field)
    if found is None:
        raise Refused(_("Enter a number."), field)
    if above_zero and found == 0:
        raise Refused(_("This has to be more than zero."), field)
    return found


def write(a: Act, by: Actor, row: K, *, not_said: frozenset[str] = frozenset()) -> tuple[K, bool]:
    """Keep a row once for its form, and whether it was written now; `not_said`: columns that the book gives.

    Raises DifferentContent for the same form with other content, Refused for an amendment that may not be.
    """
    model: Any = type(row)
    columns = [one.name for one in row._meta.concrete_fields if one.name not in _GIVEN | not_said]
    saved = model.objects.filter(form_id=row.form_id).first()
    if saved is not None:
        return same_or_different(saved, row, columns, by), False
    if row.amends is not None:
        check_amendment(model, by, row.amends, row.amend_reason)
    return a.write(row, observed_at=row.observed_at), True


def check_amendment(model: Any, by: Actor, amends: int, reason: str) -> None:
    """Refused where the record cannot be amended by this person, or was already."""
    if not reason:
        raise Refused(_("Write why it is amended."), "reason")
    old = model.objects.filter(number=amends).first()
    if old is None:
        raise Refused(_("There is no such entry to amend."))
    if why := why_not(by, old):
        raise Refused(why)
    if model.objects.filter(amends=amends).exists():
        raise Refused(_("This entry was amended already. Amend the one that stands."))


def why_not(by: Actor, row: KeptOnce) -> str:
    """Empty when the person may amend this record, else the sentence that says who may."""
    return may_amend(by, row, closed_days.is_closed(plan_at(row.observed_at).calendar.plant_day(row.observed_at)))


def standing(rows: QuerySet[K]) -> QuerySet[K]:
    """Only what stands: the last of each line of amendments, and nothing that did not happen."""
    model: Any = rows.model
    return rows.filter(~Exists(model.objects.filter(amends=OuterRef("number"))), void=False)


def first_of(row: K) -> K:
    """The first record of a line of amendments: its number is what other records name."""
    model: Any = type(row)
    while row.amends is not None:
        row = model.objects.get(number=row.amends)
    return row


def latest_of(model: type[K], number: int) -> K | None:
    """The last record of the line that a number begins or is in; None where there is none."""
    rows: Any = model._default_manager
    row: K | None = rows.filter(number=number).first() if 0 < number < 2**63 else None
    while row is not None and (later := rows.filter(amends=row.number).first()) is not None:
        row = later
    return row


def record_of(kind: str, number: int) -> KeptOnce | None:
    """The record of a kind and number, or None."""
    model: Any = registry.kinds().get(kind)
    if model is None or not issubclass(model, KeptOnce) or not 0 < number < 2**63:
        return None
    found: KeptOnce | None = model._default_manager.filter(number=number).first()
    return found
