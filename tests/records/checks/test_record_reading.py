"""A plausible number is kept at once, with its verdict and what follows from it."""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest

from records.checks.actions import DifferentContent, record_reading
from records.checks.entry import Nonsense, ReadingData
from records.checks.models import Reading
from records.deviations.models import Deviation, Hold
from records.flow.data import MovementData
from tests.conftest import NOW, Plant
from tests.kept import acted_once
from tests.records.receiving.made import brought


@acted_once
def fill_silo(plant: Plant) -> None:
    """Two thousand gallons of raw milk in the silo since 06:00."""
    brought(
        plant.actor("ines"),
        MovementData(
            form_id=uuid.uuid4(), source="", source_name="Nettle Farm", target="silo-a", product="raw-milk",
            started_at=NOW - timedelta(hours=3, minutes=30), ended_at=NOW - timedelta(hours=3),
            quantity_typed="2000", unit="gal", measured_by="level",
        ),
    )


def silo(typed: str, **changes: object) -> ReadingData:
    """A reading of the silo with agitator and bulb answered yes."""
    values = {"form_id": uuid.uuid4(), "subject": "silo-a", "monitoring_key": "silo-shift", "typed": typed,
              "agitator_ran": True, "bulb_covered": True}
    return ReadingData(**(values | changes))  # type: ignore[arg-type]


def test_a_reading_in_limits_is_met_and_opens_nothing(plant: Plant) -> None:
    """38.4 °F is met."""
    fill_silo(plant)
    before = Deviation.objects.count()  # the silo was not sanitized before the fill: a matter of its own
    saved = record_reading(plant.actor("ines"), silo("38.4"))
    assert saved.verdict is not None and saved.verdict.outcome == "met"
    assert saved.deviation is None and Deviation.objects.count() == before


def test_a_reading_out_of_limits_opens_a_deviation_and_holds_the_lot(plant: Plant) -> None:
    """46.4 °F is not met; the lot in the silo is held from the first sign."""
    fill_silo(plant)
    before = set(Deviation.objects.values_list("number", flat=True))
    saved = record_reading(plant.actor("ines"), silo("46.4"))
    assert saved.verdict is not None and saved.verdict.outcome == "not met"
    assert saved.deviation is not None and saved.deviation.number not in before
    assert Hold.objects.filter(lot=saved.reading.lot, deviation=saved.deviation.number).count() == 1


def test_the_same_form_again_writes_nothing(plant: Plant) -> None:
    """A double tap answers as the first time."""
    data = silo("38.4")
    first = record_reading(plant.actor("ines"), data)
    again = record_reading(plant.actor("ines"), data)
    assert again.again and again.reading.number == first.reading.number
    assert Reading.objects.count() == 1


def test_the_same_form_with_other_content_is_refused(plant: Plant) -> None:
    """The back button shows what was saved."""
    data = silo("38.4")
    record_reading(plant.actor("ines"), data)
    with pytest.raises(DifferentContent):
        record_reading(plant.actor("ines"), silo("39.4", form_id=data.form_id))


@pytest.mark.parametrize("typed", ["", "abc", "3..8", "38,4", "3500", "-80", "1e99", "٣٨"])
def test_nonsense_is_refused_beside_the_field(plant: Plant, typed: str) -> None:
    """Letters, two marks, a comma, or what the thermometer cannot show keeps nothing."""
    with pytest.raises(Nonsense) as refused:
        record_reading(plant.actor("ines"), silo(typed))
    assert refused.value.field == "typed" and not Reading.objects.exists()
