"""The calculator of lethality."""

import xml.etree.ElementTree as ET
from functools import partial

import pytest

from plant.calculators.lethality import CALCULATOR, NONE
from plant.process.lethality import ORGANISMS
from tests.plant.calculators import trying
from tests.plant.calculators.trying import refusals, step

pytestmark = pytest.mark.once

worked = partial(trying.worked, "lethality")


def test_example_runs_and_shows_its_working():
    """The vat record: 33.86 min with straight lines, 35.31 by the trapezium rule, which is called too coarse."""
    found = worked()
    assert found.answer.startswith("F is 33.86 min (2,032 s) at 63 °C for a z of 4.3 °C")
    assert step(found, "trapezium").result.startswith("35.31 min")
    assert any("too far apart" in one for one in found.cautions)
    assert len(found.tables[0].rows) == 10
    assert "1200 s on end at 145 °F or above" in step(found, "legal temperature").result


def test_it_gives_no_verdict_and_says_so():
    """No met, no not met: an evaluation is supported, the legal verdict is another."""
    found = worked()
    assert (found.verdict, found.margin) == ("", "")
    assert "the legal verdict is another" in found.answer
    assert "never replaces the legal verdict" in found.cautions[0]


def test_picture_is_a_drawing_with_a_title():
    """The picture is well-formed and says what it shows."""
    assert ET.fromstring(worked().picture)[0].text == "Temperature and lethal rate"


def test_fahrenheit_gives_the_same():
    """Readings, reference, z and the sensor's doubt in °F: the same F."""
    rows = "\n".join(
        f"{minute}; {level}"
        for minute, level in zip(
            range(0, 50, 5), [131, 140, 144.5, 145.76, 146.12, 146.3, 145.94, 145.58, 140, 122], strict=True
        )
    )
    found = worked(unit="°F", readings=rows, reference="145.4 °F", z="7.74 °F")
    assert found.answer == worked().answer


def test_times_in_seconds_are_taken_as_seconds():
    """Fifteen seconds at 72 °C for a reference of 72 °C are 15 s."""
    found = worked(time_unit="s", readings="0; 72\n15; 72", reference="72 °C", bias="", organism=NONE)
    assert found.answer.startswith("F is 15 s at 72 °C")


def test_organism_far_from_its_trials_is_refused_in_words_and_f_still_given():
    """At 63 °C nothing is said of Listeria in mix, measured at 79.4 °C."""
    found = worked(organism="listeria-mix")
    assert any("No log reductions are given" in one for one in found.cautions)
    assert found.answer.startswith("F is 33.86 min")


@pytest.mark.parametrize("organism", sorted(ORGANISMS))
def test_every_organism_can_be_chosen(organism):
    """Each organism gives its reductions or says why not; never an absurd number of them."""
    found = worked(organism=organism)
    shown = [one for one in found.steps if "Log reductions" in one.what]
    assert len(shown) == 1
    assert shown[0].result


def test_the_choices_are_the_published_organisms():
    """None besides those with a source."""
    assert {key for key, _label in CALCULATOR.ask("organism").choices} == {NONE, *ORGANISMS}


test_wrong_input_gets_a_sentence = refusals(
    "lethality",
    [
        ({"readings": "0; 63"}, "two moments"),
        ({"readings": "0; 63\n0; 63"}, "must rise"),
        ({"readings": "0; hot\n5; 63"}, "line 1"),
        ({"readings": "0; 63; 1"}, "3 parts, not 2"),
        ({"readings": ""}, "Nothing was given"),
        ({"readings": "0; 63\n5; 150"}, "temperature 150 °C is above"),
        ({"readings": "0; 63\n527041; 63"}, "line 2: times from 0 to 527040 min are taken"),
        ({"readings": "0; 63\n527041; 63", "time_unit": "s"}, "line 2: times from 0 to 527040 s are taken"),
        ({"reference": "20 °C"}, "outside"),
        ({"reference": "63"}, "Write the unit too"),
        ({"z": "0.1 °C"}, "z 0.1 °C is outside"),
        ({"z": "-4 °C"}, "z -4 °C is outside"),
        ({"bias": "-1 °C"}, "bias of the sensor -1 °C"),
        ({"bias": "40 °F"}, "bias of the sensor 22.2"),
        ({"scatter": "9 °C"}, "scatter of the readings 9 °C"),
        ({"step": "0 s"}, "outside"),
        ({"unit": "K"}, "not one of"),
        ({"organism": "yeast"}, "not one of"),
        ({"limit": "145"}, "Write the unit too"),
        ({"time_unit": "h"}, "not one of"),
    ],
)
