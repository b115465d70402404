"""What stands at a pasteurizer at a moment: its tests of record, its seals, and what stands against forward flow.

Nothing here gives permission: an empty list says that nothing recorded stands against it. The stricter day decides when
a test counts no more; what a rule allows beyond it is said beside it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from decimal import Decimal

from django.utils.translation import gettext as _

from plant.hazard_plan.content import SetUpDef
from plant.process.trace_judging import Cause
from plant.process.units import plain
from plant.rules.intervals import HOLDING, counts_until
from records.judging.judge import GOOD
from records.judging.queries import governing as verdicts_of
from records.people.plans import InForce
from records.workshop.consequences import not_whole_by_check
from records.workshop.due import equipment_bars, missing_tests, recorded_bars
from records.workshop.keeping import local_day, standing
from records.workshop.models import HoldingTest, WorkDone
from records.workshop.open_seals import Open, open_seals
from records.workshop.parts import HOLDING_TIME
from records.workshop.seals import NEVER, SealState, seals_at

MOMENT = timedelta(microseconds=1)


@dataclass(frozen=True, slots=True)
class TestWindow:
    """A set-up from `start` until `end` with the test of record that then stood.

    `seconds` [s], `test` (ledger number) and `tested_at` are None while no test is in the book. `counts_until`: when it
    ended or will end, which may lie before `start`; `ended_by` says why.
    """

    __test__ = False  # no test of ours

    set_up: str
    start: datetime
    end: datetime
    seconds: Decimal | None
    test: int | None
    tested_at: datetime | None
    counts_until: datetime | None
    ended_by: Cause
    sentence: str


@dataclass(frozen=True, slots=True)
class _Events:
    """What may end a test at one press: works that ask for the holding time again, and times of an open seal."""

    works: list[WorkDone]
    open_seals: list[Open]
    met: dict[int, bool]  # a holding-time test's number: whether it met the rows of its classes


def test_windows(press: str, start: datetime, end: datetime, in_force: InForce) -> list[TestWindow]:
    """For every set-up of the plan at a press, the parts of [start, end) with the test of record then standing.

    A test counts from its moment until it is overdue, a seal is broken or was last seen whole before it was found not
    to be, or work asks for it again. One made while a seal was open counts once that seal is renewed.
    """
    if not start < end:
        return []
    events = _Events(_works(press, end), open_seals(press, in_force), _met(press, end))
    return [
        window
        for one in in_force.plan.set_ups
        if one.press == press
        for window in _windows(one, start, end, events, in_force)
    ]


test_windows.__test__ = False  # type: ignore[attr-defined]


def bars_to_start(press: str, at: datetime, in_force: InForce) -> list[str]:
    """Sentences on what stands against forward flow at `at`; empty: nothing recorded stands against it."""
    found = [one.sentence for one in seals_at(press, at) if not one.is_whole]
    found += _by_check(press, at, in_force)
    met = _met(press, at + MOMENT)
    for one in test_windows(press, at, at + MOMENT, in_force):
        if not counts_at(one, at) or not met.get(one.test or 0, False):
            found.append(one.sentence)
    return [*found, *equipment_bars(press, at, in_force)]


def known_against(press: str, set_up: str, at: datetime, in_force: InForce) -> list[str]:
    """Of `bars_to_start` what the book knows to be wrong, of one set-up alone: not what nobody ever wrote into it."""
    found = [one.sentence for one in seals_at(press, at) if not one.is_whole and one.state != NEVER]
    found += _by_check(press, at, in_force)
    met = _met(press, at + MOMENT)
    for one in test_windows(press, at, at + MOMENT, in_force):
        if one.set_up == set_up and one.seconds is not None and not (counts_at(one, at) and met.get(one.test or 0)):
            found.append(one.sentence)
    return [*found, *recorded_bars(press, at, in_force)]


def not_in_the_book(press: str, set_up: str, at: datetime, in_force: InForce) -> list[str]:
    """Seals and tests of a press and one set-up of it of which the book has no record at all, in sentences."""
    found = [one.sentence for one in seals_at(press, at) if one.state == NEVER]
    windows = test_windows(press, at, at + MOMENT, in_force)
    found += [one.sentence for one in windows if one.set_up == set_up and one.seconds is None]
    return [*found, *missing_tests(press, at, in_force)]


def _by_check(press: str, at: datetime, in_force: InForce) -> list[str]:
    """The plan's check on all seals answered otherwise than whole, and not since answered in limits."""
    open_ = [since for since, until in not_whole_by_check(press, at + MOMENT, in_force) if until is None]
    times = [in_force.calendar.local(since).strftime("%Y-%m-%d %H:%M") for since in open_]
    return [_("The check on the seals of %(when)s found them not whole.") % {"when": when} for when in times]


def counts_at(window: TestWindow, at: datetime) -> bool:
    """Whether a window's test counts at a moment within it; whether its seconds are enough is its verdict's matter."""
    return window.seconds is not None and (window.counts_until is None or at < window.counts_until)


def tests_of(press: str, set_up: SetUpDef, until: datetime) -> list[HoldingTest]:
    """The holding-time tests of a set-up, in order of time; one made with the homogenizer otherwise is of another."""
    rows = HoldingTest.objects.filter(
        place=press, set_up=set_up.key, homogenizer=set_up.homogenizer, observed_at__lt=until
    )
    return list(standing(rows).order_by("observed_at", "number"))


def _works(press: str, until: datetime) -> list[WorkDone]:
    rows = standing(WorkDone.objects.filter(place=press, started_at__lt=until)).order_by("started_at", "number")
    return [one for one in rows if HOLDING_TIME in one.tests]


