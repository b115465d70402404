"""What the forms give: texts as typed, moments on the plant's clocks."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleData:
    """A sample taken. `place`: vessel, equipment, site; `taken_by` empty: who records.

    `lot_code`: of a packed lot, as typed or as a scanner types its label.
    """

    form_id: UUID
    code: str
    kind: str
    taken_at: datetime
    lot_code: str = ""
    place: str = ""
    farm: str = ""
    taken_by: str = ""
    temperature: str = ""
    temperature_unit: str = ""
    sent_to: str = ""
    tests: tuple[str, ...] = ()
    kept_where: str = ""
    kept_until: date | None = None
    words: str = ""
    amends: int | None = None
    amend_reason: str = ""
    void: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultData:
    """A result of one test; `sample`: number of the sample or of an amendment; `batch`: plates poured together."""

    form_id: UUID
    sample: int
    test: str
    typed: str
    read_at: datetime
    laboratory: str = ""
    method: str = ""
    analyst: str = ""
    words: str = ""
    given: str = "by hand"
    batch: str = ""
    amends: int | None = None
    amend_reason: str = ""
    void: bool = False
