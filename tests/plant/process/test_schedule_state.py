"""The state of a due check, and the order in which to walk the due ones."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.process.schedule import Due, first_answer, state, walk_sort

pytestmark = pytest.mark.once

NOON = datetime(2026, 6, 8, 12, tzinfo=UTC)
MINUTE = timedelta(minutes=1)
TICK = timedelta(microseconds=1)
ORDER = ["not yet", "due", "late", "missed"]


def make_due(key="check", subject="silo", due_at=NOON, early=10, grace=15, missed=60):
    return Due(
        key,
        subject,
        "",
        due_at,
        due_at - early * MINUTE,
        due_at + grace * MINUTE,
        due_at + missed * MINUTE,
        "day",
    )


@pytest.mark.parametrize(
    ("minutes", "tick", "expected"),
    [
        (-10, -1, "not yet"),
        (-10, 0, "due"),
        (0, 0, "due"),
        (15, 0, "due"),
        (15, 1, "late"),
        (60, -1, "late"),
        (60, 0, "missed"),
        (600, 0, "missed"),
    ],
)
def test_unanswered_check_changes_at_its_moments(minutes, tick, expected):
    """Unanswered: due when the window opens, late after the grace, missed at its moment."""
    assert state(make_due(), None, NOON + minutes * MINUTE + tick * TICK) == expected


@pytest.mark.parametrize(
    ("minutes", "tick", "expected"),
    [
        (-10, 0, "on time"),
        (15, 0, "on time"),
        (15, 1, "answered late"),
        (60, -1, "answered late"),
        (60, 0, "answered after missed"),
    ],
)
def test_answer_is_placed_by_its_observed_time(minutes, tick, expected):
    """What counts is when the reading was observed."""
    assert state(make_due(), NOON + minutes * MINUTE + tick * TICK, NOON + 600 * MINUTE) == expected


def test_reading_before_the_window_answers_nothing():
    """A reading before the window opens leaves the check as it was."""
    assert state(make_due(), NOON - 11 * MINUTE, NOON) == "due"


def test_first_reading_in_the_window_answers():
    """Of several readings the earliest since the window opened is the answer."""
    observed = [NOON + 5 * MINUTE, NOON - 60 * MINUTE, NOON - 10 * MINUTE]
    assert first_answer(make_due(), observed) == NOON - 10 * MINUTE
    assert first_answer(make_due(), observed[1:2]) is None


def test_gate_answered_at_the_use_is_on_time():
    """Without grace the due moment itself is the last in time."""
    gate = make_due(early=60, grace=0, missed=0)
    assert state(gate, NOON, NOON + MINUTE) == "on time"
    assert state(gate, None, NOON) == "missed"
    assert state(gate, NOON + TICK, NOON + MINUTE) == "answered after missed"


@settings(deadline=None)
@given(st.tuples(*[st.integers(0, 300)] * 3), st.lists(st.integers(-400, 400), min_size=2, max_size=20))
def test_state_never_goes_back(lengths, minutes):
    """Unanswered, a check only ever moves on: not yet, due, late, missed."""
    early, grace, more = lengths
    due = make_due(early=early, grace=grace, missed=grace + more)
    places = [ORDER.index(state(due, None, NOON + one * MINUTE)) for one in sorted(minutes)]
    assert places == sorted(places)


def test_walk_follows_the_floor():
    """Without anything urgent the walking order decides, unknown subjects last."""
    dues = [make_due(subject=name) for name in ("vat", "elsewhere", "silo")]
    assert [one.subject for one in walk_sort(dues, ["silo", "vat"], (), NOON)] == ["silo", "vat", "elsewhere"]


def test_critical_check_near_its_end_comes_first():
    """A critical check with ten minutes of grace left comes first, with eleven it waits for its place."""
    dues = [make_due(subject="silo"), make_due("ccp", "vat")]
    assert walk_sort(dues, ["silo", "vat"], {"ccp"}, NOON + 5 * MINUTE)[0].key == "ccp"
    assert walk_sort(dues, ["silo", "vat"], {"ccp"}, NOON + 4 * MINUTE)[0].key == "check"


def test_most_pressing_critical_check_is_first_of_all():
    """Of two urgent critical checks the one whose grace ends first leads, whatever the walking order."""
    dues = [make_due("ccp", "silo", NOON), make_due("ccp", "vat", NOON - 5 * MINUTE)]
    assert [one.subject for one in walk_sort(dues, ["silo", "vat"], {"ccp"}, NOON + 10 * MINUTE)] == [
        "vat",
        "silo",
    ]
