"""Held product: what bars a release, two signatures by two people, and holds that are not placed twice."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta

import pytest

from plant import clock
from records.deviations import holds, queries
from records.deviations.errors import Refused
from records.deviations.models import Disposition, Hold, HoldLift
from records.ledger.actions import WATCH, act
from tests.conftest import NOW, Plant
from tests.records.deviations.made import disposed, read, the_hold, warm

LOT = uuid.UUID(int=7)


def held(bars: str = "", *, since: datetime = NOW, deviation: int | None = 1, reason: str = "warm") -> Hold:
    """A lot held by the watch."""
    with act(WATCH) as a:
        return holds.place_on_hold(
            a, lot=LOT, lot_label="Silo A, raw milk", vessel="silo-a", since_at=since, reason=reason,
            deviation=deviation, bars_release=bars,
        )  # fmt: skip


# Foundations of this book, after the Grade "A" Pasteurized Milk Ordinance (from memory): unpasteurized product is never
# released on results, residue-positive milk is not processed for food at all.
@pytest.mark.parametrize(
    ("bars", "never"),
    [
        ("pasteurization", {"release", "rework", "sent to another use"}),
        ("residue", {"release", "rework", "sent to another use", "pasteurize again"}),
        ("something later", {"release", "rework", "sent to another use", "pasteurize again", "destroy"}),
    ],
)
def test_a_bar_leaves_only_what_it_leaves(plant: Plant, bars: str, never: set[str]) -> None:
    """What is never possible is refused, whoever proposes it; the rest is allowed."""
    hold = held(bars)
    assert set(holds.allowed_dispositions(hold)) == set(holds.DISPOSITIONS) - never
    for what in never:
        with pytest.raises(Refused):
            holds.propose_disposition(plant.actor("odile"), hold, what, "The counts were fine.")
    assert not Disposition.objects.exists()


def test_another_hold_of_the_same_lot_bars_it_too(plant: Plant) -> None:
    """Two holds on one lot: the stricter governs both while it is open."""
    warm_one = held()
    held("pasteurization", deviation=2)
    assert "release" not in holds.allowed_dispositions(warm_one)


def test_a_bar_that_came_after_the_proposal_stops_the_second_signature(plant: Plant) -> None:
    """Proposed as a release, then the lot turns out to have missed pasteurization."""
    hold = held()
    said = holds.propose_disposition(plant.actor("wren"), hold, "release", "Cooled.")
    held("pasteurization", deviation=2)
    with pytest.raises(Refused):
        holds.sign_disposition(plant.actor("odile"), said)
    assert not HoldLift.objects.exists()


def test_as_the_regulator_wrote_wants_the_letter(plant: Plant) -> None:
    """Without it nothing is written."""
    hold = held("residue")
    with pytest.raises(Refused) as refused:
        holds.propose_disposition(plant.actor("wren"), hold, "as the regulator wrote", "They wrote.")
    assert refused.value.field == "letter" and not Disposition.objects.exists()


def test_the_second_signature_is_another_persons(plant: Plant) -> None:
    """Who proposed cannot sign; who read cannot either."""
    hold = the_hold(warm(plant))
    said = holds.propose_disposition(plant.actor("wren"), hold, "release", "Cooled.")
    for by in (plant.actor("wren"), plant.people.actor("ines", "supervisor")):
        with pytest.raises(Refused):
            holds.sign_disposition(by, said)
    holds.sign_disposition(plant.actor("odile"), said)
    assert not queries.open_holds_of(hold.lot).filter(number=hold.number).exists()


def test_a_disposition_that_was_replaced_cannot_be_signed(plant: Plant) -> None:
    """The newest governs."""
    hold = held()
    first = holds.propose_disposition(plant.actor("wren"), hold, "release", "Cooled.")
    holds.propose_disposition(plant.actor("wren"), hold, "destroy", "It smells.")
    with pytest.raises(Refused, match="since"):
        holds.sign_disposition(plant.actor("odile"), first)


def test_proposing_and_signing_twice_write_once(plant: Plant) -> None:
    """A double tap of either."""
    hold = held()
    said = [holds.propose_disposition(plant.actor("wren"), hold, "release", "Cooled.") for _ in range(2)]
    lifts = [holds.sign_disposition(plant.actor("odile"), said[0]) for _ in range(2)]
    assert said[0].number == said[1].number and lifts[0].number == lifts[1].number


def test_the_same_hold_is_placed_once_an_earlier_moment_or_a_bar_is_another(plant: Plant) -> None:
    """A later moment of the same matter is covered; an earlier one reaches further; a bar weighs more."""
    first = held()
    assert held().number == held(since=NOW + timedelta(hours=1)).number == first.number
    earlier = held(since=NOW - timedelta(hours=1))
    barred = held("pasteurization", since=NOW - timedelta(hours=1))
    assert len({first.number, earlier.number, barred.number}) == Hold.objects.count() == 3
    assert {one.deviation for one in Hold.objects.all()} == {1}


def test_a_matter_without_deviation_is_held_once_for_each_reason(plant: Plant) -> None:
    """By hand: the same reason again is the same hold."""
    assert held(deviation=None).number == held(deviation=None).number
    assert held(deviation=None, reason="smell").number != held(deviation=None).number


def test_product_released_and_warm_again_is_held_again_from_the_release_on(plant: Plant) -> None:
    """The excursion went on after the release."""
    deviation = warm(plant)
    disposed(plant, the_hold(deviation))
    plant.clock.on(minutes=20)
    read(plant, "46.4")
    again = queries.open_holds().get(deviation=deviation.number)
    lift = HoldLift.objects.get()
    assert again.since_at == lift.received_at


def test_product_destroyed_is_not_held_again(plant: Plant) -> None:
    """What two people disposed of for good stays settled, though the excursion goes on."""
    deviation = warm(plant)
    disposed(plant, the_hold(deviation), "destroy")
    plant.clock.on(minutes=20)
    read(plant, "46.4")
    assert not queries.open_holds().filter(deviation=deviation.number).exists()


def test_a_hold_by_hand_needs_a_reason(plant: Plant) -> None:
    """Nothing is written without."""
    with pytest.raises(Refused):
        holds.hold_by_hand(
            plant.actor("ines"), lot=LOT, lot_label="x", vessel="silo-a", since_at=clock.now(), reason=" "
        )
    assert not Hold.objects.exists()
