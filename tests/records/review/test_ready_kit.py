"""The residue kit's controls on the Ready page: wanted before the first load, late or not, until right today."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.urls import reverse

from plant import clock
from plant.hazard_plan.content import AnswerDef, ControlPointDef, EquipmentDef, FrequencyDef, LimitDef, MonitoringDef
from records.checks.actions import record_reading
from records.checks.entry import ReadingData
from records.review.ready_lines import AGAINST, LATE, UNKNOWN
from tests.conftest import NOW, Plant
from tests.factories import INVENTED, control_points, limits, monitoring, small_plan
from tests.records.charts.made import in_force
from tests.records.review.test_ready import lines

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)
START = NOW.replace(hour=11, minute=0)  # 05:00 in Chicago
WHAT = "Negative and positive control right"


MORNING = FrequencyDef("each_shift", at=("+00:30",), shifts=("early",))


def control(frequency: FrequencyDef, **changes: Any) -> MonitoringDef:
    """A check of the kit on the bench, from an hour before to an hour after it is due on time."""
    values: dict[str, Any] = {"missed_after": "shift end", "early_min": 60, "grace_min": 60, "key": "controls"}
    values |= {"what": f"{WHAT}?"} | changes
    return MonitoringDef(
        control_point="residue", subjects=("bench",), how="Run both.", role="operator", answer=AnswerDef("yes_no"),
        frequency=frequency, limits=("right",), corrective_action="A new kit.", **values,
    )  # fmt: skip


@pytest.fixture
def bench(plant: Plant) -> Plant:
    """A plan that asks for both controls of the kit at 05:30, and may have them from 04:30; it is 05:00."""
    return with_controls(plant, control(MORNING))


def with_controls(plant: Plant, *checks: MonitoringDef) -> Plant:
    """That plan, with these controls; 05:00."""
    plant.at(START - 2 * HOUR)
    load = MonitoringDef(
        "screen", "residue", (), "Screen of the tanker", "Run the kit.", "operator", AnswerDef("yes_no"),
        FrequencyDef("each_event", event="tanker"), ("right",), corrective_action="Hold it.",
    )  # fmt: skip
    point = ControlPointDef(
        "residue", "Drug residues", "ccp", clause="PMO Appendix N", reaches_product=True, bars_release="residue"
    )
    right = LimitDef("right", "controls", "the plant's own", INVENTED, wanted=("yes",))
    plan = small_plan(
        equipment=(*small_plan().equipment, EquipmentDef("bench", "Bench", "laboratory", walk_order=8)),
        control_points=(*control_points(), point), monitoring=(*monitoring(), *checks, load),
        limits=(*limits(), right),
    )  # fmt: skip
    in_force(plant, plan)
    plant.at(START)
    return plant


def answered(plant: Plant, typed: str, key: str = "controls") -> None:
    """Both controls, now."""
    said = {"typed": typed} if typed else {"typed": "", "not_taken": "the kit has not come"}
    data = ReadingData(
        form_id=uuid.uuid4(), monitoring_key=key, subject="bench", observed_at=clock.now(), **said
    )
    record_reading(plant.actor("ines"), data)


def told(kind: str) -> list[str]:
    """What the page says of the controls now, of a kind."""
    return [one for one in lines("", kind) if WHAT in one and not one.startswith("Deviation")]


def test_it_stands_there_before_it_is_due_and_then_as_late_once(bench: Plant) -> None:
    """One line always: nothing recorded, with the plan's clause; late with the time it was due."""
    said = f"{WHAT}: nothing recorded today; wanted before the first load is screened (PMO Appendix N)"
    assert told(UNKNOWN) == [said] and told(LATE) == []
    bench.at(START + 40 * timedelta(minutes=1))
    assert told(UNKNOWN) == [said]
    bench.at(START + 2 * HOUR)
    assert told(LATE) == [
        f"{WHAT}: nothing recorded today, due 05:30; wanted before the first load is screened (PMO Appendix N)"
    ]
    assert told(UNKNOWN) == told(AGAINST) == []


