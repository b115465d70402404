"""What a calculator asks, what it was given, and the working that it shows: the command and the page use the same."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from typing import Any

from plant.calculators.words import in_keys, in_page_words, shown_word
from plant.process.errors import CalculationError
from plant.process.said import Said
from plant.process.said import say as _
from plant.process.units import NumberError, UnitError, exact, exact_difference, parse_number

MOST_LINES = 500
BY_DEFINITION = _("by definition")

# How people write a unit beside the name it has here.
_WRITTEN = {
    "f": "°F",
    "c": "°C",
    "degf": "°F",
    "degc": "°C",
    "l": "L",
    "ml": "mL",
    "sec": "s",
    "hr": "h",
    "minutes": "min",
    "seconds": "s",
    "hours": "h",
    "days": "d",
    "gpm": "gal/min",
    "gph": "gal/h",
    "lph": "L/h",
    '"': "in",
    "pct": "%",
    "percent": "%",
}


class WrongValue(CalculationError):
    """Something typed that cannot be used: `ask` names the field, the sentence says what is wrong."""

    ask: str = ""


@dataclass(frozen=True, slots=True)
class Given:
    """A number with its unit, as it was typed."""

    value: Decimal
    unit: str

    def exactly(self, unit: str) -> Fraction:
        """The exact value in another unit of the same kind."""
        return exact(self.value, self.unit, unit)

    def to(self, unit: str) -> float:
        """The value in another unit of the same kind."""
        return float(self.exactly(unit))

    def difference(self, unit: str) -> float:
        """The value in another unit where it is a difference: 1 °C is 1.8 °F."""
        return float(exact_difference(self.value, self.unit, unit))

    def __str__(self) -> str:
        return f"{self.value:f} {self.unit}".rstrip()


@dataclass(frozen=True, slots=True)
class Ask:
    """One thing that a calculator asks.

    `kind`: "quantity" (a number with one of `units`; gives Given), "choice" (one of `choices`, key and label; gives
    the key), "text" (a line of free text), "rows" (lines of parts separated by ";"; gives a list of tuples of text,
    `columns` name the parts, `words` has for the place of a column the keys that it knows: they are read in English
    and in the page's language, and given as keys). `low` and `high` bound a quantity in the first unit. What is not
    `required` may be left empty and gives None (rows: an empty list). `example` is what the page begins with; `names`
    are those of it that only name something, and are shown in the page's language too.
    """

    name: str
    label: Any
    kind: str = "quantity"
    units: tuple[str, ...] = ("",)
    low: float | None = None
    high: float | None = None
    choices: tuple[tuple[str, Any], ...] = ()
    columns: tuple[Any, ...] = ()
    words: Mapping[int, tuple[str, ...]] = field(default_factory=dict)
    example: str = ""
    names: tuple[str, ...] = ()
    help: Any = ""
    required: bool = True

    def read(self, typed: str, decimal_mark: str = ".") -> Any:
        """What was typed as the value of this kind. Raises WrongValue."""
        try:
            return self._read(typed.strip(), decimal_mark)
        except CalculationError as error:
            wrong = WrongValue(error.sentence)
            wrong.ask = self.name
            raise wrong from error

    def _read(self, typed: str, decimal_mark: str) -> Any:
        if not typed and self.required:
            raise CalculationError(_("Nothing was given."))
        match self.kind:
            case "rows":
                return [self._in_keys(row) for row in _rows(typed, len(self.columns))]
            case "choice":
                return self._chosen(typed)
            case "quantity":
                return self._quantity(typed, decimal_mark) if typed else None
        return typed or None

    def shown(self) -> str:
        """The example as a reader of the page would type it."""
        if self.kind == "choice" or not (self.words or self.names):
            return self.example
        lines = [one.split(";") for one in self.example.splitlines()]
        return "\n".join("; ".join(self._part(*one) for one in enumerate(line)).rstrip(" ") for line in lines)

    def _part(self, place: int, part: str) -> str:
        name = part.strip()
        return shown_word(name) if name in self.names else in_page_words(name, self.words.get(place, ()))

    def _in_keys(self, row: tuple[str, ...]) -> tuple[str, ...]:
        if not self.words:
            return row
        known = self.words
        return tuple(in_keys(part, known[place]) if place in known else part for place, part in enumerate(row))

    def _chosen(self, typed: str) -> str | None:
        known = [key for key, _label in self.choices]
        if typed and typed not in known:
            raise not_one_of(typed, known)
        return typed or None

    def _quantity(self, typed: str, decimal_mark: str) -> Given:
        found = re.fullmatch(r"([-+\N{MINUS SIGN}]?[0-9.,]+)\s*(.*)", typed, re.DOTALL)
        if found is None:
            raise CalculationError(_("Write a number and its unit, for example %(example)s.", example=self.example))
        try:
            value = parse_number(found[1], decimal_mark)
        except NumberError as error:
            raise CalculationError(_("%(fault)s", fault=str(error))) from error
        given = Given(value, self._unit(found[2].strip()))
        return self._bounded(given)

    def _unit(self, written: str) -> str:
        if not written:
            if len(self.units) > 1:
                raise CalculationError(_("Write the unit too: one of %(units)s.", units=", ".join(self.units)))
            return self.units[0]
        unit = _WRITTEN.get(written.casefold(), written)
        for known in self.units:
            if unit.casefold() == known.casefold():
                return known
        raise CalculationError(
            _("%(unit)s is not a unit for this: use %(units)s.", unit=written[:20], units=", ".join(self.units))
        )

    def _bounded(self, given: Given) -> Given:
        first = self.units[0]
        try:
            value = given.to(first)
        except UnitError as error:
            raise CalculationError(_("%(fault)s", fault=str(error))) from error
        if (self.low is not None and value < self.low) or (self.high is not None and value > self.high):
            raise CalculationError(
                _(
                    "%(given)s is outside what this takes: %(low)s to %(high)s %(unit)s.",
                    given=str(given),
                    low="" if self.low is None else f"{self.low:g}",
                    high="" if self.high is None else f"{self.high:g}",
                    unit=first,
                )
            )
        return given


def decimal_of(text: str, wrong: Callable[[str], Said]) -> Decimal:
    """A part of a row as an exact number. Raises CalculationError with the sentence that `wrong` makes of the fault."""
    try:
        return parse_number(text)
    except NumberError as error:
        raise CalculationError(wrong(str(error))) from error


def number(text: str, what: str) -> float:
    """A part of a row as a number. Raises CalculationError naming `what` it should be."""
    return float(decimal_of(text, lambda fault: _("%(what)s: %(fault)s", what=what, fault=fault)))


def in_unit(given: Given | None, unit: str) -> float | None:
    """A quantity in another unit, None where nothing was given."""
    return None if given is None else given.to(unit)


def as_decimal(value: Fraction) -> Decimal:
    """An exact value as a Decimal, to the digits that Decimal keeps."""
    return Decimal(value.numerator) / Decimal(value.denominator)


def not_one_of(typed: str, known: Iterable[str]) -> CalculationError:
    """The refusal of a word that is none of those known."""
    return CalculationError(_("%(typed)s is not one of: %(known)s", typed=typed[:60], known=", ".join(known)))


def joined(sentences: Sequence[str]) -> str:
    """Several sentences as one that can still be said in another language."""
    whole = sentences[0] if sentences else ""
    for one in sentences[1:]:
        whole = _("%(first)s %(then)s", first=whole, then=one)
    return whole


def _rows(typed: str, columns: int) -> list[tuple[str, ...]]:
    lines = [one for one in typed.splitlines() if one.strip()]
    if len(lines) > MOST_LINES:
        raise CalculationError(_("At most %(most)s lines are taken.", most=str(MOST_LINES)))
    rows = [tuple(part.strip() for part in one.split(";")) for one in lines]
    for place, row in enumerate(rows, start=1):
        if len(row) != columns:
            raise CalculationError(
                _(
                    "Line %(line)s has %(parts)s parts, not %(columns)s. Put a ; between the parts.",
                    line=str(place),
                    parts=str(len(row)),
                    columns=str(columns),
                )
            )
    return rows


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a working: what is worked out, the formula with its numbers, the result, where it comes from."""

    what: str
    how: str
    result: str
    source: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """A table of the working: a caption, one head for each column, rows of text."""

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Working:
    """What a calculator says.

    `answer` in one sentence; `verdict` "met" or "not met" where something is judged, with its `margin` in words;
    `steps` in order; `cautions` that belong to this answer; `picture` as SVG.
    """

    answer: str
    steps: tuple[Step, ...]
    cautions: tuple[str, ...]
    verdict: str = ""
    margin: str = ""
    tables: tuple[Table, ...] = ()
    picture: str = ""


Values = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Calculator:
    """A calculation that people can follow: `key` is its name in the command and the address of its page."""

    key: str
    title: Any
    purpose: Any
    asks: tuple[Ask, ...]
    work: Callable[[Values], Working] = field(repr=False)

    def ask(self, name: str) -> Ask:
        """The ask of that name; KeyError when there is none."""
        return {one.name: one for one in self.asks}[name]
