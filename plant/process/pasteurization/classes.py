"""Which class of the pasteurization tables a product falls in: by its use first, then by its composition."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from plant.process.errors import CalculationError
from plant.process.pasteurization.numbers import Number, exactly
from plant.process.said import Said
from plant.process.said import say as _
from plant.process.units import plain


class Use(StrEnum):
    """What a product is for, as far as the tables tell products apart."""

    MILK_PRODUCT = "milk product"
    MIX = "frozen dessert mix"
    EGGNOG = "eggnog"
    INGREDIENT = "dairy ingredient"
    BUTTER_CREAM = "cream for butter"
    PLASTIC_CREAM = "plastic or frozen cream"


class ProductClass(StrEnum):
    """The classes of product that the rows are for; a plan's `product_class` uses the same words."""

    MILK = "milk"
    RAISED = "raised"
    MIX = "mix"
    EGGNOG = "eggnog"
    INGREDIENT = "ingredient"
    RAISED_INGREDIENT = "raised ingredient"
    BUTTER_CREAM = "cream for butter"
    PLASTIC_CREAM = "plastic or frozen cream"


@dataclass(frozen=True, slots=True)
class Product:
    """A product by use and composition.

    `fat_percent` and `total_solids_percent` by mass [%]; None where nobody knows it. `concentrated`: condensed.
    """

    use: Use
    fat_percent: Number | None = None
    total_solids_percent: Number | None = None
    sweetener_added: bool | None = None
    concentrated: bool | None = None


@dataclass(frozen=True, slots=True)
class Triggers:
    """What puts a milk product into the raised class; None or False: not asked in this text. Percent by mass."""

    fat_percent: Number
    clause: str
    basis: str
    total_solids_percent: Number | None = None
    concentrated: bool = False


FEDERAL = Triggers(10, "21 CFR 1240.61(b), footnote 1", "text consulted")
DAIRY_INGREDIENT = Triggers(10, "21 CFR 131.3(b)", "text consulted")
# Nobody read the ordinance itself here; a summary has fat, sweetener, condensed and the 18 % of solids.
ORDINANCE = Triggers(10, "PMO, definition of pasteurization", "from memory", 18, concentrated=True)


@dataclass(frozen=True, slots=True)
class Condition:
    """One trigger held against a product, with the text that has it: `fires` is None where the value is not known."""

    name: str
    sentence: Said
    fires: bool | None
    clause: str
    basis: str


@dataclass(frozen=True, slots=True)
class Classified:
    """A class, the conditions that were looked at (none where the use alone decides), and the text that asks it."""

    product_class: ProductClass
    conditions: tuple[Condition, ...]
    clause: str
    basis: str

    @property
    def fired(self) -> tuple[Condition, ...]:
        """The conditions that raise the product."""
        return tuple(one for one in self.conditions if one.fires)


_BY_USE = {
    Use.MIX: (ProductClass.MIX, "21 CFR 135.3", "text consulted"),
    Use.EGGNOG: (ProductClass.EGGNOG, "21 CFR 1240.61(c)", "text consulted"),
    Use.BUTTER_CREAM: (ProductClass.BUTTER_CREAM, "Michigan MCL 288.697; La. 51 VII-2309", "text consulted"),
    Use.PLASTIC_CREAM: (ProductClass.PLASTIC_CREAM, "Michigan MCL 288.697; La. 51 VII-2309", "text consulted"),
}


