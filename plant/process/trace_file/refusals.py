"""A file that is not read, and a row that is left out: each with its place and a sentence."""

from __future__ import annotations

from dataclasses import dataclass

from plant.process.errors import CalculationError
from plant.process.said import Said
from plant.process.said import say as _

_LONGEST_TEXT = 60


class FileRefused(CalculationError):
    """A file of which nothing is taken. `row` (from 1; 0: the file as a whole), `column` and `text` say where.

    `why` is the reason alone; `sentence` names the place as well.
    """

    def __init__(self, why: Said, row: int = 0, column: str = "", text: str = "") -> None:
        super().__init__(placed(why, row, column) if row else why)
        self.why, self.row, self.column, self.text = why, row, column, shortened(text)


@dataclass(frozen=True, slots=True)
class Rejected:
    """A row that is left out, all its channels: its `row` (line of the file, from 1), `column`, `text` and reason."""

    row: int
    column: str
    text: str
    why: Said

    @property
    def sentence(self) -> Said:
        """The reason with its place."""
        return placed(self.why, self.row, self.column)


class CellRefused(Exception):
    """A cell that says nothing that is understood: `why`, which `column` (from 0; -1: the whole row), its `text`."""

    def __init__(self, why: Said, column: int = -1, text: str = "") -> None:
        super().__init__(str(why))
        self.why, self.column, self.text = why, column, text


def placed(why: Said, row: int, column: str) -> Said:
    """`row 7, column 3 (Milk out): …`."""
    if column:
        return _("row %(row)s, column %(column)s: %(why)s", row=str(row), column=column, why=why)
    return _("row %(row)s: %(why)s", row=str(row), why=why)


def label(column: int, header: tuple[str, ...] = ()) -> str:
    """How a column (from 0) is named: counted from 1, with its header where there is one; "" for none."""
    if column < 0:
        return ""
    name = header[column].strip() if column < len(header) else ""
    return f"{column + 1} ({shortened(name)})" if name else str(column + 1)


def shortened(text: str) -> str:
    """At most 60 characters, none that a page or a terminal would act on."""
    plain = "".join(one if one.isprintable() else "?" for one in text[: _LONGEST_TEXT + 1])
    return plain if len(plain) <= _LONGEST_TEXT else f"{plain[: _LONGEST_TEXT - 1]}…"
