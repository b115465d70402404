"""A batch in a vat: beside the row, the air space above the product, the evenness, and filling and emptying."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from plant.process.errors import CalculationError
from plant.process.pasteurization.numbers import Number, exactly, hold, said_temperature, said_time, temperature
from plant.process.pasteurization.rows import Method, Row
from plant.process.said import Said
from plant.process.said import say as _
from plant.process.units import FAHRENHEIT, exact_difference

FILL_AND_EMPTY = ("PMO item 16p(A); 1 NYCRR 2.45(b)(3)", "from memory")


@dataclass(frozen=True, slots=True)
class Bound:
    """A bound on a difference of temperatures in `unit`, with its clause and how far its text was read."""

    value: Number
    unit: str
    clause: str
    basis: str


@dataclass(frozen=True, slots=True)
class VatRules:
    """What a rule set asks of a vat beside its rows; None where it asks nothing.

    `air_space`: the air space at least so far above the row's temperature (not above the product's own). `spread`: the
    warmest and the coldest product no further apart than this.
    """

    air_space: Bound | None = None
    spread: Bound | None = None


@dataclass(frozen=True, slots=True)
class Batch:
    """What the chart of one batch shows. Temperatures in `unit`, times [s].

    `coolest` and `warmest` product during the hold, `coolest_air` in the space above it during heating and hold; None
    where it was not read. `hold_s` as long as the chart shows it at temperature. `fill_s`: time to fill from the level
    of the bulb, where the product comes in at temperature already. `empty_s`: time to empty down to the bulb, where
    cooling begins only after the outlet opens, or outside the vat. 0 says that it does not apply, None that nobody
    knows.
    """

    coolest: Number
    unit: str
    hold_s: Number
    coolest_air: Number | None = None
    warmest: Number | None = None
    fill_s: Number | None = None
    empty_s: Number | None = None


@dataclass(frozen=True, slots=True)
class VatCheck:
    """One thing judged: its exact margin in `unit` (below zero is missing), in words, with clause and basis."""

    name: Said
    met: bool
    margin: Fraction
    unit: str
    words: Said
    clause: str
    basis: str


@dataclass(frozen=True, slots=True)
class BatchVerdict:
    """The checks of a batch, and what its row's rules ask for and nobody gave."""

    row: Row
    checks: tuple[VatCheck, ...]
    not_given: tuple[Said, ...]

    @property
    def met(self) -> bool:
        """Whether everything that was given is in its bounds."""
        return all(one.met for one in self.checks)

    @property
    def shown(self) -> bool:
        """Whether it is met and nothing that the rules ask for is missing: only this may stand for the batch."""
        return self.met and not self.not_given


def chart_hold_s(row: Row, fill_s: Number = 0, empty_s: Number = 0) -> Fraction:
    """How long the chart of a vat has to show the temperature [s]: the row's time, plus filling and emptying.

    `fill_s` [s] counts where the product is hot when it comes in: its last part has to stay the full time too.
    `empty_s` [s] counts where the product cools only after the outlet has opened. Each is 0 where it does not apply.

    Range: a row for vats; 0 to 86,400 s each.
    Raises: OutsideRange outside it, CalculationError for a row of continuous flow.
    Source: PMO item 16p(A) (from memory); that filling and emptying belong to the hold: 1 NYCRR 2.45(b)(3) (a state's
    copy of the ordinance, start of the text consulted).

    >>> from plant.process.pasteurization import ProductClass
    >>> vat = Row("v", (ProductClass.MIX,), Method.VAT, Fraction(155), "°F", Fraction(1800), "21 CFR 135.3", "read")
    >>> int(chart_hold_s(vat, fill_s=420, empty_s=300))
    2520
    """
    if row.method is not Method.VAT:
        raise CalculationError(_("the row %(row)s is not for a vat", row=row.words))
    return (
        Fraction(row.hold_s)
        + exactly(_("filling time"), fill_s, 0, 86400, "s")
        + exactly(_("emptying time"), empty_s, 0, 86400, "s")
    )


