"""The pages of files and findings: what was kept, what was found, and where it leads."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from records.traces import judging, watch
from records.traces.models import TraceCursor, TraceFinding
from tests.conftest import Plant
from tests.records.traces.test_judging import START, at, began, deviations, hot, kept

pytestmark = pytest.mark.django_db


@pytest.fixture
def dipped(plant: Plant) -> Plant:
    """A run with one second below its row, judged."""
    began(plant)
    kept("T-12", hot(s1234=1500))
    judging.judge_place("press-1", START, at(3600))
    return plant


def test_a_finding_leads_to_its_deviation_and_back(
    dipped: Plant, client_for: Callable[..., Client]
) -> None:
    """Its sentence, rule, lot, verdict and picture; the deviation names it as its cause with a way to the trace."""
    client = client_for(dipped.people.wren)
    row = TraceFinding.objects.get(about="temperature")
    page = client.get(f"/traces/findings/{row.number}/").content.decode()
    (deviation,) = deviations()
    assert row.sentence in page and "htst-milk" in page and f"/deviations/{deviation.number}/" in page
    assert "<svg" in page and "plan version 2" in page and "Whole milk" in page
    there = client.get(f"/deviations/{deviation.number}/").content.decode()
    assert f"/traces/findings/{row.number}/" in there and "found in a trace" in there


def test_an_inspector_reads_it(dipped: Plant, client_for: Callable[..., Client]) -> None:
    """And can change nothing by it."""
    row = TraceFinding.objects.get(about="temperature")
    client = client_for(dipped.people.guest)
    assert client.get(f"/traces/findings/{row.number}/").status_code == 200
    assert client.post(f"/traces/findings/{row.number}/").status_code in (403, 405)
    assert client.get("/traces/findings/1/").status_code == 404


def test_the_strip_chart_shows_products_diversions_and_findings(
    dipped: Plant, client_for: Callable[..., Client]
) -> None:
    """Over the line lie the milk that ran and the finding's sentence."""
    kept("fd-press-1", [0] * 300, "1", 0, first=3601)
    client = client_for(dipped.people.wren)
    until = (START + timedelta(hours=2)).isoformat().replace("+00:00", "Z")
    page = client.get("/traces/T-12/", {"from": START.isoformat().replace("+00:00", "Z"), "until": until})
    text = page.content.decode()
    assert "Whole milk" in text and "below the row" in text and "diverted" in text


def test_the_watch_reads_the_ledger_once(dipped: Plant) -> None:
    """What was looked at is not looked at again: the second look asks for the new entries alone."""
    while watch.look():
        pass
    before = TraceCursor.objects.get().number
    with CaptureQueriesContext(connection) as asked:
        assert watch.look() == 0
    assert len(asked) <= 2 and TraceCursor.objects.get().number == before


def test_the_day_sheet_lists_it(dipped: Plant) -> None:
    """The finding with its deviation, the seconds that were judged, and the picture."""
    from datetime import date

    from records.reports.rows import view_of
    from records.review.sheet import sheet_data

    data = sheet_data(date(2026, 3, 3), 0, at(7200))
    (press,) = [one for one in data["traces"] if one["place"] == "press-1"]
    (found,) = [one for one in press["findings"] if "below the row" in one["sentence"]]
    assert found["deviation"] == deviations()[0].number and press["picture"].startswith("<svg")
    assert press["channels"][0]["samples"] == 3601 and press["judged"][0]["counted"]
    view = next(one for one in view_of(data)["traces"] if one["place"] == "press-1")
    assert view["sentence"].startswith("Judged: ") and "not met" in view["sentence"]
    lane = next(one for one in data["chart"]["lanes"] if one["name"] == "Press 1")
    assert any(low == "150.00" for _at, low, _high in lane["trace"]), "one second of dip stays in the lane"
