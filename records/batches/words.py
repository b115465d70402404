"""The words of batches in the reader's language. Records keep the English keys."""

from __future__ import annotations

from django.utils.functional import Promise
from django.utils.translation import gettext as translated
from django.utils.translation import gettext_lazy as _

from records.batches import second
from records.batches.models import BatchAddition, BatchSheet, BlendTest, FlavorAdded, Separated, VitaminAdded
from records.ingredients.models import KeptOnce

# What may go into pasteurized product unheated: item 16p and the definitions of the Grade "A" PMO (from memory). That
# flavor may go in after it: 7 CFR 58.635 for mix, 21 CFR 131.170 for eggnog (text consulted); they list no conditions.
WHY_UNHEATED: dict[str, Promise] = {
    "dry or low moisture": _("a dry sugar, salt or flavoring whose water activity is 0.85 or below"),
    "acid": _("its acid is high, pH 4.6 or below"),
    "alcohol": _("its alcohol is high"),
    "roasted": _("nuts or the like, roasted or steamed by a validated step of the supplier"),
    "heated by the supplier": _("heat-treated and packed by the supplier, step validated, certificate with the lot"),
    "pasteurized dairy": _("dairy that is pasteurized itself, as its record says"),
}
WORDS: dict[str, Promise] = {
    "batch sheet": _("batch sheet"),
    "batch addition": _("addition to a batch"),
    "addition confirmed": _("addition confirmed"),
    "second look": _("second look"),
    "blend test": _("blend test"),
    "separation": _("separation"),
    "vitamin added": _("vitamin added"),
    "flavor added": _("flavor added after pasteurization"),
    "fat": _("fat"),
    "snf": _("solids-not-fat of milk"),
    "sugar": _("sugar"),
    "solids": _("total solids"),
}


def in_words(key: str) -> str:
    """The words for a key; a key without words of its own stands as it is."""
    return str(WORDS.get(key) or WHY_UNHEATED.get(key) or key)


def contents_words(blend: dict[str, str]) -> str:
    """What a blend holds, on one line."""
    parts = [one for one in ("fat", "snf", "sugar", "solids") if one in blend]
    return ", ".join(f"{in_words(one)} {float(blend[one]):.2f} %" for one in parts)


def told(row: KeptOnce, look: second.Look | None = None) -> list[tuple[str, str]]:
    """(label, value) of what a record of batches says; `look`: the second look at an addition."""
    found: list[tuple[str, str]] = []
    if isinstance(row, BatchSheet):
        wanted = ", ".join(f"{in_words(one)} {value} %" for one, value in row.wanted.items() if value)
        lines = "; ".join(f"{one['name']} {one['target']} kg" for one in row.lines)
        found = [
            (translated("Batch"), row.batch), (translated("Vat"), row.place_name),
            (translated("Product"), row.product_name), (translated("Wanted"), wanted),
            (translated("To weigh in"), lines),
            (translated("Comes to"), contents_words(row.computed)),
            (translated("Allowed off the target"), f"{row.tolerance.normalize():f} %"),
        ]  # fmt: skip
    elif isinstance(row, BatchAddition):
        found = [
            (translated("Vat"), row.place_name), (translated("What went in"), row.name),
            (translated("Supplier's lot"), row.supplier_lot), (translated("Allergens"), row.allergen),
            (translated("Gross, kg"), row.gross_typed), (translated("Tare, kg"), row.tare_typed),
            (translated("Net, kg"), f"{row.net.normalize():f}"),
            (translated("Target, kg"), f"{row.target.normalize():f}"),
            (translated("Off its target"), f"{row.off:.2f} %"), (translated("Scale"), row.scale),
            (translated("Lot as scanned"), row.scanned), (translated("The blend then is"), contents_words(row.blend)),
        ]  # fmt: skip
    elif isinstance(row, BlendTest):
        found = [
            (translated("Vat"), row.place_name), (translated("Sample"), row.sample),
            (translated("Fat, %"), row.fat_typed), (translated("Total solids, %"), row.solids_typed),
            (translated("How"), row.method),
        ]  # fmt: skip
    elif isinstance(row, Separated):
        found = [(translated("Where"), row.place_name), *_separated(row)]
    elif isinstance(row, VitaminAdded):
        limits = f"{row.low.normalize():f}" if row.low is not None else "—"
        found = [
            (translated("Vitamin"), row.vitamin), (translated("Into"), row.place_name),
            (translated("Product"), row.product_name), (translated("Supplier's lot"), row.supplier_lot),
            (translated("Strength, IU/mL"), row.strength_typed), (translated("Used, mL"), row.amount_typed),
            (translated("Milk"), f"{row.milk_typed} {row.milk_unit}"),
            (translated("IU a quart, added"), f"{row.iu_per_quart:.0f}"), (translated("At least, IU a quart"), limits),
            (translated("At most, IU a quart"), f"{row.high.normalize():f}" if row.high is not None else "—"),
            (translated("Rule"), row.clause),
        ]  # fmt: skip
    elif isinstance(row, FlavorAdded):
        why = "; ".join(one for one in (in_words(row.why), row.why_words) if one) or translated("no reason given")
        found = [
            (translated("Into"), row.place_name), (translated("Product"), row.product_name),
            (translated("Item"), row.item), (translated("Supplier's lot"), row.supplier_lot),
            (translated("Amount"), f"{row.amount_typed} {row.unit}"), (translated("Why it may go in unheated"), why),
        ]  # fmt: skip
    if isinstance(row, second.KINDS):
        if isinstance(row, FlavorAdded):
            found.append((translated("Allergens"), second.allergens_of(row)))
        found.append((translated("Second person"), second.said(row, look)))
    return [(label, value) for label, value in found if value] + ([(translated("Note"), row.note)] if row.note else [])


def _separated(row: Separated) -> list[tuple[str, str]]:
    labels = {"milk": translated("Milk in"), "cream": translated("Cream out"), "skim": translated("Skim out")}
    found = [(label, _stream(row.streams[name])) for name, label in labels.items()]
    computed = row.computed
    for name, label in (
        ("cream", translated("Cream by the balance, kg")), ("skim", translated("Skim by the balance, kg")),
        ("recovery", translated("Fat recovered in the cream, %")),
    ):  # fmt: skip
        found.append((label, computed[name]))
    for name, label in (
        ("cream_off", translated("Cream weighed less balance, kg")),
        ("skim_off", translated("Skim weighed less balance, kg")),
        ("mass_lost", translated("Mass not accounted for, kg")), ("fat_lost", translated("Fat not accounted for, kg")),
    ):  # fmt: skip
        u = computed[f"{name}_u"]
        found.append((label, f"{computed[name]} ± {u}" if u else computed[name]))
    return found


def _stream(one: dict[str, str]) -> str:
    mass = f"{one['mass']} ± {one['mass_u']} kg" if one["mass_u"] else f"{one['mass']} kg"
    fat = f"{one['fat']} ± {one['fat_u']} %" if one["fat_u"] else f"{one['fat']} %"
    return f"{mass}, {fat}"
