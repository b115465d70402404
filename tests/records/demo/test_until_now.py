"""The plant that is served: three days with production before today, and today as far as it has come."""

from __future__ import annotations

import json
import subprocess
import sys
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from plant.hazard_plan.written import read
from records.demo import staff
from records.demo.building import working_days
from tests.records.demo.running import ROOT, environment

pytestmark = [pytest.mark.once, pytest.mark.slow]

# A Monday, 10:00 in Chicago, years after the plan was written; the clocks went forward the day before.
NOW = "2031-03-10T15:00:00+00:00"
BUILD = """
import json, os, sys
from datetime import datetime
sys.argv = ["manage.py", "demo"]
from plant.demo import environment
environment.point(["--dir", os.environ["FOLDER"]])
os.environ["DJANGO_SETTINGS_MODULE"] = "plant.settings"
import django
django.setup()
from plant import clock
from records.checks import queries
from records.checks.models import Transition
from records.demo import building
from records.deviations.queries import open_deviations
from records.flow.queries import contents_at
now = datetime.fromisoformat(os.environ["NOW"])
with clock.replaced(lambda: now):
    state = building.build_until_now(lambda line: None)
    start, end = building.calendar().day_bounds(building.calendar().plant_day(now))
    print(json.dumps({
        "days": [str(one) for one in state.days],
        "missed": sorted(one.monitoring_key for one in Transition.objects.filter(what="missed")),
        "missed today": [one.key for one in queries.due_between(start, end, now) if one.state == "missed"],
        "round": sorted(one.monitoring.key for one in queries.round_at(now)),
        "open": [one.subject for one in open_deviations()],
        "silo holds": contents_at(now)["silo-a"].holds,
        "sanitized": contents_at(now)["blend-vat"].condition,
    }))
"""


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """What stands in a plant built at NOW, by a process of its own."""
    folder = tmp_path_factory.mktemp("until_now") / "demo"
    ended = subprocess.run(
        [sys.executable, "-c", BUILD], capture_output=True, text=True, cwd=ROOT, check=False, timeout=600,
        env=environment(FOLDER=str(folder), NOW=NOW),
    )  # fmt: skip
    assert ended.returncode == 0, ended.stderr
    result: dict[str, Any] = json.loads(ended.stdout.splitlines()[-1])
    return result


def test_its_days_are_the_last_three_with_production(found: dict[str, Any]) -> None:
    """Thursday to Saturday: the Sunday between made nothing."""
    assert found["days"] == ["2031-03-06", "2031-03-07", "2031-03-08"]


def test_only_what_the_scenario_misses_is_missed(found: dict[str, Any]) -> None:
    """Across the Sunday and the clock change, and on the morning of today."""
    assert found["missed"] == ["clothing", "pasteurized-temperature"]
    assert found["missed today"] == []


def test_today_waits_for_the_visitor(found: dict[str, Any]) -> None:
    """Milk in the silo, a vat sanitized, a delivery in the round, three deviations open."""
    assert found["silo holds"] and found["sanitized"] == "sanitized"
    assert {"delivery-look", "delivery-allergens", "delivery-lot"} <= set(found["round"])
    cooler, sample, press = found["open"]
    assert (cooler, press) == ("walk-in-cooler", "press-1") and sample.startswith("sample ")


def test_working_days_leave_out_sundays_and_closures() -> None:
    """1 January 2026 is closed by the plan, 28 December 2025 a Sunday."""
    days = working_days(date(2026, 1, 2), 5)
    assert [f"{one:%m-%d}" for one in days] == ["12-27", "12-29", "12-30", "12-31", "01-02"]


@pytest.mark.parametrize("day", [date(2026, 3, 2), date(2027, 2, 1), date(2040, 2, 29)])
def test_no_instrument_is_overdue_on_the_demos_days(day: date) -> None:
    """An overdue instrument proves nothing (foundations): a demo of a later year has calibrations of its own time."""
    plan = staff.calibrated(read(Path(staff.WRITTEN).read_text(encoding="utf-8")), day)
    soonest = min(date.fromisoformat(one.calibration_due) for one in plan.instruments)
    assert day + timedelta(weeks=8) <= soonest
