"""Paper charts and the review of a day: what asks for a new revision, what shows as since closing, and the sheet."""

from __future__ import annotations

import subprocess
import uuid
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import translation

from plant import clock
from records.charts.actions import InitialsData, amend_off, copy_initials, keep_photo, put_on, sign_chart, take_off
from records.charts.data import OffData
from records.charts.models import ChartOff, ChartOn, ChartPastSpan
from records.checks.photos import Photo
from records.deviations.models import Deviation
from records.ledger.canonical import canonical
from records.reports.html import sheet_html
from records.reports.pdf import render_sheet
from records.review import actions, queries
from records.review.models import DayClosing
from records.review.sheet import sheet_data
from tests.conftest import Plant
from tests.records.charts.made import off, on, was_on
from tests.records.flow.made import made_ready, moved, ran

Clients = Callable[..., Client]
DAY = date(2026, 3, 3)
START = datetime(2026, 3, 3, 11, tzinfo=UTC)  # 05:00 in Chicago
HOUR = timedelta(hours=1)
AFTER = START + 25 * HOUR


def on_all_day(plant: Plant, **changes: object) -> tuple[ChartOn, ChartOff]:
    """Chart 61 from one hour after the day's start to the twelfth; now is the next morning."""
    plant.at(AFTER)
    return was_on(plant.actor("ines"), START + HOUR, START + 12 * HOUR, **changes)


def closed(plant: Plant) -> DayClosing:
    """The day as it stands, closed by Wren."""
    plant.at(AFTER)
    actions.name_in_charge(plant.actor("wren"), DAY, "early", plant.people.ines)
    actions.name_in_charge(plant.actor("wren"), DAY, "late", plant.people.tomas)
    return actions.close_day(plant.actor("wren"), DAY)


# --- what asks for a new revision


def test_chart_put_on_in_a_closed_day_asks_for_a_new_revision(plant: Plant) -> None:
    """Entered the next morning, on at eleven the day before."""
    closing = closed(plant)
    row = put_on(plant.actor("ines"), on(put_on_at=START + 6 * HOUR))
    assert row in queries.changed_since(closing, clock.now())


def test_chart_taken_off_in_a_closed_day_asks_for_a_new_revision(plant: Plant) -> None:
    """And so does what was said of it when it is amended."""
    plant.at(START + 2 * HOUR)
    chart = put_on(plant.actor("ines"), on())
    closing = closed(plant)
    assert queries.changed_since(closing, clock.now()) == []
    gone = take_off(plant.actor("ines"), off(chart, taken_off_at=START + 12 * HOUR))
    assert queries.changed_since(closing, clock.now())[-1] == gone
    again = actions.close_day(plant.actor("wren"), DAY, "The chart was written down late.")
    said = off(chart, taken_off_at=START + 12 * HOUR, products="Whole milk, 310 gal")
    plant.clock.on(minutes=1)
    row = amend_off(plant.actor("wren"), chart.number, said, "counted again")
    assert row in queries.changed_since(again, clock.now())


def test_chart_found_past_its_span_in_a_closed_day_asks_for_a_new_revision(plant: Plant) -> None:
    """A chart of twelve hours, taken off only the next day: its time ran out in the closed one."""
    plant.at(START + 2 * HOUR)
    chart = put_on(plant.actor("ines"), on(span_typed="12"))
    closing = closed(plant)
    take_off(plant.actor("ines"), off(chart))
    (row,) = queries.changed_since(closing, clock.now())
    assert isinstance(row, ChartPastSpan) and row.observed_at == START + 14 * HOUR


def test_chart_off_on_the_next_day_and_its_papers_leave_the_day_as_it_is(plant: Plant, client_for: Clients) -> None:
    """They stand under 'Since closing', each with its words."""
    plant.at(START + 2 * HOUR)
    chart = put_on(plant.actor("ines"), on())
    closing = closed(plant)
    plant.clock.on(minutes=30)
    ines = plant.actor("ines")
    take_off(ines, off(chart))
    keep_photo(ines, chart.number, "front", Photo(b"\xff\xd8\xff\xe0 a", "a.jpg", "image/jpeg"), "", uuid.uuid4())
    sign_chart(ines, chart.number)
    assert queries.changed_since(closing, clock.now()) == []
    told = sheet_data(DAY, 1, clock.now(), closing)["since_closing"]
    assert [one["what"] for one in told] == [
        "Press 1 recording: chart 61 taken off",
        "Press 1 recording: chart 61 photographed, front",
        "Press 1 recording: chart 61 signed",
    ]
    page = client_for(plant.people.wren).get(reverse("records:day-sheet", args=[DAY])).content.decode()
    assert "chart 61 photographed, front" in page


def test_who_changed_a_chart_made_a_record_of_the_day(plant: Plant) -> None:
    """Their own work, when it comes to reviewing it."""
    on_all_day(plant)
    assert plant.people.ines.id in queries.workers(DAY, clock.now())


# --- the sheet


def sheet_of(plant: Plant, language: str = "en") -> str:
    """The day's sheet as HTML."""
    with translation.override(language):
        return " ".join(sheet_html(sheet_data(DAY, 0, clock.now()), "", for_pdf=False).split())


