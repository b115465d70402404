"""What bears on due checks, lots in both directions, and what the questions cost after a long time."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from plant.process.facts import Event, Holding, NoProduction
from records.deviations.holds import hold_by_hand
from records.flow.actions import EventData, begin_wash, no_production, record_event, record_movement
from records.flow.history import load
from records.flow.models import Movement, Wash
from records.flow.queries import (
    clocks_at,
    contents_at,
    downstream_lots,
    facts_between,
    held_lots_at,
    lots_upstream,
)
from records.ledger.actions import act
from records.people.plans import plan_in_force
from tests.conftest import NOW, Plant
from tests.records.flow.made import HOUR, made_ready, moved, pasteurized, ran, seen, washed


def test_holdings_are_unbroken_times_with_product(plant: Plant) -> None:
    """Filled, topped up, emptied: one; filled again and not emptied: another, still going on."""
    ines = plant.actor("ines")
    moved(ines, started_at=NOW - 10 * HOUR)
    moved(ines, started_at=NOW - 9 * HOUR)
    seen(ines, "silo-a", "0", NOW - 5 * HOUR)
    moved(ines, started_at=NOW - 2 * HOUR)
    assert facts_between(NOW - 20 * HOUR, NOW).holdings == (
        Holding("silo-a", NOW - 10 * HOUR, NOW - 5 * HOUR),
        Holding("silo-a", NOW - 2 * HOUR, None),
    )


def test_a_fill_before_the_window_is_held_in_it(plant: Plant) -> None:
    """Milk of three days ago is still due for its checks today."""
    moved(plant.actor("ines"), started_at=NOW - 70 * HOUR)
    assert facts_between(NOW - HOUR, NOW).holdings == (Holding("silo-a", NOW - 70 * HOUR, None),)


def test_joined_windows_tell_the_same(plant: Plant) -> None:
    """What ends soon after a window is known in it: however it is cut, the holding has one end."""
    ines = plant.actor("ines")
    moved(ines, started_at=NOW - 10 * HOUR)
    seen(ines, "silo-a", "0", NOW - 5 * HOUR)
    whole = facts_between(NOW - 12 * HOUR, NOW).holdings
    assert facts_between(NOW - 12 * HOUR, NOW - 7 * HOUR).holdings == whole
    assert facts_between(NOW - 7 * HOUR, NOW).holdings == whole


def test_a_movement_through_a_line_is_a_run(plant: Plant) -> None:
    """Named by its number, from its start to its end."""
    row = ran(plant.actor("ines"), started_at=NOW - 2 * HOUR)
    (run,) = facts_between(NOW - 3 * HOUR, NOW).runs
    assert (run.subject, run.id) == ("press-1", str(row.number))
    assert (run.started_at, run.ended_at) == (NOW - 2 * HOUR, NOW - 1.5 * HOUR)


def test_two_movements_at_once_through_a_line_are_one_run(plant: Plant) -> None:
    """Cream and skim leave the separator together: its checks are due once."""
    ines = plant.actor("ines")
    first = ran(ines, started_at=NOW - 3 * HOUR, ended_at=NOW - 2 * HOUR)
    ran(ines, started_at=NOW - 2.5 * HOUR, ended_at=None)
    (run,) = facts_between(NOW - 4 * HOUR, NOW).runs
    assert (run.id, run.started_at, run.ended_at) == (str(first.number), NOW - 3 * HOUR, None)


def test_milk_from_outside_into_a_raw_vessel_is_a_tanker(plant: Plant) -> None:
    """The event comes with the movement, at its start."""
    row = moved(plant.actor("ines"), started_at=NOW - 2 * HOUR)
    assert facts_between(NOW - 3 * HOUR, NOW).events == (Event("tanker", str(row.number), "silo-a", NOW - 2 * HOUR),)


def test_events_are_those_that_people_recorded(plant: Plant) -> None:
    """A batch is an event; that a wash began is none."""
    ines = plant.actor("ines")
    data = EventData(uuid.uuid4(), "batch", NOW - HOUR, "finished-1", "17")
    row = record_event(ines, data)
    begin_wash(ines, "silo-a", uuid.uuid4())
    assert facts_between(NOW - 3 * HOUR, NOW).events == (Event("batch", str(row.number), "finished-1", NOW - HOUR),)
    assert record_event(ines, data).number == row.number


def test_signed_days_are_facts(plant: Plant) -> None:
    """A shift, or the whole day."""
    ines = plant.actor("ines")
    day = datetime(2026, 3, 3, tzinfo=UTC).date()
    no_production(ines, day, "late", "no milk")
    assert facts_between(NOW - 3 * HOUR, NOW).no_production == (NoProduction("late", day),)


def test_a_day_with_a_run_is_not_signed_as_without(plant: Plant) -> None:
    """The book says what was made."""
    from records.flow.errors import Refused

    ines = plant.actor("ines")
    ran(ines)
    with pytest.raises(Refused, match="movement"):
        no_production(ines, NOW.date(), "early", "idle")
    no_production(ines, NOW.date(), "late", "idle")


def test_a_day_is_signed_once(plant: Plant) -> None:
    """The same again answers the same; days to come stand in the plan."""
    from records.flow.errors import DifferentContent, Refused

    ines = plant.actor("ines")
    first = no_production(ines, NOW.date(), "", "holiday")
    assert no_production(ines, NOW.date(), "", "holiday").number == first.number
    with pytest.raises(DifferentContent):
        no_production(ines, NOW.date(), "", "another reason")
    with pytest.raises(Refused):
        no_production(ines, NOW.date() + timedelta(days=1), "", "holiday")


# --- lots in both directions


def chain(plant: Plant) -> tuple[Movement, Movement, Movement]:
    """Silo A to Finished 1 to packs of one code."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 9 * HOUR)
    raw = moved(ines, started_at=NOW - 8 * HOUR)
    run = ran(ines, started_at=NOW - 6 * HOUR)
    packed = record_movement(
        ines,
        pasteurized(
            source="finished-1", target="", target_name="packed", via="", code="WM 1", started_at=NOW - 4 * HOUR
        ),
    )
    return raw, run, packed


