"""Streams between vessels and machines, the balances they make, and a stock as a stream."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from plant.process.arrays import FloatArray
from plant.process.errors import CalculationError, within
from plant.process.mass_balance.linear import Reconciliation, reconcile
from plant.process.said import say as _

__all__ = ["Stream", "balances_of", "mass_of_volume", "reconcile_streams", "stock_streams"]

_MOST_KG: Final = 1e12


@dataclass(frozen=True, slots=True)
class Stream:
    """What went from one vessel or machine to another in the time of the balance; None is outside.

    `kg` and its standard deviation `sd_kg` [kg]; `fat_pct` and `sd_fat_pct` [% by mass]. None: not measured; an
    uncertainty of 0: exact. Nothing flows backward: a change of stock is two streams (stock_streams).
    """

    name: str
    source: str | None
    target: str | None
    kg: float | None = None
    sd_kg: float | None = None
    fat_pct: float | None = None
    sd_fat_pct: float | None = None

    def __post_init__(self) -> None:
        """Refuse a stream that goes nowhere, or a value without its uncertainty (CalculationError, OutsideRange)."""
        if not self.name or self.source == self.target or "" in (self.source, self.target):
            raise CalculationError(
                _("a stream has a name and goes from one place to another: %(name)s", name=self.name)
            )
        if (self.kg is not None and self.sd_kg is None) or (self.fat_pct is not None and self.sd_fat_pct is None):
            raise CalculationError(_("%(name)s is measured, so its uncertainty must be given", name=self.name))
        if self.kg is not None:
            within(self.name, self.kg, 0, _MOST_KG, "kg")
            within(str(_("uncertainty of %(name)s", name=self.name)), self.sd_kg or 0.0, 0, _MOST_KG, "kg")
        if self.fat_pct is not None:
            within(str(_("fat of %(name)s", name=self.name)), self.fat_pct, 0, 100, "%")
            within(str(_("uncertainty of the fat of %(name)s", name=self.name)), self.sd_fat_pct or 0.0, 0, 100, "%")


def mass_of_volume(
    volume_l: float, sd_volume_l: float, density_kg_per_l: float, sd_density_kg_per_l: float = 0.0
) -> tuple[float, float]:
    """The mass of a measured volume and its standard deviation [kg].

    volume_l, sd_volume_l: [L] at the temperature of the density. density_kg_per_l, sd_density_kg_per_l: [kg/L].

    Range: volume 0 to 1e9 L; density 0.2 to 2 kg/L; uncertainties from 0 to the value itself.
    Raises: OutsideRange.
    Source: by definition; uncertainty JCGM 100:2008 (GUM), 5.1.2 (from memory).

    >>> [round(one, 2) for one in mass_of_volume(3000, 15, 1.033, 0.001)]
    [3099.0, 15.78]
    """
    volume = within("volume", volume_l, 0, 1e9, "L")
    density = within("density", density_kg_per_l, 0.2, 2, "kg/L")
    within("uncertainty of the volume", sd_volume_l, 0, max(volume, 1.0), "L")
    within("uncertainty of the density", sd_density_kg_per_l, 0, density, "kg/L")
    return volume * density, math.hypot(density * sd_volume_l, volume * sd_density_kg_per_l)


def stock_streams(
    vessel: str,
    start: tuple[float | None, float | None],
    end: tuple[float | None, float | None],
    fat_start: tuple[float | None, float | None] = (None, None),
    fat_end: tuple[float | None, float | None] = (None, None),
) -> tuple[Stream, Stream]:
    """A vessel's stock as two streams: what it held at the start comes in, what it holds at the end goes out.

    start, end: mass and its standard deviation [kg]. fat_start, fat_end: fat and its standard deviation [%].

    Range: masses at least 0; fat 0 to 100 %; uncertainties at least 0.
    Raises: OutsideRange; CalculationError for a value without its uncertainty.
    Source: by definition.

    >>> [one.name for one in stock_streams("Silo A", (5000, 20), (1200, 20))]
    ['Silo A at the start', 'Silo A at the end']
    """
    first, last = _("%(vessel)s at the start", vessel=vessel), _("%(vessel)s at the end", vessel=vessel)
    return Stream(first, None, vessel, *start, *fat_start), Stream(last, vessel, None, *end, *fat_end)


def balances_of(streams: Sequence[Stream]) -> tuple[tuple[str, ...], FloatArray]:
    """The vessels and machines, by name, and the table of their balances: +1 where a stream comes in, -1 where it goes.

    streams: 1 to 2000 with different names.

    Range: 1 to 2000 streams.
    Raises: OutsideRange; CalculationError for a name used twice, or a vessel that only takes or only gives.
    Source: incidence matrix of a directed graph, by definition.

    >>> balances_of([Stream("milk", None, "Separator"), Stream("cream", "Separator", None)])[1].tolist()
    [[1.0, -1.0]]
    """
    within("number of streams", len(streams), 1, 2000)
    names = [one.name for one in streams]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise CalculationError(_("two streams have the same name: %(names)s", names=", ".join(twice)))
    nodes = tuple(dict.fromkeys(node for one in streams for node in (one.source, one.target) if node is not None))
    nodes = tuple(sorted(nodes))
    if not nodes:
        raise CalculationError(_("no stream comes into a vessel or leaves one"))
    table = np.zeros((len(nodes), len(streams)))
    for place, one in enumerate(streams):
        if one.target is not None:
            table[nodes.index(one.target), place] = 1.0
        if one.source is not None:
            table[nodes.index(one.source), place] = -1.0
    for node, row in zip(nodes, table, strict=True):
        if (row >= 0).all():
            raise CalculationError(_("nothing leaves %(vessel)s: give what is in it at the end", vessel=node))
        if (row <= 0).all():
            raise CalculationError(_("nothing comes into %(vessel)s: give what was in it at the start", vessel=node))
    return nodes, table


def reconcile_streams(
    streams: Sequence[Stream], confidence: float = 0.95, multiplicity: str = "sidak"
) -> Reconciliation:
    """The masses of all streams made to fit the balance of every vessel and machine; see `reconcile` for the result.

    streams: as in balances_of; stocks are streams (stock_streams). confidence, multiplicity: as in reconcile.

    Range: 1 to 2000 streams; measured masses at least 0; confidence 0.5 to 0.999999.
    Raises: OutsideRange; CalculationError as balances_of; Infeasible where exact masses contradict each other.
    Source: as reconcile.

    >>> milk, skim = Stream("milk", None, "Separator", 10000, 50), Stream("skim", "Separator", None, 9020, 45)
    >>> found = reconcile_streams([milk, skim, Stream("cream", "Separator", None)])
    >>> found.states, round(float(found.values[2]))
    (('unchecked', 'unchecked', 'computed'), 980)
    """
    _nodes, table = balances_of(streams)
    measured, sd = columns_of([(one.kg, one.sd_kg) for one in streams])
    names = [one.name for one in streams]
    return reconcile(table, measured, sd, names=names, confidence=confidence, multiplicity=multiplicity)


def columns_of(pairs: Sequence[tuple[float | None, float | None]]) -> tuple[FloatArray, FloatArray]:
    """Values and uncertainties as arrays, nan where there is none."""
    nothing = math.nan
    given = [(nothing, nothing) if value is None or sd is None else (value, sd) for value, sd in pairs]
    return np.array([value for value, _sd in given]), np.array([sd for _value, sd in given])
