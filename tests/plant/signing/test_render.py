"""A page becomes a PDF: same input, same bytes; its attachments and fields; no file that it may not have."""

from __future__ import annotations

import io
import subprocess
import sys
import time
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from pypdf import PdfReader

from plant.signing.pdf import FileRefused
from tests.pdf_tools import fonts_of, pages_as_png, qpdf_check
from tests.plant.signing.conftest import ATTACHED, CLOSED, PAGE, STATIC, rendered

pytestmark = pytest.mark.once


def with_body(body: str) -> str:
    """The sample page with something more in it."""
    return PAGE.replace("<h2>", body + "<h2>", 1)


def test_the_same_input_gives_the_same_bytes() -> None:
    """Rendering again a second later changes nothing."""
    first = rendered()
    time.sleep(1.1)
    assert rendered() == first


def test_another_process_gives_the_same_bytes(tmp_path: Path) -> None:
    """A fresh process, with another hash seed, writes the same file."""
    script = (
        "import sys; from pathlib import Path; from tests.plant.signing.conftest import rendered; "
        "Path(sys.argv[1]).write_bytes(rendered())"
    )
    root = Path(__file__).parents[3]
    command = [sys.executable, "-c", script, str(tmp_path / "other.pdf")]
    subprocess.run(command, cwd=root, env={"PYTHONHASHSEED": "7", "PATH": "/usr/bin:/bin"}, check=True)
    assert (tmp_path / "other.pdf").read_bytes() == rendered()


def test_the_order_of_attachments_does_not_matter() -> None:
    """Attachments are written in the order of their names."""
    assert rendered(attachments=list(reversed(ATTACHED))) == rendered()


def test_another_identifier_gives_another_document() -> None:
    """The identifier is part of the file (trailer ID)."""
    one, other = (PdfReader(io.BytesIO(rendered(identifier=name))) for name in ("sheet/1", "sheet/2"))
    assert one.trailer["/ID"][0] != other.trailer["/ID"][0]  # type: ignore[index]


def test_dates_are_the_callers() -> None:
    """Creation and change carry created_at in the document's information."""
    metadata = PdfReader(io.BytesIO(rendered())).metadata
    assert metadata is not None
    assert (metadata.creation_date, metadata.modification_date) == (CLOSED, CLOSED)


def test_it_declares_pdf_a_3b() -> None:
    """The metadata stream declares part 3, conformance B; the header says PDF 1.7."""
    pdf = rendered()
    xmp = PdfReader(io.BytesIO(pdf)).root_object["/Metadata"].get_object().get_data().decode()  # type: ignore[union-attr]
    assert 'part="3"' in xmp
    assert 'conformance="B"' in xmp
    assert pdf.startswith(b"%PDF-1.7")


def test_attachments_come_out_as_they_went_in() -> None:
    """Each attached file has its bytes and the relationship Data."""
    reader = PdfReader(io.BytesIO(rendered()))
    assert {name: data[0] for name, data in reader.attachments.items()} == {n: d for n, d, _ in ATTACHED}
    related = [item.get_object()["/AFRelationship"] for item in reader.root_object["/AF"]]  # type: ignore[attr-defined]
    assert related == ["/Data", "/Data"]


def test_every_font_is_embedded_and_shipped(tmp_path: Path) -> None:
    """PDF/A wants all fonts inside; those that the page names are the shipped ones, not the machine's."""
    (tmp_path / "sheet.pdf").write_bytes(rendered())
    assert fonts_of(tmp_path / "sheet.pdf") == {
        "Atkinson-Hyperlegible-Next": True,
        "Atkinson-Hyperlegible-Next-Bold": True,
    }


def test_qpdf_finds_no_fault(tmp_path: Path) -> None:
    """The unsigned document with its empty fields is sound in syntax."""
    (tmp_path / "sheet.pdf").write_bytes(rendered())
    assert "No syntax or stream encoding errors" in qpdf_check(tmp_path / "sheet.pdf")


def test_an_empty_field_lies_over_its_element() -> None:
    """A field three inches wide on the second page, where the page put the box."""
    page = PdfReader(io.BytesIO(rendered())).pages[1]
    boxes = {field["/T"]: field["/Rect"] for field in (a.get_object() for a in page["/Annots"])}  # type: ignore[attr-defined]
    left, bottom, right, top = (float(value) for value in boxes["operator"])
    assert right - left == pytest.approx(218, abs=1)  # 3 in and two borders
    assert top - bottom == pytest.approx(66.3, abs=1)
    assert float(boxes["supervisor"][3]) <= bottom + 1


