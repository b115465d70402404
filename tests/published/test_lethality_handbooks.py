"""Lethality against papers, handbooks and second methods.

Addresses of what was consulted (abstracts): Bradshaw 1985 https://meridian.allenpress.com/jfp/article/48/9/743/166162/
Thermal-Resistance-of-Listeria-monocytogenes-in ; Bradshaw 1987 https://doi.org/10.4315/0362-028X-50.7.543 ; Bunning
1992 https://doi.org/10.1128/aem.58.6.2096-2098.1992 ; Read 1968 https://doi.org/10.1128/am.16.7.998-1001.1968 ; IAFP
2016 https://iafp.confex.com/iafp/2016/webprogram/Paper11323.html ; Hammer
https://kiphub.com/paper/61e50700fc474ffc23f62402 ; Pearce 2012
https://www.journalofdairyscience.org/article/S0022-0302(11)00673-4/fulltext ; FAO Fisheries Technical Paper 285 as
reprinted at http://agroindustriindonesia.blogspot.com/2011/02/trapezoidal-integration-method-for.html ; UK guide
https://ru.scribd.com/doc/43150024/PASTEURISER-Holding-Section-Holding-Time-Calculation ; pasteurization unit
http://sciref.net/o11066.html . "Recomputed" marks what follows from stated inputs by a stated formula.
"""

import math
from decimal import Decimal, localcontext

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp, trapezoid
from scipy.stats import linregress

from plant.process import lethality

pytestmark = pytest.mark.once

# An invented vat record [min, °C], and a retort record of the same kind.
VAT_MIN, VAT_C = np.arange(0, 50, 5), [55, 60, 62.5, 63.2, 63.4, 63.5, 63.3, 63.1, 60, 50]
RETORT_MIN, RETORT_C = np.arange(0, 45, 5), [60, 95, 110, 116, 118.5, 119.5, 119.8, 110, 85]


def fahrenheit(level):
    return (level - 32) / 1.8


# --- Listeria monocytogenes, whole milk: D 0.9 s at 71.7 °C, z 6.3 °C


@pytest.mark.proves("lethality.d_at_s", by="published", source="Bradshaw, J. Food Prot. 48:743, 1985, recomputed")
@pytest.mark.proves("lethality.d_range_s", by="published", source="Bradshaw, J. Food Prot. 48:743, 1985, recomputed")
@pytest.mark.parametrize(
    ("level", "d", "digits"),
    [(71.7, 0.9, 1e-9), (68, 3.480, 5e-4), (63, 21.64, 5e-3), (52.2, 1121, 0.5), (74.4, 0.34, 0.006)],
)
def test_listeria_d_along_the_line(level, d, digits):
    """D by the published line; at its ends it is short of the measured 1683.7 and 0.7 s."""
    assert lethality.d_at_s(level, 0.9, 71.7, 6.3) == pytest.approx(d, abs=digits)
    found = lethality.d_range_s("listeria", level)
    assert (found.low_s, found.high_s) == pytest.approx((d, d), abs=digits)


@pytest.mark.proves("lethality.reduction", by="published", source="Bradshaw, J. Food Prot. 48:743, 1985, recomputed")
@pytest.mark.proves("lethality.log_reductions", by="published", source="Bradshaw 1985, recomputed")
def test_listeria_reductions_of_fifteen_seconds():
    """15 s at 68 °C is 4.31 log; at 71.7 °C the arithmetic gives 16.7, said as more than 8."""
    assert lethality.reduction([0, 15], [68, 68], "listeria").most.logs == pytest.approx(4.31, abs=5e-3)
    assert 15 / lethality.d_at_s(71.7, 0.9, 71.7, 6.3) == pytest.approx(16.7, abs=0.05)
    assert lethality.reduction([0, 15], [71.7, 71.7], "listeria").most.words() == "more than 8 log"
    assert lethality.log_reductions(15, 3.480).logs == pytest.approx(4.31, abs=5e-3)


