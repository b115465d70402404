"""A rehearsal and a recall from their beginning to the end: what is missing ticks itself; the scope may grow."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal

import pytest
from django.test import Client

from plant.people.models import Person
from records.deviations.models import Deviation, Hold
from records.flow.errors import Refused
from records.recall import state, watch
from records.recall.actions import amend_step, begin_recall, end_recall, record_step
from records.recall.data import EndData, RecallData, StepData
from records.recall.models import RecallBegun, RecallEnded, RecallStep
from records.recall.origins import Asked
from tests.conftest import NOW, Plant
from tests.factories import PASSWORD
from tests.records.flow.made import HOUR
from tests.records.recall.made import a_day, packed, sent

Browser = Callable[[Person], Client]


def begun(plant: Plant, entry: int, *, mock: bool = False) -> int:
    """A recall from an entry; its number."""
    said = RecallData(uuid.uuid4(), mock, "a reason", NOW - HOUR / 2, Asked(entry=entry))
    row = begin_recall(plant.actor("wren"), said)
    assert begin_recall(plant.actor("wren"), said).number == row.number
    return row.number


def step(plant: Plant, recall: int, what: str, **changes: object) -> RecallStep:
    """One thing done, now."""
    values = {"form_id": uuid.uuid4(), "recall": recall, "what": what, "happened_at": NOW, "words": "as the plan says"}
    return record_step(plant.actor("wren"), StepData(**{**values, **changes}))  # type: ignore[arg-type]


def missing(recall: int) -> list[str]:
    """What it lacks, in words."""
    found = state.recall_of(recall)
    assert found is not None
    return state.missing(found)


def test_a_rehearsal_ends_with_its_percentage_and_its_minutes(plant: Plant) -> None:
    """150 gal made; 70 found in house and 77 at the shop: 98 %, after 30 minutes."""
    day = a_day(plant)
    sent(plant.actor("ines"), "WM 0303")
    number = begun(plant, day["nettle"].number, mock=True)
    assert missing(number) == ["Whole milk WM 0303 located", "ended, with its outcome"]
    step(plant, number, "located", code="WM 0303", quantity_typed="70", unit="gal")
    step(plant, number, "located", code="WM 0303", quantity_typed="77", unit="gal", consignee="Corner shop")
    with pytest.raises(Refused):
        step(plant, number, "notice", consignee="Corner shop")
    ended = end_recall(plant.actor("wren"), EndData(uuid.uuid4(), number, NOW, "three gallons short"))
    assert (ended.percent, ended.minutes, ended.made, ended.accounted) == (Decimal(98), 30, 150, 147)
    assert ended.missing == [] and missing(number) == []
    assert not Deviation.objects.exists() and not Hold.objects.exists()


def test_a_recall_lists_what_is_missing_until_it_is_there(plant: Plant) -> None:
    """Notice, check, public, disposal, outcome (21 CFR 117.139(b)); what was destroyed here counts once."""
    day = a_day(plant)
    sent(plant.actor("ines"), "WM 0303")
    number = begun(plant, day["nettle"].number)
    assert len(missing(number)) == 5
    step(plant, number, "notice", consignee="corner shop")
    step(plant, number, "effectiveness check", consignee="Corner shop")
    step(plant, number, "public notice", words="not told: none was sold")
    assert missing(number)[0].startswith("Whole milk WM 0303: all that was made")
    step(plant, number, "located", code="WM 0303", quantity_typed="70", unit="gal")
    back = step(plant, number, "returned", code="WM 0303", quantity_typed="80", unit="gal", consignee="Corner shop")
    step(plant, number, "destroyed", code="WM 0303", quantity_typed="150", unit="gal")
    assert missing(number) == ["ended, with its outcome"]
    said = StepData(uuid.uuid4(), number, "returned", NOW, "Corner shop", "WM 0303", "60", "gal")
    amend_step(plant.actor("wren"), back.number, said, "counted again")
    assert len(missing(number)) == 2
    with pytest.raises(Refused) as refusal:
        step(plant, number, "returned", code="WM 0303", quantity_typed="60", unit="lb")
    assert refusal.value.field == "unit"


def test_a_scope_that_grows_opens_a_deviation_and_holds_what_is_new(plant: Plant) -> None:
    """More was packed from the tank than the book knew when it was begun: written once, held."""
    day = a_day(plant)
    number = begun(plant, day["nettle"].number)
    late = packed(plant.actor("ines"), "WM 0303 C", started_at=NOW - 3 * HOUR, quantity_typed="20")
    assert watch.look(again=True)["scope grew"] == 1
    assert watch.look(again=True)["scope grew"] == 0
    found = state.recall_of(number)
    assert found is not None and [one.code for one in found.packs] == ["WM 0303", "WM 0303 C"]
    assert Deviation.objects.get().control_point == "recall scope"
    assert Hold.objects.get().lot == late.target_lot


def test_the_pages_of_a_recall(plant: Plant, client_for: Browser) -> None:
    """From the scope's page to the end, by forms alone."""
    day = a_day(plant)
    client = client_for(plant.people.wren)
    query = f"?entry={day['nettle'].number}"
    assert client.get(f"/recall/new/{query}").status_code == 200
    assert client.get("/recall/new/").status_code == 302
    started = {"form_id": str(uuid.uuid4()), "kind": "rehearsal", "reason": "twice a year"}
    started["begun_at"] = "2026-03-03T09:00"
    unsigned = client.post(f"/recall/new/{query}", started)
    assert unsigned.status_code == 422 and "twice a year" in unsigned.content.decode()
    signature = {"signer": "wren", "signer_secret": PASSWORD}
    for one in ({"signer": "tomas"}, {"signer_secret": "not this one"}):
        assert client.post(f"/recall/new/{query}", started | signature | one).status_code == 422
    assert not RecallBegun.objects.exists()
    answer = client.post(f"/recall/new/{query}", started | signature)
    address = answer["Location"]
    assert client.get(address).content.decode().count("□") == 2
    kept = {"form_id": str(uuid.uuid4()), "happened_at": "2026-03-03T09:10", "code": "WM 0303", "unit": "gal"}
    wrong = client.post(f"{address}say/located/", kept | {"quantity": "many"})
    assert wrong.status_code == 422 and "many" in wrong.content.decode()
    assert client.post(f"{address}say/located/", kept | {"quantity": "150"}).status_code == 302
    number = RecallStep.objects.get().number
    assert client.get(f"/recall/steps/{number}/amend/").status_code == 200
    ended = {"form_id": str(uuid.uuid4()), "ended_at": "2026-03-03T09:20", "outcome": "all found"}
    assert client.post(f"{address}end/", ended).status_code == 422 and not RecallEnded.objects.exists()
    assert client.post(f"{address}end/", ended | signature).status_code == 302
    text = client.get(address).content.decode()
    assert "100 %" in text and "ended after 20 min" in text
    assert "rehearsal" in client.get("/recall/").content.decode()


def test_minutes_count_from_the_beginning(plant: Plant) -> None:
    """An end before the last step is refused."""
    day = a_day(plant)
    number = begun(plant, day["nettle"].number, mock=True)
    with pytest.raises(Refused):
        end_recall(plant.actor("wren"), EndData(uuid.uuid4(), number, NOW - timedelta(hours=1), "early"))