@pytest.mark.parametrize(
    "address",
    [
        "file:///etc/hostname",
        "https://example.org/x.png",
        "http://127.0.0.1:1/x.png",
        "ftp://example.org/x.png",
        "/static/../../etc/hostname",
        "/static/%2e%2e/%2e%2e/etc/hostname",
        "/etc/hostname",
        "https://document.invalid.example.org/static/css/fonts.css",
        "/static/img/not-there.png",
    ],
)
def test_nothing_outside_the_static_folder_is_read(address: str) -> None:
    """Other files, other hosts, a way out by .., and a file that is missing all stop the layout."""
    with pytest.raises(FileRefused):
        rendered(with_body(f'<img src="{address}" alt="">'))


def test_a_link_out_of_the_static_folder_is_not_followed(tmp_path: Path) -> None:
    """A symbolic link to another place does not open that place."""
    (tmp_path / "static").mkdir()
    (tmp_path / "secret.css").write_text("p { color: red }")
    (tmp_path / "static" / "way.css").symlink_to(tmp_path / "secret.css")
    page = '<html><link rel="stylesheet" href="/static/way.css"><p>x</p></html>'
    with pytest.raises(FileRefused):
        rendered(page, static_dir=tmp_path / "static", signature_fields=[])


def test_a_damaged_font_stops_the_layout(tmp_path: Path) -> None:
    """Another font in silence would change a record's looks."""
    (tmp_path / "bad.woff2").write_bytes(b"wOF2 nothing")
    face = '@font-face { font-family: f; src: url("/static/bad.woff2") }'
    page = f'<html><style>{face}</style><p style="font-family: f">x</p>'
    with pytest.raises(FileRefused, match="no readable font"):
        rendered(page, static_dir=tmp_path, signature_fields=[])


def test_a_face_in_two_files_stops_the_layout(tmp_path: Path) -> None:
    """The engine would draw the letters of one part with the outlines of the other."""
    whole = (STATIC / "fonts" / "atkinson-hyperlegible-next-400-normal.woff2").read_bytes()
    for name in ("latin", "latin-ext"):
        (tmp_path / f"{name}.woff2").write_bytes(whole)
    face = "".join(
        f"@font-face {{ font-family: f; src: url('/static/{name}.woff2') }}" for name in ("latin", "latin-ext")
    )
    with pytest.raises(FileRefused, match="parts of one face"):
        rendered(f"<html><style>{face}</style><p>x</p></html>", static_dir=tmp_path, signature_fields=[])


def test_letters_are_drawn_the_same_whatever_else_the_document_holds(tmp_path: Path) -> None:
    """Extended letters on one page leave the plain ones on the other as they were (a split face did not)."""
    pictures = []
    for number, other in enumerate(("Silo", "Łódź Ś ő → ½")):
        body = f"<p>{other}</p><h2>Next page</h2><p>Ines Alder, señal 38.4 °F, − ½</p>"
        page = PAGE[: PAGE.index("<body>")] + f"<body>{body}</body></html>"
        (tmp_path / f"{number}.pdf").write_bytes(rendered(page, signature_fields=[]))
        pictures.append(pages_as_png(tmp_path / f"{number}.pdf", tmp_path)[1].read_bytes())
    assert pictures[0] == pictures[1]


def test_content_inside_the_page_itself_is_allowed() -> None:
    """A data: address brings its own content and needs no file."""
    pixel = "data:image/gif;base64,R0lGODlhAQABAAAAACH5BAEKAAEALAAAAAABAAEAAAICTAEAOw=="
    assert rendered(with_body(f'<img src="{pixel}" alt="">')).startswith(b"%PDF")


def test_a_field_without_its_element_is_refused() -> None:
    """The error names the id that the page lacks."""
    with pytest.raises(ValueError, match="signature-owner"):
        rendered(signature_fields=["owner"])


def test_two_attachments_of_one_name_are_refused() -> None:
    """One would hide the other."""
    with pytest.raises(ValueError, match="same name"):
        rendered(attachments=[("a", b"1", ""), ("a", b"2", "")])


def test_a_time_without_zone_is_refused() -> None:
    """A naive creation time could be hours off."""
    with pytest.raises(ValueError, match="time zone"):
        rendered(created_at=datetime(2026, 3, 2))  # noqa: DTZ001  # the case under test


def test_equal_moments_in_different_zones_give_the_same_bytes() -> None:
    """Times are written in UTC."""
    assert rendered(created_at=CLOSED.astimezone(ZoneInfo("America/Chicago"))) == rendered()
    assert rendered(created_at=CLOSED + timedelta(seconds=1)) != rendered()


def test_static_files_are_where_the_tests_expect() -> None:
    """The sample page really uses the shipped type."""
    assert (STATIC / "css" / "fonts.css").is_file()


def test_documents_and_signatures_need_no_django() -> None:
    """Importing all of it in a fresh process loads nothing of Django."""
    modules = ("authority", "check_record", "pdf")
    script = (
        "; ".join(f"import plant.signing.{name}" for name in modules)
        + "; import sys; sys.exit('django' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", script], cwd=STATIC.parent).returncode == 0
