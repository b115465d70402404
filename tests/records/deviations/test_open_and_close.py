"""One deviation for each excursion; it closes complete and by somebody else; a correction never rescues."""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest

from plant import clock
from records.deviations import actions, queries
from records.deviations.errors import Refused
from records.deviations.models import Correction, CorrectiveAction, Deviation, DeviationClosing
from records.people.plans import plan_in_force
from tests.conftest import Plant
from tests.records.deviations.made import answered, complete, disposed, read, the_hold, warm

# 21 CFR 117.150(a)(2)(i)-(iv), from memory: identify and correct the problem; reduce the likelihood of recurrence;
# evaluate all affected food for safety; prevent affected food from entering commerce.
FOUR_PARTS = {"problem", "recurrence", "evaluation", "product"}


def test_a_reading_out_of_limits_and_the_next_are_one_deviation(plant: Plant) -> None:
    """The second reading is one more cause."""
    first = warm(plant)
    plant.clock.on(minutes=20)
    second = read(plant, "46.0").deviation
    assert second is not None and second.number == first.number
    assert len(queries.causes_of([first.number])[first.number]) == 2


def test_after_two_met_in_a_row_the_next_miss_opens_another_that_names_the_first(plant: Plant) -> None:
    """The excursion has ended: a new deviation, its chain made of the one before it."""
    first = warm(plant)
    for typed in ("41.0", "40.0"):
        plant.clock.on(minutes=15)
        assert read(plant, typed).deviation is None
    plant.clock.on(minutes=15)
    second = read(plant, "46.4").deviation
    assert second is not None and second.number != first.number
    assert second.chain == f"raw-storage|silo-a|{first.number}"


def test_one_met_between_does_not_end_the_excursion(plant: Plant) -> None:
    """Two in a row are wanted."""
    first = warm(plant)
    plant.clock.on(minutes=15)
    read(plant, "41.0")
    plant.clock.on(minutes=15)
    again = read(plant, "46.4").deviation
    assert again is not None and again.number == first.number


def test_the_four_parts_are_wanted_and_a_fifth_when_nothing_foresaw_it(plant: Plant) -> None:
    """21 CFR 117.150(a)(2), and 117.150(b) without a written corrective action."""
    found = warm(plant)
    assert set(queries.parts_wanted(found)) == FOUR_PARTS
    found.foreseen = False
    assert set(queries.parts_wanted(found)) == FOUR_PARTS | {"reanalysis"}


@pytest.mark.parametrize("left_out", sorted(FOUR_PARTS))
def test_it_does_not_close_while_a_part_is_missing(plant: Plant, left_out: str) -> None:
    """Each of the four, and the refusal names it."""
    found = warm(plant)
    for part in FOUR_PARTS - {left_out}:
        actions.write_part(plant.actor("ines"), found, part, "done", uuid.uuid4())
    disposed(plant, the_hold(found))
    with pytest.raises(Refused, match=str(queries.PARTS[left_out])):
        actions.close(plant.actor("wren"), found, "read")


def test_it_does_not_close_while_product_is_held(plant: Plant) -> None:
    """The lot's disposition is missing."""
    found = warm(plant)
    answered(plant, found)
    with pytest.raises(Refused, match="two signatures"):
        actions.close(plant.actor("wren"), found, "read")


def test_whoever_took_the_reading_does_not_close(plant: Plant) -> None:
    """Ines read it; as a supervisor she still could not."""
    found = complete(plant)
    with pytest.raises(Refused, match="somebody else"):
        actions.close(plant.people.actor("ines", "supervisor"), found, "read")
    assert actions.close(plant.actor("wren"), found, "read").deviation == found.number
    assert queries.is_closed(found.number)


