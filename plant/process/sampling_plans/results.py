"""Results of samples against a plan with m and M. A count below a detection limit stays what it is: less than that."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from plant.process.errors import CalculationError, within
from plant.process.limits import Outcome
from plant.process.said import say as _
from plant.process.sampling_plans.acceptance import MOST_SAMPLES, whole
from plant.process.units import NumberError, parse_number

ABSENT = "absent"
SIGNS = ("", "<", ">", ABSENT)


@dataclass(frozen=True, slots=True)
class Count:
    """One result in the plan's unit: `sign` "" for a number, "<" for less than it, ">" for more.

    ABSENT (`value` 0): nothing was found in what was tested. That counts nothing: how many would have been needed to be
    found, it does not say.
    """

    value: Decimal
    sign: str = ""

    def __str__(self) -> str:
        return ABSENT if self.sign == ABSENT else f"{self.sign}{self.value:f}"

    def above(self, limit: Decimal) -> bool | None:
        """Whether it lies above a limit; None when it cannot be told. A count at the limit is not above it."""
        if self.sign == ABSENT:
            return False if limit == 0 else None
        if self.sign == "<":
            return False if self.value <= limit else None
        if self.sign == ">":
            return True if self.value >= limit else None
        return self.value > limit


@dataclass(frozen=True, slots=True)
class Plan:
    """A sampling plan: `n` samples, at most `c` above `m`, none above `big_m` (M); None: two-class, at most c above m.

    `m` and `big_m` in one unit (per g, per mL, in 25 g). For presence or absence m is 0: absent is not above it,
    present is. Beside any other m "absent" is no count, and cannot be told from it.
    """

    n: int
    c: int
    m: Decimal
    big_m: Decimal | None = None
    clause: str = ""


@dataclass(frozen=True, slots=True)
class PlanVerdict:
    """What results say: how many are at most m (`good`), above m (`over`, those above M among them), above M (`bad`),
    and cannot be told from one of the two (`unclear`).

    `spare`: how many more above m the plan would still allow, unclear ones taken as above (below zero: too many).
    """

    outcome: Outcome
    reasons: tuple[str, ...]
    good: int
    over: int
    bad: int
    unclear: int
    spare: int


_COUNT = re.compile(r"\s*([<>]?)\s*(.+?)\s*", re.DOTALL)


def read_count(text: str) -> Count:
    """A result as a laboratory writes it: "40", "<10", ">300", "absent" (none found) or "present" (above 0).

    `text` a number [unit of the plan], a sign before it where it is one. Range: 0 and above.
    Raises: CalculationError.
    Source: common practice, no source.

    >>> str(read_count("< 10")), str(read_count("absent"))
    ('<10', 'absent')
    """
    word = text.strip().casefold()
    if word in ("absent", "not detected", "negative"):
        return Count(Decimal(0), ABSENT)  # in what was tested: no count, where a count is asked for
    if word in ("present", "detected", "positive"):
        return Count(Decimal(0), ">")  # some, and nobody knows how many
    found = _COUNT.fullmatch(text)
    if found is None:
        raise CalculationError(_("Nothing was given."))
    try:
        value = parse_number(found[2])
    except NumberError as error:
        raise CalculationError(_("A result is a number, <number, >number, absent or present.")) from error
    count = Count(value, found[1])
    _check_count(count)
    return count


def judge_samples(plan: Plan, results: Sequence[Count]) -> PlanVerdict:
    """The results of one lot against its plan [results in the plan's unit].

    Met: all n results are there, none above M, at most c above m. Not met: one above M, or more than c above m, however
    many results are still missing. Else not proven: results are missing, or cannot be told from a limit.

    Range: n 1 to 10,000, 0 <= c < n, both whole; 0 <= m <= M; at most n results, each >= 0.
    Raises: OutsideRange, CalculationError.
    Source: Commission Regulation (EC) 2073/2005, annex I, interpretation of test results (from memory); ICMSF,
    Microorganisms in Foods 7 (from memory).

    >>> plan = Plan(5, 2, Decimal(10), Decimal(100))
    >>> judge_samples(plan, [read_count(one) for one in ("<10", "<10", "40", "90", "<10")]).outcome.value
    'met'
    """
    _check(plan, results)
    above_m = [one.above(plan.m) for one in results]
    # What is not above m is not above M either.
    above_big = [
        False if plan.big_m is None or low is False else one.above(plan.big_m)
        for one, low in zip(results, above_m, strict=True)
    ]
    # Each as good and as bad as what is written allows: a verdict stands when both come to the same.
    over, over_at_most = above_m.count(True), len(results) - above_m.count(False)
    bad, bad_at_most = above_big.count(True), len(results) - above_big.count(False)
    words = {"over": str(over), "c": str(plan.c), "n": str(plan.n)}
    reasons = []
    if bad:
        reasons.append(_("%(bad)s above M, and none may be.", bad=str(bad)))
    if over > plan.c:
        reasons.append(_("%(over)s above m, and at most %(c)s of %(n)s may be.", **words))
    outcome = Outcome.NOT_MET
    if not reasons:
        outcome = Outcome.NOT_PROVEN
        if len(results) < plan.n:
            reasons.append(_("%(got)s of %(n)s results are there.", got=str(len(results)), n=str(plan.n)))
        if over_at_most > plan.c or bad_at_most:
            reasons.append(_("Some results cannot be told from a limit."))
    if not reasons:
        outcome = Outcome.MET
        reasons.append(
            _("%(over)s above m, and at most %(c)s of %(n)s may be.", **{**words, "over": str(over_at_most)})
        )
    return PlanVerdict(
        outcome=outcome,
        reasons=tuple(reasons),
        good=above_m.count(False),
        over=over,
        bad=bad,
        unclear=sum(None in pair for pair in zip(above_m, above_big, strict=True)),
        spare=plan.c - over_at_most,
    )


def _check(plan: Plan, results: Sequence[Count]) -> None:
    whole("c", plan.c, 0, whole("n", plan.n, 1, MOST_SAMPLES) - 1)
    within("m", float(plan.m), 0)
    if plan.big_m is not None:
        within("M", float(plan.big_m), float(plan.m))
    if len(results) > plan.n:
        words = {"got": str(len(results)), "n": str(plan.n)}
        raise CalculationError(_("%(got)s results for a plan of %(n)s: judge those that were drawn for it.", **words))
    for one in results:
        _check_count(one)


def _check_count(one: Count) -> None:
    within(_("result"), one.value, 0)
    if one.sign not in SIGNS:
        raise CalculationError(_("A result is a number, <number, >number, absent or present."))
    if one.sign == "<" and not one.value:
        raise CalculationError(_("Fewer than 0 cannot be: write the number that it is below, or absent."))
