"""Sampling plans, results, probable numbers and running rules."""

from __future__ import annotations

import math
from datetime import date, timedelta
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.process.errors import CalculationError, OutsideRange
from plant.process.limits import Outcome
from plant.process.sampling_plans import (
    Count,
    Dilution,
    Plan,
    accept_lognormal,
    accept_three_class,
    accept_two_class,
    defective_at,
    judge_samples,
    most_probable_number,
    oc_curve,
    protection_c0,
    read_count,
    running_rule,
    sample_size_c0,
)
from plant.process.sampling_plans.probable_number import two_digits

pytestmark = pytest.mark.once

plans = st.integers(1, 40).flatmap(lambda n: st.tuples(st.just(n), st.integers(0, n)))
shares = st.floats(0, 1)
PLAN = Plan(5, 2, Decimal(10), Decimal(100))


@settings(max_examples=50)
@given(plans, shares, shares)
def test_worse_lots_pass_less_often(plan, one, other) -> None:
    """Monotone in the share, and a probability."""
    low, high = sorted((one, other))
    assert 0 <= accept_two_class(*plan, high) <= accept_two_class(*plan, low) <= 1


@settings(max_examples=50)
@given(st.integers(2, 40), shares)
def test_tolerating_more_passes_more_and_sampling_more_passes_less(n, share) -> None:
    """Monotone in c and in n."""
    for c in range(n - 1):
        assert accept_two_class(n, c, share) <= accept_two_class(n, c + 1, share) + 1e-12
        assert accept_two_class(n + 1, c, share) <= accept_two_class(n, c, share) + 1e-12


@settings(max_examples=50)
@given(plans, shares, shares)
def test_third_class_only_makes_a_plan_stricter(plan, one, other) -> None:
    """With some above M a lot passes no more often than with none."""
    marginal, defective = one * (1 - other), other
    strict = accept_three_class(*plan, marginal, defective)
    assert -1e-12 <= strict <= accept_two_class(*plan, marginal) + 1e-12


def test_lot_that_is_all_bad_never_passes_three_classes() -> None:
    """Even where c tolerates everything above m."""
    assert accept_three_class(5, 5, 0, 1) == 0
    assert accept_three_class(5, 5, 1, 0) == 1


def test_cleaner_lots_pass_more_often_by_their_mean() -> None:
    """Falls from one to zero with the mean log count."""
    chances = [accept_lognormal(5, 2, 1, 2, mean, 0.8) for mean in np.linspace(-3, 6, 30)]
    assert chances == sorted(chances, reverse=True)
    assert (chances[0], chances[-1]) == pytest.approx((1, 0), abs=1e-6)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: accept_two_class(0, 0, 0.1),
        lambda: accept_two_class(5, 6, 0.1),
        lambda: accept_two_class(5, 0, 1.1),
        lambda: accept_two_class(5, 0, math.nan),
        lambda: accept_three_class(5, 1, 0.6, 0.6),
        lambda: accept_lognormal(5, 1, 2, 1, 0, 0.8),
        lambda: accept_lognormal(5, 1, 1, 2, 0, 0),
        lambda: oc_curve(5, 1, [0.1, -0.1]),
        lambda: defective_at(5, 5, 0.5),
        lambda: defective_at(5, 1, 1.0),
        lambda: sample_size_c0(0, 0.95),
        lambda: sample_size_c0(0.1, 1.0),
        lambda: sample_size_c0(0.1, 0.9, lot_size=0),
        lambda: protection_c0(5, 0),
    ],
)
def test_impossible_plans_are_refused(wrong) -> None:
    """Out of range, with the range in the sentence."""
    with pytest.raises(OutsideRange):
        wrong()


def test_samples_are_counted_in_whole_numbers() -> None:
    """Half a sample, or no curve at all."""
    with pytest.raises(CalculationError, match="whole number"):
        accept_two_class(5.5, 1, 0.1)  # type: ignore[arg-type]
    with pytest.raises(CalculationError, match="one row"):
        oc_curve(5, 1, [])


@pytest.mark.parametrize(("share", "confidence"), [(0.5, 0.75), (0.1, 0.9), (1.0, 0.95), (0.9, 0.9), (1e-6, 0.5)])
def test_size_is_the_smallest_that_protects(share, confidence) -> None:
    """At the bound itself it is enough: half bad, 75 %, two samples."""
    n = sample_size_c0(share, confidence)
    assert (1 - share) ** n <= 1 - confidence + 1e-12
    assert n == 1 or (1 - share) ** (n - 1) > 1 - confidence


def test_small_lots_need_fewer_samples_and_never_more_than_all() -> None:
    """Rises with the lot towards the number for a large one."""
    sizes = [sample_size_c0(0.1, 0.95, lot_size=lot) for lot in (10, 20, 50, 100, 1000, 100_000)]
    assert sizes == sorted(sizes)
    assert sizes[0] == 10
    assert sizes[-1] == sample_size_c0(0.1, 0.95) == 29


