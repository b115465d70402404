"""Growth by the square-root model against published rates and independent integration."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

from plant.process.growth import (
    LISTERIA_IN_MILK,
    converted_rate,
    days_to_increase,
    generation_time_h,
    growth_over,
    growth_rate,
    q10,
    relative_spoilage_rate,
    square_root_model,
    time_by_q10,
)

pytestmark = pytest.mark.once

DAY = 86_400


@pytest.mark.proves(
    "growth.converted_rate",
    by="published",
    source="FDA/FSIS Listeria risk assessment, 2003, appendix 8 "
    "(https://corpora.tika.apache.org/base/docs/govdocs1/465/465930.html; Tmin from memory)",
)
@pytest.mark.parametrize(
    ("at_c", "log", "days", "printed"),
    [
        (4, 2.1, 28, 0.107),
        (8, 5.4, 21, 0.116),  # 0.1165: printed cut or from an unrounded Tmin
        (4, 2.0, 21, 0.136),
        (8, 4.6, 14, 0.149),
        (10, 6, 20, 0.092),
        (10, 4, 7, 0.175),
        (4, 1, 10, 0.142),
    ],
)
def test_rates_of_the_literature_at_5_c(at_c, log, days, printed):
    """Tmin -1.18 °C gives the printed column to its last digit."""
    assert converted_rate(log / days, at_c, 5, -1.18) == pytest.approx(printed, abs=0.00065)


@pytest.mark.proves(
    "growth.growth_rate",
    by="published",
    source="FDA/FSIS Listeria risk assessment, 2003: 0.257 log10/day at 5 °C, Tmin -1.18 °C (from memory)",
)
@pytest.mark.proves(
    "growth.square_root_model",
    by="published",
    source="FDA/FSIS Listeria risk assessment, 2003: 0.257 log10/day at 5 °C, Tmin -1.18 °C (from memory)",
)
@pytest.mark.proves(
    "growth.generation_time_h",
    by="published",
    source="FDA/FSIS Listeria risk assessment, 2003: doubling 40.0, 16.0, 8.6 h at 4, 7, 10 °C (from memory)",
)
@pytest.mark.proves(
    "growth.days_to_increase",
    by="published",
    source="FDA/FSIS Listeria risk assessment, 2003: 3 log10 in 16.6, 6.7, 3.6 days (from memory)",
)
@pytest.mark.parametrize(
    ("temperature_c", "log_day", "hours", "days"),
    [(4, 0.1806, 40.0, 16.6), (7, 0.4503, 16.0, 6.7), (10, 0.8411, 8.6, 3.6), (5, 0.257, 28.1, 11.7)],
)
def test_listeria_in_pasteurized_milk(temperature_c, log_day, hours, days):
    """Rate, doubling and time to 3 log10."""
    rate = growth_rate(LISTERIA_IN_MILK, temperature_c)
    assert rate == pytest.approx(log_day, abs=0.00005)
    assert generation_time_h(rate) == pytest.approx(hours, abs=0.05)
    assert days_to_increase(LISTERIA_IN_MILK, temperature_c, 3) == pytest.approx(days, abs=0.05)


@pytest.mark.proves(
    "growth.growth_over",
    by="published",
    source="FDA/FSIS Listeria risk assessment, 2003: a fortnight at 4 °C 2.53 and at 7 °C 6.30 log10 (from memory); "
    "highest level 7.8 log10 per mL, J. Dairy Sci., 2021 (https://doi.org/10.3168/jds.2020-19442)",
)
@pytest.mark.parametrize(("temperature_c", "log"), [(4, 2.53), (7, 6.30)])
def test_fortnight_in_the_cold(temperature_c, log):
    """Fourteen days at one temperature; from 2 log10 per mL at most 5.8 more."""
    trace = ([0, 14 * DAY], [temperature_c] * 2)
    assert growth_over(*trace, LISTERIA_IN_MILK, longest_gap_s=14 * DAY).log_increase == pytest.approx(log, abs=0.006)
    capped = growth_over(*trace, LISTERIA_IN_MILK, longest_gap_s=14 * DAY, start_log=2, maximum_log=7.8)
    assert capped.log_increase == pytest.approx(min(log, 5.8), abs=0.006)
    assert capped.capped is (log > 5.8)


@pytest.mark.proves(
    "growth.growth_rate",
    by="independent",
    source="Rosenow and Marth, J. Food Prot. 50:452, 1987: generation times of Listeria in milk (from memory)",
)
@pytest.mark.parametrize(
    ("temperature_c", "low_h", "high_h"), [(4, 29.7, 45.6), (8, 10.0, 13.5), (13, 5.0, 6.0), (20, 1.8, 2.6)]
)
def test_listeria_model_agrees_with_measured_generation_times(temperature_c, low_h, high_h):
    """Within what was measured in whole, skim and chocolate milk at 4, 8 and 13 °C, and by 21 °C a little slow."""
    assert low_h <= generation_time_h(growth_rate(LISTERIA_IN_MILK, temperature_c)) <= high_h


@pytest.mark.proves(
    "growth.relative_spoilage_rate",
    by="published",
    source="Olley and Ratkowsky, general spoilage curve (1 + 0.1 T)^2, 1973 (from memory)",
)
@pytest.mark.parametrize(("temperature_c", "times"), [(0, 1.00), (4, 1.96), (5, 2.25), (7, 2.89), (10, 4.00)])
def test_relative_spoilage(temperature_c, times):
    """Against 0 °C, and the same as the square-root model with Tmin -10 °C."""
    assert relative_spoilage_rate(temperature_c) == pytest.approx(times, abs=0.005)
    assert converted_rate(1, 0, temperature_c, -10) == pytest.approx(times, abs=0.005)


@pytest.mark.proves(
    "growth.q10",
    by="published",
    source="square-root model with the Tmin of the FDA/FSIS Listeria risk assessment, 2003 (from memory): 12.99",
)
def test_q10_of_listeria_in_the_cold():
    """Between 4 and 10 °C the rate rises 4.658 times: Q10 12.99, far from the usual 2 or 3."""
    assert converted_rate(1, 4, 10, -1.18) == pytest.approx(4.658, abs=0.0005)
    assert q10(4, 10, -1.18) == pytest.approx(12.99, abs=0.005)


@pytest.mark.proves("growth.time_by_q10", by="published", source="definition of Q10: 14 days at 4 °C, Q10 2.5, to 7 °C")
def test_shelf_life_by_q10():
    """14 days at 4 °C are 10.6 at 7 °C."""
    assert time_by_q10(14, 4, 7, 2.5) == pytest.approx(10.6, abs=0.05)


@pytest.mark.proves(
    "growth.time_by_q10", by="independent", source="growth.q10 and growth.converted_rate: the same shift both ways"
)
def test_q10_and_square_root_agree_on_one_pair_of_temperatures():
    """With the model's own Q10 between two temperatures the time changes as its rate does."""
    assert time_by_q10(10, 4, 10, q10(4, 10, -1.18)) == pytest.approx(10 / converted_rate(1, 4, 10, -1.18))


