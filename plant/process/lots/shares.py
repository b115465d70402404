"""How much of each source is in each lot, in perfect mixing, as far as the record says.

Vessels mix perfectly and flows are even between events; see `mixing`. A quantity that is unknown, or a vessel from
which more was drawn than it held, does not stop the computation: what depends on it gets bounds instead of one value,
and they are always wide enough. Shares serve an inquiry; the scope of a recall is the worst case of `scope_forward`.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Hashable, Mapping, Sequence
from dataclasses import dataclass

from plant.process.arrays import FloatArray
from plant.process.errors import within
from plant.process.lots.flowing import Plant
from plant.process.lots.reach import Six, check_origin
from plant.process.lots.records import Lot, Origin

__all__ = ["Mix", "Shares", "lot_shares", "origin_shares"]

MOST_MOVEMENTS = 20_000


@dataclass(frozen=True, slots=True)
class Mix:
    """A quantity (None: unknown) and, for each source, the least and the largest share that it can have in it [-]."""

    quantity: float | None
    low: FloatArray
    high: FloatArray

    @property
    def known(self) -> bool:
        """Whether the shares are known, and not only bounded."""
        return bool((self.high - self.low <= 1e-9).all())


@dataclass(frozen=True, slots=True)
class Shares:
    """Shares of the `sources`, in this order, in lots and movements.

    `entered`: all that a lot took in. `held`: what was in the vessel at the end of the lot, just before its clean
    break, or at the end of the record. `carried`: what a movement moved, on average. `seen`: what a vessel held at a
    moment that was asked for. `overdrawn`: by how much more was drawn from a lot than it held.
    """

    sources: tuple[Hashable, ...]
    entered: Mapping[Lot, Mix]
    held: Mapping[Lot, Mix]
    carried: Mapping[Hashable, Mix]
    seen: Mapping[tuple[str, float], Mix]
    overdrawn: Mapping[Lot, float]


def lot_shares(
    movements: Sequence[Six],
    breaks: Sequence[tuple[str, float]],
    *,
    outside: Collection[str] = (),
    moments: Sequence[float] = (),
    until: float | None = None,
    slack: float = 0.0,
) -> Shares:
    """The share of every movement that came from outside in every lot and in every movement.

    movements: as Movement, quantities in one unit. breaks: clean breaks (vessel, at [s]). outside: names that are no
    vessels. moments: when to look into every vessel [s]. until: end of the record [s], the last moment in it when left
    out; a movement still going on then has an unknown quantity. slack: by so much more than a vessel held may be drawn
    from it [unit of the quantities], since meters differ; beyond, something is missing in the record and the shares of
    that lot are unknown from its beginning.

    Range: 1 to 20,000 movements; quantities 0 to 1e12; slack at least 0.
    Raises: OutsideRange; CalculationError for a movement that ends before it starts or a name used twice.
    Source: perfect mixing as in washed_out; conservation of mass, by definition.

    >>> day = [(1, "Farm", "Silo", 0, 10, 300.0), (2, "Farm", "Silo", 20, 30, 100.0), (3, "Silo", None, 40, 50, 80.0)]
    >>> found = lot_shares(day, [], outside=("Farm",))
    >>> found.sources, found.carried[3].low.tolist()
    ((1, 2), [0.75, 0.25])
    """
    return _shares(movements, breaks, None, outside, moments, until, slack)


def origin_shares(
    movements: Sequence[Six],
    breaks: Sequence[tuple[str, float]],
    origin: Origin,
    *,
    outside: Collection[str] = (),
    moments: Sequence[float] = (),
    until: float | None = None,
    slack: float = 0.0,
) -> Shares:
    """The share of what the origin names in every lot and in every movement: one source, called "origin".

    All that a vessel of the origin holds in the window, and all that comes into it then, counts as the origin; so does
    all that a movement of the origin carries. Everything else as lot_shares.

    Range: as lot_shares; every name of the origin is in the record, and something came from each of its outside places
    in the window.
    Raises: as lot_shares.
    Source: as lot_shares.

    >>> day = [(1, "Farm", "Silo", 0, 10, 300.0), (2, "Farm", "Silo", 20, 30, 100.0), (3, "Silo", None, 40, 50, 80.0)]
    >>> origin_shares(day, [], Origin(movements=(2,)), outside=("Farm",)).carried[3].low.tolist()
    [0.25]
    """
    check_origin(origin, movements, outside, forward=True)
    return _shares(movements, breaks, origin, outside, moments, until, slack)


def _shares(
    movements: Sequence[Six],
    breaks: Sequence[tuple[str, float]],
    origin: Origin | None,
    outside: Collection[str],
    moments: Sequence[float],
    until: float | None,
    slack: float,
) -> Shares:
    within("number of movements", len(movements), 1, MOST_MOVEMENTS)
    within("slack", slack, 0, 1e12)
    away, doubted = frozenset(outside), frozenset[Lot]()
    overdrawn: dict[Lot, float] = {}
    while True:
        plant = Plant(movements, breaks, origin, away, moments, until, slack, doubted)
        plant.run()
        overdrawn |= plant.overdrawn
        if not plant.doubts:
            break
        # What is missing in the record of a lot may have been there from its beginning: nothing is known of that lot.
        doubted |= plant.doubts
    return Shares(
        sources=plant.sources,
        entered={lot: Mix(*one.mix()) for lot, one in plant.entered.items()},
        held={lot: _mix(*one) for lot, one in plant.held.items()},
        carried={ident: Mix(*one.mix()) for ident, one in plant.carried.items()},
        seen={key: _mix(*one) for key, one in plant.seen.items()},
        overdrawn=overdrawn,
    )


def _mix(quantity: float, bounds: FloatArray) -> Mix:
    return Mix(None if math.isnan(quantity) else quantity, bounds[0].copy(), bounds[1].copy())
