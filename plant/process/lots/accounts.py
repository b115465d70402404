"""What became of a made quantity: in house, gone, and how much of it was found. Exact, in one unit."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from plant.process.errors import CalculationError
from plant.process.said import say as _
from plant.process.units import exact

__all__ = ["Account", "account", "found_percent", "in_unit"]

Amount = tuple[Decimal | None, str]
VOLUMES, MASSES = frozenset({"gal", "L"}), frozenset({"lb", "kg"})


@dataclass(frozen=True, slots=True)
class Account:
    """A quantity made and what left of it, in `unit`; None: not known. `more`: by how much more left than was made."""

    made: Fraction | None
    gone: Fraction | None
    in_house: Fraction | None
    more: Fraction
    unit: str


def in_unit(amount: Amount, unit: str) -> Fraction | None:
    """An amount in a unit; None for an unknown one, or for a mass where a volume is asked: that takes a density.

    Range: any amount.
    Source: by definition.

    >>> in_unit((Decimal("2"), "kg"), "gal") is None
    True
    """
    quantity, own = amount
    if quantity is None:
        return None
    if own == unit:
        return Fraction(quantity)
    if {own, unit} <= VOLUMES or {own, unit} <= MASSES:
        return exact(quantity, own, unit)
    return None


def account(made: Iterable[Amount], gone: Iterable[Amount], unit: str) -> Account:
    """What was made of a lot, what left of it, and what should be in house still.

    What is in house is never below nothing: more gone than made is said apart, since one of the two is then wrong.

    Range: amounts of 0 and above.
    Source: conservation of mass, by definition.

    >>> account([(Decimal(300), "gal")], [(Decimal(80), "gal")], "gal").in_house
    Fraction(220, 1)
    """
    total, left = _total(made, unit), _total(gone, unit)
    if total is None or left is None:
        return Account(total, left, None, Fraction(0), unit)
    return Account(total, left, max(total - left, Fraction(0)), max(left - total, Fraction(0)), unit)


def with_returned(whole: Account, returned: Iterable[Amount], ended: Iterable[Amount]) -> Account:
    """An account when some of what left came back; `ended`: what of that was destroyed, or went on elsewhere, since.

    What came back is in house again, and counts as gone no more: gone is what left less what came back, and what
    ended. Where a quantity that came back is not known, gone stays as it was, the worst case, and nobody knows what is
    in house.

    Range: amounts of 0 and above; more back than left counts as all of it back.
    Source: conservation of mass, by definition.

    >>> kept = account([(Decimal(300), "gal")], [(Decimal(80), "gal")], "gal")
    >>> with_returned(kept, [(Decimal(30), "gal")], [(Decimal(10), "gal")]).in_house
    Fraction(240, 1)
    """
    back, over = _total(returned, whole.unit), _total(ended, whole.unit)
    if whole.made is None or whole.gone is None or back is None or over is None:
        return Account(whole.made, whole.gone, None, whole.more, whole.unit)
    gone = max(whole.gone - back, Fraction(0)) + over
    in_house, more = max(whole.made - gone, Fraction(0)), max(gone - whole.made, Fraction(0))
    return Account(whole.made, gone, in_house, more, whole.unit)


def found_percent(made: Fraction | None, found: Fraction | None) -> Fraction:
    """How much of what was made was found [%]. Over 100 % is no mistake of ours: it is said, and asked about.

    Range: made above 0.
    Raises: CalculationError where either is not known, or nothing was made.
    Source: found/made, as rehearsals of a recall are rated; common practice, no source.

    >>> found_percent(Fraction(300), Fraction(297))
    Fraction(99, 1)
    """
    if made is None or found is None:
        raise CalculationError(_("a quantity is not known, or is in a unit that cannot be compared"))
    if made <= 0:
        raise CalculationError(_("nothing was made, so no share of it can be found"))
    return 100 * found / made


def _total(amounts: Iterable[Amount], unit: str) -> Fraction | None:
    total = Fraction(0)
    for one in amounts:
        known = in_unit(one, unit)
        if known is None:
            return None
        total += known
    return total