@pytest.mark.proves("lethality.log_reductions", by="published", source="Bradshaw 1985, recomputed: 83 log, never said")
def test_eighty_three_log_are_never_said():
    """30 min at 63 °C are 83 log by the line and more than 8 in words."""
    d = lethality.d_at_s(63, 0.9, 71.7, 6.3)
    assert 1800 / d == pytest.approx(83, abs=0.5)
    assert lethality.log_reductions(1800, d).words() == "more than 8 log"


@pytest.mark.proves("lethality.fit_z", by="published", source="Bradshaw 1985: measured D at both ends and at 71.7 °C")
@pytest.mark.proves("lethality.z_between", by="published", source="Bradshaw 1985: measured D at both ends")
def test_listeria_z_from_measured_d_is_near_the_published_one():
    """A line through its three printed D gives its z of 6.3; its two ends alone 6.6, within that line's error."""
    found = lethality.fit_z([52.2, 71.7, 74.4], [1683.7, 0.9, 0.7])
    assert found.z == pytest.approx(6.3, abs=0.05)
    assert abs(lethality.z_between(52.2, 1683.7, 74.4, 0.7) - found.z) < found.z_error


@pytest.mark.proves("lethality.d_range_s", by="published", source="Bradshaw 1987; Bunning 1992; IAFP 2016 (abstracts)")
@pytest.mark.parametrize(
    ("name", "level", "low", "high"),
    [
        ("listeria-scott-a", 71.7, 0.9, 2.7),  # Bradshaw 1987; the temperature from memory
        ("listeria-mix", 79.4, 0.5, 0.5),  # Bradshaw 1987
        ("listeria-heat-shocked", 71.7, 3.0, 4.6),  # Bunning 1992
        ("coxiella", 71.7, 1.78, 2.20),  # IAFP 2016: 1.99 +/- 0.21 s
        ("mycobacterium-bovis", 65.0, 6.8, 7.8),  # Hammer
        ("salmonella", 68.3, 0.28, 0.52),  # Read 1968
    ],
)
def test_published_d_at_its_own_temperature(name, level, low, high):
    """The printed D, or its spread."""
    found = lethality.d_range_s(name, level)
    assert (found.low_s, found.high_s) == pytest.approx((low, high))


@pytest.mark.proves(
    "lethality.d_range_s", by="published", source="Read, Appl. Microbiol. 16:998, 1968; Hammer (abstracts)"
)
@pytest.mark.parametrize(
    ("name", "level", "low", "high"),
    [("salmonella", 62.8, 3.6, 5.7), ("salmonella", 65.6, 1.1, 1.8), ("mycobacterium-bovis", 62.5, 14.5, 18.1)],
)
def test_spread_covers_the_measured_d_at_other_temperatures(name, level, low, high):
    """The D measured elsewhere lie within the spread, which has every D with every z and so is wider."""
    found = lethality.d_range_s(name, level)
    assert found.low_s <= low * 1.001  # z is rounded to two decimals
    assert found.high_s >= high * 0.999


@pytest.mark.proves("lethality.z_between", by="published", source="Read 1968 and Hammer, z recomputed from their D")
@pytest.mark.parametrize(
    ("pairs", "z"),
    [
        ((62.8, 3.6, 68.3, 0.28), 4.96),
        ((62.8, 5.7, 68.3, 0.52), 5.29),
        ((62.5, 14.5, 65, 6.8), 7.60),
        ((62.5, 18.1, 65, 7.8), 6.84),
    ],
)
def test_z_follows_from_two_d(pairs, z):
    """z from the D values at two temperatures."""
    assert lethality.z_between(*pairs) == pytest.approx(z, abs=5e-3)


# --- the legal pairs


@pytest.mark.proves("lethality.z_between", by="published", source="21 CFR 1240.61(b); 63/72 °C pair; recomputed")
def test_legal_pairs_imply_their_z():
    """145 F 30 min and 161 F 15 s: 7.70 F or 4.28 °C; 63 and 72 °C: 4.33 °C."""
    assert lethality.z_between(145, 1800, 161, 15) == pytest.approx(7.70, abs=5e-3)
    assert lethality.z_between(145, 1800, 161, 15) / 1.8 == pytest.approx(4.28, abs=5e-3)
    assert lethality.z_between(63, 1800, 72, 15) == pytest.approx(4.33, abs=5e-3)


