"""The pages of the day: chart, sheet, today so far, tables, blank forms."""

from __future__ import annotations

import csv
import io
import json
import re
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest
from django.test import Client
from django.urls import reverse

from plant.spreadsheet import safe
from records.ledger.canonical import canonical
from records.review import sheet
from records.review.models import SheetState
from tests.conftest import Plant
from tests.records.reports import made


@pytest.fixture
def client(plant: Plant, client_for: Callable[..., Client]) -> Client:
    """The day lived; the inspector's guest looks."""
    made.live(plant)
    return client_for(plant.people.guest)


def test_chart_page_shows_the_day(client: Client) -> None:
    """Lanes, the excursion's sentence, and the way to the day before."""
    page = client.get(reverse("records:day-chart", args=[made.DAY])).content.decode()
    assert '<svg xmlns="http://www.w3.org/2000/svg" class="day-chart"' in page and "Silo A" in page
    assert "46.4 °F" in page and reverse("records:day-chart", args=["2026-03-02"]) in page
    assert "recorded temperature" not in page  # nothing is recorded here, and so the legend does not explain it
    assert 'class="day-chart" width="976"' in page  # 1024 less the page's margins of 24: nothing is cut there


def test_sheet_page_escapes_what_was_typed(client: Client) -> None:
    """The note with a script tag is text."""
    page = client.get(reverse("records:day-sheet", args=[made.DAY])).content.decode()
    assert "DRAFT, UNREVIEWED" in page and "&lt;script&gt;" in page and made.SCRIPT not in page


def test_today_so_far_prints_and_says_unreviewed(client: Client, plant: Plant, tmp_path: Path) -> None:
    """At any moment of the day: page and PDF, both drafts; nothing is written."""
    plant.at(made.at(10))
    page = client.get(reverse("records:day-so-far")).content.decode()
    assert "today so far" in page.lower() and "DRAFT, UNREVIEWED" in page
    answer = client.get(reverse("records:day-so-far-pdf"))
    (tmp_path / "now.pdf").write_bytes(answer.content)
    text = subprocess.run(["pdftotext", str(tmp_path / "now.pdf"), "-"], capture_output=True, text=True, check=True)
    assert "today so far" in text.stdout and not SheetState.objects.exists()


def test_csv_has_every_reading_and_no_formula(client: Client, plant: Plant) -> None:
    """The amended value has its own line; a note that begins like a formula is defused."""
    made.answer(plant, "silo-holding", "38.0", note="=HYPERLINK(1)", observed_at=made.at(20), late_reason="late")
    answer = client.get(reverse("records:day-csv", args=[made.DAY]))
    rows = list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert {"83.4", "38.4", "46.4"} <= {row["answer"] for row in rows}
    assert "'=HYPERLINK(1)" in {row["notes"] for row in rows}
    assert len([row for row in rows if row["entry"]]) == 8


@pytest.mark.parametrize(
    ("cell", "shown"), [("=1+1", "'=1+1"), ("@a", "'@a"), ("-5", "-5"), ("-5+2", "'-5+2"), ("+1,5", "+1,5"), ("a", "a")]
)
def test_cells_that_could_run_are_defused(cell: str, shown: str) -> None:
    """Numbers stay numbers."""
    assert safe(cell) == shown


def test_json_is_the_days_data(client: Client, plant: Plant) -> None:
    """The same canonical text that a sheet would carry."""
    answer = client.get(reverse("records:day-json", args=[made.DAY]))
    assert answer.content.decode() == canonical(sheet.sheet_data(made.DAY, 1, plant.clock.moment))


def test_kept_sheet_is_streamed_byte_for_byte(plant: Plant, client_for: Callable[..., Client]) -> None:
    """Each state that was kept can be had again; the page after closing names its head."""
    made.closed(plant)
    state = SheetState.objects.get(state="closed")
    client = client_for(plant.people.wren)
    answer = client.get(reverse("records:sheet-pdf", args=[state.number]))
    assert answer.headers["Content-Type"] == "application/pdf" and len(answer.content) == state.size
    page = client.get(reverse("records:day-sheet", args=[made.DAY])).content.decode()
    assert "Closed, revision 1" in page and reverse("records:sheet-pdf", args=[state.number]) in page


def test_what_comes_after_closing_is_shown_as_such(plant: Plant, client_for: Callable[..., Client]) -> None:
    """A corrective action written later stands under 'Since closing'; the kept PDF is not touched."""
    import uuid

    from records.deviations.actions import write_part
    from records.deviations.models import Deviation

    made.closed(plant)
    plant.at(made.at(27))
    deviation = Deviation.objects.order_by("number").first()
    assert deviation is not None
    write_part(plant.actor("wren"), deviation, "problem", "Valve found shut and opened.", uuid.uuid4())
    page = client_for(plant.people.wren).get(reverse("records:day-sheet", args=[made.DAY])).content.decode()
    assert "Since closing" in page and "Valve found shut and opened." in page
    data = json.loads(client_for(plant.people.wren).get(reverse("records:day-json", args=[made.DAY])).content)
    assert [one["by"] for one in data["since_closing"]] == ["Wren Castell"]


@pytest.mark.parametrize("day", ["2026-02-30", "yesterday", "0001-01-01", "9999-12-31", "2026-3-3"])
def test_a_day_that_is_none_is_a_plain_page(client: Client, day: str) -> None:
    """404, not an error."""
    for route in ("day-chart", "day-csv", "day-sheet", "day-json"):
        assert client.get(reverse(f"records:{route}", args=[day])).status_code == 404


def test_blank_forms_print_from_every_check_with_numbers_of_their_own(client: Client, tmp_path: Path) -> None:
    """One form for each check of the plan, each with its limit; printed again, no number comes twice."""
    numbers: list[str] = []
    for name in ("a.pdf", "b.pdf"):
        answer = client.get(reverse("records:blank-forms-pdf"), {"day": "2026-03-04"})
        (tmp_path / name).write_bytes(answer.content)
        done = subprocess.run(["pdftotext", "-layout", str(tmp_path / name), "-"], capture_output=True, text=True)
        found = re.findall(r"QC-[a-z-]+-[2-9A-Z]{7}", done.stdout)
        assert len(found) == 5 and "at most 45 °F" in done.stdout
        numbers += found
    assert len(set(numbers)) == 10
    assert client.get(reverse("records:blank-forms-pdf"), {"check": "no-such"}).status_code == 404
    assert client.get(reverse("records:blank-forms")).status_code == 200
