"""What is due is asked with a bounded number of queries, and in time for a page."""

from __future__ import annotations

import uuid
from datetime import timedelta
from time import perf_counter

from django.db import connection
from django.test.utils import CaptureQueriesContext

from plant.hazard_plan.written import read as read_plan
from plant.hazard_plan.written import store
from records.checks import walk
from records.checks.actions import record_reading
from records.checks.queries import due_between, round_at, unsettled
from records.people.plan_actions import OWNER_SIGNS, QUALIFIED_SIGNS, sign_plan
from records.people.plans import plan_in_force
from tests.conftest import NOW, People, Plant, SetClock
from tests.records.checks.made import fill_silo, read, seals
from tests.records.flow.made import moved
from tests.records.judging.made import WRITTEN

MOST = 40


def counted(what: object) -> int:
    """How many queries a call makes."""
    with CaptureQueriesContext(connection) as asked:
        what()  # type: ignore[operator]
    return len(asked)


def test_queries_do_not_grow_with_readings_or_checks(plant: Plant) -> None:
    """A day, a week with ten more readings: the same few queries."""
    fill_silo(plant)
    day = counted(lambda: due_between(NOW - timedelta(hours=12), NOW + timedelta(hours=12), NOW))
    for at in range(10):
        plant.at(NOW - timedelta(minutes=10 * at))
        read(plant, "38")
        record_reading(plant.actor("ines"), seals("yes", form_id=uuid.uuid4()))
    plant.at(NOW)
    week = counted(lambda: due_between(NOW - timedelta(days=6), NOW + timedelta(hours=12), NOW))
    assert week <= day + 4 and week <= MOST


def test_a_round_asks_bounded_queries(plant: Plant) -> None:
    """However many kinds of patience the plan names, the round's own page stays small."""
    fill_silo(plant)
    assert counted(lambda: unsettled(NOW)) <= MOST


def test_the_round_is_in_walking_order_and_a_critical_check_near_its_grace_comes_first(plant: Plant) -> None:
    """At 09:30 the silo's check, late at a CCP, comes before all others."""
    fill_silo(plant)
    found = round_at(NOW)
    assert found and found[0].is_ccp and found[0].state == "late"
    assert all(one.state in ("due", "late") for one in found)


def test_a_full_day_at_quillbrook_is_a_few_queries_and_well_under_a_second(
    installed: People, set_clock: SetClock
) -> None:
    """The whole plan, milk in the silo: the round asks at most 40 queries; the time is a loose bound, not a race."""
    version = store(read_plan(WRITTEN.read_text(encoding="utf-8")), installed.odile, set_clock())
    sign_plan(installed.actor("odile"), version, QUALIFIED_SIGNS)
    sign_plan(installed.actor("hanne"), version, OWNER_SIGNS)
    set_clock.on(hours=26)
    moved(installed.actor("ines"), quantity_typed="2000")
    set_clock.on(hours=3)
    in_force = plan_in_force(set_clock())
    assert in_force is not None
    roles = frozenset({"supervisor"})
    walk.walk_at(set_clock(), in_force, roles)
    began = perf_counter()
    asked = counted(lambda: walk.walk_at(set_clock(), in_force, roles))
    assert asked <= MOST and perf_counter() - began < 3
    start, end = in_force.calendar.day_bounds(in_force.calendar.plant_day(set_clock()))
    assert counted(lambda: due_between(start, end, set_clock())) <= MOST
    assert len(due_between(start, end, set_clock())) > 30
