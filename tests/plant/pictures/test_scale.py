"""Round numbers along a scale."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plant.pictures.scale import plain, round_steps


def test_steps_are_round() -> None:
    """35 to 50 in at most six steps goes by fives; 36 to 46 by twos."""
    assert round_steps(35, 50, 6) == [35, 40, 45, 50]
    assert round_steps(36, 46, 6) == [36, 38, 40, 42, 44, 46]


@given(st.floats(-1e4, 1e4), st.floats(0.01, 1e4), st.integers(3, 12))
def test_steps_lie_on_the_scale_and_are_few(low: float, length: float, most: int) -> None:
    """Whatever the scale, the steps are on it, ascend, and are not more than asked for."""
    steps = round_steps(low, low + length, most)
    slack = length * 1e-6
    assert len(steps) <= most
    assert all(low - slack <= step <= low + length + slack for step in steps)
    assert steps == sorted(set(steps))


@pytest.mark.parametrize(("low", "high"), [(1, 1), (2, 1), (float("nan"), 1), (0, float("inf"))])
def test_a_scale_without_length_is_refused(low: float, high: float) -> None:
    """No steps on no scale."""
    with pytest.raises(ValueError, match="no length"):
        round_steps(low, high, 5)


def test_numbers_are_plain() -> None:
    """No trailing zeros, a true minus sign, no minus zero."""
    assert [plain(v) for v in (45.0, 37.40, -11.6, -0.0)] == ["45", "37.4", "−11.6", "0"]
