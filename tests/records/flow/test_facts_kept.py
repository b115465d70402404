"""The facts kept in memory are never older than the ledger, and a narrower question gets the same answer from them."""

from __future__ import annotations

from datetime import timedelta

from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from plant.process.schedule import expand
from records.flow import facts_kept
from records.flow.queries import facts_between
from records.people.plans import plan_in_force
from tests.conftest import NOW, Plant
from tests.records.flow.made import HOUR, moved, ran, seen

DAY = timedelta(days=1)


def test_a_movement_is_seen_at_once(plant: Plant) -> None:
    """Asked before and after: the second answer knows it."""
    assert facts_between(NOW - DAY, NOW).holdings == ()
    moved(plant.actor("ines"), started_at=NOW - HOUR)
    assert [one.subject for one in facts_between(NOW - DAY, NOW).holdings] == ["silo-a"]


def test_what_was_rolled_back_is_forgotten(plant: Plant) -> None:
    """Facts asked for within a transaction that fails do not outlive it."""
    with transaction.atomic():
        moved(plant.actor("ines"), started_at=NOW - HOUR)
        assert facts_between(NOW - DAY, NOW).holdings
        transaction.set_rollback(True)
    assert facts_between(NOW - DAY, NOW).holdings == ()


def test_asking_again_costs_a_few_small_queries(plant: Plant) -> None:
    """Nothing recorded since: the plan in force and the newest entry of the flow, however narrow the question."""
    moved(plant.actor("ines"), started_at=NOW - HOUR)
    facts_between(NOW - DAY, NOW)
    with CaptureQueriesContext(connection) as few:
        facts_between(NOW - HOUR, NOW - HOUR / 2)
    assert len(few) <= 2


def test_the_kept_facts_make_the_same_checks_due(plant: Plant) -> None:
    """Whatever window was asked for before, the checks of a narrow one are those of facts told for it alone."""
    ines = plant.actor("ines")
    moved(ines, started_at=NOW - 30 * HOUR)
    ran(ines, started_at=NOW - 20 * HOUR)
    seen(ines, "silo-a", "0", NOW - 10 * HOUR)
    moved(ines, started_at=NOW - 2 * HOUR)
    in_force = plan_in_force(NOW)
    assert in_force is not None
    for start in (NOW - 25 * HOUR, NOW - 12 * HOUR, NOW - 3 * HOUR):
        end = start + 6 * HOUR
        facts_kept._kept = None
        alone = expand(in_force.planned, in_force.calendar, facts_between(start, end), start, end)
        facts_between(NOW - 20 * DAY, NOW + 3 * DAY)
        assert expand(in_force.planned, in_force.calendar, facts_between(start, end), start, end) == alone
