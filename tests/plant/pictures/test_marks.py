"""The marks of a verdict and the squares of the walk."""

import xml.etree.ElementTree as ET

import pytest

from plant.pictures.marks import OUTCOMES, STOPS, mark_svg, stop_svg
from plant.pictures.svg import SCREEN
from plant.process.limits import Outcome


@pytest.mark.parametrize("outcome", list(Outcome))
def test_every_outcome_has_a_mark(outcome: Outcome) -> None:
    """Each verdict that the rules can reach has a mark, as well-formed SVG."""
    assert ET.fromstring(mark_svg(outcome, 20, "word")).tag.endswith("svg")


def test_marks_differ_in_shape_without_color() -> None:
    """With every color made black, no two marks are alike."""
    black = {mark_svg(o, 20, ident="m").replace(SCREEN.accent, "#000").replace(SCREEN.ink, "#000") for o in OUTCOMES}
    assert len(black) == len(OUTCOMES)


def test_only_out_of_limits_has_the_accent() -> None:
    """The accent belongs to what is out of limits."""
    assert [o for o in OUTCOMES if SCREEN.accent in mark_svg(o, 20)] == [Outcome.NOT_MET]


@pytest.mark.parametrize("outcome", ["", "fine", "MET", "met "])
def test_an_unknown_outcome_is_refused(outcome: str) -> None:
    """Nothing unknown may look like a pass."""
    with pytest.raises(ValueError, match="no mark"):
        mark_svg(outcome)


def test_the_gravest_outcome_is_out_of_limits() -> None:
    """Where several readings share a mark, out of limits wins over not proven, and both over a pass."""
    assert OUTCOMES[-2:] == (Outcome.NOT_PROVEN, Outcome.NOT_MET)


def test_a_mark_beside_its_word_is_hidden_from_screen_readers() -> None:
    """The word is read once, not twice."""
    svg = mark_svg(Outcome.MET)
    assert 'aria-hidden="true"' in svg
    assert 'role="img"' not in svg


def test_a_mark_alone_says_its_word() -> None:
    """A mark without a word beside it carries one."""
    svg = mark_svg(Outcome.NOT_PROVEN, 16, "not proven")
    assert 'role="img"' in svg
    assert ">not proven</title>" in svg


def test_the_squares_of_the_walk_differ_in_shape_without_color() -> None:
    """Due, done, late and missed are told apart in black."""
    black = {stop_svg(s, ident="s").replace(SCREEN.accent, "#000").replace(SCREEN.ink, "#000") for s in STOPS}
    assert len(black) == len(STOPS)


def test_an_unknown_state_has_no_square() -> None:
    """A state that the walk does not know is refused."""
    with pytest.raises(ValueError, match="no square"):
        stop_svg("perhaps")
