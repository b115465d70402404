"""Rows, classes and verdicts against the printed tables.

Addresses: 21 CFR 1240.61 https://lexbuild.dev/ecfr/title-21/chapter-I/part-1240/section-1240.61 ; 21 CFR 131.3
https://www.govregs.com/regulations/expand/title21_chapterI-i1_part131_subpartA_section131.3 ; 21 CFR 135.3
https://lexbuild.dev/ecfr/title-21/chapter-I/part-135/section-135.3 ; 7 CFR 58.635
https://law.lawstack.com/laws/7-cfr_s_58-635_pasteurization-of-the-mix ; 1 NYCRR 2.44
http://nyrules.elaws.us/nycrr/title1_chapteri_subchaptera_part2_20_2_s2.44 ; 1 NYCRR 3.24
http://nyrules.elaws.us/nycrr/title1_chapteri_subchaptera_part3_20_1_s3.24 ; Michigan
https://www.legislature.mi.gov/Home/RenderDoc?objectName=mcl-288-697 ; California 3 CCR 585
https://govt.westlaw.com/calregs/Document/IA3693D40D45711DEB97CF67CD0B99467 ; (EC) 853/2004 as quoted at
https://www.droit-spav.fr/traitement_thermique_lait.sG.htm ; Dickerson and others, J. Dairy Sci. 51(11):1731, 1968
https://doi.org/10.3168/jds.S0022-0302(68)87267-4 (abstract); UK guide on holding sections
https://ru.scribd.com/doc/43150024/PASTEURISER-Holding-Section-Holding-Time-Calculation .
"""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction

import pytest

from plant.process import pasteurization as past
from plant.process.pasteurization import FEDERAL, ORDINANCE, Method, Product, ProductClass, Use
from plant.rules.pasteurization import CALIFORNIA, GRADED, MICHIGAN, NEW_YORK, rows_of

pytestmark = pytest.mark.once

US, EU = rows_of("us"), rows_of("eu")
MILK, RAISED, MIX, EGGNOG = ProductClass.MILK, ProductClass.RAISED, ProductClass.MIX, ProductClass.EGGNOG
INGREDIENT, RAISED_INGREDIENT = ProductClass.INGREDIENT, ProductClass.RAISED_INGREDIENT
BUTTER, PLASTIC = ProductClass.BUTTER_CREAM, ProductClass.PLASTIC_CREAM
VAT, HTST, HHST = Method.VAT, Method.HTST, Method.HHST
HALF_HOUR = "1800"

# 21 CFR 1240.61(b), table: °F, seconds.
HHST_ROWS = [(HHST, "191", "1"), (HHST, "194", "0.5"), (HHST, "201", "0.1"), (HHST, "204", "0.05"),
             (HHST, "212", "0.01")]  # fmt: skip
# (class, area) -> the pairs that apply, method by method.
PRINTED = {
    # 21 CFR 1240.61(b); the raise of footnote 1 is marked on the first two rows alone. The same in the PMO's definition
    # of pasteurization (from memory).
    (MILK, ""): [(VAT, "145", HALF_HOUR), (HTST, "161", "15"), *HHST_ROWS],
    (RAISED, ""): [(VAT, "150", HALF_HOUR), (HTST, "166", "15"), *HHST_ROWS],
    # 21 CFR 1240.61(c).
    (EGGNOG, ""): [(VAT, "155", HALF_HOUR), (HTST, "175", "25"), (HTST, "180", "15")],
    # 21 CFR 135.3: no 180 °F row.
    (MIX, ""): [(VAT, "155", HALF_HOUR), (HTST, "175", "25")],
    # 7 CFR 58.635.
    (MIX, GRADED): [(VAT, "155", HALF_HOUR), (HTST, "175", "25")],
    # 1 NYCRR 2.44 (Item 16p): eggnog and mix on one row.
    (MIX, NEW_YORK): [(VAT, "155", HALF_HOUR), (HTST, "175", "25"), (HTST, "180", "15")],
    (EGGNOG, NEW_YORK): [(VAT, "155", HALF_HOUR), (HTST, "175", "25"), (HTST, "180", "15")],
    # 3 CCR 585(d) for HTST; the vat by 21 CFR 135.3.
    (MIX, CALIFORNIA): [(VAT, "155", HALF_HOUR), (HTST, "175", "25")],
    # 21 CFR 131.3(b): neither the 194 nor the 201 °F row. The raised sums are arithmetic on its 5 °F.
    (INGREDIENT, ""): [(VAT, "145", HALF_HOUR), (HTST, "161", "15"), (HHST, "191", "1"), (HHST, "204", "0.05"),
                       (HHST, "212", "0.01")],
    (RAISED_INGREDIENT, ""): [(VAT, "150", HALF_HOUR), (HTST, "166", "15"), (HHST, "196", "1"), (HHST, "209", "0.05"),
                              (HHST, "217", "0.01")],
    # Michigan MCL 288.697: every row raised.
    (RAISED, MICHIGAN): [(VAT, "150", HALF_HOUR), (HTST, "166", "15"), (HHST, "196", "1"), (HHST, "199", "0.5"),
                         (HHST, "206", "0.1"), (HHST, "209", "0.05"), (HHST, "217", "0.01")],
    # MCL 288.697; La. 51 VII-2309. Cream for butter the same in 7 CFR 58.334 (from memory).
    (BUTTER, ""): [(VAT, "165", HALF_HOUR), (HTST, "185", "15")],
    (PLASTIC, ""): [(VAT, "170", HALF_HOUR), (HTST, "190", "15")],
}  # fmt: skip
PAIRS = [(named, area, *pair) for (named, area), pairs in PRINTED.items() for pair in pairs]


