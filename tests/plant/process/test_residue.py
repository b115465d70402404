"""What residue screens come to, against a plain reading of the rule, for every short story of tests."""

from __future__ import annotations

import itertools

import pytest

from plant.process.residue import (
    CONFIRM,
    FOUND,
    INITIAL,
    NOT_FOUND,
    NOT_VALID,
    POSITIVE,
    REPEAT,
    Residue,
    Screen,
    residue_of,
)

pytestmark = pytest.mark.once

STEPS = [
    Screen(INITIAL, NOT_FOUND, True, "tomas", "T-1"),
    Screen(INITIAL, FOUND, True, "tomas", "T-1"),
    Screen(INITIAL, FOUND, False, "tomas", "T-1"),
    Screen(REPEAT, NOT_FOUND, True, "tomas", "T-1"),
    Screen(REPEAT, NOT_FOUND, True, "ines", "T-1"),
    Screen(REPEAT, FOUND, True, "tomas", "T-1"),
    Screen(CONFIRM, FOUND, True, "odile", "T-1", certified=True),
]


def test_a_negative_needs_right_controls_a_kit_in_date_and_a_result() -> None:
    assert residue_of([]) is Residue.PENDING
    for bad in (
        Screen(INITIAL, NOT_FOUND, False, "tomas"),
        Screen(INITIAL, NOT_VALID, True, "tomas"),
        Screen(INITIAL, NOT_FOUND, True, "tomas", kit_in_date=False),
        Screen(REPEAT, NOT_FOUND, True, "tomas"),
    ):
        assert residue_of([bad]) is Residue.PENDING
    assert residue_of([Screen(INITIAL, NOT_FOUND, True, "tomas")]) is Residue.NOT_FOUND


@pytest.mark.parametrize("length", range(5))
def test_no_story_with_a_positive_is_free_without_the_two_repeats(length: int) -> None:
    """Every story of up to four tests: 'not found' after a positive only by two of the same analyst and sample."""
    for story in itertools.product(STEPS, repeat=length):
        said = residue_of(story)
        counting = [one for one in story if one.counts]
        positives = [one for one in counting if one.result == FOUND]
        if not positives:
            assert said not in POSITIVE
            continue
        if any(one.stage != INITIAL for one in positives):
            assert said in POSITIVE
            continue
        last = max(at for at, one in enumerate(counting) if one.result == FOUND)
        repeats = [one for one in counting[last:] if one.stage == REPEAT and one.analyst == counting[last].analyst]
        assert (said is Residue.NOT_FOUND) == (len(repeats) >= 2)


def test_a_later_test_never_takes_a_presumptive_positive_back() -> None:
    for story in itertools.product(STEPS, repeat=3):
        if residue_of(story) in (Residue.PRESUMPTIVE, Residue.CONFIRMED):
            for after in STEPS:
                assert residue_of([*story, after]) in POSITIVE