@pytest.mark.proves("lethality.z_between", by="published", source="21 CFR 1240.61(b), HHST row, recomputed")
def test_hhst_row_is_not_on_the_line_of_the_htst_row():
    """161 F 15 s to 191 F 1 s needs z 25.5 F: the table is not one line, and arithmetic never replaces it."""
    assert lethality.z_between(161, 15, 191, 1) == pytest.approx(25.5, abs=0.05)


@pytest.mark.proves(
    "lethality.equivalent_hold_s", by="published", source="z 4.34 °C (Enright, from memory), recomputed"
)
def test_half_an_hour_at_63_is_fifteen_seconds_at_72():
    """30 min at 63 °C equals 15.19 s at 72 °C for z 4.34 °C."""
    assert lethality.equivalent_hold_s(1800, 63, 72, 4.34) == pytest.approx(15.19, abs=5e-3)


# The guide's four rows that were read give 5.06; 4.89 was fitted over 8 to 17 s, with rows above 15 s that were not.
@pytest.mark.proves("lethality.fit_z", by="published", source="UK guide, equal holds of 8 to 15 s (consulted)")
def test_british_table_of_equal_holds():
    """8 s 73.4, 10 s 72.8, 12 s 72.5, 15 s 72.0 °C: z 5.06 +/- 0.31, and 4.89 lies within that error."""
    found = lethality.fit_z([73.4, 72.8, 72.5, 72.0], [8, 10, 12, 15])
    assert found.z == pytest.approx(5.06, abs=5e-3)
    assert abs(found.z - 4.89) < found.z_error


@pytest.mark.proves("lethality.fit_z", by="independent", source="scipy.stats.linregress")
def test_fit_is_the_librarys_line():
    """z and its error from the library's slope and its standard error."""
    levels, holds = [62.8, 65.6, 68.3, 70.0], [3.6, 1.1, 0.28, 0.14]
    line = linregress(levels, np.log10(holds))
    found = lethality.fit_z(levels, holds)
    assert found.z == pytest.approx(-1 / line.slope)
    assert found.z_error == pytest.approx(line.stderr / line.slope**2)


# Codex CAC/RCP 57-2004, annex II: 63 °C 30 min and 72 °C 15 s give at least 5 log of Coxiella burnetii in
# whole milk (from memory).
@pytest.mark.proves("lethality.reduction", by="published", source="Codex CAC/RCP 57-2004, at least 5 log (from memory)")
@pytest.mark.parametrize(("hold", "level"), [(1800, 63), (15, 72)])
def test_legal_pairs_give_five_log_of_coxiella(hold, level):
    """By D of 2016 and z of 1957 both pairs reach what the code of practice says of them."""
    assert lethality.reduction([0, hold], [level, level], "coxiella", step_s=hold).least.logs >= 5


# Enright 1957 and Am. J. Public Health 47:695, 1957 (https://doi.org/10.2105/ajph.47.6.695, abstracts): 143 F for
# 30 min fails, 145 F for 30 min passes.
@pytest.mark.proves("lethality.reduction", by="published", source="Am. J. Public Health 47:695, 1957 (abstract)")
def test_two_degrees_fahrenheit_below_the_vat_row_are_much_less():
    """From 145 to 143 F a quarter of a z is lost, and with it nearly half of the reductions: more than 2 log."""
    passes, fails = (
        lethality.reduction([0, 1800], [fahrenheit(level)] * 2, "coxiella", step_s=1800).least.logs
        for level in (145, 143)
    )
    assert fails < passes - 2


# Pearce and others, J. Dairy Sci. 95:20, 2012: measured in turbulent flow, 15 s.
@pytest.mark.proves("lethality.reduction", by="published", source="Pearce, J. Dairy Sci. 95:20, 2012")
@pytest.mark.parametrize(("name", "level", "measured"), [("listeria", 65.5, 6.9), ("salmonella", 61.5, 6.9)])
def test_published_line_promises_no_more_than_a_pilot_plant_measured(name, level, measured):
    """More than 6.9 log were measured there; the older lines say less, on the side of caution."""
    assert lethality.reduction([0, 15], [level, level], name).most.logs <= measured


