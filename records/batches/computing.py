"""The numbers of a sheet: its masses, what a batch is by what was weighed, what a separation comes to. No database."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from plant.process.mix import Ingredient, Mix, compose, formulate
from plant.process.standardizing import Target, account, separate

# Parts of a line as the sheet names them, and as the calculation does; solids are the sum.
PARTS = {"fat": "fat", "snf": "MSNF", "sugar": "sucrose", "other": "other solids"}
WANTED = {"fat": "fat", "snf": "MSNF", "sugar": "sugars", "solids": "total solids"}
PLACES = 4


@dataclass(frozen=True, slots=True)
class Weighed:
    """What was weighed in [kg] against a line of the sheet that then stood.

    `at`: the line of the sheet that stands now for the same thing; None where that one asks for it no more.
    """

    line: Mapping[str, Any]
    net: Decimal
    at: int | None


def text(number: float | Decimal, places: int = PLACES) -> str:
    """A number as records keep it: a decimal text without needless zeros."""
    said = f"{float(number):.{places}f}".rstrip("0").rstrip(".")
    return "0" if said in ("", "-0") else said


def things(lines: Sequence[Mapping[str, Any]]) -> list[Ingredient]:
    """The lines as ingredients of a mix, by their tested contents; a given mass is used exactly."""
    found = []
    for one in lines:
        parts = {PARTS[name]: float(one[name]) for name in PARTS if one[name]}
        fixed = float(one["fixed"]) if one["fixed"] else None
        found.append(Ingredient(one["name"], parts, least_kg=fixed or 0.0, most_kg=fixed))
    return found


def computed(lines: Sequence[Mapping[str, Any]], wanted: Mapping[str, str], total: Decimal | None) -> Mix:
    """The masses that make the wanted contents. Raises CalculationError, with its sentence."""
    targets = [Target.exactly(WANTED[name], float(percent)) for name, percent in wanted.items() if percent]
    return formulate(things(lines), targets, None if total is None else float(total))


def contents(mix: Mix) -> dict[str, str]:
    """Fat, solids-not-fat of milk, sugars and total solids of a mix [% by mass], and its mass [kg]."""
    found = {name: text(mix.composition.get(part, 0.0)) for name, part in WANTED.items()}
    return {**found, "kg": text(mix.total_kg)}


def blend_is(lines: Sequence[Mapping[str, Any]], weighed: Sequence[Weighed]) -> dict[str, str]:
    """What a batch is when what was weighed stands, by its own contents, and the rest comes by its target."""
    there = {one.at for one in weighed}
    rest = [(line, Decimal(line["target"])) for at, line in enumerate(lines) if at not in there]
    every = [*((one.line, one.net) for one in weighed), *rest]
    if not any(mass for _line, mass in every):
        return {}
    return contents(compose(things([line for line, _mass in every]), [float(mass) for _line, mass in every]))


def off_percent(net: Decimal, target: Decimal) -> Decimal:
    """How far a weighed mass is from its target [% of the target]; 100 where nothing of it is asked for.

    What is more than 10^10 % off is kept as that: a record holds no longer number.
    """
    if target == 0:
        return Decimal(100)
    return min((net - target) / target * 100, Decimal(10) ** 10).quantize(Decimal("0.0001"))


def separation(streams: Mapping[str, Mapping[str, str]]) -> dict[str, str]:
    """Cream and skim by the balance of mass and fat, and how far what was weighed is from them [kg].

    Each difference has its standard uncertainty, by first-order propagation of those that were given (JCGM 100, from
    memory), empty where none was. Raises CalculationError.
    """
    names = ("milk", "cream", "skim")
    values = [float(streams[one][what]) for one in names for what in ("mass", "fat")]
    doubts = [float(streams[one][f"{what}_u"] or 0) for one in names for what in ("mass", "fat")]
    m, mf, _c, cf, _s, sf = values
    made = separate(m, mf, cf, sf)
    whole = account(*values)
    found = {
        "cream": text(made.cream_kg), "skim": text(made.skim_kg), "recovery": text(made.recovery_percent, 2),
    }  # fmt: skip
    wanted: dict[str, tuple[float, Callable[..., float]]] = {
        "cream_off": (values[2] - made.cream_kg, lambda m, mf, c, cf, s, sf: c - separate(m, mf, cf, sf).cream_kg),
        "skim_off": (values[4] - made.skim_kg, lambda m, mf, c, cf, s, sf: s - separate(m, mf, cf, sf).skim_kg),
        "mass_lost": (whole.mass_kg, lambda *all_: account(*all_).mass_kg),
        "fat_lost": (whole.fat_kg, lambda *all_: account(*all_).fat_kg),
    }
    for name, (number, function) in wanted.items():
        found[name] = text(number)
        found[f"{name}_u"] = text(_spread(function, values, doubts)) if any(doubts) else ""
    return found


def _spread(function: Callable[..., float], values: Sequence[float], doubts: Sequence[float]) -> float:
    """Half the change of the function over one standard uncertainty to each side, each input by itself, added."""
    parts = []
    for place, doubt in enumerate(doubts):
        if doubt:
            up, down = list(values), list(values)
            up[place] += doubt
            down[place] -= doubt
            parts.append((function(*up) - function(*down)) / 2)
    return math.sqrt(math.fsum(one * one for one in parts))
