"""What a person may type about a vessel, other equipment or an instrument, while no plan stands on it."""

from __future__ import annotations

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Layout
from django import forms
from django.utils.translation import gettext_lazy as _

from plant.equipment.models import Equipment, Instrument, Vessel
from plant.forms.layout import ActionBar


class DescriptionForm(forms.ModelForm):  # type: ignore[type-arg]
    """A description of the plant in our look; the code is fixed once given, because labels and records carry it."""

    def __init__(self, *args: Any, out_url: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.out_url = out_url
        if not self.instance._state.adding:
            self.fields["code"].disabled = True

    @property
    def helper(self) -> FormHelper:
        """Laid out by crispy-forms."""
        helper = FormHelper()
        helper.layout = Layout(*self.fields, ActionBar(_("Save"), _("Back"), out_url=self.out_url))
        return helper


class VesselForm(DescriptionForm):
    """A vessel or a line."""

    class Meta:
        model = Vessel
        fields = [
            "code",
            "name",
            "kind",
            "stage",
            "storage_class",
            "holds_product",
            "capacity",
            "unit",
            "flow_order",
            "walk_order",
            "is_active",
        ]


class EquipmentForm(DescriptionForm):
    """Other equipment, or an area."""

    class Meta:
        model = Equipment
        fields = ["code", "name", "kind", "area", "walk_order", "is_active"]


class InstrumentForm(DescriptionForm):
    """An instrument."""

    class Meta:
        model = Instrument
        fields = [
            "code",
            "name",
            "role",
            "place_code",
            "unit",
            "low",
            "high",
            "resolution",
            "accuracy",
            "correction",
            "calibration_due",
            "is_active",
        ]


FORMS: dict[str, type[DescriptionForm]] = {
    "vessel": VesselForm,
    "equipment": EquipmentForm,
    "instrument": InstrumentForm,
}
