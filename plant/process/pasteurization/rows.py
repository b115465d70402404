"""The rows of a pasteurization table, as plain values, and which of them are a product's."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from plant.process.errors import CalculationError
from plant.process.pasteurization.classes import ProductClass
from plant.process.pasteurization.numbers import Number, exactly, hold, said_temperature, said_time, temperature
from plant.process.said import Said
from plant.process.said import say as _
from plant.process.units import CELSIUS, FAHRENHEIT, exact_difference


class Method(StrEnum):
    """How the product is heated and held: in a vat, or in continuous flow through a holding tube.

    HTST: high temperature, short time. HHST: higher heat, shorter time, a second or less.
    """

    VAT = "vat"
    HTST = "HTST"
    HHST = "HHST"


CONTINUOUS = (Method.HTST, Method.HHST)
# Our own line between the two, with no rule behind it: no row holds between 25 s and 30 min. A hold of a minute or more
# counts as a vat's, whose rows ask for 30 minutes, unless the method is named.
VAT_FROM_S = 60


@dataclass(frozen=True, slots=True)
class Row:
    """One row: both the temperature and the time have to be reached.

    `temperature` in `unit`, the unit that the rule is written in; `hold_s` [s]. `classes` of product that it is for.
    `area`: the state or programme whose table it stands in, empty where the rule set holds everywhere. `celsius` as
    printed, rounded up, for display alone. `key` is the row's id in its rule set.
    """

    key: str
    classes: tuple[ProductClass, ...]
    method: Method
    temperature: Decimal | Fraction
    unit: str
    hold_s: Decimal | Fraction
    clause: str
    basis: str
    title: str = ""
    area: str = ""
    celsius: str = ""

    def __post_init__(self) -> None:
        """Refuse a row that asks nothing, or is in no unit of temperature. Raises CalculationError."""
        if self.unit not in (FAHRENHEIT, CELSIUS):
            raise CalculationError(_("the row %(key)s is not in °F or °C", key=self.key))
        temperature(self.temperature, self.unit, CELSIUS)
        if hold(self.hold_s) <= 0:
            raise CalculationError(_("the row %(key)s asks for no time", key=self.key))
        if not self.classes:
            raise CalculationError(_("the row %(key)s is for no product", key=self.key))

    @property
    def words(self) -> Said:
        """The pair in words: "161 °F for 15 s"."""
        return _(
            "%(temperature)s for %(time)s",
            temperature=said_temperature(self.temperature, self.unit),
            time=said_time(self.hold_s),
        )


def methods_by_time(hold_s: Number) -> tuple[Method, ...]:
    """The methods that a hold may belong to when nobody says which: a vat from 60 s on, else continuous flow.

    `hold_s` [s]. The line is ours and errs to the strict side: a vat's rows all ask for 30 minutes.

    Range: 0 to 86,400 s.
    Raises: OutsideRange outside it.
    Source: common practice, no source; the printed rows leave 25 s to 30 min empty (21 CFR 1240.61, text consulted).

    >>> [str(one) for one in methods_by_time(15)], [str(one) for one in methods_by_time(1500)]
    (['HTST', 'HHST'], ['vat'])
    """
    return (Method.VAT,) if hold(hold_s) >= VAT_FROM_S else CONTINUOUS


def rows_for(product_class: ProductClass, rows: Iterable[Row], area: str = "") -> tuple[Row, ...]:
    """The rows that apply to a class of product, the coolest first: those of the area, else those that hold everywhere.

    Where the area has rows for the class and the method, they stand in place of the general ones, be they stricter or
    laxer. Of an area without rows the general ones hold. Without an area no state's row counts.

    Range: any rows.
    Raises: nothing.
    Source: 21 CFR 1240.61(b), (c), 131.3(b), 135.3 (text consulted); state tables as in each row's clause. That a
    state's table stands in place of the general one is our reading: the regulator decides.

    >>> milk = Row("a", (ProductClass.MILK,), Method.HTST, Decimal(161), "°F", Decimal(15), "clause", "text consulted")
    >>> [one.key for one in rows_for(ProductClass.MILK, [milk])], rows_for(ProductClass.MIX, [milk])
    (['a'], ())
    """
    mine = [one for one in rows if product_class in one.classes]
    local = {one.method for one in mine if area and one.area == area}
    chosen = (one for one in mine if (one.area == area if one.method in local else not one.area))
    return tuple(sorted(chosen, key=_heat))


def rows_elsewhere(product_class: ProductClass, rows: Iterable[Row], area: str = "") -> tuple[Row, ...]:
    """The rows for a class of product that rows_for leaves out: other areas' tables, for information.

    Range: any rows.
    Raises: nothing.
    Source: by definition.

    >>> rows_elsewhere(ProductClass.MILK, [])
    ()
    """
    every = [one for one in rows if product_class in one.classes]
    here = rows_for(product_class, every, area)
    return tuple(sorted((one for one in every if one not in here), key=_heat))


def raised(row: Row, by: Number, unit: str, product_class: ProductClass, clause: str) -> Row:
    """The same row with its temperature raised, the time unchanged, for another class of product.

    `by` is a difference of temperatures in `unit`; the printed Celsius is left out, because nobody printed it.

    Range: 0 < by, no more than 20 °F.
    Raises: OutsideRange outside it.
    Source: 21 CFR 1240.61(b), footnote 1, and 131.3(b): 5 °F more (text consulted).

    >>> milk = Row("a", (ProductClass.MILK,), Method.HTST, Decimal(161), "°F", Decimal(15), "clause", "text consulted")
    >>> str(raised(milk, 5, "°F", ProductClass.RAISED, "footnote 1").words)
    '166 °F for 15 s'
    """
    more = exact_difference(exactly(_("raise"), by), unit, row.unit)
    exactly(_("raise"), exact_difference(more, row.unit, FAHRENHEIT), 0.001, 20, FAHRENHEIT)
    return replace(
        row, classes=(product_class,), temperature=Fraction(row.temperature) + more, clause=clause, celsius=""
    )


def _heat(row: Row) -> tuple[Fraction, Fraction, str]:
    return (temperature(row.temperature, row.unit, CELSIUS), Fraction(row.hold_s), row.key)


def of_methods(rows: Iterable[Row], methods: Sequence[Method]) -> tuple[Row, ...]:
    """The rows of some methods, in the order given."""
    return tuple(one for one in rows if one.method in methods)
