"""Results against the published standards of milk, and the running rule of counts against its clause and a loop."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plant.process.errors import CalculationError
from plant.process.laboratory import FOUND, NOT_FOUND, TESTS, judge_control, judge_result, read_result
from plant.process.limits import Limit
from plant.process.running_counts import Standing, running
from plant.rules import rule_set

pytestmark = pytest.mark.once
MONDAY = date(2026, 3, 2)


def rule(key: str) -> Limit:
    """A row of the US rule set as a limit."""
    row = rule_set("us").rows[key]
    return Limit(key, row.quantity, row.unit, high=Decimal(row.high), clause=row.clause, basis=row.basis, rule=key)


# Standards of Grade "A" raw and pasteurized milk: PMO Table 1, as mirrored by La. Admin. Code 51:VII.349 and 355.
@pytest.mark.parametrize(
    ("key", "test", "meets", "misses"),
    [
        ("raw-bacteria-single", "bacteria", "100000", "100001"),
        ("raw-bacteria", "bacteria", "300000", "300001"),
        ("bacteria", "bacteria", "20000", "20001"),
        ("coliform", "coliform", "10", "11"),
        ("coliform-bulk", "coliform", "100", "101"),
        ("phosphatase", "phosphatase", "349.9", "350"),  # "less than 350"
        ("somatic-cells", "somatic cells", "750000", "750001"),
    ],
)
def test_the_standards_of_product(key: str, test: str, meets: str, misses: str) -> None:
    limit = rule(key)
    assert judge_result(TESTS[test], read_result(TESTS[test], meets), limit).outcome == "met"
    assert judge_result(TESTS[test], read_result(TESTS[test], misses), limit).outcome == "not met"


# Common practice of dairy laboratories, no source: how counts outside the countable range are written.
@pytest.mark.parametrize(
    ("typed", "printed", "outcome"),
    [
        ("<1", "<1", "met"),
        ("< 10", "<10", "met"),
        ("<100", "<100", "not proven"),  # may be 50: cannot be told from 10
        (">5", ">5", "not proven"),
        (">10", ">10", "not met"),
        ("7 est.", "7 est.", "met"),
        ("e 700", "700 est.", "not met"),
        ("TNTC", "TNTC", "not met"),
        ("tntc >300", ">300", "not met"),
    ],
)
def test_how_counts_are_written(typed: str, printed: str, outcome: str) -> None:
    result = read_result(TESTS["coliform"], typed)
    assert result.text() == printed
    assert judge_result(TESTS["coliform"], result, rule("coliform")).outcome == outcome


@pytest.mark.parametrize("typed", ["", "ten", "<0", "-3", "1.5", "1,5", "TNTC many", "found"])
def test_nonsense_is_no_count(typed: str) -> None:
    with pytest.raises(CalculationError):
        read_result(TESTS["coliform"], typed)


# Standard Methods for the Examination of Dairy Products, air control plates: from memory. The others: common practice
# of dairy laboratories, no source.
@pytest.mark.parametrize(
    ("test", "trusted", "doubted"),
    [("air plate", "15", "16"), ("growth on control plate", "no growth", "growth"),
     ("growth on positive control", "growth", "no growth")],
)  # fmt: skip
def test_what_a_control_plate_has_to_show(test: str, trusted: str, doubted: str) -> None:
    assert judge_control(TESTS[test], read_result(TESTS[test], trusted)).outcome == "met"
    assert judge_control(TESTS[test], read_result(TESTS[test], doubted)).outcome == "not met"


def test_found_and_not_found_have_many_spellings_and_no_numbers() -> None:
    assert read_result(TESTS["Listeria"], "POSITIVE").sign == FOUND
    assert read_result(TESTS["Listeria"], "no detectado").sign == NOT_FOUND
    with pytest.raises(CalculationError):
        read_result(TESTS["antibiotic"], "3")
    with pytest.raises(CalculationError):
        read_result(TESTS["phosphatase"], "TNTC")


# PMO Section 6; Okla. Stat. 2-7-409(B): "two of the last four consecutive ... counts (except those for aseptic) ...
# taken on separate days, exceed the limit" (wording from memory); three of the last five: from memory.
@pytest.mark.parametrize(
    ("days", "standing"),
    [
        ("x", Standing.NOTHING),
        ("x.x", Standing.NOTICE),
        ("x..x", Standing.NOTICE),
        ("x...x", Standing.NOTHING),
        ("x.x.x", Standing.DEGRADE),
        ("xx..x", Standing.DEGRADE),
        ("xxx..", Standing.DEGRADE),
        ("xx...", Standing.NOTHING),
        ("xxx....", Standing.NOTHING),
        ("", Standing.NOTHING),
    ],
)
def test_two_of_four_and_three_of_five(days: str, standing: Standing) -> None:
    """x a count over the limit, . one in limits, each on its own day."""
    counts = [(MONDAY + timedelta(days=7 * at), mark == "x") for at, mark in enumerate(days)]
    assert running(counts).standing is standing


def test_two_samples_of_one_day_are_one() -> None:
    """The rule says separate days."""
    assert running([(MONDAY, True), (MONDAY, True), (MONDAY, False)]).standing is Standing.NOTHING


@given(st.lists(st.tuples(st.integers(0, 12), st.booleans()), max_size=30), st.randoms())
def test_the_running_rule_is_a_plain_loop(counts, random) -> None:
    """Independent of the order in which results come in."""
    dated = [(MONDAY + timedelta(days=day), over) for day, over in counts]
    shuffled = list(dated)
    random.shuffle(shuffled)
    over_by_day = []
    for day in sorted({one for one, _over in dated}):
        over_by_day.append(any(over for one, over in dated if one == day))
    four = five = 0
    for back, over in enumerate(reversed(over_by_day)):
        four += over if back < 4 else 0
        five += over if back < 5 else 0
    expected = Standing.DEGRADE if five >= 3 else Standing.NOTICE if four >= 2 else Standing.NOTHING
    found = running(shuffled)
    assert (found.standing, found.over_of_four, found.over_of_five) == (expected, four, five)
