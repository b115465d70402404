"""Recording a movement: what is kept, what a repeat does, what is refused."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest

from records.deviations.models import Deviation, Hold
from records.flow.actions import record_movement
from records.flow.errors import DifferentContent, Refused, Several
from records.flow.models import Movement
from records.flow.queries import contents_at
from records.ledger.models import Entry
from records.lots.models import Lot
from tests.conftest import NOW, Plant
from tests.records.flow.made import HOUR, made_ready, moved, movement, pasteurized, ran, seen, washed


def test_a_movement_fills_its_vessel(plant: Plant) -> None:
    """What came from a farm is in the silo, under the printed names of the plan."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 3 * HOUR)
    moved(ines)
    silo = contents_at(NOW)["silo-a"]
    assert (silo.holds, silo.quantity, silo.unit, silo.product_name) == (True, Decimal(500), "gal", "Raw milk")
    assert silo.since == NOW - HOUR / 2
    assert not Deviation.objects.exists()


def test_quantity_is_kept_as_typed(plant: Plant) -> None:
    """The text stays beside the number."""
    row = moved(plant.actor("ines"), quantity_typed="0500.50", uncertainty_typed="2.5")
    row.refresh_from_db()
    assert (row.quantity_typed, row.quantity, row.uncertainty) == ("0500.50", Decimal("500.5"), Decimal("2.5"))


def test_pounds_from_the_scale_ticket_count_as_gallons(plant: Plant) -> None:
    """8.6 lb of milk are a gallon in the book; the record keeps the pounds."""
    row = moved(plant.actor("ines"), quantity_typed="8600", unit="lb", measured_by="mass")
    assert row.unit == "lb"
    assert contents_at(NOW)["silo-a"].quantity == Decimal(1000)


def test_one_entry_for_each_record(plant: Plant) -> None:
    """A first fill writes the movement and its lot, in one act."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 3 * HOUR)
    before = Entry.objects.count()
    row = moved(ines)
    assert list(Entry.objects.filter(act=row.act).values_list("kind", flat=True)) == ["movement", "lot"]
    assert Entry.objects.count() == before + 2


def test_the_same_form_answers_as_the_first_time(plant: Plant) -> None:
    """A double tap writes nothing again."""
    ines, data = plant.actor("ines"), movement()
    first = record_movement(ines, data)
    count = Entry.objects.count()
    assert record_movement(ines, data).number == first.number
    assert Entry.objects.count() == count


def test_the_same_form_with_other_content_shows_what_was_saved(plant: Plant) -> None:
    """The back button with another number is refused; the saved row comes with it."""
    ines, data = plant.actor("ines"), movement()
    first = record_movement(ines, data)
    with pytest.raises(DifferentContent) as caught:
        record_movement(ines, replace(data, quantity_typed="505"))
    assert caught.value.saved.number == first.number
    assert Movement.objects.count() == 1


def test_the_same_form_of_another_person_is_refused(plant: Plant) -> None:
    """A form's id belongs to the person who sent it."""
    data = movement()
    record_movement(plant.actor("ines"), data)
    with pytest.raises(DifferentContent):
        record_movement(plant.actor("tomas"), data)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"target": "no-such-tank"}, "target"),
        ({"target": "press-1"}, "target"),
        ({"source": "silo-a"}, "target"),
        ({"source_name": " "}, "source_name"),
        ({"via": "traps"}, "via"),
        ({"product": "beer"}, "product"),
        ({"quantity_typed": "4 3"}, "quantity"),
        ({"quantity_typed": "1e99"}, "quantity"),
        ({"quantity_typed": "-5"}, "quantity"),
        ({"unit": "barrel"}, "unit"),
        ({"measured_by": "guess"}, "measured_by"),
        ({"started_at": NOW + timedelta(minutes=3), "ended_at": None}, "started_at"),
        ({"started_at": NOW, "ended_at": NOW - HOUR}, "ended_at"),
        ({"started_at": NOW, "ended_at": NOW + HOUR}, "ended_at"),
        ({"source": "silo-a", "target": "", "target_name": "packed", "product": "raw-milk"}, "code"),
        ({"target": "", "target_name": "drain"}, "target"),
    ],
)
def test_nonsense_is_refused_beside_its_field(plant: Plant, changes: dict[str, object], field: str) -> None:
    """Each slip names its field, and nothing is written."""
    count = Entry.objects.count()
    with pytest.raises(Refused) as caught:
        moved(plant.actor("ines"), **changes)
    assert caught.value.field == field
    assert Entry.objects.count() == count


