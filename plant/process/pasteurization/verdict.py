"""A temperature and a holding time against the rows: which row is met, or which is the nearest and what is missing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from plant.process.pasteurization.numbers import Number, hold, said_temperature, said_time, temperature
from plant.process.pasteurization.rows import Method, Row, methods_by_time, of_methods
from plant.process.said import Said
from plant.process.said import say as _
from plant.process.units import CELSIUS, FAHRENHEIT, exact_difference


@dataclass(frozen=True, slots=True)
class Standing:
    """How a temperature and a time stand to one row.

    `temperature` in the row's unit and its distance from the row's, `temperature_margin`; `time_margin_s` [s] likewise.
    Exact; below zero is missing.
    """

    row: Row
    temperature: Fraction
    temperature_margin: Fraction
    time_margin_s: Fraction

    @property
    def met(self) -> bool:
        """Whether both are reached."""
        return self.temperature_margin >= 0 and self.time_margin_s >= 0

    @property
    def words(self) -> Said:
        """The margins in words: "1 °F and 2 s over", "0.5 °F missing"."""
        warm = said_temperature(abs(self.temperature_margin), self.row.unit)
        long = said_time(abs(self.time_margin_s))
        if self.met:
            return _("%(temperature)s and %(time)s over", temperature=warm, time=long)
        if self.time_margin_s >= 0:
            return _("%(temperature)s missing", temperature=warm)
        if self.temperature_margin >= 0:
            return _("%(time)s missing", time=long)
        return _("%(temperature)s and %(time)s missing", temperature=warm, time=long)


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a temperature and a time come to by a table.

    `standing` is to the row that is met with the highest temperature, else to the nearest row; None where the table has
    no row for the method. `every` in the order of the rows. `lacking_time`: the row of this temperature, whose time is
    not reached; `lacking_heat`: the coolest row that this time is enough for, whose temperature is not reached.
    """

    met: bool
    standing: Standing | None
    every: tuple[Standing, ...]
    methods: tuple[Method, ...]
    lacking_time: Standing | None = None
    lacking_heat: Standing | None = None

    @property
    def row(self) -> Row | None:
        """The row that was met, or the nearest."""
        return self.standing.row if self.standing else None

    @property
    def words(self) -> Said:
        """The verdict in a sentence."""
        if self.standing is None:
            return _(
                "No row of this table is for this product by %(methods)s.",
                methods=" / ".join(self.methods),
            )
        named = {"row": self.standing.row.words, "margins": self.standing.words}
        if self.met:
            return _("The row %(row)s is met: %(margins)s.", **named)
        return _("No row is met. The nearest is %(row)s: %(margins)s.", **named)


def judge(
    product_temperature: Number, unit: str, hold_s: Number, rows: Iterable[Row], method: Method | None = None
) -> Verdict:
    """Whether a temperature and a time meet a row of the table, compared exactly in the unit of each row.

    `product_temperature` in `unit` (°F or °C), the lowest of the whole hold; `hold_s` [s], of the fastest particle.
    `rows` are those of the product (rows_for). Each row is a pair: between two rows the time of the cooler one is
    needed, and nothing is interpolated or made up for by lethality. Without a `method` the time says which rows may
    count (methods_by_time). Of the rows that are met the hottest is named. Which row is called the nearest is our own
    choice (10 °F missing weigh like the whole of a row's time); `lacking_time` and `lacking_heat` do not hang on it.

    Range: 0 to 200 °C, 0 to 86,400 s.
    Raises: OutsideRange outside it, UnitError for a unit that is no temperature's.
    Source: 21 CFR 1240.61(b), (c), 131.3(b), 135.3: every particle at the temperature for the time (text consulted).

    >>> from plant.process.pasteurization import ProductClass
    >>> milk = Row("a", (ProductClass.MILK,), Method.HTST, Fraction(161), "°F", Fraction(15), "21 CFR 1240.61", "read")
    >>> judge(71.7, "°C", 15, [milk]).met, judge(71.6, "°C", 15, [milk]).met
    (True, False)
    >>> str(judge(161, "°F", 14.9, [milk]).words)
    'No row is met. The nearest is 161 °F for 15 s: 0.1 s missing.'
    """
    methods = methods_by_time(hold_s) if method is None else (method,)
    return judge_by(methods, product_temperature, unit, hold_s, rows)


def judge_by(
    methods: Sequence[Method], product_temperature: Number, unit: str, hold_s: Number, rows: Iterable[Row]
) -> Verdict:
    """As judge, by the rows of several methods."""
    held = hold(hold_s)
    temperature(product_temperature, unit, unit)
    every = tuple(_standing(product_temperature, unit, held, one) for one in of_methods(rows, methods))
    met = [one for one in every if one.met]
    if met:
        # Of rows with one temperature the one with the longer time tells more.
        best = min(met, key=lambda one: (_gap(one), one.time_margin_s, one.row.key))
        return Verdict(True, best, every, tuple(methods))
    nearest = min(every, key=_missing, default=None)
    hot = [one for one in every if one.temperature_margin >= 0]
    long = [one for one in every if one.time_margin_s >= 0]
    return Verdict(
        False,
        nearest,
        every,
        tuple(methods),
        max(hot, key=lambda one: (one.time_margin_s, one.row.key), default=None),
        max(long, key=lambda one: (_gap(one), one.row.key), default=None),
    )


def _standing(product_temperature: Number, unit: str, held: Fraction, row: Row) -> Standing:
    warm = temperature(product_temperature, unit, row.unit)
    return Standing(row, warm, warm - Fraction(row.temperature), held - Fraction(row.hold_s))


def _missing(one: Standing) -> tuple[Fraction, Fraction, Fraction, str]:
    """How far off a row is, to say which is the nearest; of equal ones that with less missing.

    Our own measure, for naming alone: 10 °F missing count like the whole of the row's time.
    """
    heat = max(exact_difference(-one.temperature_margin, one.row.unit, FAHRENHEIT), Fraction(0))
    time = max(-one.time_margin_s, Fraction(0))
    return (heat / 10 + time / Fraction(one.row.hold_s), heat, time, one.row.key)


def _gap(one: Standing) -> Fraction:
    """The margin in temperature, in one unit for rows of any [°C]."""
    return exact_difference(one.temperature_margin, one.row.unit, CELSIUS)
