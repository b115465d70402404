"""The US rule set against the texts that it stands on. Values are those printed there; the source is beside each.

Addresses of the R-numbers stand in plant/rules/us.toml under [sources]. What nobody read for the file says so.
"""

from decimal import Decimal

import pytest

from plant.rules import rule_set

pytestmark = pytest.mark.once


def row(key: str):
    """One row of the US rule set."""
    return rule_set("us").rows[key]


# 21 CFR 1240.61(b), table (52 FR 29514, amended 57 FR 57344): Fahrenheit, printed Celsius, time. R3, R4.
MILK = [
    ("vat-milk", "145", "63", "30", ""),
    ("htst-milk", "161", "72", "", "15"),
    ("hhst-191", "191", "89", "", "1"),
    ("hhst-194", "194", "90", "", "0.5"),
    ("hhst-201", "201", "94", "", "0.1"),
    ("hhst-204", "204", "96", "", "0.05"),
    ("hhst-212", "212", "100", "", "0.01"),
]
# 21 CFR 1240.61(c), eggnog. R4.
EGGNOG = [
    ("eggnog-vat", "155", "69", "30", ""),
    ("eggnog-175", "175", "80", "", "25"),
    ("eggnog-180", "180", "83", "", "15"),
]
# 21 CFR 131.3(b), dairy ingredients: no Celsius printed. R5.
INGREDIENT = [
    ("ingredient-vat", "145", "", "30", ""),
    ("ingredient-161", "161", "", "", "15"),
    ("ingredient-191", "191", "", "", "1"),
    ("ingredient-204", "204", "", "", "0.05"),
    ("ingredient-212", "212", "", "", "0.01"),
]
# 21 CFR 135.3 (R6) and 7 CFR 58.635 (R7), frozen dessert mix.
MIX = [
    ("mix-vat", "155", "", "30", ""),
    ("mix-htst", "175", "", "", "25"),
    ("mix-usda-vat", "155", "", "30", ""),
    ("mix-usda-htst", "175", "", "", "25"),
]
# 1 NYCRR 2.44 (Item 16p), a state's copy of the model ordinance: eggnog and mix on one row. R8.
NEW_YORK = [
    ("ny-mix-155", "155", "69", "30", ""),
    ("ny-mix-175", "175", "80", "", "25"),
    ("ny-mix-180", "180", "83", "", "15"),
]
# Michigan MCL 288.697: every row raised by 5 F. R10.
MICHIGAN = [
    ("mi-raised-150", "150", "66", "30", ""),
    ("mi-raised-166", "166", "75", "", "15"),
    ("mi-raised-196", "196", "92", "", "1"),
    ("mi-raised-199", "199", "93", "", "0.5"),
    ("mi-raised-206", "206", "97", "", "0.1"),
    ("mi-raised-209", "209", "99", "", "0.05"),
    ("mi-raised-217", "217", "103", "", "0.01"),
]


@pytest.mark.parametrize(
    ("key", "fahrenheit", "celsius", "minutes", "seconds"),
    MILK + EGGNOG + INGREDIENT + MIX + NEW_YORK + MICHIGAN,
)
def test_pasteurization_rows_are_as_printed(key, fahrenheit, celsius, minutes, seconds):
    """Temperature in the governing unit, Celsius as printed and the hold of each row."""
    found = row(key)
    assert (found.low, found.unit) == (fahrenheit, "°F")
    assert (found.celsius, found.minutes, found.seconds) == (celsius, minutes, seconds)


def test_the_raise_is_five_degrees_on_the_two_marked_rows():
    """21 CFR 1240.61(b) footnote 1: 5 F (3 C) on the 145 and 161 F rows for fat of 10 percent or sweetener (R3, R4)."""
    assert (row("raise").low, row("raise").celsius) == ("5", "3")
    assert Decimal(row("vat-raised").low) == Decimal("145") + 5
    assert Decimal(row("htst-raised").low) == Decimal("161") + 5


def test_mix_has_no_180_row_in_the_federal_section():
    """21 CFR 135.3 has 155 F and 175 F only; 180 F 15 s comes from 1240.61(c) and state tables (R6, R4, R8)."""
    federal = [one for one in rule_set("us").rows.values() if one.clause == "21 CFR 135.3"]
    assert sorted(one.low for one in federal) == ["155", "175"]


