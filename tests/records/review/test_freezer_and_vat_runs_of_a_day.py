"""What the day sheet says of freezer runs and vat runs, and that their rows are records of the day."""

from __future__ import annotations

from datetime import timedelta

import pytest

from plant import clock
from records.freezer_runs.actions import say as freezer_says
from records.freezer_runs.models import CUP, FreezerEvent
from records.ledger.canonical import canonical
from records.reports.html import sheet_html
from records.review import queries
from records.review.sheet import sheet_data
from records.vat_runs.models import VatEvent
from tests.conftest import NOW, Plant
from tests.records.freezer_runs import made as frozen
from tests.records.vat_runs import made as vats

pytestmark = pytest.mark.django_db


def test_the_sheet_tells_a_freezer_run_with_what_it_lacks(plant: Plant) -> None:
    """The cup with its readings, their verdicts and the deviation; what is missing by name; none the day before."""
    frozen.ready_plant(plant)
    ines = plant.actor("ines")
    run = frozen.drawing(ines)
    light = freezer_says(ines, frozen.said(run, CUP, cup_product="84", **frozen.CUP_OF))
    assert FreezerEvent in queries.OF_THE_DAY and FreezerEvent in queries.WORK
    data = sheet_data(queries.plant_day_at(NOW), 0, clock.now())
    (told,) = data["freezer_runs"]
    assert [one["what"] for one in told["events"]] == ["begun", "barrel purged", "draw begun", "cup weighed"]
    assert told["state"] == "drawing" and told["product"] == "Salted hazelnut ice cream"
    cup = told["events"][-1]
    assert [one["entry"] for one in cup["readings"]] == [light.reading, light.reading_two]
    assert cup["readings"][1]["outcome"] == "not met" and cup["deviation"] is not None
    assert "Salted hazelnut ice cream: into hardening" in told["missing"] and canonical(data)
    shown = sheet_html(data, "", for_pdf=False)
    assert "4.491 lb/gal" in shown and "first tubs: lid right" in shown
    before = sheet_data(queries.plant_day_at(NOW), 0, clock.now()) | {"freezer_runs": None}
    assert "4.491" in shown and "first tubs" not in sheet_html(before, "", for_pdf=False)


def test_the_sheet_tells_a_vat_run_with_its_verdicts(plant: Plant) -> None:
    """A hold too short stands with its outcome, reason and deviation."""
    vats.ready_plant(plant)
    ines = plant.actor("ines")
    run = vats.begun(ines)
    vats.held(ines, run, 25)
    assert VatEvent in queries.OF_THE_DAY and VatEvent in queries.WORK
    data = sheet_data(queries.plant_day_at(NOW), 0, clock.now() + timedelta(seconds=1))
    (told,) = data["vat_runs"]
    assert [one["what"] for one in told["events"]] == ["begun", "hold begun", "hold ended"]
    ended = told["events"][-1]
    assert ended["verdict"]["outcome"] == "not met" and ended["deviation"] is not None and canonical(data)
    shown = sheet_html(data, "", for_pdf=False)
    assert "out of limits" in shown and "145 °F for 30 min" in shown
