"""What a person may type of ingredients. Forms only parse; the acts decide."""

from __future__ import annotations

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Field, Row
from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from plant.forms.layout import ActionBar, BigNumber
from plant.hazard_plan.content import Plan
from records.deviations.forms import LARGEST_LETTER, LETTER_KINDS
from records.flow.fields import choice, note, words
from records.flow.forms import BEGINS_NOW, FlowForm, helper
from records.ingredients.data import UNITS, WHAT, ApprovalData, Certificate, ReceivedData, StockData
from records.ingredients.models import OPENED, THROWN_AWAY, USED, USED_UP, KeptOnce
from records.ingredients.queries import lot_choices
from records.ingredients.words import in_words
from records.ledger import files


class KeptForm(FlowForm):
    """A form of one record, or of its amendment when `row` is given: then it asks why, and whether it happened."""

    use_required_attribute = False  # our own sentence beside the field, not the browser's
    at_label: Any = gettext_lazy("At")

    def __init__(self, *args: Any, row: KeptOnce | None = None, **options: Any) -> None:
        self.row = row
        if row is not None:
            known = {**self.known(row), "at": row.observed_at, "note": row.note}
            options["initial"] = {**known, **options.get("initial", {})}
        super().__init__(*args, **options)
        self.fields["at"] = self.time(self.at_label)
        self.initial.setdefault("at", self.now)
        self.fields["note"] = note(_("Note"))
        if row is not None:
            self.fields["reason"] = words(_("Why it is amended"), 400, required=True)
            self.fields["void"] = forms.BooleanField(label=_("It did not happen"), required=False)

    def known(self, row: Any) -> dict[str, Any]:
        """What stands in the record that is amended, by field."""
        return {name: getattr(row, name) for name in self.fields_of_row}

    fields_of_row: tuple[str, ...] = ()

    def ends(self, *, begins: bool = False, says: str = "") -> list[Any]:
        """The last parts of the layout: time, note, the amendment's own, the bar; `says`: what its button says."""
        if self.row is not None:
            return ["at", "note", "reason", "void", ActionBar(_("Amend it"))]
        if begins:
            return ["at", "note", ActionBar(_("It happened: record it"), _("It begins now"), out_name=BEGINS_NOW)]
        return ["at", "note", ActionBar(says or _("It happened: record it"))]

    def common(self) -> dict[str, Any]:
        """What every act is told."""
        given = self.cleaned_data
        found = {"form_id": given["form_id"], "at": given["at"], "note": given["note"]}
        if self.row is not None:
            amended = {"amends": self.row.number, "amend_reason": given["reason"], "void": given["void"]}
            return {**found, **amended}
        return found

    def day(self, label: Any, *, required: bool = True, help_text: Any = "") -> forms.DateField:
        return forms.DateField(
            label=label,
            required=required,
            help_text=help_text,
            widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
            input_formats=["%Y-%m-%d"],
            error_messages={
                "required": _("Enter the day."), "invalid": _("Write the day as 2026-03-03."),
            },
        )  # fmt: skip

    def unit(self) -> forms.ChoiceField:
        return choice(_("Unit"), [(one, in_words(one)) for one in UNITS])


class ApprovalForm(KeptForm):
    """A supplier approved for an item."""

    at_label = gettext_lazy("Approved from")
    fields_of_row = ("supplier", "item", "hazard", "grounds", "until")

    def build(self, plan: Plan) -> None:
        self.fields["supplier"] = words(_("Supplier"), 120, required=True)
        self.fields["item"] = words(_("Item"), 120, required=True, help_text=_("As it is named when it is received."))
        self.fields["hazard"] = note(_("Hazard that the supplier controls"), required=True)
        self.fields["grounds"] = note(_("On what grounds: audit, certificate, letter, sampling"), required=True)
        self.fields["until"] = self.day(_("Approved until"))

    def layout(self) -> FormHelper:
        return helper(
            "form_id", Row(Field("supplier"), Field("item")), "hazard", "grounds", "until", *self.ends()
        )

    def said(self) -> ApprovalData:
        """What was typed, as the act takes it."""
        return ApprovalData(**self.common(), **{name: self.cleaned_data[name] for name in self.fields_of_row})


