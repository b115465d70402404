"""Every rule set can be read, and each row says what it stands on."""

from decimal import Decimal

import pytest

from plant.rules import BASES, READ, Rule, keys, rule_set

pytestmark = pytest.mark.once

ROWS = [(key, one) for key in keys() for one in rule_set(key).rows.values()]


def test_there_are_two_rule_sets():
    """The United States first, the European Union second; they are kept apart."""
    assert keys() == ["eu", "us"]


def test_an_unknown_rule_set_is_a_key_error():
    """Nothing is guessed for a rule set that does not exist, and no other file can be read by its name."""
    for key in ("mars", "../rules/us", ""):
        with pytest.raises(KeyError):
            rule_set(key)


@pytest.mark.parametrize(("key", "one"), ROWS, ids=lambda value: value.id if isinstance(value, Rule) else value)
def test_each_row_has_clause_basis_and_readable_numbers(key, one):
    """A row without clause, edition or basis, or with an unreadable number, is not a rule."""
    assert one.clause and one.edition and one.title and one.group
    assert one.basis in BASES
    for text in (one.low, one.high, one.seconds, one.minutes, one.celsius):
        assert text == "" or Decimal(text).is_finite()
    assert bool(one.unit) == bool(one.low or one.high)


@pytest.mark.parametrize(("key", "one"), ROWS, ids=lambda value: value.id if isinstance(value, Rule) else value)
def test_what_was_read_names_an_address(key, one):
    """'Text consulted' means that an address can be opened; 'from memory' may have none."""
    if one.basis == READ:
        assert rule_set(key).addresses(one)
    for _number, address in rule_set(key).addresses(one):
        assert address


def test_celsius_never_stands_for_a_colder_limit():
    """Printed Celsius is never below the governing Fahrenheit of a lowest temperature, nor above that of a highest."""
    for _key, one in ROWS:
        if one.unit == "°F" and one.celsius and one.quantity == "product temperature":
            exact = (Decimal(one.low or one.high) - 32) * 5 / 9
            assert Decimal(one.celsius) >= exact if one.low else Decimal(one.celsius) <= exact