@settings(max_examples=50)
@given(st.integers(1, 500), st.floats(0.5, 0.99))
def test_size_and_protection_are_inverse(n, confidence) -> None:
    """n samples protect against what asks for n."""
    assert sample_size_c0(protection_c0(n, confidence) * (1 + 1e-9), confidence) == n


@pytest.mark.parametrize(
    ("text", "value", "sign"),
    [
        ("40", "40", ""),
        (" <10 ", "10", "<"),
        ("> 300", "300", ">"),
        ("Absent", "0", "absent"),
        ("detected", "0", ">"),
        ("0.3", "0.3", ""),
    ],
)
def test_results_are_read_as_laboratories_write_them(text, value, sign) -> None:
    """A number, a sign before it, or a word."""
    assert read_count(text) == Count(Decimal(value), sign)


@pytest.mark.parametrize("text", ["", "  ", "<", "ten", "-1", "<<3", "1,000", "3 <", "=4", "<0"])
def test_what_is_no_result_is_refused(text) -> None:
    """Never read as nothing found."""
    with pytest.raises(CalculationError):
        read_count(text)


def test_count_at_a_limit_is_not_above_it() -> None:
    """Nor is anything below a detection limit at it; more than the limit is."""
    limit = Decimal(10)
    assert [read_count(one).above(limit) for one in ("10", "11", "<10", "<11", ">10", ">9")] == [
        False, True, False, None, True, None,
    ]  # fmt: skip


def test_marginal_and_bad_both_count_above_m() -> None:
    """One above M is one above m as well."""
    verdict = judge_samples(PLAN, [read_count(one) for one in ("5", "50", "500", "5", "5")])
    assert (verdict.good, verdict.over, verdict.bad, verdict.unclear, verdict.spare) == (3, 2, 1, 0, 0)
    assert verdict.reasons == ("1 above M, and none may be.",)


def test_missing_results_cannot_hide_a_failure() -> None:
    """Not met with two results of five; not proven where both are good."""
    assert judge_samples(PLAN, [read_count("101")]).outcome is Outcome.NOT_MET
    verdict = judge_samples(PLAN, [read_count("1"), read_count("1")])
    assert (verdict.outcome, verdict.reasons) == (Outcome.NOT_PROVEN, ("2 of 5 results are there.",))
    assert judge_samples(PLAN, []).outcome is Outcome.NOT_PROVEN


def test_unclear_results_are_met_where_the_plan_bears_the_worst() -> None:
    """'<100' may be marginal, and two may be; it may not be above M."""
    assert judge_samples(PLAN, [read_count(one) for one in ("<100", "<100", "1", "1", "1")]).outcome is Outcome.MET
    assert judge_samples(PLAN, [read_count(one) for one in ("<100",) * 3 + ("1", "1")]).outcome is Outcome.NOT_PROVEN
    assert judge_samples(PLAN, [read_count(one) for one in ("<1000", "1", "1", "1", "1")]).outcome is Outcome.NOT_PROVEN


@pytest.mark.parametrize(
    "plan",
    [Plan(0, 0, Decimal(1)), Plan(5, 5, Decimal(1)), Plan(5, 1, Decimal(10), Decimal(9)), Plan(5, 1, Decimal(-1))],
)
def test_plans_that_make_no_sense_are_refused(plan) -> None:
    """No samples, everything tolerated, M below m, m below zero."""
    with pytest.raises(OutsideRange):
        judge_samples(plan, [])


@pytest.mark.parametrize("plan", [Plan(5.5, 2, Decimal(10)), Plan(5, 2.5, Decimal(10)), Plan(5, 0.5, Decimal(10))])
def test_parts_of_samples_are_refused(plan) -> None:
    """At most two and a half above m would let pass what no plan says."""
    with pytest.raises(CalculationError, match="must be a whole number"):
        judge_samples(plan, [])


def test_nothing_found_is_not_above_nothing_and_no_count_beside_another_limit() -> None:
    """Absent in what was tested: met where m is 0 (below M then too), unclear beside an m that is a count."""
    absent = [read_count("absent")] * 5
    assert judge_samples(Plan(5, 0, Decimal(0), Decimal(100)), absent).outcome is Outcome.MET
    counted = judge_samples(PLAN, absent)
    assert (counted.outcome, counted.unclear, counted.over, counted.good) == (Outcome.NOT_PROVEN, 5, 0, 0)
    # In a plan of two classes that bears two above m, two that cannot be told are borne like any others.
    assert judge_samples(Plan(5, 2, Decimal(10)), [*absent[:2], *[read_count("5")] * 3]).outcome is Outcome.MET
    assert read_count("not detected").above(Decimal("0.1")) is None


