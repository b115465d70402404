"""Walks the invented days: the clock jumps to the next thing that happens, which is then done by its own action.

What happens: an act of the scenario, a check that somebody answers, a look of the watch that will find something, a
signature. Between them nothing is due to change, so nothing is computed.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from itertools import count

from plant import clock
from plant.process.schedule import state
from records import tasks
from records.checks import queries
from records.checks.models import WatchState
from records.checks.queries import DueCheck
from records.checks.rechecks import PREFIX
from records.demo import looking, reviewing
from records.demo.acts import Day, Move, Say
from records.demo.answers import lottery
from records.demo.doing import CHANGES_WHAT_IS_DUE, PERFORM, Stage, end_move, operator_at, start_move
from records.demo.hand import Hand
from records.demo.reading import answer
from records.demo.staff import Crew
from records.deviations.models import Deviation
from records.judging.judge import OUT
from records.people.plans import InForce

SECONDS_EACH = 25.0
SOON = timedelta(minutes=1)
LEAVES_ROOM = timedelta(minutes=2)
LOOK_AGAIN = timedelta(hours=5)
BACK, AHEAD = timedelta(hours=20), timedelta(hours=6)  # nobody here leaves a check unanswered for longer
ASIDE = timedelta(seconds=1)
# Minutes after which the plan has people told of what the watch found, or of a deviation: it looks again then.
TELLING = {"late": (10, 30), "missed": (0, 60), "deviation": (0, 15, 240, 1440)}


@dataclass(order=True, slots=True)
class _Thing:
    at: datetime
    rank: int
    order: int
    do: Callable[[], None] = field(compare=False)


@dataclass(slots=True)
class Outline:
    """One plant day of the walk with its scenario."""

    plant_day: date
    day: Day


class Walk:
    """One walk through days that follow each other, from the first one's start to a moment."""

    def __init__(self, crew: Crew, in_force: InForce, hand: Hand, tell: Callable[[str], None]) -> None:
        self.crew, self.in_force, self.hand, self.tell = crew, in_force, hand, tell
        self._things: list[_Thing] = []
        self._order = count()
        self._open: list[DueCheck] = []
        self._stale = True
        self._looks: set[datetime] = set()
        self._says: dict[date, Sequence[Say]] = {}
        self._last_deviation = 0
        self._left: tuple[datetime, datetime] | None = None

    # --- what will happen

    def plan_day(self, outline: Outline, *, reviewed: bool, working: bool) -> None:
        """Put a day's acts, shifts and (when it is `reviewed`) its closing and signatures in line."""
        stage = Stage(self.crew, self.in_force, self.hand, outline.plant_day)
        self._says[outline.plant_day] = outline.day.saying
        for one in outline.day.doing:
            at = stage.moment(one.end if hasattr(one, "end") and not isinstance(one, Move) else one.at)
            if getattr(one, "days_back", 0):
                at = stage.moment("05:03")
            self._put(at, 0, lambda one=one: self._act(stage, one))  # type: ignore[misc]
        self._plan_shifts(stage, outline.day, working)
        if reviewed:
            self._plan_review(stage, outline.day)
        self._put(stage.moment("05:01"), 0, lambda: self.tell(f"{outline.plant_day:%a %d %b}: {outline.day.title}"))

    def _plan_shifts(self, stage: Stage, day: Day, working: bool) -> None:
        self._step(stage, day, "05:02", reviewing.name_in_charge)
        self._step(stage, day, "12:57", reviewing.sign_rounds)
        self._step(stage, day, "20:55", reviewing.sign_rounds)
        if working:
            self._step(stage, day, "12:59", reviewing.morning_leaves)
            self._step(stage, day, "13:02", reviewing.evening_takes)
            self._step(stage, day, "20:58", reviewing.evening_leaves)

    def _plan_review(self, stage: Stage, day: Day) -> None:
        self._step(stage, day, "21:14", reviewing.sign_rounds)
        self._step(stage, day, "21:20", reviewing.close)
        self._step(stage, day, "21:26", reviewing.operator_signs)
        # A moment before the day's start belongs to the evening before it: the next day's morning is one day on.
        at = stage.moment("05:50", days=1) if day.reviewed_next_morning else stage.moment("21:34")
        self._put(at, 0, lambda: reviewing.supervisor_signs(stage, day))

    def _step(self, stage: Stage, day: Day, at: str, do: Callable[[Stage, Day], None]) -> None:
        self._put(stage.moment(at), 0, lambda: do(stage, day))

    def _put(self, at: datetime, rank: int, do: Callable[[], None]) -> None:
        heapq.heappush(self._things, _Thing(at, rank, next(self._order), do))

    # --- happening

    def to(self, until: datetime, left_open: timedelta | None = None) -> None:
        """Let everything before `until` happen. What fell due within `left_open` of it, and is still in time, waits."""
        self._left = None if left_open is None else (until - left_open, until + LEAVES_ROOM)
        while True:
            if self._stale:
                self._refresh()
            if not self._things or self._things[0].at >= until:
                return
            thing = heapq.heappop(self._things)
            self.hand.to(thing.at)
            thing.do()

    def _act(self, stage: Stage, one: object) -> None:
        if isinstance(one, Move):
            number = start_move(stage, one)
            self._put(stage.moment(one.end), 0, lambda: self._end(stage, one, number))
        else:
            PERFORM[type(one)](stage, one)
        self._stale = self._stale or isinstance(one, CHANGES_WHAT_IS_DUE)
        self._tell_of_new_deviations()

    def _end(self, stage: Stage, one: Move, number: int) -> None:
        end_move(stage, one, number)
        self._stale = True
        self._tell_of_new_deviations()

    # --- checks

    def _refresh(self) -> None:
        """What is due now and soon, and when each of it is answered."""
        self._stale = False
        now = clock.now()
        self._things = [one for one in self._things if one.rank != 1]
        heapq.heapify(self._things)
        for check in queries.due_between(now - BACK, now + AHEAD, now):
            if check.reading is None and state(check.due, None, now) != "missed":
                self._expect(check, now)
        self._put(now + LOOK_AGAIN, 1, self._refresh_later)

    def _refresh_later(self) -> None:
        self._stale = True

    def _expect(self, check: DueCheck, now: datetime) -> None:
        say = self._say(check)
        at = None if say is not None and say.never else max(now, self._answer_time(check, say, now))
        if self._left is not None and check.due.due_at >= self._left[0] and check.due.late_after > self._left[1]:
            at = None
        if at is not None:
            self._put(at, 1, lambda: self._answer(check, say))
        for moment in (check.due.late_after + ASIDE, check.due.missed_at + ASIDE):
            if at is None or at > moment:
                self._look_at(moment)

    def _say(self, check: DueCheck) -> Say | None:
        local = self.in_force.calendar.local(check.due.due_at).strftime("%H:%M")
        for one in self._says.get(self.in_force.calendar.plant_day(check.due.due_at), ()):
            if one.key == check.due.key and one.place in ("", check.due.subject) and one.due in ("", local):
                if not one.due and one.at and abs(self._stage(check).moment(one.at) - check.due.due_at) > SOON * 30:
                    continue
                return one
        return None

    def _stage(self, check: DueCheck) -> Stage:
        day = self.in_force.calendar.plant_day(check.due.due_at)
        return Stage(self.crew, self.in_force, self.hand, day)

    def _answer_time(self, check: DueCheck, say: Say | None, now: datetime) -> datetime:
        due = check.due
        if say is not None and (say.keyed or say.at):
            return self._stage(check).moment(say.keyed or say.at)
        grace = int((due.late_after - due.due_at).total_seconds() // 60)
        early = int((due.due_at - due.opens_at).total_seconds() // 60)
        early, late = min(4, early), max(1, min(11, grace - 4))
        drawn = lottery(check.key)
        at = due.due_at + timedelta(minutes=drawn % (early + late) - early, seconds=drawn % 50)
        return min(max(at, due.opens_at + ASIDE), due.late_after - LEAVES_ROOM if grace > 4 else due.late_after)

    def _answer(self, check: DueCheck, say: Say | None) -> None:
        now = clock.now()
        look = looking.look_for(check, self.in_force) if say is None else None
        if look is not None:
            stage = self._stage(check)
            looking.looked(stage.by, stage.plant_day, look)
            self.hand.on(SECONDS_EACH)
            return
        observed_at = self._stage(check).moment(say.at) if say is not None and say.paper else None
        saved = answer(self.crew, operator_at(self.in_force, now), check, say, now, observed_at)
        if check.due.event.startswith(PREFIX) or (saved.verdict is not None and saved.verdict.outcome in OUT):
            self._stale = True  # it asks for another look
            self._tell_of_new_deviations()
        self.hand.on(SECONDS_EACH)

    # --- the watch

    def _look_at(self, moment: datetime) -> None:
        # Nothing finer than the watch's own minute.
        moment = moment.replace(second=2, microsecond=0) + SOON
        if moment not in self._looks and moment > clock.now():
            self._looks.add(moment)
            self._put(moment, 2, self._look)

    def _tell_of_new_deviations(self) -> None:
        last = Deviation.objects.order_by("-number").values_list("number", flat=True).first() or 0
        if last > self._last_deviation:
            self._last_deviation = last
            self._look_later("deviation")

    def _look_later(self, found: str) -> None:
        for minutes in TELLING.get(found, ()):
            self._look_at(clock.now() + timedelta(minutes=minutes))

    def _look(self) -> None:
        """One look of the watch: it looked each minute until now, and found nothing that it wrote down."""
        WatchState.objects.filter(only=1).update(looked_at=clock.now() - SOON)
        for found in tasks.look_at_checks():
            self._look_later(found)
        self._tell_of_new_deviations()
        tasks.send_notices()
