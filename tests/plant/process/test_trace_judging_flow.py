"""Segments of flow from the signals of the diversion device and the timing pump."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.process.errors import CalculationError
from plant.process.trace_judging import FlowState, flow_segments
from tests.trace_makers import other, signal

pytestmark = pytest.mark.once
few = settings(max_examples=50, deadline=None)
NAN = float("nan")


def told(forward, running=None, end=None):
    """Segments as (state, from, to) in seconds."""
    last = int(forward.samples.times_ms[-1]) if end is None else end * 1000
    return [
        (one.state.value, one.start_ms / 1000, one.end_ms / 1000) for one in flow_segments(forward, running, 0, last)
    ]


def test_a_state_holds_to_the_next_sample():
    """Forward from the first sample that says it until the first that says otherwise."""
    assert told(signal([0, 1, 1, 0, 0])) == [("diverted", 0, 1), ("forward flow", 1, 3), ("diverted", 3, 4)]


def test_a_standing_pump_hides_no_forward_flow():
    """It is stopped where the valve diverts; and a pump that nobody knows of is taken to turn."""
    assert told(signal([1, 1, 1, 0, 0]), signal([1, 0, 0, 0, 1])) == [
        ("forward flow", 0, 3), ("stopped", 3, 4), ("diverted", 4, 4),
    ]  # fmt: skip
    assert told(signal([1, NAN, NAN, 0]), signal([0, 0, 0, 0]))[1:] == [("not known", 0, 3), ("stopped", 3, 3)]
    assert told(signal([1, 1, 0]), signal([NAN, NAN, 1])) == [("forward flow", 0, 2), ("diverted", 2, 2)]


@pytest.mark.parametrize(("late", "known"), [(3000, True), (3001, False)])
def test_a_sample_later_than_the_plan_allows_leaves_the_time_before_it_unknown(late, known):
    """The slowest step itself is allowed, a millisecond more is not."""
    valve = signal([1, 1, 1], at=[0, late, late + 1000], slowest_ms=3000)
    found = flow_segments(valve, None, 0, late + 1000)
    unknown = [one for one in found if one.state is FlowState.UNKNOWN]
    assert [one.end_ms - one.start_ms for one in unknown] == ([] if known else [late])


def test_a_failed_sample_leaves_both_sides_unknown():
    """Even within the slowest step."""
    assert told(signal([1, NAN, 1, 1], slowest_ms=5000)) == [
        ("forward flow", 0, 0), ("not known", 0, 2), ("forward flow", 2, 3),
    ]  # fmt: skip


def test_before_and_after_the_samples_nothing_is_known():
    """A trace that starts late or ends early is not diverted meanwhile."""
    assert told(signal([1, 1], at=[2000, 3000]), end=5) == [
        ("not known", 0, 2), ("forward flow", 2, 3), ("not known", 3, 5),
    ]  # fmt: skip


def test_without_a_signal_all_is_unknown():
    """A pump that is said to stand may be one whose signal is stuck."""
    assert [one.state for one in flow_segments(None, None, 0, 9)] == [FlowState.UNKNOWN]
    assert [one.state for one in flow_segments(None, signal([0, 0, 1]), 0, 2000)] == [FlowState.UNKNOWN]


@pytest.mark.parametrize(
    ("first", "second", "state"), [(0, 1, "forward flow"), (1, 0, "forward flow"), (0, 0, "diverted")]
)
def test_of_contradicting_samples_the_one_that_says_forward_counts(first, second, state):
    """Product may have flowed."""
    valve = signal([0, first, 0], contradicting=other([1000], [second], 0))
    assert (state, 1, 2) in told(valve) or state == "diverted"
    assert ("forward flow" in {one[0] for one in told(valve)}) == (state == "forward flow")


def test_one_record_that_failed_beside_one_that_says_diverted_proves_nothing():
    """And beside one that says forward it is forward."""
    lost = other([1000], [0], 0)
    lost = type(lost)(lost.times_ms, lost.values, np.array([True]), 0)
    assert told(signal([0, 0, 0], contradicting=lost))[1][0] == "not known"
    assert told(signal([0, 1, 0], contradicting=lost))[1] == ("forward flow", 1, 2)


@pytest.mark.parametrize("values", [[0, 2], [-1, 1]])
def test_a_signal_is_yes_or_no(values):
    """Anything else is refused."""
    with pytest.raises(CalculationError, match="0 or 1"):
        flow_segments(signal(values), None, 0, 1000)


def test_a_trace_that_ends_before_it_starts_is_refused():
    """So are moments that do not rise."""
    with pytest.raises(CalculationError, match="before it starts"):
        flow_segments(None, None, 1, 0)
    with pytest.raises(CalculationError, match="rise"):
        signal([1, 1], at=[5, 5])


@few
@given(st.lists(st.tuples(st.integers(1, 6), st.sampled_from([0, 1, NAN])), max_size=30), st.integers(0, 90))
def test_segments_touch_cover_and_differ(steps, end):
    """Whatever the samples are."""
    at = np.cumsum([0, *(step for step, _state in steps)])[:-1].tolist()
    valve = signal([state for _step, state in steps], at=at or [], slowest_ms=3) if steps else None
    found = flow_segments(valve, None, 0, end)
    assert (found[0].start_ms, found[-1].end_ms) == (0, end)
    for one, after in zip(found, found[1:], strict=False):
        assert (one.end_ms, one.state == after.state) == (after.start_ms, False)