@pytest.mark.proves("pasteurization.rows_for", by="published", source="21 CFR 1240.61, 131.3(b), 135.3; 7 CFR 58.635")
@pytest.mark.proves("pasteurization.rows_for", by="published", source="1 NYCRR 2.44; 3 CCR 585(d); MCL 288.697")
@pytest.mark.parametrize(("named", "area"), PRINTED)
def test_a_class_has_the_printed_rows_and_no_other(named, area):
    """Method, temperature and time of each, in the unit that is printed."""
    found = past.rows_for(named, US, area)
    assert {(one.method, one.temperature, one.hold_s) for one in found} == {
        (method, Decimal(heat), Decimal(time)) for method, heat, time in PRINTED[named, area]
    }
    assert {one.unit for one in found} == {"°F"}


@pytest.mark.proves("pasteurization.judge", by="published", source="21 CFR 1240.61, 131.3(b), 135.3; state tables")
@pytest.mark.parametrize(("named", "area", "method", "heat", "time"), PAIRS)
def test_the_printed_pair_is_met_and_a_hair_less_of_either_is_not(named, area, method, heat, time):
    """At the pair exactly; a thousandth of a degree or of the time below it, that row no longer."""
    rows = past.rows_for(named, US, area)
    heat, time = Decimal(heat), Decimal(time)
    at = past.judge(heat, "°F", time, rows, method)
    assert at.met and (at.row.temperature, at.row.hold_s) == (heat, time)
    assert not past.judge(heat - Decimal("0.001"), "°F", time, rows, method).met
    assert not past.judge(heat, "°F", time * Decimal("0.999"), rows, method).met


@pytest.mark.proves("pasteurization.methods_by_time", by="published", source="every time printed in 21 CFR 1240.61")
@pytest.mark.parametrize(("named", "area", "method", "heat", "time"), PAIRS)
def test_each_printed_row_is_found_without_naming_its_method(named, area, method, heat, time):
    """The times of the tables leave 25 s to 30 min empty, so that the time says which rows may count."""
    assert method in past.methods_by_time(Decimal(time))
    assert past.judge(Decimal(heat), "°F", Decimal(time), past.rows_for(named, US, area)).met


@pytest.mark.proves("pasteurization.rows_for", by="published", source="(EC) 853/2004 Annex III Sec. IX Ch. II Part II")
@pytest.mark.proves("pasteurization.judge", by="published", source="(EC) 853/2004 Annex III Sec. IX Ch. II Part II")
@pytest.mark.parametrize("named", list(ProductClass))
def test_the_eu_has_one_table_for_all_milk_in_celsius(named):
    """72 °C 15 s, 63 °C 30 min; 161 °F is 71.67 °C and does not meet 72 °C."""
    rows = past.rows_for(named, EU)
    assert [(one.temperature, one.unit, one.hold_s) for one in rows] == [(63, "°C", 1800), (72, "°C", 15)]
    assert past.judge(72, "°C", 15, rows).met and past.judge(63, "°C", 1800, rows).met
    assert not past.judge(161, "°F", 15, rows).met
    assert past.judge(Decimal("161.6"), "°F", 15, rows).standing.temperature_margin == 0


