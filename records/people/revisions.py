"""Changing the description of the plant once a plan stands on it: signed, with a reason, before and after kept."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from django import forms
from django.core.exceptions import ValidationError
from django.http import Http404
from django.utils.translation import gettext_lazy as _

from plant.equipment.models import Equipment, Instrument, Vessel
from plant.products.models import Product
from records.ledger.actions import Actor, act
from records.people.forms import LONGEST_REASON, SignatureFields, reason_field
from records.people.models import PlantRevision
from records.people.refused import Refused

if TYPE_CHECKING:
    from records.people.middleware import Request

Row = Vessel | Equipment | Instrument | Product

TABLES: dict[str, type[Row]] = {
    "vessel": Vessel,
    "equipment": Equipment,
    "instrument": Instrument,
    "product": Product,
}
KEPT = {"id", "code"}  # what names a thing never changes


def find(table: str, code: str) -> Row:
    """The thing of that code; Http404 for none."""
    model = TABLES.get(table)
    row = model._default_manager.filter(code=code).first() if model else None
    if row is None:
        raise Http404
    return row


def history(row: Row) -> list[PlantRevision]:
    """Its changes, the latest first."""
    return list(PlantRevision.objects.filter(row_id=row.id).order_by("-number"))


def columns(table: str) -> list[str]:
    """What may be changed."""
    return [one.name for one in TABLES[table]._meta.concrete_fields if one.name not in KEPT]


def revise(by: Actor, table: str, row: Row, changes: dict[str, Any], reason: str) -> PlantRevision | None:
    """Change a description; None, and nothing written, when nothing is different.

    Raises Refused: no reason, a column that has no such name or may not change, a value that the column refuses.
    """
    if table not in TABLES or not isinstance(row, TABLES[table]):
        raise Refused(_("There is no such description."))
    if not reason.strip() or len(reason) > LONGEST_REASON:
        raise Refused(_("Write why it changes, briefly."), "reason")
    if not set(changes) <= set(columns(table)):
        raise Refused(_("This cannot be changed."))
    with act(by) as a:
        row = TABLES[table]._default_manager.get(id=row.id)
        before = {name: plain(getattr(row, name)) for name in changes}
        for name, value in changes.items():
            setattr(row, name, value)
        _clean(row)
        after = {name: plain(getattr(row, name)) for name in changes}
        different = [name for name in changes if before[name] != after[name]]
        if not different:
            return None
        row.save(update_fields=different)
        return a.write(
            PlantRevision(
                table=table,
                row_id=row.id,
                code=row.code,
                before={name: before[name] for name in different},
                after={name: after[name] for name in different},
                reason=reason.strip(),
            )
        )


def plain(value: Any) -> Any:
    """A column's value as the record keeps it: decimals without idle zeros and dates as text."""
    if isinstance(value, Decimal):
        text = format(value, "f")
        return text.rstrip("0").rstrip(".") if "." in text else text
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, (list, tuple)):
        return [plain(one) for one in value]
    return value


def _clean(row: Row) -> None:
    try:
        row.full_clean()
    except ValidationError as error:
        field, sentences = next(iter(error.message_dict.items()))
        raise Refused(sentences[0], field) from error


class ReviseForm(SignatureFields):
    """The columns of a description, why they change, and a signature."""

    main = _("Change, signed")

    def __init__(self, *args: Any, row: Row, request: Request, **kwargs: Any) -> None:
        table = next(name for name, model in TABLES.items() if isinstance(row, model))
        self.names_of_columns = columns(table)
        super().__init__(*args, request=request, **kwargs)
        own = {}
        for name in self.names_of_columns:
            field = row._meta.get_field(name).formfield()  # type: ignore[union-attr]
            if field is None:
                raise TypeError(f"{table}.{name} has no form field")
            value = getattr(row, name)
            field.initial = plain(value) if isinstance(value, Decimal) else value
            own[name] = field
        self.fields = {**own, "reason": reason_field(_("Why")), **self.fields}

    def changes(self) -> dict[str, Any]:
        """The columns whose value in the form differs from the one shown."""
        return {name: self.cleaned_data[name] for name in self.names_of_columns if name in self.changed_data}


def form_for(row: Row, data: Any, *, request: Request) -> ReviseForm:
    """The form of one description."""
    form = ReviseForm(data, row=row, request=request)
    if isinstance(row, Product):
        form.fields["allergens"] = Words(required=False, label=_("Allergens"), initial=", ".join(row.allergens))
        form.fields["allergens"].help_text = _("Separated by commas.")
    return form


class Words(forms.CharField):
    """A list of short texts, separated by commas."""

    def to_python(self, value: Any) -> Any:
        """The texts, without empty ones."""
        text = super().to_python(value)
        return [one.strip() for one in (text or "").split(",") if one.strip()]

    def has_changed(self, initial: Any, data: Any) -> bool:
        """Compared as lists."""
        return bool(self.to_python(initial or "") != self.to_python(data or ""))
