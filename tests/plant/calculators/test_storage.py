"""The calculator of cooling and cold storage."""

from __future__ import annotations

from functools import partial

import pytest

from plant.process.errors import CalculationError
from tests.plant.calculators import trying
from tests.plant.calculators.trying import refusals, result

pytestmark = pytest.mark.once

worked = partial(trying.worked, "storage")
COLD = "0; 40\n30; 41\n60; 43"
OWN = {"rule": "own", "limit": "45 °F"}


def test_examples_are_cooled_in_time():
    """45 °F at 105 minutes of two hours, then a blend at 47 °F, below 50 °F."""
    found = worked()
    assert (found.verdict, found.margin) == ("met", "15.0 min left")
    assert result(found, "Warmest reading afterwards") == "47.0 °F"
    assert "by 2 h" in found.picture


def test_crossing_between_two_readings_is_no_pass():
    """46 °F at 110 minutes and 40 °F at 130: not met, for nothing shows it."""
    found = worked(readings="0; 92\n110; 46\n130; 40", gap="2 h")
    assert found.verdict == "not met"
    assert "Nothing shows" in found.answer


def test_blend_above_fifty_is_not_met():
    """Cold in time, and warm milk added afterwards takes it to 51 °F."""
    found = worked(readings="0; 92\n60; 60\n105; 44\n120; 43\n150; 51\n180; 44")
    assert found.verdict == "not met"
    assert "did not stay cold" in found.answer


@pytest.mark.parametrize("rule", ["raw-cold", "pasteurized-cold", "mix-cold"])
def test_cold_storage_is_judged_by_its_row(rule):
    """45 °F is met at 45.0 and not at 45.1; the clause stands beside it."""
    met = worked(rule=rule, readings="0; 40\n30; 45.0\n60; 43")
    assert (met.verdict, met.margin) == ("met", "warmest reading 0.0 °F below the limit")
    warm = worked(rule=rule, readings="0; 40\n30; 45.1\n60; 43")
    assert (warm.verdict, warm.margin) == ("not met", "warmest reading 0.1 °F above the limit")
    assert warm.answer == "Out of limits for about 2.0 min altogether: 0.0 min at least, 60.0 min at most."
    assert warm.steps[0].source


def test_celsius_is_judged_in_the_unit_of_the_rule():
    """7.2 °C is 44.96 °F and meets it; 7.3 °C is 45.14 °F and does not."""
    assert worked(rule="raw-cold", unit="°C", readings="0; 4\n30; 7.2").verdict == "met"
    assert worked(rule="raw-cold", unit="°C", readings="0; 4\n30; 7.3").verdict == "not met"


def test_a_gap_is_not_proven_and_never_met():
    """Cold before and after, nothing for 31 minutes."""
    found = worked(rule="raw-cold", readings="0; 40\n31; 40")
    assert (found.verdict, found.answer) == (
        "not met",
        "Not proven: readings lie too far apart for 31.0 min, and nothing shows what happened between.",
    )
    assert "not proven" in found.picture


def test_own_rule_with_a_time_allowed():
    """Sixty minutes at most out: met with an hour allowed, not with less."""
    readings = "0; 40\n30; 46\n60; 43"
    met = worked(**OWN, allowed="1 h", readings=readings)
    assert (met.verdict, met.margin) == ("met", "0.0 min left")
    late = worked(**OWN, allowed="59 min", readings=readings)
    assert (late.verdict, late.margin) == ("not met", "1.0 min too much")


def test_own_rule_with_a_time_to_cool():
    """41 °F within 90 minutes, and held."""
    found = worked(rule="own", limit="41 °F", within="90 min", readings="0; 90\n30; 60\n60; 45\n90; 41\n120; 40")
    assert (found.verdict, found.margin) == ("met", "0.0 min left")


def test_a_typed_limit_never_replaces_a_rule_of_law():
    """Limit, time or allowance beside a row of the rule set are refused."""
    for more in ({"limit": "50 °F"}, {"within": "3 h"}, {"allowed": "1 h"}):
        with pytest.raises(CalculationError, match="leave them empty"):
            worked(rule="raw-cold", readings=COLD, **more)


test_wrong_input_gets_a_sentence = refusals(
    "storage",
    [
        ({"rule": "own"}, "needs its limit"),
        ({"rule": "cold"}, "not one of"),
        ({"readings": "0; 40"}, "two moments"),
        ({"readings": "0; 40\n0; 41"}, "must rise"),
        ({"readings": "0; 40\nx; 41"}, "line 2"),
        ({"gap": "-1 min"}, "outside"),
        ({**OWN, "within": "0 min"}, "outside"),
    ],
)
