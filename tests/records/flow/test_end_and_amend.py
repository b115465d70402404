"""The end of a movement, and amendments: a line of successors, by whom and until when."""

from __future__ import annotations

import uuid
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from records.deviations.models import Deviation, Hold
from records.flow.actions import EndData, amend_movement, amend_wash, end_movement, record_movement, record_wash
from records.flow.errors import DifferentContent, Refused
from records.flow.models import LevelSeen, Movement, MovementEnd
from records.flow.queries import contents_at, facts_between
from records.ledger.actions import act
from records.ledger.models import Entry
from records.lots.models import Lot
from records.review.models import DayClosing
from tests.conftest import NOW, Plant
from tests.records.flow.made import HOUR, made_ready, moved, movement, pasteurized, ran, wash, washed


def end(**changes: Any) -> EndData:
    """It ended now, 300 gal by the meter."""
    values: dict[str, Any] = {"ended_at": NOW, "quantity_typed": "300", "unit": "gal", "measured_by": "meter"}
    return EndData(**{**values, **changes})


def running(plant: Plant) -> Movement:
    """A run from the silo, everything ready, not ended."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 4 * HOUR)
    moved(ines, started_at=NOW - 3 * HOUR)
    return ran(ines, started_at=NOW - HOUR, ended_at=None, quantity_typed="")


def close_day(plant: Plant) -> None:
    """The plant day of NOW is closed."""
    with act(plant.actor("wren")) as a:
        day = {"plant_day": "2026-03-03", "revision": 1, "tree_size": 1, "root": "0" * 64}
        a.write(DayClosing(head="{}", signature="", certificate="", **day))


# --- ends


def test_the_end_brings_the_quantity(plant: Plant) -> None:
    """Nothing is known while it runs; at its end both vessels have their quantity."""
    row = running(plant)
    assert contents_at(NOW)["silo-a"].quantity is None
    end_movement(plant.actor("ines"), row.number, end())
    contents = contents_at(NOW)
    assert (contents["silo-a"].quantity, contents["finished-1"].quantity) == (Decimal(200), Decimal(300))


def test_an_end_is_recorded_once(plant: Plant) -> None:
    """The same again is the same; other content shows what was saved."""
    row, ines = running(plant), plant.actor("ines")
    first = end_movement(ines, row.number, end())
    assert end_movement(ines, row.number, end()).number == first.number
    with pytest.raises(DifferentContent):
        end_movement(ines, row.number, end(quantity_typed="310"))
    assert MovementEnd.objects.count() == 1


def test_an_unknown_quantity_is_a_choice(plant: Plant) -> None:
    """It ended, and how much it was is not known: said so, and the book says unknown."""
    row = running(plant)
    saved = end_movement(plant.actor("ines"), row.number, end(quantity_typed="", unit="", measured_by="unknown"))
    assert (saved.quantity, saved.measured_by) == (None, "unknown")
    assert contents_at(NOW)["silo-a"].quantity is None


def test_emptied_at_the_end_is_a_level_of_nothing(plant: Plant) -> None:
    """The rest of the book is a loss that somebody signed; a large one is a deviation."""
    row = running(plant)
    end_movement(plant.actor("ines"), row.number, end(emptied=True))
    level = LevelSeen.objects.get()
    assert (level.quantity, level.book, level.difference) == (0, 200, -200)
    silo = contents_at(NOW)["silo-a"]
    assert (silo.holds, silo.condition) == (False, "empty and dirty")
    # 200 of 3,000 gal is more than the plan's five percent.
    assert Deviation.objects.get().cause == "book"


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"ended_at": NOW - 2 * HOUR}, "ended_at"),
        ({"ended_at": NOW + HOUR}, "ended_at"),
        ({"quantity_typed": "x"}, "quantity"),
    ],
)
def test_a_nonsense_end_is_refused(plant: Plant, changes: dict[str, Any], field: str) -> None:
    """Beside its field, and nothing is written."""
    row = running(plant)
    with pytest.raises(Refused) as caught:
        end_movement(plant.actor("ines"), row.number, end(**changes))
    assert caught.value.field == field
    assert not MovementEnd.objects.exists()


def test_what_has_ended_does_not_end_again(plant: Plant) -> None:
    """A movement with its own end, an amended one, one that is none."""
    ines = plant.actor("ines")
    row = moved(ines)
    for number in (row.number, 999_999):
        with pytest.raises(Refused):
            end_movement(ines, number, end())


def test_an_end_past_the_capacity_is_a_book_deviation(plant: Plant) -> None:
    """Found when the quantity comes."""
    row = running(plant)
    moved(plant.actor("ines"), started_at=NOW - 2 * HOUR, quantity_typed="1500")
    end_movement(plant.actor("ines"), row.number, end(quantity_typed="1000"))
    assert "Finished 1: the book says 1000 gal" in Deviation.objects.get().sentence


def test_a_wash_during_the_movement_is_found_at_its_end(plant: Plant) -> None:
    """The line was washed at ten past, the movement ended at half past: the lot is held."""
    row, ines = running(plant), plant.actor("ines")
    record_wash(ines, wash("press-1", NOW - timedelta(minutes=20)))
    end_movement(ines, row.number, end())
    said = Deviation.objects.filter(sentence__contains="washed while product moved")
    assert {one.subject for one in said} == {"press-1", "silo-a", "finished-1"}
    assert {str(one.lot) for one in Hold.objects.all()} == {str(row.target_lot), *row.source_lots}


# --- amendments


def test_the_last_of_a_line_stands(plant: Plant) -> None:
    """500, then 450, then 460: the book has 460."""
    ines = plant.actor("ines")
    row = moved(ines)
    second = amend_movement(ines, row.number, movement(quantity_typed="450"), "read again")
    amend_movement(ines, second.number, movement(quantity_typed="460"), "and again")
    assert contents_at(NOW)["silo-a"].quantity == 460


def test_a_movement_is_amended_once(plant: Plant) -> None:
    """Each has one successor, so that they form a line."""
    ines = plant.actor("ines")
    row = moved(ines)
    amend_movement(ines, row.number, movement(quantity_typed="450"), "read again")
    with pytest.raises(Refused, match="already"):
        amend_movement(ines, row.number, movement(quantity_typed="470"), "read again")


def test_a_repeated_amendment_is_saved_once(plant: Plant) -> None:
    """A double tap on the amendment."""
    ines = plant.actor("ines")
    row, data = moved(ines), movement(quantity_typed="450")
    first = amend_movement(ines, row.number, data, "read again")
    count = Entry.objects.count()
    assert amend_movement(ines, row.number, data, "read again").number == first.number
    assert Entry.objects.count() == count
    with pytest.raises(DifferentContent):
        amend_movement(ines, row.number, replace(data, quantity_typed="451"), "read again")


def test_what_did_not_happen_is_void(plant: Plant) -> None:
    """The vessel is as if it had not been; the row stays."""
    ines = plant.actor("ines")
    row = moved(ines)
    amend_movement(ines, row.number, movement(), "wrong plant", void=True)
    assert not contents_at(NOW)["silo-a"].holds
    assert Movement.objects.count() == 2


def test_an_amendment_needs_its_reason(plant: Plant) -> None:
    """Refused beside the reason."""
    ines = plant.actor("ines")
    with pytest.raises(Refused) as caught:
        amend_movement(ines, moved(ines).number, movement(), "  ")
    assert caught.value.field == "amend_reason"


def test_an_amended_first_fill_keeps_its_lot(plant: Plant) -> None:
    """The lot was born with the movement; its successor goes on with it."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 3 * HOUR)
    row = moved(ines)
    new = amend_movement(ines, row.number, movement(started_at=NOW - HOUR, quantity_typed="450"), "read again")
    assert new.target_lot == row.target_lot
    assert Lot.objects.count() == 1
    assert contents_at(NOW)["silo-a"].lot == row.target_lot


