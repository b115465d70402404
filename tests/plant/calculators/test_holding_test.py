"""The calculator of the holding-time test."""

from functools import partial

import pytest

from plant.calculators.holding_test import CALCULATOR, OTHER
from plant.process.holding_tube import SALT_TESTS
from tests.plant.calculators import trying
from tests.plant.calculators.trying import refusals

pytestmark = pytest.mark.once

worked = partial(trying.worked, "holding_test")


def test_example_runs_and_shows_its_working():
    """16.2 s on water, 62.5 and 60.0 s to fill: 16.875 s, and 16.7 s for milk by the published pair."""
    found = worked()
    assert "16.875 s for product" in found.answer
    assert (found.verdict, found.margin) == ("met", "1.66 s over the wanted time")
    assert all(one.source and one.how for one in found.steps)


def test_fills_by_weight_use_the_specific_gravity():
    """Empty it is milk's 1.032; given, the given one."""
    weight = {"by": "weight", "product_fill": "61.0 s", "water_fill": "62.0 s", "product": OTHER}
    assert "16.449 s" in worked(**weight).answer
    assert "17.054 s" in worked(**weight, gravity="1.07").answer


def test_mix_that_salt_flatters_is_not_met():
    """A tube that just meets 25 s on water does not for mix, whose fastest particle is a sixth faster."""
    found = worked(water_hold="25.5 s", product_fill="60 s", hold="25 s", product="mix-16.5")
    assert found.verdict == "not met"
    assert "flatters" in found.cautions[0]
    assert worked(water_hold="25.5 s", product_fill="60 s", hold="25 s", product=OTHER).verdict == "met"


def test_every_published_product_can_be_chosen():
    """The choices are the published pairs and the one that is none of them."""
    assert {key for key, _label in CALCULATOR.ask("product").choices} == {OTHER, *SALT_TESTS}


def test_flow_of_the_homogenizer_is_that_without_pressure():
    """The test has to be made at 1000 gal/h; another pump needs no rows."""
    flow = next(one for one in worked().steps if "Flow at which" in one.what)
    assert "1000.0 gal/h" in flow.result
    assert not any("Flow at which" in one.what for one in worked(pump="").steps)


test_wrong_input_gets_a_sentence = refusals(
    "holding_test",
    [
        ({"water_hold": "-1 s"}, "outside"),
        ({"by": "mass"}, "not one of"),
        ({"product_fill": "10 s"}, "ratio of the fill times"),
        ({"gravity": "3"}, "outside"),
        ({"product": "yogurt"}, "not one of"),
        ({"hold": ""}, "Nothing was given"),
        ({"pump": "0; 1000"}, "Write the unit too: one of psi"),
        ({"pump": "0 psi; fast"}, "Write a number and its unit, for example 1000 gal/h"),
        ({"pump": "1500 psi; 978 gal/h"}, "no homogenizing pressure"),
    ],
)
