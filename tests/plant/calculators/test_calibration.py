"""The calculator of a thermometer check."""

from __future__ import annotations

from functools import partial

import pytest

from plant.calculators.calibration import CALCULATOR
from tests.plant.calculators import trying
from tests.plant.calculators.trying import cautioned, refusals, result

pytestmark = pytest.mark.once

worked = partial(trying.worked, "calibration")
NOTHING = {one.name: "" for one in CALCULATOR.asks if not one.required}


def test_example_shows_points_error_doubt_and_sensor() -> None:
    """All four parts, the failed check with its margin, one run in doubt."""
    found = worked()
    assert found.verdict == "not met"
    assert found.margin == "the error alone lies 0.067 °F outside the tolerance"
    assert "A reading of 161.4 °F means 160.77 °F: 0.63 °F too high." in found.answer
    assert result(found, "Error found") == "+0.567 °F"
    assert found.tables[1].rows[0][1] == "run 2"
    assert [row[4] for row in found.tables[1].rows] == ["no longer met", "unchanged", "unchanged"]


def test_correction_of_the_worked_example() -> None:
    """Ice 0.4, steam 98.9 at 95.461 kPa: 71.5 means 70.96 °C (by hand, with 98.30 for 98.31: to 0.01)."""
    typed = {
        **NOTHING,
        "unit": "°C",
        "ice": "0.4 °C",
        "boiling": "98.9 °C",
        "pressure": "95.461 kPa",
        "reading": "71.5 °C",
    }
    found = worked(**typed)
    assert found.answer == "A reading of 71.5 °C means 70.96 °C: 0.54 °C too high."
    assert found.verdict == ""
    assert result(found, "Boiling point of water at 95.461 kPa") == "98.31 °C"


def test_altitude_brings_its_caution() -> None:
    """Weather moves the boiling point; with a pressure the other caution stands there."""
    found = worked(pressure="", altitude="500 m")
    assert result(found, "Pressure of the standard atmosphere") == "95.461 kPa"
    assert any("about 1 °C" in str(one) for one in found.cautions)
    assert any("sea level" in str(one) for one in worked().cautions)


def test_thermometer_that_reads_low_is_said_to() -> None:
    """The error's sign in words."""
    typed = {**NOTHING, "unit": "°F", "ice": "31.5 °F", "boiling": "208 °F", "pressure": "95 kPa", "reading": "161 °F"}
    assert "too low" in worked(**typed).answer


def test_difference_in_celsius_is_a_difference_in_fahrenheit() -> None:
    """A tolerance of 0.25 °C is 0.45 °F, not 32.45."""
    assert "0.45" in next(one.how for one in worked(tolerance="0.25 °C").steps if "error alone" in one.what)


def test_good_check_is_met() -> None:
    """0.1 °F off with 0.13 of uncertainty, 0.5 allowed."""
    found = worked(readings="161.4\n161.4\n161.4", earlier="")
    assert found.verdict == "met"
    assert found.margin == "the error alone lies 0.400 °F inside the tolerance"


def test_pt100_alone_is_enough() -> None:
    """127.84 ohm are 72.00 °C; 0.2 ohm of lead +0.523 °C."""
    found = worked(**{**NOTHING, "resistance": "127.84 ohm", "lead": "0.2 ohm"})
    assert found.answer == "The sensor shows 72.00 °C."
    assert result(found, "Pt100: 0.2 ohm of leads, two wires") == "+0.523 °C"


def test_readings_before_the_last_good_calibration_are_left_out() -> None:
    """With no good one known they count."""
    assert "1 of 3" in worked().answer
    assert "of 4 earlier" in worked(last_good="").answer


def test_it_says_that_the_regulators_test_governs() -> None:
    """A check of the plant's own is not the one of record."""
    assert "the regulator's own test and tolerance govern" in cautioned(worked())


test_wrong_input_gets_a_sentence = refusals(
    "calibration",
    [
        (NOTHING, "Give the readings"),
        ({"ice": ""}, "both the reading in ice"),
        ({"pressure": ""}, "needs the pressure"),
        ({"boiling": "235 °F"}, "error at the upper point"),
        ({"reading": "225 °F"}, "outside the range"),
        ({"tolerance": ""}, "needs the reference"),
        ({"readings": "161.9"}, "shows no scatter"),
        ({"readings": "warm"}, "reading"),
        ({"resolution": "0 °F"}, "below"),
        ({"readings": ""}, "needs the error found"),
        ({"low": ""}, "needs the limit"),
        ({"found_on": ""}, "day of the failed"),
        ({"found_on": "soon"}, "Write a day as"),
        ({"last_good": "2026-03-01"}, "before the last good"),
        ({"earlier": "2026-01-12; run 1"}, "2 parts, not 3"),
        ({"resistance": "10 ohm"}, "outside"),
    ],
)