# UK Dairy Products (Hygiene) Regulations 1995: 71.7 °C 15 s (from memory); Codex CXC 57-2004: 72 °C 15 s, 63 °C 30 min
# for whole milk (from memory); Australia and New Zealand, Standard 4.2.4 clause 15: 72 °C 15 s (a summary).
@pytest.mark.proves("pasteurization.judge", by="published", source="CXC 57-2004; FSANZ 4.2.4; UK 1995 (from memory)")
def test_other_countries_pairs_are_judged_by_the_table_in_force():
    """71.7 °C is 161.06 °F: met by the US row, by 0.06 °F, not by the EU's; 72 °C 15 s is met by both."""
    us, eu = past.rows_for(MILK, US), past.rows_for(MILK, EU)
    assert past.judge(Decimal("71.7"), "°C", 15, us).standing.temperature_margin == Fraction("0.06")
    assert not past.judge(Decimal("71.7"), "°C", 15, eu).met
    assert past.judge(72, "°C", 15, us).met and past.judge(72, "°C", 15, eu).met


@pytest.mark.proves("pasteurization.raised", by="published", source="Michigan MCL 288.697, every row printed raised")
@pytest.mark.parametrize(("named", "area", "method", "heat", "time"), [one for one in PAIRS if one[:2] == (MILK, "")])
def test_michigan_prints_each_federal_row_and_five_degrees(named, area, method, heat, time):
    """150, 166, 196, 199, 206, 209 and 217 °F, the times unchanged."""
    federal = next(one for one in past.rows_for(MILK, US) if str(one.temperature) == heat)
    sums = {(one.temperature, one.hold_s) for one in past.rows_for(RAISED, US, MICHIGAN)}
    more = past.raised(federal, 5, "°F", RAISED, "MCL 288.697")
    assert (more.temperature, more.hold_s) in sums


@pytest.mark.proves("pasteurization.raised", by="published", source="21 CFR 1240.61(b), footnote 1: 5 °F (3 °C)")
@pytest.mark.parametrize(("milk", "sum_"), [("145", "150"), ("161", "166")])
def test_the_raise_of_the_footnote_is_on_the_two_marked_rows(milk, sum_):
    """And the table's raised rows are these sums; the HHST rows are not raised."""
    federal = {str(one.temperature): one for one in past.rows_for(MILK, US)}
    assert past.raised(federal[milk], 5, "°F", RAISED, "").temperature == int(sum_)
    assert sum_ in {str(one.temperature) for one in past.rows_for(RAISED, US)}
    assert {one.key for one in past.rows_for(RAISED, US)} & {"hhst-191", "hhst-212"}


@pytest.mark.proves("pasteurization.rows_elsewhere", by="published", source="1 NYCRR 2.44: 180 °F 15 s for mix")
@pytest.mark.proves("pasteurization.rows_elsewhere", by="published", source="1 NYCRR 3.24(b): 166 °F 15 s")
def test_state_rows_are_shown_elsewhere_and_do_not_count():
    """Mix at 180 °F for 15 s is met in New York alone; the condensed plants' row never stands in."""
    rows = past.rows_for(MIX, US)
    assert not past.judge(180, "°F", 15, rows).met
    assert "ny-mix-180" in {one.key for one in past.rows_elsewhere(MIX, US)}
    assert past.judge(180, "°F", 15, past.rows_for(MIX, US, NEW_YORK)).met
    condensed = [one for one in past.rows_elsewhere(RAISED, US) if one.key == "ny-condensed"]
    assert [(one.temperature, one.hold_s, one.celsius) for one in condensed] == [(166, 15, "75")]
    base = [one for one in past.rows_elsewhere(MILK, US) if one.key == "ny-condensed-base"]
    assert [(one.temperature, one.hold_s, one.area) for one in base] == [(161, 15, "New York, condensed plants")]


