"""A pasteurizer's set-ups and what they cover."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.process import pasteurization as past
from plant.process.errors import CalculationError, OutsideRange
from plant.process.pasteurization import Homogenizer, Method, ProductClass, Row, SetUp

pytestmark = pytest.mark.once

MILK, MIX = ProductClass.MILK, ProductClass.MIX
ROWS = (
    Row("161", (MILK,), Method.HTST, Decimal(161), "°F", Decimal(15), "a clause", "text consulted"),
    Row("191", (MILK,), Method.HHST, Decimal(191), "°F", Decimal(1), "a clause", "text consulted"),
    Row("175", (MIX,), Method.HTST, Decimal(175), "°F", Decimal(25), "a clause", "text consulted"),
    Row("vat", (MILK,), Method.VAT, Decimal(145), "°F", Decimal(1800), "a clause", "text consulted"),
)
TODAY = date(2026, 3, 3)


def set_up(**changes: Any) -> SetUp:
    """A set-up for milk, just at every bound, changed."""
    good: dict[str, Any] = {
        "name": "Milk", "set_point": 161, "unit": "°F", "hold_s": 15, "tested_on": date(2025, 9, 3),
        "seals_unbroken": True, "classes": (MILK,), "homogenizer": Homogenizer.RUNNING, "volume_l": 25.0,
        "top_rate_l_per_h": 5000.0,
    }  # fmt: skip
    return SetUp(**{**good, **changes})


RUNNING = Homogenizer.RUNNING


def one(product_class: ProductClass = MILK, wanted: Homogenizer | None = RUNNING, **changes: Any) -> past.Coverage:
    """The coverage by one set-up today, with the homogenizer as it was tested."""
    return past.covering([set_up(**changes)], product_class, ROWS, TODAY, homogenizer=wanted)[0]


def test_at_every_bound_a_set_up_covers():
    """The last day of the test still counts."""
    found = one()
    assert found.covers and found.valid_until == TODAY and found.verdict.row.key == "161"


@pytest.mark.parametrize(
    ("changes", "fault"),
    [
        ({"set_point": Decimal("160.9")}, "0.1 °F missing"),
        ({"hold_s": Decimal("14.9")}, "0.1 s missing"),
        ({"tested_on": date(2025, 9, 2)}, "counted until 2026-03-02"),
        ({"tested_on": date(2026, 3, 4)}, "in the future"),
        ({"seals_unbroken": False}, "seals"),
        ({"classes": (MIX,)}, "not accepted for the class milk"),
        ({"classes": ()}, "not accepted for the class milk"),
        ({"seals_unbroken": "no"}, "seals"),
        ({"volume_l": 20.0}, "no shorter than the mean time"),
        ({"hold_s": 18}, "no shorter than the mean time"),
    ],
)
def test_each_fault_alone_is_enough(changes, fault):
    """And is said."""
    found = one(**changes)
    assert not found.covers and len(found.faults) == 1 and fault in found.faults[0]


def test_a_set_up_is_what_was_tested_the_homogenizer_with_it():
    """Another state is a fault, and so is one that nobody said, where the set-up has one."""
    assert one(wanted=Homogenizer.RUNNING).covers
    assert "homogenizer running, not bypassed" in one(wanted=Homogenizer.BYPASSED).faults[0]
    assert "homogenizer running; what it does now is not said" in one(wanted=None).faults[0]
    assert not one(wanted=None, homogenizer=Homogenizer.BYPASSED).covers
    assert one(wanted=None, homogenizer=Homogenizer.NONE).covers
    assert not one(wanted=Homogenizer.RUNNING, homogenizer=Homogenizer.NONE).covers


def test_a_hold_longer_than_any_guide_gives_is_doubted():
    """18 s on the mean: at 15.5 s nothing is said, above 86.4 % of that a caution, from 18 s on it is a fault."""
    assert one(hold_s=Decimal("15.5")).cautions == ()
    doubted = one(hold_s=Decimal("15.6"))
    assert doubted.covers and "more than 86 % of the mean time" in doubted.cautions[0]
    assert one(hold_s=Decimal("17.9")).covers and not one(hold_s=Decimal("18.0")).covers


def test_a_set_up_by_a_states_table_says_what_the_general_row_lacks():
    """180 °F for 15 s covers mix where the state's table says so; the row that holds everywhere asks for 25 s."""
    state = Row("180", (MIX,), Method.HTST, Decimal(180), "°F", Decimal(15), "state clause", "read", area="Here")
    found = past.covering(
        [set_up(set_point=180, classes=(MIX,))], MIX, (*ROWS, state), TODAY, homogenizer=RUNNING, area="Here"
    )[0]
    assert found.covers
    assert any("175 °F for 25 s (a clause) is not met by these numbers: 10 s missing" in one for one in found.cautions)


