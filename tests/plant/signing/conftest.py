"""One plant's keys, and a two-page sheet signed by two of its people (made once for all tests here)."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from plant.signing.authority import Authority, SigningMaterial
from plant.signing.pdf import render_pdf, sign_pdf

STATIC = Path(__file__).parents[3] / "static"
CLOSED = datetime(2026, 3, 3, 6, 5, tzinfo=UTC)
REVIEWED = CLOSED + timedelta(hours=9)

PAGE = """<!doctype html><html lang="en"><head><title>Sheet of 2026-03-02</title>
<link rel="stylesheet" href="/static/css/fonts.css">
<style>body { font-family: "Atkinson Hyperlegible Next" } h2 { break-before: page }
#signature-operator, #signature-supervisor { width: 3in; height: 0.9in; border: 1px solid #222 }
</style></head>
<body><h1>Quillbrook Creamery</h1><p>Silo A 38.4 °F; señal, ½.</p>
<h2>Signatures</h2><div id="signature-operator"></div><div id="signature-supervisor"></div></body></html>"""

ATTACHED = [("day.json", b'{"day":"2026-03-02"}', "The day's records"), ("a.csv", b"silo,38.4\n", "Readings")]


def rendered(html: str = PAGE, **overrides: object) -> bytes:
    """The sample sheet, unsigned."""
    given: dict[str, object] = {
        "static_dir": STATIC,
        "created_at": CLOSED,
        "identifier": "quillbrook/2026-03-02/1",
        "attachments": ATTACHED,
        "signature_fields": ["operator", "supervisor"],
    }
    return render_pdf(html, **{**given, **overrides})  # type: ignore[arg-type]


def signed_by_operator(pdf: bytes, material: SigningMaterial) -> bytes:
    """The sheet with the operator's signature."""
    return sign_pdf(
        pdf,
        material,
        name="Ines Alder",
        role="operator in charge",
        reason="I was in charge of this day",
        at=CLOSED,
        field_name="operator",
        static_dir=STATIC,
    )


def signed_by_supervisor(pdf: bytes, material: SigningMaterial) -> bytes:
    """The sheet with the supervisor's signature."""
    return sign_pdf(
        pdf,
        material,
        name="Wren Castell",
        role="supervisor",
        reason="I reviewed this day's record",
        at=REVIEWED,
        field_name="supervisor",
        static_dir=STATIC,
    )


@pytest.fixture(scope="session")
def keys(tmp_path_factory: pytest.TempPathFactory) -> Authority:
    authority = Authority.create(tmp_path_factory.mktemp("plant") / "keys", "Quillbrook Creamery", CLOSED)
    authority.issue_person("ines", "Ines Alder", "operator", CLOSED)
    authority.issue_person("wren", "Wren Castell", "supervisor", CLOSED)
    return authority


@pytest.fixture(scope="session")
def once_signed(keys: Authority) -> bytes:
    return signed_by_operator(rendered(), keys.material("ines", CLOSED))


@pytest.fixture(scope="session")
def twice_signed(keys: Authority, once_signed: bytes) -> bytes:
    return signed_by_supervisor(once_signed, keys.material("wren", REVIEWED))
