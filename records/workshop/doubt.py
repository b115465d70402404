"""What an instrument found off puts in doubt: its readings since the last good calibration, and what they would be.

Nobody knows when it went off: the error found nearest to a reading is taken to have been there all the time since.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from copy import copy
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import ROUND_UP, Decimal
from fractions import Fraction

from django.utils.translation import gettext as _

from plant.process.calibration import Stored, doubtful_readings
from plant.process.limits import SEVERITY, Limit, Outcome
from plant.process.units import UnitError, exact, exact_difference, plain, rounded
from records.checks.consequences import follow, hold_of_record
from records.checks.entry import recorder_of
from records.checks.models import Reading
from records.checks.queries import governing
from records.deviations.models import Deviation
from records.judging.actions import write_verdict
from records.judging.judge import applying_limits, as_limit, judge_reading
from records.judging.queries import governing as verdicts_of
from records.ledger.actions import Act
from records.people.plans import InForce, plan_in_force
from records.workshop.keeping import number, standing
from records.workshop.models import Calibration

NOW_NOT_MET, NOW_MET, UNCHANGED = "now not met", "now met", "unchanged"
FINE = Decimal("0.000001")  # a difference in another unit may not end as a decimal: it is rounded to the worse


@dataclass(frozen=True, slots=True)
class Found:
    """The error (reading minus reference) found at one point, in the instrument's unit."""

    reference: Decimal
    error: Decimal
    uncertainty: Decimal


@dataclass(frozen=True, slots=True)
class OffTime:
    """An instrument found off at `until`, not known to be right since `since` (None: never, by the book).

    `errors` [unit]: at each point the least and the greatest that reading minus reference may be.
    """

    instrument: str
    unit: str
    since: datetime | None
    until: datetime
    errors: tuple[Fraction, ...]
    number: int

    def touches(self, start: datetime, end: datetime) -> bool:
        """Whether it may have been off at some moment of [start, end]."""
        return start <= self.until and (self.since is None or self.since < end)


@dataclass(frozen=True, slots=True)
class InDoubt:
    """One reading in doubt: as it was read and as it would be, in its own unit, and whether its verdict turns."""

    reading: Reading
    second: bool  # the recorder's, of a pair
    as_read: Decimal
    corrected: Fraction
    group: str

    def kept(self) -> dict[str, object]:
        """As the calibration's record keeps it."""
        return {
            "reading": self.reading.number,
            "second": self.second,
            "as_read": plain(self.as_read),
            "corrected": plain(rounded(self.corrected, 4)),
            "unit": self.reading.unit,
            "group": self.group,
        }


def last_good(instrument: str, before: datetime) -> datetime | None:
    """When the instrument last left a calibration within its tolerance; None: never, by the book."""
    rows = Calibration.objects.filter(instrument=instrument, good_after=True, observed_at__lt=before)
    found = standing(rows).order_by("-observed_at", "-number").first()
    return found.observed_at if found else None


def off_times(instruments: Iterable[str], start: datetime, end: datetime) -> list[OffTime]:
    """When these instruments may have been off, as calibrations told later, where it touches [start, end]."""
    rows = standing(Calibration.objects.filter(instrument__in=set(instruments), within=False, observed_at__gte=start))
    found = []
    for row in rows.order_by("observed_at", "number"):
        since = last_good(row.instrument, row.observed_at)
        found.append(OffTime(row.instrument, row.unit, since, row.observed_at, _errors(row), row.number))
    return [one for one in found if one.touches(start, end)]


def _errors(row: Calibration) -> tuple[Fraction, ...]:
    in_force = plan_in_force(row.observed_at)
    if in_force is None:
        return (Fraction(row.worst_error),)
    found: list[Fraction] = []
    for one in row.points:
        read = [Fraction(number(text, "found", in_force, negative=True)) for text in one["found"]]
        error = sum(read, Fraction(0)) / len(read) - Fraction(
            number(one["reference"], "reference", in_force, negative=True)
        )
        found += [error - Fraction(row.uncertainty), error + Fraction(row.uncertainty)]
    return tuple(found)


def in_doubt(
    instrument: str, unit: str, points: Sequence[Found], since: datetime | None, until: datetime
) -> list[InDoubt]:
    """Every reading of an instrument since its last good calibration, in order of time, as it would be corrected."""
    found: list[InDoubt] = []
    for reading, second in _readings(instrument, since, until):
        value = reading.value_second if second else reading.value
        if value is not None:
            found.append(_one(reading, second, value, unit, points, since, until))
    return found


