"""The calculator of the holding tube."""

import xml.etree.ElementTree as ET
from functools import partial

import pytest

from tests.plant.calculators import trying
from tests.plant.calculators.trying import cautioned, refusals, result

pytestmark = pytest.mark.once

worked = partial(trying.worked, "holding_tube")


def test_example_runs_and_shows_its_working():
    """1000 gal/h in 39.1 ft of 1.870 in: 16.08 s by the British guide, 1.08 s over 15 s, slope met."""
    found = worked()
    assert found.answer == "The fastest particle leaves after 16.08 s; 15 s are wanted."
    assert (found.verdict, found.margin) == ("met", "1.08 s over the wanted time")
    assert result(found, "Length along the center line") == "11.930 m"
    assert result(found, "Length if the flow is laminar").startswith("700.6 in")
    assert all(one.source and one.result for one in found.steps)


def test_picture_is_a_drawing_with_a_title():
    """The picture is well-formed and says what it shows."""
    root = ET.fromstring(worked().picture)
    assert root[0].text == "Holding tube"


def test_short_tube_is_not_met_with_its_margin():
    """Ten feet less are too short, and the margin says by how much."""
    found = worked(length="26 ft", bends="")
    assert found.verdict == "not met"
    assert found.margin.endswith("short of the wanted time")


def test_part_that_rises_too_little_is_not_met_whatever_the_hold():
    """A slope of 0.2 in/ft fails the tube and stands first among the cautions."""
    found = worked(sections="2 in; 10 ft\n5 in; 18 ft")
    assert found.verdict == "not met"
    assert found.margin.endswith("parts that rise too little: 1")
    assert "rises too little" in found.cautions[0]
    assert result(found, "Slope of part 1") == "0.2 in/ft, not met"


def test_metric_units_give_the_same():
    """The same tube in millimeters and liters an hour."""
    metric = worked(bore="47.498 mm", flow="3785.4118 L/h", length="10.9728 m", bends="152.4 mm; 180; 2")
    assert metric.answer == worked().answer


@pytest.mark.parametrize("guide", ["laminar", "toledo", "uk", "flat-1.2"])
def test_every_guide_can_be_chosen_and_is_named(guide):
    """The working names the guide's source."""
    assert any(len(one.source) > 20 for one in worked(guide=guide).steps)


def test_viscous_product_is_laminar_by_every_guide():
    """At 20 mPa s all guides take 2.0."""
    answers = {worked(guide=guide, viscosity="20 mPa s").answer for guide in ("laminar", "toledo", "uk", "flat-1.2")}
    assert len(answers) == 1


def test_it_says_that_the_regulators_test_is_the_one_of_record():
    """What is computed replaces no measured time."""
    assert "regulator's test" in cautioned(worked())


test_wrong_input_gets_a_sentence = refusals(
    "holding_tube",
    [
        ({"flow": "fast"}, "Write a number"),
        ({"flow": "5 in"}, "in is not a unit for this"),
        ({"bore": "0 in"}, "outside"),
        ({"length": ""}, "Nothing was given"),
        ({"bends": "6; 180; 2"}, "Write the unit too"),
        ({"bends": "6 in; 180; 1.5"}, "no whole number of bends"),
        ({"bends": "6 in; 900; 1"}, "angle of a bend 900"),
        ({"bends": "6 in; 180"}, "2 parts, not 3"),
        ({"sections": "1 in; 0 ft"}, "length 0 is below"),
        ({"sections": "9 ft; 1 ft"}, "rise 2.7432 is outside"),
        ({"density": "10 kg/m3"}, "outside"),
        ({"viscosity": "1"}, "Write the unit too"),
        ({"hold": "-1 s"}, "outside"),
        ({"guide": "mine"}, "not one of"),
    ],
)
