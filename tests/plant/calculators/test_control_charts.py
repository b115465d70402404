"""The calculator of control charts."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from functools import partial

import pytest

from tests.plant.calculators import trying
from tests.plant.calculators.trying import cautioned, refusals, result

pytestmark = pytest.mark.once

worked = partial(trying.worked, "control_charts")
SAMPLES = "\n".join(("3.5 3.6 3.4", "3.5 3.5 3.7", "3.4 3.5 3.6", "3.6 3.4 3.5", "4.4 4.5 4.4"))


def test_example_signals_the_drift_after_the_baseline() -> None:
    """Twelve steady tests of fat, then a rise; no verdict, since no limit is judged."""
    found = worked()
    assert found.answer.startswith("4 of 20 points signal, the first is point 17: 2 of 3 points beyond 2 sigma")
    assert found.verdict == ""
    assert result(found, "Mean") == "3.5017"
    assert found.tables[0].rows[0] == ("17", "3.56", "2 of 3 points beyond 2 sigma, on one side", "15, 17")
    assert ET.fromstring(found.picture)[0].text == "Control chart"


def test_individuals_of_the_handbook() -> None:
    """NIST/SEMATECH 6.3.2.2 (from memory): 45.82 and 55.80."""
    found = worked(values="49.6\n47.6\n49.9\n51.3\n47.8\n51.2\n52.6\n52.4\n53.6\n52.1", baseline="")
    assert result(found, "Control limits") == "45.818; 55.802"
    assert found.answer == "No signal in 10 points."


def test_samples_have_their_spread_watched_as_well() -> None:
    """One sample with a wide range signals."""
    wide = SAMPLES.replace("4.4 4.5 4.4", "3.0 4.0 3.5")
    for kind in ("xbar-r", "xbar-s"):
        found = worked(kind=kind, values=wide, baseline="4")
        assert found.answer == "1 of 5 points signal, the first is point 5: spread beyond its limits."


def test_moving_average_and_sum_find_the_drift_too() -> None:
    """Each says where: the sum also since when."""
    assert "point 17: average beyond its limits" in worked(kind="ewma").answer
    found = worked(kind="cusum")
    assert "point 17: shift upward" in found.answer
    assert found.tables[0].rows[0][3] == "since point 12"


def test_given_target_and_sigma_are_used() -> None:
    """NIST/SEMATECH 6.3.2.4 (from memory): limits 47.412 and 52.588."""
    typed = {"kind": "ewma", "values": "52.0\n47.0", "target": "50", "sigma": "2.0539", "weight": "0.3", "baseline": ""}
    assert result(worked(**typed), "Limits that they settle at") == "47.412; 52.588"


def test_chosen_set_of_rules_is_the_only_one() -> None:
    """Nelson's trend is no rule of Western Electric."""
    trend = {
        "values": "\n".join(("5", "5.2", "4.8", "5.1", "4.9", "4.7", "4.8", "4.9", "5", "5.1", "5.2")),
        "baseline": "",
    }
    assert "steadily rising" in worked(**trend, rules="nelson").answer
    assert worked(**trend).answer == "No signal in 11 points."


def test_it_says_that_control_limits_are_no_critical_limits() -> None:
    """The caution of every working."""
    assert "no critical limits" in cautioned(worked())


test_wrong_input_gets_a_sentence = refusals(
    "control_charts",
    [
        ({"values": "1"}, "at least two lines"),
        ({"values": "1 2\n3"}, "as many values"),
        ({"values": "1\nx"}, "value"),
        ({"values": "2\n2\n2", "baseline": ""}, "do not scatter"),
        ({"values": SAMPLES, "baseline": ""}, "one value a line"),
        ({"values": SAMPLES, "baseline": "", "kind": "ewma"}, "one value a line"),
        ({"kind": "xbar-r"}, "sample size"),
        ({"baseline": "21"}, "from 2 to the 20"),
        ({"baseline": "2.5"}, "whole number"),
        ({"kind": "cusum", "target": "3.5", "sigma": "0"}, "standard deviation|allowance|decision"),
        ({"weight": "2"}, "outside"),
        ({"rules": "all"}, "not one of"),
    ],
)
