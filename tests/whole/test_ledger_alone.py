"""Everything that the pages show is in the ledger: made again from its entries alone, it is the same."""

from __future__ import annotations

from datetime import date, timedelta

from django.db import connection

from records.checks import watch
from records.checks.models import Reading
from records.deviations.models import Deviation, Hold
from records.ledger import triggers
from tests.conftest import NOW, Plant
from tests.records.watch.conftest import fill_silo, walk
from tests.records.watch.test_transitions import read_silo
from tests.whole.rebuild import picture, rebuild


def test_states_and_projections_come_from_the_ledger_alone(plant: Plant) -> None:
    """A day with readings, a warm silo, misses, an outage and holds: the same before and after the rebuilding."""
    watch.begin_at(NOW - timedelta(minutes=10))
    fill_silo(plant)
    read_silo(plant, "38.4")
    walk(plant, NOW + timedelta(hours=2))
    read_silo(plant, "46.4")
    walk(plant, NOW + timedelta(hours=5))
    plant.at(NOW + timedelta(hours=9))
    watch.look()
    assert Reading.objects.exists() and Deviation.objects.count() > 1 and Hold.objects.exists()
    days = [date(2026, 3, 3)]
    moments = [NOW, NOW + timedelta(hours=2, minutes=1), NOW + timedelta(hours=9)]
    before = picture(days, moments)
    assert rebuild() > 60
    assert picture(days, moments) == before
    assert triggers.missing(connection) == []
