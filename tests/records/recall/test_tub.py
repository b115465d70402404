"""One tub's page: its mix, press, tanks, washes, people, checks and holds, found by its code."""

from __future__ import annotations

from collections.abc import Callable

from django.test import Client

from plant.people.models import Person
from records.lots.models import Lot
from records.people.plans import plan_in_force
from records.recall.tub import tub_of
from tests.conftest import NOW, Plant
from tests.records.flow.made import HOUR, moved, ran, washed
from tests.records.recall.made import a_day, packed, sent

Browser = Callable[[Person], Client]


def test_a_tub_says_what_it_is_mixed_of_and_where_it_was(plant: Plant) -> None:
    """Three quarters of one farm's load, through the press and two tanks, each washed before."""
    day = a_day(plant)
    in_force = plan_in_force(NOW)
    assert in_force is not None
    found = tub_of(Lot.objects.get(code="WM 0303"), in_force, NOW)
    assert [(one.row.source_name, one.share) for one in found.sources] == [
        ("Nettle Farm", "75 %"),
        ("Oxbow Farm", "25 %"),
    ]
    assert [(one.line_code, one.start) for one in found.pressed] == [("press-1", day["run"].started_at)]
    assert [one.fill.vessel for one in found.tanks] == ["silo-a", "finished-1"]
    assert all({one_wash.wash.what for one_wash in one.washes} == {"washed", "sanitized"} for one in found.tanks)
    assert found.people == ("Ines Alder, operator",)


def test_a_clean_break_ends_the_mixing(plant: Plant) -> None:
    """What a later code holds came after the tank's wash; the first farm's load is none of it."""
    a_day(plant)
    ines = plant.actor("ines")
    for vessel in ("silo-a", "finished-1", "press-1"):
        washed(ines, vessel, NOW - 3 * HOUR, **({} if vessel == "press-1" else {"was_empty": True}))
    moved(ines, started_at=NOW - 2 * HOUR, quantity_typed="300", source_name="Third Farm")
    ran(ines, started_at=NOW - 1.4 * HOUR, quantity_typed="200")
    packed(ines, "WM 0303 B", started_at=NOW - 0.7 * HOUR, quantity_typed="100")
    in_force = plan_in_force(NOW)
    assert in_force is not None
    found = tub_of(Lot.objects.get(code="WM 0303 B"), in_force, NOW)
    assert [(one.row.source_name, one.share) for one in found.sources] == [("Third Farm", "100 %")]


def test_its_code_is_found_and_a_wrong_one_gets_those_like_it(plant: Plant, client_for: Browser) -> None:
    """Case is forgiven; a code that is none is a plain page that keeps what was typed."""
    a_day(plant)
    sent(plant.actor("ines"), "WM 0303")
    client = client_for(plant.people.guest)
    assert client.get("/tub/").status_code == 200
    page = client.get("/tub/?code=wm 0303", follow=True)
    text = page.content.decode()
    assert page.status_code == 200 and "75 %" in text and "Press 1" in text and "Corner shop" in text
    assert "<svg" in text
    wrong = client.get("/tub/?code=0303")
    assert wrong.status_code == 404 and "WM 0303" in wrong.content.decode()
