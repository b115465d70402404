"""The signed sheet of a day made through the actions, looked at by other people's programs."""

from __future__ import annotations

import json
import re
import subprocess
from pathlib import Path

import pytest

from records.ledger import files
from records.ledger.canonical import canonical
from records.ledger.heads import read_outside, signature_problem
from records.people.keys import authority
from records.reports.pdf import page_count, render_sheet
from records.review import queries, sheet
from records.review.models import DayClosing, SheetState
from tests.conftest import Plant
from tests.pdf_tools import fonts_of, pages_as_png, pdfsig_report, qpdf_check
from tests.records.reports import made


@pytest.fixture
def signed(plant: Plant, tmp_path: Path) -> Path:
    """The twice signed sheet as a file."""
    made.signed(plant)
    state = queries.newest_state(made.DAY, 1)
    assert state is not None
    path = tmp_path / "sheet.pdf"
    path.write_bytes(files.read(state.sha256))
    return path


def _text(path: Path) -> str:
    done = subprocess.run(["pdftotext", "-layout", str(path), "-"], capture_output=True, text=True, check=True)
    return done.stdout


def _attached(path: Path, name: str, folder: Path) -> str:
    listed = subprocess.run(["pdfdetach", "-list", str(path)], capture_output=True, text=True, check=True).stdout
    place = re.search(rf"(\d+): {re.escape(name)}", listed)
    assert place, listed
    target = folder / name
    subprocess.run(["pdfdetach", "-save", place[1], "-o", str(target), str(path)], check=True)
    return target.read_text(encoding="utf-8")


def test_both_signatures_validate_and_a_flipped_byte_is_noticed(signed: Path) -> None:
    """pdfsig trusts both under the plant's root; one changed byte of the first revision breaks them."""
    root = authority().root_pem
    reports = pdfsig_report(signed, root)
    assert [(one["field"], one["signer"]) for one in reports] == [
        ("operator", "Tomas Reed"),
        ("supervisor", "Wren Castell"),
    ]
    assert all(one["valid"] and one["trusted"] for one in reports) and reports[-1]["whole"]
    assert "No syntax or stream encoding errors" in qpdf_check(signed)
    changed = bytearray(signed.read_bytes())
    changed[len(changed) // 3] ^= 1
    signed.write_bytes(changed)
    assert [one.get("valid") for one in pdfsig_report(signed, root)] != [True, True]


def test_pages_say_what_the_data_says(signed: Path, tmp_path: Path) -> None:
    """Head, completeness, the struck value with its reason, the script tag as text; every page can be drawn."""
    text = " ".join(_text(signed).split())
    closing = DayClosing.objects.get()
    assert closing.root[:8] in text and f"entries: {closing.tree_size}" in text
    assert "The plan made" in text and "83.4 °F" in text and "two digits swapped" in text
    assert made.SCRIPT in text and "Invented plant, demonstration only" in text
    state = SheetState.objects.order_by("-number").first()
    assert state is not None and state.pages == page_count(signed.read_bytes()) == len(pages_as_png(signed, tmp_path))
    assert all(fonts_of(signed).values())
    assert all(name.startswith("Atkinson-Hyperlegible") for name in fonts_of(signed)), fonts_of(signed)


def test_attached_files_are_the_days_data_and_its_signed_head(signed: Path, tmp_path: Path) -> None:
    """The JSON is canonical and equals the data; the head's signature holds under the plant's certificate."""
    attached = _attached(signed, "day-2026-03-03.json", tmp_path)
    assert canonical(json.loads(attached)) == attached
    closing = DayClosing.objects.get()
    assert json.loads(attached)["ledger"]["root"] == closing.root
    head = read_outside(_attached(signed, "head-2026-03-03.json", tmp_path))
    assert head.root == closing.root and head.signed is not None and signature_problem(head.signed) == ""


def test_the_same_data_gives_the_same_bytes(plant: Plant, tmp_path: Path) -> None:
    """Rendered twice; and the attached data, read back, renders the same document again."""
    made.closed(plant)
    closing = DayClosing.objects.get()
    data = sheet.sheet_data(made.DAY, 1, closing.received_at)
    first = render_sheet(data)
    assert render_sheet(json.loads(canonical(data))).data == first.data
    kept = queries.newest_state(made.DAY, 1)
    assert kept is not None and files.read(kept.sha256) == first.data


def test_a_draft_has_no_place_to_sign_and_says_so(plant: Plant, tmp_path: Path) -> None:
    """Before closing: no signature field, DRAFT and unreviewed on page one and at the foot of each page."""
    made.live(plant)
    rendered = render_sheet(sheet.sheet_data(made.DAY, 1, plant.clock.moment))
    path = tmp_path / "draft.pdf"
    path.write_bytes(rendered.data)
    text = _text(path)
    assert pdfsig_report(path, authority().root_pem) == [] and "/Sig" not in rendered.data.decode("latin-1")
    assert "DRAFT, UNREVIEWED" in text
    assert text.count("draft, unreviewed") == rendered.pages


def test_every_due_check_is_on_the_sheet(plant: Plant) -> None:
    """As many lines with a due time as the plan made checks due; script tags are escaped."""
    made.live(plant)
    data = sheet.sheet_data(made.DAY, 1, plant.clock.moment)
    html = render_sheet(data).html
    table = html.partition('<table class="rows checks-table">')[2].partition("</table>")[0]
    rows = re.findall(r"<tr>(.*?)</tr>", table, re.DOTALL)
    shown = [cells for row in rows if len(cells := re.findall(r"<td[^>]*>(.*?)</td>", row, re.DOTALL)) >= 7]
    assert sum(bool(cells[-6].strip()) for cells in shown) == data["completeness"]["due"] > 5
    assert "<script" not in html and "&lt;script&gt;" in html


def test_a_plant_in_celsius_prints_on_a4_in_its_language(plant: Plant, tmp_path: Path) -> None:
    """Degrees Celsius: A4, the chart lying down; the document's language is the plant's."""
    made.live(plant)
    data = sheet.sheet_data(made.DAY, 1, plant.clock.moment)
    data["plant"] |= {"temperature_unit": "C", "language": "es"}
    rendered = render_sheet(data)
    path = tmp_path / "a4.pdf"
    path.write_bytes(rendered.data)
    done = subprocess.run(["pdfinfo", "-l", "2", str(path)], capture_output=True, text=True, check=True)
    sizes = re.findall(r"size:\s+([\d.]+) x ([\d.]+)", done.stdout)
    assert [tuple(round(float(one)) for one in size) for size in sizes] == [(595, 842), (842, 595)]
    assert '<html lang="es">' in rendered.html and "martes" in rendered.html.lower()
