"""The calculator of a pasteurizer's set-ups."""

from __future__ import annotations

from functools import partial

import pytest

from tests.plant.calculators import trying
from tests.plant.calculators.trying import refusals

pytestmark = pytest.mark.once

worked = partial(trying.worked, "pasteurizer_setups")
MIX = "Mix; 175 °F; 25 s; 2025-12-02; yes; mix; running; 28 L; 3000 L/h"


def test_the_example_finds_the_set_up_for_mix():
    """The other two say why not."""
    found = worked()
    assert found.verdict == "met" and "covered by Mix" in found.answer
    assert found.margin == "Mix: 0.5 °F and 2.1 s over"
    assert [row[:2] for row in found.tables[0].rows] == [
        ("Mix", "covers it"), ("Milk", "does not cover it"), ("Cream and flavored", "does not cover it"),
    ]  # fmt: skip
    assert all(one.what and one.how and one.result and one.source for one in found.steps)


@pytest.mark.parametrize(
    ("product", "names"),
    [("milk", "Milk, Cream and flavored"), ("sweetened milk", "Cream and flavored"), ("eggnog", "")],
)
def test_each_product_has_its_set_ups(product, names):
    """Milk may run hotter; eggnog was accepted for none."""
    found = worked(product=product)
    assert (f"covered by {names}." in found.answer) is bool(names)
    assert found.verdict == ("met" if names else "not met")


@pytest.mark.parametrize(
    ("row", "why"),
    [
        (MIX.replace("175", "174.9"), "0.1 °F missing"),
        (MIX.replace("25 s", "24.9 s"), "0.1 s missing"),
        (MIX.replace("2025-12-02", "2025-09-02"), "counted until 2026-03-02"),
        (MIX.replace("yes", "no"), "seals"),
        (MIX.replace("28 L", "20 L"), "no shorter than the mean time"),
    ],
)
def test_a_set_up_with_a_fault_does_not_cover(row, why):
    """The answer says that the product does not run; the table says why."""
    found = worked(setups=row)
    assert found.verdict == "not met" and "does not run" in found.answer
    assert why in found.tables[0].rows[0][2]


def test_the_homogenizer_is_compared_and_its_state_has_to_be_said():
    """Left open, only a set-up that was tested without one covers."""
    assert worked(setups=MIX, homogenizer="bypassed").verdict == "not met"
    assert worked(setups=MIX, homogenizer="running").verdict == "met"
    assert worked(setups=MIX, homogenizer="").verdict == "not met"
    assert worked(setups=MIX.replace("running", "none"), homogenizer="").verdict == "met"


def test_tube_and_rate_may_be_left_out():
    """Then there is no mean time to doubt the test by."""
    found = worked(setups="Mix; 175 °F; 25 s; 2025-12-02; yes; mix; none; ;", homogenizer="none")
    assert found.verdict == "met" and not any("mean time" in one.what for one in found.steps)


test_wrong_input_gets_a_sentence = refusals(
    "pasteurizer_setups",
    [
        ({"on": "today"}, "no day"),
        ({"on": "2026-02-30"}, "no day"),
        ({"setups": "Mix"}, "1 parts, not 9"),
        ({"setups": ""}, "Nothing was given"),
        ({"setups": MIX.replace("Mix;", ";")}, "Line 1: the set-up needs a name"),
        ({"setups": MIX.replace("175 °F", "175")}, "Write the unit too"),
        ({"setups": MIX.replace("25 s", "25 L")}, "L is not a unit for this: use s"),
        ({"setups": MIX.replace("yes", "perhaps")}, "perhaps is not one of: yes, no"),
        ({"setups": MIX.replace("; mix;", "; cheese;")}, "cheese is not one of"),
        ({"setups": MIX.replace("running", "asleep")}, "asleep is not one of"),
        ({"setups": MIX.replace("2025-12-02", "2 Dec")}, "2 Dec is no day"),
        ({"setups": MIX.replace("2025-12-02", "9999-12-02")}, "year 10000 is outside"),
        ({"setups": MIX.replace("3000 L/h", "0 L/h")}, "outside"),
        ({"homogenizer": "asleep"}, "not one of"),
        ({"product": "cheese"}, "not one of"),
        ({"product": "milk product"}, "Give the fat"),
    ],
)
