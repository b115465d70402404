"""The calculator of a wash against its plan."""

from __future__ import annotations

from functools import partial

import pytest

from tests.plant.calculators import trying
from tests.plant.calculators.trying import cautioned, examples, refusals

pytestmark = pytest.mark.once

worked = partial(trying.worked, "washing")
RECORD = examples("washing")["record"]


def test_example_is_met_with_every_step_shown() -> None:
    """Each quantity with its own result, the velocity, the order and the hot water."""
    found = worked()
    assert found.verdict == "met"
    assert [row[2] for row in found.tables[0].rows] == ["met"] * 10
    assert found.margin == "Least margin in time: 0 min (rinse). Least margin in temperature: 5.5 °F (caustic)."
    results = {one.what: one.result for one in found.steps}
    assert results["Order of the steps"] == "met"
    assert results["Velocity in the line: 1.5 m/s or above is wanted"] == "1.709 m/s"
    assert results["Sanitizing"] == "met"
    assert all(one.source for one in found.steps)


def test_missing_value_is_not_proven_and_never_met() -> None:
    """An empty number of the record."""
    record = RECORD.replace("conductivity; 46", "conductivity; ")
    found = worked(record=record)
    assert found.answer == "Not proven, because the record does not show it: caustic."
    assert found.verdict == "not met"
    assert ("caustic", "conductivity", "not proven", "Nothing recorded.") in found.tables[0].rows


def test_step_out_of_order_is_not_met() -> None:
    """The acid before the caustic."""
    lines = RECORD.splitlines()
    moved = [*lines[6:9], *lines[:6], *lines[9:]]
    found = worked(record="\n".join(moved))
    assert "order of the steps" in found.answer
    assert found.verdict == "not met"


def test_slow_flow_is_not_met_and_says_what_the_line_needs() -> None:
    """40 gal/min in 1.87 in is below 1.5 m/s; 42.1 would do."""
    found = worked(flow="40 gal/min")
    assert found.answer == "Not as the plan wants it: velocity."
    assert any("42.1 gal/min" in one.result for one in found.steps)


def test_a_weak_label_is_to_be_looked_at_again() -> None:
    """Below the rule's 100 mg/L (21 CFR 178.1010, from memory) only the label itself can make it enough."""
    chlorine = {"sanitizer": "chlorine", "strength": "60 mg/L", "contact": "2 min", "fresh": "yes", "wet": "yes"}
    weak = worked(**chlorine, label="50")
    assert weak.verdict == "met" and any("below the rule's 100 mg/L" in one for one in weak.cautions)
    assert not any("below the rule's" in one for one in worked(**chlorine, label="100").cautions)


def test_chlorine_answers_not_recorded_are_not_proven() -> None:
    """Strength and time alone do not do."""
    chlorine = {"sanitizer": "chlorine", "strength": "120 mg/L", "contact": "2 min"}
    assert worked(**chlorine).answer == "Not proven, because the record does not show it: sanitizing."
    assert worked(**chlorine, fresh="yes", wet="yes").verdict == "met"
    assert worked(**chlorine, fresh="yes", wet="yes", label="150").verdict == "not met"
    assert worked(**chlorine, fresh="no", wet="yes").verdict == "not met"


def test_hot_water_measured_elsewhere_is_not_proven() -> None:
    """At the outlet, or it proves nothing."""
    assert worked(at_outlet="no").answer == "Not proven, because the record does not show it: sanitizing."
    assert worked(outlet="169.9 °F").answer == "Not as the plan wants it: sanitizing."


def test_it_says_what_a_met_wash_does_not_prove() -> None:
    """The caution of every working."""
    assert "not proof of a clean surface" in cautioned(worked())


test_wrong_input_gets_a_sentence = refusals(
    "washing",
    [
        ({"plan": ""}, "Nothing was given"),
        ({"plan": "rinse; time; 3; min"}, "4 parts, not 5"),
        ({"plan": "rinse; time; ; ; min"}, "sets no limit"),
        ({"plan": "rinse; time; 5; 3; min"}, "lies above at most"),
        ({"plan": "rinse; speed; 5; ; min"}, "speed is not one of"),
        ({"plan": "rinse; time; 5; ; °F"}, "°F is not one of min, s, h"),
        ({"plan": "rinse; time; five; ; min"}, "Line 1"),
        ({"record": "rinse; time; 5; gal"}, "gal is not one of"),
        ({"bore": ""}, "both the flow and the bore"),
        ({"flow": "3 furlongs"}, "not a unit"),
        ({"sanitizer": "steam"}, "not one of"),
        ({"contact": "-1 min"}, "outside"),
    ],
)
