"""The calculator of freezing."""

from __future__ import annotations

from functools import partial

import pytest

from tests.plant.calculators import trying
from tests.plant.calculators.trying import cautioned, refusals, result

pytestmark = pytest.mark.once

worked = partial(trying.worked, "freezing")


def test_example_is_the_mix_of_the_course():
    """-2.59 °C, and 50.2 % at -5.5 °C (Guelph freezing curve calculation)."""
    found = worked()
    assert found.answer == (
        "The mix begins to freeze at -2.59 °C (27.34 °F); at -5.50 °C (22.10 °F) 50.2 % of its water is ice."
    )
    assert result(found, "Sucrose equivalents in 100 g of mix") == "20.660 g"
    assert found.verdict == ""


def test_wanted_range_gives_a_verdict_and_its_margin():
    """45 to 55 % is met with 4.8; 52 to 55 % is not."""
    met, missed = worked(wanted_low="45 %", wanted_high="55 %"), worked(wanted_low="52 %", wanted_high="55 %")
    assert (met.verdict, met.margin) == ("met", "4.8 % of the water inside the wanted range")
    assert (missed.verdict, missed.margin) == ("not met", "1.8 % of the water outside the wanted range")


def test_fahrenheit_is_the_same_draw():
    """22.1 °F is -5.5 °C."""
    assert result(worked(draw="22.1 °F"), "Water frozen at the draw") == "50.2 %"


def test_both_conventions_stand_side_by_side():
    """Whichever was taken, and its name in the first step."""
    found = worked(convention="molecular weight")
    assert found.steps[0].source == "convention molecular weight"
    assert [row[1].split()[0] for row in found.tables[1].rows] == ["-2.59", "-2.74"]


def test_draw_above_the_start_is_no_ice():
    """At 0 °C nothing is frozen, and that is said."""
    assert result(worked(draw="0 °C"), "Water frozen at the draw") == "0.0 %"


def test_it_says_that_freezing_kills_nothing():
    """The caution of every working."""
    assert "kills no pathogen" in cautioned(worked())


test_wrong_input_gets_a_sentence = refusals(
    "freezing",
    [
        ({"draw": "-18 °C"}, "outside the range -16.1"),
        ({"draw": "-5"}, "unit"),
        ({"water": "95 %"}, "more than 100 %"),
        ({"water": "0 %"}, "water 0"),
        ({"sucrose": "0 %", "msnf": "0 %", "whey": "0 %", "corn_syrup": "0 %"}, "nothing is dissolved"),
        ({"water": "10 %"}, "sucrose"),
        ({"wanted_low": "60 %", "wanted_high": "50 %"}, "lower end"),
        ({"de": "1 DE"}, "outside"),
    ],
)