# --- F of records


@pytest.mark.proves("lethality.lethal_rate", by="published", source="vat record, Tref 63, z 4.3, recomputed")
def test_rates_of_the_vat_record():
    """Ten rates to four decimals."""
    printed = [0.0138, 0.2006, 0.7651, 1.1130, 1.2389, 1.3070, 1.1743, 1.0550, 0.2006, 0.0009]
    assert lethality.lethal_rate(VAT_C, 63, 4.3) == pytest.approx(printed, abs=6e-5)


@pytest.mark.proves("lethality.trapezium_f_s", by="published", source="vat and retort records, trapezium, recomputed")
@pytest.mark.proves("lethality.f_value", by="published", source="vat and retort records, trapezium, recomputed")
@pytest.mark.parametrize(
    ("minutes", "levels", "reference", "z", "f_min"),
    [
        (VAT_MIN, VAT_C, 63, 4.3, 35.31),
        (RETORT_MIN, RETORT_C, 121.1, 10, 12.25),
        (RETORT_MIN, RETORT_C, 121.11, 10, 12.22),
    ],
)
def test_f_by_the_trapezium_rule(minutes, levels, reference, z, f_min):
    """35.31, 12.25 and 12.22 min; both records are too coarse for the rule, and it says so."""
    found = lethality.f_value(minutes * 60, levels, reference, z)
    assert found.trapezium_s / 60 == pytest.approx(f_min, abs=5e-3)
    assert lethality.trapezium_f_s(minutes * 60, levels, reference, z) == pytest.approx(found.trapezium_s)
    assert found.coarse
    assert found.exact_s < found.trapezium_s


# FAO paper 285 prints the lethal rates' sums, not each temperature: 5-min readings of a 60-min process, no lethality at
# either end, so that any split of the sum gives the same. It prints 14.6 and 8.6; 1.730 x 5 is 8.65.
@pytest.mark.proves("lethality.trapezium_f_s", by="published", source="FAO Fisheries Technical Paper 285 (reprint)")
@pytest.mark.parametrize(("total", "f_min", "printed"), [(2.925, 14.625, 14.6), (1.730, 8.65, 8.6)])
@pytest.mark.parametrize("seed", [1, 2])
def test_f0_of_the_fao_paper(total, f_min, printed, seed):
    """Readings whose lethal rates add up to the printed sum give the printed F0."""
    shares = np.random.default_rng(seed).dirichlet(np.ones(11)) * total
    levels = np.concatenate(([-20.0], 121.1 + 10 * np.log10(shares), [-20.0]))
    found = lethality.trapezium_f_s(np.arange(13) * 300.0, levels, 121.1, 10) / 60
    assert found == pytest.approx(f_min, abs=1e-6)
    assert found == pytest.approx(printed, abs=0.051)


@pytest.mark.proves(
    "lethality.lethal_rate", by="published", source="lethal rates at 250 F, z 18 F, Stumbo (from memory)"
)
@pytest.mark.parametrize(("level", "rate"), [(250, 1.000), (245, 0.527), (240, 0.278), (230, 0.077), (220, 0.022)])
def test_lethal_rates_of_the_canning_tables(level, rate):
    """Printed to three decimals for each °F."""
    assert lethality.lethal_rate(fahrenheit(level), fahrenheit(250), 10) == pytest.approx(rate, abs=6e-4)


@pytest.mark.proves(
    "lethality.time_for_reductions_s", by="published", source="12-D, C. botulinum (from memory); 5 cP food"
)
@pytest.mark.parametrize(("d_min", "f_min"), [(0.21, 2.52), (0.0063, 0.0756)])
def test_twelve_decimal_reductions(d_min, f_min):
    """12 x 0.21 min at 121.1 °C; 12 x 0.0063 min at 82.2 °C (https://mazurekgravity.in), 4.536 s."""
    assert lethality.time_for_reductions_s(12, d_min * 60) / 60 == pytest.approx(f_min, abs=1e-9)


