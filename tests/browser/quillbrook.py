"""Quillbrook's whole plan in force, and a morning of it acted out so that twelve places hold product at 13:30."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from plant import clock
from records.checks import watch
from records.demo import staff
from records.demo.acts import Day, Happened, Move, Ready, Say, Stock, Washed
from records.demo.building import calendar
from records.demo.hand import Hand
from records.demo.scenario import tanker
from records.demo.walk import Outline, Walk
from records.people.plans import plan_in_force

DAY = date(2026, 3, 3)  # a Tuesday
ROUND_AT = "13:30"
RAW = ("silo-a", "cream-tank", "skim-tank", "whole-tank", "blend-vat")
FINISHED = ("finished-1", "finished-2", "flavor-vat-1", "flavor-vat-2")
PRESS = ("balance-tank", "press-1")
TEMPERATURES = (
    "raw-temperature", "pasteurized-temperature", "flavor-temperature", "cooler-temperature",
    "ingredient-temperature", "hardening-temperature",
)  # fmt: skip
SILO_AT, AGAIN_AT, AND_AGAIN_AT = "13:31", "14:01", "14:31"

MORNING = Day(
    title="the browser's day",
    doing=(
        Washed("17:00", "20:15", (*RAW, *PRESS, *FINISHED, "separator"), days_back=1),
        Stock("05:06", "walk-in-cooler", "whole-milk", "140"),
        Stock("05:06", "hardening-room", "salted-hazelnut", "90"),
        Stock("05:07", "ingredient-cooler", "pouring-cream", "12"),
        Washed("05:12", "05:42", (*RAW, *FINISHED, "separator"), "sanitized"),
        Washed("05:12", "05:42", PRESS, "sanitized"),
        Ready("05:52", ("silo-a",)),
        *tanker("05:56", "06:12", "06:48", "Nettle Farm", "17200"),
        Ready("06:50", RAW[1:]),
        Move("07:02", "07:40", "silo-a", "cream-tank", "raw-cream", "40", via="separator"),
        Move("07:02", "07:40", "silo-a", "skim-tank", "raw-skim", "300", via="separator"),
        Move("07:24", "07:46", "silo-a", "whole-tank", "raw-milk", "620"),
        Move("07:50", "08:10", "silo-a", "blend-vat", "raw-milk", "300"),
        Ready("08:02", ("press-1", "finished-1"), product="whole-milk"),
        Move("08:32", "09:20", "whole-tank", "finished-1", "whole-milk", "400", via="press-1"),
        Ready("09:40", ("press-1", "flavor-vat-1", "flavor-vat-2"), "raised", product="strawberry-milk"),
        Move("09:48", "10:00", "whole-tank", "flavor-vat-1", "strawberry-milk", "55", via="press-1"),
        Ready("10:01", ("press-1",), "raised", product="strawberry-milk"),
        Move("10:04", "10:16", "whole-tank", "flavor-vat-2", "strawberry-milk", "55", via="press-1"),
        Happened("10:20", "flavor batch", "flavor-vat-1", "Strawberry milk, batch sheet 120"),
        Ready("10:30", ("press-1", "finished-2"), product="whole-milk"),
        Move("10:40", "11:10", "blend-vat", "finished-2", "whole-milk", "150", via="press-1"),
    ),
    saying=(
        # What the browser answers, nobody else does.
        *(Say(key, due=ROUND_AT, never=True) for key in TEMPERATURES),
        Say("raw-temperature", "silo-a", due=AGAIN_AT, never=True),
        Say("raw-temperature", "silo-a", due=AND_AGAIN_AT, never=True),
    ),
    morning_notes="Everything holds milk.",
    evening_notes="Silo A was warm at noon: its deviation is answered.",
)


@dataclass
class Quillbrook:
    """The plant in the middle of its day."""

    crew: staff.Crew
    hand: Hand
    walk: Walk

    def moment(self, text: str) -> datetime:
        """'HH:MM' of the day."""
        hour, minute = (int(one) for one in text.split(":"))
        return calendar().utc(DAY, time(hour, minute))

    def to(self, text: str) -> None:
        """Everybody else goes on with their work until then; then it is that moment."""
        self.walk.to(self.moment(text))
        self.hand.to(self.moment(text))

    def secret(self, sign_in: str) -> str:
        """A person's PIN or password."""
        one = next(one for one in staff.STAFF if one.sign_in == sign_in)
        return one.pin or one.password or ""


def begin(hand: Hand, day: Day = MORNING) -> Quillbrook:
    """Installed and its plan in force from the start of the day; inside `clock.replaced(hand)`."""
    begins = calendar().day_bounds(DAY)[0]
    hand.to(begins - timedelta(hours=1))
    crew = staff.begin(begins)
    hand.to(begins)
    watch.begin_at(begins)
    in_force = plan_in_force(clock.now())
    assert in_force is not None
    walk = Walk(crew, in_force, hand, lambda _text: None)
    walk.plan_day(Outline(DAY, day), reviewed=False, working=True)
    return Quillbrook(crew, hand, walk)


def new_hand() -> Hand:
    """A clock at the hour before the day."""
    return Hand(calendar().day_bounds(DAY)[0] - timedelta(hours=1))