def least_air_space(row: Row, rules: VatRules) -> Fraction | None:
    """The lowest temperature of the air space above a vat's product, in the unit of the row; None without such a rule.

    It is counted from the row, not from the product: hotter product does not ask for hotter air.

    Range: a row for vats.
    Raises: CalculationError for a row of continuous flow.
    Source: 3 CCR 584(b), 5 °F above the product's minimum (text consulted); Quebec P-29 r.1 s.11.7.9 says 3 °C.

    >>> from plant.process.pasteurization import ProductClass
    >>> vat = Row("v", (ProductClass.MILK,), Method.VAT, Fraction(145), "°F", Fraction(1800), "21 CFR 1240.61", "read")
    >>> least_air_space(vat, VatRules(Bound(5, "°F", "3 CCR 584(b)", "text consulted")))
    Fraction(150, 1)
    """
    if row.method is not Method.VAT:
        raise CalculationError(_("the row %(row)s is not for a vat", row=row.words))
    if rules.air_space is None:
        return None
    return Fraction(row.temperature) + _difference(rules.air_space, row.unit)


def judge_batch(batch: Batch, row: Row, rules: VatRules) -> BatchVerdict:
    """Every vat rule held against one batch: product, hold with filling and emptying, air space, evenness.

    All compared exactly in the unit of the row. What the rules ask for and the batch does not give is named in
    `not_given`: such a batch is not shown to be in its bounds.

    Range: a row for vats; temperatures 0 to 200 °C, times 0 to 86,400 s; warmest no colder than coolest.
    Raises: OutsideRange outside it; CalculationError for a row of continuous flow or a warmest below the coolest.
    Source: 3 CCR 584(b), air space (text consulted); 1 NYCRR 2.45(b)(1), evenness (a state's copy, text consulted);
    filling and emptying as in chart_hold_s.

    >>> from plant.process.pasteurization import ProductClass
    >>> vat = Row("v", (ProductClass.MILK,), Method.VAT, Fraction(145), "°F", Fraction(1800), "21 CFR 1240.61", "read")
    >>> rules = VatRules(Bound(5, "°F", "3 CCR 584(b)", "text consulted"))
    >>> [one.met for one in judge_batch(Batch(145.5, "°F", 1800, coolest_air=149.9), vat, rules).checks]
    [True, True, False]
    """
    wanted = chart_hold_s(row, batch.fill_s or 0, batch.empty_s or 0)
    coolest = temperature(batch.coolest, batch.unit, row.unit)
    checks = [
        _check(_("product, coolest"), coolest - Fraction(row.temperature), row.unit, (row.clause, row.basis)),
        _check(_("hold on the chart"), hold(batch.hold_s) - wanted, "s", (row.clause, row.basis)),
    ]
    if wanted != Fraction(row.hold_s):
        checks[-1] = _check(_("hold on the chart"), checks[-1].margin, "s", FILL_AND_EMPTY)
    not_given = []
    least = least_air_space(row, rules)
    if least is not None and rules.air_space is not None:
        if batch.coolest_air is None:
            not_given.append(_("air space, coolest"))
        else:
            air = temperature(batch.coolest_air, batch.unit, row.unit)
            origin = (rules.air_space.clause, rules.air_space.basis)
            checks.append(_check(_("air space, coolest"), air - least, row.unit, origin))
    if rules.spread is not None:
        if batch.warmest is None:
            not_given.append(_("product, warmest"))
        else:
            apart = temperature(batch.warmest, batch.unit, row.unit) - coolest
            if apart < 0:
                raise CalculationError(_("the warmest product is colder than the coolest"))
            origin = (rules.spread.clause, rules.spread.basis)
            room = _difference(rules.spread, row.unit) - apart
            checks.append(_check(_("warmest to coolest product"), room, row.unit, origin))
    times = ((_("filling time"), batch.fill_s), (_("emptying time"), batch.empty_s))
    not_given += [name for name, seconds in times if seconds is None]
    return BatchVerdict(row, tuple(checks), tuple(not_given))


def _difference(bound: Bound, unit: str) -> Fraction:
    value = exactly(_("difference of temperatures"), bound.value, 0)
    exactly(_("difference of temperatures"), exact_difference(value, bound.unit, FAHRENHEIT), 0, 100, FAHRENHEIT)
    return exact_difference(value, bound.unit, unit)


def _check(name: Said, margin: Fraction, unit: str, origin: tuple[str, str]) -> VatCheck:
    size = said_time(abs(margin)) if unit == "s" else said_temperature(abs(margin), unit)
    words = _("%(size)s to spare", size=size) if margin >= 0 else _("%(size)s missing", size=size)
    return VatCheck(name, margin >= 0, margin, unit, words, *origin)
