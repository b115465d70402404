"""Two identical submissions at once make one record, on SQLite's file and on PostgreSQL."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection

from records.checks.actions import Saved, record_reading
from records.checks.models import Reading
from records.deviations.models import Deviation
from records.judging.models import Verdict
from tests.conftest import Plant
from tests.records.checks.made import fill_silo, silo


@pytest.mark.django_db(transaction=True)
def test_two_taps_at_once_make_one_record(plant: Plant) -> None:
    """Both get the same answer; one reading, one verdict, one deviation."""
    fill_silo(plant)
    before = Deviation.objects.count()
    data, by, together = silo("46.4"), plant.actor("ines"), Barrier(2)

    def tap(_number: int) -> Saved:
        together.wait(timeout=10)
        try:
            return record_reading(by, data)
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as both:
        first, second = both.map(tap, range(2))
    assert first.reading.number == second.reading.number
    assert sorted([first.again, second.again]) == [False, True]
    assert (Reading.objects.count(), Verdict.objects.filter(subject_kind="reading").count()) == (1, 1)
    assert Deviation.objects.count() == before + 1
