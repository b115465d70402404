"""What a person says of a load, parsed and not yet recorded. Numbers stand as typed."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from uuid import UUID


@dataclass(frozen=True, slots=True)
class Pickup:
    """A farm's milk as it was picked up; the temperature as typed, in the plant's unit.

    `first_milking`: when it began, of milk that went into an empty tank. `collected`: one of farms.COLLECTED, or empty.
    """

    temperature: str = ""
    picked_up: datetime | None = None
    milking_ended: datetime | None = None
    first_milking: datetime | None = None
    collected: str = ""


@dataclass(frozen=True, slots=True)
class ArriveData:
    """A load at the bay, with its paper: for which vessel, of which farms (name, pounds as typed), sealed, washed.

    `pickups`: of each farm, in the same order; those at the end may be left out.
    """

    form_id: UUID
    place: str
    happened_at: datetime
    product: str
    means: str = "tanker"
    tanker: str = ""
    ticket: str = ""
    pounds: str = ""
    farms: list[tuple[str, str]] = field(default_factory=list)
    pickups: list[Pickup] = field(default_factory=list)
    seals: str = ""
    seals_whole: str = ""
    washed_at: datetime | None = None
    wash_place: str = ""
    wash_by: str = ""
    agitated: str = ""
    looks: str = ""
    sampler: str = ""
    sampler_license: str = ""
    sample: str = ""
    words: str = ""


@dataclass(frozen=True, slots=True)
class ScreenData:
    """A residue test of the load: its stage and result, kit and controls, analyst."""

    form_id: UUID
    run: int
    happened_at: datetime
    stage: str
    result: str
    kit: str
    kit_lot: str
    negative_control: str
    positive_control: str
    analyst: str
    kit_expires: date | None = None
    certificate: str = ""
    sample: str = ""
    words: str = ""


@dataclass(frozen=True, slots=True)
class UnloadData:
    """Unloading begun, into which vessel. `begins_now`: it has not yet; what stands against it refuses it."""

    form_id: UUID
    run: int
    target: str
    happened_at: datetime
    words: str = ""
    begins_now: bool = False


@dataclass(frozen=True, slots=True)
class UnloadedData:
    """Unloading ended; without a quantity of its own the scale ticket's pounds stand."""

    form_id: UUID
    run: int
    happened_at: datetime
    quantity_typed: str = ""
    unit: str = ""
    words: str = ""


@dataclass(frozen=True, slots=True)
class LinkData:
    """A movement that is in the book already, by its number, is this load's unloading."""

    form_id: UUID
    run: int
    movement: int
    words: str = ""


@dataclass(frozen=True, slots=True)
class SayData:
    """A step after a positive, something unusual, a note, or that the load left."""

    form_id: UUID
    run: int
    what: str
    happened_at: datetime
    whom: str = ""
    words: str = ""
