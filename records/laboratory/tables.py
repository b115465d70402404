"""A laboratory's table of results (CSV) read: each line named with what is wrong with it, before anything is kept."""

from __future__ import annotations

import csv
import io
import uuid
from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext as _

from plant.process.errors import CalculationError
from plant.process.laboratory import TESTS, read_result
from plant.process.said import again
from records.flow.common import plan_at
from records.laboratory.actions import MOST_ROWS, row_form_id
from records.laboratory.data import ResultData
from records.laboratory.models import Sample
from records.laboratory.queries import standing
from records.laboratory.words import in_words

COLUMNS = ("sample", "test", "result", "laboratory", "batch", "method", "analyst")
NEEDED = COLUMNS[:3]


@dataclass(frozen=True, slots=True)
class Line:
    """A line of the table: its number, its cells, what is wrong with it (empty: nothing), and the result it makes."""

    number: int
    cells: tuple[str, ...]
    wrong: str
    result: ResultData | None = None


def read(text: str, form_id: uuid.UUID, read_at: datetime) -> tuple[list[Line], str]:
    """The lines of a table with a heading, and what is wrong with the table as a whole. Two queries."""
    text = text.lstrip("\ufeff").strip("\n")
    first = text.split("\n", 1)[0]
    mark = max((";", "\t", ","), key=first.count)
    try:
        rows = [[cell.strip() for cell in row] for row in csv.reader(io.StringIO(text), delimiter=mark, strict=True)]
    except csv.Error:
        return [], _("This is no table: look for a quotation mark without its partner.")
    rows = [row for row in rows if any(row)]
    if not rows:
        return [], _("There is no result in it.")
    heading = [cell.casefold() for cell in rows[0]]
    lacking = [one for one in NEEDED if one not in heading]
    if lacking:
        return [], _("The first line names the columns; missing: %(which)s.") % {"which": ", ".join(lacking)}
    if len(rows) - 1 > MOST_ROWS:
        return [], _("At most %(most)d results at once.") % {"most": MOST_ROWS}
    if len(rows) == 1:
        return [], _("There is no result in it.")
    said = [dict(zip(heading, row, strict=False)) for row in rows[1:]]
    by_code: dict[str, list[Sample]] = {}
    for sample in standing(Sample.objects.filter(code__in={one.get("sample", "") for one in said})):
        by_code.setdefault(sample.code, []).append(sample)
    seen: set[tuple[str, str]] = set()
    lines = []
    for at, one in enumerate(said, 2):
        extra = [cell for cell in rows[at - 1][len(heading) :] if cell]
        line = _line(at, one, by_code, seen, form_id, read_at)
        if extra:
            line = Line(at, line.cells, _(
                "This line has more cells than the heading. With commas between cells a comma cannot be a decimal mark."
            ))
        lines.append(line)
        seen.add((one.get("sample", ""), one.get("test", "").casefold()))
    return lines, ""


def _line(
    at: int,
    one: dict[str, str],
    by_code: dict[str, list[Sample]],
    seen: set[tuple[str, str]],
    form_id: uuid.UUID,
    read_at: datetime,
) -> Line:
    cells = tuple(one.get(name, "") for name in COLUMNS)
    samples = by_code.get(one.get("sample", ""), [])
    test = _tests().get(one.get("test", "").casefold())
    if not samples:
        return Line(at, cells, _("No sample has this code."))
    if len(samples) > 1:
        return Line(at, cells, _("Several samples have this code: record it by hand."))
    sample = samples[0]
    if test is None:
        return Line(at, cells, _("Choose one of the tests."))
    if (one.get("sample", ""), one.get("test", "").casefold()) in seen:
        return Line(at, cells, _("This sample and test stand in the table twice."))
    if sample.observed_at > read_at:
        return Line(at, cells, _("This is before the sample was taken."))
    if any(len(cell) > most for cell, most in zip(cells, (60, 60, 60, 120, 60, 120, 120), strict=True)):
        return Line(at, cells, _("A cell is too long."))
    try:
        mark = plan_at(sample.observed_at).plan.plant.decimal_mark
        read_result(TESTS[test], one.get("result", ""), mark)
    except CalculationError as error:
        return Line(at, cells, again(error.sentence, _))
    return Line(
        at,
        cells,
        "",
        ResultData(
            form_id=row_form_id(form_id, at),
            sample=sample.number,
            test=test,
            typed=one["result"],
            read_at=read_at,
            laboratory=one.get("laboratory", ""),
            batch=one.get("batch", ""),
            method=one.get("method", ""),
            analyst=one.get("analyst", ""),
            given="in a table",
        ),
    )


def _tests() -> dict[str, str]:
    """The tests by their keys and by their words in the reader's language."""
    return {name.casefold(): key for key in TESTS for name in (key, in_words(key))}
