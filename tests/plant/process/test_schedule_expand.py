"""What falls due: each kind of frequency against facts and the plant's calendar."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

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

WORKDAYS = ("MO", "TU", "WE", "TH", "FR", "SA")
CALENDAR = PlantCalendar(
    "America/Chicago",
    (Shift("day", "Day", "06:00", "14:00", WORKDAYS), Shift("late", "Late", "14:00", "22:00", WORKDAYS)),
    "06:00",
    (Closure("Stocktaking", date(2026, 6, 10), date(2026, 6, 10)),),
)
NIGHTS = PlantCalendar("America/Chicago", (Shift("night", "Night", "22:00", "06:00"),), "22:00")
MONDAY = datetime(2026, 6, 8, 11, tzinfo=UTC)  # 06:00 in Chicago, when the plant day starts
DAY = timedelta(days=1)
NOTHING = Facts()


def at(hours: float) -> datetime:
    """So many hours after Monday's plant day began."""
    return MONDAY + timedelta(hours=hours)


def due_hours(frequency, *, facts=NOTHING, subject="silo", vessel_check=False, start=MONDAY, days=1):
    """Due times in hours since Monday 06:00."""
    planned = Planned("check", subject, frequency, vessel_check=vessel_check)
    return [
        (one.due_at - MONDAY) / timedelta(hours=1)
        for one in expand([planned], CALENDAR, facts, start, start + days * DAY)
    ]


def missed_hours(frequency, timing, facts=NOTHING):
    """Missed moments in hours since Monday 06:00."""
    found = expand([Planned("check", "silo", frequency, timing)], CALENDAR, facts, MONDAY, MONDAY + DAY)
    return [(one.missed_at - MONDAY) / timedelta(hours=1) for one in found]


def test_each_shift_counts_from_its_start_and_before_its_end():
    """'+00:30' and '-00:15' are half an hour after the start and a quarter before the end of each shift."""
    assert due_hours(EachShift(("+00:30", "-00:15"))) == [0.5, 7.75, 8.5, 15.75]


def test_each_shift_clock_time_counts_inside_its_shift_only():
    """A clock time makes one check due, in the shift that it falls into."""
    assert due_hours(EachShift(("09:00",))) == [3]


def test_each_shift_may_name_its_shifts():
    """A check of the late shift alone is not due in the day shift."""
    assert due_hours(EachShift(("+00:00",), shifts=("late",))) == [8]


def test_clock_time_after_midnight_is_due_in_the_shift_that_spans_it():
    """02:00 in a shift from 22:00 to 06:00 is due on the next date, in that shift."""
    (due,) = expand([Planned("check", "", EachShift(("02:00",)))], NIGHTS, Facts(), at(16), at(24))
    assert (due.due_at, due.shift) == (at(20), "night")


def test_time_that_the_clock_change_skips_is_due_after_it():
    """02:30 on 8 March 2026 does not exist; the check is due at 03:30 that night, once."""
    window = datetime(2026, 3, 8, 4, tzinfo=UTC), datetime(2026, 3, 8, 11, tzinfo=UTC)
    found = expand([Planned("check", "", EachShift(("02:30",)))], NIGHTS, Facts(), *window)
    assert [one.due_at for one in found] == [datetime(2026, 3, 8, 8, 30, tzinfo=UTC)]


def test_time_that_the_clock_change_repeats_is_due_once():
    """01:30 on 1 November 2026 is due at its first pass only."""
    window = datetime(2026, 11, 1, 3, tzinfo=UTC), datetime(2026, 11, 1, 12, tzinfo=UTC)
    found = expand([Planned("check", "", EachShift(("01:30",)))], NIGHTS, Facts(), *window)
    assert [one.due_at for one in found] == [datetime(2026, 11, 1, 6, 30, tzinfo=UTC)]


def test_offset_beyond_the_short_night_stays_at_its_end():
    """Seven and a half hours after the start of a seven-hour night is its end: the check does not vanish."""
    window = datetime(2026, 3, 8, 4, tzinfo=UTC), datetime(2026, 3, 8, 11, 1, tzinfo=UTC)
    found = expand([Planned("check", "", EachShift(("+07:30",)))], NIGHTS, Facts(), *window)
    assert [(one.due_at, one.shift) for one in found] == [(datetime(2026, 3, 8, 11, tzinfo=UTC), "night")]


def test_signed_shift_without_production_makes_nothing_due():
    """Where a shift is signed as without production only the other shift's check is due."""
    facts = Facts(no_production=(NoProduction("day", date(2026, 6, 8)),))
    assert due_hours(EachShift(("+00:30",)), facts=facts) == [8.5]


