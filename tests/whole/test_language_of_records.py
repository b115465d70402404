"""Records speak the plant's language, whoever is at the screen and whatever their browser asks for."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from datetime import timedelta

import pytest
from django.utils import translation

from plant import clock
from plant.people.models import Person
from records.checks import escalation, watch
from records.checks.actions import record_reading
from records.checks.entry import ReadingData
from records.checks.models import Transition
from records.deviations.actions import open_outage, record_correction
from records.deviations.models import Deviation, Hold
from records.flow.actions import record_movement
from records.flow.data import MovementData
from records.flow.errors import Several
from records.people.plans import plan_in_force
from tests.conftest import SetClock, actor_of
from tests.records.receiving.made import brought
from tests.whole.test_second_plant import EVENING, crew, wash_and_fill

__all__ = ["crew"]  # the fixture


@pytest.fixture(autouse=True)
def english_at_the_screen() -> Iterator[None]:
    """Every test here runs as an English-speaking person's request would."""
    with translation.override("en"):
        yield


def too_warm(crew: dict[str, Person]) -> None:
    """Nuria reads 7,5 °C."""
    data = ReadingData(form_id=uuid.uuid4(), subject="tanque", monitoring_key="temperatura", typed="7,5")
    record_reading(actor_of(crew["nuria"], "operator"), data)


def test_a_deviation_and_its_hold_are_written_in_the_plants_language(
    crew: dict[str, Person], set_clock: SetClock
) -> None:
    """The reading's reason, the lot's name, the hold's reason."""
    set_clock.at(EVENING + timedelta(minutes=70))
    wash_and_fill(crew)
    too_warm(crew)
    hold = Hold.objects.get()
    assert "por encima del límite de 6 °C" in hold.reason
    assert hold.lot_label.startswith("Tanque único, Leche cruda, desde ")
    assert "above" not in hold.reason


def test_what_the_watch_finds_is_written_in_the_plants_language(
    crew: dict[str, Person], set_clock: SetClock
) -> None:
    """A check that nobody answered, and the notice about it: the watch itself has no language."""
    for minutes in range(0, 13 * 60, 30):  # no longer away than the watch may be
        set_clock.at(EVENING + timedelta(minutes=minutes))
        watch.look()
    escalation.escalate()
    missed = Transition.objects.filter(what="missed").first()
    told = Transition.objects.filter(what="told").first()
    assert missed is not None and ", previsto " in missed.sentence and missed.sentence.endswith("se omitió")
    assert told is not None and told.sentence.startswith("Aviso a supervisor: ")


def test_a_movement_that_was_wrong_is_told_in_the_plants_language_and_refused_in_the_persons(
    crew: dict[str, Person], set_clock: SetClock
) -> None:
    """The tank was not washed: who starts now reads why in English; once it has happened the record is Spanish."""
    set_clock.at(EVENING + timedelta(minutes=70))
    nuria = actor_of(crew["nuria"], "operator")
    data = MovementData(
        form_id=uuid.uuid4(), source="", source_name="Sala de ordeño", target="tanque", product="leche-cruda",
        started_at=clock.now(), start_now=True,
    )  # fmt: skip
    with pytest.raises(Several) as refused:
        record_movement(nuria, data)
    assert "was not washed before this product" in str(refused.value.sentences)
    happened = MovementData(
        form_id=uuid.uuid4(), source="", source_name="Sala de ordeño", target="tanque", product="leche-cruda",
        started_at=clock.now() - timedelta(minutes=20), ended_at=clock.now(), quantity_typed="900", unit="L",
        measured_by="level",
    )  # fmt: skip
    brought(nuria, happened)
    assert "no se lavó antes de este producto" in Deviation.objects.get().sentence


def test_an_outage_and_a_repeated_correction_are_written_in_the_plants_language(
    crew: dict[str, Person], set_clock: SetClock
) -> None:
    """Both sentences are the book's own."""
    in_force = plan_in_force(clock.now())
    nuria = actor_of(crew["nuria"], "operator")
    _outage, deviation = open_outage(nuria, in_force, "power", EVENING - timedelta(hours=1), [])
    assert deviation.sentence == "corte de electricidad."
    for number in (1, 2):
        _row, repeated = record_correction(
            nuria, in_force, subject_kind="reading", subject_number=number, control_point="higiene", subject="sala",
            text="Se fregó otra vez.", form_id=uuid.uuid4(),
        )  # fmt: skip
    assert repeated is not None and repeated.sentence.endswith("hubo que corregir lo mismo otra vez en menos de un día")
