"""The calculator of growth during an excursion."""

from __future__ import annotations

from functools import partial

import pytest

from tests.plant.calculators import trying
from tests.plant.calculators.trying import cautioned, refusals, result

pytestmark = pytest.mark.once

worked = partial(trying.worked, "growth")


def test_examples_give_growth_with_its_picture():
    """Five hours up to 51 °F: about a tenth of a log."""
    found = worked()
    assert "about 0.11 log10" in found.answer
    assert "<title" in found.picture
    assert found.verdict == ""


def test_fortnight_at_four_degrees_is_that_of_the_risk_assessment():
    """2.53 log10 in fourteen days at 4 °C (FDA/FSIS 2003, from memory)."""
    found = worked(unit="°C", readings="0; 4\n20160; 4", gap="20160 min", start="", maximum="")
    assert "about 2.53 log10" in found.answer
    assert result(found, "Rate at the warmest reading") == "0.1806 log10/d"
    assert result(found, "Doubling time at the warmest reading") == "40.0 h"
    assert result(found, "The same growth at a steady 4 °C takes") == "14.00 days"


def test_growth_stops_at_the_maximum_and_says_so():
    """From 7 log10 per mL to 7.8."""
    found = worked(unit="°C", readings="0; 10\n2880; 10", gap="48 h", start="7")
    assert found.answer == "The readings allow growth up to the stated maximum: 0.80 log10."
    assert result(found, "Level at the end") == "7.80 log10/mL"


def test_both_published_tmin_stand_side_by_side():
    """-1.18 °C of the risk assessment and 0.6 °C of a milk study, once each."""
    assert [row[0] for row in worked().tables[0].rows] == ["-1.18 °C", "0.6 °C"]
    assert [row[0] for row in worked(tmin="-2 °C").tables[0].rows] == ["-2 °C", "-1.18 °C", "0.6 °C"]


def test_it_says_that_no_lag_is_assumed_and_that_it_never_releases():
    """Both cautions on every working."""
    said = cautioned(worked())
    assert "no lag" in said
    assert "never releases" in said


test_wrong_input_gets_a_sentence = refusals(
    "growth",
    [
        ({"gap": "59 min"}, "nothing was read for 60 min"),
        ({"unit": "°C"}, "outside the range -1.5 to 20"),
        ({"readings": "0; 40"}, "two moments"),
        ({"readings": "60; 40\n0; 41"}, "must rise"),
        ({"start": ""}, "level at the start"),
        ({"start": "9", "maximum": "7.8"}, "highest level"),
        ({"rate": "0"}, "outside"),
        ({"tmin": "5 °C"}, "outside"),
    ],
)
