"""Programs that know nothing of this project confirm two signatures and notice one changed byte."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest

from plant.signing.authority import Authority
from tests.pdf_tools import pages_as_png, pdfsig_report, qpdf_check
from tests.plant.signing.conftest import CLOSED

pytestmark = pytest.mark.once


@pytest.fixture
def sheet(tmp_path: Path, twice_signed: bytes) -> Path:
    path = tmp_path / "sheet.pdf"
    path.write_bytes(twice_signed)
    return path


def test_pdfsig_confirms_both_signatures(sheet: Path, keys: Authority) -> None:
    """Given the plant's root, pdfsig finds both valid, trusted, by the right people, at the stated times."""
    first, second = pdfsig_report(sheet, keys.root_pem)
    assert (first["valid"], first["trusted"], first["signer"]) == (True, True, "Ines Alder")
    assert (second["valid"], second["trusted"], second["signer"]) == (True, True, "Wren Castell")
    assert (first["time"], second["time"]) == ("Mar 03 2026 06:05:00", "Mar 03 2026 15:05:00")
    assert (first["whole"], second["whole"]) == (False, True)
    assert second["type"] == "ETSI.CAdES.detached"


def test_pdfsig_does_not_trust_them_without_the_plants_root(sheet: Path, tmp_path: Path) -> None:
    """Another plant's root makes the signatures valid but not trusted."""
    other = Authority.create(tmp_path / "keys", "Otra Lechería", CLOSED)
    assert [(one["valid"], one["trusted"]) for one in pdfsig_report(sheet, other.root_pem)] == [(True, False)] * 2


def test_pdfsig_notices_one_flipped_bit(sheet: Path, keys: Authority, twice_signed: bytes) -> None:
    """A bit flipped at any of forty places in the signed ranges: never again two valid signatures."""
    spans = re.findall(rb"/ByteRange \[(\d+) (\d+) (\d+) (\d+)\]", twice_signed)[-1]
    start, length, second, second_length = map(int, spans)
    signed = [*range(start, start + length), *range(second, second + second_length)]
    for position in signed[:: len(signed) // 40]:
        changed = bytearray(twice_signed)
        changed[position] ^= 0x01
        sheet.write_bytes(changed)
        reports = pdfsig_report(sheet, keys.root_pem)
        assert [one.get("valid") for one in reports] != [True, True], f"byte {position}"


def test_pdfsig_sees_what_was_added_after_signing(sheet: Path, keys: Authority, twice_signed: bytes) -> None:
    """Bytes after the last signature leave it valid but no longer over the whole document."""
    sheet.write_bytes(twice_signed + b"\n% added\n")
    assert [one["whole"] for one in pdfsig_report(sheet, keys.root_pem)] == [False, False]


def test_qpdf_finds_no_fault_in_the_signed_document(sheet: Path) -> None:
    """Two incremental updates leave the syntax sound."""
    assert "No syntax or stream encoding errors" in qpdf_check(sheet)


def test_poppler_reads_the_signatures_text(sheet: Path) -> None:
    """Name, role, meaning and time of both signers can be read on the page by another program."""
    done = subprocess.run(["pdftotext", "-layout", sheet, "-"], capture_output=True, text=True, check=True)
    for words in (
        "Ines Alder",
        "operator in charge",
        "Wren Castell",
        "I reviewed this day's record",
        "2026-03-03 15:05:00",
    ):
        assert words in done.stdout


def test_every_page_can_be_drawn(sheet: Path, tmp_path: Path) -> None:
    """Poppler draws both pages; neither picture is empty."""
    pages = pages_as_png(sheet, tmp_path)
    assert len(pages) == 2
    assert all(page.stat().st_size > 1000 for page in pages)