@pytest.mark.proves(
    "pasteurization.general_missed",
    by="published",
    source="1 NYCRR 2.44: 180 °F 15 s for mix; 21 CFR 135.3: 175 °F 25 s",
)
@pytest.mark.parametrize(
    ("warm", "held", "missing"), [(180, 15, "10 s missing"), (190, 24, "1 s missing"), (180, 25, None), (175, 25, None)]
)
def test_new_yorks_row_of_mix_is_met_where_the_federal_one_is_not(warm, held, missing):
    """The state's verdict stands, and what the federal row lacks is said with its clause."""
    verdict = past.judge(warm, "°F", held, past.rows_for(MIX, US, NEW_YORK))
    said = past.general_missed(verdict, MIX, US, NEW_YORK)
    assert verdict.met
    if missing is None:
        assert said is None
    else:
        assert f"175 °F for 25 s (21 CFR 135.3) is not met by these numbers: {missing}." in said
        assert NEW_YORK in said and "the regulator decides" in said


@pytest.mark.proves("pasteurization.general_missed", by="independent", source="integers compared, every combination")
def test_what_the_general_rows_lack_agrees_with_their_figures():
    """Mix in continuous flow, tenths of °F and of a second: New York (175, 25) or (180, 15), federal (175, 25)."""
    for tenths in (1749, 1750, 1799, 1800, 1900):
        for held in (149, 150, 249, 250):
            warm, seconds = Fraction(tenths, 10), Fraction(held, 10)
            verdict = past.judge(warm, "°F", seconds, past.rows_for(MIX, US, NEW_YORK), Method.HTST)
            federal = tenths >= 1750 and held >= 250
            state = federal or (tenths >= 1800 and held >= 150)
            assert verdict.met is state
            assert (past.general_missed(verdict, MIX, US, NEW_YORK) is not None) is (state and not federal)
            assert past.general_missed(verdict, MIX, US, "") is None


# Exact Fahrenheit in Celsius, three decimals (arithmetic on NIST SP 811, appendix B.9): 145 62.778; 150 65.556; 155
# 68.333; 161 71.667; 166 74.444; 175 79.444; 180 82.222; 191 88.333; 194 90.000; 201 93.889; 204 95.556; 212 100.000.
@pytest.mark.proves("pasteurization.judge", by="published", source="NIST SP 811, B.9: exact Celsius of each row")
@pytest.mark.parametrize(
    ("fahrenheit", "celsius"),
    [(145, "62.778"), (150, "65.556"), (155, "68.333"), (161, "71.667"), (166, "74.444"), (175, "79.444"),
     (180, "82.222"), (191, "88.333"), (194, "90.000"), (201, "93.889"), (204, "95.556"), (212, "100.000")],
)  # fmt: skip
def test_each_row_is_met_just_above_its_exact_celsius_and_not_just_below(fahrenheit, celsius):
    """To the third decimal, whatever rounded Celsius is printed beside the row."""
    rows = [one for one in US if one.temperature == fahrenheit]
    assert rows
    above, below = Decimal(celsius) + Decimal("0.001"), Decimal(celsius) - Decimal("0.001")
    for one in rows:
        assert past.judge(above, "°C", one.hold_s, [one], one.method).met
        assert not past.judge(below, "°C", one.hold_s, [one], one.method).met


@pytest.mark.proves("pasteurization.judge", by="published", source="printed Celsius of 21 CFR 1240.61: rounded up")
def test_every_printed_celsius_meets_its_row_with_less_than_a_degree_to_spare():
    """Printed Celsius is the exact conversion rounded up: 72 for 71.67, 80 for 79.44, 83 for 82.22."""
    printed = [one for one in US if one.celsius]
    assert len(printed) == 27
    for one in printed:
        found = past.judge(Decimal(one.celsius), "°C", one.hold_s, [one], one.method)
        assert found.met and found.standing.temperature_margin < Fraction(9, 5)
        assert not past.judge(Decimal(one.celsius) - 1, "°C", one.hold_s, [one], one.method).met


