"""What each vessel holds, folded from movements, washes and seen levels. Moments are aware UTC datetimes.

The fold is a function of the facts alone, in whatever order they were recorded: a fact entered late is simply
folded in. Quantities are exact fractions in the vessel's unit; during a movement they change evenly. Nothing
is smoothed over: where facts contradict each other the book keeps the cautious reading and lists a
`Discrepancy`.
"""

from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from typing import Literal

from plant.process.facts import Holding
from plant.process.properties import MILK_LB_PER_GAL, between
from plant.process.units import rounded

MICROSECOND = timedelta(microseconds=1)


def milk_in(value: Decimal | Fraction, unit: str, to: str) -> Fraction:
    """A quantity of milk in another unit of volume [gal, L] or mass [lb, kg], by MILK_LB_PER_GAL between the two.

    Raises UnitError for what is neither. Source: common practice (see MILK_LB_PER_GAL).
    """
    return between(value, unit, to, MILK_LB_PER_GAL)


class Condition(StrEnum):
    """What a vessel is, in words."""

    HOLDS = "holds product"
    WASHING = "being washed"
    DIRTY = "empty and dirty"
    CLEAN = "empty and clean"
    SANITIZED = "sanitized"
    OUT = "out of service"


@dataclass(frozen=True, slots=True)
class Move:
    """Product from one vessel to another; None is outside (a farm, a drain, a customer, packs).

    `quantity` None is unknown; `ended_at` None is still going on. `lots` are the source lots named with it,
    `target_lot` the lot it began or joined. `renews_age`: what comes out counts as new (it was pasteurized).
    `lb_per_gal`: its density with its relative doubt, where it is known; else that of the fold.
    """

    number: int
    source: str | None
    target: str | None
    started_at: datetime
    ended_at: datetime | None = None
    quantity: Decimal | None = None
    unit: str = ""
    lots: tuple[str, ...] = ()
    target_lot: str = ""
    uncertainty: Decimal = Decimal(0)
    renews_age: bool = False
    lb_per_gal: Decimal | None = None
    density_doubt: Decimal = Decimal(0)


@dataclass(frozen=True, slots=True)
class Wash:
    """A wash or a sanitizing of one vessel."""

    vessel: str
    started_at: datetime
    ended_at: datetime
    kind: Literal["washed", "sanitized"]


@dataclass(frozen=True, slots=True)
class Level:
    """A quantity seen in a vessel."""

    vessel: str
    at: datetime
    quantity: Decimal
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Service:
    """A vessel taken out of service, or back."""

    vessel: str
    at: datetime
    out: bool


@dataclass(frozen=True, slots=True)
class Held:
    """One unbroken time with product in the vessel; `until` None: it still holds."""

    since: datetime
    until: datetime | None


@dataclass(frozen=True, slots=True)
class Batch:
    """All that a vessel held since its last clean break.

    One lot. `since` is the first product after the wash.


    `move` is the movement that began it (None: found in a vessel that the book called empty).
    """

    since: datetime
    move: int | None
    lot: str


