"""Vat rules and set-ups against printed rules, worked holding tubes and second methods.

Addresses: 3 CCR 584(b) https://govt.westlaw.com/calregs/Document/IA34142E0D45711DEB97CF67CD0B99467 ; Quebec P-29 r.1
s.11.7.9 https://legisquebec.gouv.qc.ca/en/version/cr/P-29,%20r.%201%20?code=se%3A11_7_9 ; 1 NYCRR 2.45
http://nyrules.elaws.us/nycrr/title1_chapteri_subchaptera_part2_20_2_s2.45 ; ATCP 65.68
http://wirules.elaws.us/rule/ATCP65.68(6)(d) ; La. 51 VII-313 (Louisiana Administrative Code title 51).
"""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest
from dateutil.relativedelta import relativedelta

from plant.process import pasteurization as past
from plant.process.holding_tube import bulk_velocity_m_per_s
from plant.process.pasteurization import Batch, Bound, Homogenizer, Method, ProductClass, SetUp, VatRules
from plant.rules.pasteurization import months_between_tests, rows_of, vat_rules_of

pytestmark = pytest.mark.once

US = rows_of("us")
VATS = {
    named: next(one for one in past.rows_for(named, US) if one.method is Method.VAT)
    for named in (ProductClass.MILK, ProductClass.RAISED, ProductClass.MIX, ProductClass.EGGNOG)
}
INCH = 0.0254


# 3 CCR 584(b): the air space 5 °F above the product's minimum, through heating and holding (text consulted). ATCP 65.60
# has the same (5 °F, 3 °C), the ordinance too (from memory). The sums follow from 21 CFR 1240.61 and 135.3.
@pytest.mark.proves("pasteurization.least_air_space", by="published", source="3 CCR 584(b); ATCP 65.60: 5 °F above")
@pytest.mark.proves("pasteurization.judge_batch", by="published", source="3 CCR 584(b); ATCP 65.60: 5 °F above")
@pytest.mark.parametrize(
    ("named", "least"),
    [(ProductClass.MILK, 150), (ProductClass.RAISED, 155), (ProductClass.MIX, 160), (ProductClass.EGGNOG, 160)],
)
def test_air_space_is_five_degrees_above_the_products_minimum(named, least):
    """150 °F over milk, 155 over cream and sweetened milk, 160 over mix and eggnog; a tenth less is not met."""
    row, rules = VATS[named], vat_rules_of("us")
    assert past.least_air_space(row, rules) == least
    for air, met in ((least, True), (least - Decimal("0.1"), False)):
        batch = Batch(row.temperature, "°F", 1800, coolest_air=air, warmest=row.temperature, fill_s=0, empty_s=0)
        assert past.judge_batch(batch, row, rules).shown is met


@pytest.mark.proves("pasteurization.least_air_space", by="published", source="Quebec P-29 r.1 s.11.7.9: 3 °C above")
def test_quebecs_air_space_is_three_celsius_above():
    """63 °C and 3 °C: 66 °C, in a table in Celsius."""
    row = next(one for one in rows_of("eu") if one.method is Method.VAT)
    assert past.least_air_space(row, VatRules(Bound(3, "°C", "P-29 r.1 s.11.7.9", "text consulted"))) == 66


@pytest.mark.proves("pasteurization.judge_batch", by="published", source="1 NYCRR 2.45(b)(1): 1 °F (0.5 °C) in the vat")
@pytest.mark.parametrize(("warmest", "met"), [("146", True), ("146.1", False)])
def test_spread_in_the_vat_is_one_degree(warmest, met):
    """Center to coldest no more than 1 °F while holding."""
    batch = Batch(145, "°F", 1800, coolest_air=150, warmest=Decimal(warmest))
    assert past.judge_batch(batch, VATS[ProductClass.MILK], vat_rules_of("us")).met is met


