"""What the lots are computed from: movements between vessels, clean breaks, and where a recall begins."""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable
from dataclasses import dataclass
from typing import NamedTuple

from plant.process.errors import CalculationError
from plant.process.said import say as _

__all__ = ["Break", "Lot", "Movement", "Origin", "fill_at"]

Lot = tuple[str, int]
"""A vessel and the number of its fill: how many clean breaks it had before. All that one fill held is one lot."""


class Movement(NamedTuple):
    """Product from one vessel to another, evenly from `started_at` until before `ended_at` [s]; None: still going on.

    `source` and `target` None, or a name that is given as outside: a farm, a drain, packs, a customer. `quantity` in
    one unit for all, None: unknown. A movement that ends as it starts takes place at that moment. Plain tuples of the
    same six parts are taken just as well.
    """

    ident: Hashable
    source: str | None
    target: str | None
    started_at: float
    ended_at: float | None
    quantity: float | None = None


class Break(NamedTuple):
    """A clean break: from `at` [s] on the vessel is empty and washed, and what comes into it is a new lot."""

    vessel: str
    at: float


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a recall begins, or what is asked about: places in a window of time, and movements by name.

    `places`: vessels (all that they held at any moment from `since` to `until` [s], both included) and outside places
    (all that came from them, or went to them, in that window). `movements`: all that these carried.
    """

    places: tuple[str, ...] = ()
    since: float = -math.inf
    until: float = math.inf
    movements: tuple[Hashable, ...] = ()

    def __post_init__(self) -> None:
        """Refuse an origin that names nothing, or a window that ends before it begins (CalculationError)."""
        if not self.places and not self.movements:
            raise CalculationError(_("say where it begins: a vessel, an outside place or a movement"))
        if not self.since <= self.until:
            raise CalculationError(_("the window ends before it begins"))


def fill_at(breaks: Iterable[tuple[str, float]], vessel: str, moment: float) -> int:
    """The number of a vessel's fill at a moment: its clean breaks up to and with that moment.

    breaks: (vessel, at [s]). vessel: its name. moment: [s].

    Range: any moment that is a number.
    Raises: CalculationError for a moment that is none.
    Source: by definition.

    >>> fill_at([("Silo A", 100.0), ("Silo B", 50.0)], "Silo A", 100.0)
    1
    """
    if math.isnan(moment):
        raise CalculationError(_("the moment is not a number"))
    return sum(1 for name, at in breaks if name == vessel and at <= moment)


def breaks_by_vessel(breaks: Iterable[tuple[str, float]]) -> dict[str, list[float]]:
    """The moments of each vessel's breaks, rising."""
    found: dict[str, list[float]] = {}
    for vessel, at in breaks:
        if not math.isfinite(at):
            raise CalculationError(_("a clean break of %(vessel)s has no moment", vessel=str(vessel)))
        found.setdefault(vessel, []).append(at)
    for moments in found.values():
        moments.sort()
    return found


def wrong_times(ident: Hashable) -> CalculationError:
    """A movement that ends before it starts, or whose moments are no numbers."""
    return CalculationError(_("movement %(number)s ends before it starts, or has no moment", number=str(ident)))
