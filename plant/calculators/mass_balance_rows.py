"""Rows of streams that people type for a balance, and how its quantities are shown."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext_lazy as _

from plant.calculators.words import listed
from plant.calculators.working import Ask, Values, number
from plant.process.errors import CalculationError
from plant.process.mass_balance import Stream, balances_of, mass_of_volume
from plant.process.said import say
from plant.process.units import exact

COVERAGE = {"sd": 1.0, "expanded": 2.0}
UNIT = Ask(
    name="unit",
    label=_("Unit of masses"),
    kind="choice",
    choices=(("lb", _("pounds (lb)")), ("kg", _("kilograms (kg)"))),
    example="lb",
)
VOLUME = Ask(
    name="volume",
    label=_("Unit of volumes"),
    kind="choice",
    choices=(("gal", _("US gallons (gal)")), ("L", _("liters (L)"))),
    example="gal",
    help=_("A line with a density is a volume."),
)
DOUBT = Ask(
    name="doubt",
    label=_("What the uncertainties are"),
    kind="choice",
    choices=(("sd", _("standard deviations")), ("expanded", _("expanded, twice the standard deviation"))),
    example="sd",
)
STREAMS = Ask(
    name="streams",
    label=_("Streams, one a line"),
    kind="rows",
    columns=(
        _("name"),
        _("from"),
        _("to"),
        _("quantity"),
        _("its uncertainty"),
        _("kg a liter, for a volume"),
        _("fat %"),
        _("its uncertainty"),
    ),
    example=(
        "received; ; Silo A; 22000; 60; ; 3.85; 0.03\n"
        "Silo A at the start; ; Silo A; 310; 4; 1.033; 3.80; 0.03\n"
        "Silo A at the end; Silo A; ; 240; 4; 1.033; 3.84; 0.03\n"
        "to the separator; Silo A; Separator; ; ; ; ;\n"
        "skim; Separator; Skim tank; 2366; 8; 1.036; 0.06; 0.02\n"
        "cream; Separator; Cream tank; 2190; 12; ; 39.2; 0.3\n"
        "Skim tank at the end; Skim tank; ; 2360; 10; 1.036; 0.07; 0.02\n"
        "Cream tank at the end; Cream tank; ; 2196; 14; ; 39.0; 0.3"
    ),
    help=_(
        "Leave a place empty for the outside, and a value empty where it was not measured. What a vessel held at the "
        "start is a line into it, what it holds at the end a line out of it."
    ),
)


@dataclass(frozen=True, slots=True)
class Network:
    """The streams in kg, the vessels, and the unit in which masses are shown. `fat`: some fat was measured."""

    streams: tuple[Stream, ...]
    nodes: tuple[str, ...]
    unit: str
    fat: bool

    def unit_of(self, place: int) -> str:
        """The unit of a quantity of the reconciliation: masses first, then fat contents (or fat)."""
        if place < len(self.streams):
            return self.unit
        return self.unit if self.streams[place - len(self.streams)].fat_pct is None else "%"

    def name_of(self, place: int) -> str:
        """What the quantity is."""
        if place < len(self.streams):
            return self.streams[place].name
        return say("%(stream)s, fat", stream=self.streams[place - len(self.streams)].name)

    def names(self, places: Sequence[int]) -> str:
        """Several of them."""
        return listed([self.name_of(place) for place in places])


def network_of(values: Values) -> Network:
    """What was typed as streams. Raises CalculationError naming the line."""
    streams = []
    for place, row in enumerate(values["streams"], start=1):
        try:
            streams.append(_stream(row, values))
        except CalculationError as error:
            raise CalculationError(say("line %(line)s: %(fault)s", line=str(place), fault=error.sentence)) from error
    nodes, _table = balances_of(streams)
    return Network(tuple(streams), nodes, values["unit"], any(one.fat_pct is not None for one in streams))


def _stream(row: tuple[str, ...], values: Values) -> Stream:
    name, source, target, quantity, doubt, density, fat, fat_doubt = row
    coverage = COVERAGE[values["doubt"]]
    kg, sd_kg = _pair(quantity, doubt, coverage, say("quantity"))
    if kg is not None and sd_kg is not None:
        if density:
            liters = float(exact(Decimal(1), values["volume"], "L"))
            kg, sd_kg = mass_of_volume(kg * liters, sd_kg * liters, number(density, say("density")))
        else:
            kg, sd_kg = kg * per_unit(values["unit"]), sd_kg * per_unit(values["unit"])
    fat_pct, sd_fat_pct = _pair(fat, fat_doubt, coverage, say("fat"))
    return Stream(name, source or None, target or None, kg, sd_kg, fat_pct, sd_fat_pct)


def _pair(value: str, doubt: str, coverage: float, what: str) -> tuple[float | None, float | None]:
    if not value and not doubt:
        return None, None
    if not value or not doubt:
        raise CalculationError(say("%(what)s: give the value and its uncertainty, or neither", what=what))
    return number(value, what), number(doubt, say("uncertainty")) / coverage


def per_unit(unit: str) -> float:
    """Kilograms in one unit of mass; a percentage stays itself."""
    return 1.0 if unit == "%" else float(exact(Decimal(1), unit, "kg"))


def shown(value: float, unit: str) -> str:
    """A quantity in its unit without the unit's name: kg or % given, "?" where there is none."""
    if math.isnan(value):
        return "?"
    places = 3 if unit == "%" else 1
    return f"{round(value / per_unit(unit), places) + 0.0:.{places}f}"


def stated(value: float, unit: str) -> str:
    """The same with its unit."""
    return "?" if math.isnan(value) else f"{shown(value, unit)} {unit}"


def with_doubt(value: float, sd: float, unit: str) -> str:
    """A value and its standard deviation; "?" where there is none."""
    return "?" if math.isnan(value) else f"{shown(value, unit)} ± {shown(sd, unit)}"
