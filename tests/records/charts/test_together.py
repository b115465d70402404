"""Two tablets and the watch at one chart in the same moment: each thing once, and the ledger holds."""

from __future__ import annotations

import pytest

from records.charts import watch
from records.charts.actions import put_on, take_off
from records.charts.models import ChartOff, ChartOn, ChartPastSpan
from records.deviations.models import Deviation, DeviationCause
from records.ledger.verify import verify
from tests.attack.test_at_once import at_once
from tests.conftest import NOW, Plant
from tests.records.charts.made import HOUR, is_on, off, on

pytestmark = pytest.mark.django_db(transaction=True)


def test_taken_off_by_two_and_noticed_by_the_watch_at_once(plant: Plant) -> None:
    """One end, one notice, one deviation with one cause; the other tablet is told who was first."""
    chart = is_on(plant.actor("ines"), put_on_at=NOW - 25 * HOUR)
    ines, tomas = plant.actor("ines"), plant.actor("tomas")
    mine, theirs = off(chart), off(chart)
    done = at_once(lambda: take_off(ines, mine), lambda: take_off(tomas, theirs), watch.look, watch.look)
    assert done.count("ChartOff") == 1 and sum("was taken off already" in one for one in done) == 1
    assert ChartOff.objects.count() == ChartPastSpan.objects.count() == 1
    assert Deviation.objects.count() == DeviationCause.objects.count() == 1 and verify().good


def test_second_charts_put_on_by_two_at_once(plant: Plant) -> None:
    """Both are kept, one deviation has both."""
    is_on(plant.actor("ines"), put_on_at=NOW - HOUR)
    ines, tomas = plant.actor("ines"), plant.actor("tomas")
    mine, theirs = on(chart_number="62"), on(chart_number="63")
    assert at_once(lambda: put_on(ines, mine), lambda: put_on(tomas, theirs)) == ["ChartOn", "ChartOn"]
    assert ChartOn.objects.count() == 3 and Deviation.objects.count() == 1
    assert DeviationCause.objects.count() == 2 and verify().good


def test_one_form_sent_twice_at_once(plant: Plant) -> None:
    """A tap too many is one chart."""
    ines, data = plant.actor("ines"), on()
    assert at_once(lambda: put_on(ines, data), lambda: put_on(ines, data)) == ["ChartOn", "ChartOn"]
    assert ChartOn.objects.count() == 1
