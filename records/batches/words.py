"""The words of batches in the reader's language. Records keep the English keys."""

from __future__ import annotations

from django.utils.functional import Promise
from django.utils.translation import gettext
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
            (gettext("Batch"), row.batch), (gettext("Vat"), row.place_name),
            (gettext("Product"), row.product_name), (gettext("Wanted"), wanted),
            (gettext("To weigh in"), lines),
            (gettext("Comes to"), contents_words(row.computed)),
            (gettext("Allowed off the target"), f"{row.tolerance.normalize():f} %"),
        ]  # fmt: skip
    elif isinstance(row, BatchAddition):
        found = [
            (gettext("Vat"), row.place_name), (gettext("What went in"), row.name),
            (gettext("Supplier's lot"), row.supplier_lot), (gettext("Allergens"), row.allergen),
            (gettext("Gross, kg"), row.gross_typed), (gettext("Tare, kg"), row.tare_typed),
            (gettext("Net, kg"), f"{row.net.normalize():f}"),
            (gettext("Target, kg"), f"{row.target.normalize():f}"),
            (gettext("Off its target"), f"{row.off:.2f} %"), (gettext("Scale"), row.scale),
            (gettext("Lot as scanned"), row.scanned), (gettext("The blend then is"), contents_words(row.blend)),
        ]  # fmt: skip
    elif isinstance(row, BlendTest):
        found = [
            (gettext("Vat"), row.place_name), (gettext("Sample"), row.sample),
            (gettext("Fat, %"), row.fat_typed), (gettext("Total solids, %"), row.solids_typed),
            (gettext("How"), row.method),
        ]  # fmt: skip
    elif isinstance(row, Separated):
        found = [(gettext("Where"), row.place_name), *_separated(row)]
    elif isinstance(row, VitaminAdded):
        limits = f"{row.low.normalize():f}" if row.low is not None else "—"
        found = [
            (gettext("Vitamin"), row.vitamin), (gettext("Into"), row.place_name),
            (gettext("Product"), row.product_name), (gettext("Supplier's lot"), row.supplier_lot),
            (gettext("Strength, IU/mL"), row.strength_typed), (gettext("Used, mL"), row.amount_typed),
            (gettext("Milk"), f"{row.milk_typed} {row.milk_unit}"),
            (gettext("IU a quart, added"), f"{row.iu_per_quart:.0f}"), (gettext("At least, IU a quart"), limits),
            (gettext("At most, IU a quart"), f"{row.high.normalize():f}" if row.high is not None else "—"),
            (gettext("Rule"), row.clause),
        ]  # fmt: skip
    elif isinstance(row, FlavorAdded):
        why = "; ".join(one for one in (in_words(row.why), row.why_words) if one) or gettext("no reason given")
        found = [
            (gettext("Into"), row.place_name), (gettext("Product"), row.product_name),
            (gettext("Item"), row.item), (gettext("Supplier's lot"), row.supplier_lot),
            (gettext("Amount"), f"{row.amount_typed} {row.unit}"), (gettext("Why it may go in unheated"), why),
        ]  # fmt: skip
    if isinstance(row, second.KINDS):
        if isinstance(row, FlavorAdded):
            found.append((gettext("Allergens"), second.allergens_of(row)))
        found.append((gettext("Second person"), second.said(row, look)))
    return [(label, value) for label, value in found if value] + ([(gettext("Note"), row.note)] if row.note else [])


def _separated(row: Separated) -> list[tuple[str, str]]:
    labels = {"milk": gettext("Milk in"), "cream": gettext("Cream out"), "skim": gettext("Skim out")}
    found = [(label, _stream(row.streams[name])) for name, label in labels.items()]
    computed = row.computed
    for name, label in (
        ("cream", gettext("Cream by the balance, kg")), ("skim", gettext("Skim by the balance, kg")),
        ("recovery", gettext("Fat recovered in the cream, %")),
    ):  # fmt: skip
        found.append((label, computed[name]))
    for name, label in (
        ("cream_off", gettext("Cream weighed less balance, kg")),
        ("skim_off", gettext("Skim weighed less balance, kg")),
        ("mass_lost", gettext("Mass not accounted for, kg")), ("fat_lost", gettext("Fat not accounted for, kg")),
    ):  # fmt: skip
        u = computed[f"{name}_u"]
        found.append((label, f"{computed[name]} ± {u}" if u else computed[name]))
    return found


def _stream(one: dict[str, str]) -> str:
    mass = f"{one['mass']} ± {one['mass_u']} kg" if one["mass_u"] else f"{one['mass']} kg"
    fat = f"{one['fat']} ± {one['fat_u']} %" if one["fat_u"] else f"{one['fat']} %"
    return f"{mass}, {fat}"