# Which row applies, product by product: a reading of the rules; the regulator decides.
@pytest.mark.proves("pasteurization.classify", by="published", source="21 CFR 1240.61(b) footnote 1; PMO (from memory)")
@pytest.mark.proves("pasteurization.classify", by="published", source="21 CFR 131.110, 131.3(a), 131.180, 131.170")
@pytest.mark.parametrize(
    ("product", "vat", "htst"),
    [
        # whole, 2 %, 1 % and skim milk: fat and solids of 21 CFR 131.110(a) and less
        (Product(Use.MILK_PRODUCT, Decimal("3.25"), Decimal("11.5"), False, False), "145", "161"),
        (Product(Use.MILK_PRODUCT, 2, Decimal("10.25"), False, False), "145", "161"),
        (Product(Use.MILK_PRODUCT, 1, 10, False, False), "145", "161"),
        (Product(Use.MILK_PRODUCT, Decimal("0.1"), 9, False, False), "145", "161"),
        # half-and-half 10.5 % (131.180), cream 18 % (131.3(a)), heavy cream 36 % (131.150)
        (Product(Use.MILK_PRODUCT, Decimal("10.5"), 19, False, False), "150", "166"),
        (Product(Use.MILK_PRODUCT, 18, 25, False, False), "150", "166"),
        (Product(Use.MILK_PRODUCT, 36, 42, False, False), "150", "166"),
        # chocolate milk, sweetened
        (Product(Use.MILK_PRODUCT, Decimal("3.25"), 17, True, False), "150", "166"),
        # condensed or fortified to 18 % solids and more: the ordinance alone
        (Product(Use.MILK_PRODUCT, Decimal("0.5"), 18, False, False), "150", "166"),
        (Product(Use.MILK_PRODUCT, 8, 26, False, True), "150", "166"),
        # mix and eggnog by their use, whatever their composition
        (Product(Use.MIX, 10, 38, True, False), "155", "175"),
        (Product(Use.MIX, 3, 30, False, False), "155", "175"),
        (Product(Use.EGGNOG, 6, 25, True, False), "155", "175"),
        (Product(Use.BUTTER_CREAM, 38), "165", "185"),
        (Product(Use.INGREDIENT, 3, 12, False, False), "145", "161"),
        (Product(Use.INGREDIENT, 3, 12, True, False), "150", "166"),
    ],
)
def test_product_has_the_row_that_the_rules_give_it(product, vat, htst):
    """The vat's and the coolest HTST row."""
    rows = past.rows_for(past.classify(product).product_class, US)
    coolest = {method: min(one.temperature for one in rows if one.method is method) for method in (VAT, HTST)}
    assert coolest == {VAT: int(vat), HTST: int(htst)}


@pytest.mark.proves("pasteurization.classify", by="published", source="21 CFR 1240.61(b), 131.3(b): no solids trigger")
@pytest.mark.proves("pasteurization.classify", by="published", source="1 NYCRR 2.44: fat and sweetener, no solids")
def test_the_18_percent_solids_trigger_is_the_ordinances_alone():
    """Neither federal table has it, nor New York's copy."""
    condensed = Product(Use.MILK_PRODUCT, Decimal("0.5"), 30, False, True)
    assert past.classify(condensed, FEDERAL).product_class is MILK
    assert past.classify(condensed, ORDINANCE).product_class is RAISED
    assert past.classify(condensed, ORDINANCE).basis == "from memory"


# Equivalence by z (15 s and 30 min imply 7.70 °F between 145 and 161, 10.77 between 155 and 175; arithmetic on 21 CFR
# 1240.61(b) and 135.3) never replaces the table: halfway in temperature the cooler row's time is still needed.
@pytest.mark.proves("pasteurization.judge", by="independent", source="log-linear time by z, which must not count")
@pytest.mark.parametrize(
    ("named", "low", "high", "long", "short", "z"),
    [(MILK, 145, 161, 1800, 15, "7.70"), (MIX, 155, 175, 1800, 25, "10.77"), (EGGNOG, 175, 180, 25, 15, "22.54"),
     (MILK, 161, 191, 15, 1, "25.51")],
)  # fmt: skip
def test_nothing_is_interpolated_between_two_rows(named, low, high, long, short, z):
    """The time that z would grant halfway is not enough, by any method."""
    by_z = (high - low) / math.log10(long / short)
    assert by_z == pytest.approx(float(z), abs=0.005)
    halfway = (low + high) / 2
    granted = long * 10 ** -((halfway - low) / by_z)
    assert short < granted < long
    rows = [one for one in past.rows_for(named, US) if one.temperature in (low, high)]
    assert len(rows) == 2
    for method in (None, *(one.method for one in rows)):
        assert not past.judge(halfway, "°F", granted, rows, method).met