# PMO item 16p(A) (from memory): the chart shows 30 minutes and the time of filling where product comes in hot; 30
# minutes and the time of emptying where cooling begins after the outlet opens. That they belong to the hold: 1 NYCRR
# 2.45(b)(3) and 2.48(a)(1), ATCP 65.66(2) (text consulted).
@pytest.mark.proves("pasteurization.chart_hold_s", by="published", source="PMO item 16p(A) (from memory)")
@pytest.mark.proves("pasteurization.judge_batch", by="published", source="PMO item 16p(A) (from memory)")
@pytest.mark.parametrize(("fill", "empty", "minutes"), [(0, 0, 30), (7, 0, 37), (0, 5, 35), (7, 5, 42)])
def test_chart_shows_thirty_minutes_and_filling_and_emptying(fill, empty, minutes):
    """Each where it applies; a second less is not met."""
    row = VATS[ProductClass.MIX]
    assert past.chart_hold_s(row, fill * 60, empty * 60) == minutes * 60
    for seconds, met in ((minutes * 60, True), (minutes * 60 - 1, False)):
        batch = Batch(155, "°F", seconds, fill_s=fill * 60, empty_s=empty * 60)
        assert past.judge_batch(batch, row, VatRules()).met is met


@pytest.mark.proves("pasteurization.chart_hold_s", by="independent", source="each particle's own stay, by enumeration")
@pytest.mark.parametrize(("fill", "empty"), [(0, 0), (420, 0), (0, 300), (600, 240)])
def test_no_particle_stays_less_than_thirty_minutes(fill, empty):
    """A particle enters at any moment of the filling and leaves at any of the emptying: the least stay is 1800 s."""
    chart = float(past.chart_hold_s(VATS[ProductClass.MIX], fill, empty))
    enters = np.linspace(0, fill, 101)
    leaves = np.linspace(chart - empty, chart, 101)
    assert (leaves[None, :] - enters[:, None]).min() == pytest.approx(1800)


@pytest.mark.proves("pasteurization.judge_batch", by="independent", source="bounds compared one by one in tenths")
def test_batches_agree_with_bounds_compared_in_whole_numbers():
    """Tenths of °F and whole seconds, every combination around the bounds of mix."""
    row, rules = VATS[ProductClass.MIX], vat_rules_of("us")
    tenths = [(cool, air, warm) for cool in (1549, 1550, 1560) for air in (1599, 1600) for warm in (0, 10, 11)]
    for cool, air, warm in tenths:
        for hold, fill in ((1799, 0), (1800, 0), (1800, 1), (1860, 60)):
            met = cool >= 1550 and air >= 1600 and warm <= 10 and hold >= 1800 + fill
            batch = Batch(Fraction(cool, 10), "°F", hold, Fraction(air, 10), Fraction(cool + warm, 10), fill, 0)
            assert past.judge_batch(batch, row, rules).shown is met


# Holding-time test at least every 6 months: La. 51 VII-313, ATCP 65.68(3); grade B systems every 12: ATCP 65.68(4).
@pytest.mark.proves("pasteurization.last_valid_day", by="published", source="La. 51 VII-313; ATCP 65.68(3),(4)")
@pytest.mark.parametrize(("months", "last"), [(6, date(2026, 7, 15)), (12, date(2027, 1, 15))])
def test_holding_time_is_tested_every_six_months_or_twelve(months, last):
    """From a test on 15 January 2026."""
    assert months_between_tests("us") == 6
    assert past.last_valid_day(date(2026, 1, 15), months) == last


@pytest.mark.proves("pasteurization.last_valid_day", by="independent", source="dateutil.relativedelta")
@pytest.mark.parametrize("months", [1, 3, 6, 12, 18])
def test_last_day_agrees_with_the_librarys_months(months):
    """On every day of four years, one of them a leap year."""
    for days in range(4 * 366):
        tested = date(2023, 1, 1) + timedelta(days=days)
        assert past.last_valid_day(tested, months) == tested + relativedelta(months=months)