def test_131_3_b_has_neither_the_194_nor_the_201_row():
    """21 CFR 131.3(b) is not the table of 1240.61 (R5)."""
    table = {one.low for one in rule_set("us").rows.values() if one.clause == "21 CFR 131.3(b)"}
    assert table == {"145", "161", "191", "204", "212"}


def test_printed_celsius_is_fahrenheit_rounded_up():
    """Each printed Celsius limit is the exact conversion rounded up (arithmetic on the printed values of R4)."""
    for key, fahrenheit, celsius, _minutes, _seconds in MILK + EGGNOG + NEW_YORK + MICHIGAN:
        exact = (Decimal(fahrenheit) - 32) * 5 / 9
        assert exact <= Decimal(celsius) < exact + 1, key
        assert row(key).celsius == celsius


@pytest.mark.parametrize(
    ("key", "low", "high", "unit", "basis"),
    [
        ("ultra", "280", "", "°F", "text consulted"),  # 21 CFR 131.3(c), 2 s. R5
        ("ny-condensed", "166", "", "°F", "text consulted"),  # 1 NYCRR 3.24(b). R112
        ("ny-condensed-base", "161", "", "°F", "text consulted"),  # same: every other product of such a plant
        ("vat-air-space-wi", "5", "", "°F", "text consulted"),  # ATCP 65.60. R139
        ("butter-cream-vat", "165", "", "°F", "text consulted"),  # MCL 288.697; La. 51 VII-2309. R10, R11
        ("butter-cream-htst", "185", "", "°F", "text consulted"),  # same
        ("plastic-cream-vat", "170", "", "°F", "text consulted"),  # same
        ("plastic-cream-htst", "190", "", "°F", "text consulted"),  # same
        ("vat-air-space", "5", "", "°F", "text consulted"),  # 3 CCR 584(b). R12
        ("vat-air-accuracy", "", "1", "°F", "text consulted"),  # Ala. 420-3-17-.05. R14
        ("vat-spread", "", "1", "°F", "state mirror"),  # 1 NYCRR 2.45(b)(1). R16
        ("indicator-accuracy", "", "0.5", "°F", "state mirror"),  # 1 NYCRR App. 9. R20
        ("indicator-response", "", "4", "s", "state mirror"),  # 1 NYCRR App. 9. R20
        ("recorder-accuracy", "", "1", "°F", "text consulted"),  # Ala. 420-3-17-.05. R14
        ("seal-broken-wi", "", "2", "h", "text consulted"),  # ATCP 65.68(3)(c),(6)(a). R105
        ("booster", "1", "", "psi", "text consulted"),  # 7 Pa. 59.216c(a)(5). R25
        ("regenerator-quebec", "2", "", "psi", "text consulted"),  # P-29 r.1 s.11.7.7. R26
        ("outlet-rise", "12", "", "in", "text consulted"),  # 7 Pa. 59.216c(a)(2). R25
        ("tube-slope", "0.25", "", "in/ft", "from memory"),  # PMO 16p(B), nobody read it
        ("raw-cold", "", "45", "°F", "state mirror"),  # 1 NYCRR 2.49(a); ATCP 65.40(2)(b). R28, R29
        ("farm-4h", "", "50", "°F", "state mirror"),  # PMO Table 1 in a textbook. R30
        ("raw-72h", "", "72", "h", "state mirror"),  # 7 Pa. 59.212(a). R31
        ("storage-recorder", "", "2", "°F", "secondary"),  # course text on the PMO. R32
        ("pasteurized-cold", "", "45", "°F", "text consulted"),  # 1 NYCRR 2.49(b). R28
        ("mix-cold", "", "45", "°F", "text consulted"),  # COMAR 10.15.05.25. R33
        ("tanker-96h", "", "96", "h", "state mirror"),  # OAC 901:11-4-06, older text. R109
        ("raw-bacteria-single", "", "100000", "per mL", "text consulted"),  # La. VII-349. R30, R37
        ("raw-bacteria", "", "300000", "per mL", "text consulted"),  # La. VII-349. R30, R37
        ("somatic-cells", "", "750000", "per mL", "text consulted"),  # La. VII-349. R30, R37
        ("bacteria", "", "20000", "per mL", "text consulted"),  # La. VII-355. R30, R38
        ("coliform", "", "10", "per mL", "text consulted"),  # La. VII-355. R30, R38
        ("phosphatase", "", "350", "mU/L", "text consulted"),  # La. VII-355. R30, R38
        ("freezing-point", "", "-0.525", "degrees Hortvet", "text consulted"),  # La. VII-349, 355. R37, R38
        ("dessert-bacteria", "", "50000", "per g", "text consulted"),  # COMAR 10.15.05.25. R33
        ("dessert-coliform", "", "10", "per g", "text consulted"),  # same
        ("dessert-coliform-bulky", "", "20", "per g", "text consulted"),  # same
        ("milk-fat", "3.25", "", "percent", "text consulted"),  # 21 CFR 131.110(a). R56
        ("milk-snf", "8.25", "", "percent", "text consulted"),  # 21 CFR 131.110(a). R56
        ("cream-fat", "18", "", "percent", "text consulted"),  # 21 CFR 131.3(a). R5
        ("heavy-cream", "36", "", "percent", "text consulted"),  # 21 CFR 131.150. R57
        ("light-cream", "18", "30", "percent", "secondary"),  # 21 CFR 131.155. R124, R125
        ("light-whipping", "30", "36", "percent", "secondary"),  # 21 CFR 131.157. R125
        ("half-and-half", "10.5", "18", "percent", "text consulted"),  # 21 CFR 131.180, a quotation. R124
        ("ice-cream-fat", "10", "", "percent", "text consulted"),  # 21 CFR 135.110(a)(2). R60, R61
        ("ice-cream-weight", "4.5", "", "lb/gal", "text consulted"),  # 21 CFR 135.110(a)(2). R60, R61
        ("ice-cream-solids", "1.6", "", "lb/gal", "text consulted"),  # 21 CFR 135.110(a)(2). R60, R61
        ("whey", "", "25", "percent", "text consulted"),  # 7 CFR 58.2825(a). R62
        ("sanitize-hot", "170", "", "°F", "state mirror"),  # 1 NYCRR 2.18, 5 min. R121
        ("sanitize-chemical", "1", "", "min", "state mirror"),  # 1 NYCRR 2.18. R121
        ("sanitize-chlorine", "100", "", "mg/L", "from memory"),  # 21 CFR 178.1010; 40 CFR 180.940
        ("rec-review", "", "7", "working days", "secondary"),  # 21 CFR 117.165(a)(4). R97
        ("rec-retention", "2", "", "years", "secondary"),  # 21 CFR 117.315. R100
        ("keep-charts", "3", "", "months", "text consulted"),  # 1 NYCRR 2.48, 3.27. R17, R19
        ("keep-wi", "2", "", "years", "text consulted"),  # ATCP 65.44(1)(i),(k). R44
        ("keep-tags", "15", "", "days", "text consulted"),  # 7 Pa. 59.212(a)(2). R31
        ("keep-haccp", "1", "", "years", "from memory"),  # PMO App. K; twin 21 CFR 120.12(d). R119
        ("trace-show", "", "24", "h", "text consulted"),  # 21 CFR 1.361. R94
    ],
)
def test_limits_and_their_bases_are_those_of_the_source(key, low, high, unit, basis):
    """Value, unit and how far its text was read."""
    found = row(key)
    assert (found.low, found.high, found.unit, found.basis) == (low, high, unit, basis)


