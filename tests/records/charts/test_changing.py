"""A chart is put on, taken off, changed: kept once, with its indicating reading; nonsense is refused."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from records.charts import queries
from records.charts.actions import Indicated, change, put_on, take_off
from records.charts.models import ChartOff, ChartOn
from records.checks import queries as checks
from records.checks.models import Reading
from records.deviations.errors import Refused
from records.deviations.models import Deviation
from records.flow.errors import DifferentContent
from records.flow.models import PlantEvent
from records.ledger.models import Entry
from records.ledger.verify import verify
from tests.conftest import NOW, Plant
from tests.records.charts.made import HOUR, READ, in_force, is_on, off, on, without_instrument


def test_chart_put_on_is_named_as_the_rules_ask(plant: Plant) -> None:
    """Recorder, number, place, plant, span, moment, and the indicating reading as typed: ATCP 65.66(3)(a), (g), (j)."""
    row = is_on(plant.actor("ines"), put_on_at=NOW - HOUR)
    assert (row.recorder, row.recorder_name, row.place_name) == ("T-12", "Press 1 recording", "Press 1")
    assert (row.chart_number, row.shape, row.span_min) == ("61", "circular", 1440)
    assert row.plant_name == "Quillbrook Creamery"
    assert (row.typed, row.unit, row.value, row.instrument) == ("161.8", "°F", Decimal("161.8"), "T-11")
    assert row.observed_at == row.put_on_at == NOW - HOUR and row.by_initials == "IA"
    (chart,) = queries.on_now("T-12")
    assert chart.number == row.number and chart.span_ends_at == NOW + 23 * HOUR


def test_reading_of_a_change_is_among_the_readings(plant: Plant) -> None:
    """The plan asks nothing at a change here: it stands as a reading that nobody asked, at the same moment."""
    row = is_on(plant.actor("ines"), put_on_at=NOW - HOUR)
    assert row.reading is not None
    reading = Reading.objects.get(number=row.reading)
    assert (reading.typed, reading.instrument, reading.subject) == ("161.8", "T-11", "press-1")
    assert reading.observed_at == NOW - HOUR and reading.monitoring_key == ""


def test_change_is_one_act_with_one_reading(plant: Plant) -> None:
    """Off and on at one moment; a change is no second chart, and one event of a chart change stands in the flow."""
    ines = plant.actor("ines")
    first = is_on(ines, put_on_at=NOW - 20 * HOUR)
    data = on(chart_number="62")
    done = change(ines, off(first, form_id=data.form_id), data)
    assert done.off.act == done.on.act and done.off.reading == done.on.reading
    assert (done.off.typed, done.on.typed, done.on.replaces) == ("161.8", "161.8", first.number)
    assert [one.on.chart_number for one in queries.on_now()] == ["62"]
    assert Deviation.objects.count() == 0
    assert done.on.event is not None
    event = PlantEvent.objects.get(number=done.on.event)
    assert (event.event, event.subject, event.observed_at) == ("chart change", "press-1", NOW)


def test_change_answers_the_plans_check_of_it(plant: Plant) -> None:
    """What the plan asks at a chart change is answered by the reading that was typed once."""
    in_force(plant)
    ines = plant.actor("ines")
    first = is_on(ines)
    plant.clock.on(hours=10)
    data = on(chart_number="62")
    done = change(ines, off(first, form_id=data.form_id), data)
    due = checks.due_between(NOW, NOW + 11 * HOUR, NOW + 11 * HOUR, keys=["chart-change"])
    assert [(one.state, one.reading and one.reading.number) for one in due] == [
        ("on time", first.reading),
        ("on time", done.on.reading),
    ]
    assert Reading.objects.filter(monitoring_key="chart-change").count() == 2


def test_older_change_that_nobody_answered_stays_open(plant: Plant) -> None:
    """The reading answers its own change, not an earlier one that is still due."""
    in_force(plant)
    ines = plant.actor("ines")
    first = is_on(ines, indicated=Indicated(not_taken="steam in the way"))
    plant.clock.on(minutes=3)
    data = on(chart_number="62")
    done = change(ines, off(first, form_id=data.form_id), data)
    early, late = checks.due_between(NOW, NOW + HOUR, NOW + HOUR / 10, keys=["chart-change"])
    assert early.reading is not None and early.reading.not_taken == "steam in the way"
    assert late.reading is not None and late.reading.number == done.on.reading


def test_not_taken_needs_its_reason_and_is_kept(plant: Plant) -> None:
    """'I could not take it' is an answer; silence is not."""
    row = is_on(plant.actor("ines"), indicated=Indicated(not_taken="the thermometer is out for calibration"))
    assert (row.typed, row.value, row.not_taken) == ("", None, "the thermometer is out for calibration")
    with pytest.raises(Refused) as refused:
        is_on(plant.actor("ines"), chart_number="62", indicated=Indicated())
    assert refused.value.field == "typed"


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"recorder": "T-11"}, "recorder"),
        ({"recorder": "nowhere"}, "recorder"),
        ({"chart_number": "  "}, "chart_number"),
        ({"shape": "square"}, "shape"),
        ({"span_typed": ""}, "span_typed"),
        ({"span_typed": "0"}, "span_typed"),
        ({"span_typed": "a day"}, "span_typed"),
        ({"span_typed": "24.001"}, "span_typed"),
        ({"span_typed": "745"}, "span_typed"),
        ({"put_on_at": NOW + timedelta(minutes=3)}, "put_on_at"),
        ({"indicated": replace(READ, typed="hot")}, "typed"),
        ({"indicated": replace(READ, typed="1618")}, "typed"),
        ({"indicated": replace(READ, unit="psi")}, "instrument"),
        ({"indicated": without_instrument(READ)}, "instrument"),
        ({"indicated": replace(READ, instrument="T-99")}, "instrument"),
        ({"indicated": replace(READ, not_taken="both")}, "not_taken"),
    ],
)
def test_nonsense_is_refused_beside_its_field_and_nothing_is_kept(
    plant: Plant, changes: dict[str, Any], field: str
) -> None:
    """Not a recorder, no number, no span, a time to come, a reading that cannot be."""
    before = Entry.objects.count()
    with pytest.raises(Refused) as refused:
        put_on(plant.actor("ines"), on(**changes))
    assert refused.value.field == field
    assert Entry.objects.count() == before


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"overlapped": None}, "overlapped"),
        ({"unusual": None}, "unusual"),
        ({"unusual": True, "unusual_words": " "}, "unusual_words"),
        ({"clock_right": False, "clock_words": ""}, "clock_words"),
        ({"clock_right": True, "clock_against": ""}, "clock_against"),
        ({"taken_off_at": NOW - 3 * HOUR}, "taken_off_at"),
        ({"taken_off_at": NOW + HOUR}, "taken_off_at"),
        ({"chart": 10**30}, "chart"),
        ({"chart": 1}, "chart"),
    ],
)
def test_half_an_end_is_refused_beside_its_field(plant: Plant, changes: dict[str, Any], field: str) -> None:
    """What was seen is said; an end before the beginning, or of no chart, is none."""
    chart = is_on(plant.actor("ines"), put_on_at=NOW - 2 * HOUR)
    before = Entry.objects.count()
    with pytest.raises(Refused) as refused:
        take_off(plant.actor("ines"), replace(off(chart), **changes))
    assert refused.value.field == field
    assert Entry.objects.count() == before


def test_same_form_again_is_the_same_chart(plant: Plant) -> None:
    """A repeat writes nothing; with other content it is refused and what was saved stands."""
    ines = plant.actor("ines")
    data = on()
    first = put_on(ines, data)
    before = Entry.objects.count()
    assert put_on(ines, data).number == first.number
    for other in (
        replace(data, chart_number="62"),
        replace(data, indicated=replace(READ, typed="162.0")),
        replace(data, indicated=replace(READ, instrument="H-01")),
        replace(data, span_typed="12"),
    ):
        with pytest.raises(DifferentContent):
            put_on(ines, other)
    gone = off(first)
    assert take_off(ines, gone).number == take_off(ines, gone).number
    with pytest.raises(DifferentContent):
        take_off(ines, replace(gone, products="Cream, 20 gal"))
    assert Entry.objects.count() == before + 2  # the reading and the end


def test_change_sent_again_is_the_same_change(plant: Plant) -> None:
    """Both rows once."""
    ines = plant.actor("ines")
    data = on(chart_number="62")
    gone = off(is_on(ines), form_id=data.form_id)
    done = change(ines, gone, data)
    before = Entry.objects.count()
    again = change(ines, gone, data)
    assert (again.on.number, again.off.number) == (done.on.number, done.off.number)
    with pytest.raises(DifferentContent):
        change(ines, replace(gone, overlapped=True), data)
    assert Entry.objects.count() == before


def test_chart_that_is_off_comes_off_no_second_time(plant: Plant) -> None:
    """The second person is told who was first; nothing is written."""
    chart = is_on(plant.actor("ines"))
    first = take_off(plant.actor("ines"), off(chart))
    with pytest.raises(Refused, match=f"Ines Alder recorded \\(entry {first.number}\\)"):
        take_off(plant.actor("tomas"), off(chart))
    assert ChartOff.objects.count() == 1


def test_paper_that_is_on_is_not_put_on_again(plant: Plant) -> None:
    """Two people at one chart: the second is told that it is on."""
    is_on(plant.actor("ines"))
    with pytest.raises(Refused) as refused:
        is_on(plant.actor("tomas"))
    assert refused.value.field == "chart_number" and ChartOn.objects.count() == 1


def test_older_paper_of_the_same_number_is_kept(plant: Plant) -> None:
    """Plants that number by weekday: last week's chart, recorded late, is another paper."""
    is_on(plant.actor("ines"))
    older = is_on(plant.actor("ines"), put_on_at=NOW - 7 * 24 * HOUR)
    take_off(plant.actor("ines"), off(older, taken_off_at=NOW - 6 * 24 * HOUR))
    assert ChartOn.objects.count() == 2 and Deviation.objects.count() == 0


def test_ledger_holds_with_charts_in_it(plant: Plant) -> None:
    """All of it is verified from the rows."""
    ines = plant.actor("ines")
    chart = is_on(ines, put_on_at=NOW - 30 * HOUR)
    take_off(ines, off(chart, overlapped=True))
    assert verify().good