def test_two_minutes_ahead_is_a_clock_and_not_the_future(plant: Plant) -> None:
    """A tablet's clock may run ahead by two minutes."""
    assert moved(plant.actor("ines"), started_at=NOW + timedelta(minutes=2), ended_at=None).number


def test_what_happened_before_is_accepted_late(plant: Plant) -> None:
    """A movement of last week is kept with both its times."""
    row = moved(plant.actor("ines"), started_at=NOW - timedelta(days=7))
    assert (row.observed_at, row.received_at) == (NOW - timedelta(days=7), NOW)


# --- fact against permission


def test_raw_milk_into_a_finished_tank_is_kept_and_holds_it(plant: Plant) -> None:
    """It happened, so it is recorded; the tank's lot is held and can never be released on results."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 3 * HOUR)
    moved(ines, started_at=NOW - 2 * HOUR)
    row = moved(ines, source="silo-a", source_name="", target="finished-1", quantity_typed="100")
    hold = Hold.objects.get()
    assert (hold.lot, hold.vessel, hold.bars_release) == (row.target_lot, "finished-1", "pasteurization")
    deviation = Deviation.objects.get()
    assert deviation.subject == "finished-1"
    assert "Raw product into Finished 1" in deviation.sentence


def test_raw_milk_may_not_begin_to_flow_into_a_finished_tank(plant: Plant) -> None:
    """What has not begun is refused with its reason, and nothing is written."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 3 * HOUR)
    moved(ines, started_at=NOW - 2 * HOUR)
    count = Entry.objects.count()
    with pytest.raises(Several) as caught:
        moved(ines, source="silo-a", source_name="", target="finished-1", start_now=True)
    assert any("Raw product into Finished 1" in one for one in caught.value.sentences)
    assert Entry.objects.count() == count


def test_a_run_through_the_pasteurizer_may_begin(plant: Plant) -> None:
    """With everything washed and sanitized nothing recorded stands against it."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 3 * HOUR)
    moved(ines, started_at=NOW - 2 * HOUR)
    row = ran(ines, start_now=True, quantity_typed="")
    assert (row.started_at, row.ended_at, row.via) == (NOW, None, "press-1")
    assert not Deviation.objects.exists()


def test_an_unsanitized_vessel_is_not_filled(plant: Plant) -> None:
    """Washed is not sanitized: the first product is refused before it flows."""
    with pytest.raises(Several, match="not washed"):
        moved(plant.actor("ines"), start_now=True)


def test_an_unsanitized_vessel_that_was_filled_is_a_deviation(plant: Plant) -> None:
    """The fill is kept; the sanitation control has a deviation. Raw milk still meets heat: no hold."""
    moved(plant.actor("ines"))
    deviation = Deviation.objects.get()
    assert (deviation.control_point, deviation.subject, deviation.cause) == ("pre-op", "silo-a", "legal rule")
    assert not Hold.objects.exists()


def test_pasteurized_milk_into_an_unsanitized_tank_is_held(plant: Plant) -> None:
    """After the pasteurizer nothing kills what a dirty tank gives: the lot is held."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 3 * HOUR, "silo-a", "press-1")
    moved(ines, started_at=NOW - 2 * HOUR)
    row = ran(ines)
    assert Hold.objects.get().lot == row.target_lot


