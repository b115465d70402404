"""What a person may type of rework. Forms only parse; the acts decide."""

from __future__ import annotations

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Field, Row
from django import forms
from django.utils.translation import gettext as _

from plant.forms.layout import ActionBar, BigNumber
from plant.hazard_plan.content import Plan
from plant.process.units import plain
from records.flow import choices
from records.flow.exits import EXITS
from records.flow.fields import choice, note
from records.flow.forms import BEGINS_NOW, DoubtedForm, helper
from records.rework.actions import AWAY_BY
from records.rework.data import AwayData, UseData
from records.rework.state import Portion


class PortionForm(DoubtedForm):
    """A form of one portion of rework: all that is left of it is filled in."""

    use_required_attribute = False  # our own sentence beside the field, not the browser's

    def __init__(self, *args: Any, portion: Portion, **options: Any) -> None:
        self.portion = portion
        super().__init__(*args, **options)

    def known(self) -> None:
        """The time, and what is left."""
        self.initial.setdefault("at", self.now)
        left = self.portion.left
        if left is not None and left > 0:
            self.initial.update({"quantity": plain(left, 2), "unit": self.portion.row.unit})
        else:
            self.initial.setdefault("unit", self.in_force.plan.plant.volume_unit)


class UseForm(PortionForm):
    """Rework used."""

    def build(self, plan: Plan) -> None:
        self.fields["target"] = choice(_("Into"), [("", "—"), *choices.holders(plan)])
        self.fields["product"] = choice(_("Made into"), [("", "—"), *choices.products(plan)])
        self.fields["quantity"] = self.number(_("How much of it went in"), required=True)
        self.fields["unit"] = choice(_("Unit"), self.units())
        self.fields["emptied"] = forms.BooleanField(label=_("Nothing is left of it"), required=False)
        self.fields["why"] = note(_("If it is not pasteurized again: why it may go in so, by the plan"))
        self.fields["at"] = self.time(_("Used at"))
        self.ask_field()
        self.initial.setdefault("product", self.portion.row.product)
        self.known()

    def layout(self) -> FormHelper:
        return helper(
            "form_id", *self.ask_layout(), Row(Field("target"), Field("product")),
            BigNumber("quantity", unit_field="unit"), "emptied", "why", "at",
            ActionBar(_("It happened: record it"), _("It begins now"), out_name=BEGINS_NOW),
        )  # fmt: skip

    def said(self, *, begins_now: bool = False) -> UseData:
        """What was typed, as the act takes it."""
        given = self.cleaned_data
        names = ("form_id", "target", "product", "at", "quantity", "unit", "why", "emptied")
        return UseData(portion=self.portion.number, begins_now=begins_now, **{one: given[one] for one in names})


class AwayForm(PortionForm):
    """Rework thrown away."""

    def build(self, plan: Plan) -> None:
        self.fields["leaves_by"] = choice(_("How"), [(one, EXITS[one]) for one in AWAY_BY], radio=True)
        self.fields["why"] = note(_("Why"), required=True)
        self.fields["quantity"] = self.number(_("How much, if it was measured"))
        self.fields["unit"] = choice(_("Unit"), self.units())
        self.fields["emptied"] = forms.BooleanField(label=_("Nothing is left of it"), required=False)
        self.fields["at"] = self.time(_("Thrown away at"))
        self.ask_field()
        self.initial.setdefault("emptied", True)
        self.known()

    def layout(self) -> FormHelper:
        return helper(
            "form_id", *self.ask_layout(), "leaves_by", "why", BigNumber("quantity", unit_field="unit"), "emptied",
            "at", ActionBar(_("It happened: record it")),
        )  # fmt: skip

    def said(self) -> AwayData:
        """What was typed, as the act takes it."""
        given = self.cleaned_data
        names = ("form_id", "leaves_by", "why", "at", "quantity", "unit", "emptied")
        return AwayData(portion=self.portion.number, **{one: given[one] for one in names})


