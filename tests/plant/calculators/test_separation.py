"""The calculator of the separator."""

import xml.etree.ElementTree as ET
from functools import partial

import pytest

from tests.plant.calculators import trying
from tests.plant.calculators.trying import refusals, result

pytestmark = pytest.mark.once

worked = partial(trying.worked, "separation")


def test_example_runs_and_shows_its_working():
    """1000 kg of 3.8 %: 93.867 kg of cream, 98.81 % of the fat; 14.966 kg surplus at 3.25 %."""
    found = worked()
    assert found.answer == "93.867 kg cream and 906.133 kg skim; 98.81 % of the fat is in the cream."
    assert result(found, "Surplus cream") == "14.966 kg"
    assert found.verdict == ""
    assert found.tables[0].rows[-1] == ("difference", "0.000", "0.0000")
    assert all(one.source and one.result for one in found.steps)


def test_loss_stands_in_the_proof():
    """5 kg of sludge with 6 % fat: 0.3 kg of fat, 0.79 % of the milk's."""
    found = worked(loss="5 kg", loss_fat="6 %")
    assert result(found, "Fat lost") == "0.79 %"
    assert [row[0] for row in found.tables[0].rows][:3] == ["cream", "skim", "loss"]
    assert found.tables[0].rows[-1] == ("difference", "0.000", "0.0000")


def test_weighed_streams_show_what_is_not_accounted_for():
    """90 kg of cream and 900 kg of skim leave 10 kg open."""
    assert result(worked(cream="90 kg", skim="900 kg"), "Mass not accounted for") == "10.000 kg (1.00 %)"


def test_pounds_answer_in_pounds():
    """The unit is that of the milk."""
    assert worked(milk="1000 lb").answer.startswith("93.867 lb cream")


test_wrong_input_gets_a_sentence = refusals(
    "separation",
    [
        ({"milk": ""}, "Nothing was given"),
        ({"milk": "1000"}, "Write the unit"),
        ({"milk_fat": "0 %"}, "no fat to separate"),
        ({"cream_fat": "0.05 %"}, "more fat than the skim"),
        ({"milk_fat": "45 %"}, "not between skim"),
        ({"loss_fat": "5 %"}, "quantity of the loss"),
        ({"loss": "2000 kg"}, "loss 2000 kg is outside the range"),
        ({"wanted_fat": "5 %"}, "Add cream"),
        ({"cream": "90 kg"}, "or neither"),
        ({"milk_snf": "97 %"}, "solids-not-fat of the milk 97 %"),
        ({"skim_fat": "five"}, "Write a number"),
    ],
)


def test_picture_is_a_drawing_with_a_title():
    """The milk is the level between cream and skim."""
    root = ET.fromstring(worked().picture)
    assert root[0].text == "Milk as cream and skim"
    assert "milk 3.800" in root[1].text
