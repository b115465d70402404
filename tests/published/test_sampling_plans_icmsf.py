"""Two- and three-class plans, sample sizes, results and running rules against what others publish."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from itertools import product

import numpy as np
import pytest
from scipy import stats

from plant.process.limits import Outcome
from plant.process.sampling_plans import (
    Count,
    Plan,
    accept_lognormal,
    accept_three_class,
    accept_two_class,
    defective_at,
    judge_samples,
    oc_curve,
    protection_c0,
    read_count,
    running_rule,
    sample_size_c0,
)

pytestmark = pytest.mark.once

# Adams and others, a textbook of food microbiology, https://issuhub.com/view/index?id=4167&pageIndex=415: c = 0,
# percentage accepted; (share, n, worked out, printed).
ADAMS = [
    (0.01, 10, 90.4, 90), (0.01, 20, 81.8, 82), (0.01, 100, 36.6, 37), (0.02, 10, 81.7, 82), (0.02, 20, 66.8, 67),
    (0.02, 100, 13.3, 13), (0.05, 10, 59.9, 60), (0.05, 20, 35.8, 36), (0.05, 100, 0.59, 0.6),
]  # fmt: skip


@pytest.mark.proves(
    "sampling_plans.accept_two_class",
    by="published",
    source="food microbiology textbook, table of c = 0 plans: https://issuhub.com/view/index?id=4167&pageIndex=415",
)
@pytest.mark.parametrize(("share", "n", "worked", "printed"), ADAMS)
def test_zero_tolerance_plans_of_the_table(share, n, worked, printed):
    """(1 - p)^n in percent, to the digits worked out and to those printed."""
    percent = 100 * accept_two_class(n, 0, share)
    assert percent == pytest.approx(worked, abs=0.0051 if worked < 1 else 0.051)
    assert percent == pytest.approx(printed, abs=0.051 if printed < 1 else 0.51)


def test_last_cell_of_the_table_is_a_misprint():
    """For 10 % and n = 100 the table prints 0.1 % accepted; (1 - 0.1)^100 is 0.003 %."""
    assert 100 * accept_two_class(100, 0, 0.10) == pytest.approx(0.003, abs=0.0005)


SHARES = (0.05, 0.10, 0.20, 0.30, 0.50)


@pytest.mark.proves(
    "sampling_plans.oc_curve",
    by="published",
    source="ICMSF, Microorganisms in Foods, n 5, binomial worked out to 0.001",
)
@pytest.mark.parametrize(
    ("c", "worked"), [(0, (0.774, 0.590, 0.328, 0.168, 0.031)), (2, (0.999, 0.991, 0.942, 0.837, 0.500))]
)
def test_curves_of_five_samples(c, worked):
    """Three decimals."""
    assert oc_curve(5, c, SHARES).tolist() == pytest.approx(worked, abs=5.1e-4)


# ICMSF, Microorganisms in Foods 7, table 7-1: probability of acceptance, two digits (from memory).
ICMSF = [
    (5, 0, {0.02: 0.90, 0.05: 0.77, 0.10: 0.59, 0.20: 0.33, 0.30: 0.17, 0.40: 0.08, 0.50: 0.03}),
    (5, 1, {0.05: 0.98, 0.10: 0.92, 0.20: 0.74, 0.30: 0.53, 0.40: 0.34, 0.50: 0.19}),
    (5, 3, {0.20: 0.99, 0.30: 0.97, 0.40: 0.91, 0.50: 0.81}),
    (10, 0, {0.02: 0.82, 0.05: 0.60, 0.10: 0.35, 0.20: 0.11, 0.30: 0.03}),
    (20, 0, {0.02: 0.67, 0.05: 0.36, 0.10: 0.12, 0.20: 0.01}),
    (60, 0, {0.02: 0.30, 0.05: 0.05}),
]


@pytest.mark.proves(
    "sampling_plans.accept_two_class",
    by="published",
    source="ICMSF, Microorganisms in Foods 7, table of acceptance probabilities (from memory)",
)
@pytest.mark.parametrize(("n", "c", "row"), ICMSF)
def test_acceptance_table_of_the_commission(n, c, row):
    """Two decimals as printed."""
    for share, printed in row.items():
        assert accept_two_class(n, c, share) == pytest.approx(printed, abs=0.00501), share


@pytest.mark.proves(
    "sampling_plans.accept_three_class",
    by="published",
    source="ICMSF, Microorganisms in Foods 7, three-class formula (from memory), worked out to 0.001",
)
@pytest.mark.parametrize(
    ("n", "c", "marginal", "defective", "worked"),
    [(5, 2, 0.30, 0.05, 0.631), (5, 1, 0.20, 0.02, 0.659), (10, 2, 0.10, 0.01, 0.839)],
)
def test_three_class_plans(n, c, marginal, defective, worked):
    """Three decimals; without defectives it is the two-class plan."""
    assert accept_three_class(n, c, marginal, defective) == pytest.approx(worked, abs=5.1e-4)
    assert accept_three_class(n, c, marginal, 0) == pytest.approx(accept_two_class(n, c, marginal))


@pytest.mark.proves(
    "sampling_plans.accept_three_class", by="independent", source="scipy.stats.multinomial, all outcomes added up"
)
@pytest.mark.proves(
    "sampling_plans.accept_lognormal",
    by="independent",
    source="scipy.stats.norm and multinomial, all outcomes added up",
)
@pytest.mark.parametrize(("n", "c"), [(1, 0), (4, 1), (7, 3), (5, 5)])
def test_three_class_plans_agree_with_adding_up(n, c):
    """The multinomial over good, marginal and defective."""
    for mean, sd in ((1.0, 0.8), (1.6, 0.3), (2.4, 0.5)):
        law = stats.norm(mean, sd)
        shares = law.cdf(1), law.cdf(2) - law.cdf(1), law.sf(2)
        added = sum(stats.multinomial(n, shares).pmf([n - k, k, 0]) for k in range(c + 1))
        assert accept_three_class(n, c, shares[1], shares[2]) == pytest.approx(added)
        assert accept_lognormal(n, c, 1, 2, mean, sd) == pytest.approx(added)
        assert accept_lognormal(n, c, 1, None, mean, sd) == pytest.approx(stats.binom.cdf(c, n, law.sf(1)))


@pytest.mark.proves("sampling_plans.accept_two_class", by="independent", source="scipy.stats.binom.cdf")
@pytest.mark.proves("sampling_plans.oc_curve", by="independent", source="scipy.stats.binom.cdf")
@pytest.mark.proves("sampling_plans.defective_at", by="independent", source="scipy.stats.binom.cdf solved back")
@pytest.mark.parametrize(("n", "c"), [(1, 0), (5, 2), (60, 0), (200, 7)])
def test_two_class_plans_agree_with_a_library(n, c):
    """Curve, single value, and the share that a probability belongs to."""
    shares = np.linspace(0, 1, 21)
    assert oc_curve(n, c, shares) == pytest.approx(stats.binom.cdf(c, n, shares), abs=1e-12)
    assert accept_two_class(n, c, 0.37) == pytest.approx(stats.binom.cdf(c, n, 0.37), abs=1e-14)
    for chance in (0.95, 0.5, 0.05):
        assert stats.binom.cdf(c, n, defective_at(n, c, chance)) == pytest.approx(chance)


@pytest.mark.proves(
    "sampling_plans.defective_at",
    by="published",
    source="rule of three: 0 of n leaves up to 3/n with 95 % confidence (Hanley and Lippman-Hand 1983; from memory)",
)
@pytest.mark.parametrize("n", [30, 100, 300])
def test_rule_of_three(n):
    """3/n is an upper bound, at most a tenth above the exact share."""
    exact = defective_at(n, 0, 0.05)
    assert exact < 3 / n < 1.11 * exact


@pytest.mark.proves(
    "sampling_plans.sample_size_c0",
    by="published",
    source="sample sizes without failure for confidence and reliability, e.g. 59 for 95/95 (from memory)",
)
@pytest.mark.parametrize(
    ("share", "confidence", "n"),
    [(0.05, 0.95, 59), (0.10, 0.95, 29), (0.01, 0.95, 299), (0.10, 0.90, 22), (0.05, 0.90, 45), (0.01, 0.90, 230),
     (0.01, 0.99, 459), (0.05, 0.99, 90), (0.10, 0.99, 44), (0.001, 0.95, 2995)],
)  # fmt: skip
def test_sample_sizes_of_the_usual_table(share, confidence, n):
    """Whole numbers."""
    assert sample_size_c0(share, confidence) == n


@pytest.mark.proves(
    "sampling_plans.sample_size_c0", by="independent", source="scipy.stats.hypergeom and binom, tried one by one"
)
@pytest.mark.parametrize(("lot", "share"), [(20, 0.1), (100, 0.05), (500, 0.01), (1000, 0.003), (10, 1.0)])
def test_smallest_size_for_a_counted_lot(lot, share):
    """n rejects often enough, n - 1 does not."""
    bad = int(np.ceil(share * lot - 1e-9))
    n = sample_size_c0(share, 0.95, lot_size=lot)
    assert stats.hypergeom(lot, bad, n).pmf(0) <= 0.05
    assert n == 1 or stats.hypergeom(lot, bad, n - 1).pmf(0) > 0.05
    large = sample_size_c0(share, 0.95)
    assert stats.binom.pmf(0, large, share) <= 0.05
    assert large == 1 or stats.binom.pmf(0, large - 1, share) > 0.05


@pytest.mark.proves(
    "sampling_plans.protection_c0", by="independent", source="scipy.stats.beta, Clopper and Pearson's upper end"
)
@pytest.mark.parametrize(("n", "confidence"), [(1, 0.9), (5, 0.95), (60, 0.99)])
def test_protection_is_the_upper_end_of_the_interval(n, confidence):
    """Zero of n: the one-sided upper bound."""
    assert protection_c0(n, confidence) == pytest.approx(stats.beta.ppf(confidence, 1, n))


@pytest.mark.proves(
    "sampling_plans.protection_c0",
    by="published",
    source="ICMSF, Microorganisms in Foods 7, cases 10 to 15: n 5, 10, 15, 20, 30, 60 with c = 0 (cases from memory), "
    "binomial worked out",
)
@pytest.mark.parametrize(("n", "percent"), [(5, 45.1), (10, 25.9), (15, 18.1), (20, 13.9), (30, 9.5), (60, 4.9)])
def test_share_that_the_plans_of_the_cases_find(n, percent):
    """One decimal of a percent."""
    assert 100 * protection_c0(n, 0.95) == pytest.approx(percent, abs=0.051)


# Ice cream, Enterobacteriaceae: n 5, c 2, m 10, M 100 per g; pasteurized liquid milk: n 5, c 0, m = M = 10 per mL.
ICE_CREAM = Plan(5, 2, Decimal(10), Decimal(100))
MILK = Plan(5, 0, Decimal(10), Decimal(10))


@pytest.mark.proves(
    "sampling_plans.judge_samples",
    by="published",
    source="Commission Regulation (EC) 2073/2005, annex I, 2.2.1 (https://legislation.gov.uk/eur/2005/2073/annex/I/"
    "chapter/2/division/2.2) and 2.2.8 with the interpretation of results (figures from memory)",
)
@pytest.mark.proves(
    "sampling_plans.read_count",
    by="published",
    source="Commission Regulation (EC) 2073/2005: absence in 25 g; ISO 7218: below a detection limit (from memory)",
)
@pytest.mark.parametrize(
    ("plan", "results", "outcome"),
    [
        (ICE_CREAM, "<10 <10 <10 <10 <10", Outcome.MET),
        (ICE_CREAM, "10 10 10 11 100", Outcome.MET),
        (ICE_CREAM, "11 11 11 10 10", Outcome.NOT_MET),
        (ICE_CREAM, "<10 <10 <10 <10 101", Outcome.NOT_MET),
        (ICE_CREAM, "<10 <10 <10 <10", Outcome.NOT_PROVEN),
        (ICE_CREAM, "11 12 13", Outcome.NOT_MET),
        (MILK, "10 <10 <1 0 10", Outcome.MET),
        (MILK, "10 <10 <1 0 11", Outcome.NOT_MET),
        (MILK, "10 <10 <1 0 <100", Outcome.NOT_PROVEN),
        (Plan(5, 0, Decimal(0)), "absent absent absent absent absent", Outcome.MET),
        (Plan(5, 0, Decimal(0)), "absent absent present absent absent", Outcome.NOT_MET),
    ],
)
def test_results_against_the_criteria(plan, results, outcome):
    """Satisfactory, acceptable and unsatisfactory, and what is missing."""
    assert judge_samples(plan, [read_count(one) for one in results.split()]).outcome is outcome


@pytest.mark.proves(
    "sampling_plans.judge_samples",
    by="independent",
    source="every whole number that a '<' or '>' allows, tried one by one",
)
@pytest.mark.proves(
    "sampling_plans.read_count",
    by="independent",
    source="every whole number that a '<' or '>' allows, tried one by one",
)
def test_unclear_results_are_met_only_when_every_reading_of_them_is():
    """A verdict stands when all the numbers behind the signs give it."""
    plan = Plan(3, 1, Decimal(2), Decimal(4))
    texts = ("0", "3", "<3", "<4", ">1", ">3", "<2", "5")
    for chosen in product(texts, repeat=3):
        verdicts = set()
        for numbers in product(*(allowed(one) for one in chosen)):
            bad = any(one > 4 for one in numbers) or sum(one > 2 for one in numbers) > 1
            verdicts.add(Outcome.NOT_MET if bad else Outcome.MET)
        wanted = verdicts.pop() if len(verdicts) == 1 else Outcome.NOT_PROVEN
        assert judge_samples(plan, [read_count(one) for one in chosen]).outcome is wanted, chosen


def allowed(text: str) -> list[float]:
    """The counts up to 6, in halves, that a result allows; halves since a count per gram need not be whole."""
    count: Count = read_count(text)
    steps = [one / 2 for one in range(13)]
    if count.sign == "<":
        return [one for one in steps if one < count.value]
    return [one for one in steps if one > count.value] if count.sign == ">" else [float(count.value)]


@pytest.mark.proves(
    "sampling_plans.running_rule",
    by="published",
    source="Okla. Stat. 2-7-409(B), as the Grade A PMO, Section 6: two of the last four; three of five from memory "
    "(https://getpocketlaw.com/law/state_oklahoma/section-2-7-409-sampling-and-testing_059be002eeb6)",
)
def test_notice_and_action_of_the_milk_rules():
    """20,000 per mL: notice at the second of four, action at the third of five, both over again as samples pass."""
    months = [date(2026, month, 6) for month in range(1, 10)]
    values = [21000, 8000, 20000, 20001, 9000, 30000, 7000, 7000, 7000]
    states = running_rule(zip(months, map(Decimal, values), strict=True), Decimal(20000))
    assert [one.notice for one in states] == [False, False, False, True, False, True, True, False, False]
    assert [one.action for one in states] == [False] * 9
    assert (states[3].resample_after, states[3].resample_by) == (date(2026, 4, 9), date(2026, 4, 27))
    again = running_rule(zip(months, map(Decimal, [21000, 8000, 20001, 9000, 30000]), strict=False), Decimal(20000))
    assert (again[-1].over_action, again[-1].action) == (3, True)


@pytest.mark.proves(
    "sampling_plans.running_rule", by="independent", source="sliding sums by numpy.convolve, 120 drawn samples"
)
def test_running_rule_agrees_with_sliding_sums():
    """How many of the last four and five lie above."""
    values = np.random.default_rng(9).integers(0, 40_000, 120)
    days = [date.fromordinal(739_000 + 7 * place) for place in range(120)]
    states = running_rule(zip(days, (Decimal(int(one)) for one in values), strict=True), Decimal(20_000))
    over = (values > 20_000).astype(int)
    assert [one.over_notice for one in states] == np.convolve(over, [1] * 4)[:120].tolist()
    assert [one.over_action for one in states] == np.convolve(over, [1] * 5)[:120].tolist()