@pytest.mark.parametrize("minutes", [-25, 0, 30, 600])
def test_right_today_takes_the_line_away_and_not_for_tomorrow(bench: Plant, minutes: int) -> None:
    """From the minutes that the plan has it early; the next morning it is asked again."""
    bench.at(START + minutes * timedelta(minutes=1))
    answered(bench, "yes")
    assert told(UNKNOWN) == told(LATE) == told(AGAINST) == []
    bench.at(START + 24 * HOUR)
    assert len(told(UNKNOWN)) == 1


@pytest.mark.parametrize(("typed", "word"), [("no", "out of limits"), ("", "not proven")])
def test_wrong_or_not_run_stands_against_it(bench: Plant, typed: str, word: str) -> None:
    """Until they were repeated and right."""
    answered(bench, typed)
    (line,) = told(AGAINST)
    assert word in line and "no screen of a load counts until they are right (PMO Appendix N)" in line
    bench.at(START + 20 * timedelta(minutes=1))
    answered(bench, "yes")
    assert told(AGAINST) == told(UNKNOWN) == []


def test_the_line_leads_an_operator_to_the_check_and_nobody_else(
    bench: Plant, client_for: Callable[..., Client]
) -> None:
    """To the due check itself, and back."""
    page = client_for(bench.people.ines).get(reverse("records:ready"))
    (link,) = [one for one in page.content.decode().split('href="') if one.startswith("/round/") and "controls" in one]
    address = link.split('"')[0].replace("&amp;", "&")
    assert client_for(bench.people.ines).get(address).status_code == 200 and "next=" in address
    assert "controls%7Cbench" not in client_for(bench.people.guest).get(reverse("records:ready")).content.decode()


@pytest.mark.parametrize(("on_its_day", "lines_then"), [(False, 0), (True, 1)])
def test_one_of_a_month_is_asked_for_on_its_day(plant: Plant, on_its_day: bool, lines_then: int) -> None:
    """On another day the page says nothing of it, though nobody recorded it today."""
    today = START.astimezone(ZoneInfo("America/Chicago")).day
    rule = f"FREQ=MONTHLY;BYMONTHDAY={today if on_its_day else today % 28 + 1}"
    monthly = FrequencyDef("calendar", rule=rule, at=("15:00",), start=f"{START - 400 * 24 * HOUR:%Y-%m-%d}")
    with_controls(plant, control(monthly, missed_after="day end"))
    assert len(told(UNKNOWN)) == lines_then and told(LATE) == []


def test_one_of_a_month_lends_its_early_days_to_no_other(plant: Plant) -> None:
    """The monthly may be three days early; yesterday's daily controls are not today's for that."""
    monthly = FrequencyDef("calendar", rule="FREQ=YEARLY;BYMONTH=1;BYMONTHDAY=1", at=("15:00",), start="2020-01-01")
    yearly = control(monthly, key="yearly", what="Kit compared", early_min=3 * 1440, missed_after="day end")
    with_controls(plant, control(MORNING), yearly)
    answered(plant, "yes")
    assert told(UNKNOWN) == []
    plant.at(START + 24 * HOUR)
    assert len(told(UNKNOWN)) == 1


@pytest.mark.parametrize("first", ["yes", "no"])
def test_the_second_control_of_a_day_is_late_whatever_the_first_said(plant: Plant, first: str) -> None:
    """Asked at 05:30 and 09:30: the first recorded, the second late at 10:31 until it is answered."""
    with_controls(plant, control(FrequencyDef("each_shift", at=("+00:30", "+04:30"), shifts=("early",))))
    answered(plant, first)
    plant.at(START + 5 * HOUR)
    assert told(LATE) == []
    plant.at(START + 5 * HOUR + 31 * timedelta(minutes=1))
    assert told(LATE) == [f"{WHAT}, due 09:30, is late"]
    assert len(told(AGAINST)) == (first == "no") and told(UNKNOWN) == []
    answered(plant, "yes")
    assert told(LATE) == told(AGAINST) == []


def test_a_plan_without_a_residue_point_has_no_such_line(plant: Plant) -> None:
    """The small plan tests no loads."""
    assert told(UNKNOWN) == told(AGAINST) == []