def test_closing_twice_answers_as_the_first_time(plant: Plant) -> None:
    """A double tap; another person is told that it is closed."""
    found = complete(plant)
    first = actions.close(plant.actor("wren"), found, "read")
    assert actions.close(plant.actor("wren"), found, "read").number == first.number
    with pytest.raises(Refused):
        actions.close(plant.actor("odile"), found, "read")
    assert DeviationClosing.objects.count() == 1


def test_the_latest_words_of_a_part_govern_and_the_older_stay(plant: Plant) -> None:
    """Written again is another record."""
    found = warm(plant)
    for text in ("Opened the valve.", "Opened the chilled water valve."):
        actions.write_part(plant.actor("ines"), found, "problem", text, uuid.uuid4())
    assert [one.text for one in queries.parts_written(found.number)["problem"]] == [
        "Opened the valve.",
        "Opened the chilled water valve.",
    ]


def test_a_part_is_written_once_for_a_form_and_not_after_closing(plant: Plant) -> None:
    """The same form twice is one record; other words under it are refused; a closed deviation takes none."""
    found, form_id = complete(plant), uuid.uuid4()
    count = CorrectiveAction.objects.count()
    for _ in range(2):
        actions.write_part(plant.actor("ines"), found, "problem", "Again.", form_id)
    with pytest.raises(Refused):
        actions.write_part(plant.actor("ines"), found, "problem", "Other words.", form_id)
    actions.close(plant.actor("wren"), found, "read")
    with pytest.raises(Refused, match="closed"):
        actions.write_part(plant.actor("ines"), found, "problem", "Late.", uuid.uuid4())
    assert CorrectiveAction.objects.count() == count + 1


def test_status_at_a_moment(plant: Plant) -> None:
    """Not known before, open until the closing, closed from then on."""
    found = complete(plant)
    before = found.received_at - timedelta(seconds=1)
    closing_at = plant.clock.on(minutes=5)
    actions.close(plant.actor("wren"), found, "read")
    assert [queries.status_at(found, at) for at in (before, found.received_at, closing_at)] == [
        "not known",
        "open",
        "closed",
    ]


# --- corrections


def corrected(plant: Plant, text: str = "Rinsed.", number: int = 1) -> tuple[Correction, Deviation | None]:
    """A minor matter at the traps, put right by Ines."""
    return actions.record_correction(
        plant.actor("ines"), plan_in_force(clock.now()), subject_kind="reading", subject_number=number,
        control_point="pests", subject="traps", text=text, form_id=uuid.uuid4(),
    )  # fmt: skip


def test_the_same_matter_put_right_twice_in_a_day_is_a_deviation(plant: Plant) -> None:
    """Once is a correction; again within 24 hours is no longer isolated (21 CFR 117.150(c))."""
    _first, none = corrected(plant)
    plant.clock.on(hours=23)
    _second, opened = corrected(plant, number=2)
    assert none is None and opened is not None and opened.cause == "repeated"


def test_the_same_matter_after_more_than_a_day_stays_a_correction(plant: Plant) -> None:
    """24 hours and a minute later."""
    corrected(plant)
    plant.clock.on(hours=24, minutes=1)
    assert corrected(plant, number=2)[1] is None


def test_a_raised_correction_is_closed_by_who_raised_it_not_by_who_corrected(plant: Plant) -> None:
    """Raising is not reading: the supervisor who raised it may close it, Ines who put it right may not."""
    row, _none = corrected(plant)
    raised = actions.raise_correction(plant.actor("wren"), plan_in_force(clock.now()), row, "Third this month.")
    assert queries.readers(raised.number) == {plant.people.ines.id}
    again = actions.raise_correction(plant.actor("odile"), plan_in_force(clock.now()), row, "Once more.")
    assert again.number == raised.number and Deviation.objects.filter(raised_from=row.number).count() == 1


def test_a_correction_without_words_is_refused(plant: Plant) -> None:
    """Nothing is written."""
    with pytest.raises(Refused):
        corrected(plant, text="  ")
    assert not Correction.objects.exists()
