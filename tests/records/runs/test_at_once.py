"""Two tablets at one press in the same moment: one start, one product, the other is told."""

from __future__ import annotations

import pytest

from records.flow.models import Movement
from records.ledger.verify import verify
from records.runs.actions import begin_start, product_in
from records.runs.models import OPENED, PRODUCT_CHANGE, PRODUCT_IN, RunEvent
from tests.attack.test_at_once import at_once
from tests.conftest import NOW, Plant
from tests.records.flow.made import made_ready, moved
from tests.records.runs.made import MINUTE, checked, planned, product, start

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_start_begun_by_two_at_once_is_one_run(plant: Plant) -> None:
    """The second one is told which run stands; the product of one form sent from both is one movement."""
    planned(plant)
    made_ready(plant.actor("tomas"), NOW)
    plant.at(NOW + 5 * MINUTE)
    moved(plant.actor("tomas"), started_at=NOW + MINUTE, ended_at=NOW + 2 * MINUTE)
    ines, tomas = plant.actor("ines"), plant.actor("tomas")
    first, second = start(), start()
    came = at_once(lambda: begin_start(ines, first), lambda: begin_start(tomas, second))
    assert len(came) == 2 and "RunEvent" in came and any("not recorded as ended" in one for one in came)
    run = RunEvent.objects.get(what=OPENED).number
    checked(ines)
    same = product(run)
    assert at_once(lambda: product_in(ines, same), lambda: product_in(ines, same)) == ["RunEvent", "RunEvent"]
    assert RunEvent.objects.filter(what__in=(PRODUCT_IN, PRODUCT_CHANGE)).count() == 1
    assert Movement.objects.filter(via="press-1").count() == 1 and verify().good
