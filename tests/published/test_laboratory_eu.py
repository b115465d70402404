"""Criteria of Regulations (EC) 853/2004 and 2073/2005 as the rule set has them, and a plan that stands on them.

Addresses stand in plant/rules/eu.toml under [sources]; rows whose basis is 'from memory' are of nobody's reading.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from scipy.stats import gmean

from plant.hazard_plan.check import problems
from plant.hazard_plan.content import ControlPointDef, LimitDef, Plan, SampledDef
from plant.hazard_plan.written import read
from plant.process.geometric_mean import judge_mean, rolling_mean
from plant.process.laboratory import TESTS, Result, judge_lot, judge_signs, read_result
from plant.process.limits import Limit
from plant.process.sampling_plans.results import Plan as SamplingPlan
from plant.rules import rule_set

pytestmark = pytest.mark.once
DAY = date(2026, 3, 31)
BACTERIA = TESTS["bacteria"]


def limit(key: str, **changes: object) -> Limit:
    """The limit that a row is."""
    row = rule_set("eu").rows[key]
    made = Limit(key=key, quantity=row.quantity, unit=row.unit, low=None, high=Decimal(row.high) if row.high else None,
                 act_low=None, act_high=None, wanted=(), clause=row.clause, basis=row.basis, rule=key)  # fmt: skip
    return replace(made, **changes)  # type: ignore[arg-type]


def counts(*texts: str, every: int = 17) -> list[tuple[date, Result]]:
    """Counts each 17 days, the last on DAY: two a month."""
    last = len(texts) - 1
    return [(DAY - timedelta(days=every * (last - at)), read_result(BACTERIA, text)) for at, text in enumerate(texts)]


@pytest.mark.parametrize(
    ("key", "n", "c", "m", "never", "basis"),
    [
        # 2073/2005 Annex I 2.2.1: n, c and m = M read (R78), the figure 10 from memory.
        ("enterobacteriaceae", 5, 0, "10", "10", "from memory"),
        # 2.2.8 and 1.13: from memory.
        ("ice-cream-enterobacteriaceae", 5, 2, "10", "100", "from memory"),
        ("ice-cream-salmonella", 5, 0, "", "", "from memory"),
        # 1.2 and 1.3: read (R79).
        ("listeria-growth", 5, 0, "", "", "text consulted"),
        ("listeria-no-growth", 5, 0, "100", "100", "text consulted"),
    ],
)
def test_n_c_m_and_M_are_those_of_the_source(key: str, n: int, c: int, m: str, never: str, basis: str) -> None:
    row = rule_set("eu").rows[key]
    assert (row.samples, row.may_exceed, row.m, row.never_above, row.basis) == (n, c, m, never, basis)


@pytest.mark.parametrize(("key", "months", "each"), [("raw-bacteria", 2, 2), ("somatic-cells", 3, 1)])
def test_the_months_of_the_means_are_those_of_the_source(key: str, months: int, each: int) -> None:
    """853/2004 Annex III Section IX Chapter I Part III, quoted (R76)."""
    row = rule_set("eu").rows[key]
    assert (row.mean_months, row.mean_each, row.basis) == (months, each, "text consulted")


def test_the_geometric_mean_is_that_of_a_general_purpose_library() -> None:
    """scipy.stats.gmean."""
    numbers = [12000, 250000, 31000, 88000]
    mean = rolling_mean(counts(*map(str, numbers)), DAY, 2, 2)
    assert mean.value == pytest.approx(gmean(numbers), rel=1e-5) and mean.used == 4 and not mean.thin


@pytest.mark.parametrize(
    ("texts", "outcome"),
    [
        (("50000", "200000", "50000", "200000"), "met"),  # 100,000 exactly is not over it
        (("50000", "200000", "50000", "200001"), "not met"),  # compared exactly
        (("10000", "10000", "10000", "900000"), "met"),  # one count over the limit, the mean is not
        (("90000", "90000"), "not proven"),  # none in the first of the two months
        (("900000", "900000"), "not met"),  # over the limit, however few
        (("<10", "10000", "10000", "900000"), "met"),
        (("<90000", "110000", "110000", "110000"), "not proven"),  # taken at 90,000 it is over, and may be less
        ((">90000", "90000", "90000", "90000"), "not proven"),
        ((">900000", "900000", "900000", "900000"), "not met"),
        (("TNTC", "10000", "10000", "10000"), "not proven"),
    ],
)
def test_raw_milk_is_held_by_the_mean_of_two_months(texts: tuple[str, ...], outcome: str) -> None:
    judged = judge_mean(counts(*texts), DAY, limit("raw-bacteria"), 2, 2, BACTERIA.unit)
    assert judged.outcome == outcome, judged.reasons


def test_what_is_older_than_its_months_counts_no_more() -> None:
    old = [(date(2026, 1, 31), read_result(BACTERIA, "9000000")), *counts("50000", "50000", "50000", "50000")]
    assert judge_mean(old, DAY, limit("raw-bacteria"), 2, 2, BACTERIA.unit).outcome == "met"
    assert judge_mean(old, date(2026, 3, 30), limit("raw-bacteria"), 2, 2, BACTERIA.unit).outcome == "not met"


def test_ice_cream_may_have_two_of_five_between_m_and_M() -> None:
    """2.2.8, from memory: n 5, c 2, m 10, M 100."""
    row = rule_set("eu").rows["ice-cream-enterobacteriaceae"]
    plan = SamplingPlan(row.samples, row.may_exceed, Decimal(row.m), Decimal(row.never_above), row.clause)
    test = TESTS["Enterobacteriaceae"]
    for texts, outcome in (
        (("<10", "<10", "<10", "40", "100"), "met"), (("<10", "<10", "40", "40", "40"), "not met"),
        (("<10", "<10", "<10", "<10", "101"), "not met"), (("<10", "<10", "40", "40"), "not proven"),
    ):  # fmt: skip
        judged = judge_lot([read_result(test, one) for one in texts], plan, limit("ice-cream-enterobacteriaceae"))
        assert judged.outcome == outcome, texts


def test_absent_in_each_of_five() -> None:
    """1.2 (read, R79) and 1.13 (from memory): n 5, c 0."""
    test, none = TESTS["Listeria"], limit("listeria-growth", wanted=("not found",))
    for texts, outcome in (("-----", "met"), ("----", "not proven"), ("--+", "not met")):
        assert judge_signs([read_result(test, one) for one in texts], 5, none).outcome == outcome


def plan_on_it() -> Plan:
    """The second plant of the tests with the criteria of its rule set."""
    plan = read(Path("tests/plans/valle_hondo.toml").read_text(encoding="utf-8"))
    point = ControlPointDef("counts", "Counts", "operating")
    rows = rule_set("eu").rows

    def of(key: str, high: str) -> LimitDef:
        row = rows[key]
        return LimitDef(key, "count", row.clause, row.basis, row.unit, high=high, rule=key)

    made = (of("raw-bacteria", "100000"), of("somatic-cells", "400000"), of("enterobacteriaceae", "10"),
            of("ice-cream-enterobacteriaceae", "10"), of("listeria-no-growth", "100"))  # fmt: skip
    (raw,) = (one.code for one in plan.products)
    other = raw  # it has one product, and what is sampled of which is not what is asked here
    sampled = (
        SampledDef("raw", "Raw", "bacteria", "counts", (raw,), limits=("raw-bacteria",), every_lots=1),
        SampledDef("cells", "Cells", "somatic cells", "counts", (raw,), limits=("somatic-cells",), every_lots=1),
        SampledDef("entero", "Entero", "Enterobacteriaceae", "counts", (other,), limits=("enterobacteriaceae",),
                   every_lots=1, samples=5),
        SampledDef("ice", "Ice", "Enterobacteriaceae", "counts", (other,), limits=("ice-cream-enterobacteriaceae",),
                   every_lots=1, samples=5, may_exceed=2, never_above="100"),
        SampledDef("listeria", "Listeria", "Listeria count", "counts", (other,), limits=("listeria-no-growth",),
                   every_lots=1, samples=5),
    )  # fmt: skip
    known = {one.key for one in made}
    limits = (*(one for one in plan.limits if one.key not in known), *made)
    return replace(plan, control_points=(*plan.control_points, point), limits=limits, sampled=sampled)


def test_a_plan_on_it_has_no_problem_and_a_laxer_one_is_named() -> None:
    """A criterion that was read refuses a laxer plan; one from memory asks for a confirmation."""
    plan = plan_on_it()
    assert [str(one) for one in problems(plan) if one.path.startswith("sampled")] == []
    for at, changes, refused in (
        (2, {"samples": 3}, False), (3, {"may_exceed": 3}, False), (3, {"never_above": "200"}, False),
        (3, {"never_above": ""}, False), (4, {"samples": 4}, True),
    ):  # fmt: skip
        rows = list(plan.sampled)
        rows[at] = replace(rows[at], **changes)
        (found,) = [one for one in problems(replace(plan, sampled=tuple(rows))) if one.path.startswith("sampled")]
        assert "laxer than 2073/2005" in found.sentence and found.refuses is refused, found
        assert bool(found.confirm) is not refused