def test_every_fault_is_said():
    """Not the first alone."""
    assert len(one(MIX, seals_unbroken=False, tested_on=date(2025, 1, 1)).faults) == 4


def test_the_set_ups_that_cover_come_first_in_their_order():
    """So that the first is the one to run on."""
    given = [set_up(name="a", set_point=150), set_up(name="b"), set_up(name="c", hold_s=1), set_up(name="d")]
    found = past.covering(given, MILK, ROWS, TODAY, homogenizer=RUNNING)
    assert [coverage.set_up.name for coverage in found] == ["b", "d", "a", "c"]


def test_a_tube_is_judged_by_rows_of_continuous_flow_alone():
    """Two minutes at 145 °F in a tube are no vat, and a hold of a second may be HHST."""
    assert one(set_point=191, hold_s=1).covers
    assert not one(set_point=191, hold_s=1, method=Method.HTST).covers
    assert not one(set_point=146, hold_s=3600, volume_l=None).covers
    assert one(set_point=165, hold_s=90, volume_l=None).covers


def test_a_vat_is_no_set_up():
    """It has no set point and no tube."""
    with pytest.raises(CalculationError, match="a vat"):
        one(method=Method.VAT)


def test_viscous_products_carry_their_caution_even_when_covered():
    """A test with water can overstate their hold."""
    found = one(MIX, set_point=175, hold_s=25, classes=(MIX,), volume_l=60.0)
    assert found.covers and "viscous" in found.cautions[0]
    assert one().cautions == ()


def test_months_between_tests_can_be_a_states():
    """Grade B systems every 12 months."""
    old = set_up(tested_on=date(2025, 3, 3))
    assert past.covering([old], MILK, ROWS, TODAY, months=12, homogenizer=RUNNING)[0].covers
    assert not past.covering([old], MILK, ROWS, TODAY, homogenizer=RUNNING)[0].covers


@pytest.mark.parametrize(
    ("tested", "months", "due"),
    [
        (date(2025, 8, 31), 6, date(2026, 2, 28)),
        (date(2023, 8, 31), 6, date(2024, 2, 29)),
        (date(2025, 12, 15), 1, date(2026, 1, 15)),
        (date(2025, 6, 30), 6, date(2025, 12, 30)),
    ],
)
def test_a_test_counts_to_the_same_day_or_the_months_last(tested, months, due):
    """Months are of different length."""
    assert past.last_valid_day(tested, months) == due


@pytest.mark.parametrize(("tested", "months"), [(date(2025, 1, 1), 0), (date(2025, 1, 1), 61), (date(9999, 12, 1), 6)])
def test_months_and_years_beyond_the_calendar_are_refused(tested, months):
    """No day, no verdict."""
    with pytest.raises(OutsideRange):
        past.last_valid_day(tested, months)


def test_the_mean_time_comes_from_volume_or_from_length_and_bore():
    """None where neither is known, or the rate is not."""
    by_bore = set_up(volume_l=None, length_m=10.0, bore_m=0.05)
    assert past.mean_hold_s(by_bore) == pytest.approx(14.137, abs=1e-3)
    assert past.mean_hold_s(set_up(volume_l=None, length_m=10.0)) is None
    assert past.mean_hold_s(set_up(top_rate_l_per_h=None)) is None


@pytest.mark.parametrize(
    "changes",
    [
        {"volume_l": 0.0},
        {"top_rate_l_per_h": 0.0},
        {"volume_l": None, "length_m": 0.0, "bore_m": 0.05},
        {"volume_l": None, "length_m": 10.0, "bore_m": 1.0},
        {"set_point": 500},
        {"hold_s": -1},
    ],
)
def test_values_beyond_the_range_are_refused(changes):
    """A tube or a rate that no plant has."""
    with pytest.raises(OutsideRange):
        one(**changes)


@given(days=st.integers(0, 400), more=st.integers(0, 400))
@settings(max_examples=50)
def test_time_only_takes_coverage_away(days, more):
    """A set-up that no longer covers does not cover later."""
    first = date(2025, 9, 3) + timedelta(days=days)
    then = first + timedelta(days=more)
    now, later = (past.covering([set_up()], MILK, ROWS, day, homogenizer=RUNNING)[0].covers for day in (first, then))
    assert now or not later
