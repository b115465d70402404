"""Traces and the calibration that came later: what an instrument recorded while it was off is judged again.

Records since the last good calibration are in doubt, and what they would have been is looked at again: 21 CFR
117.165(b)(2) (from memory) and common practice, no source. All numbers are invented; 161 °F is 21 CFR 1240.61(b).
"""

from __future__ import annotations

import uuid
from datetime import datetime

import pytest

from records.ledger.verify import verify
from records.traces import findings, judging, watch
from records.traces.models import TraceJudged
from records.workshop.actions import say_it_did_not_happen
from records.workshop.data import Point
from records.workshop.models import Calibration
from tests.conftest import Plant
from tests.records.traces.test_judging import HOUR, START, at, deviations, hot, kept, run, standing
from tests.records.workshop.made import calibrated

pytestmark = pytest.mark.django_db
__all__ = ["run"]  # the fixture


def judged() -> dict[str, str]:
    """Seconds by verdict as the newest judgement of every part has it."""
    newest = TraceJudged.objects.order_by("-number").first()
    assert newest is not None
    return newest.counted


def against(plant: Plant, seen: datetime, found: str, instrument: str = "T-12", left: str = "161.0") -> Calibration:
    """An instrument of the press in a bath of 161.0 °F."""
    plant.at(seen)
    point = Point(reference="161.0", found=f"{found} {found}", left=left)
    adjusted = bool(left)
    return calibrated(plant, place="press-1", instrument=instrument, points=(point,), adjusted=adjusted).row


@pytest.fixture
def met(run: Plant) -> Plant:
    """An hour at 163.0 °F and more, every second met."""
    kept("T-12", hot())
    judging.judge_place("press-1", START, at(3600))
    watch.look()
    assert standing() == [] and judged() == {"met": "3600.000"}
    return run


def test_a_recorder_found_high_makes_what_it_recorded_not_met(met: Plant) -> None:
    """2.5 °F high: 163.0 was 160.5 °F. The finding names the entry, and the lot is held."""
    entry = against(met, at(4000), "163.5").number
    assert watch.look() > 0
    low = [one for one in standing() if one.cause == "process"]
    assert low and {one.outcome for one in low} == {"not met"}
    assert all(str(entry) in one.sentence and float(one.extreme) <= 160.5 for one in low)
    assert judged()["not met"] == "3600.000"
    assert deviations() and verify().good


def test_a_recorder_found_low_changes_nothing(met: Plant) -> None:
    """2.5 °F low: the milk was hotter than the chart says; as recorded counts."""
    against(met, at(4000), "158.5")
    watch.look()
    assert standing() == [] and judged() == {"met": "3600.000"}


def test_what_was_recorded_before_the_last_good_calibration_stands(met: Plant) -> None:
    """Found right half way, and off at the end: the first half is met, the second is not."""
    against(met, at(1800), "161.0", left="")
    watch.look()
    assert standing() == []
    against(met, at(4000), "163.5")
    watch.look()
    assert judged() == {"met": "1800.000", "not met": "1800.000"}


def test_what_is_recorded_after_it_was_put_right_is_judged_as_recorded(met: Plant) -> None:
    """Adjusted half way through the run: only what came before is in doubt."""
    against(met, at(1800), "163.5")
    watch.look()
    counted = {outcome: float(seconds) for outcome, seconds in judged().items()}
    assert counted == {"met": pytest.approx(1800, abs=1), "not met": pytest.approx(1800, abs=1)}


def test_an_indicating_thermometer_found_high_takes_the_recorder_with_it(met: Plant) -> None:
    """The run's recorder was compared with it: what it vouched for was 2.5 °F less."""
    against(met, at(4000), "163.5", instrument="T-11")
    watch.look()
    assert "met" not in judged()


def test_a_calibration_that_did_not_happen_gives_the_verdict_back(met: Plant) -> None:
    """Entered at the wrong press: the finding is no longer found, and a person closes what was opened."""
    wrong = against(met, at(4000), "163.5")
    watch.look()
    assert standing()
    say_it_did_not_happen(met.actor("piet"), wrong, "the other press", uuid.uuid4())
    watch.look()
    assert standing() == [] and judged() == {"met": "3600.000"} and deviations() and verify().good


def test_a_file_that_comes_after_the_calibration_is_judged_with_it(run: Plant) -> None:
    """The order of entries makes no difference."""
    against(run, at(4000), "163.5")
    kept("T-12", hot())
    judging.judge_place("press-1", START, at(3600))
    assert judged()["not met"] == "3600.000"


def test_a_tank_recorder_found_low_makes_a_cold_tank_warm(run: Plant) -> None:
    """44.6 °F on a recorder that reads 1 °F low is 45.6 °F, out of the limit of 45."""
    kept("T-20", [446] * 61, first=-3600, step_s=60)
    judging.judge_place("silo-a", START - HOUR, START)
    knew = TraceJudged.objects.filter(place="silo-a").count()
    run.at(at(4000))
    calibrated(run, instrument="T-20", points=(Point(reference="45.0", found="42.5 42.5", left="45.0"),))
    watch.look()
    assert TraceJudged.objects.filter(place="silo-a").count() > knew
    found = findings.standing_rows(START - HOUR, START, ["silo-a"])
    assert any(one.outcome == "not met" for one in found)
