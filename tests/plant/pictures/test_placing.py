"""Keeping labels and marks apart."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plant.pictures.placing import Box, Taken, spread


def test_a_label_takes_the_first_free_place() -> None:
    """The second of two labels that want the same place gets the next candidate."""
    taken = Taken(Box(0, 0, 100, 20))
    places = [Box(0, 0, 30, 10), Box(40, 0, 70, 10)]
    assert [taken.first_free(places) for _ in range(3)] == [places[0], places[1], None]


def test_nothing_is_placed_outside_the_frame() -> None:
    """A label that would leave its lane is not placed."""
    assert Taken(Box(0, 0, 100, 20)).first_free([Box(90, 0, 110, 10)]) is None


def test_touching_edges_do_not_meet() -> None:
    """Two labels may stand side by side."""
    assert not Box(0, 0, 10, 10).meets(Box(10, 0, 20, 10))


def test_marks_apart_stay_where_they_are() -> None:
    """What does not collide does not move."""
    assert spread([10, 40, 90], 15, 0, 100) == [10, 40, 90]


def test_two_marks_at_one_moment_move_the_same_way_apart() -> None:
    """Two at 50 that need 16 stand at 42 and 58."""
    assert spread([50, 50], 16, 0, 100) == [42, 58]


@given(st.lists(st.floats(0, 300), max_size=30), st.floats(1, 30))
def test_marks_never_overlap_when_there_is_room(wanted: list[float], apart: float) -> None:
    """Within the width they are kept apart, in order; where they cannot all fit they stand evenly."""
    places = spread(sorted(wanted), apart, 0, 300)
    gap = min(apart, 300 / max(1, len(wanted) - 1))
    assert len(places) == len(wanted)
    assert all(-1e-6 <= place <= 300 + 1e-6 for place in places)
    assert all(b - a >= gap - 1e-6 for a, b in zip(places, places[1:], strict=False))


def test_no_marks_need_no_places() -> None:
    """An empty row is empty."""
    assert spread([], 10, 0, 100) == []


def test_places_are_pytest_approximately_even_when_crowded() -> None:
    """Eleven that need 20 each in 100 stand every 10."""
    assert spread([0.0] * 11, 20, 0, 100) == pytest.approx([i * 10 for i in range(11)])
