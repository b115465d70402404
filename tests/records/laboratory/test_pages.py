"""The pages of samples: one carried from the plan's list to its verdict, a table looked at first, what is refused."""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from plant import clock
from plant.people.models import Person
from records.laboratory.models import LabResult, Sample
from records.reports.html import sheet_html
from records.review.sheet import sheet_data
from tests.conftest import NOW, Plant
from tests.records.charts.made import in_force
from tests.records.flow.made import made_ready, moved
from tests.records.flow.test_flow_pages import local
from tests.records.laboratory.made import HOUR, found, sampled_plan, taken
from tests.records.laboratory.test_results import packed

Browser = Callable[[Person], Client]
pytestmark = [pytest.mark.django_db, pytest.mark.once]


@pytest.fixture
def milk(plant: Plant) -> Plant:
    """The pack WM 1, which waits for its results."""
    in_force(plant, sampled_plan())
    by = plant.actor("ines")
    plant.at(NOW + 2 * HOUR)
    made_ready(by, NOW)
    moved(by, source="", source_name="a tanker", target="finished-1", product="whole-milk", started_at=NOW + HOUR / 2,
          ended_at=NOW + HOUR)  # fmt: skip
    packed(by, "WM 1")
    return plant


def sample_form(**changes: Any) -> dict[str, Any]:
    """The form of a sample of WM 1."""
    values = {
        "form_id": str(uuid.uuid4()), "code": "S-7", "kind": "lot", "lot_code": "WM 1", "place": "", "farm": "",
        "tests": ["coliform", "bacteria"], "taken_at": local(clock.now()), "taken_by": "", "temperature": "38",
        "temperature_unit": "°F", "sent_to": "the county", "kept_where": "", "kept_until": "", "words": "",
    }  # fmt: skip
    return values | changes


def result_form(typed: str, **changes: Any) -> dict[str, Any]:
    """The form of a coliform count."""
    values = {
        "form_id": str(uuid.uuid4()), "test": "coliform", "typed": typed, "read_at": local(clock.now()),
        "laboratory": "the county", "method": "", "analyst": "", "words": "",
    }  # fmt: skip
    return values | changes


def test_a_sample_is_carried_through_its_pages(milk: Plant, client_for: Browser) -> None:
    ines = client_for(milk.people.ines)
    page = ines.get(reverse("records:samples")).content.decode()
    assert "Whole milk WM 1" in page and "lot=WM%201" in page
    refused = ines.post(reverse("records:sample-new"), sample_form(lot_code="WM 9"))
    assert refused.status_code == 422 and 'value="WM 9"' in refused.content.decode()
    assert ines.post(reverse("records:sample-new"), sample_form()).status_code == 302
    number = Sample.objects.get().number
    refused = ines.post(reverse("records:sample-result", args=[number]), result_form("about 3"))
    assert refused.status_code == 422 and 'value="about 3"' in refused.content.decode()
    assert ines.post(reverse("records:sample-result", args=[number]), result_form("11")).status_code == 302
    page = ines.get(reverse("records:sample", args=[number])).content.decode()
    assert "out of limits" in page and "PMO Table 1; La. VII-355" in page and "Not in yet:" in page
    bad = LabResult.objects.get()
    amend = reverse("records:sample-result-amend", args=[bad.number])
    assert "not made good by this one" in ines.get(amend).content.decode()
    assert ines.post(amend, result_form("1", amend_reason="two plates mixed up")).status_code == 302
    page = ines.get(reverse("records:sample", args=[number])).content.decode()
    assert 'class="struck"' in page and "missed" in page
    taken = local(Sample.objects.get().observed_at)
    changed = sample_form(code="S-8", amend_reason="the bottle says so", taken_at=taken)
    assert ines.post(reverse("records:sample-amend", args=[number]), changed).status_code == 302
    assert "S-8" in ines.get(reverse("records:samples")).content.decode()


def test_a_table_is_looked_at_first_and_kept_as_a_whole(milk: Plant, client_for: Browser) -> None:
    by = milk.actor("ines")
    taken(by)
    ines = client_for(milk.people.ines)
    said = {"form_id": str(uuid.uuid4()), "read_at": local(clock.now())}
    bad = "sample,test,result\nS WM 1,coliform,2\nS WM 1,bacteria,lots\nS 99,coliform,1\nS WM 1,coliform,3\n"
    page = ines.post(reverse("records:samples-table"), {**said, "table": bad, "record_all": "1"})
    text = page.content.decode()
    assert page.status_code == 422 and "3 lines are refused" in text and not LabResult.objects.exists()
    assert "No sample has this code." in text and "stand in the table twice" in text
    good = "sample;test;result;analyst\nS WM 1;Coliform;<1;A. Nalyst\nS WM 1;bacteria;4200 est.;A. Nalyst\n"
    page = ines.post(reverse("records:samples-table"), {**said, "table": good})
    assert page.status_code == 200 and "nothing is kept yet" in page.content.decode()
    for _again in range(2):
        answer = ines.post(reverse("records:samples-table"), {**said, "table": good, "record_all": "1"})
        assert answer.status_code == 302
    assert [one.typed for one in LabResult.objects.order_by("number")] == ["<1", "4200 est."]
    page = ines.get(reverse("records:samples-trend") + "?test=bacteria").content.decode()
    assert "<svg" in page and "4200 per mL estimated" in page
    # 20,000 per mL is the only limit; the lowest result is none.
    assert re.findall(r">(limit of the plan [^<]*)</text>", page) == ["limit of the plan 4.301"]


def test_the_day_sheet_has_the_samples_and_their_verdicts(milk: Plant, client_for: Browser) -> None:
    by = milk.actor("ines")
    found(by, taken(by), "coliform", "11")
    wren = client_for(milk.people.wren)
    day = "2026-03-03"
    text = wren.get(reverse("records:day", args=[day])).content.decode()
    from records.reports.sampled import samples

    rows = samples(NOW, NOW + 3 * HOUR)
    assert [one["kind"] for one in rows] == ["sample", "laboratory result"]
    assert rows[1]["verdict"]["outcome"] == "not met" and rows[1]["deviation"]
    assert "S WM 1" in text and "11" in text


def test_official_and_retained_samples_stand_on_the_day_sheet(milk: Plant, client_for: Browser) -> None:
    by = milk.actor("ines")
    taken(by, code="O-1", kind="official", tests=("bacteria",))
    kept = date(2026, 5, 1)
    retained = taken(by, code="R-1", kind="retained", tests=(), kept_where="Walk-in cooler", kept_until=kept)
    data = sheet_data(date(2026, 3, 3), 0, clock.now())
    text = sheet_html(data, "", for_pdf=False)
    for said in ("O-1", "official, taken by the regulator", "R-1", "Walk-in cooler 2026-05-01"):
        assert said in text, said
    page = client_for(milk.people.ines).get(reverse("records:sample", args=[retained.number])).content.decode()
    assert "until 2026-05-01" in page and "nothing recorded among its results stands against it" in page
    assert "No result" not in page and " approved" not in page
