"""Most probable numbers against the table that laboratories use, and intervals against independent ways.

FDA Bacteriological Analytical Manual, appendix 2 (from memory): MPN per g of three portions, 0.1, 0.01 and 0.001 g.
"""

from __future__ import annotations

import math
from itertools import product

import numpy as np
import pytest
from scipy import optimize, stats

from plant.process.sampling_plans import Dilution, most_probable_number

pytestmark = pytest.mark.once

PORTIONS = (0.1, 0.01, 0.001)
# Positive tubes of three each: MPN per g, worked out, and as the table prints it.
WORKED = [
    ("100", "3.57", "3.6"), ("200", "9.18", "9.2"), ("300", "23.1", "23"), ("310", "42.7", "43"),
    ("320", "93.3", "93"), ("321", "149.4", "150"), ("330", "239.8", "240"), ("332", "1099", "1100"),
]  # fmt: skip
THREE_TUBES = {
    "000": "< 3.0", "001": "3.0", "010": "3.0", "011": "6.1", "020": "6.2", "030": "9.4", "100": "3.6", "101": "7.2",
    "102": "11", "110": "7.4", "111": "11", "120": "11", "121": "15", "130": "16", "200": "9.2", "201": "14",
    "202": "20", "210": "15", "211": "20", "212": "27", "220": "21", "221": "28", "222": "35", "230": "29", "231": "36",
    "300": "23", "301": "38", "302": "64", "310": "43", "311": "75", "312": "120", "313": "160", "320": "93",
    "321": "150", "322": "210", "323": "290", "330": "240", "331": "460", "332": "1100", "333": "> 1100",
}  # fmt: skip
FIVE_TUBES = {
    "100": "2.0", "110": "4.0", "200": "4.5", "220": "9.3", "300": "7.8", "310": "11", "320": "14", "400": "13",
    "410": "17", "420": "22", "430": "27", "500": "23", "510": "33", "520": "49", "521": "70", "530": "79",
    "531": "110", "540": "130", "550": "240", "551": "350", "552": "540", "553": "920", "554": "1600",
}  # fmt: skip
# Limits printed beside them come from another method (Garthright and Blodgett 2003): only their size is compared.
TABLE_LIMITS = {
    "010": (0.15, 11), "100": (0.17, 18), "200": (1.4, 38), "300": (4.6, 94), "310": (9, 180), "320": (18, 420),
    "321": (37, 420), "330": (42, 1000), "332": (180, 4100),
}  # fmt: skip


def series(positive: str, tubes: int = 3, portions: tuple[float, ...] = PORTIONS) -> list[Dilution]:
    """The dilutions of an outcome written as digits."""
    return [Dilution(portion, tubes, int(one)) for portion, one in zip(portions, positive, strict=True)]


@pytest.mark.proves(
    "sampling_plans.most_probable_number",
    by="published",
    source="FDA BAM, appendix 2, three tubes (table from memory; likelihood worked out)",
)
@pytest.mark.parametrize(("positive", "worked", "printed"), WORKED)
def test_worked_numbers_of_three_tubes(positive, worked, printed):
    """To the digits worked out, and as printed."""
    found = most_probable_number(series(positive))
    digit = 10.0 ** -len(worked.partition(".")[2])
    assert found.mpn == pytest.approx(float(worked), abs=0.501 * digit)
    assert found.text == printed


@pytest.mark.proves(
    "sampling_plans.most_probable_number", by="published", source="FDA BAM, appendix 2, three tubes (from memory)"
)
@pytest.mark.parametrize(("positive", "printed"), THREE_TUBES.items())
def test_table_of_three_tubes(positive, printed):
    """Two significant digits as printed, the ends with their signs."""
    assert most_probable_number(series(positive)).text == printed


@pytest.mark.proves(
    "sampling_plans.most_probable_number", by="published", source="FDA BAM, appendix 2, five tubes (from memory)"
)
@pytest.mark.parametrize(("positive", "printed"), FIVE_TUBES.items())
def test_table_of_five_tubes(positive, printed):
    """Two significant digits as printed."""
    assert most_probable_number(series(positive, 5)).text == printed


@pytest.mark.parametrize("method", ["exact", "likelihood ratio", "log-normal"])
@pytest.mark.parametrize(("positive", "limits"), TABLE_LIMITS.items())
def test_every_interval_is_of_the_tables_size(positive, limits, method):
    """Within a factor of 3.1 of the printed limits, which come from yet another method."""
    found = most_probable_number(series(positive), method=method)
    assert limits[0] / 3.1 < found.low < limits[0] * 3.1
    assert limits[1] / 3.1 < found.high < limits[1] * 3.1


def likelihood(dilutions: list[Dilution], mpn: float) -> float:
    """The logarithm of the probability of the outcome, from the library's binomial (not below -1e9)."""
    shares = [-math.expm1(-one.portion * mpn) for one in dilutions]
    chances = [stats.binom.logpmf(one.positive, one.tubes, p) for one, p in zip(dilutions, shares, strict=True)]
    return max(float(sum(chances)), -1e9)


