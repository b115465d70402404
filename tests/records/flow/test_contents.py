"""What is in which vessel: the six words, quantities, ages and clocks, at any moment."""

from __future__ import annotations

import uuid
from datetime import timedelta
from decimal import Decimal

import pytest

from records.flow.actions import amend_wash, begin_wash, record_wash, set_service
from records.flow.queries import clocks_at, contents_at, held_or_running, lot_in, lots_touched
from tests.conftest import INSTALLED, NOW, Plant
from tests.records.flow.made import HOUR, made_ready, moved, ran, seen, wash, washed


def condition(vessel: str = "silo-a") -> str:
    """The word for a vessel now."""
    return contents_at(NOW)[vessel].condition


# --- the six words


def test_a_vessel_without_a_record_is_empty_and_dirty(plant: Plant) -> None:
    """Nothing recorded proves nothing."""
    assert {one.condition for one in contents_at(NOW).values()} == {"empty and dirty"}


def test_a_vessel_goes_through_all_its_words(plant: Plant) -> None:
    """Filled, emptied, being washed, clean, sanitized, out of service."""
    ines = plant.actor("ines")
    moved(ines, started_at=NOW - 3 * HOUR)
    assert condition() == "holds product"
    seen(ines, "silo-a", "0", NOW - 2 * HOUR)
    assert condition() == "empty and dirty"
    begin_wash(ines, "silo-a", uuid.uuid4())
    assert condition() == "being washed"
    record_wash(ines, wash("silo-a", NOW, started_at=NOW - HOUR))
    assert condition() == "empty and clean"
    record_wash(ines, wash("silo-a", NOW, "sanitized", started_at=NOW))
    assert condition() == "sanitized"
    set_service(ines, "silo-a", True, "seal")
    assert condition() == "out of service"


def test_a_vessel_was_being_washed_while_its_wash_went_on(plant: Plant) -> None:
    """Asked for a moment within the wash's own times."""
    record_wash(plant.actor("ines"), wash("silo-a", NOW - HOUR, started_at=NOW - 2 * HOUR))
    assert contents_at(NOW - 1.5 * HOUR)["silo-a"].condition == "being washed"
    assert contents_at(NOW)["silo-a"].condition == "empty and clean"


def test_sanitized_without_a_wash_is_not_sanitized(plant: Plant) -> None:
    """Sanitizing a dirty vessel leaves it dirty."""
    record_wash(plant.actor("ines"), wash("silo-a", NOW - HOUR, "sanitized"))
    assert condition() == "empty and dirty"


def test_a_line_is_dirty_after_its_run_and_ready_after_its_wash(plant: Plant) -> None:
    """Lines are told in the same words."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 5 * HOUR)
    assert condition("press-1") == "sanitized"
    moved(ines, started_at=NOW - 4 * HOUR)
    ran(ines, started_at=NOW - 3 * HOUR, ended_at=NOW - 2 * HOUR)
    assert contents_at(NOW - 2.5 * HOUR)["press-1"].condition == "holds product"
    assert condition("press-1") == "empty and dirty"
    record_wash(ines, wash("press-1", NOW - HOUR))
    assert condition("press-1") == "empty and clean"


# --- quantities


def test_a_tank_filled_while_drawn_keeps_both(plant: Plant) -> None:
    """500 in over an hour, 300 out over the same hour: at half past it holds 100."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 5 * HOUR)
    moved(ines, started_at=NOW - 2 * HOUR, ended_at=NOW - HOUR)
    ran(ines, started_at=NOW - 2 * HOUR, ended_at=NOW - HOUR)
    assert contents_at(NOW - 1.5 * HOUR)["silo-a"].quantity == Decimal(100)
    assert contents_at(NOW)["silo-a"].quantity == Decimal(200)


def test_the_past_is_told_as_it_was(plant: Plant) -> None:
    """Yesterday's question gets yesterday's contents."""
    ines = plant.actor("ines")
    moved(ines, started_at=NOW - 30 * HOUR)
    moved(ines)
    assert contents_at(NOW - 24 * HOUR)["silo-a"].quantity == 500
    assert contents_at(NOW)["silo-a"].quantity == 1000


def test_a_seen_level_is_right_and_the_book_is_wrong(plant: Plant) -> None:
    """From the level on the book counts from what was seen."""
    ines = plant.actor("ines")
    moved(ines, started_at=NOW - 3 * HOUR)
    level = seen(ines, "silo-a", "480", NOW - 2 * HOUR)
    moved(ines)
    assert (level.book, level.difference) == (500, -20)
    assert contents_at(NOW)["silo-a"].quantity == 980


def test_a_level_in_a_vessel_that_the_book_calls_empty_is_kept(plant: Plant) -> None:
    """What is in it is not known; it holds product, and has a lot that can be held."""
    seen(plant.actor("ines"), "finished-1", "120")
    tank = contents_at(NOW)["finished-1"]
    assert (tank.holds, tank.quantity, tank.product) == (True, Decimal(120), "")
    assert tank.lot is not None


