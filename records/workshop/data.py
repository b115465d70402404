"""What the forms of the workshop give: texts as typed, moments on the plant's clocks."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """A report that `records.ledger.files.put` has kept, with the name and type it came with."""

    sha256: str
    name: str
    mime: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Act:
    """What every act of the workshop says. `amends`: the record that this one replaces, with `amend_reason`."""

    form_id: UUID
    place: str
    at: datetime
    note: str = ""
    amends: int | None = None
    amend_reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SealMoved:
    """At one place of the equipment: the number of the seal that was broken for the work, and of the new one."""

    seal_place: str
    broken: str = ""
    renewed: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkData(Act):
    """Work on a part; `at` is its end."""

    part: str
    what: str
    worker: str
    started_at: datetime
    opened: bool
    seals: tuple[SealMoved, ...] = ()
    sealed_by: str = ""
    by_regulator: bool | None = None
    parts_before: int | None = None
    parts_after: int | None = None
    tools_before: int | None = None
    tools_after: int | None = None
    count_note: str = ""
    cleaned: bool = False
    sanitized: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class TestData(Act):
    """One test of the numbered list."""

    __test__ = False  # no test of ours

    test: str
    results: str
    met: bool
    by_regulator: bool
    tester: str
    instrument: str = ""
    report: Report | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldingData(Act):
    """A holding-time test of one set-up; seconds as typed."""

    set_up: str
    seconds: str
    medium: str
    homogenizer: str
    by_regulator: bool
    tester: str
    diverted: str = ""
    tries: tuple[str, ...] = ()
    pump_rate: str = ""
    pump_rate_unit: str = ""
    report: Report | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SealData(Act):
    """One act on one seal."""

    seal_place: str
    what: str
    number: str = ""
    sealed_by: str = ""
    by_regulator: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NoticeData(Act):
    """Who told the regulator of what."""

    subject_kind: str
    subject_number: int
    what: str
    told_by: str
    told_whom: str
    how: str
    answer: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One point of a calibration: the reference, the readings found (several, apart by spaces), the one left."""

    reference: str
    found: str
    left: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CalibrationData(Act):
    """An instrument against a reference; `place` is where the instrument stands, empty for a loose one."""

    instrument: str
    points: tuple[Point, ...]
    reference: str
    reference_u: str
    tester: str
    adjusted: bool
    repeatability: str = ""
    report: Report | None = None
