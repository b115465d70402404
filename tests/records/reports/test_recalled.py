"""The day sheet says what left with its recipient, and what came back with what became of it."""

from __future__ import annotations

import json
import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils.html import strip_tags

from records.deviations.holds import DESTROY
from records.ledger.canonical import canonical
from records.recall.return_actions import amend_return, take_back
from records.reports import recalled
from records.reports.day import day_data
from records.reports.html import sheet_html
from records.reports.pages import unreviewed
from records.reports.values import Data
from tests.conftest import NOW, Plant
from tests.records.flow.made import HOUR
from tests.records.recall.made import a_day, sent
from tests.records.recall.test_recall import begun
from tests.records.recall.test_returned import decided, said
from tests.records.reports.made import DAY

pytestmark = pytest.mark.django_db


def day() -> Data:
    """The day's data, as its JSON has it."""
    found: Data = json.loads(canonical(day_data(DAY, 1, NOW, unreviewed())))
    return found


def words(data: Data) -> str:
    """The sheet as a reader sees it."""
    return " ".join(strip_tags(re.sub("<small>", " ", sheet_html(data, "", for_pdf=True))).split())


def test_recipient_and_packaging_are_on_the_sheet(plant: Plant) -> None:
    """21 CFR 1.345(a): name, address, telephone, e-mail, packaging and transporter of what left."""
    a_day(plant)
    sent(plant.actor("ines"), "WM 0303", email="shop@quillbrook.example", packed_as="half-gallon jugs, 9 to a crate")
    data = day()
    (one,) = data["dispatched"]
    told = (one["to"], one["address"], one["phone"], one["email"], one["packed_as"], one["carrier"])
    assert told == (
        "Corner shop", "1 Mill Lane, Quillbrook", "555 0100", "shop@quillbrook.example",
        "half-gallon jugs, 9 to a crate", "own van",
    )  # fmt: skip
    sheet = words(data)
    assert all(text in sheet for text in told)


def test_what_came_back_is_on_the_sheet_with_its_hold(plant: Plant) -> None:
    """How many, from whom, how warm, in what condition, why, where; on hold until two people decide."""
    recall = begun(plant, a_day(plant)["nettle"].number)
    sent(plant.actor("ines"), "WM 0303")
    row = take_back(plant.actor("ines"), said(returned_at=NOW, recall=recall))
    data = day()
    (one,) = data["returned"]
    assert (one["entry"], one["quantity"], one["unit"], one["from"]) == (row.number, "30", "gal", "Corner shop")
    assert (one["temperature"], one["condition"], one["recall"]) == ("52", "lids whole", recall)
    (hold,) = one["holds"]
    sheet = words(data)
    for text in ("30 gal; 52 °F", "lids whole", "their cooler failed", "cage 2 of the cooler",
                 f"Hold {hold['number']}: still on hold", f"belongs to recall {recall}"):  # fmt: skip
        assert text in sheet
    decided(plant, row, DESTROY)
    (one,) = day()["returned"]
    ended = one["holds"][0]["ended"]
    assert (ended["what"], ended["by"], ended["second"]["by"]) == (DESTROY, "Wren Castell", "Odile Marsh")
    assert f"Hold {hold['number']}: destroy. looked at (Wren Castell, supervisor" in words(day())


def test_an_amended_return_stands_struck_beside_its_successor(plant: Plant) -> None:
    """Both rows stay; only the newest counts, and both name the hold, which stays."""
    a_day(plant)
    ines = plant.actor("ines")
    sent(ines, "WM 0303")
    row = take_back(ines, said())
    amend_return(ines, row.number, said(), "not of ours", void=True)
    data = day()
    assert [(one["struck"], one["void"]) for one in data["returned"]] == [(True, False), (True, True)]
    assert len({one["holds"][0]["number"] for one in data["returned"]}) == 1
    assert "did not happen" in words(data) and f"amends entry {row.number}: not of ours" in words(data)


def test_queries_do_not_grow_with_the_returns(plant: Plant) -> None:
    """One return or eight: the same statements."""
    a_day(plant)
    ines = plant.actor("ines")
    sent(ines, "WM 0303")
    counts = []
    for times in (1, 7):
        for _one in range(times):
            take_back(ines, said(quantity_typed="1"))
        with CaptureQueriesContext(connection) as seen:
            found = recalled.came_back(NOW - 12 * HOUR, NOW + HOUR)
        counts.append(len(seen))
    assert len(found) == 8 and counts[0] == counts[1] <= 6


def test_a_sheet_from_before_there_were_returns_is_still_drawn(plant: Plant) -> None:
    """Its data has no such key."""
    a_day(plant)
    data = day()
    del data["returned"]
    assert "Product that came back" not in words(data)