def test_an_amendment_releases_and_closes_nothing(plant: Plant) -> None:
    """It did not go into the finished tank after all: the deviation and the hold stay for somebody to answer."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 4 * HOUR)
    moved(ines, started_at=NOW - 3 * HOUR)
    row = moved(ines, source="silo-a", source_name="", target="finished-1")
    amend_movement(ines, row.number, movement(source="silo-a", source_name="", target="finished-1"), "slip", void=True)
    assert (Deviation.objects.count(), Hold.objects.count()) == (1, 1)


def test_an_amended_run_keeps_its_name(plant: Plant) -> None:
    """The checks of the run are named after its first number, whatever was amended since."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 4 * HOUR)
    moved(ines, started_at=NOW - 3 * HOUR)
    row = ran(ines)
    second = amend_movement(ines, row.number, pasteurized(quantity_typed="290"), "read again")
    amend_movement(ines, second.number, pasteurized(quantity_typed="295"), "read again")
    (run,) = facts_between(NOW - HOUR, NOW).runs
    assert run.id == str(row.number)


# --- who may amend


def test_ones_own_until_the_day_closes(plant: Plant) -> None:
    """Afterwards a supervisor, not oneself."""
    row = moved(plant.actor("ines"))
    close_day(plant)
    with pytest.raises(Refused, match="closed"):
        amend_movement(plant.actor("ines"), row.number, movement(), "late")
    amended = amend_movement(plant.actor("wren"), row.number, movement(quantity_typed="450"), "ticket")
    assert amended.amends == row.number


def test_a_supervisor_amends_not_ones_own_after_closing(plant: Plant) -> None:
    """Somebody else has to."""
    row = moved(plant.actor("wren"))
    close_day(plant)
    with pytest.raises(Refused, match="somebody else"):
        amend_movement(plant.actor("wren"), row.number, movement(), "late")


def test_anothers_movement_is_for_a_supervisor(plant: Plant) -> None:
    """An operator amends nobody else's."""
    row = moved(plant.actor("ines"))
    with pytest.raises(Refused, match="Ines Alder"):
        amend_movement(plant.actor("tomas"), row.number, movement(), "late")
    assert amend_movement(plant.actor("wren"), row.number, movement(quantity_typed="450"), "ticket").number


def test_a_void_wash_leaves_the_vessel_dirty(plant: Plant) -> None:
    """A wash keyed for the wrong tank is taken back, and the tank is not clean."""
    ines = plant.actor("ines")
    row = washed(ines, "silo-a", NOW - 2 * HOUR)
    assert contents_at(NOW)["silo-a"].condition == "sanitized"
    data = wash("silo-a", NOW - 2 * HOUR)
    amend_wash(ines, row.number, data, "it was the whole tank", void=True)
    assert amend_wash(ines, row.number, data, "it was the whole tank", void=True).amends == row.number
    assert contents_at(NOW)["silo-a"].condition == "empty and dirty"
    with pytest.raises(Refused):
        amend_wash(ines, row.number, replace(data, form_id=uuid.uuid4()), "again")


def test_a_fill_recorded_again_after_a_void_one(plant: Plant) -> None:
    """The vessel's next movement is not bound to what did not happen."""
    ines = plant.actor("ines")
    row = moved(ines)
    amend_movement(ines, row.number, movement(), "wrong day", void=True)
    again = record_movement(ines, movement(quantity_typed="480"))
    assert contents_at(NOW)["silo-a"].quantity == 480
    assert again.target_lot is not None