def test_more_results_than_the_plan_draws_are_refused() -> None:
    """Nobody picks the best five of six."""
    with pytest.raises(CalculationError, match="6 results for a plan of 5"):
        judge_samples(PLAN, [Count(Decimal(1))] * 6)
    with pytest.raises(CalculationError, match="A result is"):
        judge_samples(PLAN, [Count(Decimal(1), "~")])


@settings(max_examples=50)
@given(st.lists(st.integers(0, 200).map(lambda one: Count(Decimal(one))), max_size=5), st.integers(0, 4))
def test_dirtier_result_never_improves_a_verdict(results, place) -> None:
    """Raising one count leaves the verdict as it is or worsens it."""
    order = (Outcome.MET, Outcome.NOT_PROVEN, Outcome.NOT_MET)
    if place >= len(results):
        return
    worse = [*results]
    worse[place] = Count(results[place].value + 95)
    before, after = judge_samples(PLAN, results).outcome, judge_samples(PLAN, worse).outcome
    assert order.index(after) >= order.index(before)


def series(*positive: int) -> list[Dilution]:
    """Three tubes of each of three tenfold dilutions."""
    return [Dilution(portion, 3, one) for portion, one in zip((0.1, 0.01, 0.001), positive, strict=True)]


@settings(max_examples=50)
@given(st.tuples(st.integers(0, 3), st.integers(0, 3), st.integers(0, 3)), st.sampled_from([0.1, 2.0, 100.0]))
def test_number_goes_with_the_unit_of_the_portions(positive, factor) -> None:
    """Unit-invariant: portions in mg instead of g give the number per mg, limits too."""
    one = most_probable_number(series(*positive))
    other = most_probable_number([Dilution(d.portion * factor, d.tubes, d.positive) for d in series(*positive)])
    for name in ("mpn", "low", "high"):
        assert getattr(other, name) * factor == pytest.approx(getattr(one, name), rel=1e-8)
    assert one.low <= one.mpn <= one.high
    assert 0 < one.rarity <= 1


@settings(max_examples=50)
@given(st.tuples(st.integers(0, 3), st.integers(0, 3), st.integers(0, 3)), st.integers(0, 2))
def test_one_more_positive_tube_raises_number_and_limits(positive, place) -> None:
    """Monotone in every tube."""
    if positive[place] == 3:
        return
    more = [one + (at == place) for at, one in enumerate(positive)]
    before, after = most_probable_number(series(*positive)), most_probable_number(series(*more))
    assert after.mpn > before.mpn
    assert after.high >= before.high and after.low >= before.low


def test_order_of_the_dilutions_does_not_matter() -> None:
    """Written from either end."""
    assert most_probable_number(series(3, 1, 0)) == most_probable_number(series(3, 1, 0)[::-1])


@pytest.mark.parametrize("method", ["exact", "likelihood ratio"])
def test_no_tube_and_every_tube_are_bounded_on_one_side(method) -> None:
    """Nothing found is not none there."""
    none, every = (most_probable_number(series(*one), method=method) for one in ((0, 0, 0), (3, 3, 3)))
    assert (none.mpn, none.low, none.text) == (0, 0, "< 3.0")
    assert 0 < none.high < math.inf
    assert (every.mpn, every.high, every.text) == (math.inf, math.inf, "> 1100")
    assert 0 < every.low < math.inf


def test_exact_upper_end_of_no_positive_tube_has_a_closed_form() -> None:
    """exp(-MPN x all sample) = 0.025."""
    assert most_probable_number(series(0, 0, 0)).high == pytest.approx(-math.log(0.025) / 0.333, rel=1e-9)


def test_log_normal_needs_both_kinds_of_tubes() -> None:
    """Refused, not infinite."""
    with pytest.raises(CalculationError, match="both a positive and a negative"):
        most_probable_number(series(0, 0, 0), method="log-normal")


def test_large_sets_take_the_likelihood_and_say_so() -> None:
    """Too many outcomes to list: another method, by name; asked for the exact one, refused."""
    large = [Dilution(10.0**-step, 30, 15) for step in range(4)]
    found = most_probable_number(large)
    assert (found.method, str(found.method_words)) == ("likelihood ratio", "likelihood ratio (Wilks)")
    with pytest.raises(CalculationError, match="too many outcomes"):
        most_probable_number(large, method="exact")


def test_higher_confidence_gives_a_wider_interval() -> None:
    """By every method."""
    for method in ("exact", "likelihood ratio", "log-normal"):
        wide, narrow = (most_probable_number(series(3, 1, 0), level, method) for level in (0.99, 0.9))
        assert wide.low < narrow.low < narrow.high < wide.high