def classify(product: Product, triggers: Triggers = ORDINANCE) -> Classified:
    """The class of a product: its use decides for mix, eggnog and the creams with rows of their own, else composition.

    A milk product or dairy ingredient is raised when its fat is 10 % or more, when sweetener is added, and by the model
    ordinance also when its total solids are 18 % or more or when it is condensed. A bound itself raises. The default is
    the ordinance: the stricter text. What is not known never counts as below a bound: unless another condition raises
    the product, the question is put back.

    Range: fat and total solids 0 to 100 %, fat no more than total solids.
    Raises: OutsideRange; CalculationError when fat is more than solids, when a value that decides is not known, or when
    what is yes or no is neither.
    Source: 21 CFR 1240.61(b), footnote 1 (text consulted), 131.3(b) (text consulted), 135.3 (text consulted); PMO,
    definition of pasteurization (solids and condensed from memory).

    >>> str(classify(Product(Use.MILK_PRODUCT, 10, 17, sweetener_added=False, concentrated=False)).product_class)
    'raised'
    >>> str(classify(Product(Use.MILK_PRODUCT, 9.9, sweetener_added=False), FEDERAL).product_class)
    'milk'
    """
    fat, solids = _percent(_("fat"), product.fat_percent), _percent(_("total solids"), product.total_solids_percent)
    if fat is not None and solids is not None and fat > solids:
        raise CalculationError(_("the fat is more than the total solids that it belongs to"))
    if product.use in _BY_USE:
        named, clause, basis = _BY_USE[product.use]
        return Classified(named, (), clause, basis)
    if product.use is Use.INGREDIENT and triggers is FEDERAL:
        triggers = DAIRY_INGREDIENT  # the federal text on ingredients; the ordinance's triggers hold for them as well
    conditions = _conditions(product, triggers)
    raised = any(one.fires for one in conditions)
    unknown = [one for one in conditions if one.fires is None]
    if unknown and not raised:
        raise CalculationError(
            _(
                "Give the %(name)s of the product: its rows depend on it (%(clause)s).",
                name=unknown[0].name,
                clause=triggers.clause,
            )
        )
    plain_class, raised_class = (
        (ProductClass.INGREDIENT, ProductClass.RAISED_INGREDIENT)
        if product.use is Use.INGREDIENT
        else (ProductClass.MILK, ProductClass.RAISED)
    )
    # Of the conditions that fire the one whose wording was read says why: fat and sweetener stand before the others.
    why = next((one for one in conditions if one.fires), None)
    clause, basis = (why.clause, why.basis) if why else (triggers.clause, triggers.basis)
    return Classified(raised_class if raised else plain_class, conditions, clause, basis)


def _percent(quantity: str, value: Number | None) -> Number | None:
    return None if value is None else exactly(quantity, value, 0, 100, "%")


def _conditions(product: Product, triggers: Triggers) -> tuple[Condition, ...]:
    # The ordinance's fat and sweetener are the federal footnote's too, and that was read.
    both = FEDERAL if triggers is ORDINANCE else triggers
    found = [
        _bound(_("fat"), product.fat_percent, triggers.fat_percent, both),
        _stated(
            _("added sweetener"),
            product.sweetener_added,
            (_("sweetener is added"), _("no sweetener is added"), _("added sweetener: not given")),
            both,
        ),
    ]
    if triggers.total_solids_percent is not None:
        found.append(_bound(_("total solids"), product.total_solids_percent, triggers.total_solids_percent, triggers))
    if triggers.concentrated:
        found.append(
            _stated(
                _("concentration"),
                product.concentrated,
                (_("it is condensed"), _("it is not condensed"), _("condensed or not: not given")),
                triggers,
            )
        )
    return tuple(found)


def _bound(name: Said, value: Number | None, bound: Number, text: Triggers) -> Condition:
    limit = exactly(name, bound)
    if value is None:
        return Condition(name, _("%(name)s: not given", name=name), None, text.clause, text.basis)
    share = exactly(name, value)
    words = {"name": name, "value": plain(share), "bound": plain(limit)}
    sentence = (
        _("%(name)s %(value)s %% is %(bound)s %% or more", **words)
        if share >= limit
        else _("%(name)s %(value)s %% is less than %(bound)s %%", **words)
    )
    return Condition(name, sentence, share >= limit, text.clause, text.basis)


def _stated(name: Said, value: bool | None, sentences: tuple[Said, Said, Said], text: Triggers) -> Condition:
    if value not in (None, True, False):  # an empty text is no answer, and above all no "no"
        raise CalculationError(_("%(name)s: say yes, no or not known", name=name))
    yes, no, silent = sentences
    return Condition(name, silent if value is None else yes if value else no, value, text.clause, text.basis)
