"""What a person says of a chart, parsed and not yet recorded. Numbers stand as typed, with their unit."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from uuid import UUID


@dataclass(frozen=True, slots=True)
class Indicated:
    """The indicating reading at a change, as typed; or, with its reason, that it was not taken."""

    typed: str = ""
    unit: str = ""
    instrument: str = ""
    not_taken: str = ""


@dataclass(frozen=True, slots=True)
class OnData:
    """A chart put on a recorder. `span_typed`: the hours that it is made for."""

    form_id: UUID
    recorder: str
    chart_number: str
    shape: str
    span_typed: str
    put_on_at: datetime
    indicated: Indicated = field(default_factory=Indicated)
    note: str = ""


@dataclass(frozen=True, slots=True)
class OffData:
    """A chart taken off, with what is written on it and what was seen. None: not said."""

    form_id: UUID
    chart: int
    taken_off_at: datetime
    indicated: Indicated = field(default_factory=Indicated)
    products: str = ""
    unusual: bool | None = None
    unusual_words: str = ""
    overlapped: bool | None = None
    clock_right: bool | None = None
    clock_against: str = ""
    clock_words: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class InitialsData:
    """The regulator's quarterly initials as they stand on paper."""

    form_id: UUID
    recorder: str
    written_on: date
    initials: str
    name: str
    accuracy: str
    chart: int | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class FitData:
    """Marks on a photo; texts by name, lengths in thousandths of the photo's width."""

    form_id: UUID
    photo: int
    shape: str
    unit: str
    marks: dict[str, str]
    first_at: datetime
    second_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class ComparedData:
    """What a person found when photo and stored trace lay over each other."""

    form_id: UUID
    chart: int
    photo: int
    outcome: str
    fit: int | None = None
    disagree_at: datetime | None = None
    because: str = ""