def _readings(instrument: str, since: datetime | None, until: datetime) -> list[tuple[Reading, bool]]:
    """Readings taken with it, and pairs whose recorder it is (True)."""
    rows = Reading.objects.filter(observed_at__lte=until, not_taken="")
    if since is not None:
        rows = rows.filter(observed_at__gte=since)
    own = [(one, False) for one in governing(rows.filter(instrument=instrument, value__isnull=False))]
    pairs = governing(rows.filter(answer_kind="pair", value_second__isnull=False))
    recorded = [(one, True) for one in pairs if _recorder(one) == instrument]
    return sorted([*own, *recorded], key=lambda one: (one[0].observed_at, one[0].number, one[1]))


def _recorder(reading: Reading) -> str:
    in_force = plan_in_force(reading.observed_at)
    monitoring = in_force.plan.monitoring_by_key(reading.monitoring_key) if in_force else None
    found = recorder_of(monitoring, in_force) if in_force is not None else None
    return found.code if found is not None else ""


def _one(
    reading: Reading,
    second: bool,
    value: Decimal,
    unit: str,
    points: Sequence[Found],
    since: datetime | None,
    until: datetime,
) -> InDoubt:
    try:
        in_own = exact(value, reading.unit, unit)
    except UnitError:
        return InDoubt(reading, second, value, Fraction(value), UNCHANGED)
    near = min(points, key=lambda one: abs(Fraction(one.reference) - in_own))
    error, spread = _in_unit(near.error, unit, reading.unit), _in_unit(near.uncertainty, unit, reading.unit)
    stored = Stored(str(reading.number), reading.observed_at, value, reading.unit, _limits(reading))
    told = doubtful_readings([stored], error, since, until, spread)
    for group, rows in ((NOW_NOT_MET, told.now_not_met), (NOW_MET, told.now_met), (UNCHANGED, told.unchanged)):
        for one in rows:
            return InDoubt(reading, second, value, one.corrected, group)
    return InDoubt(reading, second, value, Fraction(value) - Fraction(error), UNCHANGED)


def _in_unit(amount: Decimal, unit: str, to: str) -> Decimal:
    exactly = exact_difference(amount, unit, to)
    return (Decimal(exactly.numerator) / Decimal(exactly.denominator)).quantize(FINE, ROUND_UP)


def _limits(reading: Reading) -> tuple[Limit, ...]:
    in_force = plan_in_force(reading.observed_at)
    monitoring = in_force.plan.monitoring_by_key(reading.monitoring_key) if in_force else None
    if in_force is None or monitoring is None:
        return ()
    limits = [as_limit(one) for one in applying_limits(monitoring, in_force, reading.product_class)]
    return tuple(one for one in limits if one.numeric)


def judge_again(a: Act, row: Calibration, doubted: Sequence[InDoubt]) -> list[Deviation]:
    """New verdicts for readings whose verdict gets worse once corrected, and what follows from each."""
    worse = [one for one in doubted if one.group == NOW_NOT_MET]
    before = verdicts_of(Reading.KIND, [one.reading.number for one in worse])
    written = []
    for one in worse:
        in_force, old = plan_in_force(one.reading.observed_at), before.get(one.reading.number)
        if in_force is None or old is None:
            continue
        made = judge_reading(as_corrected(one), in_force, hold_of_record(one.reading, in_force))
        if made is None or SEVERITY.index(Outcome(made.outcome)) >= SEVERITY.index(Outcome(old.outcome)):
            continue
        with in_force.speaking():
            because = _why(row, in_force)
        numbers = made.numbers | {"calibration": str(row.number)}
        judgement = replace(made, reason=f"{because} {made.reason}", numbers=numbers)
        new = write_verdict(
            a, Reading.KIND, one.reading.number, judgement, in_force, "calibration", old.number
        )
        written.append((one.reading, new, in_force))
    found: dict[int, Deviation] = {}
    for reading, verdict, in_force in written:  # after all of them: one excursion is one deviation
        deviation = follow(a, reading, verdict, in_force)
        if deviation is not None:
            found[deviation.number] = deviation
    return list(found.values())


def as_corrected(one: InDoubt) -> Reading:
    """The reading as it would be judged with the error taken off; not to be saved."""
    reading = copy(one.reading)
    if one.second:
        reading.value_second = _decimal(one.corrected)
    else:
        # The worse of as read and corrected decides; that the instrument was off is the calibration's own finding.
        reading.correction = _decimal(one.corrected) - one.as_read
        reading.instrument_unit, reading.accuracy = reading.unit, None
    return reading


def _decimal(value: Fraction) -> Decimal:
    return (Decimal(value.numerator) / Decimal(value.denominator)).quantize(FINE)


def _why(row: Calibration, in_force: InForce) -> str:
    return _("Judged again: the calibration of %(what)s on %(day)s found it off by %(error)s %(unit)s.") % {
        "what": row.instrument,
        "day": in_force.calendar.local(row.observed_at).date().isoformat(),
        "error": plain(row.worst_error),
        "unit": row.unit,
    }
