"""The rule sets' rows on pasteurization as the plain values that the calculation takes. No Django here."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from functools import lru_cache

from plant.process.pasteurization import (
    Bound,
    Method,
    ProductClass,
    Row,
    VatRules,
    raised,
    rows_for,
)
from plant.rules import Rule, rule_set

NEW_YORK, MICHIGAN, CALIFORNIA, GRADED = "New York", "Michigan", "California", "USDA"
AREAS = (NEW_YORK, MICHIGAN, CALIFORNIA, GRADED)
CONDENSED_PLANTS = "New York, condensed plants"

_MILK, _RAISED = (ProductClass.MILK,), (ProductClass.RAISED,)
_BOTH = (ProductClass.MILK, ProductClass.RAISED)
_MIX, _EGGNOG = (ProductClass.MIX,), (ProductClass.EGGNOG,)
_MIX_EGGNOG = (ProductClass.MIX, ProductClass.EGGNOG)
_INGREDIENT = (ProductClass.INGREDIENT,)
_BUTTER, _PLASTIC = (ProductClass.BUTTER_CREAM,), (ProductClass.PLASTIC_CREAM,)
_EVERY = tuple(ProductClass)
_Use = tuple[tuple[ProductClass, ...], Method, str]

# rule set -> id of a rule -> the classes of product it is for, the method, the area whose table it stands in. The raise
# is marked on the 145 and 161 °F rows of 21 CFR 1240.61(b) alone, so its HHST rows are for raised products as they are.
USES: dict[str, dict[str, _Use]] = {
    "us": {
        "vat-milk": (_MILK, Method.VAT, ""),
        "htst-milk": (_MILK, Method.HTST, ""),
        "vat-raised": (_RAISED, Method.VAT, ""),
        "htst-raised": (_RAISED, Method.HTST, ""),
        "hhst-191": (_BOTH, Method.HHST, ""),
        "hhst-194": (_BOTH, Method.HHST, ""),
        "hhst-201": (_BOTH, Method.HHST, ""),
        "hhst-204": (_BOTH, Method.HHST, ""),
        "hhst-212": (_BOTH, Method.HHST, ""),
        "eggnog-vat": (_EGGNOG, Method.VAT, ""),
        "eggnog-175": (_EGGNOG, Method.HTST, ""),
        "eggnog-180": (_EGGNOG, Method.HTST, ""),
        "ingredient-vat": (_INGREDIENT, Method.VAT, ""),
        "ingredient-161": (_INGREDIENT, Method.HTST, ""),
        "ingredient-191": (_INGREDIENT, Method.HHST, ""),
        "ingredient-204": (_INGREDIENT, Method.HHST, ""),
        "ingredient-212": (_INGREDIENT, Method.HHST, ""),
        "mix-vat": (_MIX, Method.VAT, ""),
        "mix-htst": (_MIX, Method.HTST, ""),
        "mix-usda-vat": (_MIX, Method.VAT, GRADED),
        "mix-usda-htst": (_MIX, Method.HTST, GRADED),
        "ny-mix-155": (_MIX_EGGNOG, Method.VAT, NEW_YORK),
        "ny-mix-175": (_MIX_EGGNOG, Method.HTST, NEW_YORK),
        "ny-mix-180": (_MIX_EGGNOG, Method.HTST, NEW_YORK),
        "ca-mix-htst": (_MIX, Method.HTST, CALIFORNIA),
        # Its own mark is the fat of milk, not 10 %: a product between the two is raised there, as the row's note says.
        "ny-condensed-base": (_MILK, Method.HTST, CONDENSED_PLANTS),
        "ny-condensed": (_RAISED, Method.HTST, CONDENSED_PLANTS),
        "mi-raised-150": (_RAISED, Method.VAT, MICHIGAN),
        "mi-raised-166": (_RAISED, Method.HTST, MICHIGAN),
        "mi-raised-196": (_RAISED, Method.HHST, MICHIGAN),
        "mi-raised-199": (_RAISED, Method.HHST, MICHIGAN),
        "mi-raised-206": (_RAISED, Method.HHST, MICHIGAN),
        "mi-raised-209": (_RAISED, Method.HHST, MICHIGAN),
        "mi-raised-217": (_RAISED, Method.HHST, MICHIGAN),
        "butter-cream-vat": (_BUTTER, Method.VAT, ""),
        "butter-cream-htst": (_BUTTER, Method.HTST, ""),
        "plastic-cream-vat": (_PLASTIC, Method.VAT, ""),
        "plastic-cream-htst": (_PLASTIC, Method.HTST, ""),
    },
    # One table for all milk: the EU text has no raise and no row of its own for mix.
    "eu": {
        "pasteurize-vat": (_EVERY, Method.VAT, ""),
        "pasteurize-htst": (_EVERY, Method.HTST, ""),
    },
}
# Rows on heat that nobody is judged by here: a raise, another process, a name for what keeps longer, no time given, and
# the Codex's pair, which is no country's law.
NO_PAIR = ("raise", "pmo-raise", "other-process", "ultra", "uht", "codex-heat")


@lru_cache(maxsize=8)
def rows_of(key: str) -> tuple[Row, ...]:
    """The pairs of temperature and time of a rule set; KeyError for a set or a row that is not there."""
    rules = rule_set(key).rows
    rows = [_row(rules[name], use) for name, use in USES[key].items()]
    if key == "us":
        rows += [_raised_ingredient(one, rules["raise"]) for one in rows if ProductClass.INGREDIENT in one.classes]
    return tuple(rows)


def _row(rule: Rule, use: _Use) -> Row:
    classes, method, area = use
    return Row(
        key=rule.id,
        classes=classes,
        method=method,
        temperature=Decimal(rule.low),
        unit=rule.unit,
        hold_s=Decimal(rule.seconds) if rule.seconds else Decimal(rule.minutes) * 60,
        clause=rule.clause,
        basis=rule.basis,
        title=rule.title,
        area=area,
        celsius=rule.celsius,
    )


def _raised_ingredient(row: Row, rule: Rule) -> Row:
    # 21 CFR 131.3(b) raises "the" temperature without a mark on some rows: all five are raised, the stricter reading.
    return raised(row, Decimal(rule.low), rule.unit, ProductClass.RAISED_INGREDIENT, row.clause)


def vat_rules_of(key: str) -> VatRules:
    """What a rule set asks of a vat beside its rows; nothing where it has no such row."""
    rules = rule_set(key).rows
    air, spread = rules.get("vat-air-space"), rules.get("vat-spread")
    return VatRules(
        None if air is None else Bound(Decimal(air.low), air.unit, air.clause, air.basis),
        None if spread is None else Bound(Decimal(spread.high), spread.unit, spread.clause, spread.basis),
    )


def months_between_tests(key: str) -> int:
    """Longest time between two holding-time tests [months]; 6 where the rule set has no row on it."""
    rule = rule_set(key).rows.get("test-holding-time")
    return rule.months if rule is not None else 6


def rows_by_class(key: str, classes: Iterable[str], area: str = "") -> dict[str, tuple[Row, ...]]:
    """For each class of a plan (its own word) the rows that apply; none where the word is no class of the tables.

    For the plan page and for judging: a plan's `product_class` is free text.
    """
    known = {one.value: one for one in ProductClass}
    rows = rows_of(key) if key in USES else ()
    return {one: rows_for(known[one], rows, area) if one in known else () for one in sorted(set(classes))}