@dataclass(frozen=True, slots=True)
class Discrepancy:
    """Where the facts do not agree.

    `amount` [the vessel's unit]: seen less book; None where no number is known.

    kind: "below zero" (more was drawn than the book held), "level" (a seen level differs), "found" (a level
    in a vessel that the book called empty), "taken as empty" (a wash showed that what might be left was not
    there), "washed while holding" (a wash of a vessel that the book calls full: it does not count), "unit" (a
    quantity in a unit that does not convert: unknown).
    """

    vessel: str
    at: datetime
    kind: str
    amount: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Snapshot:
    """A vessel from `at` on, until its next snapshot. `rate` [unit/microsecond] None: unknown after `at`."""

    at: datetime
    quantity: Fraction | None
    rate: Fraction | None
    holding: bool
    since: datetime | None
    batch: Batch | None
    oldest_at: datetime | None
    emptied_at: datetime | None
    washed_at: datetime | None
    sanitized_at: datetime | None
    clean: bool
    sanitized: bool
    washing: bool
    out: bool

    def quantity_at(self, moment: datetime) -> Fraction | None:
        """The quantity at a moment of this snapshot; never shown below zero."""
        if self.quantity is None:
            return None
        if moment == self.at:
            return max(self.quantity, Fraction(0))
        if self.rate is None:
            return None
        return max(self.quantity + self.rate * ((moment - self.at) // MICROSECOND), Fraction(0))

    def overdrawn_at(self, moment: datetime) -> bool:
        """Whether more had been drawn by then than the book held, while something is still drawn."""
        if self.quantity is None or (self.rate is None and moment != self.at):
            return False
        return self.quantity + (self.rate or 0) * ((moment - self.at) // MICROSECOND) < 0

    @property
    def condition(self) -> Condition:
        if self.holding:
            return Condition.HOLDS
        if self.out:
            return Condition.OUT
        if self.washing:
            return Condition.WASHING
        if not self.clean:
            return Condition.DIRTY
        return Condition.SANITIZED if self.sanitized else Condition.CLEAN


@dataclass(frozen=True, slots=True)
class Contents:
    """A vessel at one moment. `quantity` [`unit`, three decimals] None: unknown.

    `first_product_at` starts the 72-hour clock of raw storage: the first product after a wash, whatever was
    topped up or drawn since. `oldest_at`: when the oldest product now in it came in from outside (or was
    renewed), carried from tank to tank. `emptied_at`, `washed_at` and `sanitized_at` are the last times of
    each, whatever came after; only `condition` says whether the vessel is still clean.
    """

    vessel: str
    condition: Condition
    quantity: Decimal | None
    unit: str
    since: datetime | None
    batch: Batch | None
    first_product_at: datetime | None
    oldest_at: datetime | None
    emptied_at: datetime | None
    washed_at: datetime | None
    sanitized_at: datetime | None

    @property
    def holds(self) -> bool:
        return self.condition is Condition.HOLDS


@dataclass(frozen=True, slots=True)
class VesselBook:
    """One vessel's history."""

    vessel: str
    unit: str
    snapshots: tuple[Snapshot, ...]
    holdings: tuple[Held, ...]
    batches: tuple[Batch, ...]
    discrepancies: tuple[Discrepancy, ...]
    _at: tuple[datetime, ...] = field(repr=False, compare=False)

    def snapshot(self, moment: datetime) -> Snapshot | None:
        """The snapshot in force at a moment, None before the first fact."""
        place = bisect_right(self._at, moment)
        return self.snapshots[place - 1] if place else None

    def quantity_at(self, moment: datetime) -> Fraction | None:
        """The exact quantity at a moment, None when unknown; nothing before the first fact."""
        found = self.snapshot(moment)
        return Fraction(0) if found is None else found.quantity_at(moment)

    def most_since(self, moment: datetime) -> Fraction | None:
        """The greatest quantity that is known of any time from a moment on; None where none is.

        Between two facts a quantity runs straight, so it is greatest at one of them or just before the next.
        """
        known = [self.quantity_at(moment)]
        for one, following in zip(self.snapshots, (*self.snapshots[1:], None), strict=True):
            if one.at > moment:
                known.append(one.quantity_at(one.at))
            if following is not None and following.at > moment:
                known.append(one.quantity_at(following.at - timedelta(microseconds=1)))
        return max((one for one in known if one is not None), default=None)

    def contents(self, moment: datetime) -> Contents:
        """The vessel at a moment; one without any fact counts as empty and dirty."""
        found = self.snapshot(moment)
        if found is None:
            none = (None,) * 7
            return Contents(self.vessel, Condition.DIRTY, Decimal(0), self.unit, *none)
        exact = found.quantity_at(moment)
        return Contents(
            vessel=self.vessel,
            condition=found.condition,
            quantity=None if exact is None else rounded(exact, 3),
            unit=self.unit,
            since=found.since,
            batch=found.batch,
            first_product_at=found.batch.since if found.batch else None,
            oldest_at=found.oldest_at,
            emptied_at=found.emptied_at,
            washed_at=found.washed_at,
            sanitized_at=found.sanitized_at,
        )


@dataclass(frozen=True, slots=True)
class Book:
    """The whole plant's history, by vessel."""

    vessels: Mapping[str, VesselBook]

    def contents(self, vessel: str, moment: datetime) -> Contents:
        """A vessel at a moment, one without any fact included."""
        return (self.vessels.get(vessel) or VesselBook(vessel, "", (), (), (), (), ())).contents(moment)

    @property
    def holdings(self) -> tuple[Holding, ...]:
        """Every holding as a fact that makes checks due."""
        return tuple(
            Holding(vessel.vessel, held.since, held.until)
            for vessel in self.vessels.values()
            for held in vessel.holdings
        )

    @property
    def discrepancies(self) -> tuple[Discrepancy, ...]:
        """Every contradiction found, in order of time."""
        every = (one for vessel in self.vessels.values() for one in vessel.discrepancies)
        return tuple(sorted(every, key=lambda one: (one.at, one.vessel, one.kind)))
