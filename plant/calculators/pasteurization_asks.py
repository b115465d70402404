"""What the pasteurization calculator asks, and the kinds of product that people name with what the names say."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.utils.translation import gettext_lazy as _

from plant.calculators.asks import FAHRENHEIT_FIRST, YES_NO, optional_ask, percent_ask
from plant.calculators.working import Ask, Given, Values
from plant.process.errors import CalculationError
from plant.process.pasteurization import Product, Use
from plant.process.said import Said, say
from plant.rules.pasteurization import CALIFORNIA, GRADED, MICHIGAN, NEW_YORK


@dataclass(frozen=True, slots=True)
class Kind:
    """A named kind: its use, and what stands in where nothing is typed (percent by mass), with where that is from.

    `solids_not_fat` is added to the fat for the total solids. `least_fat`: with less it would not be what it is called.
    """

    label: Any
    use: Use
    fat: str = ""
    solids_not_fat: str = ""
    sweetener: bool | None = None
    concentrated: bool | None = None
    least_fat: str = ""
    source: str = ""


_STANDARD = "21 CFR 131.110(a)"
KINDS: dict[str, Kind] = {
    "milk": Kind(_("milk: whole, reduced fat or skim, not sweetened"), Use.MILK_PRODUCT, "3.25", "8.25", False, False,
                 source=_STANDARD),
    "cream": Kind(_("cream"), Use.MILK_PRODUCT, "18", least_fat="18", source="21 CFR 131.3(a)"),
    "half-and-half": Kind(_("half-and-half"), Use.MILK_PRODUCT, "10.5", least_fat="10.5", source="21 CFR 131.180"),
    "sweetened milk": Kind(_("sweetened or flavored milk"), Use.MILK_PRODUCT, sweetener=True),
    "condensed milk": Kind(_("condensed milk or skim"), Use.MILK_PRODUCT, concentrated=True),
    "milk product": Kind(_("another milk product, not condensed, by its composition"), Use.MILK_PRODUCT,
                         concentrated=False),
    "ice cream mix": Kind(_("ice cream mix"), Use.MIX),
    "frozen dessert mix": Kind(_("another frozen dessert mix made with milk"), Use.MIX),
    "eggnog": Kind(_("eggnog"), Use.EGGNOG),
    "dairy ingredient": Kind(_("dairy ingredient, by its composition"), Use.INGREDIENT),
    "cream for butter": Kind(_("cream for butter"), Use.BUTTER_CREAM),
    "plastic cream": Kind(_("plastic or frozen cream"), Use.PLASTIC_CREAM),
}  # fmt: skip

PRODUCT = Ask(
    name="product",
    label=_("Product"),
    kind="choice",
    choices=tuple((key, one.label) for key, one in KINDS.items()),
    example="ice cream mix",
)
COMPOSITION = (
    percent_ask("fat", _("Fat, by mass"), help_=_("Decides for milk products, 10 % and more raises: 3.25 %")),
    percent_ask("solids", _("Total solids, by mass"), help_=_("By the model ordinance 18 % and more raises: 11.5 %")),
    Ask(name="sweetener", label=_("Sweetener is added"), kind="choice", choices=YES_NO, required=False),
)
METHOD = Ask(
    name="method",
    label=_("Method"),
    kind="choice",
    choices=(
        ("vat", _("vat (batch)")),
        ("HTST", _("HTST: continuous, high temperature, short time")),
        ("HHST", _("HHST: continuous, higher heat, shorter time")),
    ),
    required=False,
    help=_("Left open, a hold of a minute or more counts as a vat's."),
)
RULES = Ask(
    name="rules",
    label=_("Rule set"),
    kind="choice",
    choices=(("us", _("United States")), ("eu", _("European Union"))),
    required=False,
    help=_("Left open, the United States."),
)
AREA = Ask(
    name="area",
    label=_("Table of"),
    kind="choice",
    choices=(
        (NEW_YORK, _("New York")),
        (MICHIGAN, _("Michigan")),
        (CALIFORNIA, _("California")),
        (GRADED, _("USDA-graded plants")),
    ),
    required=False,
    help=_("Left open, the federal tables."),
)
VAT = (
    optional_ask("air", _("Vat: coolest air space"), FAHRENHEIT_FIRST, 32, 392,
                 help_=_("Above the product, during heating and hold: 165 °F")),
    optional_ask("warmest", _("Vat: warmest product"), FAHRENHEIT_FIRST, 32, 392,
                 help_=_("At the same moment as the coolest: 156 °F")),
    optional_ask("fill", _("Vat: filling time"), ("min", "s"), 0, 1440,
                 help_=_("Only where the product comes in hot: from the bulb's level to full, 7 min")),
    optional_ask("empty", _("Vat: emptying time"), ("min", "s"), 0, 1440,
                 help_=_("Only where cooling begins after the outlet opens: down to the bulb, 5 min")),
)  # fmt: skip
ASKS = (
    PRODUCT,
    Ask(name="temperature", label=_("Lowest product temperature"), units=FAHRENHEIT_FIRST, low=32, high=392,
        example="175 °F"),
    Ask(name="time", label=_("Holding time"), units=("s", "min", "h"), low=0, high=86400, example="25 s",
        help=_("Of the fastest particle in a tube; in a vat as long as the chart shows.")),
    *COMPOSITION,
    METHOD,
    RULES,
    AREA,
    *VAT,
)  # fmt: skip


def product_of(values: Values) -> tuple[Product, tuple[Said, ...]]:
    """The product that was typed, and what was taken from its name alone. Raises CalculationError for a contradiction.

    A typed value goes before the name's; a name that the typed value contradicts is refused.
    """
    kind = KINDS[values["product"]]
    fat, solids = _percent(values.get("fat")), _percent(values.get("solids"))
    sweetener = {"yes": True, "no": False}.get(values.get("sweetener") or "")
    if fat is not None and kind.least_fat and fat < Decimal(kind.least_fat):
        raise CalculationError(
            say(
                "What is called %(kind)s has %(least)s %% fat or more (%(source)s): choose the milk product instead.",
                kind=say(values["product"]),
                least=kind.least_fat,
                source=kind.source,
            )
        )
    if kind.sweetener and sweetener is False:
        raise CalculationError(say("Sweetened milk has added sweetener: choose milk instead."))
    taken = []
    if fat is None and kind.fat:
        fat = Fraction(kind.fat)
        taken.append(say("fat taken as %(fat)s %%, from the name (%(source)s)", fat=kind.fat, source=kind.source))
    if solids is None and fat is not None and kind.solids_not_fat:
        solids = min(fat + Fraction(kind.solids_not_fat), Fraction(100))
        taken.append(
            say(
                "total solids taken as fat and %(rest)s %% more, from the name (%(source)s)",
                rest=kind.solids_not_fat,
                source=kind.source,
            )
        )
    if sweetener is None:
        sweetener = kind.sweetener
    # A concentrated ingredient has the solids that raise it: nobody is asked for both.
    concentrated = False if kind.use is Use.INGREDIENT and kind.concentrated is None else kind.concentrated
    product = Product(kind.use, fat, solids, sweetener, concentrated)
    return product, tuple(taken)


def _percent(given: Given | None) -> Fraction | None:
    return None if given is None else given.exactly("%")