def lot(row: Movement) -> uuid.UUID:
    """The lot that a movement went into."""
    assert row.target_lot is not None
    return row.target_lot


def test_a_lot_is_followed_to_the_packs(plant: Plant) -> None:
    """From the silo to the tank to the code."""
    raw, run, packed = chain(plant)
    assert downstream_lots(lot(raw), NOW - 8 * HOUR) == {lot(run), lot(packed)}


def test_a_pack_is_followed_back_to_the_silo(plant: Plant) -> None:
    """And the other way."""
    raw, run, packed = chain(plant)
    assert lots_upstream(lot(packed)) == {lot(run), lot(raw)}


def test_what_left_before_is_not_reached(plant: Plant) -> None:
    """A hold from after the packing does not reach the packs."""
    raw, run, packed = chain(plant)
    assert downstream_lots(lot(run), NOW - 3 * HOUR) == set()
    assert downstream_lots(lot(raw), NOW - 5 * HOUR) == set()


def test_a_movement_recorded_late_is_followed_too(plant: Plant) -> None:
    """The tank's fill was entered after the packing that drew from it: the packs are still downstream."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 9 * HOUR)
    raw = moved(ines, started_at=NOW - 8 * HOUR)
    packed = record_movement(
        ines,
        pasteurized(
            source="finished-1", target="", target_name="packed", via="", code="WM 1", started_at=NOW - 4 * HOUR
        ),
    )
    ran(ines, started_at=NOW - 6 * HOUR)
    assert lot(packed) in downstream_lots(lot(raw), NOW - 8 * HOUR)


def test_a_washed_vessel_ends_its_lot(plant: Plant) -> None:
    """What was filled after the wash is not downstream of what was there before."""
    raw, _run, _packed = chain(plant)
    ines = plant.actor("ines")
    seen(ines, "finished-1", "0", NOW - 3 * HOUR)
    washed(ines, "finished-1", NOW - 2 * HOUR)
    seen(ines, "silo-a", "0", NOW - 3 * HOUR)
    washed(ines, "silo-a", NOW - 2 * HOUR)
    moved(ines, started_at=NOW - HOUR)
    later = ran(ines)
    assert lot(later) not in downstream_lots(lot(raw), NOW - 8 * HOUR)


def test_a_hold_reaches_what_its_lot_flowed_into(plant: Plant) -> None:
    """Held by name, and held by computation, with the reason."""
    raw, run, packed = chain(plant)
    hold_by_hand(
        plant.actor("wren"),
        lot=lot(raw),
        lot_label="Silo A",
        vessel="silo-a",
        since_at=NOW - 7 * HOUR,
        reason="odd smell",
    )
    assert held_lots_at(NOW) == {one: ["odd smell"] for one in (lot(raw), lot(run), lot(packed))}


# --- cost


def long_history(plant: Plant, days: int) -> None:
    """Each day one tanker and one run, each night everything washed; written in bulk, as long ago as it takes."""
    ines = plant.actor("ines")
    with act(ines) as a:
        for day in range(days, 1, -1):
            start = NOW - timedelta(days=day)
            common: dict[str, Any] = {"measured_by": "meter", "quantity": 500, "unit": "gal", "quantity_typed": "500"}
            a.write(
                Movement(
                    form_id=uuid.uuid4(), target="silo-a", target_name="Silo A", source_name="Nettle Farm",
                    started_at=start, ended_at=start + HOUR, product="raw-milk", product_name="Raw milk",
                    family="raw milk", target_lot=uuid.uuid4(), **common,
                ),
                observed_at=start,
            )  # fmt: skip
            a.write(
                Movement(
                    form_id=uuid.uuid4(), source="silo-a", source_name="Silo A", target="finished-1",
                    target_name="Finished 1", via="press-1", via_name="Press 1", started_at=start + 2 * HOUR,
                    ended_at=start + 3 * HOUR, product="whole-milk", product_name="Whole milk", family="milk",
                    target_lot=uuid.uuid4(), **common,
                ),
                observed_at=start,
            )  # fmt: skip
            for code in ("silo-a", "press-1", "finished-1"):
                for what in ("washed", "sanitized"):
                    end = start + 8 * HOUR + timedelta(minutes=what == "sanitized")
                    a.write(
                        Wash(
                            form_id=uuid.uuid4(), what=what, vessel=code, vessel_name=code, started_at=end,
                            ended_at=end, method="circuit",
                        ),
                        observed_at=end,
                    )  # fmt: skip


@pytest.mark.parametrize("question", [contents_at, clocks_at, lambda now: facts_between(now - 24 * HOUR, now)])
def test_questions_cost_the_same_after_a_long_time(plant: Plant, question: Any) -> None:
    """No more queries after two hundred days of records than after five."""
    long_history(plant, 5)
    with CaptureQueriesContext(
        connection,
    ) as few:
        question(NOW)
    long_history(plant, 200)
    with CaptureQueriesContext(connection) as many:
        question(NOW)
    assert len(many) == len(few)
    assert len(many) <= 14


def test_a_story_begins_with_the_last_wash(plant: Plant) -> None:
    """Of two hundred days only the rows since the last clean break are read."""
    long_history(plant, 200)
    moved(plant.actor("ines"))
    in_force = plan_in_force(NOW)
    assert in_force is not None
    history = load(in_force.plan, NOW, NOW)
    assert (len(history.moves), len(history.washes)) == (1, 6)


def test_the_floor_asks_the_same_number_of_questions(plant: Plant, client_for: Any) -> None:
    """Whatever the past holds, and whatever the vessels hold."""
    client = client_for(plant.people.ines)
    with CaptureQueriesContext(connection) as empty:
        client.get("/floor/")
    long_history(plant, 60)
    moved(plant.actor("ines"))
    with CaptureQueriesContext(connection) as full:
        client.get("/floor/")
    assert len(full) <= len(empty) + 4


def test_a_room_that_is_never_washed_is_told_from_when_it_was_empty(plant: Plant) -> None:
    """What has no wash clock needs no wash to begin its story anew, and keeps its lot."""
    from records.flow.breaks import breaks_before

    ines = plant.actor("ines")
    moved(ines, started_at=NOW - 30 * HOUR)
    seen(ines, "silo-a", "0", NOW - 20 * HOUR)
    assert breaks_before(["silo-a"], NOW, (), {"silo-a"}) == {"silo-a": NOW - 20 * HOUR}
    assert breaks_before(["silo-a"], NOW) == {"silo-a": None}
