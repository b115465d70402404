"""A vat's readings and its hold against the rows for vats. It writes nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from fractions import Fraction

from django.utils.translation import gettext as _

from plant.hazard_plan.content import LimitDef
from plant.process import pasteurization
from plant.process.errors import CalculationError, OutsideRange
from plant.process.limits import Outcome
from plant.process.pasteurization import Batch, Method, Row
from plant.process.said import again
from plant.process.units import exact, exact_difference, plain
from plant.rules.pasteurization import USES, rows_by_class, vat_rules_of
from records.judging.judge import Judgement, applying_limits
from records.judging.pasteurizer import TEMPERATURES
from records.people.plans import InForce

# The recorder never reads higher than the indicating thermometer: 1 NYCRR 2.45(b)(2) (state mirror).
RECORDER_CLAUSE = "1 NYCRR 2.45(b)(2)"
AIR_CLAUSE = "3 CCR 584(b)"


@dataclass(frozen=True, slots=True)
class VatReading:
    """Temperatures of one moment in `unit`; None where one was not read. `correction` in `instrument_unit`."""

    indicating: Decimal | None
    recording: Decimal | None
    air_space: Decimal | None
    unit: str
    correction: Decimal | None = None
    instrument_unit: str = ""
    calibration_due: date | None = None

    @property
    def coolest(self) -> Fraction | None:
        """The coolest that the product may have been: as read, as corrected, as recorded."""
        found = [Fraction(one) for one in (self.indicating, self.recording) if one is not None]
        if self.indicating is not None and self.correction is not None:
            off = exact_difference(self.correction, self.instrument_unit or self.unit, self.unit)
            found.append(Fraction(self.indicating) + off)
        return min(found) if self.indicating is not None else None


@dataclass(frozen=True, slots=True)
class Hold:
    """A hold as it was recorded: its readings, seconds from begun to ended, filling and emptying [s], the looks.

    `looks`: (what is asked, the answer) with "yes", "no" or anything else for not seen. `on`: the plant's day of it.
    """

    readings: Sequence[VatReading]
    hold_s: Fraction
    fill_s: Fraction | None
    empty_s: Fraction | None
    looks: Sequence[tuple[str, str]]
    on: date


def row_for(place: str, product_class: str, in_force: InForce) -> Row | None:
    """The row for vats that a class of product is judged by: of the area of the plan's own limits at the vat, the
    coolest; with the plan's temperature where that is higher. None where the tables have none for the class.
    """
    key = in_force.plan.plant.rule_set
    uses, limits = USES.get(key, {}), _limits(place, product_class, in_force)
    areas = [uses[one.rule][2] for one in limits if one.rule in uses]
    rows = rows_by_class(key, [product_class], next(iter(areas), ""))[product_class]
    return next((one for one in rows if one.method is Method.VAT), None)


def _limits(place: str, product_class: str, in_force: InForce) -> list[LimitDef]:
    return [
        limit
        for check in in_force.plan.monitoring
        if place in check.subjects
        for limit in applying_limits(check, in_force, product_class)
        if limit.unit in TEMPERATURES and limit.low
    ]


def least_product(row: Row, place: str, product_class: str, in_force: InForce) -> Fraction:
    """The coolest that the product may be, in the row's unit: the row's, or the plan's own where that is hotter."""
    plans = [exact(Decimal(one.low), one.unit, row.unit) for one in _limits(place, product_class, in_force)]
    return max([Fraction(row.temperature), *plans])


def judge_vat_reading(
    read: VatReading, place: str, product_class: str, in_force: InForce, on: date
) -> Judgement:
    """One reading within a hold: product, air space and recorder, each exactly, in the unit of the row.

    The reasons are in the plant's language: they go into the record.
    """
    with in_force.speaking():
        row = row_for(place, product_class, in_force)
        if row is None:
            return _no_row(product_class)
        bad, unknown = _reading(read, row, place, product_class, in_force, on)
        return _judgement(row, bad, unknown, _numbers(read), _("Product, air space and recorder are within the row."))


def judge_hold(hold: Hold, place: str, product_class: str, in_force: InForce) -> Judgement:
    """A whole hold: its readings, its length with filling and emptying, the looks; not proven where any is missing."""
    with in_force.speaking():
        row = row_for(place, product_class, in_force)
        if row is None:
            return _no_row(product_class)
        bad: list[str] = []
        unknown: list[str] = []
        for one in hold.readings:
            wrong, open_ = _reading(one, row, place, product_class, in_force, hold.on)
            bad, unknown = bad + wrong, unknown + open_
        for what, answer in hold.looks:
            if answer == "no":
                bad.append(_("%(what)s: no") % {"what": what})
            elif answer != "yes":
                unknown.append(_("%(what)s: nobody saw it") % {"what": what})
        wrong, open_, numbers = _batch(hold, row, in_force)
        return _judgement(row, bad + wrong, unknown + open_, numbers, _("The hold is within the row."))


