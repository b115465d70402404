"""`manage.py explain`: the same calculators at the terminal."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from plant.calculators import calculators

pytestmark = pytest.mark.once


def explained(*arguments: str) -> str:
    """What the command prints."""
    out = StringIO()
    call_command("explain", *arguments, stdout=out)
    return out.getvalue()


def test_a_mix_at_175_f_for_25_s_is_met() -> None:
    """21 CFR 135.3: 175 °F and 25 s, met with no margin; every step with its clause; the cautions last."""
    said = explained("pasteurization", "--product", "ice cream mix", "--temperature", "175 F", "--time", "25 s")
    assert "\nMET, 0 °F and 0 s over\n" in said
    assert "[21 CFR 135.3" in said and "Caution: " in said


def test_a_mix_a_tenth_of_a_degree_colder_is_not() -> None:
    """Nor one a tenth of a second shorter."""
    for temperature, time in (("174.9 F", "25 s"), ("175 F", "24.9 s")):
        said = explained("pasteurization", "--product", "ice cream mix", "--temperature", temperature, "--time", time)
        assert "\nNOT MET" in said


@pytest.mark.parametrize("key", sorted(calculators()))
def test_the_example_runs(key: str) -> None:
    """Steps in numbers, cautions, the last word."""
    said = explained(key, "--example")
    assert "\n 1. " in said and said.rstrip().endswith("the regulator keep the last word.")


def test_a_bad_unit_gets_a_sentence_and_an_example() -> None:
    """Naming the option."""
    with pytest.raises(CommandError) as caught:
        explained("pasteurization", "--product", "milk", "--temperature", "161 K", "--time", "15")
    said = str(caught.value)
    assert "--temperature: K is not a unit for this: use °F, °C." in said
    assert "--time: Write the unit too: one of s, min, h." in said
    assert "For example: python3 manage.py explain pasteurization" in said


def test_rows_are_given_one_option_each() -> None:
    """Lines of parts."""
    said = explained("growth", "--example", "--readings", "0; 45", "--readings", "60; 45")
    assert "0; 45; 60; 45" in said