def test_signed_day_without_production_makes_nothing_due():
    """A whole day signed as without production makes no shift check due."""
    assert due_hours(EachShift(("+00:30",)), facts=Facts(no_production=(NoProduction(None, date(2026, 6, 8)),))) == []


def test_vessel_check_stays_due_without_production_while_milk_is_held():
    """A tank that holds milk is due although the day is signed as without production."""
    facts = Facts((Holding("silo", at(-10)),), no_production=(NoProduction(None, date(2026, 6, 8)),))
    assert due_hours(EachShift(("+00:30",)), facts=facts, vessel_check=True) == [0.5, 8.5]


def test_closed_sunday_with_milk_in_the_silo_is_due():
    """On a closed Sunday a silo with milk is due at its times, an empty tank and the floor are not."""
    facts = Facts((Holding("silo", at(120)),))
    sunday = at(6 * 24)
    assert due_hours(EachShift(("+00:30",)), facts=facts, vessel_check=True, start=sunday) == [144.5, 152.5]
    assert due_hours(EachShift(("+00:30",)), facts=facts, subject="cream tank", vessel_check=True, start=sunday) == []
    assert due_hours(EachShift(("+00:30",)), facts=facts, start=sunday) == []


def test_closed_sunday_check_knows_its_shift_and_is_missed_at_its_end():
    """On a closed day the ordinary shift's end is still the moment of missing."""
    planned = Planned("check", "silo", EachShift(("+00:30",)), vessel_check=True)
    due = expand([planned], CALENDAR, Facts((Holding("silo", at(120)),)), at(144), at(150))[0]
    assert (due.shift, due.missed_at) == ("day", at(152))


def test_vessel_emptied_mid_shift_is_due_only_before():
    """A vessel that empties at 10:00 is due at 09:00 and not at 11:00."""
    facts = Facts((Holding("silo", at(0), at(4)),))
    assert due_hours(EachShift(("09:00", "11:00")), facts=facts, vessel_check=True) == [3]


def test_vessel_filled_mid_shift_is_due_only_after():
    """A vessel filled at exactly the due time is due, one emptied at exactly that time is not."""
    assert due_hours(EachShift(("09:00", "11:00")), facts=Facts((Holding("silo", at(5)),)), vessel_check=True) == [5]
    assert due_hours(EachShift(("11:00",)), facts=Facts((Holding("silo", at(4), at(5)),)), vessel_check=True) == []


def test_vessel_filled_again_is_due_in_both_fills():
    """Two fills with a gap make checks due in each and none in the gap."""
    facts = Facts((Holding("silo", at(0), at(2)), Holding("silo", at(4.5), at(7))))
    assert due_hours(EachShift(("07:00", "09:00", "11:00")), facts=facts, vessel_check=True) == [1, 5]


def test_while_holding_counts_from_the_fill():
    """Every two hours from half an hour after the fill began, until the vessel is empty."""
    facts = Facts((Holding("silo", at(1), at(7.5)),))
    assert due_hours(WhileHolding(120, 30), facts=facts) == [1.5, 3.5, 5.5]


def test_while_holding_runs_on_past_shift_and_midnight():
    """A vessel filled on Sunday evening keeps its own four-hour rhythm through Monday and its night."""
    facts = Facts((Holding("silo", at(-11)),))
    assert due_hours(WhileHolding(240), facts=facts) == [1, 5, 9, 13, 17, 21]


def test_while_holding_is_elapsed_time_across_a_clock_change():
    """Every two hours stays two real hours on the night that loses one."""
    since = datetime(2026, 3, 8, 4, tzinfo=UTC)
    planned = Planned("check", "silo", WhileHolding(120))
    found = expand([planned], NIGHTS, Facts((Holding("silo", since),)), since, since + timedelta(hours=7))
    assert [one.due_at - since for one in found] == [timedelta(hours=hours) for hours in (0, 2, 4, 6)]


def test_gate_is_due_at_each_use_and_missed_at_it():
    """A gate's window is its validity before the use; at the use itself it is missed."""
    facts = Facts((Holding("silo", at(2), at(3)), Holding("silo", at(9))), (Run("press", "r1", at(4)),))
    fills = expand([Planned("gate", "silo", BeforeUse(60))], CALENDAR, facts, MONDAY, MONDAY + DAY)
    assert [(one.opens_at, one.due_at, one.late_after, one.missed_at) for one in fills] == [
        (at(1), at(2), at(2), at(2)),
        (at(8), at(9), at(9), at(9)),
    ]
    (run,) = expand([Planned("gate", "press", BeforeUse(60))], CALENDAR, facts, MONDAY, MONDAY + DAY)
    assert (run.event, run.due_at) == ("r1", at(4))