def test_a_washed_vessel_was_empty_whatever_the_book_said(plant: Plant) -> None:
    """A fill recorded late, after the wash, does not undo the wash."""
    ines = plant.actor("ines")
    washed(ines, "silo-a", NOW - 2 * HOUR)
    moved(ines, started_at=NOW - 5 * HOUR)
    assert condition() == "sanitized"
    assert contents_at(NOW - 4 * HOUR)["silo-a"].holds


def test_a_movement_left_open_ends_with_the_wash(plant: Plant) -> None:
    """Its source was washed: nothing can have come out of it since."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 6 * HOUR)
    moved(ines, started_at=NOW - 5 * HOUR)
    ran(ines, started_at=NOW - 4 * HOUR, ended_at=None)
    record_wash(ines, wash("silo-a", NOW - HOUR, was_empty=True))
    assert condition() == "empty and clean"
    assert contents_at(NOW)["finished-1"].holds


# --- ages and clocks


def test_the_72_hour_clock_starts_with_the_first_product_after_the_wash(plant: Plant) -> None:
    """Topping up and drawing never reset it (7 Pa. Code 59.212(a), a state's mirror of the milk ordinance)."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 50 * HOUR)
    first = moved(ines, started_at=NOW - 48 * HOUR)
    ran(ines, started_at=NOW - 30 * HOUR)
    moved(ines, started_at=NOW - 2 * HOUR)
    clock = clocks_at(NOW)["silo-a"][0]
    assert (clock.kind, clock.since) == ("raw storage", first.started_at)
    assert clock.runs_out_at == first.started_at + timedelta(hours=72)
    assert clock.clause == "7 Pa. Code 59.212(a)"


def test_emptied_and_not_washed_the_72_hour_clock_runs_on(plant: Plant) -> None:
    """A refill of the dirty silo belongs to the same 72 hours."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 50 * HOUR)
    first = moved(ines, started_at=NOW - 48 * HOUR)
    seen(ines, "silo-a", "0", NOW - 10 * HOUR)
    moved(ines)
    assert contents_at(NOW)["silo-a"].first_product_at == first.started_at


def test_raw_milk_carries_its_age_from_tank_to_tank(two_raw_tanks: Plant) -> None:
    """Pumped into another raw tank it is as old as it was; washing the first one since does not make it younger."""
    ines = two_raw_tanks.actor("ines")
    made_ready(ines, NOW - 50 * HOUR, "silo-a", "whole-tank")
    first = moved(ines, started_at=NOW - 48 * HOUR)
    moved(ines, source="silo-a", source_name="", target="whole-tank", started_at=NOW - 20 * HOUR)
    washed(ines, "silo-a", NOW - 10 * HOUR)
    assert contents_at(NOW)["whole-tank"].oldest_at == first.started_at


@pytest.fixture
def two_raw_tanks(plant: Plant) -> Plant:
    """Quillbrook with a second raw tank, by a second version of its plan."""
    from plant import clock
    from plant.hazard_plan.content import VesselDef
    from plant.hazard_plan.written import store
    from records.people.plan_actions import OWNER_SIGNS, QUALIFIED_SIGNS, sign_plan
    from tests.factories import small_plan

    one = small_plan()
    tank = VesselDef("whole-tank", "Whole tank", "tank", "raw", "raw storage", 4, 4, capacity="800")
    plant.at(INSTALLED + timedelta(hours=2))
    version = store(small_plan(vessels=(*one.vessels, tank)), plant.people.odile, clock.now())
    sign_plan(plant.people.actor("odile"), version, QUALIFIED_SIGNS)
    sign_plan(plant.people.actor("hanne"), version, OWNER_SIGNS)
    plant.at(NOW)
    return plant


def test_a_pasteurizer_makes_it_new(plant: Plant) -> None:
    """What comes out of the press counts from then."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 50 * HOUR)
    moved(ines, started_at=NOW - 48 * HOUR)
    row = ran(ines)
    assert contents_at(NOW)["finished-1"].oldest_at == row.started_at


def test_hours_run_count_since_the_last_full_wash(plant: Plant) -> None:
    """Two runs of half an hour of the plan's ten; while it runs, it says when the hours run out."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 8 * HOUR)
    moved(ines, started_at=NOW - 7 * HOUR, quantity_typed="2000")
    ran(ines, started_at=NOW - 6 * HOUR)
    ran(ines, started_at=NOW - 4 * HOUR)
    (clock,) = clocks_at(NOW)["press-1"]
    assert clock.kind == "run hours"
    assert "1.0 h of 10 h" in clock.words
    assert clock.runs_out_at is None
    ran(ines, started_at=NOW - HOUR, ended_at=None)
    assert clocks_at(NOW)["press-1"][0].runs_out_at == NOW + 8 * HOUR


def test_a_sanitized_vessel_says_how_long_it_stays_so(plant: Plant) -> None:
    """The plan's 24 hours from the end of the sanitizing."""
    washed(plant.actor("ines"), "silo-a", NOW - 2 * HOUR)
    found = {one.kind: one for one in clocks_at(NOW)["silo-a"]}
    assert found["sanitized"].runs_out_at == NOW - 2 * HOUR + timedelta(minutes=15, hours=24)
    assert found["washed"].since == NOW - 2 * HOUR


def test_an_emptied_vessel_says_since_when(plant: Plant) -> None:
    """The hours since emptied run until it is washed."""
    ines = plant.actor("ines")
    moved(ines, started_at=NOW - 5 * HOUR)
    seen(ines, "silo-a", "0", NOW - 3 * HOUR)
    assert {one.kind: one.since for one in clocks_at(NOW)["silo-a"]}["emptied"] == NOW - 3 * HOUR


# --- what a reading copies, what a deviation reaches


def test_a_reading_knows_what_the_vessel_held(plant: Plant) -> None:
    """Words, lot and product of that moment; an empty vessel is said to be empty."""
    row = moved(plant.actor("ines"), started_at=NOW - 3 * HOUR)
    held = held_or_running("silo-a", NOW)
    assert held is not None
    assert (held.words, held.lot, held.product) == ("Raw milk, 500 gal", row.target_lot, "raw-milk")
    before = held_or_running("silo-a", NOW - 5 * HOUR)
    assert before is not None and (before.words, before.lot) == ("empty and dirty", None)


def test_a_reading_knows_what_ran_through_the_line(plant: Plant) -> None:
    """The product on its way and the lot that it went into; nothing for other equipment."""
    ines = plant.actor("ines")
    row = ran(ines, ended_at=None)
    held = held_or_running("press-1", NOW)
    assert held is not None
    assert (held.lot, held.product) == (row.target_lot, "whole-milk")
    assert held_or_running("traps", NOW) is None


def test_lot_in_a_vessel_at_a_moment(plant: Plant) -> None:
    """None before the fill, the lot since."""
    row = moved(plant.actor("ines"), started_at=NOW - 3 * HOUR)
    assert lot_in("silo-a", NOW - 4 * HOUR) is None
    assert lot_in("silo-a", NOW) == row.target_lot
    assert lot_in("no-such-vessel", NOW) is None


def test_lots_touched_are_what_was_in_entered_or_left(plant: Plant) -> None:
    """The silo's lot and the one that it went into; a later one is not among them."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 8 * HOUR)
    raw = moved(ines, started_at=NOW - 7 * HOUR)
    out = ran(ines, started_at=NOW - 4 * HOUR, ended_at=NOW - 3 * HOUR)
    found = {one.id: one.since for one in lots_touched("silo-a", NOW - 5 * HOUR, NOW - 3.5 * HOUR)}
    assert found == {raw.target_lot: NOW - 5 * HOUR, out.target_lot: NOW - 4 * HOUR}
    assert [one.id for one in lots_touched("silo-a", NOW - 6 * HOUR, NOW - 5 * HOUR)] == [raw.target_lot]
    assert [one.id for one in lots_touched("press-1", NOW - 5 * HOUR, NOW)] == [out.target_lot]


def test_a_lot_is_called_by_its_vessel_product_and_first_moment(plant: Plant) -> None:
    """On the plant's clocks: 12:30 UTC is 06:30 in Chicago in March before the change."""
    moved(plant.actor("ines"), started_at=NOW - 3 * HOUR)
    (lot,) = lots_touched("silo-a", NOW - HOUR, NOW)
    assert lot.label == "Silo A, Raw milk, since 2026-03-03 06:30"


def test_a_void_wash_gives_the_vessel_its_lot_back(plant: Plant) -> None:
    """Taking back a wash joins what it had cut."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 9 * HOUR, "silo-a")
    first = moved(ines, started_at=NOW - 8 * HOUR)
    row = record_wash(ines, wash("silo-a", NOW - 4 * HOUR, was_empty=True))
    second = moved(ines)
    assert second.target_lot != first.target_lot
    amend_wash(ines, row.number, wash("silo-a", NOW - 4 * HOUR), "another tank", void=True)
    assert contents_at(NOW)["silo-a"].lot == first.target_lot


def test_a_vessel_names_every_product_in_it(plant: Plant) -> None:
    """Two products in one tank: both are named, the latest first; once it was empty only what came after is."""
    ines = plant.actor("ines")
    moved(ines, target="finished-1", product="raw-milk")
    plant.clock.on(minutes=40)
    moved(ines, target="finished-1", product="whole-milk")
    held = contents_at(plant.clock(), ["finished-1"])["finished-1"]
    assert held.product_name == "Whole milk + Raw milk" and held.words.startswith("Whole milk + Raw milk, ")
    plant.clock.on(minutes=10)
    moved(
        ines,
        source="finished-1",
        source_name="",
        target="",
        target_name="Drain",
        product="whole-milk",
        started_at=plant.clock() - timedelta(minutes=5),
        ended_at=plant.clock(),
        quantity_typed="1000",
        emptied=True,
    )
    plant.clock.on(minutes=40)
    moved(ines, target="finished-1", product="raw-milk")
    assert contents_at(plant.clock(), ["finished-1"])["finished-1"].product_name == "Raw milk"
