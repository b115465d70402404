"""Which numbered tests are due, missing, not met, or to be repeated after work; and what a work left undone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.utils.translation import gettext as _

from plant.rules.intervals import INSTRUMENTS, CountsUntil, counts_until
from records.flow.choices import SANITIZED, WASHED
from records.flow.models import Wash
from records.judging.judge import GOOD
from records.judging.queries import governing as verdicts_of
from records.people.plans import InForce
from records.workshop.keeping import local_day, standing
from records.workshop.models import EquipmentTest, HoldingTest, WorkDone
from records.workshop.parts import EXPECTED, HOLDING_TIME, TESTS, in_order, test_words


@dataclass(frozen=True, slots=True)
class TestDue:
    """The last record of a numbered test at a place, and until when it counts."""

    __test__ = False  # no test of ours

    test: EquipmentTest
    until: CountsUntil

    def is_overdue(self, day: date) -> bool:
        """Past the stricter day."""
        return day > self.until.strict


@dataclass(frozen=True, slots=True)
class AfterWork:
    """What a work still asks for: tests to be repeated, in words, and what else is open."""

    work: WorkDone
    tests: tuple[str, ...]
    open: tuple[str, ...]

    @property
    def done(self) -> bool:
        """Nothing is left of it."""
        return not self.tests and not self.open


def equipment_bars(press: str, at: datetime, in_force: InForce) -> list[str]:
    """Sentences on tests not met, overdue or missing at a press, and on what works have left undone."""
    return [*recorded_bars(press, at, in_force), *missing_tests(press, at, in_force)]


def missing_tests(press: str, at: datetime, in_force: InForce) -> list[str]:
    """The sentence on the numbered tests of a press that are not in the book; none where all are."""
    missing = never_tested(latest_tests(press, at, in_force))
    return [_("No record of these tests is in the book: %(tests)s.") % {"tests": "; ".join(missing)}] if missing else []


def recorded_bars(press: str, at: datetime, in_force: InForce) -> list[str]:
    """Sentences on tests in the book that were not met or are overdue, and on what works have left undone."""
    found: list[str] = []
    for work in after_works(press, at, in_force):
        found += _of_work(work, in_force)
    day = local_day(in_force, at)
    latest = latest_tests(press, at, in_force)
    for one in latest.values():
        if not one.test.met:
            found.append(_("Test %(test)s was not met on %(day)s.") % _words(one, in_force))
        elif one.is_overdue(day):
            found.append(overdue_words(one, in_force))
    return found


def overdue_words(one: TestDue, in_force: InForce) -> str:
    """Which day it counted until, and what the rule's own words allow."""
    words = _words(one, in_force)
    if one.until.month_end is not None and one.until.month_end > one.until.strict:
        return (
            _("Test %(test)s of %(day)s counted until %(last)s; %(clause)s lets it run through %(month_end)s.") % words
        )
    return _("Test %(test)s of %(day)s counted until %(last)s.") % words


def _words(one: TestDue, in_force: InForce) -> dict[str, str]:
    end = one.until.month_end
    return {
        "test": test_words(one.test.test),
        "day": local_day(in_force, one.test.observed_at).isoformat(),
        "last": one.until.strict.isoformat(),
        "month_end": end.isoformat() if end else "",
        "clause": one.test.clause,
    }


def latest_tests(press: str, at: datetime, in_force: InForce) -> dict[str, TestDue]:
    """The last record of each numbered test up to a moment, by number, in the order of the list."""
    rows = standing(EquipmentTest.objects.filter(place=press, observed_at__lte=at)).order_by("observed_at", "number")
    last = {one.test: one for one in rows}
    key = in_force.plan.plant.rule_set
    return {
        number: TestDue(last[number], counts_until(key, _row(number), local_day(in_force, last[number].observed_at)))
        for number in in_order(last)
    }


def _row(number: str) -> str:
    return TESTS[number].row if number in TESTS else INSTRUMENTS


