"""The printed symbol of a pack's label: a GS1 DataMatrix where there is a GTIN, else a QR of the plain code.

The libraries draw: pystrich the ECC 200 symbol (ISO/IEC 16022) with its FNC1, segno the QR (ISO/IEC 18004). Both
pictures carry their size on paper.
"""

from __future__ import annotations

import io
from decimal import Decimal
from xml.sax.saxutils import quoteattr

import segno
from pystrich.datamatrix import FNC1, DataMatrixData, DataMatrixEncoder

from plant.process.gs1 import Elements

QUIET = 2  # modules of white around it; ISO/IEC 16022 asks for one at least
# Width of a module on paper [mm]: GS1 General Specifications, symbol specification table 1, let a DataMatrix at the
# point of sale have 0.396 to 0.990 mm (from memory).
MODULE_MM = Decimal("0.5")


def modules(elements: Elements) -> list[list[int]]:
    """The symbol of an element string, row by row, 1 dark, with its finder pattern and without a quiet zone."""
    made = DataMatrixEncoder(DataMatrixData(FNC1, elements.data, encoding="ascii"), quiet_zone=0)
    return [[int(bool(one)) for one in row] for row in made.init_renderer().matrix]


def datamatrix_svg(elements: Elements, title: str) -> str:
    """As SVG, one path of squares; one unit a module, which is MODULE_MM wide on paper."""
    rows = modules(elements)
    side = len(rows) + 2 * QUIET
    size = f"{side * MODULE_MM}mm"
    squares = "".join(
        f"M{x + QUIET} {y + QUIET}h1v1h-1z" for y, row in enumerate(rows) for x, dark in enumerate(row) if dark
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{size}" height="{size}" viewBox="0 0 {side} {side}"'
        f' role="img" aria-label={quoteattr(title)} shape-rendering="crispEdges">'
        f'<path fill="#fff" d="M0 0h{side}v{side}H0z"/><path d="{squares}"/></svg>'
    )


def qr_svg(text: str, title: str) -> str:
    """A QR of plain text as SVG; it is no GS1 symbol, and says so beside it."""
    out = io.BytesIO()
    made = segno.make(text, error="m", micro=False)
    made.save(out, kind="svg", xmldecl=False, scale=float(MODULE_MM), unit="mm", border=4, title=title, light="#fff")
    return out.getvalue().decode()
