"""A plan may be stricter than its rule set, never laxer: in limit, direction and frequency."""

from dataclasses import replace

import pytest

from plant.hazard_plan.check import barring, problems
from tests.plant.hazard_plan.test_check import only, quillbrook, with_changed

pytestmark = pytest.mark.once


@pytest.mark.parametrize(
    ("key", "changes"),
    [
        ("press-milk", {"low": "160.9", "operating_low": ""}),  # limit: 161 °F is the row
        ("press-milk", {"low": "71.6", "operating_low": "", "unit": "°C"}),  # 71.6 °C is 160.88 °F
        ("press-milk", {"low": "", "operating_low": "", "high": "165"}),  # direction
        ("hold-milk", {"low": "14.9"}),  # the hold that goes with the temperature
        ("hold-milk", {"low": "", "high": "20"}),
        ("pasteurized-cold", {"high": "45.1"}),
        ("pasteurized-cold", {"high": "", "operating_high": "", "low": "30"}),
        ("weight-gal", {"low": "4.49"}),
    ],
)
def test_laxer_than_a_row_that_was_read_is_refused(key, changes):
    """Where the wording was read, a laxer limit bars approval whatever anyone confirms."""
    found = only(with_changed("limits", key, **changes))
    assert found.refuses and "is laxer than" in found.sentence


@pytest.mark.parametrize(
    ("key", "changes"),
    [
        ("press-milk", {"low": "161"}),
        ("press-milk", {"low": "71.7", "operating_low": "72.5", "unit": "°C"}),  # 161.06 °F meets 161 °F
        ("press-milk", {"low": "175", "operating_low": "177"}),
        ("hold-milk", {"low": "0.25", "unit": "min"}),  # 15 s
        ("pasteurized-cold", {"high": "41"}),
    ],
)
def test_as_strict_or_stricter_is_no_problem(key, changes):
    """The bound itself, and anything stricter, stands; units are compared exactly in the row's own."""
    found = [one for one in with_changed("limits", key, **changes) if "asks in" not in one.sentence]
    assert [one for one in found if one.bars_approval] == []


def test_laxer_than_a_mirror_waits_for_a_confirmation():
    """A row known from a mirror warns and asks the qualified individual to confirm."""
    found = only(with_changed("limits", "raw-cold", high="46"))
    assert not found.refuses
    assert found.confirm == "raw-cold"
    assert "'state mirror', not on its own wording" in found.sentence


def test_a_confirmation_with_a_reason_lifts_the_bar():
    """Once confirmed with a reason the plan may be approved, and the page still says it."""
    plan = quillbrook()
    limits = tuple(replace(one, high="46") if one.key == "raw-cold" else one for one in plan.limits)
    said = {"limit": "raw-cold", "reason": "state letter of 2 March", "by": "odile"}
    confirmed = replace(plan, limits=limits, confirmations=(said,))
    assert barring(confirmed) == []
    assert any("the plan confirms it with a reason" in one.sentence for one in problems(confirmed))


def test_a_confirmation_without_a_reason_is_refused():
    """A confirmation says why."""
    plan = quillbrook()
    found = problems(replace(plan, confirmations=({"limit": "raw-cold", "reason": " ", "by": "odile"},)))
    assert only(found).path == "confirmations[0].reason"


def test_a_confirmation_does_not_lift_a_refusal():
    """A row whose wording was read cannot be confirmed away."""
    plan = quillbrook()
    limits = tuple(replace(one, low="160", operating_low="") if one.key == "press-milk" else one for one in plan.limits)
    said = {"limit": "press-milk", "reason": "we always did", "by": "odile"}
    assert only(problems(replace(plan, limits=limits, confirmations=(said,)))).refuses


def test_a_claimed_basis_that_the_row_does_not_have_is_refused():
    """A plan cannot call a mirror 'text consulted'."""
    assert "stands on 'state mirror'" in only(with_changed("limits", "raw-cold", basis="text consulted")).sentence


def test_an_unknown_row_is_refused():
    """A limit cannot stand on a row that the rule set does not have."""
    assert "no row of the rule set" in only(with_changed("limits", "raw-cold", rule="warm")).sentence


def test_words_where_the_row_has_a_number_are_laxer():
    """'Looked cold' does not meet 45 °F."""
    found = with_changed("limits", "pressure", low="", operating_low="", unit="", wanted=("yes",))
    assert any(one.refuses and "an answer in words" in one.sentence for one in found)


@pytest.mark.parametrize("rule", ["FREQ=MONTHLY;INTERVAL=4;BYMONTHDAY=15", "FREQ=YEARLY;BYMONTH=3;BYMONTHDAY=1"])
def test_tests_rarer_than_the_row_asks_are_refused(rule):
    """Frequency counts: instruments are tested at least every 3 months."""
    plan = quillbrook()
    tests = {"test-thermometers", "test-diversion", "test-pressure"}
    rarer = tuple(
        replace(one, frequency=replace(one.frequency, rule=rule)) if one.key in tests else one
        for one in plan.monitoring
    )
    assert "at least every 3 months" in only(problems(replace(plan, monitoring=rarer))).sentence


def test_through_the_end_of_the_month_due_is_in_time():
    """A test on the first Monday, then on the last day of the third month after it, is still in time."""
    plan = quillbrook()
    moved = tuple(
        replace(one, frequency=replace(one.frequency, rule="FREQ=MONTHLY;INTERVAL=3;BYDAY=-1FR"))
        if one.key.startswith("test-")
        else one
        for one in plan.monitoring
    )
    assert barring(replace(plan, monitoring=moved)) == []


def test_seals_not_looked_at_before_each_run_are_refused():
    """A row that asks for each run is not met once a week."""
    plan = quillbrook()
    seals = plan.monitoring_by_key("press-seals")
    assert seals is not None
    weekly = replace(seals.frequency, kind="calendar", rule="FREQ=WEEKLY;BYDAY=MO", at=("08:00",), start="2026-01-05")
    found = with_changed("monitoring", "press-seals", frequency=weekly)
    assert "no check on it is done at each run" in only(found).sentence


def test_a_tanker_not_screened_waits_for_a_confirmation():
    """The screen of each tanker stands on a mirror, so a rarer screen asks for a confirmation."""
    plan = quillbrook()
    screen = plan.monitoring_by_key("residue-screen")
    assert screen is not None
    found = with_changed("monitoring", "residue-screen", frequency=replace(screen.frequency, event="batch"))
    assert only(found).confirm == "residue"