@pytest.mark.proves("lethality.pasteurization_units", by="published", source="Tref 60, z 7 (sciref.net), recomputed")
@pytest.mark.parametrize(
    ("level", "units", "digits"), [(60, 1.000, 5e-4), (62, 1.931, 5e-4), (65, 5.179, 5e-4), (72, 51.79, 5e-3)]
)
def test_pasteurization_units_of_a_minute(level, units, digits):
    """One minute at each temperature."""
    assert lethality.pasteurization_units([0, 60], [level, level]) == pytest.approx(units, abs=digits)


# --- second methods


@pytest.mark.proves("lethality.exact_f_s", by="independent", source="scipy.integrate.quad of the rate, piece by piece")
@pytest.mark.proves("lethality.f_value", by="independent", source="scipy.integrate.quad of the rate, piece by piece")
@pytest.mark.parametrize(
    ("minutes", "levels", "reference", "z"), [(VAT_MIN, VAT_C, 63, 4.3), (RETORT_MIN, RETORT_C, 121.1, 10)]
)
def test_exact_f_is_the_adaptive_quadrature(minutes, levels, reference, z):
    """The library integrates 10^((T - Tref)/z) over each straight piece."""
    moments = minutes * 60.0
    wanted = sum(
        quad(lambda t: 10 ** ((np.interp(t, moments, levels) - reference) / z), start, end, epsabs=1e-10)[0]
        for start, end in zip(moments[:-1], moments[1:], strict=True)
    )
    assert lethality.exact_f_s(moments, levels, reference, z) == pytest.approx(wanted, rel=1e-10)
    assert lethality.f_value(moments, levels, reference, z).exact_s == pytest.approx(wanted, rel=1e-10)


@pytest.mark.proves("lethality.exact_f_s", by="independent", source="decimal, 60 digits, (L2 - L1)/ln(L2/L1)")
@pytest.mark.parametrize("rise", ["1e-13", "1e-10", "1e-7", "1e-4", "0.01", "0.5", "1.1", "1.3", "9", "30"])
def test_nearly_level_and_steep_steps_keep_their_digits(rise):
    """One step computed with 60 digits, for rises from a rounding error to thirty degrees."""
    start, end = 60.0, 60.0 + float(rise)
    with localcontext() as context:
        context.prec = 60
        slope = Decimal(10).ln() / Decimal("4.34")
        low, high = ((slope * (Decimal(one) - 72)).exp() for one in (start, end))
        wanted = (high - low) / (slope * (Decimal(end) - Decimal(start)))
    assert lethality.exact_f_s([0, 1], [start, end], 72, 4.34) == pytest.approx(float(wanted), rel=1e-13)


@pytest.mark.proves("lethality.trapezium_f_s", by="independent", source="scipy.integrate.trapezoid")
@pytest.mark.proves("lethality.lethal_rate", by="independent", source="numpy power of ten")
def test_trapezium_rule_is_the_librarys():
    """Uneven steps, the library's rule on powers of ten."""
    moments = np.cumsum([0, 3, 1, 7, 2, 2, 9.5])
    levels = np.array([58, 66, 71.2, 72.4, 72.1, 71.9, 64])
    rates = 10.0 ** ((levels - 72) / 4.34)
    assert lethality.lethal_rate(levels, 72, 4.34) == pytest.approx(rates, rel=1e-13)
    assert lethality.trapezium_f_s(moments, levels, 72, 4.34) == pytest.approx(trapezoid(rates, moments), rel=1e-13)


@pytest.mark.proves("lethality.pasteurization_units", by="independent", source="scipy.integrate.quad")
def test_units_of_a_ramp_are_the_integral():
    """From 55 to 66 °C in ten minutes."""
    wanted, _error = quad(lambda minute: 10 ** ((55 + 1.1 * minute - 60) / 7), 0, 10)
    assert lethality.pasteurization_units([0, 600], [55, 66]) == pytest.approx(wanted)


