"""The scope from the database: its lots, quantities, shares, who got it; from every kind of beginning."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from plant.people.models import Person
from records.deviations.errors import Refused
from records.flow.actions import amend_movement
from records.lots.models import Lot
from records.people.plans import plan_in_force
from records.recall import origins
from records.recall.origins import Asked
from records.recall.scope import RecallScope, scope
from tests.conftest import NOW, Plant
from tests.records.flow.made import HOUR, moved, movement, ran, washed
from tests.records.recall.made import a_day, packed, sent

Browser = Callable[[Person], Client]


def found(backward: bool = False, **asked: object) -> RecallScope:
    """The scope of what was asked, now."""
    in_force = plan_in_force(NOW)
    assert in_force is not None
    begun = origins.begin(Asked(**asked), in_force, NOW, backward=backward)  # type: ignore[arg-type]
    return scope(begun.start, in_force, NOW, backward=backward)


def test_a_farm_load_is_followed_to_the_shop(plant: Plant) -> None:
    """Nettle's load is three quarters of the silo, the tank and the packs; 80 of 150 gal left, 70 are in house."""
    day = a_day(plant)
    sent(plant.actor("ines"), "WM 0303")
    scoped = found(entry=day["nettle"].number)
    assert [(one.vessel, one.packs) for one in scoped.lots] == [("silo-a", False), ("finished-1", False), ("", True)]
    assert [one.lot for one in scoped.lots] == [day[name].target_lot for name in ("nettle", "run", "packs")]
    for one in scoped.lots:
        assert one.low == pytest.approx(0.75) and one.high == pytest.approx(0.75)
    packs = scoped.packs[0].account
    assert (packs.made, packs.gone, packs.in_house) == (150, 80, 70)
    assert float(scoped.packs[0].at_most or 0) == pytest.approx(112.5)
    assert [row.number for row, _at in scoped.carried] == [day[name].number for name in ("nettle", "run", "packs")]
    assert scoped.consignees == ("Corner shop",)
    silo = scoped.lots[0].account
    assert (silo.made, silo.gone, silo.in_house) == (400, 200, 200)


def test_what_left_before_it_came_and_what_follows_a_wash_are_not_reached(plant: Plant) -> None:
    """Oxbow's load came after the first run; after its wash the tank's next lot has nothing of it."""
    ines = plant.actor("ines")
    day = a_day(plant)
    packed(ines, "WM 0303 B", started_at=NOW - 3 * HOUR, quantity_typed="50")
    washed(ines, "finished-1", NOW - 2 * HOUR, was_empty=True)
    washed(ines, "silo-a", NOW - 2 * HOUR, was_empty=True)
    moved(ines, started_at=NOW - 90 * timedelta(minutes=1), quantity_typed="300")
    ran(ines, started_at=NOW - HOUR / 2, quantity_typed="100", ended_at=NOW - timedelta(minutes=5))
    scoped = found(entry=day["oxbow"].number)
    assert {one.vessel for one in scoped.lots} == {"silo-a", "finished-1", ""}
    assert len(scoped.lots) == 4 and len(scoped.packs) == 2
    assert all(one.account.in_house == 0 for one in scoped.lots if not one.packs)


def test_forward_and_backward_agree(plant: Plant) -> None:
    """What a code came from reaches that code; nothing else from outside does."""
    day = a_day(plant)
    back = found(backward=True, code="WM 0303")
    assert found(code="WM 0303").packs[0].high == 1
    sources = [row.number for row, _at in back.carried if not row.source]
    assert sorted(sources) == [day["nettle"].number, day["oxbow"].number]
    for number in sources:
        assert day["packs"].target_lot in {one.lot for one in found(entry=number).lots}


def test_every_beginning_finds_its_lots(plant: Plant) -> None:
    """A place and a window, a line, a source's name, a lot, an entry of a lot: the packs are in scope."""
    day = a_day(plant)
    lot = Lot.objects.get(id=day["run"].target_lot)
    window = {"since": NOW - 9 * HOUR, "until": NOW}
    for asked in (
        {"place": "silo-a", **window}, {"place": "press-1", **window}, {"source": "nettle farm", **window},
        {"lot": lot.id}, {"entry": lot.number}, {"code": "WM 0303"}, {"entry": day["packs"].number},
    ):  # fmt: skip
        assert day["packs"].target_lot in {one.lot for one in found(**asked).lots}, asked


def test_a_beginning_that_names_nothing_is_refused(plant: Plant) -> None:
    """An empty scope is never an answer: a slip in a code, an entry or a window is said beside its field."""
    a_day(plant)
    for asked, field in (
        ({"code": "WM 0304"}, "code"), ({"entry": 999_999}, "entry"), ({"place": "silo-a"}, "since"),
        ({"source": "Nettle Frm", "since": NOW - 9 * HOUR}, "source"), ({}, ""),
    ):  # fmt: skip
        with pytest.raises(Refused) as refusal:
            found(**asked)
        assert (refusal.value.field or "") == field


def test_an_amendment_changes_the_scope(plant: Plant) -> None:
    """The run came from elsewhere after all: the packs are out of the farm's scope."""
    day = a_day(plant)
    values = {"source": "", "source_name": "Oxbow Farm", "target": "finished-1", "via": "press-1"}
    values["product"] = "whole-milk"
    amended = movement(started_at=day["run"].started_at, quantity_typed="200", **values)
    amend_movement(plant.actor("wren"), day["run"].number, amended, "wrong tank")
    assert {one.vessel for one in found(entry=day["nettle"].number).lots} == {"silo-a"}


def test_statements_do_not_grow_with_history(plant: Plant) -> None:
    """Twice the history before it, the same number of statements."""
    day = a_day(plant)

    def statements() -> int:
        with CaptureQueriesContext(connection) as caught:
            found(entry=day["nettle"].number)
        return len(caught)

    before = statements()
    for back in range(2, 8):
        start = NOW - timedelta(days=back)
        washed(plant.actor("ines"), "silo-a", start)
        moved(plant.actor("ines"), started_at=start + HOUR)
    assert statements() == before <= 25


def test_page_pdf_and_table(plant: Plant, client_for: Browser) -> None:
    """All three say who got it, and the page begins nothing by itself."""
    day = a_day(plant)
    sent(plant.actor("ines"), "WM 0303", consignee="=Corner shop")
    client = client_for(plant.people.wren)
    page = client.get(f"/recall/scope/?entry={day['nettle'].number}")
    text = page.content.decode()
    assert page.status_code == 200 and "1 Mill Lane" in text and "75 %" in text and "70 gal" in text
    table = client.get(f"/recall/scope.csv?entry={day['nettle'].number}").content.decode("utf-8-sig")
    assert "'=Corner shop" in table and table.count("\r\n") == 4
    pdf = client.get(f"/recall/scope.pdf?entry={day['nettle'].number}")
    assert pdf.content.startswith(b"%PDF")
    wrong = client.get("/recall/scope/?code=nothing")
    assert wrong.status_code == 422 and "No lot of that code was packed." in wrong.content.decode()
    assert client.get("/recall/scope.csv?code=nothing").status_code == 302