def never_tested(latest: dict[str, TestDue]) -> list[str]:
    """The tests that every continuous pasteurizer has, of which no record is there; the device's count as one."""
    return [
        test_words(group[0]) if len(group) == 1 else _("5.1 to 5.9, diversion device")
        for group in EXPECTED
        if not any(number in latest for number in group)
    ]


# --- after work


def after_works(press: str, at: datetime, in_force: InForce) -> list[AfterWork]:
    """Each work up to a moment that still asks for something, oldest first."""
    works = list(
        standing(WorkDone.objects.filter(place=press, started_at__lte=at)).order_by("ended_at", "number")
    )
    if not works:
        return []
    tests = list(standing(EquipmentTest.objects.filter(place=press, observed_at__lte=at, met=True)))
    set_ups = {one.key: one.name for one in in_force.plan.set_ups if one.press == press}
    held = _held(press, at)
    found = [
        AfterWork(
            one, tuple(_repeats(one, tests, held, set_ups)), tuple(left_undone(one, works, at))
        )
        for one in works
    ]
    return [one for one in found if not one.done]


def _held(press: str, at: datetime) -> list[HoldingTest]:
    rows = list(standing(HoldingTest.objects.filter(place=press, observed_at__lte=at)))
    outcomes = verdicts_of(HoldingTest.KIND, [one.number for one in rows])
    return [one for one in rows if one.number in outcomes and outcomes[one.number].outcome in GOOD]


def _repeats(
    work: WorkDone, tests: Sequence[EquipmentTest], held: Sequence[HoldingTest], set_ups: dict[str, str]
) -> list[str]:
    """The tests that were not repeated, and met, since a work's end."""
    done = {one.test for one in tests if one.observed_at >= work.ended_at}
    left = [test_words(one) for one in work.tests if one != HOLDING_TIME and one not in done]
    if HOLDING_TIME in work.tests:
        again = {one.set_up for one in held if one.observed_at >= work.ended_at}
        names = [name for key, name in set_ups.items() if key not in again]
        if names or not set_ups:
            words = test_words(HOLDING_TIME)
            left.append(f"{words} ({', '.join(names)})" if names else words)
    return left


def left_undone(work: WorkDone, works: Sequence[WorkDone], at: datetime) -> list[str]:
    """What else a work leaves open: counts that differ, and surfaces that nobody washed and sanitized."""
    found = []
    if _counts_differ(work) and not any(_counted(one) for one in works if one.ended_at > work.ended_at):
        found.append(_("what was counted before and after differs: %(note)s") % {"note": work.count_note})
    if work.opened:
        wanted = [(WASHED, work.cleaned, _("washed")), (SANITIZED, work.sanitized, _("sanitized"))]
        not_done = [words for what, ticked, words in wanted if not ticked and not _washed(work, what, at)]
        if not_done:
            found.append(_("not yet %(what)s after it") % {"what": _(" and ").join(not_done)})
    return found


def _counts_differ(work: WorkDone) -> bool:
    return (work.parts_before, work.tools_before) != (work.parts_after, work.tools_after)


def _counted(work: WorkDone) -> bool:
    return work.tools_before is not None and not _counts_differ(work)


def _washed(work: WorkDone, what: str, at: datetime) -> bool:
    rows = Wash.objects.filter(vessel=work.place, what=what, started_at__gte=work.ended_at, ended_at__lte=at)
    return standing(rows).exists()


def _of_work(one: AfterWork, in_force: InForce) -> list[str]:
    words = {
        "part": one.work.part_words,
        "when": in_force.calendar.local(one.work.ended_at).strftime("%Y-%m-%d %H:%M"),
        "tests": "; ".join(one.tests),
    }
    found = []
    if one.tests:
        sentence = _("After the work on %(part)s of %(when)s, to be tested again before forward flow: %(tests)s.")
        found.append(sentence % words)
    return found + [
        _("After the work on %(part)s of %(when)s: %(what)s.") % {**words, "what": what} for what in one.open
    ]
