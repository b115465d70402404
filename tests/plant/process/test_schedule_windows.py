"""However a window is cut, the same checks fall due."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.process.schedule import (
    AfterEvent,
    BeforeUse,
    Calendar,
    Closure,
    DuringRun,
    EachEvent,
    EachShift,
    Event,
    Facts,
    Holding,
    NoProduction,
    Planned,
    PlantCalendar,
    Run,
    RunEnds,
    Shift,
    Timing,
    WhileHolding,
    expand,
)

pytestmark = pytest.mark.once

MINUTE = timedelta(minutes=1)
STARTS = [
    datetime(2026, 3, 6, tzinfo=UTC),
    datetime(2026, 6, 5, tzinfo=UTC),
    datetime(2026, 10, 30, tzinfo=UTC),
]
SPAN = 5 * 24 * 60  # minutes
SUBJECTS = ("silo", "vat")

CALENDAR = PlantCalendar(
    "America/Chicago",
    (
        Shift("day", "Day", "06:00", "14:00", ("MO", "TU", "WE", "TH", "FR", "SA")),
        Shift("night", "Night", "22:00", "06:00", ("MO", "TU", "WE", "TH", "FR")),
    ),
    "06:00",
    (Closure("Closed", date(2026, 6, 6), date(2026, 6, 7)),),
)

offsets = st.sampled_from(["+00:00", "+00:30", "-00:15", "-00:00", "02:30", "01:30", "09:00", "+07:45"])
frequencies = st.one_of(
    st.builds(EachShift, st.lists(offsets, min_size=1, max_size=3).map(tuple)),
    st.builds(WhileHolding, st.integers(7, 400), st.integers(0, 200)),
    st.builds(BeforeUse, st.integers(1, 400)),
    st.builds(DuringRun, st.integers(7, 200), st.sampled_from([None, Decimal(100), Decimal("33.5")])),
    st.builds(DuringRun, st.none(), st.sampled_from([Decimal(100), Decimal("33.5")])),
    st.just(RunEnds()),
    st.builds(AfterEvent, st.just("tanker"), st.integers(0, 3000)),
    st.just(EachEvent("tanker")),
    st.builds(
        Calendar,
        st.sampled_from(
            ["FREQ=DAILY", "FREQ=WEEKLY;BYDAY=SU,MO", "FREQ=DAILY;INTERVAL=2", "FREQ=MONTHLY;BYMONTHDAY=-1"]
        ),
        st.sampled_from(["00:00", "02:30", "01:30", "13:00"]),
        st.sampled_from(["skip", "keep"]),
        st.just(date(2026, 1, 1)),
    ),
)
timings = st.builds(
    Timing,
    st.integers(0, 60),
    st.integers(0, 60),
    st.sampled_from(["next due or shift end", "next due", "shift end", "day end", "run end", "use", "minutes:90"]),
)
planned_checks = st.lists(
    st.builds(Planned, st.sampled_from(["a", "b"]), st.sampled_from(SUBJECTS), frequencies, timings, st.booleans()),
    min_size=1,
    max_size=4,
)
minutes = st.integers(-1000, SPAN)


@st.composite
def histories(draw, start):
    def moment(number):
        return start + number * MINUTE

    def span():
        begun = draw(minutes)
        ended = draw(st.none() | st.integers(begun, SPAN))
        return moment(begun), None if ended is None else moment(ended)

    some = st.integers(0, 3)
    holdings = tuple(Holding(draw(st.sampled_from(SUBJECTS)), *span()) for _ in range(draw(some)))
    runs = []
    for number in range(draw(some)):
        begun, ended = span()
        counts = sorted(draw(st.lists(st.integers(0, 600), max_size=4)))
        units = tuple((begun + place * 40 * MINUTE, Decimal(count)) for place, count in enumerate(counts))
        runs.append(Run(draw(st.sampled_from(SUBJECTS)), f"r{number}", begun, ended, units))
    events = tuple(
        Event("tanker", f"t{number}", draw(st.sampled_from(SUBJECTS)), moment(draw(minutes)))
        for number in range(draw(some))
    )
    idle = st.builds(
        NoProduction,
        st.sampled_from([None, "day", "night"]),
        st.integers(0, 5).map(lambda days: start.date() + timedelta(days=days)),
    )
    return Facts(holdings, tuple(runs), events, tuple(draw(st.lists(idle, max_size=3))))


@st.composite
def cases(draw):
    start = draw(st.sampled_from(STARTS))
    cuts = sorted(set(draw(st.lists(st.integers(0, SPAN), max_size=6))) | {0, SPAN})
    return draw(planned_checks), draw(histories(start)), [start + cut * MINUTE for cut in cuts]


@settings(deadline=None, max_examples=100)
@given(cases())
def test_adjoining_windows_join_to_the_whole(case):
    """The lists of adjoining windows, joined, are the list of the whole window."""
    planned, facts, cuts = case
    parts = [
        due for begin, end in zip(cuts, cuts[1:], strict=False) for due in expand(planned, CALENDAR, facts, begin, end)
    ]
    assert parts == expand(planned, CALENDAR, facts, cuts[0], cuts[-1])


@settings(deadline=None, max_examples=40)
@given(cases())
def test_due_checks_are_sorted_unique_and_in_their_window(case):
    """Each due check is inside the window, once, in order, and its moments follow one another."""
    planned, facts, cuts = case
    found = expand(planned, CALENDAR, facts, cuts[0], cuts[-1])
    identities = [(one.due_at, one.key, one.subject, one.event) for one in found]
    assert identities == sorted(set(identities))
    assert all(cuts[0] <= one.due_at < cuts[-1] for one in found)
    assert all(one.opens_at <= one.due_at <= one.late_after <= one.missed_at for one in found)


@settings(deadline=None, max_examples=30)
@given(cases())
def test_facts_in_another_order_make_the_same_due(case):
    """The order in which facts were recorded changes nothing."""
    planned, facts, cuts = case
    turned = Facts(facts.holdings[::-1], facts.runs[::-1], facts.events[::-1], facts.no_production[::-1])
    whole = cuts[0], cuts[-1]
    assert expand(planned, CALENDAR, turned, *whole) == expand(planned, CALENDAR, facts, *whole)


def test_window_without_length_holds_nothing():
    """An empty or reversed window makes nothing due."""
    planned = [Planned("a", "silo", Calendar("FREQ=DAILY", "00:00", "keep", date(2026, 1, 1)))]
    assert expand(planned, CALENDAR, Facts(), STARTS[1], STARTS[1]) == []
    assert expand(planned, CALENDAR, Facts(), STARTS[1], STARTS[0]) == []