TIMES = np.array([0, 1800, 5400, 9000, 20000, 40000, 86400.0])
LEVELS = np.array([4.0, 6.5, 11.0, 9.0, 3.0, 0.0, 5.5])


@pytest.mark.proves("growth.growth_over", by="independent", source="scipy.integrate.quad")
@pytest.mark.parametrize("tmin_c", [-1.18, 0.6, 4.0])
def test_integral_over_a_trace_is_quads(tmin_c):
    """Numerical integration of the rate, interval by interval, also where the trace crosses Tmin."""
    model = square_root_model(0.257, 5, tmin_c, -1, 20)
    slope = 0.257**0.5 / (5 - tmin_c)

    def rate(at):
        return (slope * max(float(np.interp(at, TIMES, LEVELS)) - tmin_c, 0)) ** 2 / DAY

    expected = sum(
        quad(rate, first, last, epsabs=1e-12, limit=200)[0] for first, last in zip(TIMES, TIMES[1:], strict=False)
    )
    found = growth_over(TIMES, LEVELS, model, longest_gap_s=50_000)
    assert found.log_increase == pytest.approx(expected, rel=1e-7)


@pytest.mark.proves("growth.growth_over", by="independent", source="scipy.integrate.solve_ivp, cells a mL")
def test_cells_grow_as_the_differential_equation_says():
    """dN/dt = ln(10) rate N from 100 per mL, at every reading."""

    def change(at, cells):
        return np.log(10) * growth_rate(LISTERIA_IN_MILK, float(np.interp(at, TIMES, LEVELS))) / DAY * cells

    solved = solve_ivp(change, (0, TIMES[-1]), [100.0], t_eval=TIMES, rtol=1e-9, atol=1e-9, max_step=600)
    found = growth_over(TIMES, LEVELS, LISTERIA_IN_MILK, longest_gap_s=50_000, start_log=2)
    assert 2 + found.cumulative_log == pytest.approx(np.log10(solved.y[0]), abs=1e-6)
    assert 2**found.doublings == pytest.approx(solved.y[0][-1] / 100, rel=1e-5)