def test_line_that_did_not_run_makes_nothing_due():
    """Without a run neither run checks nor gates are due."""
    kinds = [DuringRun(30), RunEnds(), BeforeUse(60), DuringRun(None, Decimal(500))]
    assert [due_hours(kind, subject="press") for kind in kinds] == [[], [], [], []]


def test_during_run_counts_minutes_inside_the_run():
    """Every thirty minutes from the start, neither at the start nor at the end."""
    assert due_hours(DuringRun(30), facts=Facts(runs=(Run("silo", "r1", at(1), at(2.5)),))) == [1.5, 2]


def test_during_run_counts_units():
    """Due when a count first reaches each multiple; several passed at once make one check."""
    units = tuple((at(hours), Decimal(count)) for hours, count in [(1.5, 400), (2, 500), (3, 1700), (4, 1900)])
    assert due_hours(DuringRun(None, Decimal(500)), facts=Facts(runs=(Run("silo", "r1", at(1), at(5), units),))) == [
        2,
        3,
    ]


def test_during_run_joins_minutes_and_units():
    """With both, each clock makes its own check due and a shared moment only one."""
    run = Run("silo", "r1", at(1), at(3.5), ((at(2), Decimal(500)), (at(2.25), Decimal(1000))))
    assert due_hours(DuringRun(60, Decimal(500)), facts=Facts(runs=(run,))) == [2, 2.25, 3]


def test_run_ends_are_due_at_start_and_end():
    """First and last of a run; the last only once it has ended."""
    runs = (Run("silo", "r1", at(1), at(3)), Run("silo", "r2", at(4)))
    assert due_hours(RunEnds(), facts=Facts(runs=runs)) == [1, 3, 4]
    assert due_hours(RunEnds(first=False), facts=Facts(runs=runs)) == [3]


def test_after_event_waits_its_minutes():
    """A check fifteen minutes after an event of its kind at its own subject."""
    events = (
        Event("power back", "e1", "silo", at(1)),
        Event("power back", "e2", "vat", at(2)),
        Event("tanker", "t", "silo", at(3)),
    )
    assert due_hours(AfterEvent("power back", 15), facts=Facts(events=events)) == [1.25]


def test_each_event_is_due_at_each_of_its_kind():
    """Two tankers at the same minute are two checks; a plant-wide check answers for every subject."""
    events = tuple(Event("tanker", name, "bay", at(1)) for name in ("t1", "t2"))
    found = expand([Planned("check", "", EachEvent("tanker"))], CALENDAR, Facts(events=events), MONDAY, MONDAY + DAY)
    assert [(one.subject, one.event, one.due_at) for one in found] == [
        ("bay", "t1", at(1)),
        ("bay", "t2", at(1)),
    ]


def test_calendar_rule_is_due_at_its_local_time():
    """Every second Monday at 08:00."""
    rule = Calendar("FREQ=WEEKLY;INTERVAL=2;BYDAY=MO", "08:00", "keep", date(2026, 6, 1))
    assert due_hours(rule, days=14) == [7 * 24 + 2]


@pytest.mark.parametrize(("closed", "hours"), [("skip", [2, 26, 74]), ("keep", [2, 26, 50, 74])])
def test_calendar_rule_skips_or_keeps_closed_days(closed, hours):
    """Stocktaking on Wednesday drops a daily check that skips closed days."""
    assert due_hours(Calendar("FREQ=DAILY", "08:00", closed, date(2026, 6, 1)), days=4) == hours


def test_calendar_rule_skips_a_signed_day_without_production():
    """A day signed as without production is a closed day."""
    facts = Facts(no_production=(NoProduction(None, date(2026, 6, 8)),))
    assert due_hours(Calendar("FREQ=DAILY", "08:00", "skip", date(2026, 6, 1)), facts=facts) == []


def test_calendar_season_makes_due_only_in_its_months():
    """A rule limited to summer months is not due in June's day when it names July."""
    assert due_hours(Calendar("FREQ=DAILY;BYMONTH=7", "08:00", "keep", date(2026, 1, 1))) == []