ODD_SETS = [
    [Dilution(10, 5, 5), Dilution(1, 3, 2), Dilution(0.1, 8, 1)],
    [Dilution(50, 1, 1), Dilution(10, 5, 3)],
    [Dilution(2, 7, 3)],
    [Dilution(0.1, 3, 2), Dilution(0.01, 3, 2), Dilution(0.001, 3, 1), Dilution(1e-5, 3, 0)],
]


@pytest.mark.proves(
    "sampling_plans.most_probable_number",
    by="independent",
    source="scipy.optimize.minimize_scalar on scipy.stats.binom",
)
@pytest.mark.parametrize("dilutions", ODD_SETS)
def test_number_maximizes_the_likelihood_of_any_set(dilutions):
    """A general minimizer finds the same."""
    best = optimize.minimize_scalar(
        lambda log: -likelihood(dilutions, math.exp(log)), bounds=(-6, 7), method="bounded", options={"xatol": 1e-10}
    )
    assert most_probable_number(dilutions).mpn == pytest.approx(math.exp(best.x), rel=1e-5)


@pytest.mark.proves(
    "sampling_plans.most_probable_number",
    by="published",
    source="one dilution: MPN = ln(n/(n - g))/v, as ISO 7218 gives it (from memory)",
)
@pytest.mark.parametrize(("tubes", "positive"), [(5, 1), (8, 7), (10, 5)])
def test_one_dilution_has_a_closed_form(tubes, positive):
    """The logarithm of tubes over negative tubes, per portion."""
    found = most_probable_number([Dilution(0.5, tubes, positive)])
    assert found.mpn == pytest.approx(math.log(tubes / (tubes - positive)) / 0.5)


@pytest.mark.proves(
    "sampling_plans.most_probable_number", by="independent", source="all outcomes by itertools and scipy.stats.binom"
)
@pytest.mark.parametrize("positive", ["100", "210", "321"])
def test_exact_interval_leaves_half_of_five_percent_on_each_side(positive):
    """At its ends, outcomes with an estimate at least as high, or at most as high, have probability 0.025."""
    found = most_probable_number(series(positive))
    up = down = 0.0
    for counts in product(range(4), repeat=3):
        text = "".join(map(str, counts))
        estimate = most_probable_number(series(text), method="likelihood ratio").mpn
        if estimate >= found.mpn * (1 - 1e-9):
            up += math.exp(likelihood(series(text), found.low))
        if estimate <= found.mpn * (1 + 1e-9):
            down += math.exp(likelihood(series(text), found.high))
    assert (up, down) == pytest.approx((0.025, 0.025), abs=1e-9)


@pytest.mark.proves(
    "sampling_plans.most_probable_number", by="independent", source="3.841, the 95 % point of chi-square with 1 degree"
)
@pytest.mark.parametrize("dilutions", ODD_SETS)
def test_ends_of_the_likelihood_interval_are_3_841_apart(dilutions):
    """Twice the loss of log-likelihood at both ends."""
    found = most_probable_number(dilutions, method="likelihood ratio")
    best = likelihood(dilutions, found.mpn)
    for end in (found.low, found.high):
        assert 2 * (best - likelihood(dilutions, end)) == pytest.approx(3.841, abs=5.1e-4)


@pytest.mark.proves(
    "sampling_plans.most_probable_number",
    by="independent",
    source="Fisher information as the variance of the score over all outcomes",
)
def test_log_normal_interval_has_the_information_of_all_outcomes():
    """The score in ln MPN squared, averaged over every outcome at that concentration."""
    found = most_probable_number(series("210"), method="log-normal")
    information, step = 0.0, 1e-4
    for counts in product(range(4), repeat=3):
        one = series("".join(map(str, counts)))
        score = (
            likelihood(one, found.mpn * math.exp(step)) - likelihood(one, found.mpn * math.exp(-step))
        ) / (2 * step)  # fmt: skip
        information += math.exp(likelihood(one, found.mpn)) * score**2
    wide = math.log(found.high / found.mpn)
    assert wide == pytest.approx(stats.norm.ppf(0.975) / information**0.5, rel=1e-5)
    assert math.log(found.mpn / found.low) == pytest.approx(wide)


@pytest.mark.proves(
    "sampling_plans.most_probable_number", by="independent", source="2000 drawn series: how often the interval covers"
)
def test_exact_interval_covers_at_least_95_percent():
    """Drawn at 30 per g."""
    draw, known, covered = np.random.default_rng(4), {}, 0
    for _series in range(2000):
        counts = "".join(str(draw.binomial(3, -math.expm1(-portion * 30))) for portion in PORTIONS)
        if counts not in known:
            known[counts] = most_probable_number(series(counts))
        covered += known[counts].low <= 30 <= known[counts].high
    assert covered / 2000 >= 0.94


@pytest.mark.proves(
    "sampling_plans.most_probable_number",
    by="published",
    source="FDA BAM, appendix 2: outcomes such as 0-0-3 are too improbable to print (from memory)",
)
def test_improbable_outcomes_have_a_small_rarity():
    """0-0-3 and 0-3-3 are not in the table, 3-1-0 is the commonest for its number."""
    assert most_probable_number(series("003")).rarity < 0.01
    assert most_probable_number(series("033")).rarity < 0.01
    assert most_probable_number(series("310")).rarity == 1.0