def test_sanitizing_lasts_for_the_hours_of_the_plan(plant: Plant) -> None:
    """At 24 hours it still counts, a minute later it does not."""
    ines = plant.actor("ines")
    washed(ines, "silo-a", NOW - 25 * HOUR)
    sanitized = NOW - 25 * HOUR + timedelta(minutes=15)
    moved(ines, started_at=sanitized + 24 * HOUR, ended_at=None)
    assert not Deviation.objects.exists()


def test_sanitizing_runs_out(plant: Plant) -> None:
    """Filled a minute after the plan's hours, it is not ready."""
    ines = plant.actor("ines")
    washed(ines, "silo-a", NOW - 26 * HOUR)
    sanitized = NOW - 26 * HOUR + timedelta(minutes=15)
    moved(ines, started_at=sanitized + 24 * HOUR + timedelta(minutes=1), ended_at=None)
    assert "24 h" in Deviation.objects.get().sentence


def test_topping_up_asks_for_no_new_wash(plant: Plant) -> None:
    """A vessel that holds product is not asked again whether it was sanitized."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 3 * HOUR)
    moved(ines, started_at=NOW - 2 * HOUR)
    moved(ines, start_now=True)
    assert not Deviation.objects.exists()


def test_more_than_the_vessel_holds_is_a_book_deviation(plant: Plant) -> None:
    """900 gal into a tank of 800: kept, with a deviation of the book."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 4 * HOUR)
    moved(ines, started_at=NOW - 3 * HOUR, quantity_typed="2000")
    ran(ines, quantity_typed="900")
    deviation = Deviation.objects.get()
    assert (deviation.control_point, deviation.cause, deviation.weight) == ("book", "book", "quality")
    assert "900" in deviation.sentence and "800" in deviation.sentence


def test_more_drawn_than_the_book_held_is_a_book_deviation(plant: Plant) -> None:
    """The contents stay at nothing and the difference is said."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 4 * HOUR)
    moved(ines, started_at=NOW - 3 * HOUR, quantity_typed="200")
    ran(ines, quantity_typed="600")
    assert contents_at(NOW)["silo-a"].quantity == 0
    assert "400 gal more were drawn" in Deviation.objects.get().sentence


def test_product_on_hold_may_not_begin_to_move(plant: Plant) -> None:
    """A hold on the silo's lot refuses the run."""
    ines = plant.actor("ines")
    held = _raw_on_hold(plant)
    with pytest.raises(Several, match="on hold"):
        ran(ines, start_now=True)
    assert held.target_lot == Hold.objects.get().lot


def test_product_on_hold_that_moved_is_a_deviation_and_held_where_it_went(plant: Plant) -> None:
    """It happened: the lot that it went into is held too."""
    ines = plant.actor("ines")
    _raw_on_hold(plant)
    plant.clock.on(minutes=40)
    row = ran(ines, started_at=NOW + timedelta(minutes=5))
    assert Deviation.objects.filter(sentence__contains="on hold").exists()
    assert row.target_lot in set(Hold.objects.values_list("lot", flat=True))


def _raw_on_hold(plant: Plant) -> Movement:
    from records.deviations.holds import hold_by_hand

    ines = plant.actor("ines")
    made_ready(ines, NOW - 3 * HOUR)
    row = moved(ines, started_at=NOW - 2 * HOUR)
    assert row.target_lot
    hold_by_hand(
        plant.actor("wren"),
        lot=row.target_lot,
        lot_label="Silo A",
        vessel="silo-a",
        since_at=NOW - HOUR,
        reason="odd smell",
    )
    return row


def test_a_vessel_out_of_service_takes_nothing(plant: Plant) -> None:
    """Refused before, with the reason that was given; a deviation and a hold once it has happened."""
    from records.flow.actions import set_service

    ines = plant.actor("ines")
    made_ready(ines, NOW - 3 * HOUR)
    plant.at(NOW - 2 * HOUR)
    set_service(ines, "silo-a", True, "agitator broken")
    plant.at(NOW)
    with pytest.raises(Several, match="agitator broken"):
        moved(ines, start_now=True)
    row = moved(ines)
    assert Hold.objects.get().lot == row.target_lot