def test_daily_rule_keeps_its_clock_time_across_the_clock_change():
    """08:00 stays 08:00 on the plant's clocks before and after 8 March."""
    rule = Planned("check", "", Calendar("FREQ=DAILY", "08:00", "keep", date(2026, 1, 1)))
    found = expand(
        [rule], CALENDAR, Facts(), datetime(2026, 3, 7, 12, tzinfo=UTC), datetime(2026, 3, 9, 12, tzinfo=UTC)
    )
    assert [one.due_at.hour for one in found] == [14, 13]


def test_missed_by_default_at_next_due_or_shift_end_whichever_is_first():
    """Two-hourly checks from 06:00 are missed at the next one, save where the shift ends before."""
    facts = Facts((Holding("silo", at(1), at(10)),))
    assert missed_hours(WhileHolding(120), Timing(), facts) == [3, 5, 7, 8, 14 + 2]


def test_missed_is_never_before_the_grace_ends():
    """With more grace than there is time to the next due time, missed waits for the grace."""
    facts = Facts((Holding("silo", at(1), at(2)),))
    assert missed_hours(WhileHolding(10), Timing(grace_min=15), facts)[:2] == [1.25, 1 + 25 / 60]


@pytest.mark.parametrize(
    ("rule", "hours"),
    [
        ("next due", 24 + 2),
        ("shift end", 8),
        ("next due or shift end", 8),
        ("day end", 24),
        ("use", 2),
        ("minutes:45", 2.75),
        ("hours:30", 32),
        ("days:7", 170),
        ("run end", 24),
    ],
)
def test_frequency_may_name_its_own_moment_of_missing(rule, hours):
    """Each moment of missing that a plan may name, for a daily check at 08:00."""
    daily = Calendar("FREQ=DAILY", "08:00", "keep", date(2026, 6, 1))
    assert missed_hours(daily, Timing(missed_after=rule)) == [hours]


def test_yearly_test_is_missed_at_its_next_due_time():
    """A yearly test that names the next due time is missed a year later."""
    yearly = Calendar("FREQ=YEARLY;BYMONTH=6;BYMONTHDAY=8", "08:00", "keep", date(2025, 6, 8))
    assert missed_hours(yearly, Timing(missed_after="next due")) == [365 * 24 + 2]


def test_check_outside_every_shift_is_missed_at_the_day_end():
    """A tank check due at 02:00, when nobody is on, is missed when the plant day ends."""
    found = missed_hours(WhileHolding(1440), Timing(), Facts((Holding("silo", at(20)),)))
    assert found == [24]


def test_run_end_is_the_moment_of_missing_once_known():
    """A run check that names the run's end is missed there."""
    facts = Facts(runs=(Run("silo", "r1", at(1), at(2.25)),))
    assert missed_hours(DuringRun(30), Timing(missed_after="run end"), facts) == [2.25, 2.25]


@pytest.mark.parametrize("text", ["+8", "0:30", "+00:75", "noon", ""])
def test_wrong_time_of_a_shift_is_refused_when_the_plan_is_read(text):
    """A time that is none is refused before anything is expanded."""
    with pytest.raises(ValueError, match="HH:MM"):
        EachShift((text,))


def test_same_check_named_twice_is_due_once():
    """Two entries that fall on the same moment make one due check."""
    assert due_hours(EachShift(("+00:30", "06:30"))) == [0.5, 8.5]


@pytest.mark.parametrize("rule", ["never", "minutes:", "minutes:-3", "weeks:2", "minutes:٣"])
def test_unknown_moment_of_missing_is_refused(rule):
    """A moment of missing that is not known is refused with the list of those that are."""
    with pytest.raises(ValueError, match="next due"):
        Timing(missed_after=rule)


@pytest.mark.parametrize(
    "make",
    [
        lambda: WhileHolding(0),
        lambda: WhileHolding(60, -1),
        lambda: BeforeUse(0),
        lambda: DuringRun(),
        lambda: DuringRun(0),
        lambda: DuringRun(None, Decimal(0)),
        lambda: RunEnds(False, False),
        lambda: AfterEvent("tanker", -1),
        lambda: Timing(grace_min=-1),
        lambda: EachShift(()),
        lambda: Calendar("FREQ=DAILY", "08:00", "skp", date(2026, 1, 1)),
        lambda: Calendar("FREQ=HOURLY", "08:00", "skip", date(2026, 1, 1)),
    ],
)
def test_frequency_without_sense_is_refused(make):
    """A frequency that would never or always be due cannot be made."""
    with pytest.raises(ValueError, match="must|needs|skip or keep"):
        make()
