"""Cells of a table that any spreadsheet opens, without letting one run as a formula."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence

_NUMBER = re.compile(r"[+-]?\d+([.,]\d+)?")
_RUNS = ("=", "+", "-", "@", "\t", "\r", "\n", "|")


def safe(cell: str) -> str:
    """A cell that no spreadsheet takes for a formula; numbers stay numbers."""
    if cell.startswith(_RUNS) and not _NUMBER.fullmatch(cell):
        return "'" + cell
    return cell


def csv_text(columns: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """A whole table as CSV (RFC 4180)."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(columns)
    for row in rows:
        writer.writerow([safe("" if cell is None else str(cell)) for cell in row])
    return text.getvalue()
