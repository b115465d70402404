"""What a person may type about a product, while no plan stands on it."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from plant.equipment.forms import DescriptionForm
from plant.products.models import Product


class Allergens(forms.CharField):
    """A list of allergens, separated by commas."""

    def to_python(self, value: Any) -> Any:
        """The names, without empty ones."""
        return [one.strip() for one in (super().to_python(value) or "").split(",") if one.strip()]

    def run_validators(self, value: Any) -> None:
        """The length counts for the whole."""
        super().run_validators(", ".join(value))

    def prepare_value(self, value: Any) -> Any:
        """Commas again."""
        return ", ".join(value) if isinstance(value, (list, tuple)) else value


class ProductForm(DescriptionForm):
    """A product."""

    allergens = Allergens(label=_("Allergens"), required=False, max_length=400, help_text=_("Separated by commas."))

    class Meta:
        model = Product
        fields = ["code", "name", "family", "product_class", "fat_percent", "allergens", "is_sold", "is_active"]
        fields += ["gtin", "net_contents", "shelf_days", "keep"]
