"""What a person says of a wash by a program, parsed and not yet recorded. Numbers stand as typed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID


@dataclass(frozen=True, slots=True)
class StepData:
    """One step that was done; `place_in` counts from 1 in the program."""

    place_in: int
    started_at: datetime
    ended_at: datetime
    temperature: str = ""
    strength: str = ""
    flow: str = ""
    strip_lot: str = ""
    strip_expires: date | None = None
    looked: str = ""  # yes, no, or nobody said


@dataclass(frozen=True, slots=True)
class ProgramWashData:
    """A wash by a program of the plan. Steps that were not done, or not seen, are left out."""

    form_id: UUID
    vessel: str
    program: str
    steps: tuple[StepData, ...]
    was_empty: bool = False
    note: str = ""
    parted: str = ""  # whether it was seen apart from what the plan joins it to: yes, no, or nobody said
