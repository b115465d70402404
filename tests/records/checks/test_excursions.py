"""One excursion, one deviation; what ends it, what it reaches, and what amending does not undo."""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest

from records.checks import watch
from records.checks.actions import amend_reading
from records.checks.models import Transition, WatchState
from records.deviations.actions import record_correction
from records.deviations.models import Correction, Deviation, DeviationCause, Hold, HoldLift
from records.deviations.queries import is_closed
from tests.conftest import NOW, Plant
from tests.records.checks.made import FILLED, fill_silo, read, seals, silo
from tests.records.flow.made import moved

POINT = {"control_point": "raw-storage", "subject": "silo-a"}


def of_the_silo() -> list[Deviation]:
    """The silo's deviations at its storage control point."""
    return list(Deviation.objects.filter(**POINT, cause__in=["not met", "not proven", "missed"]).order_by("number"))


def test_readings_of_one_excursion_share_a_deviation(plant: Plant) -> None:
    """Three readings out of limits, one met among them, are causes of one deviation."""
    fill_silo(plant)
    numbers = []
    for typed in ("46.4", "44", "47"):
        numbers.append(read(plant, typed).reading.number)
        plant.clock.on(minutes=15)
    (one,) = of_the_silo()
    causes = DeviationCause.objects.filter(deviation=one.number).values_list("cause_number", flat=True)
    assert list(causes) == [numbers[0], numbers[2]]


def test_two_met_in_a_row_end_it_and_the_next_opens_another(plant: Plant) -> None:
    """After two readings in limits a new one out of limits is a new excursion, though the first is still open."""
    fill_silo(plant)
    for typed in ("46.4", "44", "43", "46"):
        read(plant, typed)
        plant.clock.on(minutes=15)
    first, second = of_the_silo()
    assert second.chain == f"raw-storage|silo-a|{first.number}"
    assert not is_closed(first.number)


def test_a_deviation_reaches_back_to_the_last_reading_in_limits(plant: Plant) -> None:
    """Since when: the last reading in limits."""
    fill_silo(plant)
    plant.at(NOW - timedelta(hours=2))
    read(plant, "38")
    plant.at(NOW)
    read(plant, "46")
    assert of_the_silo()[0].since_at == NOW - timedelta(hours=2)


def test_without_an_earlier_reading_it_reaches_back_to_the_fill(plant: Plant) -> None:
    """Nothing says that it was cold before: all that the vessel held is touched."""
    fill_silo(plant)
    read(plant, "46")
    assert of_the_silo()[0].since_at == FILLED


def test_what_left_the_vessel_in_the_window_is_held_too(plant: Plant) -> None:
    """Milk that went to another tank since the last good reading is held by name."""
    fill_silo(plant)
    plant.at(NOW - timedelta(hours=2))
    read(plant, "38")
    plant.at(NOW)
    gone = moved(
        plant.actor("ines"), source="silo-a", source_name="", target="", target_name="Tank truck",
        started_at=NOW - timedelta(hours=1), quantity_typed="200",
    )  # fmt: skip
    saved = read(plant, "46")
    held = set(Hold.objects.filter(deviation=saved.deviation.number).values_list("lot", flat=True))
    assert saved.reading.lot in held
    assert gone.target_lot is None or gone.target_lot in held


def test_a_first_met_reading_holds_what_came_in_meanwhile(plant: Plant) -> None:
    """The window ends with the reading in limits: a fill after a clean break in between is held as well."""
    fill_silo(plant)
    saved = read(plant, "46")
    plant.clock.on(minutes=5)
    by = plant.actor("ines")
    moved(by, source="silo-a", source_name="", target="", target_name="Drain", quantity_typed="2000",
          started_at=NOW + timedelta(minutes=1), ended_at=NOW + timedelta(minutes=4), emptied=True)  # fmt: skip
    plant.clock.on(hours=1)
    from tests.records.flow.made import made_ready

    made_ready(by, plant.clock(), "silo-a")
    plant.clock.on(minutes=30)
    fresh = moved(by, quantity_typed="300", started_at=plant.clock() - timedelta(minutes=10), ended_at=plant.clock())
    plant.clock.on(minutes=5)
    read(plant, "40")
    held = set(Hold.objects.filter(deviation=saved.deviation.number).values_list("lot", flat=True))
    assert fresh.target_lot in held and fresh.target_lot != saved.reading.lot


