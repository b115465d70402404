"""HTML to a PDF that declares PDF/A-3b (ISO 19005-3): the same input gives the same bytes.

It *declares* it; only a validator could say more. Dates and the identifier come from the caller, fonts from
the static folder.
"""

from __future__ import annotations

import hashlib
import io
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, NamedTuple

import pydyf
from weasyprint import HTML, Attachment
from weasyprint.text.fonts import FontConfiguration

from plant.signing.static_files import StaticFiles

POINTS_PER_PIXEL = 0.75  # CSS: 96 px and 72 pt make an inch
ANCHOR = "signature-"
PRINT = 4  # annotation flag: also on paper (ISO 32000-1, table 165)


class AttachedFile(NamedTuple):
    """A file to carry inside the document."""

    name: str
    data: bytes
    description: str


def render_pdf(
    html: str,
    *,
    static_dir: Path,
    created_at: datetime,
    identifier: str,
    attachments: Iterable[tuple[str, bytes, str]] = (),
    signature_fields: Sequence[str] = (),
    static_url: str = "/static/",
) -> bytes:
    """Lay out a page as a PDF.

    `html`: a whole page; its addresses start with `static_url` or are relative to it. Everything else is
    refused.
    `created_at`: aware; the document's creation time. `identifier`: any text that names this document and
    no other.
    `attachments`: (file name, bytes, description), each carried with the relationship Data.
    `signature_fields`: names of empty signature fields. Each is put over the element with the id
    `signature-NAME`; being there from the start, it is covered by every signature.

    Raises FileRefused (static_files) when the page wants a file it may not have or that is missing,
    ValueError for a time without zone, a name used twice, or a field without its element.
    """
    if created_at.tzinfo is None:
        raise ValueError("created_at must carry its time zone.")
    created = created_at.astimezone(UTC).replace(microsecond=0)
    files = StaticFiles(static_dir, static_url)
    page = HTML(string=html, base_url=files.base_url, url_fetcher=files)
    document = page.render(font_config=FontConfiguration())
    document.metadata.created = document.metadata.modified = created.strftime("%Y-%m-%dT%H:%M:%S+00:00")
    carried = [_attachment(AttachedFile(*one), created) for one in sorted(attachments)]
    if len({one.name for one in carried}) < len(carried):
        raise ValueError("Two attachments have the same name.")
    pdf: bytes = document.write_pdf(
        pdf_variant="pdf/a-3b",
        pdf_identifier=hashlib.sha256(identifier.encode()).hexdigest()[:32].encode(),
        attachments=carried,
        finisher=lambda document, pdf: _finish(document, pdf, signature_fields),
    )
    return pdf


def _attachment(file: AttachedFile, created: datetime) -> Any:
    return Attachment(
        file_obj=io.BytesIO(file.data),
        name=file.name,
        description=file.description,
        created=created,
        modified=created,
        relationship="Data",
    )


def _finish(document: Any, pdf: Any, signature_fields: Sequence[str]) -> None:
    if "AF" in pdf.catalog:  # the engine lists each attached file twice
        pdf.catalog["AF"] = pydyf.Array(dict.fromkeys(pdf.catalog["AF"]))
    if signature_fields:
        _add_signature_fields(document, pdf, signature_fields)


def _add_signature_fields(document: Any, pdf: Any, names: Sequence[str]) -> None:
    if len(set(names)) < len(names):
        raise ValueError("Two signature fields have the same name.")
    fields = pydyf.Array()
    for name in names:
        page_index, box = _place(document, name)
        page = pdf.objects[int(pdf.page_references[page_index].split()[0])]
        field = _empty_field(pdf, name, page, box)
        page.setdefault("Annots", pydyf.Array()).append(field.reference)
        fields.append(field.reference)
    pdf.catalog["AcroForm"] = pydyf.Dictionary({"Fields": fields})


def _place(document: Any, name: str) -> tuple[int, tuple[float, float, float, float]]:
    """Page index and box (points, from the lower left corner) of the element that a field covers."""
    for index, page in enumerate(document.pages):
        if (anchor := page.anchors.get(ANCHOR + name)) is not None:
            left, top, right, bottom = anchor
            box = (left, page.height - bottom, right, page.height - top)
            x1, y1, x2, y2 = (round(value * POINTS_PER_PIXEL, 2) for value in box)
            return index, (x1, y1, x2, y2)
    raise ValueError(f"The page has no element with the id {ANCHOR + name!r} for the signature field.")


def _empty_field(pdf: Any, name: str, page: Any, box: tuple[float, float, float, float]) -> Any:
    """A signature field nobody has signed. PDF/A wants an appearance for every annotation: an empty one."""
    width, height = box[2] - box[0], box[3] - box[1]
    size = pydyf.Array([0, 0, round(width, 2), round(height, 2)])
    look = {"Type": "/XObject", "Subtype": "/Form", "BBox": size}
    appearance = pydyf.Stream(extra=pydyf.Dictionary(look))
    pdf.add_object(appearance)
    field = pydyf.Dictionary(
        {
            "Type": "/Annot",
            "Subtype": "/Widget",
            "FT": "/Sig",
            "T": pydyf.String(name),
            "F": PRINT,
            "Rect": pydyf.Array(box),
            "P": page.reference,
            "AP": pydyf.Dictionary({"N": appearance.reference}),
        }
    )
    pdf.add_object(field)
    return field
