"""The words of ingredients in the reader's language. Records keep the English keys."""

from __future__ import annotations

from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from records.ingredients.models import IngredientReceived, KeptOnce, StockEvent, SupplierApproval

WORDS: dict[str, Promise] = {
    "ingredient": _("ingredient"),
    "packaging": _("packaging"),
    "opened": _("opened"),
    "used": _("used"),
    "used up": _("used up"),
    "thrown away": _("thrown away"),
    "pieces": _("pieces"),
    "supplier approved": _("supplier approved"),
    "ingredient received": _("ingredient or packaging received"),
    "ingredient used": _("ingredient opened or used"),
}


def in_words(key: str) -> str:
    """The words for a key; a key without words of its own stands as it is."""
    return str(WORDS.get(key, key))


def told(row: KeptOnce) -> list[tuple[str, str]]:
    """(label, value) of what a record of ingredients says."""
    found: list[tuple[str, str]] = []
    if isinstance(row, SupplierApproval):
        found = [
            (gettext("Supplier"), row.supplier), (gettext("Item"), row.item),
            (gettext("Hazard that the supplier controls"), row.hazard), (gettext("On what grounds"), row.grounds),
            (gettext("Approved until"), row.until.isoformat()),
        ]  # fmt: skip
    elif isinstance(row, IngredientReceived):
        allergens = ", ".join(row.allergens) or gettext("none declared")
        answer = gettext("accepted") if row.accepted else gettext("refused: %(why)s") % {"why": row.refused_why}
        found = [
            (gettext("What it is"), in_words(row.what)), (gettext("Item"), row.item),
            (gettext("Supplier"), row.supplier), (gettext("Supplier's lot"), row.supplier_lot),
            (gettext("Quantity"), f"{row.quantity_typed} {in_words(row.unit)}"),
            (gettext("Best by"), row.best_by.isoformat() if row.best_by else gettext("none printed")),
            (gettext("Allergens"), allergens), (gettext("Condition on arrival"), row.condition),
            (gettext("Answer"), answer),
        ]  # fmt: skip
    elif isinstance(row, StockEvent):
        amount = f"{row.amount_typed} {in_words(row.unit)}" if row.amount is not None else gettext("not said")
        found = [
            (gettext("Item"), row.item), (gettext("Supplier's lot"), row.supplier_lot),
            (gettext("What happened"), in_words(row.what)), (gettext("Amount"), amount),
            (gettext("Into"), row.into),
        ]  # fmt: skip
    return [(label, value) for label, value in found if value] + ([(gettext("Note"), row.note)] if row.note else [])
