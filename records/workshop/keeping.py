"""What the acts of the workshop share: where a record belongs, the same form twice, amendments, reports."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any, TypeVar

from django.db.models import Exists, OuterRef, QuerySet
from django.utils.translation import gettext as _

from records.flow import closed_days
from records.flow.common import name_of, not_ahead, plan_at, same_or_different, typed_number
from records.flow.errors import DifferentContent, Refused
from records.flow.moving import may_amend
from records.ledger import files, registry
from records.ledger.actions import Act, Actor
from records.ledger.models import FileKept, Record
from records.people.plans import InForce
from records.workshop import data as told
from records.workshop.models import Kept

K = TypeVar("K", bound=Kept)
R = TypeVar("R", bound=Record)
LONGEST_TEXT = 4000
PRESS = "pasteurizer"
# Columns that no form says: they come with the act, or follow from what was said.
_GIVEN = {
    "id", "number", "act", "content_version", "observed_at", "received_at", "by_id", "by_name", "by_initials",
    "by_role", "tablet",
}  # fmt: skip


def common(said: told.Act, in_force: InForce) -> dict[str, Any]:
    """The columns of every record of the workshop; Refused for a time to come, a place that the plan lacks."""
    not_ahead(said.at, "at")
    if said.place and said.place not in in_force.names:
        raise Refused(_("The plan knows no such place."), "place")
    return {
        "form_id": said.form_id,
        "place": said.place,
        "place_name": name_of(in_force, said.place) if said.place else "",
        "note": said.note.strip(),
        "amends": said.amends,
        "amend_reason": said.amend_reason.strip(),
        "observed_at": said.at,
    }


def wanted(text: str, field: str, sentence: str, most: int = LONGEST_TEXT) -> str:
    """The text without its edges; Refused beside its field when it is empty or longer than is kept."""
    text = text.strip()
    if not text:
        raise Refused(sentence, field)
    return fitting(text, field, most)


def fitting(text: str, field: str, most: int = LONGEST_TEXT) -> str:
    """The text; nothing is cut short in silence."""
    text = text.strip()
    if len(text) > most:
        raise Refused(_("This is too long: %(most)s characters are kept.") % {"most": most}, field)
    return text


def number(text: str, field: str, in_force: InForce, *, negative: bool = False) -> Decimal:
    """A number that has to be there."""
    found = typed_number(text.strip(), in_force, field, negative=negative)
    if found is None:
        raise Refused(_("Enter a number."), field)
    return found


def press_of(in_force: InForce, place: str) -> bool:
    """Whether a place is a pasteurizer."""
    return any(one.code == place and one.kind == PRESS for one in in_force.plan.vessels)


def write(a: Act, by: Actor, row: K, in_force: InForce) -> tuple[K, bool]:
    """Keep a row once for its form: the saved one for a repeat, and whether it was written now.

    Raises DifferentContent for the same form with other content, Refused for an amendment that may not be.
    """
    model: Any = type(row)
    saved = model.objects.filter(form_id=row.form_id).first()
    if saved is not None:
        return same_or_different(saved, row, _said(row), by), False
    if row.amends is not None:
        _check_amendment(model, by, row, in_force)
    return a.write(row, observed_at=row.observed_at), True


# What is worked out from the book as it then was; a repeat of the form may find it changed by the form itself.
_FOUND = {"plan_number", "number_known", "doubted", "last_good_at", "correction_before"}


def _said(row: Kept) -> Sequence[str]:
    columns = [one.name for one in row._meta.concrete_fields if one.name not in _GIVEN | _FOUND]
    return [*columns, "observed_at"]


def _check_amendment(model: Any, by: Actor, row: Kept, in_force: InForce) -> None:
    if not row.amend_reason:
        raise Refused(_("Write why it is amended."), "amend_reason")
    old = model.objects.filter(number=row.amends).first()
    if old is None:
        raise Refused(_("There is no such entry to amend."))
    if why_not := may_amend(by, old, closed_days.is_closed(in_force.calendar.plant_day(old.observed_at))):
        raise Refused(why_not)
    if model.objects.filter(amends=row.amends).exists():
        raise Refused(_("This entry was amended already. Amend the one that stands."))


def voided(old: K, form_id: Any, reason: str) -> K:
    """A successor that says that an entry did not happen: all that it was, and why."""
    model: Any = type(old)
    columns = {one.name: getattr(old, one.name) for one in old._meta.concrete_fields if one.name not in _GIVEN}
    changed = {"form_id": form_id, "amends": old.number, "amend_reason": reason.strip(), "void": True}
    made: K = model(**{**columns, **changed, "observed_at": old.observed_at})
    return made


def standing(rows: QuerySet[R]) -> QuerySet[R]:
    """Only what stands: the last of each line of amendments, and nothing that did not happen."""
    model: Any = rows.model
    return rows.filter(~Exists(model.objects.filter(amends=OuterRef("number"))), void=False)


def keep_report(a: Act, report: told.Report | None) -> None:
    """The entry of a report whose bytes are on disk already."""
    if report is not None and not FileKept.objects.filter(sha256=report.sha256).exists():
        files.note(a, report.sha256, report.name, report.mime)


def record_of(kind: str, entry: int) -> Record | None:
    """The record of a kind and number, or None."""
    model: Any = registry.kinds().get(kind)
    return model._default_manager.filter(number=entry).first() if model is not None and 0 < entry < 2**63 else None


__all__ = [
    "DifferentContent", "Refused", "common", "fitting", "keep_report", "number", "plan_at", "press_of", "record_of",
    "standing", "voided", "wanted", "write",
]  # fmt: skip


def local_day(in_force: InForce, at: datetime) -> Any:
    """The calendar day of a moment on the plant's clocks."""
    return in_force.calendar.local(at).date()
