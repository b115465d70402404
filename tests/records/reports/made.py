"""A day of the small plant, made through the actions: milk in, checks answered, one out of limits, one amended."""

from __future__ import annotations

import uuid
from datetime import UTC, date, datetime, timedelta
from typing import Any

from records.checks import queries
from records.checks.actions import amend_reading, record_reading, write_note
from records.checks.entry import ReadingData
from records.checks.queries import DueCheck
from records.flow.actions import record_wash
from records.flow.data import MovementData, WashData
from records.review import actions as review
from tests.conftest import Plant
from tests.kept import acted_once
from tests.records.receiving.made import brought

DAY = date(2026, 3, 3)
START = datetime(2026, 3, 3, 11, tzinfo=UTC)  # 05:00 in Chicago
SCRIPT = "<script>alert('milk')</script>"


def at(hours: float) -> datetime:
    """So many hours after the day's start."""
    return START + timedelta(hours=hours)


@acted_once
def live(plant: Plant) -> None:
    """The day, to its end; the clock stands at six the next morning."""
    ines, tomas, wren = plant.actor("ines"), plant.actor("tomas"), plant.actor("wren")
    plant.at(at(0.1))
    review.name_in_charge(wren, DAY, "early", plant.people.ines)
    review.name_in_charge(wren, DAY, "late", plant.people.tomas)
    wash(plant, "silo-a", 0.1)
    plant.at(at(1))
    fill(plant)
    plant.at(at(1.2))
    answer(plant, "silo-shift", "38.4", note=SCRIPT)
    plant.at(at(2.1))
    pair(plant)
    plant.at(at(5.2))
    warm = record_reading(ines, reading("silo-holding", "46.4"))
    write_note(ines, warm.reading, "Chilled water opened.", uuid.uuid4())
    for hours, typed in ((5.5, "41.0"), (5.75, "39.2")):
        plant.at(at(hours))
        record_reading(ines, reading("silo-holding", typed))
    plant.at(at(9.1))
    slip = record_reading(tomas, reading("silo-shift", "83.4"))
    plant.at(at(9.2))
    amend_reading(tomas, slip.reading.number, reading("silo-shift", "38.4"), "two digits swapped", day_closed=False)
    plant.at(at(25))


def reading(key: str, typed: str, **changes: Any) -> ReadingData:
    """A reading of the silo with agitator and bulb answered yes."""
    values: dict[str, Any] = {"agitator_ran": True, "bulb_covered": True, **changes}
    return ReadingData(uuid.uuid4(), "silo-a", key, typed=typed, **values)


def answer(plant: Plant, key: str, typed: str, **changes: Any) -> None:
    """The silo's check, answered by Ines."""
    record_reading(plant.actor("ines"), reading(key, typed, **changes))


def pair(plant: Plant) -> None:
    """Both thermometers of the press agree."""
    data = ReadingData(uuid.uuid4(), "press-1", "press-thermometers", typed="164.2", typed_second="164.0")
    record_reading(plant.actor("ines"), data)


def fill(plant: Plant) -> None:
    """Two thousand gallons of raw milk into the silo, from the day's first quarter of an hour on."""
    data = MovementData(
        uuid.uuid4(), "", "silo-a", "raw-milk", at(0.3), "Nettle Farm", ended_at=at(0.8), quantity_typed="2000",
        unit="gal", measured_by="level",
    )  # fmt: skip
    brought(plant.actor("ines"), data)


def wash(plant: Plant, vessel: str, hours: float) -> None:
    """The vessel washed and then sanitized, seen done at `hours`."""
    for what, start, end in (("washed", hours - 0.1, hours - 0.05), ("sanitized", hours - 0.05, hours)):
        data = WashData(uuid.uuid4(), what, vessel, at(start), at(end), "circuit 1", "165", "°F")  # type: ignore[arg-type]
        record_wash(plant.actor("ines"), data)


def due(now: datetime) -> list[DueCheck]:
    """The day's checks as they stand."""
    return queries.due_between(START, START + timedelta(days=1), now)


def closed(plant: Plant) -> None:
    """The day lived and closed by Wren."""
    live(plant)
    review.close_day(plant.actor("wren"), DAY)


def signed(plant: Plant) -> None:
    """The day closed and signed by both."""
    closed(plant)
    plant.at(at(25.1))
    review.sign_sheet(plant.actor("tomas"), DAY, review.OPERATOR_IN_CHARGE)
    plant.at(at(26))
    review.sign_sheet(plant.actor("wren"), DAY, review.SUPERVISOR)
