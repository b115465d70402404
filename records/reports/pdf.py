"""The day sheet as a PDF: made of the day's data alone, so the same data gives the same bytes."""

from __future__ import annotations

import io
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from django.conf import settings
from django.utils import translation
from django.utils.translation import gettext as _

from plant.signing.pdf import render_pdf
from records.ledger.canonical import canonical
from records.reports import picture
from records.reports.html import sheet_html
from records.reports.values import Data

SIGNATURES = ("operator", "supervisor")


@dataclass(frozen=True, slots=True)
class Rendered:
    """A sheet laid out: the PDF's bytes, how many pages, and the page it was made from."""

    data: bytes
    pages: int
    html: str


def render_sheet(data: Data) -> Rendered:
    """Lay out a day's data (records.reports.day.day_data) as a PDF that declares PDF/A-3b.

    Attached: the data as canonical JSON and, of a closed day, its signed head. A closed day has two empty signature
    fields, 'operator' and 'supervisor'; a draft has none and says so.
    """
    with translation.override(data["plant"]["language"]):
        html = sheet_html(data, picture.svg(data, print_=True), for_pdf=True)
        attachments = _attachments(data)
    pdf = render_pdf(
        html,
        static_dir=static_dir(),
        created_at=datetime.fromisoformat(data["as_of"]),
        identifier=identifier(data),
        attachments=attachments,
        signature_fields=SIGNATURES if data["ledger"]["closed"] else (),
    )
    return Rendered(pdf, page_count(pdf), html)


def identifier(data: Data) -> str:
    """What names this document and no other."""
    state = f"closed under {data['ledger']['root']}" if data["ledger"]["closed"] else "draft"
    return "/".join((data["plant"]["name"], data["day"], f"r{data['revision']}", state, data["as_of"]))


def _attachments(data: Data) -> list[tuple[str, bytes, str]]:
    """(name, bytes, description) of each file that the sheet carries."""
    day, ledger = data["day"], data["ledger"]
    carried = [(f"day-{day}.json", canonical(data).encode(), _("The day's records, as the sheet says them"))]
    if ledger["closed"]:
        head = {"text": ledger["head"], "signature": ledger["signature"], "certificate": ledger["certificate"]}
        carried.append((f"head-{day}.json", canonical(head).encode(), _("The signed head that closes the day")))
    return carried


def static_dir() -> Path:
    """Where the document's fonts and style sheets are."""
    return Path(settings.BASE_DIR) / "static"


def page_count(pdf: bytes) -> int:
    """How many pages a PDF has."""
    from pyhanko.pdf_utils.reader import PdfFileReader

    return int(PdfFileReader(io.BytesIO(pdf)).root["/Pages"]["/Count"])
