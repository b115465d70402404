"""What a person says of a training, parsed and not yet recorded."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from uuid import UUID

from records.ingredients.data import Said
from records.workshop.data import Report

TEST, AT_WORK, OUTSIDE, ATTENDED = "test", "seen at work", "certificate", "attendance"
PROVEN = (TEST, AT_WORK, OUTSIDE, ATTENDED)


@dataclass(frozen=True, slots=True, kw_only=True)
class TrainingData(Said):
    """One training of one or several people. `training`: the plan's key; empty: another one, named by `topic`.

    `at` is when it is recorded, `trained_on` the day of the training itself. `ends_on`: the certificate's own end.
    """

    training: str
    people: tuple[UUID, ...]
    trained_on: date
    trainer: str
    proven: str
    topic: str = ""
    ends_on: date | None = None
    certificate: Report | None = None
