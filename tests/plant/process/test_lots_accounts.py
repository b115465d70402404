"""What became of a made quantity, against a plain sum in floats and against the exact units of a handbook."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from math import fsum

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plant.process.errors import CalculationError
from plant.process.lots import account, found_percent, in_unit, with_returned

pytestmark = pytest.mark.once
AMOUNTS = st.lists(
    st.tuples(st.decimals(0, 5000, places=2, allow_nan=False), st.sampled_from(["gal", "L"])), max_size=6
)
LITRES = {"gal": 3.785411784, "L": 1.0}


@pytest.mark.proves(
    "lots.in_unit",
    by="published",
    source="NIST Handbook 44, Appendix C: 1 gal = 3.785 411 784 L, 1 lb = 0.453 592 37 kg (from memory)",
)
@pytest.mark.parametrize(
    ("amount", "unit", "expected"),
    [
        ((Decimal(1), "gal"), "L", Fraction("3.785411784")),
        ((Decimal(1), "lb"), "kg", Fraction("0.45359237")),
        ((Decimal("3.785411784"), "L"), "gal", Fraction(1)),
        ((Decimal(5), "gal"), "gal", Fraction(5)),
        ((Decimal(5), "lb"), "gal", None),
        ((None, "gal"), "gal", None),
    ],
)
def test_units_of_an_amount(amount: tuple[Decimal | None, str], unit: str, expected: Fraction | None) -> None:
    assert in_unit(amount, unit) == expected


@pytest.mark.proves("lots.account", by="independent", source="math.fsum over floats, in litres")
@given(AMOUNTS, AMOUNTS)
def test_an_account_is_the_plain_sum(made: list[tuple[Decimal, str]], gone: list[tuple[Decimal, str]]) -> None:
    found = account(made, gone, "L")
    total, left = (fsum(float(value) * LITRES[unit] for value, unit in each) for each in (made, gone))
    assert found.made is not None and found.in_house is not None
    assert float(found.made) == pytest.approx(total, abs=1e-6)
    assert float(found.in_house) == pytest.approx(max(total - left, 0.0), abs=1e-6)
    assert float(found.more) == pytest.approx(max(left - total, 0.0), abs=1e-6)


def test_what_is_not_known_is_not_made_up() -> None:
    found = account([(None, "gal")], [(Decimal(5), "gal")], "gal")
    assert (found.made, found.in_house, found.gone) == (None, None, 5)


@pytest.mark.proves("lots.found_percent", by="independent", source="floats: 100 x found / made")
@given(st.integers(1, 10**6), st.integers(0, 10**6))
def test_how_much_was_found(made: int, found: int) -> None:
    assert float(found_percent(Fraction(made), Fraction(found))) == pytest.approx(100.0 * found / made)


def test_nothing_made_gives_no_share() -> None:
    for made in (None, Fraction(0)):
        with pytest.raises(CalculationError):
            found_percent(made, Fraction(1))


@pytest.mark.proves("lots.with_returned", by="independent", source="conservation of mass, on random amounts")
@given(st.lists(st.integers(0, 10**6), min_size=4, max_size=4), st.integers(0, 100))
def test_dispatched_less_returned_and_in_house_and_exits_are_what_was_made(amounts: list[int], cut: int) -> None:
    """Wherever no more left than was made, came back than left, or ended than came back; each in two parts."""
    made, sent, back, ended = (Decimal(one) / 100 for one in sorted(amounts, reverse=True))
    parts = [[(one * cut / 100, "gal"), (one - one * cut / 100, "gal")] for one in (made, sent, back, ended)]
    found = with_returned(account(parts[0], parts[1], "gal"), parts[2], parts[3])
    assert found.in_house is not None and found.gone is not None and found.more == 0
    assert Fraction(sent) - Fraction(back) + found.in_house + Fraction(ended) == Fraction(made)
    assert found.gone + found.in_house == Fraction(made)


def test_what_came_back_and_nobody_counted_makes_nothing_look_safer() -> None:
    """All that left stays out; in house is not known."""
    found = with_returned(account([(Decimal(9), "gal")], [(Decimal(4), "gal")], "gal"), [(None, "")], [])
    assert (found.gone, found.in_house) == (4, None)
