"""What a laboratory writes as a result, read and held against a limit: counts, amounts, and found or not found."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from plant.process.errors import CalculationError
from plant.process.limits import SEVERITY, Judged, Limit, Outcome, not_proven, recorded
from plant.process.said import say as _
from plant.process.sampling_plans.results import Count, Plan, judge_samples, read_count
from plant.process.units import NumberError, parse_number, plain

FOUND, NOT_FOUND = "found", "not found"
TOO_MANY = "TNTC"


class Kind(StrEnum):
    """How a test answers."""

    COUNT = "count"
    AMOUNT = "amount"
    SIGN = "found or not"


@dataclass(frozen=True, slots=True)
class Test:
    """A test: how it answers, its unit, the highest plausible number; `below`: a result at the limit misses it.

    `plated`: counted on plates, which are poured and read in batches with control plates.
    """

    __test__ = False  # no test case of pytest's

    key: str
    kind: Kind
    unit: str = ""
    most: str = "1000000000"
    below: bool = False
    plated: bool = False


# Tests of control plates: what they say is whether the plates poured and read with them prove anything.
AIR, STERILITY, POSITIVE_CONTROL = "air plate", "growth on control plate", "growth on positive control"
CONTROLS = (AIR, STERILITY, POSITIVE_CONTROL)
MOST_IN_AIR = 15  # colonies on a plate open for 15 minutes; Standard Methods for dairy products, from memory


# `below`: the phosphatase rule says less than 350 mU/L (PMO Table 1; La. VII-355), the others "not over".
TESTS = {
    one.key: one
    for one in (
        Test("bacteria", Kind.COUNT, "per mL", plated=True),
        Test("coliform", Kind.COUNT, "per mL", plated=True),
        Test("Enterobacteriaceae", Kind.COUNT, "per mL", plated=True),
        Test("yeast and mold", Kind.COUNT, "per mL", plated=True),
        Test("somatic cells", Kind.COUNT, "per mL"),
        Test("phosphatase", Kind.AMOUNT, "mU/L", "1000000", below=True),
        Test("antibiotic", Kind.SIGN),
        Test("Listeria", Kind.SIGN),
        Test("Listeria count", Kind.COUNT, "per mL", plated=True),
        Test("Salmonella", Kind.SIGN),
        Test(AIR, Kind.COUNT, "per plate"),
        Test(STERILITY, Kind.SIGN),
        Test(POSITIVE_CONTROL, Kind.SIGN),
        Test("fat", Kind.AMOUNT, "%", "100"),
        Test("total solids", Kind.AMOUNT, "%", "100"),
    )
}


@dataclass(frozen=True, slots=True)
class Result:
    """A result as read: `count` of a count or an amount (with its "<" or ">"), `sign` of found or not.

    `estimated`: counted on a plate outside its countable range. `too_many`: too numerous to count, no number given.
    """

    count: Count | None = None
    sign: str = ""
    estimated: bool = False
    too_many: bool = False

    def text(self) -> str:
        """As records print it."""
        if self.too_many and self.count is None:
            return TOO_MANY
        return self.sign or f"{self.count}{' est.' if self.estimated else ''}"


def read_result(test: Test, text: str, decimal_mark: str = ".") -> Result:
    """A result as typed or as a laboratory's table has it.

    Counts and amounts [test.unit]: "40", "<1", ">6500", "4200 est.", "e 4200", "TNTC", "TNTC >300". Found or not:
    "found", "positive", "+", "not found", "negative", "absent". "<1" is less than one, never zero.
    Raises: CalculationError with a sentence for the person.
    Source: common practice of dairy laboratories, no source.

    >>> read_result(TESTS["bacteria"], "4200 est.").text(), read_result(TESTS["coliform"], "<1").text()
    ('4200 est.', '<1')
    """
    said = " ".join(text.split())
    if not said:
        raise CalculationError(_("Nothing was given."))
    if test.kind is Kind.SIGN:
        sign = _SIGNS.get(said.casefold())
        if sign is None:
            raise CalculationError(_("Write found or not found."))
        return Result(sign=sign)
    bare, estimated = _without_mark(said)
    too_many = bare.casefold().startswith("tntc")
    if too_many:
        if test.kind is not Kind.COUNT:
            raise CalculationError(_("Only a plate is too numerous to count."))
        bare = bare[4:].strip()
        if not bare:
            return Result(too_many=True, estimated=estimated)
        bare = bare if bare.startswith(">") else f">{bare}"
    mark = bare[:1] if bare[:1] in "<>" else ""
    if bare[:1] in "=+@":
        raise CalculationError(_("This is a formula, not its result: save the table with its values."))
    if test.kind is Kind.COUNT and any(one in bare for one in ".,"):
        raise CalculationError(_("A count is a whole number: write it without a point or comma."))
    try:
        value = parse_number(bare[len(mark) :].strip(), decimal_mark)
    except NumberError as error:
        if {".": ",", ",": "."}.get(decimal_mark, ",") in bare:
            raise CalculationError(_("The decimal mark of this plant is %(mark)s", mark=decimal_mark)) from error
        raise CalculationError(_("A result is a number, <number, >number, a number with est., or TNTC.")) from error
    if not 0 <= value <= Decimal(test.most):
        raise CalculationError(_("A result lies between 0 and %(most)s.", most=test.most))
    if mark == "<" and value == 0:
        raise CalculationError(_("Nothing is less than zero: write what the laboratory can see, as <1."))
    if test.kind is Kind.COUNT and value != value.to_integral_value():
        raise CalculationError(_("A count is a whole number."))
    return Result(Count(value, mark), estimated=estimated, too_many=too_many)


_SIGNS = {
    **dict.fromkeys(("found", "positive", "pos", "+", "present", "detected", "growth", "positivo", "detectado",
                   "crecimiento"), FOUND),
    **dict.fromkeys(
        ("not found", "negative", "neg", "-", "absent", "not detected", "no growth", "negativo", "no detectado",
         "ausente", "sin crecimiento"),
        NOT_FOUND,
    ),
}


def _without_mark(said: str) -> tuple[str, bool]:
    """The mark of an estimate, before or behind, taken off."""
    for mark in ("estimated", "est.", "est", "e"):
        if said.casefold().endswith(f" {mark}"):
            return said[: -len(mark)].strip(), True
        if said.casefold().startswith(f"{mark} "):
            return said[len(mark) :].strip(), True
    return said, False


def judge_result(test: Test, result: Result, limit: Limit) -> Judged:
    """One result against one limit [test.unit]. "<100" against a limit of 10 is not proven: it cannot be told."""
    if test.kind is Kind.SIGN:
        return _judge_sign(result, limit)
    if result.count is None:
        return Judged(Outcome.NOT_MET, (_("Too numerous to count: more than any limit allows."),), limit)
    if not limit.numeric:
        return not_proven(_("The limit of the plan names no number."), limit)
    if limit.unit != test.unit and limit.unit not in _ALIKE.get(test.unit, ()):
        return not_proven(_("The unit of the limit is %(unit)s.", unit=limit.unit or "–"), limit)
    return min(_bounds(test, result.count, limit), key=lambda one: SEVERITY.index(one.outcome))


def judge_control(test: Test, result: Result) -> Judged:
    """A control plate: met where its batch can be trusted. Air and sterility may not grow, a positive control must.

    Source: common practice of dairy laboratories, no source; the number of colonies of an air plate is that of Standard
    Methods for the Examination of Dairy Products (from memory).

    >>> judge_control(TESTS[POSITIVE_CONTROL], Result(sign=NOT_FOUND)).outcome.value
    'not met'
    """
    if test.key == AIR:
        over = result.count is None or result.count.above(Decimal(MOST_IN_AIR)) is not False
        words = {"value": result.text(), "most": str(MOST_IN_AIR)}
        if over:
            return Judged(Outcome.NOT_MET, (_("Air plate: %(value)s, at most %(most)s may be.", **words),))
        return Judged(Outcome.MET, (_("Air plate: %(value)s, at most %(most)s may be.", **words),))
    grew = result.sign == FOUND
    if test.key == POSITIVE_CONTROL:
        words_ = _("The positive control grew.") if grew else _("The positive control did not grow.")
        return Judged(Outcome.MET if grew else Outcome.NOT_MET, (words_,))
    words_ = _("The control plate grew.") if grew else _("The control plate did not grow.")
    return Judged(Outcome.NOT_MET if grew else Outcome.MET, (words_,))


_ALIKE = {"per mL": ("per g", "CFU/mL", "CFU/g", "cells/mL")}


def _judge_sign(result: Result, limit: Limit) -> Judged:
    if not limit.wanted:
        return not_proven(_("The limit of the plan names no wanted answer."), limit)
    good = result.sign in limit.wanted
    words = _("Found.") if result.sign == FOUND else _("Not found.")
    return Judged(Outcome.MET if good else Outcome.NOT_MET, (words,), limit)


def _bounds(test: Test, count: Count, limit: Limit) -> Iterable[Judged]:
    for bound, upper, outcome in (
        (limit.high, True, Outcome.NOT_MET),
        (limit.low, False, Outcome.NOT_MET),
        (limit.act_high, True, Outcome.OPERATING),
        (limit.act_low, False, Outcome.OPERATING),
    ):
        if bound is None:
            continue
        misses = _misses(count, bound, upper, test.below)
        words = {"value": f"{count}", "bound": plain(bound), "unit": test.unit}
        if misses:
            sentence = (
                _("%(value)s %(unit)s is over the limit of %(bound)s.", **words)
                if upper
                else _("%(value)s %(unit)s is under the limit of %(bound)s.", **words)
            )
            yield Judged(outcome, (sentence,), limit)
        elif misses is None and outcome is Outcome.NOT_MET:
            yield not_proven(_("%(value)s %(unit)s cannot be told from the limit of %(bound)s.", **words), limit)
        elif misses is False:
            yield Judged(Outcome.MET, (_("%(value)s %(unit)s, limit %(bound)s.", **words),), limit)
    yield Judged(Outcome.MET, (_("In limits."),), limit)


def _misses(count: Count, bound: Decimal, upper: bool, below: bool) -> bool | None:
    """Whether a count misses a bound; None when it cannot be told."""
    value, sign = count.value, count.sign
    if sign == "":
        return (value >= bound if below else value > bound) if upper else value < bound
    if upper:
        if sign == "<":
            return False if value <= bound else None
        return True if value >= bound else None
    if sign == ">":
        return False if value >= bound else None
    return True if value <= bound else None


def judge_lot(results: Iterable[Result], plan: Plan, limit: Limit) -> Judged:
    """All results of a lot under a plan with n, c, m and M; not proven while some of the n are missing."""
    counts = [one.count if one.count is not None else read_count("present") for one in results]
    if any(one.too_many and one.count is None for one in results):
        return Judged(Outcome.NOT_MET, (_("Too numerous to count: more than any limit allows."),), limit)
    verdict = judge_samples(plan, counts[: plan.n])
    return Judged(verdict.outcome, tuple(verdict.reasons), limit)


def judge_signs(results: Iterable[Result], n: int, limit: Limit) -> Judged:
    """Found or not in each of n samples of a lot, none of which may miss (c = 0); not proven while some are missing."""
    judged = [_judge_sign(one, limit) for one in results]
    bad = next((one for one in judged if one.outcome is not Outcome.MET), None)
    if bad is not None:
        return bad
    if len(judged) < n:
        return not_proven(_("%(got)s of %(n)s results are there.", got=str(len(judged)), n=str(n)), limit)
    return judged[0]


def worst_of(judged: list[Judged]) -> Judged:
    """The worst of a result's limits; with none it is recorded and nothing more."""
    return min(judged, key=lambda one: SEVERITY.index(one.outcome)) if judged else recorded()
