"""A batch beside the standards of identity of the plan's rule set: what a name asks of fat and milk solids.

It is about the name on a label and never about safety; which name a product is sold under, the plant decides.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext as _

from plant.hazard_plan.content import ProductDef
from plant.process.units import plain
from plant.rules import Rule, rule_set
from records.batches.state import Batch
from records.people.plans import InForce

MILK_FAT, MILK_SNF, CREAM_FAT = "milk-fat", "milk-snf", "cream-fat"
ICE_FAT, ICE_SNF = "ice-cream-fat", "ice-cream-nms"
# Fat and nonfat milk solids of ice cream go in pairs from 10 and 10 to 14 and 6 [%], 21 CFR 135.110(a)(2).
MOST_FAT_OF_PAIRS = 14


@dataclass(frozen=True, slots=True)
class Beside:
    """One line of a standard: what was found [% by mass], what it asks, whether it is met, its clause and basis."""

    what: str
    found: Decimal
    low: Decimal
    clause: str
    basis: str
    tested: bool

    @property
    def met(self) -> bool:
        """Whether the content reaches what the standard asks, compared as written."""
        return self.found >= self.low


def beside(batch: Batch, in_force: InForce) -> list[Beside]:
    """The lines that a batch's product has; empty where no standard of the rule set is about it."""
    product = next((one for one in in_force.plan.products if one.code == batch.sheet.product), None)
    if product is None or not batch.blend:
        return []
    last = batch.tests[-1] if batch.tests else None
    sweet = Decimal(batch.blend["sugar"]) > 0
    fat = last.fat if last is not None else Decimal(batch.blend["fat"])
    # The bench gives total solids: those of milk are known from it only where there are no others.
    snf = last.solids - last.fat if last is not None and not sweet else Decimal(batch.blend["snf"])
    rows = rule_set(in_force.plan.plant.rule_set).rows
    found = []
    for name, key, low in _asked(product, fat):
        if (row := rows.get(key)) is not None:
            is_fat = name == "fat"
            tested = last is not None and (is_fat or not sweet)
            found.append(_line(row, is_fat, fat if is_fat else snf, low, tested))
    return found


def _line(row: Rule, is_fat: bool, found: Decimal, low: Decimal | None, tested: bool) -> Beside:
    asks = low if low is not None else Decimal(row.low or "0")
    return Beside(_("fat") if is_fat else _("solids-not-fat of milk"), found, asks, row.clause, row.basis, tested)


def _asked(product: ProductDef, fat: Decimal) -> Iterator[tuple[str, str, Decimal | None]]:
    """(fat or snf, row, another bound than the row's own)."""
    nominal = Decimal(product.fat_percent or "0")
    if product.family in ("mix", "ice cream"):
        pair = min(max(int(fat), 10), MOST_FAT_OF_PAIRS)
        yield "fat", ICE_FAT, None
        yield "snf", ICE_SNF, Decimal(20 - pair)
    elif product.family == "cream":
        yield "fat", CREAM_FAT, None
    elif product.family == "milk":
        if nominal >= Decimal("3.25"):
            yield "fat", MILK_FAT, None
        yield "snf", MILK_SNF, None


def in_words(one: Beside) -> str:
    """One line in words."""
    words = {
        "what": one.what, "found": plain(one.found, 2), "low": plain(one.low), "clause": one.clause,
        "how": _("tested") if one.tested else _("by what was weighed"),
    }  # fmt: skip
    if one.met:
        return _("%(what)s %(found)s %% (%(how)s), at least %(low)s %%: met (%(clause)s)") % words
    return _("%(what)s %(found)s %% (%(how)s), at least %(low)s %%: not met (%(clause)s)") % words
