"""The one place that compares an answer with the plan's limits. It writes nothing."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from typing import Protocol
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from plant.hazard_plan.content import LimitDef, MonitoringDef
from plant.process.limits import (
    Judged,
    Limit,
    Outcome,
    judge_count,
    judge_number,
    judge_pair,
    judge_places,
    judge_text,
    judge_wanted,
    not_proven,
    with_instrument,
    without_mixing,
)
from plant.process.said import again
from plant.process.units import UnitError, exact_difference, plain
from records.judging.pasteurizer import Held, with_the_rows
from records.people.plans import InForce


class Answer(Protocol):
    """What judging needs of a reading; records.checks.models.Reading is one."""

    monitoring_key: str
    answer_kind: str
    typed: str
    unit: str
    value: Decimal | None
    value_second: Decimal | None
    places: dict[str, str]
    file: str
    not_taken: str
    instrument: str
    instrument_unit: str
    correction: Decimal | None  # added to a reading for its corrected value; in `instrument_unit`
    accuracy: Decimal | None  # how far off the instrument may be; in `instrument_unit`
    calibration_due: date | None
    agitator_ran: bool | None
    bulb_covered: bool | None
    product_class: str
    observed_at: datetime


@dataclass(frozen=True, slots=True)
class Judgement:
    """An outcome with all that produced it; what a verdict keeps."""

    outcome: str
    reason: str
    numbers: dict[str, str]
    monitoring_key: str
    limit_key: str = ""
    rule: str = ""
    clause: str = ""
    basis: str = ""


def judge_reading(reading: Answer, in_force: InForce, held: Held | None = None) -> Judgement | None:
    """Judge a reading by a plan version; None when that version does not monitor it (a free note or reading).

    `held`, at a pasteurizer: the holding time of record. The reasons are in the plant's language: they go into the
    record.
    """
    with in_force.speaking():
        return _judge_reading(reading, in_force, held)


def _judge_reading(reading: Answer, in_force: InForce, held: Held | None) -> Judgement | None:
    monitoring = in_force.plan.monitoring_by_key(reading.monitoring_key)
    if monitoring is None:
        return None
    limits = [as_limit(one) for one in applying_limits(monitoring, in_force, reading.product_class)]
    judged = _judge(reading, monitoring, limits, in_force)
    row = ""
    if held is not None and judged.outcome is not Outcome.NOT_PROVEN:
        values, class_ = _all_as_read_and_corrected(reading), reading.product_class
        judged, row = with_the_rows(judged, values, reading.unit, class_, limits, held, in_force)
    limit = judged.limit
    numbers = {name: again(text, _) for name, text in judged.numbers().items()}
    if held is not None and row:
        numbers |= {"row": row, "hold_s": plain(held.seconds), "hold_reading": str(held.reading)}
    if reading.instrument:
        numbers["instrument"] = reading.instrument
    if reading.correction is not None:
        numbers["correction"] = plain(reading.correction)
        numbers["correction_unit"] = reading.instrument_unit
    return Judgement(
        outcome=judged.outcome.value,
        reason=" ".join(again(text, _) for text in judged.reasons),
        numbers=numbers,
        monitoring_key=monitoring.key,
        limit_key=limit.key if limit else "",
        rule=limit.rule if limit else "",
        clause=limit.clause if limit else "",
        basis=limit.basis if limit else "",
    )


def applying_limits(monitoring: MonitoringDef, in_force: InForce, product_class: str) -> list[LimitDef]:
    """The limits of a check that apply to a product class (unknown class: those for all, and every special one)."""
    named = [in_force.plan.limit_by_key(key) for key in monitoring.limits]
    return [one for one in named if not one.products or not product_class or product_class in one.products]


def as_limit(one: LimitDef) -> Limit:
    """A written limit with its numbers read."""
    return Limit(
        key=one.key,
        quantity=one.quantity,
        unit=one.unit,
        low=_decimal(one.low),
        high=_decimal(one.high),
        act_low=_decimal(one.operating_low),
        act_high=_decimal(one.operating_high),
        wanted=one.wanted,
        clause=one.clause,
        basis=one.basis,
        rule=one.rule,
    )


def _decimal(text: str) -> Decimal | None:
    return Decimal(text) if text else None


def _judge(reading: Answer, monitoring: MonitoringDef, limits: list[Limit], in_force: InForce) -> Judged:
    first = limits[0] if limits else None
    if reading.not_taken:
        return not_proven(_("Not taken: %(why)s") % {"why": reading.not_taken}, first)
    if monitoring.limits and not limits:
        # Each of its limits is for other products: nothing here says that this one is in limits.
        return not_proven(
            _("The plan has no limit here for a product of the class %(class)s.") % {"class": reading.product_class}
        )
    try:
        correction, accuracy = _in_unit_of(reading, reading.correction), _in_unit_of(reading, reading.accuracy)
        judged = _by_kind(reading, monitoring, limits, correction)
    except UnitError as error:
        return not_proven(_("The unit does not fit the limit: %(error)s.") % {"error": error}, first)
    if monitoring.answer.kind not in ("number", "pair"):
        return judged
    if reading.instrument:
        day = reading.observed_at.astimezone(ZoneInfo(in_force.zone)).date()
        # What is added to a reading is minus the error found at the last calibration; its size is the same.
        off = None if correction is None else -correction
        judged = with_instrument(judged, day, reading.calibration_due, off, accuracy, reading.unit)
    if monitoring.agitator_min and not (reading.agitator_ran and reading.bulb_covered):
        judged = without_mixing(judged, reading.agitator_ran, reading.bulb_covered, monitoring.agitator_min)
    return judged


def _all_as_read_and_corrected(reading: Answer) -> list[Fraction]:
    """Every value that the reading stands for, in its unit."""
    found = [Fraction(one) for one in (reading.value, reading.value_second) if one is not None]
    correction = _in_unit_of(reading, reading.correction)
    if reading.value is not None and correction is not None:
        found.append(Fraction(reading.value) + correction)
    return found


def _in_unit_of(reading: Answer, amount: Decimal | None) -> Fraction | None:
    """An amount of the instrument (its correction, its accuracy) in the unit that was typed, exactly."""
    if amount is None:
        return None
    return exact_difference(amount, reading.instrument_unit or reading.unit, reading.unit)


def _by_kind(
    reading: Answer, monitoring: MonitoringDef, limits: list[Limit], correction: Fraction | None
) -> Judged:
    kind = monitoring.answer.kind
    first = limits[0] if limits else None
    numeric = any(one.numeric for one in limits)
    wanted = any(one.wanted for one in limits)
    if kind == "pair":
        if reading.value is None or reading.value_second is None:
            return not_proven(_("One of the two thermometers was not read."), first)
        return judge_pair(reading.value, reading.value_second, reading.unit, correction, limits)
    if kind in ("number", "count") and numeric:
        if reading.value is None:
            return not_proven(_("Nothing recorded."), first)
        if kind == "count":
            return judge_count(int(reading.value), limits)
        return judge_number(reading.value, reading.unit, correction, limits)
    if kind == "places":
        return judge_places(reading.places, monitoring.answer.places, limits)
    if kind in ("yes_no", "choice") and wanted:
        return judge_wanted(reading.typed, limits)
    return judge_text(reading.file if kind == "photo" else reading.typed, limits if wanted else ())


OUT = (Outcome.NOT_MET.value, Outcome.NOT_PROVEN.value)
GOOD = (Outcome.MET.value, Outcome.OPERATING.value)