@pytest.mark.proves("lethality.f_value", by="independent", source="Monte Carlo of 4,000 noisy traces, numpy")
def test_scatter_is_what_a_simulation_shows():
    """The standard deviation of F over many noisy traces, and their bias exp((s ln 10/z)^2/2), are those computed."""
    random = np.random.default_rng(7)
    moments, truth, scatter, z = np.arange(60.0), np.full(60, 72.0), 0.5, 4.34
    simulated = [lethality.exact_f_s(moments, truth + random.normal(0, scatter, 60), 72, z) for _run in range(4000)]
    found = lethality.f_value(moments, truth, 72, z, random_c=scatter)
    assert np.std(simulated) == pytest.approx(found.random_s, rel=0.1)
    lift = math.exp((math.log(10) / z * scatter) ** 2 / 2)
    # Straight lines between noisy readings lie below the readings' own rates: the true lift is a little less.
    assert 1 < np.mean(simulated) / 59 <= lift * 1.005
    assert found.low_s == pytest.approx(59 / lift - 2 * found.random_s)


@pytest.mark.proves(
    "lethality.reduction", by="independent", source="scipy.integrate.solve_ivp of dN/dt = -ln 10 N/D(T)"
)
def test_reductions_are_those_of_the_survivors_equation():
    """A ramp to 67 °C, a hold and a fall: log survivors by the library's integrator."""
    moments, levels = [0.0, 20.0, 35.0, 50.0], [60.0, 67.0, 67.0, 55.0]

    def decline(t, _logs):
        return [1 / (0.9 * 10 ** ((71.7 - np.interp(t, moments, levels)) / 6.3))]

    solved = solve_ivp(decline, (0, 50), [0.0], rtol=1e-9, atol=1e-12, max_step=0.5)
    found = lethality.reduction(moments, levels, "listeria", step_s=60)
    assert found.most.logs == pytest.approx(solved.y[0, -1], rel=1e-6)
    assert found.least.logs == pytest.approx(found.most.logs)


@pytest.mark.proves("lethality.reduction", by="independent", source="grid over D, z and bias, numpy")
@pytest.mark.parametrize(("name", "seconds"), [("salmonella", 1), ("mycobacterium-bovis", 9), ("listeria-scott-a", 6)])
def test_least_and_most_are_those_of_a_grid(name, seconds):
    """Every D, z and bias of a fine grid, on a trace that lies on both sides of the reference temperature."""
    known = lethality.ORGANISMS[name]
    moments = np.linspace(0, seconds, 601)
    levels = known.reference_c - 1.5 + 3 * moments / seconds
    logs = [
        trapezoid(10 ** ((levels + bias - known.reference_c) / z), moments) / d
        for d in np.linspace(known.d_low_s, known.d_high_s, 9)
        for z in np.linspace(known.z_low_c, known.z_high_c, 41)
        for bias in (-0.3, 0, 0.3)
    ]
    found = lethality.reduction(moments, levels, name, bias_c=0.3)
    assert found.least.logs == pytest.approx(min(logs), rel=1e-4)
    assert found.most.logs == pytest.approx(max(logs), rel=1e-4)


@pytest.mark.proves("lethality.d_at_s", by="independent", source="decimal, 40 digits")
@pytest.mark.proves("lethality.equivalent_hold_s", by="independent", source="decimal, 40 digits")
@pytest.mark.proves("lethality.time_for_reductions_s", by="independent", source="survivors halved by hand: 10^-n")
def test_scalar_algebra_in_decimal():
    """D and equal holds with 40 digits; after n D a share of 10^-n is left."""
    with localcontext() as context:
        context.prec = 40
        factor = Decimal(10) ** ((Decimal("71.7") - Decimal("64.2")) / Decimal("6.3"))
    assert lethality.d_at_s(64.2, 0.9, 71.7, 6.3) == pytest.approx(float(Decimal("0.9") * factor), rel=1e-12)
    assert lethality.equivalent_hold_s(15, 71.7, 64.2, 6.3) == pytest.approx(float(15 * factor), rel=1e-12)
    assert math.exp(-math.log(10) / 2.0 * lethality.time_for_reductions_s(5, 2.0)) == pytest.approx(1e-5)