def test_a_missed_check_and_the_reading_after_it_share_a_deviation(plant: Plant) -> None:
    """Nothing recorded, then out of limits: one cause, one deviation."""
    watch.begin_at(NOW - timedelta(hours=4))
    fill_silo(plant)
    plant.at(NOW + timedelta(hours=5))  # 14:30: the shift's check of 06:00 was missed at the shift's end
    WatchState.objects.update(looked_at=plant.clock() - timedelta(minutes=1))  # no outage: the watch ran
    watch.look()
    missed = Transition.objects.get(what="missed", monitoring_key="silo-shift")
    saved = read(plant, "46")
    causes = DeviationCause.objects.filter(cause_number=missed.number).values_list("deviation", flat=True)
    assert saved.deviation is not None and list(causes) == [saved.deviation.number]


def test_two_good_temperatures_do_not_end_what_a_broken_seal_began(plant: Plant) -> None:
    """Readings of another limit at the same place are another story."""
    from records.checks.actions import record_reading

    by = plant.actor("ines")
    first = record_reading(by, seals("no"))
    for _again in range(2):
        plant.clock.on(minutes=5)
        pair = seals("165", typed_second="164", monitoring_key="press-thermometers", unit="°F")
        assert record_reading(by, pair).verdict.outcome == "met"
    plant.clock.on(minutes=5)
    second = record_reading(by, seals("no"))
    assert first.deviation.number == second.deviation.number


def test_amending_to_met_closes_and_releases_nothing(plant: Plant) -> None:
    """Whoever amends does not dispose: deviation and hold stay."""
    fill_silo(plant)
    saved = read(plant, "46.4")
    amended = amend_reading(plant.actor("ines"), saved.reading.number, silo("36.4"), "slip", day_closed=False)
    assert amended.verdict.outcome == "met" and amended.verdict.follows == saved.verdict.number
    assert not is_closed(saved.deviation.number)
    assert Hold.objects.filter(deviation=saved.deviation.number).exists() and not HoldLift.objects.exists()


def test_amending_to_not_met_opens_a_deviation(plant: Plant) -> None:
    """The amended number governs from now on."""
    fill_silo(plant)
    saved = read(plant, "38")
    amended = amend_reading(plant.actor("ines"), saved.reading.number, silo("48"), "misread", day_closed=False)
    assert amended.deviation is not None and of_the_silo() == [amended.deviation]


def test_an_amendment_of_a_bad_reading_stays_in_its_deviation(plant: Plant) -> None:
    """46.4 amended to 47.4 is the same excursion."""
    fill_silo(plant)
    saved = read(plant, "46.4")
    amended = amend_reading(plant.actor("ines"), saved.reading.number, silo("47.4"), "misread", day_closed=False)
    assert amended.deviation.number == saved.deviation.number and len(of_the_silo()) == 1


def test_a_quality_check_opens_no_deviation(plant: Plant) -> None:
    """A trap with a catch is a matter for a correction."""
    from records.checks.actions import record_reading
    from records.checks.entry import ReadingData

    places = {str(one): "ok" for one in range(1, 21)} | {"4": "not ok"}
    data = ReadingData(form_id=uuid.uuid4(), subject="traps", monitoring_key="traps", places=places)
    saved = record_reading(plant.actor("ines"), data)
    assert saved.verdict.outcome == "not met" and saved.deviation is None
    record_correction(
        plant.actor("ines"), None, subject_kind="reading", subject_number=saved.reading.number,
        control_point="pests", subject="traps", text="Trap replaced", form_id=uuid.uuid4(),
    )  # fmt: skip
    assert Correction.objects.count() == 1


@pytest.mark.parametrize("why", ["The probe is broken", "Nobody was free"])
def test_not_taken_at_a_ccp_is_a_deviation(plant: Plant, why: str) -> None:
    """Not proven, with the reason kept; what the silo holds is held."""
    fill_silo(plant)
    saved = read(plant, "", not_taken=why)
    assert saved.verdict.outcome == "not proven" and why in saved.verdict.reason
    assert saved.deviation is not None and Hold.objects.filter(deviation=saved.deviation.number).exists()
