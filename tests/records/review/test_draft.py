"""After a plant day's end the watch renders its draft, once, and never in place of a closing."""

from __future__ import annotations

import io
import json
from datetime import date, timedelta

import pypdf
import pytest

from records.checks import watch
from records.ledger import files
from records.ledger.models import Entry
from records.review.actions import draft_ended_days
from records.review.models import DayClosing, SheetState
from records.tasks import draft_day_sheets
from tests.conftest import NOW, Plant
from tests.records.watch.conftest import fill_silo
from tests.records.watch.test_transitions import read_silo

DAY = date(2026, 3, 3)


@pytest.fixture
def next_morning(plant: Plant) -> Plant:
    """A reading was taken on 3 March; it is half an hour after that plant day's end."""
    watch.begin_at(NOW - timedelta(minutes=10))
    fill_silo(plant)
    read_silo(plant, "38.4")
    plant.at(NOW + timedelta(hours=20))
    return plant


def test_the_task_drafts_the_day_that_ended(next_morning: Plant) -> None:
    """A kept PDF in the state draft: it says so, carries the day's data and has no place to sign."""
    assert DAY.isoformat() in draft_day_sheets()
    state = SheetState.objects.get(plant_day=DAY)
    assert (state.state, state.revision, state.by_role) == ("draft", 1, "watch")
    pdf = pypdf.PdfReader(io.BytesIO(files.read(state.sha256)))
    assert "DRAFT, UNREVIEWED" in pdf.pages[0].extract_text()
    assert not pdf.get_fields()
    data = json.loads(pdf.attachments[f"day-{DAY.isoformat()}.json"][0])
    assert data["day"] == DAY.isoformat() and data["ledger"]["closed"] is False


def test_a_second_run_drafts_nothing(next_morning: Plant) -> None:
    """It may run twice."""
    draft_ended_days()
    size = Entry.objects.count()
    assert draft_ended_days() == [] and Entry.objects.count() == size


def test_a_day_still_running_is_not_drafted(plant: Plant) -> None:
    """At 09:30 of the day there is no draft of it."""
    draft_ended_days()
    assert not SheetState.objects.filter(plant_day=DAY).exists() and not DayClosing.objects.exists()
