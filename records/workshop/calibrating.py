"""An instrument against a reference: as found, as left, what the errors come to, and what they put in doubt."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import ROUND_UP, Decimal
from fractions import Fraction

from django.utils.translation import gettext as _

from plant.equipment.models import Instrument
from plant.process.calibration import as_found_error, judge_tolerance
from plant.process.errors import CalculationError
from plant.process.limits import SEVERITY, Outcome
from plant.process.said import again
from records.checks.consequences import deviation_of
from records.deviations.models import Deviation
from records.judging.models import Verdict
from records.ledger.actions import Actor, act
from records.people.plans import InForce
from records.workshop import doubt
from records.workshop.data import CalibrationData, Point
from records.workshop.keeping import Refused, common, fitting, keep_report, number, plan_at, wanted, write
from records.workshop.models import Calibration

KEPT = Decimal("0.0001")  # what the columns hold; an error is rounded away from zero
LONGEST_NAME, LONGEST_REFERENCE, LONGEST_TYPED = 120, 160, 40
MOST_READINGS = 20


@dataclass(frozen=True, slots=True)
class CalibrationSaved:
    """The record, and the deviations that its new verdicts opened or joined."""

    row: Calibration
    deviations: list[Deviation] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _AtPoint:
    found: doubt.Found
    outcome: Outcome
    within: bool
    left: Decimal | None
    left_within: bool | None


def record_calibration(by: Actor, said: CalibrationData) -> CalibrationSaved:
    """Keep a calibration once for its form; outside its tolerance as found, the readings since are judged again."""
    in_force = plan_at(said.at)
    row, doubted = _row(said, in_force)
    with act(by) as a:
        keep_report(a, said.report)
        kept, new = write(a, by, row, in_force)
        deviations = doubt.judge_again(a, kept, doubted) if new else deviations_of(kept)
    return CalibrationSaved(kept, deviations)


def deviations_of(row: Calibration) -> list[Deviation]:
    """The deviations of readings that this calibration gave a new verdict."""
    numbers = [one["reading"] for one in row.doubted if one["group"] == doubt.NOW_NOT_MET]
    judged = Verdict.objects.filter(why="calibration", subject_number__in=numbers, act=row.act)
    found = {one.number: one for one in map(deviation_of, judged.values_list("subject_number", flat=True)) if one}
    return list(found.values())


def instrument_of(code: str) -> Instrument:
    """The instrument as its own row describes it now; Refused for none."""
    found = Instrument.objects.filter(code=code).first()
    if found is None:
        raise Refused(_("There is no instrument with this number."), "instrument")
    return found


def _row(said: CalibrationData, in_force: InForce) -> tuple[Calibration, list[doubt.InDoubt]]:
    tool = instrument_of(said.instrument)
    points = {
        place: one
        for place, one in enumerate(said.points, 1)
        if one.reference.strip() or one.found.strip() or one.left.strip()
    }
    if not points:
        raise Refused(_("Enter at least one point: the reference, and what the instrument read."), "reference_1")
    spread = number(said.reference_u, "reference_u", in_force)
    known = number(said.repeatability, "repeatability", in_force) if said.repeatability.strip() else None
    at_points = [
        _at_point(one, place, tool, spread, known, said.adjusted, in_force) for place, one in points.items()
    ]
    worst = max((one.found for one in at_points), key=lambda one: abs(one.error))
    within = all(one.within for one in at_points)
    left = [one.left for one in at_points if one.left is not None]
    since = doubt.last_good(tool.code, said.at)
    doubted = [] if within else doubt.in_doubt(tool.code, tool.unit, [one.found for one in at_points], since, said.at)
    left_within = [one.left_within for one in at_points if one.left_within is not None]
    row = Calibration(
        **common(said, in_force),
        instrument=tool.code,
        instrument_name=tool.name,
        unit=tool.unit,
        points=[
            {"reference": one.reference.strip(), "found": one.found.split(), "left": one.left.strip()}
            for one in points.values()
        ],
        reference=wanted(said.reference, "reference", _("Write which reference it was."), LONGEST_REFERENCE),
        reference_u_typed=fitting(said.reference_u, "reference_u", LONGEST_TYPED),
        repeatability_typed=fitting(said.repeatability, "repeatability", LONGEST_TYPED),
        tolerance=tool.accuracy,
        resolution=tool.resolution,
        correction_before=tool.correction,
        worst_error=worst.error,
        uncertainty=max(one.found.uncertainty for one in at_points),
        worst_left=max(left, key=abs) if left else None,
        outcome=min((one.outcome for one in at_points), key=SEVERITY.index).value,
        within=within,
        good_after=all(left_within) if left_within else within,
        last_good_at=since,
        doubted=[one.kept() for one in doubted],
        adjusted=said.adjusted,
        tester=wanted(said.tester, "tester", _("Write who calibrated."), LONGEST_NAME),
        report=said.report.sha256 if said.report else "",
    )
    return row, doubted


def _at_point(
    point: Point,
    place: int,
    tool: Instrument,
    spread: Decimal,
    known: Decimal | None,
    adjusted: bool,
    in_force: InForce,
) -> _AtPoint:
    reference = number(point.reference, f"reference_{place}", in_force, negative=True)
    readings = [number(one, f"found_{place}", in_force, negative=True) for one in point.found.split()]
    if not readings:
        raise Refused(_("Enter what the instrument read."), f"found_{place}")
    if len(readings) > MOST_READINGS:
        raise Refused(_("At most %(most)s readings at one point.") % {"most": MOST_READINGS}, f"found_{place}")
    for one in readings:
        _plausible(one, tool, f"found_{place}")
    left = number(point.left, f"left_{place}", in_force, negative=True) if point.left.strip() else None
    if adjusted and left is None:
        raise Refused(_("It was adjusted: enter what it read afterwards."), f"left_{place}")
    if left is not None:
        _plausible(left, tool, f"left_{place}")
    try:
        found = as_found_error(
            [float(one) for one in readings],
            float(reference),
            reference_expanded=float(spread),
            resolution=float(tool.resolution),
            repeatability=None if known is None else float(known),
        )
    except CalculationError as error:
        raise Refused(again(error.sentence, _), f"found_{place}") from error
    exactly = sum(map(Fraction, readings), Fraction(0)) / len(readings) - Fraction(reference)
    return _AtPoint(
        found=doubt.Found(reference, _kept(exactly), _kept(Fraction(found.expanded))),
        outcome=judge_tolerance(found, float(tool.accuracy)).outcome,
        within=abs(exactly) <= Fraction(tool.accuracy),
        left=None if left is None else left - reference,
        left_within=None if left is None else abs(left - reference) <= tool.accuracy,
    )


def _plausible(value: Decimal, tool: Instrument, field_name: str) -> None:
    if not tool.low <= value <= tool.high:
        raise Refused(
            _("%(value)s is outside what %(what)s can show (%(low)s to %(high)s %(unit)s). Look again.")
            % {
                "value": value,
                "what": tool.code,
                "low": f"{tool.low.normalize():f}",
                "high": f"{tool.high.normalize():f}",
                "unit": tool.unit,
            },
            field_name,
        )


def _kept(value: Fraction) -> Decimal:
    """To the digits that a column holds, away from zero: on the side of caution."""
    return (Decimal(value.numerator) / Decimal(value.denominator)).quantize(KEPT, ROUND_UP)
