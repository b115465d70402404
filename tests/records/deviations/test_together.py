"""Two at once find the same excursion: one deviation and one hold, on SQLite's file and on PostgreSQL."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from threading import Barrier
from typing import TypeVar

import pytest
from django.db import connection

from plant import clock
from records.deviations import actions, holds, queries
from records.deviations.errors import Refused
from records.deviations.models import Deviation, DeviationCause, DeviationClosing, Hold, HoldLift
from records.ledger.actions import WATCH, act
from records.people.plans import plan_in_force
from tests.conftest import NOW, Plant
from tests.records.deviations.made import complete, filled, read, the_hold, warm

T = TypeVar("T")
pytestmark = pytest.mark.django_db(transaction=True)


def together(*acts: Callable[[], T]) -> list[T | Exception]:
    """Every act in a thread of its own, all begun at the same moment; what each gave or raised."""
    gate = Barrier(len(acts))

    def one(do: Callable[[], T]) -> T | Exception:
        gate.wait(timeout=10)
        try:
            return do()
        except Refused as refused:
            return refused
        finally:
            connection.close()

    with ThreadPoolExecutor(len(acts)) as threads:
        return list(threads.map(one, acts))


def test_two_readings_of_one_excursion_open_one_deviation(plant: Plant) -> None:
    """Two people read the warm silo at the same moment: one deviation with two causes, one hold."""
    filled(plant)
    before = Deviation.objects.count()
    together(lambda: read(plant, "46.4"), lambda: read(plant, "46.2", "tomas"))
    opened = Deviation.objects.order_by("number")[before:]
    assert len(opened) == 1
    assert DeviationCause.objects.filter(deviation=opened[0].number).count() == 2
    assert Hold.objects.filter(deviation=opened[0].number).count() == 1


def test_four_that_open_the_same_excursion_open_it_once(plant: Plant) -> None:
    """Called outright, each with a cause of its own."""
    in_force = plan_in_force(clock.now())

    def opening(number: int) -> Callable[[], bool]:
        found = actions.Cause("transition", number, NOW, f"cause {number}")

        def do() -> bool:
            with act(WATCH) as a:
                _deviation, opened = actions.open_or_extend(
                    a, in_force=in_force, control_point="raw-storage", subject="silo-a", cause="missed",
                    found=found, since_at=NOW - timedelta(hours=1),
                )  # fmt: skip
                return opened

        return do

    answers = together(*(opening(number) for number in range(90_001, 90_005)))
    assert sorted(answers, key=bool) == [False, False, False, True]
    assert Deviation.objects.filter(control_point="raw-storage").count() == 1
    assert DeviationCause.objects.count() == 4


def test_two_who_close_at_once_close_it_once(plant: Plant) -> None:
    """The second is told that it is closed."""
    found = complete(plant)
    answers = together(
        lambda: actions.close(plant.actor("wren"), found, "read"),
        lambda: actions.close(plant.actor("odile"), found, "read"),
    )
    assert sum(isinstance(one, Refused) for one in answers) == 1
    assert DeviationClosing.objects.count() == 1 and queries.is_closed(found.number)


def test_two_second_signatures_lift_once(plant: Plant) -> None:
    """The hold is lifted by one of them."""
    hold = the_hold(warm(plant))
    said = holds.propose_disposition(plant.actor("wren"), hold, "destroy", "Too warm for too long.")
    together(
        lambda: holds.sign_disposition(plant.actor("odile"), said),
        lambda: holds.sign_disposition(plant.people.actor("hanne"), said),
    )
    assert HoldLift.objects.count() == 1