def test_test_intervals():
    """Instruments 3 months, holding time 6: La. 51 VII-313, ATCP 65.68(3) (R22, R18); plan 3 years (R97)."""
    assert row("test-instruments").months == 3
    assert row("test-holding-time").months == 6
    assert row("rec-reanalysis").months == 36


def test_major_allergens_are_nine():
    """FD&C Act 201(qq) with the FASTER Act: nine, sesame the ninth (R68)."""
    names = row("allergens-nine").title.partition(": ")[2].split(", ")
    nine = "milk, eggs, fish, crustacean shellfish, tree nuts, peanuts, wheat, soybeans, sesame"
    assert names == nine.split(", ")


def test_overrun_ceiling_is_the_arithmetic_of_its_rows():
    """A 9.2 lb/gal mix at 4.5 lb/gal has 104 percent overrun (computed from 21 CFR 135.110(a)(2), R60)."""
    assert round((Decimal("9.2") / Decimal(row("ice-cream-weight").low) - 1) * 100) == int(row("overrun-ceiling").high)


def test_cooling_on_the_farm_has_its_hours():
    """50 °F within 4 h of the first milking's start, 45 °F within 2 h of its end: PMO Table 1 in a textbook. R30"""
    assert [(row(key).high, row(key).hours) for key in ("farm-4h", "farm-2h")] == [("50", "4"), ("45", "2")]
