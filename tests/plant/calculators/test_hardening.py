"""The calculator of hardening time."""

from __future__ import annotations

from functools import partial

import pytest

from tests.plant.calculators import trying
from tests.plant.calculators.trying import cautioned, refusals, result

pytestmark = pytest.mark.once

worked = partial(trying.worked, "hardening")
SLAB = {"shape": "slab", "size": "60 mm", "height": "", "wall": "", "wall_conductivity": ""}


@pytest.fixture(scope="module")
def tub():
    """The working of the example."""
    return worked()


def test_example_says_a_range_and_plans_with_the_longer(tub):
    """Ice that conducts best and worst; the verdict goes by the worst with its grid error."""
    assert "after 5.9 to 8.5 hours" in tub.answer
    assert "plan with 8.5" in tub.answer
    assert tub.verdict == "met"
    assert tub.margin.endswith("to spare")


def test_it_shows_that_heat_is_conserved_and_how_sure_the_grid_is(tub):
    """Both in the working, not only in the tests."""
    assert "kJ/kg at most" in result(tub, "Heat given off at the surface against heat lost inside")
    assert "grid error about" in result(tub, "Time, ice by Maxwell-Eucken (the slowest)")


def test_uncertain_numbers_are_shown_with_what_they_do(tub):
    """Half the air is slower, twice is faster, warmer air is slower."""
    usual, half, twice, warmer = (float(row[1]) for row in tub.tables[0].rows)
    assert half > usual > twice
    assert warmer > usual


def test_picture_has_a_title_and_both_lines(tub):
    """Core and surface are named in it, not told apart by color."""
    assert "<title" in tub.picture
    assert ">core<" in tub.picture
    assert ">surface<" in tub.picture
    assert "stroke-dasharray" in tub.picture


def test_too_long_is_not_met():
    """A thick slab in little air within two hours."""
    found = worked(**SLAB, within="2 h")
    assert found.verdict == "not met"
    assert found.margin.endswith("too long")


def test_without_a_wish_there_is_no_verdict():
    """Only the estimate."""
    found = worked(**SLAB, within="")
    assert (found.verdict, found.margin) == ("", "")


def test_air_hardly_colder_than_the_wish_says_never():
    """Five degrees warmer it would never get there."""
    found = worked(**SLAB, air="-20 °C")
    assert found.tables[0].rows[-1][1] == "never"


def test_wall_slows_it():
    """Two millimeters of board."""
    bare = worked(**SLAB)
    walled = worked(**{**SLAB, "wall": "2 mm", "wall_conductivity": "0.06 W/(m K)"})
    assert result(walled, "From the product to the air") == "10.00 W/(m2 K)"
    assert float(walled.tables[0].rows[0][1]) > float(bare.tables[0].rows[0][1])


def test_it_says_that_freezing_kills_nothing(tub):
    """The caution of every working."""
    assert "kills no pathogen" in cautioned(tub)


test_wrong_input_gets_a_sentence = refusals(
    "hardening",
    [
        ({"height": ""}, "needs its height"),
        ({"air": "-18 °C"}, "nothing becomes -18"),
        ({"air": "-4 °C"}, "°C"),
        ({"core": "-5 °C"}, "already as cold"),
        ({"wall_conductivity": ""}, "both its thickness"),
        ({"fat": "20 %"}, "more than 100 %"),
        ({"water": "5 %"}, "total solids 95 %|sucrose equivalents|outside the range"),
        ({"size": "2 m"}, "outside"),
        ({"h": "0.1 W/(m2 K)"}, "outside"),
    ],
)
