"""A run's record carries the entries that a state's rule lists for the chart, and names what is not there.

The list: Wis. ATCP 65.66(3)(a) to (k) and 1 NYCRR 3.27(a) (state mirrors; a continuous pasteurizer's recording chart).
"""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from plant import clock
from records.charts.actions import put_on
from records.people.plans import plan_in_force
from records.review.run_record import RunRecord, forward_spans, record_of
from records.runs.actions import product_out, say
from records.runs.models import DIVERTED, ENDED, FORWARD_AGAIN
from records.runs.queries import run_of
from tests.conftest import NOW, Plant
from tests.records.charts.made import on
from tests.records.flow.made import made_ready, moved
from tests.records.runs.made import MINUTE, answered, event, out, planned, running

pytestmark = pytest.mark.django_db


@pytest.fixture
def run(plant: Plant) -> int:
    """A run of milk with a diversion of two minutes, cut-in not read; its number."""
    planned(plant)
    ines = plant.actor("ines")
    made_ready(plant.actor("tomas"), NOW)
    plant.at(NOW + 5 * MINUTE)
    moved(plant.actor("tomas"), started_at=NOW + MINUTE, ended_at=NOW + 2 * MINUTE)
    number = running(ines, cut_in="").number
    plant.at(NOW + 30 * MINUTE)
    say(ines, event(number, DIVERTED, words="steam fell"))
    plant.at(NOW + 32 * MINUTE)
    say(ines, event(number, FORWARD_AGAIN))
    return number


def record(run: int) -> RunRecord:
    """The run's record now."""
    found, in_force = run_of(run), plan_in_force(clock.now())
    assert found is not None and in_force is not None
    return record_of(found, clock.now(), in_force, lambda moment: moment.strftime("%H:%M"))


def by_clause(run: int) -> dict[str, tuple[tuple[str, ...], str]]:
    """The entries of the record by the first clause of each."""
    found: dict[str, tuple[tuple[str, ...], str]] = {}
    for one in record(run).entries:
        found.setdefault(one.clause.split("; ")[0], (one.said, one.lacks))
    return found


def test_every_entry_of_the_rule_has_its_place(run: int) -> None:
    """(a),(b) date and recorder; (c) trace; (d),(g) indicating; (e) forward flow; (f) cut-in; (h) to (k)."""
    clauses = " ".join(one.clause for one in record(run).entries)
    for letter in ("(3)(a),(b)", "(3)(c)", "(3)(d),(g)", "(3)(e)", "(3)(f)", "(3)(h)", "(3)(i)", "(3)(j),(k)"):
        assert f"ATCP 65.66{letter}" in clauses


def test_what_is_not_there_is_named_and_what_is_there_is_said(plant: Plant, run: int) -> None:
    """Cut-in not read, the amount not known, no chart; then read, known and on."""
    entries = by_clause(run)
    assert entries["ATCP 65.66(3)(f)"] == ((), "Cut-in: nothing recorded")
    assert entries["ATCP 65.66(3)(h)"][1] == "The amount of Whole milk is not recorded."
    assert "No chart" in entries["1 NYCRR 3.27(a)"][1]
    assert any("steam fell" in one for one in entries["ATCP 65.66(3)(i)"][0])
    ines = plant.actor("ines")
    answered(ines, "cut-in", "161.4")
    put_on(ines, on(chart_number="62"))
    product_out(ines, out(run))
    plant.at(NOW + 40 * MINUTE)
    say(ines, event(run, ENDED))
    entries = by_clause(run)
    assert "161.4 °F, in limits" in entries["ATCP 65.66(3)(f)"][0][0] and entries["ATCP 65.66(3)(f)"][1] == ""
    assert entries["ATCP 65.66(3)(h)"][0][0].startswith("Whole milk, 300 gal, into Finished 1")
    assert "The start names chart 61; on the recorder, by the book, was 62." in entries["1 NYCRR 3.27(a)"][1]


def test_forward_flow_is_cut_by_diversions_and_ends_with_the_run(plant: Plant, run: int) -> None:
    """Each period is one line, ATCP 65.66(3)(e)."""
    ines = plant.actor("ines")
    product_out(ines, out(run))
    plant.at(NOW + 40 * MINUTE)
    say(ines, event(run, ENDED))
    found = run_of(run)
    assert found is not None
    minutes = [(round((a - NOW) / MINUTE), round((b - NOW) / MINUTE)) for a, b in forward_spans(found, clock.now())]
    assert minutes == [(5, 30), (32, 40)]


def test_the_page_opens_for_an_inspector(run: int, plant: Plant, client_for: Callable[..., Client]) -> None:
    """With the caution; a run that does not exist is not found."""
    client = client_for(plant.people.guest)
    page = client.get(reverse("records:run-record", args=[run])).content.decode()
    assert "Not in the book, or not in limits" in page and "Nothing on this page says that product may leave" in page
    assert client.get(reverse("records:run-record", args=[2**70])).status_code == 404
