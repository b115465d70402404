"""The calculator of most probable numbers."""

from __future__ import annotations

from functools import partial

import pytest

from plant.calculators.mpn import RARE
from tests.plant.calculators import trying
from tests.plant.calculators.trying import cautioned, refusals

pytestmark = pytest.mark.once

worked = partial(trying.worked, "mpn")


def test_example_gives_the_number_and_names_the_method() -> None:
    """3-1-0: 43 per g (FDA BAM, appendix 2, from memory), the interval with its method."""
    found = worked()
    assert found.answer.startswith("43 per g; 7.1 to 210 (95 %, exact")
    assert len(found.steps) == 4
    assert found.steps[1].result == "42.73"
    assert "BAM" in found.steps[1].source
    assert found.tables[0].rows[1] == ("0.01", "3", "1", "1.04")


@pytest.mark.parametrize(
    ("method", "starts"),
    [("likelihood ratio", "43 per g; 9.8 to 160 (95 %, likelihood"), ("log-normal", "43 per g; 10 to 180 (95 %, log")],
)
def test_other_methods_are_named(method, starts) -> None:
    """The answer says which."""
    assert worked(method=method).answer.startswith(starts)


def test_no_tube_and_every_tube_say_less_and_more() -> None:
    """As tables print them, with the one end that there is."""
    none = worked(tubes="0.1; 3; 0\n0.01; 3; 0\n0.001; 3; 0")
    assert none.answer.startswith("< 3.0 per g; at most 11 ")
    assert len(none.steps) == 4
    every = worked(tubes="0.1; 3; 3\n0.01; 3; 3\n0.001; 3; 3", unit="mL")
    assert every.answer.startswith("> 1100 per mL; at least 360 ")


def test_unlikely_outcome_brings_a_caution() -> None:
    """0-0-3 asks for a second look at the tubes."""
    assert RARE in worked(tubes="0.1; 3; 0\n0.01; 3; 0\n0.001; 3; 3").cautions
    assert RARE not in worked().cautions


def test_far_dilutions_can_be_written_as_powers() -> None:
    """1e-5, 10^-5 and the plain number are one."""
    plain = worked(tubes="0.0001; 3; 1").answer
    assert worked(tubes="1e-4; 3; 1").answer == worked(tubes="10^-4; 3; 1").answer == plain


def test_it_says_that_the_official_method_governs() -> None:
    """The caution of every working."""
    assert "official method governs" in cautioned(worked())


test_wrong_input_gets_a_sentence = refusals(
    "mpn",
    [
        ({"tubes": ""}, "Nothing was given"),
        ({"tubes": "0.1; 3"}, "2 parts, not 3"),
        ({"tubes": "0.1; 3; 4"}, "positive tubes"),
        ({"tubes": "0.1; 3.5; 1"}, "whole numbers"),
        ({"tubes": "0; 3; 1"}, "portion"),
        ({"tubes": "0.1; 3; 1\n0.1; 3; 1"}, "twice"),
        ({"tubes": "a lot; 3; 1"}, "Line 1"),
        ({"tubes": "0.1; 3; 0", "method": "log-normal"}, "both a positive and a negative"),
        ({"confidence": "100 %"}, "outside"),
        ({"unit": "oz"}, "not one of"),
    ],
)
