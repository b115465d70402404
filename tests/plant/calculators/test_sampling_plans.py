"""The calculator of sampling plans."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from functools import partial

import pytest

from tests.plant.calculators import trying
from tests.plant.calculators.trying import cautioned, refusals, result

pytestmark = pytest.mark.once

worked = partial(trying.worked, "sampling_plans")


def test_example_judges_ice_cream_and_its_running_rule() -> None:
    """Two marginal of five are met with nothing to spare; one high count in five is no notice."""
    found = worked()
    assert found.verdict == "met"
    assert found.margin == "0 more above m would be within the plan"
    assert result(found, "The results") == "2 above m, and at most 2 of 5 may be."
    assert result(found, "Running rule") == "neither rule is reached"
    assert result(found, "Samples, none") == "59"


def test_curve_of_two_classes_has_its_table() -> None:
    """n 5, c 0: 0.774, 0.590, 0.328, 0.168 and 0.031 (binomial)."""
    found = worked(c="0", big_m="", results="", samples="")
    shown = dict(found.tables[0].rows)
    assert [shown[one] for one in ("5 %", "10 %", "20 %", "30 %", "50 %")] == [
        "0.774",
        "0.590",
        "0.328",
        "0.168",
        "0.031",
    ]
    assert found.verdict == ""
    assert ET.fromstring(found.picture)[0].text == "Operating characteristic"


def test_one_result_above_big_m_is_not_met() -> None:
    """However good the others are."""
    found = worked(results="<10\n<10\n<10\n<10\n101")
    assert found.verdict == "not met"
    assert "Results: not met. 1 above M" in found.answer


def test_missing_results_are_not_proven() -> None:
    """Three of five."""
    found = worked(results="<10\n<10\n<10")
    assert "Results: not proven. 3 of 5 results are there." in found.answer
    assert found.verdict == "not met"


def test_too_many_above_m_are_counted_in_the_margin() -> None:
    """Three where two may be."""
    assert worked(results="11\n11\n11\n<10\n<10").margin == "1 too many above m, unclear ones counted"


def test_presence_and_absence_make_two_classes() -> None:
    """m 0, M 0: nothing tolerated."""
    found = worked(c="0", m="0", big_m="", results="absent\nabsent\npresent\nabsent\nabsent")
    assert found.verdict == "not met"
    assert "above m still passes with probability 0.05" in found.answer


def test_two_of_four_are_notice_with_the_days_of_the_next_sample() -> None:
    """After 3 and within 21 days."""
    found = worked(samples="2026-01-06; 31000\n2026-02-03; 8000\n2026-03-03; 25000")
    assert "written notice; next sample after 2026-03-06, by 2026-03-24" in found.answer
    assert found.verdict == "not met"


def test_three_of_five_are_action() -> None:
    """The last of them decides."""
    found = worked(samples="2026-01-06; 31000\n2026-02-03; 25000\n2026-03-03; 25000")
    assert "action on the permit" in found.answer


def test_small_lot_needs_fewer_samples() -> None:
    """45 of a hundred instead of 59."""
    assert result(worked(lot="100"), "Samples, none") == "45"


def test_it_says_that_a_met_result_releases_nothing() -> None:
    """The caution of every working."""
    assert "releases nothing" in cautioned(worked())


test_wrong_input_gets_a_sentence = refusals(
    "sampling_plans",
    [
        ({"n": "2.5"}, "n must be a whole number"),
        ({"c": "5"}, "c must be below n"),
        ({"big_m": "9"}, "M cannot lie below m"),
        ({"n": "0"}, "outside"),
        ({"results": "many"}, "A result is"),
        ({"results": "1\n1\n1\n1\n1\n1"}, "6 results for a plan of 5"),
        ({"limit": ""}, "needs the limit"),
        ({"samples": "2026-02-30; 5"}, "Write a day as"),
        ({"samples": "2026-02-03; lots"}, "value"),
        ({"share": "0 %"}, "outside"),
        ({"confidence": "100 %"}, "outside"),
        ({"lot": "10.5"}, "whole number"),
    ],
)
