"""The calculator of standardizing."""

import xml.etree.ElementTree as ET
from functools import partial

import pytest

from tests.plant.calculators import trying
from tests.plant.calculators.trying import refusals, result, row

pytestmark = pytest.mark.once

worked = partial(trying.worked, "standardizing")


def test_example_runs_and_proves_itself():
    """500 kg from whole milk, powder and water: the masses, and a proof whose differences are nothing."""
    found = worked()
    assert found.answer == ("298.370 kg whole milk, 16.299 kg skim powder, 185.331 kg water make 500.000 kg.")
    assert (found.verdict, found.margin) == ("met", "every target to the digit")
    [proof] = found.tables
    assert row(proof, "sum") == ("sum", "500.000", "15.000", "42.500")
    assert row(proof, "difference") == ("difference", "0.000", "0.0000", "0.0000")
    assert all(one.source and one.result for one in found.steps)


def test_two_streams_show_the_pearson_square():
    """Cream 35 % into 500 kg of milk 4 % for 10 %: 6 and 25 parts."""
    found = worked(streams="cream; fat 35; ; ; \nmilk; fat 4; 500; 500; ", targets="fat; 10; 10", total="")
    assert result(found, "parts of cream") == "6"
    assert result(found, "parts of milk") == "25"
    assert found.answer == "120.000 kg cream, 500.000 kg milk make 620.000 kg."


def test_pounds_give_the_same_shares():
    """The same numbers in pounds have the same answer in pounds."""
    kilograms, pounds = worked(), worked(total="500 lb", unit="lb")
    assert pounds.answer == kilograms.answer.replace(" kg", " lb")


def test_prices_give_a_cost_and_a_range_its_margin():
    """The cheapest end of the range, its cost, and how far the other targets' ends are."""
    found = worked(streams="cream; fat 40; ; ; 3\nskim; fat 0; ; ; 0.2", targets="fat; 10; 12", total="100 kg")
    assert result(found, "Cost") == "90.00"
    assert found.margin == "0.000 percentage points to the nearest end (fat)"


def test_least_of_a_stream_is_found_whatever_its_case():
    """The name of the stream is compared without case."""
    assert result(worked(least_of="SKIM powder"), "Least of skim powder") == "16.299 kg"


def test_streams_that_are_alike_are_said_to_be():
    """Another answer as good is shown."""
    found = worked(streams="a; fat 40; ; ; \nb; fat 40; ; ; \nskim; fat 0; ; ; ", targets="fat; 10; 10")
    assert "a 0.000–125.000 kg, b 0.000–125.000 kg" in result(found, "as good")


def test_targets_that_cannot_be_met_say_why_and_prove_the_nearest():
    """Fat 3 % from richer streams: not met, the leanest stream, what can be had, the nearest blend."""
    found = worked(streams="cream; fat 40; ; ; \nmilk; fat 3.5; ; ; ", targets="fat; 3; 3")
    assert found.verdict == "not met"
    assert "The leanest of the streams has 3.5 % fat (milk)." in found.answer
    reach, nearest = found.tables
    assert reach.rows == (("fat", "3", "3.5–40", "3.5–40", "0.5000"),)
    assert "does not meet" in nearest.caption
    assert row(nearest, "difference")[2] == "0.5000"


test_wrong_input_gets_a_sentence = refusals(
    "standardizing",
    [
        ({"streams": ""}, "Nothing was given"),
        ({"streams": "milk; fat 3"}, "Line 1 has 2 parts, not 5"),
        ({"streams": "milk; three; ; ; "}, "not a name and a percentage"),
        ({"streams": "milk; fat 3,5; ; ; "}, "not a name and a percentage"),
        ({"streams": "milk; fat 101; ; ; "}, "outside the range 0 to 100 %"),
        ({"streams": "milk; fat 3, FAT 4; ; ; "}, "fat is there twice"),
        ({"streams": "milk; fat 3; ten; ; "}, "least quantity of milk"),
        ({"streams": "milk; fat 3; ; ; 1e2"}, "price of milk"),
        ({"targets": "; 3; 3"}, "needs the name"),
        ({"targets": "fat; ; "}, "has no value"),
        ({"targets": "fat; 4; 3"}, "outside the range"),
        ({"targets": "", "total": ""}, "Give a target"),
        ({"total": "", "targets": "fat; 3; 3"}, "how much is to be made"),
        ({"total": "0 kg"}, "outside what this takes"),
        ({"total": "500"}, "Write the unit"),
        ({"least_of": "oil"}, "oil is not one of the streams"),
        ({"unit": "stone"}, "not one of"),
    ],
)


def test_picture_is_a_drawing_with_a_title_and_a_description():
    """The picture is well-formed and says in words what it shows."""
    root = ET.fromstring(worked().picture)
    assert root[0].text == "Streams and their blend"
    assert "whole milk 298.370 kg" in root[1].text
