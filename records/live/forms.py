"""What a person may type of live feeds. Forms only parse; the views and acts decide."""

from __future__ import annotations

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Field, Row
from django import forms
from django.utils.translation import gettext as _

from plant.forms.layout import ActionBar
from plant.hazard_plan.content import Plan
from records.flow.fields import choice, words
from records.flow.forms import FlowForm, helper
from records.live.staging import check_unit
from records.traces.importing import known_instruments


class FeedForm(FlowForm):
    """Which name stands for which instrument."""

    use_required_attribute = False  # our own sentence beside the field, not the browser's

    def build(self, plan: Plan) -> None:
        known = known_instruments(self.in_force)
        self.fields["name"] = words(
            _("Topic or channel"), 200, required=True, help_text=_("Exactly as the recorder or gateway sends it.")
        )
        self.fields["instrument"] = choice(_("Instrument"), [("", "—"), *((one.code, one.label) for one in known)])
        self.fields["unit"] = words(
            _("Unit that it is sent in"), 12, help_text=_("Empty: the unit of the plan. A signal of 1 and 0 has 1.")
        )

    def layout(self) -> FormHelper:
        return helper("form_id", "name", Row(Field("instrument"), Field("unit")), ActionBar(_("Keep it")))

    def clean(self) -> dict[str, str]:
        data: dict[str, str] = self.cleaned_data
        if data.get("instrument"):
            known = {one.code: one.unit for one in known_instruments(self.in_force)}
            data["unit"] = data.get("unit") or known[data["instrument"]]
            why = check_unit(data["instrument"], data["unit"], self.in_force)
            if why == "unit":
                self.add_error("unit", _("The instrument cannot be in that unit."))
            elif why == "before":
                self.add_error("unit", _("Its samples were kept in another unit before."))
        return data


class GatewayForm(FlowForm):
    """A gateway to be enrolled."""

    use_required_attribute = False

    def build(self, plan: Plan) -> None:
        self.fields["name"] = words(_("Name of the gateway"), 60, required=True)
        self.fields["instruments"] = forms.MultipleChoiceField(
            label=_("Instruments that it sends for"),
            choices=[(one.code, one.label) for one in known_instruments(self.in_force)],
            widget=forms.CheckboxSelectMultiple,
            error_messages={"required": _("Choose at least one."), "invalid_choice": _("Choose one of the list.")},
            help_text=_("What it sends for any other is refused."),
        )

    def layout(self) -> FormHelper:
        return helper("form_id", "name", "instruments", ActionBar(_("Enrol it")))