def test_far_dilutions_keep_their_digits() -> None:
    """Portions from 1e6 down to 1e-12 in one set."""
    found = most_probable_number([Dilution(1e6, 3, 3), Dilution(1e-12, 3, 2)])
    assert found.mpn == pytest.approx(math.log(3) * 1e12, rel=1e-6)


@pytest.mark.parametrize(
    "dilutions",
    [[], [Dilution(0, 3, 1)], [Dilution(1, 0, 0)], [Dilution(1, 3, 4)], [Dilution(1, 3, -1)], [Dilution(1, 2.5, 1)],
     [Dilution(1, 3, 1), Dilution(1, 3, 1)], [Dilution(math.nan, 3, 1)]],
)  # fmt: skip
def test_impossible_series_are_refused(dilutions) -> None:
    """No tubes, more positive than tubes, the same portion twice."""
    with pytest.raises(CalculationError):
        most_probable_number(dilutions)


def test_unknown_method_is_refused() -> None:
    """With the names of those there are."""
    with pytest.raises(CalculationError, match="exact, likelihood ratio, log-normal"):
        most_probable_number(series(1, 0, 0), method="guess")


@pytest.mark.parametrize(
    ("value", "text"),
    [(3.0075, "3.0"), (42.73, "43"), (99.6, "100"), (1098.9, "1100"), (0.0512, "0.051"), (9.96, "10")],
)
def test_two_digits_are_those_that_tables_print(value, text) -> None:
    """Rounded, without an exponent."""
    assert two_digits(value) == text


WEEK = [date(2026, 1, 5) + timedelta(days=7 * one) for one in range(8)]


def states(*results: int):
    """The running rule with a limit of 20 after each weekly sample."""
    return running_rule(zip(WEEK, map(Decimal, results), strict=False), Decimal(20))


def test_value_at_the_limit_is_not_above_it() -> None:
    """20 of 20 passes, 21 does not."""
    assert [one.over for one in states(20, 21)] == [False, True]


def test_two_of_the_first_two_are_notice_already() -> None:
    """With fewer samples the rule looks at those there are."""
    now = states(30, 30)[-1]
    assert (now.over_notice, now.of_notice, now.notice) == (2, 2, True)
    assert (now.resample_after, now.resample_by) == (date(2026, 1, 15), date(2026, 2, 2))


def test_fifth_sample_back_no_longer_counts_for_notice_but_for_action() -> None:
    """Over, over, under, under, over: notice and action."""
    now = states(30, 30, 1, 1, 30)[-1]
    assert (now.over_notice, now.notice, now.over_action, now.action) == (2, True, 3, True)
    later = states(30, 30, 1, 1, 1)[-1]
    assert (later.over_notice, later.notice, later.over_action) == (1, False, 2)


def test_samples_of_one_day_count_once_with_the_highest() -> None:
    """Separate days: three on one day are one."""
    day = WEEK[0]
    found = running_rule([(day, Decimal(30)), (day, Decimal(5)), (day, Decimal(40))], Decimal(20))
    assert [(one.value, one.over_notice, one.notice) for one in found] == [(Decimal(40), 1, False)]


def test_samples_are_put_in_order_of_days() -> None:
    """However they come in."""
    pairs = list(zip(WEEK, map(Decimal, (30, 1, 1, 1, 30)), strict=False))
    assert running_rule(reversed(pairs), Decimal(20)) == running_rule(pairs, Decimal(20))


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: running_rule([], Decimal(20)),
        lambda: running_rule([(WEEK[0], Decimal("NaN"))], Decimal(20)),
        lambda: running_rule([(WEEK[0], Decimal(1))], Decimal(20), notice=(5, 4)),
        lambda: running_rule([(WEEK[0], Decimal(1))], Decimal(20), action=(0, 5)),
        lambda: running_rule([(WEEK[0], Decimal(1))], Decimal(20), resample_days=(21, 3)),
        lambda: running_rule([(date.max, Decimal(30))], Decimal(20), notice=(1, 4)),
    ],
)
def test_impossible_rules_are_refused(wrong) -> None:
    """No sample, not a number, more wanted than looked at, days that end."""
    with pytest.raises(CalculationError):
        wrong()


def test_single_tube_is_told_by_its_interval() -> None:
    """Nothing lies between none and all of one tube: less than the upper end, more than the lower one."""
    none, every = (most_probable_number([Dilution(1, 1, one)]) for one in (0, 1))
    assert (none.bound, none.text) == (None, "< 3.7")
    assert (every.bound, every.text) == (None, "> 0.025")


def test_interval_holds_its_number_even_for_an_outcome_that_hardly_comes() -> None:
    """No tube of the large portion, many of the small one."""
    found = most_probable_number([Dilution(1.0, 1000, 64), Dilution(1e5, 3, 0)], 0.5)
    assert found.low <= found.mpn <= found.high
    assert found.rarity < 1e-100