# UK guide, equal holds: 8 s 73.4, 10 s 72.8, 12 s 72.5 °C, all taken as equal to 15 s 72.0 °C there.
@pytest.mark.proves("pasteurization.judge", by="published", source="UK guide on holding sections: equal holds")
@pytest.mark.parametrize(("time", "celsius"), [("8", "73.4"), ("10", "72.8"), ("12", "72.5")])
def test_shorter_hotter_holds_of_a_guide_are_no_rows(time, celsius):
    """A guide's equal hold is for the authority to accept; by the table its time is missing."""
    found = past.judge(Decimal(celsius), "°C", Decimal(time), past.rows_for(MILK, EU))
    assert not found.met and found.standing.time_margin_s == Decimal(time) - 15
    assert past.judge(72, "°C", 15, past.rows_for(MILK, EU)).met


# Dickerson and others 1968: a tube of 26 s by salt gave mix 21.9 s (16.5 % fat) and 23.5 s (10 %).
@pytest.mark.proves("pasteurization.judge", by="published", source="Dickerson et al., J. Dairy Sci. 51:1731 (1968)")
@pytest.mark.parametrize("measured", ["21.9", "23.5"])
def test_mix_in_a_tube_that_water_calls_26_seconds_does_not_meet_its_row(measured):
    """Met by the water test's 26 s, missed by what the mix's fastest particle took."""
    rows = past.rows_for(MIX, US)
    assert past.judge(175, "°F", 26, rows).met
    found = past.judge(175, "°F", Decimal(measured), rows)
    assert not found.met and found.standing.time_margin_s == Decimal(measured) - 25


# The same 16 s tube: milk 15.8 s, chocolate milk 15.5 s, both above 15 s.
@pytest.mark.proves("pasteurization.judge", by="published", source="Dickerson et al. 1968: milk and chocolate milk")
@pytest.mark.parametrize(("named", "heat", "measured"), [(MILK, 161, "15.8"), (RAISED, 166, "15.5")])
def test_milk_in_a_tube_that_water_calls_16_seconds_still_meets_its_row(named, heat, measured):
    """With the 0.8 and 0.5 s that are left."""
    found = past.judge(heat, "°F", Decimal(measured), past.rows_for(named, US))
    assert found.met and found.standing.time_margin_s == Decimal(measured) - 15


@pytest.mark.proves("pasteurization.judge", by="independent", source="whole numbers, tenths and hundredths")
@pytest.mark.parametrize("named", [MILK, RAISED, MIX, EGGNOG])
def test_verdicts_agree_with_arithmetic_in_whole_numbers(named):
    """Every tenth of a °C from 60 to 101 with several times, compared without fractions: 18 t + 3200 against 100 F."""
    rows = past.rows_for(named, US)
    for tenths in range(600, 1011, 3):
        for hundredths in (1, 5, 10, 50, 100, 1500, 2499, 2500, 5999, 6000, 180000):
            vat = hundredths >= 6000
            met = any(
                18 * tenths + 3200 >= int(one.temperature * 100) and hundredths >= int(one.hold_s * 100)
                for one in rows
                if (one.method is VAT) is vat
            )
            found = past.judge(Decimal(tenths) / 10, "°C", Decimal(hundredths) / 100, rows)
            assert found.met is met, (tenths, hundredths)


@pytest.mark.proves("pasteurization.rows_for", by="independent", source="brute force over the mapping of rule ids")
@pytest.mark.proves("pasteurization.rows_elsewhere", by="independent", source="set difference")
@pytest.mark.parametrize("named", list(ProductClass))
@pytest.mark.parametrize("area", ["", NEW_YORK, MICHIGAN, CALIFORNIA, GRADED])
def test_here_and_elsewhere_part_the_table(named, area):
    """Each row of the class is on one side, and a method's rows are all of the area or all general."""
    here, there = set(past.rows_for(named, US, area)), set(past.rows_elsewhere(named, US, area))
    assert here.isdisjoint(there) and here | there == {one for one in US if named in one.classes}
    for method in Method:
        assert len({one.area for one in here if one.method is method}) <= 1