# Worked tubes: 5000 L/h in 1.870 in bore, 15 s at the mean speed: 11.76 m, 20.83 L; 18 m of 1.87 in at 6000 L/h: mean
# hold 19.14 s (recomputed from the stated inputs); 1000 gal/h in 1.87 in, 15 s in plug flow: 350 in (294.1 Q t/D^2).
@pytest.mark.proves("pasteurization.mean_hold_s", by="published", source="294.1 Q t/D^2 of the ordinance's units")
@pytest.mark.parametrize(
    ("known", "rate", "mean", "digits"),
    [
        ({"volume_l": 20.83}, 5000, 15.00, 0.01),
        ({"length_m": 11.76, "bore_m": 1.870 * INCH}, 5000, 15.00, 0.01),
        ({"length_m": 18.0, "bore_m": 1.87 * INCH}, 6000, 19.14, 0.005),
        ({"length_m": 350 * INCH, "bore_m": 1.87 * INCH}, 1000 * 3.785411784, 15.00, 15 * 0.5 / 350),
    ],
)
def test_mean_time_in_worked_tubes(known, rate, mean, digits):
    """To the printed digits; the exact length behind the 350 in is 350.46."""
    one = SetUp("A", 161, "°F", 15, date(2026, 1, 5), True, (), top_rate_l_per_h=rate, **known)
    assert past.mean_hold_s(one) == pytest.approx(mean, abs=digits)


@pytest.mark.proves("pasteurization.mean_hold_s", by="independent", source="plant.process.holding_tube, bulk velocity")
def test_mean_time_agrees_with_the_tubes_bulk_velocity():
    """Length over velocity, in SI units, is volume over flow."""
    length, bore, flow = 17.3, 0.0475, 4321.0
    one = SetUp("A", 161, "°F", 15, date(2026, 1, 5), True, (), length_m=length, bore_m=bore, top_rate_l_per_h=flow)
    assert past.mean_hold_s(one) == pytest.approx(length / bulk_velocity_m_per_s(flow / 3.6e6, bore), rel=1e-9)


# ATCP 65.68(1),(5): no operation without unbroken seals; 65.68(3) and La. 51 VII-313: 6 months.
@pytest.mark.proves("pasteurization.covering", by="published", source="ATCP 65.68(1),(3),(5); 21 CFR 1240.61, 135.3")
@pytest.mark.parametrize(
    ("set_point", "hold", "age", "seals", "named", "covers"),
    [
        (161, 15, 0, True, ProductClass.MILK, True),
        (161, 15, 181, True, ProductClass.MILK, True),
        (161, 15, 182, True, ProductClass.MILK, False),
        (161, 15, 0, False, ProductClass.MILK, False),
        (161, 15, 0, True, ProductClass.RAISED, False),
        (166, 15, 0, True, ProductClass.RAISED, True),
        (166, 25, 0, True, ProductClass.MIX, False),
        (175, 15, 0, True, ProductClass.MIX, False),
        (175, 25, 0, True, ProductClass.MIX, True),
        (180, 15, 0, True, ProductClass.EGGNOG, True),
        (180, 15, 0, True, ProductClass.MIX, False),
    ],
)
def test_set_up_covers_what_its_row_its_test_and_its_seals_allow(set_point, hold, age, seals, named, covers):
    """From a test on 1 January 2026, whose last day is 1 July, 181 days later."""
    tested = date(2026, 1, 1)
    one = SetUp("A", set_point, "°F", hold, tested, seals, tuple(ProductClass), homogenizer=Homogenizer.RUNNING)
    found = past.covering([one], named, US, tested + timedelta(days=age), homogenizer=Homogenizer.RUNNING)
    assert found[0].covers is covers


@pytest.mark.proves("pasteurization.covering", by="independent", source="dateutil and integers, every combination")
def test_coverage_agrees_with_its_conditions_taken_one_by_one():
    """Set point and hold in tenths, age by the library's months, for milk."""
    today = date(2026, 3, 31)
    for point in (1609, 1610, 1700):
        for hold in (149, 150):
            for tested in (date(2025, 9, 29), date(2025, 9, 30), date(2025, 10, 1), date(2026, 4, 1)):
                for seals in (True, False):
                    wanted = (
                        point >= 1610 and hold >= 150 and tested <= today <= tested + relativedelta(months=6) and seals
                    )
                    one = SetUp("A", Fraction(point, 10), "°F", Fraction(hold, 10), tested, seals, (ProductClass.MILK,))
                    assert past.covering([one], ProductClass.MILK, US, today)[0].covers is wanted