def _batch(hold: Hold, row: Row, in_force: InForce) -> tuple[list[str], list[str], dict[str, str]]:
    """The length of the hold and what its readings give, by the vat rules. Evenness is shown by an equipment test and
    by the agitation, not by one batch's thermometer.
    """
    coolest = [one.coolest for one in hold.readings]
    air = [one.air_space for one in hold.readings]
    if not hold.readings or any(one is None for one in coolest):
        return [], [_("the product's temperature was not read at the beginning and at the end of the hold")], {}
    unit = hold.readings[0].unit
    airs = [Fraction(one) for one in air if one is not None]
    try:
        batch = Batch(
            min(one for one in coolest if one is not None), unit, hold.hold_s,
            min(airs) if len(airs) == len(air) else None, None, hold.fill_s, hold.empty_s,
        )  # fmt: skip
        found = pasteurization.judge_batch(batch, row, replace(vat_rules_of(in_force.plan.plant.rule_set), spread=None))
    except (OutsideRange, CalculationError) as error:
        return [], [str(error)], {}
    bad = [
        f"{again(one.name, _)}: {again(one.words, _)} ({one.clause})" for one in found.checks if not one.met
    ]
    open_ = [_("not given: %(what)s") % {"what": again(one, _)} for one in found.not_given]
    wanted = pasteurization.chart_hold_s(row, hold.fill_s or 0, hold.empty_s or 0)
    numbers = {
        "row": str(row.words), "hold_s": plain(hold.hold_s, 1), "wanted_s": plain(wanted, 1),
        "coolest": plain(Fraction(batch.coolest), 2), "unit": unit,
    }  # fmt: skip
    return bad, open_, numbers


def _reading(
    read: VatReading, row: Row, place: str, product_class: str, in_force: InForce, on: date
) -> tuple[list[str], list[str]]:
    bad: list[str] = []
    unknown: list[str] = []
    coolest = read.coolest
    if coolest is None:
        unknown.append(_("the indicating thermometer was not read"))
    else:
        least = least_product(row, place, product_class, in_force)
        if exact(coolest, read.unit, row.unit) < least:
            words = {
                "seen": plain(coolest, 2), "unit": read.unit, "least": plain(least, 2), "row_unit": row.unit,
                "clause": row.clause,
            }  # fmt: skip
            bad.append(_("product %(seen)s %(unit)s, %(least)s %(row_unit)s at least (%(clause)s)") % words)
    if read.calibration_due is not None and read.calibration_due < on:
        unknown.append(_("the calibration of the indicating thermometer was overdue"))
    _air(read, row, in_force, bad, unknown)
    if read.recording is None:
        unknown.append(_("the recorder was not read"))
    elif read.indicating is not None and read.recording > read.indicating:
        words = {"recorded": plain(read.recording), "seen": plain(read.indicating), "unit": read.unit,
                 "clause": RECORDER_CLAUSE}  # fmt: skip
        bad.append(
            _("recorder %(recorded)s, indicating %(seen)s %(unit)s: it never reads higher (%(clause)s)") % words
        )
    return bad, unknown


def _air(read: VatReading, row: Row, in_force: InForce, bad: list[str], unknown: list[str]) -> None:
    least = pasteurization.least_air_space(row, vat_rules_of(in_force.plan.plant.rule_set))
    if least is None:
        return
    if read.air_space is None:
        unknown.append(_("the air space was not read"))
    elif exact(read.air_space, read.unit, row.unit) < least:
        words = {
            "seen": plain(read.air_space), "unit": read.unit, "least": plain(least, 2), "row_unit": row.unit,
            "clause": AIR_CLAUSE,
        }  # fmt: skip
        bad.append(_("air space %(seen)s %(unit)s, %(least)s %(row_unit)s at least (%(clause)s)") % words)


def _numbers(read: VatReading) -> dict[str, str]:
    values = {"indicating": read.indicating, "recording": read.recording, "air_space": read.air_space}
    found = {name: plain(one) for name, one in values.items() if one is not None}
    if read.correction is not None:
        found |= {"correction": plain(read.correction), "correction_unit": read.instrument_unit}
    return found | {"unit": read.unit}


def _judgement(row: Row, bad: list[str], unknown: list[str], numbers: dict[str, str], good: str) -> Judgement:
    outcome = Outcome.NOT_MET if bad else Outcome.NOT_PROVEN if unknown else Outcome.MET
    reasons = list(dict.fromkeys([*bad, *unknown])) or [good]
    text = ". ".join(one[:1].upper() + one[1:] for one in reasons)
    text = text if text.endswith(".") else text + "."
    return Judgement(
        outcome.value, f"{again(row.words, _)}: {text}", {"row": str(row.words)} | numbers, "", "", row.key, row.clause,
        row.basis,
    )  # fmt: skip


def _no_row(product_class: str) -> Judgement:
    words = {"class": product_class or _("unknown")}
    sentence = _("The tables have no row for vats for a product of the class %(class)s.") % words
    return Judgement(Outcome.NOT_PROVEN.value, sentence, {}, "")