def test_sheet_lists_the_charts_of_the_day(plant: Plant) -> None:
    """With reading, clock, product, what ran under it, and what it still lacks."""
    ines = plant.actor("ines")
    plant.at(START + 9 * HOUR)
    made_ready(ines, START + HOUR)
    moved(ines, started_at=START + HOUR)
    ran(ines, started_at=START + 3 * HOUR)
    on_all_day(plant)
    shown = sheet_of(plant)
    assert "<b>Press 1 recording</b>, 61" in shown and "circular, 24 h" in shown
    assert "161.8 °F, T-11" in shown and "right, against the tablet" in shown
    assert "Written on it: Whole milk, 300 gal." in shown and "Finished 1, Whole milk, since 2026-03-03" in shown
    assert "Still missing: a photo of the front; a photo of the back; the operator&#x27;s signature." in shown


def test_sheet_names_the_recorders_without_a_chart(plant: Plant) -> None:
    """Silence is no proof: nobody wrote down a chart of either recorder."""
    plant.at(AFTER)
    data = sheet_data(DAY, 0, clock.now())["charts"]
    assert data["on"] == [] and data["initials"] == []
    assert data["none"] == ["T-12 Press 1 recording", "T-20 Silo A recorder"]
    assert "the book knows of no chart on this day" in sheet_of(plant)


def test_sheet_says_that_a_chart_overlaps_and_ran_too_long(plant: Plant) -> None:
    """In its own line, with the deviation's number."""
    on_all_day(plant, overlapped=True)
    number = Deviation.objects.get().number
    shown = sheet_of(plant)
    assert "<b>The traces overlap.</b>" in shown and f"<td>{number}</td>" in shown
    plant.at(START + 2 * HOUR)
    put_on(plant.actor("ines"), on(chart_number="62", put_on_at=START + HOUR, span_typed="12"))
    plant.at(AFTER)
    assert "It ran past its time from 18:00 on" in sheet_of(plant)


def test_sheet_has_room_for_the_regulator_and_what_was_copied(plant: Plant) -> None:
    """Two empty fields a recorder, beside what a person copied from the paper this quarter."""
    chart, _gone = on_all_day(plant)
    data = InitialsData(
        uuid.uuid4(), "T-12", DAY, "JV", "Jo Varga, state inspector", "1 min slow in 12 h", chart.number
    )  # fmt: skip
    copy_initials(plant.actor("wren"), data)
    shown = sheet_of(plant)
    assert "2026 / 1" in shown and "<td></td><td></td>" in shown
    assert "copied from the paper: JV, Jo Varga, state inspector, 2026-03-03, 1 min slow in 12 h" in shown
    last_quarter = sheet_data(date(2026, 3, 2), 0, clock.now())["charts"]["initials"]
    assert last_quarter == []  # no chart was on then


def test_data_of_charts_is_canonical_and_keeps_what_was_typed(plant: Plant) -> None:
    """As everything that the sheet's attached file says; markup in it is text."""
    on_all_day(plant, products="<script>milk</script>", unusual=True, unusual_words="power dip")
    data = sheet_data(DAY, 0, clock.now())
    assert canonical(data)
    (one,) = data["charts"]["on"]
    assert (one["products"], one["unusual"]) == ("<script>milk</script>", "power dip")
    shown = sheet_of(plant)
    assert "&lt;script&gt;milk" in shown and "<script>milk" not in shown


def test_amended_chart_says_so_on_the_sheet(plant: Plant) -> None:
    """Which entry, and why."""
    chart, gone = on_all_day(plant)
    plant.clock.on(minutes=1)
    said: OffData = off(chart, taken_off_at=START + 12 * HOUR, products="Whole milk, 310 gal")
    amend_off(plant.actor("ines"), chart.number, said, "counted again")
    assert f"Amends entry {gone.number}: counted again." in sheet_of(plant)


def test_charts_are_on_the_printed_sheet(plant: Plant, tmp_path: Path) -> None:
    """In the PDF too, with the places for the regulator."""
    on_all_day(plant)
    path = tmp_path / "sheet.pdf"
    path.write_bytes(render_sheet(sheet_data(DAY, 0, clock.now())).data)
    done = subprocess.run(["pdftotext", "-layout", str(path), "-"], capture_output=True, text=True, check=True)
    printed = done.stdout
    assert "The recorders' paper charts" in printed and "Regulator's initials and date" in printed


@pytest.mark.parametrize("kind", ["on", "off", "past span"])
def test_cause_on_a_deviations_page_links_to_its_chart(plant: Plant, client_for: Clients, kind: str) -> None:
    """Whichever record of the chart it is."""
    ines = plant.actor("ines")
    plant.at(AFTER)
    first, _gone = was_on(ines, START, START + 12 * HOUR, overlapped=kind == "off")
    if kind == "on":
        first = put_on(ines, on(chart_number="62", put_on_at=START + 13 * HOUR))
        first = put_on(ines, on(chart_number="63", put_on_at=START + 14 * HOUR))
    if kind == "past span":
        first = put_on(ines, on(chart_number="62", put_on_at=START + 12 * HOUR, span_typed="12"))
        take_off(ines, off(first))
    found = Deviation.objects.get()
    page = client_for(plant.people.wren).get(reverse("records:deviation", args=[found.number])).content.decode()
    assert f'href="{reverse("records:chart", args=[first.number])}"' in page