def unproven_since(press: str, until: datetime, in_force: InForce) -> tuple[datetime, Cause] | None:
    """Since when no holding time tested before counts, where no test is in the book to renew it; None: as before."""
    ways = [(one.since, Cause.SEAL_BROKEN) for one in open_seals(press, in_force)]
    ways += [(one.started_at, Cause.PUMP_WORKED_ON) for one in _works(press, until)]
    return min((one for one in ways if one[0] < until), key=lambda one: one[0], default=None)


def _met(press: str, until: datetime) -> dict[int, bool]:
    rows = HoldingTest.objects.filter(place=press, observed_at__lt=until)
    verdicts = verdicts_of(HoldingTest.KIND, rows.values_list("number", flat=True))
    return {number: one.outcome in GOOD for number, one in verdicts.items()}


def _windows(
    set_up: SetUpDef, start: datetime, end: datetime, events: _Events, in_force: InForce
) -> list[TestWindow]:
    tests = tests_of(set_up.press, set_up, end)
    before = [one for one in tests if one.observed_at <= start]
    after = [one for one in tests if one.observed_at > start]
    steps: list[tuple[datetime, HoldingTest | None]] = [(start, before[-1] if before else None)]
    steps += [(one.observed_at, one) for one in after]
    found: list[TestWindow] = []
    for at, (since, test) in enumerate(steps):
        until = steps[at + 1][0] if at + 1 < len(steps) else end
        if since < until:
            found += _of_test(set_up, test, since, until, events, in_force)
    return found


def _of_test(
    set_up: SetUpDef, test: HoldingTest | None, since: datetime, until: datetime, events: _Events, in_force: InForce
) -> list[TestWindow]:
    if test is None:
        sentence = _("%(set_up)s: no holding-time test is in the book.") % {"set_up": set_up.name}
        return [TestWindow(set_up.key, since, until, None, None, None, None, Cause.TEST_OVERDUE, sentence)]
    tested = test.observed_at
    # Made after a seal was known to be open: it counts from the moment at which the last such seal was renewed.
    pending = [one for one in events.open_seals if one.found < tested and (one.until is None or one.until > tested)]
    renewed = _last_end(pending) if pending else tested
    found = []
    if pending and (renewed is None or renewed > since):
        first_until = until if renewed is None else min(until, renewed)
        found.append(_window(set_up, test, since, first_until, tested, Cause.SEAL_BROKEN, events, in_force))
        since = first_until
    if since < until:
        ended, why = _ends(test, events, in_force)
        found.append(_window(set_up, test, since, until, ended, why, events, in_force))
    return found


def _last_end(times: Sequence[Open]) -> datetime | None:
    """When the last of several ended; None when one still lasts."""
    ends = [one.until for one in times if one.until is not None]
    return max(ends) if len(ends) == len(times) else None


def _ends(test: HoldingTest, events: _Events, in_force: InForce) -> tuple[datetime, Cause]:
    """When a test counts no more, and why: whatever came first."""
    tested = test.observed_at
    ways = [(overdue_from(tested, in_force), Cause.TEST_OVERDUE)]
    ways += [(max(one.since, tested), Cause.SEAL_BROKEN) for one in events.open_seals if one.found >= tested]
    ways += [(max(one.started_at, tested), Cause.PUMP_WORKED_ON) for one in events.works if one.ended_at > tested]
    return min(ways, key=lambda one: one[0])


def overdue_from(tested: datetime, in_force: InForce) -> datetime:
    """The first moment at which a holding-time test is overdue: the end of its last day, on the plant's clocks."""
    last = counts_until(in_force.plan.plant.rule_set, HOLDING, local_day(in_force, tested)).strict
    return in_force.calendar.utc(last + timedelta(days=1), time(0))


def _window(
    set_up: SetUpDef,
    test: HoldingTest,
    since: datetime,
    until: datetime,
    ended: datetime,
    why: Cause,
    events: _Events,
    in_force: InForce,
) -> TestWindow:
    met = events.met.get(test.number, False)
    sentence = _said(set_up, test, ended, why, ended <= since, met, in_force)
    return TestWindow(
        set_up.key, since, until, test.seconds, test.number, test.observed_at, ended, why, sentence
    )


def _said(
    set_up: SetUpDef, test: HoldingTest, ended: datetime, why: Cause, over: bool, met: bool, in_force: InForce
) -> str:
    words = {
        "set_up": set_up.name,
        "seconds": plain(test.seconds),
        "day": local_day(in_force, test.observed_at).isoformat(),
        "number": test.number,
        "when": in_force.calendar.local(ended).strftime("%Y-%m-%d %H:%M"),
        "last": local_day(in_force, ended - MOMENT).isoformat(),
    }
    if not over and not met:
        sentence = _("%(set_up)s: the test of %(day)s, %(seconds)s s, does not meet the rows of its classes.")
        return sentence % words
    if not over:
        return _("%(set_up)s: %(seconds)s s by the test of %(day)s, entry %(number)s.") % words
    if why is Cause.SEAL_BROKEN:
        sentence = _(
            "%(set_up)s: a seal was not seen whole after %(when)s; the test of %(day)s proves no holding time since."
        )
    elif why is Cause.PUMP_WORKED_ON:
        sentence = _("%(set_up)s: worked on at %(when)s; the holding time is to be tested before forward flow.")
    else:
        sentence = _("%(set_up)s: the holding-time test of %(day)s counted until %(last)s.")
    return sentence % words


__all__ = [
    "SealState", "TestWindow", "bars_to_start", "counts_at", "overdue_from", "seals_at", "test_windows",
    "unproven_since",
]  # fmt: skip
