"""The calculator of a warming tank."""

from __future__ import annotations

from functools import partial

import pytest

from tests.plant.calculators import trying
from tests.plant.calculators.trying import refusals, result

pytestmark = pytest.mark.once

worked = partial(trying.worked, "warming")


def test_examples_give_a_forecast_with_its_picture():
    """Six readings of a tank at 38 to 41.7 °F and 45 °F reached in the fifth hour."""
    found = worked()
    assert found.answer.startswith("If it goes on like this, 45 °F is reached 4.8 h after the start")
    assert "<title" in found.picture
    assert len(found.steps) == 5
    assert found.verdict == ""


def test_readings_in_celsius_give_the_same_forecast():
    """The same tank read in °C, resolution and all, judged in the limit's unit."""
    celsius = "\n".join(
        f"{at}; {(value - 32) / 1.8:.4f}" for at, value in ((0, 38), (60, 39.6), (120, 41.3), (180, 42.6))
    )
    fahrenheit = "0; 38\n60; 39.6\n120; 41.3\n180; 42.6"
    one = worked(readings=fahrenheit, resolution="0.9")
    other = worked(readings=celsius, unit="°C", resolution="0.5")
    assert one.answer == other.answer


def test_limit_in_celsius_converts_the_readings():
    """7 °C is 44.6 °F: reached a little sooner."""
    found = worked(limit="7 °C")
    assert "7 °C is reached 4.5 h" in found.answer


def test_more_confidence_widens_the_interval():
    """99 % goes further than 90 %."""
    wide, narrow = worked(confidence="99").answer, worked(confidence="90").answer
    assert float(wide.split("and ")[-1].split()[0]) > float(narrow.split("and ")[-1].split()[0])


@pytest.mark.parametrize(
    ("readings", "reason"),
    [
        ("0; 38\n30; 39", "fewer than three"),
        ("0; 38\n5; 39\n10; 40", "too close together"),
        ("0; 38\n30; 42\n60; 45", "already reached"),
        ("0; 38\n30; 38\n60; 38.1\n90; 38", "fewer than three"),
        ("0; 38\n30; 40\n60; 38.2\n90; 39", "not warming"),
        ("0; 38\n60; 38.1\n120; 38.2\n180; 38.3", "not reached within a day"),
    ],
)
def test_no_forecast_says_why(readings, reason):
    """Each reason in a sentence, with the readings drawn."""
    found = worked(readings=readings)
    assert reason in found.answer
    assert found.picture


def test_resolution_is_a_floor_for_the_scatter():
    """Readings of whole degrees on a line by chance have the scatter of a whole degree."""
    found = worked(readings="0; 38\n60; 39\n120; 40\n180; 41", resolution="1")
    assert result(found, "Scatter about the line") == "0.289 °F"


test_wrong_input_gets_a_sentence = refusals(
    "warming",
    [
        ({"limit": "45"}, "unit"),
        ({"limit": "warm"}, "number"),
        ({"readings": "0; 38; 1"}, "parts"),
        ({"readings": "0; cold"}, "line 1"),
        ({"readings": "-5; 38"}, "line 1"),
        ({"readings": "0; 38\n527041; 39"}, "line 2: times from 0 to 527040 min are taken"),
        ({"readings": ""}, "Nothing was given"),
        ({"confidence": "50"}, "not one of"),
        ({"resolution": "-1"}, "outside"),
    ],
)
