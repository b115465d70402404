"""The lots' pages: what is listed, and a lot's family in both directions."""

from __future__ import annotations

import uuid
from collections.abc import Callable

import pytest
from django.test import Client

from plant.people.models import Person
from records.deviations.holds import hold_by_hand
from records.flow.actions import record_movement
from records.flow.models import Movement
from records.ledger.models import Entry
from tests.conftest import NOW, Plant
from tests.records.flow.made import HOUR, made_ready, moved, pasteurized, ran

Browser = Callable[[Person], Client]


def chain(plant: Plant) -> list[Movement]:
    """Silo A to Finished 1 to packs of one code."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 9 * HOUR)
    raw = moved(ines, started_at=NOW - 8 * HOUR)
    run = ran(ines, started_at=NOW - 6 * HOUR)
    packing = {"source": "finished-1", "target": "", "target_name": "packed", "via": "", "code": "WM 0303"}
    return [raw, run, record_movement(ines, pasteurized(started_at=NOW - 4 * HOUR, **packing))]


def test_a_lots_page_shows_its_family(plant: Plant, client_for: Browser) -> None:
    """The tank's lot: the silo before it, the packs after it, what came and what left with quantities."""
    _raw, run, _packed = chain(plant)
    page = client_for(plant.people.guest).get(f"/lots/{run.target_lot}/").content.decode()
    before, after = page.index("Lots before it"), page.index("Lots after it")
    assert before < page.index("Silo A, Raw milk, since", before) < after
    assert page.index("Whole milk WM 0303", after)
    assert "Whole milk, 300 gal, from Silo A through Press 1 into Finished 1" in page
    assert "Whole milk, 300 gal, from Finished 1 into packed" in page


def test_a_hold_is_shown_on_everything_that_it_reaches(plant: Plant, client_for: Browser) -> None:
    """The packs are on hold through the silo's lot."""
    raw, _run, packed = chain(plant)
    assert raw.target_lot is not None
    values = {"lot": raw.target_lot, "lot_label": "Silo A", "vessel": "silo-a", "since_at": NOW - 8 * HOUR}
    hold_by_hand(plant.actor("wren"), reason="odd smell", **values)  # type: ignore[arg-type]
    client = client_for(plant.people.wren)
    assert client.get("/lots/").content.decode().count("on hold: odd smell") == 3
    assert "on hold: odd smell" in client.get(f"/lots/{packed.target_lot}/").content.decode()


def test_a_lot_that_is_none_is_not_found(plant: Plant, client_for: Browser) -> None:
    """A foreign lot's id is a plain page."""
    assert client_for(plant.people.ines).get(f"/lots/{uuid.uuid4()}/").status_code == 404


@pytest.mark.parametrize("name", ["ines", "wren", "odile", "hanne", "piet", "guest"])
def test_readers_read_lots_and_nothing_is_written(plant: Plant, client_for: Browser, name: str) -> None:
    """Everybody but the administrator."""
    row = moved(plant.actor("ines"))
    count = Entry.objects.count()
    client = client_for(getattr(plant.people, name))
    assert client.get("/lots/").status_code == 200
    assert client.get(f"/lots/{row.target_lot}/").status_code == 200
    assert Entry.objects.count() == count


def test_the_administrator_has_no_lots(plant: Plant, client_for: Browser) -> None:
    """No power over records."""
    assert client_for(plant.people.admin).get("/lots/").status_code == 403
