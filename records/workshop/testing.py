"""Tests of record: the numbered tests, and the holding time of each set-up with its verdict."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext as _

from plant.process.pasteurization import Homogenizer
from plant.rules.intervals import rule_of
from records.deviations.models import Deviation
from records.judging.actions import write_verdict
from records.judging.models import Verdict
from records.judging.queries import governing as verdicts_of
from records.ledger.actions import Actor, act
from records.people.plans import InForce
from records.workshop.consequences import follow_holding, follow_test
from records.workshop.data import HoldingData, TestData
from records.workshop.judging import judge_holding
from records.workshop.keeping import Refused, common, fitting, keep_report, number, plan_at, press_of, wanted, write
from records.workshop.models import EquipmentTest, HoldingTest
from records.workshop.parts import HOLDING_TIME, TESTS, test_words
from records.workshop.sealing import deviation_of

MEDIA = ("water", "product")
# No holding tube of milk holds so long or so short: a slipped digit.
SHORTEST_S, LONGEST_S = Decimal("0.01"), Decimal(600)
LONGEST_NAME = 120
RATE_UNITS = ("gal/h", "L/h")


@dataclass(frozen=True, slots=True)
class TestSaved:
    """A numbered test, and the deviation that it opened or joined."""

    __test__ = False  # no test of ours

    row: EquipmentTest
    deviation: Deviation | None


@dataclass(frozen=True, slots=True)
class HoldingSaved:
    """A holding-time test with its verdict, and the deviation that it opened or joined."""

    row: HoldingTest
    verdict: Verdict | None
    deviation: Deviation | None


def record_test(by: Actor, said: TestData) -> TestSaved:
    """Keep one numbered test, once for each form; one that is not met is a deviation where product ran."""
    in_force = plan_at(said.at)
    row = _test_row(said, in_force)
    with act(by) as a:
        keep_report(a, said.report)
        kept, new = write(a, by, row, in_force)
        return TestSaved(kept, follow_test(a, kept, in_force) if new else deviation_of(kept.number))


def _test_row(said: TestData, in_force: InForce) -> EquipmentTest:
    columns = common(said, in_force)
    if not said.place:
        raise Refused(_("Choose where it was."), "place")
    if said.test not in TESTS or said.test == HOLDING_TIME:
        raise Refused(_("Choose the test."), "test")
    if said.instrument and said.instrument not in {one.code for one in in_force.plan.instruments}:
        raise Refused(_("There is no instrument with this number."), "instrument")
    numbered = TESTS[said.test]
    rule = rule_of(in_force.plan.plant.rule_set, numbered.row)
    with in_force.speaking():
        words = test_words(said.test)
    return EquipmentTest(
        **columns,
        test=said.test,
        test_words=words,
        instrument=said.instrument,
        results=wanted(said.results, "results", _("Write the numbers that were found.")),
        met=said.met,
        by_regulator=said.by_regulator,
        tester=wanted(said.tester, "tester", _("Write who tested."), LONGEST_NAME),
        report=said.report.sha256 if said.report else "",
        rule=numbered.row,
        clause=rule.clause if rule else "",
        basis=rule.basis if rule else "",
    )


def record_holding(by: Actor, said: HoldingData) -> HoldingSaved:
    """Keep a holding-time test with its verdict, once for each form; the least of all seconds typed is judged."""
    in_force = plan_at(said.at)
    row = _holding_row(said, in_force)
    judgement = judge_holding(row, in_force)
    with act(by) as a:
        keep_report(a, said.report)
        kept, new = write(a, by, row, in_force)
        if not new:
            verdict = verdicts_of(HoldingTest.KIND, [kept.number]).get(kept.number)
            return HoldingSaved(kept, verdict, deviation_of(kept.number))
        before = verdicts_of(HoldingTest.KIND, [kept.amends]).get(kept.amends) if kept.amends else None
        verdict = write_verdict(
            a,
            HoldingTest.KIND,
            kept.number,
            judgement,
            in_force,
            "amendment" if kept.amends else "entry",
            before.number if before else None,
        )
        return HoldingSaved(kept, verdict, follow_holding(a, kept, verdict.outcome, in_force))


def _holding_row(said: HoldingData, in_force: InForce) -> HoldingTest:
    columns = common(said, in_force)
    if not press_of(in_force, said.place):
        raise Refused(_("Choose the pasteurizer."), "place")
    set_up = next((one for one in in_force.plan.set_ups if (one.key, one.press) == (said.set_up, said.place)), None)
    if set_up is None:
        raise Refused(_("Choose the set-up that was tested."), "set_up")
    if said.medium not in MEDIA:
        raise Refused(_("Say whether water or product ran."), "medium")
    if said.homogenizer not in {one.value for one in Homogenizer}:
        raise Refused(_("Say what the homogenizer did."), "homogenizer")
    tries = tuple(one.strip() for one in said.tries if one.strip())
    typed = [(said.seconds, "seconds"), *((one, "tries") for one in tries)]
    if said.diverted.strip():
        typed.append((said.diverted, "diverted"))
    rate = number(said.pump_rate, "pump_rate", in_force) if said.pump_rate.strip() else None
    if rate is not None and said.pump_rate_unit not in RATE_UNITS:
        raise Refused(_("Choose the unit."), "pump_rate_unit")
    return HoldingTest(
        **columns,
        set_up=set_up.key,
        set_up_name=set_up.name,
        set_point=set_up.set_point,
        set_point_unit=set_up.unit,
        classes=list(set_up.classes),
        seconds_typed=said.seconds.strip(),
        diverted_typed=said.diverted.strip(),
        tries=list(tries),
        seconds=min(_seconds(text, field, in_force) for text, field in typed),
        medium=said.medium,
        homogenizer=said.homogenizer,
        pump_rate_typed=fitting(said.pump_rate, "pump_rate", 40),
        pump_rate=rate,
        pump_rate_unit=said.pump_rate_unit if rate is not None else "",
        by_regulator=said.by_regulator,
        tester=wanted(said.tester, "tester", _("Write who tested."), LONGEST_NAME),
        report=said.report.sha256 if said.report else "",
        plan_number=in_force.number,
    )


def _seconds(text: str, field: str, in_force: InForce) -> Decimal:
    found = number(text, field, in_force)
    if not SHORTEST_S <= found <= LONGEST_S:
        raise Refused(_("%(typed)s s is no holding time. Look again.") % {"typed": text.strip()}, field)
    return found
