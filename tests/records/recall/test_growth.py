"""History changed after a scope was closed: a lifted hold or ended recall that reached more opens one deviation."""

from __future__ import annotations

import uuid
from collections import Counter
from datetime import datetime

import pytest

from records.deviations.holds import DESTROY, hold_by_hand, propose_disposition, sign_disposition
from records.deviations.models import Deviation, DeviationCause, Hold
from records.flow import lineage
from records.flow.actions import amend_movement
from records.flow.models import Movement
from records.recall import growth, watch
from records.recall.actions import begin_recall, end_recall
from records.recall.data import EndData, RecallData
from records.recall.models import RecallStep
from records.recall.origins import Asked
from tests.conftest import NOW, Plant
from tests.records.flow.made import HOUR, pasteurized
from tests.records.recall.made import a_day, packed, sent

pytestmark = pytest.mark.django_db


def lifted(plant: Plant, row: Movement, *, since: datetime = NOW - 5 * HOUR, bar: str = "") -> Hold:
    """What a movement went into was held, and destroyed: two signatures."""
    assert row.target_lot is not None
    said = {"lot_label": "Finished 1", "vessel": "finished-1", "since_at": since, "reason": "too warm"}
    hold = hold_by_hand(plant.actor("ines"), lot=row.target_lot, **said)  # type: ignore[arg-type]
    proposed = propose_disposition(plant.actor("wren"), hold, DESTROY, "poured away")
    sign_disposition(plant.actor("odile"), proposed)
    return hold


def looked() -> Counter[str]:
    """What one pass of the watch found."""
    return +watch.look(again=True)


def test_a_lifted_hold_that_reached_more_opens_one_deviation(plant: Plant) -> None:
    """Packs recorded late and gone to a shop: named with whom, held; nothing twice, and one deviation of the scope.

    That they left although it was signed to destroy them is a deviation of their dispatch, as it is written down.
    """
    day, ines = a_day(plant), plant.actor("ines")
    hold = lifted(plant, day["run"])
    assert looked() == {}
    late = packed(ines, "WM 0303 C", started_at=NOW - 3 * HOUR, quantity_typed="20")
    left = sent(ines, "WM 0303 C", quantity_typed="15")
    own = Deviation.objects.get()
    assert "signed was: destroy" in own.sentence and own.subject == left.code
    plant.at(NOW + HOUR / 60)
    assert looked() == {"scope grew": 1}
    found = Deviation.objects.exclude(number=own.number).get()
    assert (found.control_point, found.subject) == (growth.SCOPE, f"hold-{hold.number}")
    assert "Whole milk WM 0303 C (15 gal to Corner shop)" in found.sentence
    new = Hold.objects.get(deviation=found.number)
    assert (new.lot, new.since_at) == (late.target_lot, late.started_at)
    assert set(DeviationCause.objects.values_list("cause_kind", flat=True)) == {"movement", "dispatch"}
    assert looked() == {}
    packed(ines, "WM 0303 D", started_at=NOW - 2 * HOUR, quantity_typed="5")
    assert looked() == {"scope grew": 1} and Deviation.objects.count() == 2


def test_an_amended_movement_grows_a_closed_scope(plant: Plant) -> None:
    """Packs that were said to come from elsewhere came from the held tank."""
    day, ines = a_day(plant), plant.actor("ines")
    other = packed(ines, "WM 0303 E", source="silo-a", started_at=NOW - 3 * HOUR)
    lifted(plant, day["run"])
    values = {"source": "finished-1", "target": "", "target_name": "packed", "via": "", "code": "WM 0303 E"}
    data = pasteurized(**{**values, "started_at": NOW - 3 * HOUR})
    amend_movement(plant.actor("wren"), other.number, data, "it was Finished 1")
    assert looked() == {"scope grew": 1}
    assert "WM 0303 E" in Deviation.objects.get(control_point=growth.SCOPE).sentence


def test_what_moves_after_the_lift_is_no_growth_and_walks_nothing(
    plant: Plant, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Product goes on after a disposition: that is what it was for. Other tanks' movements look at no closed scope."""
    day, ines = a_day(plant), plant.actor("ines")
    lifted(plant, day["run"])
    watch.look(again=True)
    plant.at(NOW + HOUR)
    packed(ines, "WM 0303 F", started_at=NOW + HOUR / 2, quantity_typed="5")
    walked: list[object] = []
    monkeypatch.setattr(growth, "reached_from", lambda *a, **b: walked.append(a) or lineage.reached_from(*a, **b))
    assert not +watch.look() and walked == []


def test_an_ended_recall_that_reached_more_is_told(plant: Plant) -> None:
    """As an open one: written down, a deviation, held; what moved after its end is not asked."""
    day, ines = a_day(plant), plant.actor("ines")
    begun = begin_recall(
        plant.actor("wren"),
        RecallData(uuid.uuid4(), False, "a reason", NOW - HOUR / 2, Asked(entry=day["nettle"].number)),
    )
    end_recall(plant.actor("wren"), EndData(uuid.uuid4(), begun.number, NOW, "all found"))
    plant.at(NOW + HOUR)
    packed(ines, "WM 0303 H", started_at=NOW + HOUR / 2, quantity_typed="5")
    assert looked() == {}
    packed(ines, "WM 0303 G", started_at=NOW - 3 * HOUR, quantity_typed="20")
    sent(ines, "WM 0303 G", quantity_typed="15")
    assert looked() == {"scope grew": 1}
    assert "WM 0303 G (15 gal to Corner shop)" in RecallStep.objects.get().words
    assert Deviation.objects.get().control_point == "recall scope" and looked() == {}
