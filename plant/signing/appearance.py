"""What a signature looks like on the page: a few lines of text, set by the engine that set the document."""

from __future__ import annotations

import binascii
import io
from collections.abc import Sequence
from html import escape
from pathlib import Path
from typing import Any

from pyhanko.pdf_utils.content import PdfContent
from pyhanko.pdf_utils.layout import AxisAlignment, BoxConstraints, InnerScaling, Margins, SimpleBoxLayoutRule
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.stamp import StaticStampStyle
from weasyprint import HTML
from weasyprint.text.fonts import FontConfiguration

from plant.signing.static_files import StaticFiles

FONTS = "css/fonts.css"
FONT_FAMILY = '"Atkinson Hyperlegible Next", "DejaVu Sans", sans-serif'
SIZES = (9.0, 8.0, 7.0, 6.0, 5.0, 4.0)  # points


class DoesNotFit(ValueError):
    """The text of a signature is too long for its box even in the smallest type."""


def signature_look(lines: Sequence[str], width: float, height: float, static_dir: Path) -> StaticStampStyle:
    """The lines as a stamp of that size [pt], the first one bold, in the largest type that fits.

    Raises DoesNotFit: nothing is ever clipped.
    """
    for size in SIZES:
        document = _lay_out(lines, width, height, size, static_dir)
        if len(document.pages) == 1:
            return _stamp(document.write_pdf(), width, height)
    raise DoesNotFit(f"The signature's text does not fit into {width:.0f} × {height:.0f} pt.")


def _lay_out(lines: Sequence[str], width: float, height: float, size: float, static_dir: Path) -> Any:
    files = StaticFiles(static_dir)
    fonts = f'<link rel="stylesheet" href="{FONTS}">' if (static_dir / FONTS).is_file() else ""
    text = "".join(f"<p>{escape(line)}</p>" for line in lines)
    style = (
        f"@page {{ size: {width}pt {height}pt; margin: 3pt 4pt }}"
        f"body {{ margin: 0; font: {size}pt/1.25 {FONT_FAMILY}; color: #000 }}"
        "p { margin: 0; overflow-wrap: anywhere; orphans: 1; widows: 1 } p:first-child { font-weight: 700 }"
    )
    page = f"<!doctype html><html><head>{fonts}<style>{style}</style></head><body>{text}</body></html>"
    html = HTML(string=page, base_url=files.base_url, url_fetcher=files)
    return html.render(font_config=FontConfiguration())


def _stamp(pdf: bytes, width: float, height: float) -> StaticStampStyle:
    as_it_is = SimpleBoxLayoutRule(
        x_align=AxisAlignment.ALIGN_MIN,
        y_align=AxisAlignment.ALIGN_MIN,
        margins=Margins(0, 0, 0, 0),
        inner_content_scaling=InnerScaling.NO_SCALING,
    )
    return StaticStampStyle(
        border_width=0,
        background=_Page(pdf, width, height),
        background_layout=as_it_is,
        background_opacity=1.0,
    )


class _Page(PdfContent):
    """The first page of a PDF in memory (the library's own class wants a file)."""

    def __init__(self, pdf: bytes, width: float, height: float) -> None:
        super().__init__(box=BoxConstraints(width=width, height=height))
        self._pdf = pdf

    def render(self) -> bytes:
        writer = self._ensure_writer
        page = writer.import_page_as_xobject(PdfFileReader(io.BytesIO(self._pdf)))
        name = b"/Look" + binascii.hexlify(self._pdf[-48:-32])
        self.resources.xobject[name.decode("ascii")] = page
        return name + b" Do"