class ReceivedForm(KeptForm):
    """A lot as it came."""

    at_label = gettext_lazy("Received at")
    fields_of_row = ("what", "item", "supplier", "supplier_lot", "unit", "best_by", "condition", "refused_why")

    def known(self, row: Any) -> dict[str, Any]:
        answer = "accepted" if row.accepted else "refused"
        return {
            **super().known(row), "quantity": row.quantity_typed, "allergens": ", ".join(row.allergens),
            "answer": answer,
        }  # fmt: skip

    def build(self, plan: Plan) -> None:
        self.fields["what"] = choice(_("What it is"), [(one, in_words(one)) for one in WHAT])
        self.fields["item"] = words(_("Item"), 120, required=True)
        self.fields["supplier"] = words(_("Supplier"), 120, required=True)
        self.fields["supplier_lot"] = words(
            _("Supplier's lot"), 80, required=True, help_text=_("As printed on the package; a scanner may type it.")
        )
        self.fields["quantity"] = self.number(_("Quantity"), required=True)
        self.fields["unit"] = self.unit()
        self.fields["best_by"] = self.day(_("Best by"), required=False, help_text=_("Empty where none is printed."))
        self.fields["allergens"] = words(
            _("Allergens that its label declares"), 400, help_text=_("Apart by commas; empty where it declares none.")
        )
        self.fields["condition"] = words(
            _("Condition on arrival"), 400, required=True, help_text=_("Temperature, seals, damage, pests.")
        )
        answers = [("accepted", _("accepted")), ("refused", _("refused"))]
        self.fields["answer"] = choice(_("Answer"), answers, radio=True)
        self.fields["refused_why"] = words(_("Why it was refused"), 400)
        self.fields["certificate"] = forms.FileField(
            label=_("Its certificate"),
            required=False,
            help_text=_("A PDF, JPEG or PNG of at most 10 MB."),
            widget=forms.FileInput(attrs={"accept": ".pdf,.jpg,.jpeg,.png"}),
            error_messages={"empty": _("This file is empty."), "invalid": _("No file came with this form.")},
        )

    def layout(self) -> FormHelper:
        return helper(
            "form_id", Row(Field("what"), Field("item")), Row(Field("supplier"), Field("supplier_lot")),
            BigNumber("quantity", unit_field="unit"), Row(Field("best_by"), Field("allergens")), "condition",
            "certificate", "answer", "refused_why", *self.ends(),
        )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        given = self.cleaned_data
        if given.get("answer") == "refused" and not given.get("refused_why"):
            self.add_error("refused_why", _("Write a few words here."))
        if not self.errors and (sent := given.get("certificate")):
            given["certificate"] = self._kept(sent)
        return given

    def _kept(self, sent: Any) -> Certificate | None:
        if sent.size > LARGEST_LETTER:
            self.add_error("certificate", _("This file is larger than 10 MB."))
            return None
        data = sent.read()
        mime = next((mime for start, mime in LETTER_KINDS if data.startswith(start)), "")
        if not mime:
            self.add_error("certificate", _("This is neither a PDF nor a JPEG or PNG picture."))
            return None
        return Certificate(sha256=files.put(data), name=sent.name or "certificate", mime=mime)

    def said(self) -> ReceivedData:
        """What was typed, as the act takes it."""
        given = self.cleaned_data
        return ReceivedData(
            **self.common(),
            **{name: given[name] for name in self.fields_of_row},
            quantity=given["quantity"],
            allergens=tuple(one.strip() for one in given["allergens"].split(",") if one.strip()),
            accepted=given["answer"] == "accepted",
            certificate=given["certificate"] or None,
        )


class StockForm(KeptForm):
    """A lot opened, used, used up or thrown away."""

    fields_of_row = ("received", "what", "unit", "into")

    def known(self, row: Any) -> dict[str, Any]:
        return {**super().known(row), "amount": row.amount_typed}

    def build(self, plan: Plan) -> None:
        lots = [("", "—"), *lot_choices(self.now, self.in_force)]
        self.fields["received"] = choice(_("Lot"), lots)
        events = [(one, in_words(one)) for one in (OPENED, USED, USED_UP, THROWN_AWAY)]
        self.fields["what"] = choice(_("What happened"), events)
        self.fields["amount"] = self.number(_("Amount"))
        self.fields["unit"] = self.unit()
        self.fields["into"] = words(_("Into what, where used"), 160)

    def layout(self) -> FormHelper:
        return helper(
            "form_id", Row(Field("received"), Field("what")), BigNumber("amount", unit_field="unit"), "into",
            *self.ends(begins=True),
        )  # fmt: skip

    def said(self, *, begins_now: bool = False) -> StockData:
        """What was typed, as the act takes it."""
        given = self.cleaned_data
        return StockData(
            **self.common(), received=int(given["received"]), what=given["what"], amount=given["amount"],
            unit=given["unit"], into=given["into"], begins_now=begins_now,
        )  # fmt: skip


__all__ = ["ApprovalForm", "KeptForm", "ReceivedForm", "StockForm"]
