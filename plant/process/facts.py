"""The facts that decide what is due, as the records state them. Moments are aware UTC datetimes."""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal


@dataclass(frozen=True, slots=True)
class Holding:
    """One unbroken time during which a vessel held product; `until` is None while it still does."""

    subject: str
    since: datetime
    until: datetime | None = None


@dataclass(frozen=True, slots=True)
class Run:
    """One run of a line; `units` are the counts seen, each (moment, count since the run began)."""

    subject: str
    id: str
    started_at: datetime
    ended_at: datetime | None = None
    units: tuple[tuple[datetime, Decimal], ...] = ()


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened once: a tanker, a batch, a label roll, a chart change, an outage's end."""

    kind: str
    id: str
    subject: str
    at: datetime


@dataclass(frozen=True, slots=True)
class NoProduction:
    """A signed record that a shift (or with None the whole plant day) made nothing."""

    shift: str | None
    plant_day: date


@dataclass(frozen=True, slots=True)
class Facts:
    """Everything that happened and bears on what is due.

    Whoever asks for a window gives at least what touches it, uncut: holdings and runs that overlap it with
    their own starts and ends, and events from as long before it as the plan waits after one.
    """

    holdings: tuple[Holding, ...] = ()
    runs: tuple[Run, ...] = ()
    events: tuple[Event, ...] = ()
    no_production: tuple[NoProduction, ...] = ()
