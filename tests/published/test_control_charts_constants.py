"""The constants of control charts against printed tables and an independent way to compute them.

Table to n = 10: https://www.scribd.com/document/575462347/factors-for-control-charts (text consulted), with one
misprint: D4 for n = 3 is printed 2.574 and is 2.575. Beyond: Montgomery, Statistical Quality Control, appendix VI (from
memory).
"""

from __future__ import annotations

import pytest
from scipy import integrate, stats

from plant.process.control_charts import c4, d2, d3, factors

pytestmark = pytest.mark.once

NAMES = ("A2", "A3", "c4", "B3", "B4", "d2", "d3", "D3", "D4")
PRINTED = {
    2: (1.880, 2.659, 0.7979, 0, 3.267, 1.128, 0.853, 0, 3.267),
    3: (1.023, 1.954, 0.8862, 0, 2.568, 1.693, 0.888, 0, 2.574),
    4: (0.729, 1.628, 0.9213, 0, 2.266, 2.059, 0.880, 0, 2.282),
    5: (0.577, 1.427, 0.9400, 0, 2.089, 2.326, 0.864, 0, 2.114),
    6: (0.483, 1.287, 0.9515, 0.030, 1.970, 2.534, 0.848, 0, 2.004),
    7: (0.419, 1.182, 0.9594, 0.118, 1.882, 2.704, 0.833, 0.076, 1.924),
    8: (0.373, 1.099, 0.9650, 0.185, 1.815, 2.847, 0.820, 0.136, 1.864),
    9: (0.337, 1.032, 0.9693, 0.239, 1.761, 2.970, 0.808, 0.184, 1.816),
    10: (0.308, 0.975, 0.9727, 0.284, 1.716, 3.078, 0.797, 0.223, 1.777),
}
DIGITS = {"c4": 4}
FURTHER = {
    11: {"A2": 0.285, "D3": 0.256, "D4": 1.744, "d2": 3.173},
    12: {"A2": 0.266, "D3": 0.283, "D4": 1.717, "d2": 3.258},
    15: {"A2": 0.223, "D3": 0.347, "D4": 1.653, "d2": 3.472},
}
# Montgomery, appendix VI (from memory).
MEMORY = {
    15: {"A": 0.775, "A3": 0.789, "c4": 0.9823, "B3": 0.428, "B4": 1.572, "B5": 0.421, "B6": 1.544},
    20: {"A": 0.671, "A2": 0.180, "A3": 0.680, "c4": 0.9869, "B3": 0.510, "B4": 1.490, "d2": 3.735, "d3": 0.729,
         "D3": 0.415, "D4": 1.585},
    25: {"A": 0.600, "A2": 0.153, "A3": 0.606, "c4": 0.9896, "B3": 0.565, "B4": 1.435, "d2": 3.931, "d3": 0.708,
         "D3": 0.459, "D4": 1.541},
}  # fmt: skip


@pytest.mark.proves(
    "control_charts.factors",
    by="published",
    source="table of factors, n 2 to 10: https://www.scribd.com/document/575462347/factors-for-control-charts",
)
@pytest.mark.proves(
    "control_charts.c4",
    by="published",
    source="table of factors, n 2 to 10: https://www.scribd.com/document/575462347/factors-for-control-charts",
)
@pytest.mark.proves(
    "control_charts.d2",
    by="published",
    source="table of factors, n 2 to 10: https://www.scribd.com/document/575462347/factors-for-control-charts",
)
@pytest.mark.proves(
    "control_charts.d3",
    by="published",
    source="table of factors, n 2 to 10: https://www.scribd.com/document/575462347/factors-for-control-charts",
)
@pytest.mark.parametrize("n", PRINTED)
def test_factors_are_those_of_the_table(n):
    """All nine columns, to the printed digits."""
    made = factors(n)
    for name, printed in zip(NAMES, PRINTED[n], strict=True):
        # The exact D4 of n = 3 is 2.5746, which rounds to 2.575; the table prints 2.574.
        digits = 0.0007 if (n, name) == (3, "D4") else 0.501 * 10.0 ** -DIGITS.get(name, 3)
        assert getattr(made, name) == pytest.approx(printed, abs=digits), name
    assert (made.c4, made.d2, made.d3) == (c4(n), d2(n), d3(n))


@pytest.mark.proves(
    "control_charts.factors",
    by="published",
    source="table of factors, n 11, 12, 15: https://www.scribd.com/document/575462347/factors-for-control-charts",
)
@pytest.mark.parametrize("n", FURTHER)
def test_factors_of_larger_samples(n):
    """To 0.001: printed tables differ by one in the last digit beyond n = 11."""
    made = factors(n)
    for name, printed in FURTHER[n].items():
        assert getattr(made, name) == pytest.approx(printed, abs=0.00101), name


@pytest.mark.proves(
    "control_charts.factors",
    by="published",
    source="Montgomery, Statistical Quality Control, appendix VI, n 15, 20, 25 (from memory)",
)
@pytest.mark.parametrize("n", MEMORY)
def test_factors_up_to_25(n):
    """To 0.001."""
    made = factors(n)
    for name, printed in MEMORY[n].items():
        assert getattr(made, name) == pytest.approx(printed, abs=0.00101), name


def test_known_misprints_are_not_reproduced():
    """A2 of n = 5 is printed as 0.557 and D4 of n = 11 as 1.774 in two tables; both are exchanged digits."""
    assert pytest.approx(0.577, abs=0.0005) == factors(5).A2
    assert pytest.approx(1.744, abs=0.0005) == factors(11).D4


@pytest.mark.proves("control_charts.c4", by="independent", source="scipy.stats.chi: mean of chi with n - 1 degrees")
@pytest.mark.parametrize("n", range(2, 26))
def test_c4_is_the_mean_of_chi(n):
    """Over the root of its degrees."""
    assert c4(n) == pytest.approx(stats.chi(n - 1).mean() / (n - 1) ** 0.5, rel=1e-12)


@pytest.mark.proves(
    "control_charts.d2",
    by="independent",
    source="Tippett's single integral 1 - (1 - Phi)^n - Phi^n by scipy.integrate.quad",
)
@pytest.mark.parametrize("n", range(2, 26))
def test_d2_by_the_single_integral(n):
    """Another formula, another integrator."""
    value, _error = integrate.quad(
        lambda x: 1 - stats.norm.sf(x) ** n - stats.norm.cdf(x) ** n, -12, 12, limit=200, epsabs=1e-12
    )
    assert d2(n) == pytest.approx(value, abs=1e-9)


@pytest.mark.proves(
    "control_charts.d3", by="independent", source="scipy.stats.studentized_range with infinite degrees, second moment"
)
@pytest.mark.parametrize("n", [2, 3, 5, 10, 25])
def test_d3_from_the_library_distribution_of_the_range(n):
    """E(W^2) from the library's distribution function."""
    law = stats.studentized_range(n, 1e6)
    square, _error = integrate.quad(lambda w: 2 * w * law.sf(w), 0, 14, epsabs=1e-7, limit=60)
    assert d3(n) == pytest.approx((square - d2(n) ** 2) ** 0.5, abs=2e-5)