# --- lots


def test_the_first_fill_after_a_wash_begins_a_lot(plant: Plant) -> None:
    """Filled, topped up: one lot. Emptied, washed, filled: another."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 30 * HOUR)
    first = moved(ines, started_at=NOW - 29 * HOUR)
    second = moved(ines, started_at=NOW - 28 * HOUR)
    assert first.target_lot == second.target_lot
    seen(ines, "silo-a", "0", NOW - 20 * HOUR)
    made_ready(ines, NOW - 2 * HOUR, "silo-a")
    third = moved(ines)
    assert third.target_lot != first.target_lot
    assert Lot.objects.filter(origin="vessel fill").count() == 2


def test_emptied_and_not_washed_is_no_clean_break(plant: Plant) -> None:
    """The next fill joins the lot before."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 30 * HOUR)
    first = moved(ines, started_at=NOW - 29 * HOUR)
    seen(ines, "silo-a", "0", NOW - 20 * HOUR)
    assert moved(ines).target_lot == first.target_lot


def test_a_vessel_never_washed_keeps_its_lot(plant: Plant) -> None:
    """Empty alone does not begin another lot."""
    ines = plant.actor("ines")
    first = moved(ines, started_at=NOW - 29 * HOUR)
    seen(ines, "silo-a", "0", NOW - 20 * HOUR)
    assert moved(ines).target_lot == first.target_lot


def test_a_fill_recorded_late_joins_the_lot_that_it_began(plant: Plant) -> None:
    """An earlier tanker entered after a later one is in the same lot."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 10 * HOUR)
    later = moved(ines, started_at=NOW - 2 * HOUR)
    earlier = moved(ines, started_at=NOW - 5 * HOUR)
    assert earlier.target_lot == later.target_lot
    assert contents_at(NOW)["silo-a"].lot == later.target_lot


def test_a_movement_names_the_lot_that_it_came_from(plant: Plant) -> None:
    """Source lots are those in the vessel when it began."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 3 * HOUR)
    raw = moved(ines, started_at=NOW - 2 * HOUR)
    assert ran(ines).source_lots == [str(raw.target_lot)]


def test_packing_makes_a_pack_lot_with_its_code(plant: Plant) -> None:
    """Out of the finished tank into packs of one code; more of the same code joins it."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 4 * HOUR)
    moved(ines, started_at=NOW - 3 * HOUR)
    ran(ines, started_at=NOW - 2 * HOUR)
    packing = {
        "source": "finished-1",
        "target": "",
        "target_name": "packed",
        "via": "",
        "quantity_typed": "100",
        "code": "WM 0310",
    }
    first = record_movement(ines, pasteurized(started_at=NOW - HOUR, **packing))
    second = record_movement(ines, pasteurized(**packing))
    pack = Lot.objects.get(origin="pack")
    assert (pack.code, pack.product_name) == ("WM 0310", "Whole milk")
    assert first.target_lot == second.target_lot == pack.id


def test_a_code_belongs_to_one_product(plant: Plant) -> None:
    """The same code on another product is a slip: refused beside the code."""
    ines = plant.actor("ines")
    packing = {"source": "finished-1", "source_name": "", "target": "", "target_name": "packed", "code": "X 1"}
    moved(ines, product="whole-milk", **packing)
    with pytest.raises(Refused) as caught:
        moved(ines, product="raw-milk", **packing)
    assert caught.value.field == "code"


def test_product_drawn_from_a_vessel_that_the_book_calls_empty_gets_a_lot(plant: Plant) -> None:
    """It was there, so it can be held: the lot is the source's."""
    ines = plant.actor("ines")
    row = ran(ines)
    source = Lot.objects.get(vessel="silo-a")
    assert row.source_lots == [str(source.id)]
