"""Rows of movements and clean breaks that people type, and the moments and shares that answer them."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.translation import gettext_lazy as _

from plant.calculators.working import Ask, Values, number
from plant.process.errors import CalculationError
from plant.process.lots import Break, Mix, Movement, Origin
from plant.process.said import say

_CLOCK = re.compile(r"([0-9]{1,4}):([0-5][0-9])")
MOVEMENTS = Ask(
    name="movements",
    label=_("Movements, one a line"),
    kind="rows",
    columns=(_("from"), _("to"), _("start"), _("end"), _("quantity")),
    example=(
        "Nettle Farm; Silo A; 4:10; 4:40; 1200\n"
        "Oxbow Farm; Silo A; 6:45; 7:30; 900\n"
        "Silo A; Blend vat; 6:00; 7:00; 600\n"
        "Silo A; Separator; 6:30; 8:00; 700\n"
        "Separator; Skim tank; 6:30; 8:00; 630\n"
        "Separator; Cream tank; 6:30; 8:00; 70\n"
        "Cream tank; Blend vat; 8:10; 8:20; 40\n"
        "Blend vat; Finished 1; 8:40; 9:40; 500\n"
        "Finished 1; ; 9:20; 10:40; 380\n"
        "Finished 1; Rework; 10:40; 10:45; \n"
        "Rework; Blend vat; 11:00; 11:05; \n"
        "Blend vat; Finished 2; 11:30; 11:50; 120\n"
        "Finished 2; ; 12:00; 12:20; 100"
    ),
    help=_(
        "Times as hours:minutes since midnight of the first day; the second day begins at 24:00. An empty place is "
        "outside, an empty end is still going on, an empty quantity is unknown. The line's number is the movement's."
    ),
)
BREAKS = Ask(
    name="breaks",
    label=_("Clean breaks: vessels emptied and washed, one a line"),
    kind="rows",
    columns=(_("vessel"), _("time")),
    example="Silo A; 3:30\nFinished 2; 10:30",
    required=False,
)
OUTSIDE = Ask(
    name="outside",
    label=_("Names that are no vessels"),
    kind="text",
    example="Nettle Farm, Oxbow Farm",
    required=False,
    help=_("Farms, customers, drains; with commas between them."),
)


@dataclass(frozen=True, slots=True)
class Record:
    """What was typed: movements under the numbers of their lines."""

    movements: tuple[Movement, ...]
    breaks: tuple[Break, ...]
    outside: tuple[str, ...]

    def route(self, number_of: object) -> str:
        """From where to where a movement goes."""
        move = next(one for one in self.movements if one.ident == number_of)
        return f"{move.source or OUT} > {move.target or OUT}"

    def leaves(self, number_of: object) -> bool:
        """Whether a movement goes out of the plant's vessels."""
        move = next(one for one in self.movements if one.ident == number_of)
        return move.target is None or move.target in self.outside


OUT = "-"


def record_of(values: Values) -> Record:
    """What was typed as movements and breaks. Raises CalculationError naming the line."""
    moves = []
    for place, (source, target, start, end, quantity) in enumerate(values["movements"], start=1):
        try:
            began = moment(start)
            ended = None if not end else moment(end)
            moved = number(quantity, say("quantity")) if quantity else None
        except CalculationError as error:
            raise CalculationError(say("line %(line)s: %(fault)s", line=str(place), fault=error.sentence)) from error
        if source and source == target:
            raise CalculationError(say("line %(line)s goes back into the vessel it came from", line=str(place)))
        moves.append(Movement(place, source or None, target or None, began, ended, moved))
    breaks = [Break(vessel, moment(at)) for vessel, at in values["breaks"]]
    outside = tuple(name for one in (values["outside"] or "").split(",") if (name := one.strip()))
    _one_spelling([*(name for one in moves for name in (one.source, one.target) if name), *outside])
    return Record(tuple(moves), tuple(breaks), outside)


def _one_spelling(names: Iterable[str]) -> None:
    """Two spellings of one vessel would be two vessels, and a recall's list come out short."""
    known: dict[str, str] = {}
    for name in names:
        first = known.setdefault("".join(name.casefold().split()), name)
        if first != name:
            raise CalculationError(say("%(first)s and %(other)s: write one name in one way.", first=first, other=name))


def origin_of(values: Values) -> Origin:
    """Where it begins. Raises CalculationError."""
    places = tuple(name for one in (values["places"] or "").split(",") if (name := one.strip()))
    lines: list[int] = []
    for one in (values["lines"] or "").split(","):
        if one.strip():
            if not re.fullmatch(r"[0-9]{1,4}", one.strip()):
                raise CalculationError(say("%(line)s is not the number of a line", line=one.strip()[:20]))
            lines.append(int(one))
    since = moment(values["since"]) if values["since"] else -math.inf
    until = moment(values["until"]) if values["until"] else math.inf
    return Origin(places, since, until, tuple(lines))


def moment(text: str) -> float:
    """A typed time [s]. Raises CalculationError."""
    found = _CLOCK.fullmatch(text)
    if found is None:
        raise CalculationError(
            say("%(time)s is no time: write hours:minutes, for example 6:30", time=text[:20] or "''")
        )
    return 3600.0 * int(found[1]) + 60.0 * int(found[2])


def clock(at: float) -> str:
    """A moment as hours:minutes, rounded to the minute; the beginning and the end of the record where there is none."""
    if math.isinf(at):
        return say("the beginning") if at < 0 else say("the end")
    minutes = round(at / 60)
    return f"{minutes // 60}:{minutes % 60:02d}"


def percent(low: float, high: float) -> str:
    """A share, or the two ends of its bounds."""
    if high - low <= 1e-9:
        return f"{100 * low + 0.0:.2f} %"
    return f"{100 * low + 0.0:.1f} - {100 * high + 0.0:.1f} %"


def amount(mix: Mix, low: float, high: float, unit: str) -> str:
    """How much of a source is in a quantity; "?" where the quantity is unknown."""
    if mix.quantity is None:
        return "?"
    if high - low <= 1e-9:
        return f"{mix.quantity * low + 0.0:.1f} {unit}"
    return f"{mix.quantity * low + 0.0:.1f} - {mix.quantity * high + 0.0:.1f} {unit}"
