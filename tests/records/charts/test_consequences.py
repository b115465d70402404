"""A chart past its span, a second one, overlapped traces, a disagreement: a deviation, once, and what it reaches.

Not used past the time it is made for, no overlapped traces: 1 NYCRR 3.27(a) and 2.48(a), texts consulted.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from plant.hazard_plan.content import ControlPointDef
from records.charts import recorders, watch
from records.charts.actions import change, put_on, take_off
from records.charts.models import ChartPastSpan
from records.deviations.actions import close, write_part
from records.deviations.holds import propose_disposition, sign_disposition
from records.deviations.models import Deviation, DeviationCause, DeviationClosing, Hold
from records.deviations.queries import PARTS, open_holds
from records.ledger.models import Entry
from tests.conftest import NOW, Plant
from tests.factories import small_plan
from tests.records.charts.made import HOUR, is_on, off, on, plan_of_charts, was_on
from tests.records.flow.made import made_ready, moved, ran
from tests.records.judging.made import in_force as as_in_force
from tests.records.judging.made import quillbrook

MINUTE = timedelta(minutes=1)


def milk_through(plant: Plant, started_at: datetime) -> None:
    """300 gal through the press for half an hour."""
    made_ready(plant.actor("ines"), started_at - HOUR)
    moved(plant.actor("ines"), started_at=started_at - HOUR)
    ran(plant.actor("ines"), started_at=started_at)


def test_chart_within_its_span_is_no_deviation(plant: Plant) -> None:
    """Exactly the 24 h that it is made for."""
    was_on(plant.actor("ines"), NOW - 24 * HOUR, NOW)
    assert Deviation.objects.count() == 0 and ChartPastSpan.objects.count() == 0


def test_chart_taken_off_a_minute_late_is_a_deviation(plant: Plant) -> None:
    """Its sentence names recorder, chart, span and moment; the control point is that of the check naming T-12."""
    _on, gone = was_on(plant.actor("ines"), NOW - 24 * HOUR - MINUTE, NOW)
    past = ChartPastSpan.objects.get()
    found = Deviation.objects.get()
    assert (found.control_point, found.subject, found.cause, found.weight) == (
        "pasteurizing", "T-12", "legal rule", "legal",
    )  # fmt: skip
    assert found.sentence == (
        "Press 1 recording: chart 61 ran past the 24 h that it is made for, from 2026-03-03 09:29 on"
    )
    assert found.act == past.act == gone.act and past.by_initials == "IA"
    assert found.since_at == past.span_ended_at == NOW - MINUTE


def test_watch_notices_a_chart_left_on_once(plant: Plant) -> None:
    """However often it looks, and not again when the chart comes off."""
    chart = is_on(plant.actor("ines"), put_on_at=NOW - 23 * HOUR)
    watch.look()
    assert ChartPastSpan.objects.count() == 0
    plant.clock.on(hours=1, minutes=1)
    assert watch.look() == {"chart past span": 1}
    written = Entry.objects.count()
    plant.clock.on(minutes=1)
    assert watch.look() == {"chart past span": 0}
    assert Entry.objects.count() == written
    take_off(plant.actor("ines"), off(chart))
    assert ChartPastSpan.objects.get().by_name == "the watch"
    assert Deviation.objects.count() == 1 and DeviationCause.objects.count() == 1


def test_what_runs_while_the_chart_stays_on_is_held(plant: Plant) -> None:
    """Not only what had run when the watch noticed it."""
    ines = plant.actor("ines")
    chart = is_on(ines, put_on_at=NOW - 25 * HOUR)
    watch.look()
    assert Deviation.objects.count() == 1 and not Hold.objects.exists()
    plant.clock.on(hours=2)
    milk_through(plant, plant.clock() - HOUR)
    watch.look()
    assert [one.lot_label for one in open_holds()] == ["Finished 1, Whole milk, since 2026-03-03 10:30"]
    take_off(ines, off(chart))
    assert open_holds().count() == 1 and Deviation.objects.filter(subject="T-12").count() == 1


def test_what_ran_between_is_not_held(plant: Plant) -> None:
    """Six hours late: the first six and the last six prove nothing, the twelve in between do."""
    milk_through(plant, NOW - 15 * HOUR)
    was_on(plant.actor("ines"), NOW - 30 * HOUR, NOW)
    assert Deviation.objects.count() == 1 and not Hold.objects.exists()


def test_run_written_over_at_the_charts_beginning_is_held(plant: Plant) -> None:
    """Its own trace lies under the later one."""
    milk_through(plant, NOW - 29 * HOUR)
    was_on(plant.actor("ines"), NOW - 30 * HOUR, NOW)
    assert Hold.objects.exists()


def test_second_chart_while_the_first_is_on(plant: Plant) -> None:
    """Kept, and a deviation; a third joins it as a further cause."""
    is_on(plant.actor("ines"), put_on_at=NOW - 2 * HOUR)
    is_on(plant.actor("tomas"), chart_number="62", put_on_at=NOW - HOUR)
    found = Deviation.objects.get()
    assert found.sentence == (
        "Press 1 recording: chart 62 was put on while chart 61 of 2026-03-03 07:30 was still on"
    )
    is_on(plant.actor("tomas"), chart_number="63")
    assert Deviation.objects.count() == 1 and DeviationCause.objects.filter(deviation=found.number).count() == 2


def test_first_chart_recorded_late_shows_the_second_when_it_comes_off(plant: Plant) -> None:
    """The end reveals what the beginning could not; once for both."""
    ines = plant.actor("ines")
    later = is_on(ines, chart_number="62", put_on_at=NOW - HOUR)
    earlier = is_on(ines, put_on_at=NOW - 3 * HOUR)
    assert Deviation.objects.count() == 0
    take_off(ines, off(earlier, taken_off_at=NOW - HOUR / 2))
    assert Deviation.objects.get().sentence == (
        "Press 1 recording: chart 61 came off after chart 62 had been put on at 2026-03-03 08:30"
    )
    take_off(ines, off(later))
    assert DeviationCause.objects.count() == 1


def test_overlapped_traces_hold_all_that_ran_under_the_chart(plant: Plant) -> None:
    """Nobody says where they overlap: the whole chart proves nothing."""
    milk_through(plant, NOW - 15 * HOUR)
    _on, gone = was_on(plant.actor("ines"), NOW - 20 * HOUR, NOW, overlapped=True)
    found = Deviation.objects.get()
    assert found.sentence == "Press 1 recording: the traces on chart 61 overlap"
    assert DeviationCause.objects.get().cause_number == gone.number
    assert Hold.objects.get().deviation == found.number


def test_change_of_a_chart_past_its_span(plant: Plant) -> None:
    """The old one's deviation, none for the new one."""
    ines = plant.actor("ines")
    first = is_on(ines, put_on_at=NOW - 25 * HOUR)
    data = on(chart_number="62")
    change(ines, off(first, form_id=data.form_id), data)
    assert Deviation.objects.count() == 1 and DeviationCause.objects.count() == 1


def closed(plant: Plant, deviation: Deviation) -> None:
    """Everything written, held product disposed of, closed by somebody who made none of its records."""
    for part in PARTS:
        write_part(plant.actor("odile"), deviation, part, "done", on().form_id)
    write_part(plant.actor("odile"), deviation, "reanalysis", "no", on().form_id)
    for hold in open_holds().filter(deviation=deviation.number):
        said = propose_disposition(plant.actor("odile"), hold, "destroy", "gone")
        sign_disposition(plant.actor("hanne"), said)
    close(plant.actor("odile"), deviation, "closed")


def test_chart_left_on_after_its_deviation_was_closed(plant: Plant) -> None:
    """The watch is not heard again; the chart's end says that it went on, and opens another."""
    chart = is_on(plant.actor("ines"), put_on_at=NOW - 25 * HOUR)
    watch.look()
    closed(plant, Deviation.objects.get())
    plant.clock.on(hours=1)
    watch.look()
    assert Deviation.objects.count() == 1
    take_off(plant.actor("ines"), off(chart))
    assert Deviation.objects.count() == 2 and DeviationClosing.objects.count() == 1


def test_control_point_is_that_of_the_traced_row() -> None:
    """Of the plan's own rows: the recorder at the press, the cooled product, a tank."""
    plan = quillbrook()
    found = [recorders.control_point_of(code, plan) for code in ("tr-press-1", "tr-press-out", "tr-silo-a")]
    assert [one and one.key for one in found] == ["ccp-temperature", "ccp-cold", "ccp-raw-cold"]


def test_control_point_without_a_traced_row() -> None:
    """A check that names the recorder, of operating before others; else that of the chart change; else none."""
    bare = small_plan(traced=())
    assert recorders.control_point_of("T-12", as_in_force(bare)) is not None
    naming = replace(bare.monitoring[3], key="chart-ends", control_point="records")
    records = ControlPointDef("records", "Chart and run records", "operating", "pasteurizing")
    with_records = replace(
        bare, control_points=(*bare.control_points, records), monitoring=(*bare.monitoring, naming)
    )
    found = recorders.control_point_of("T-12", as_in_force(with_records))
    assert found is not None and found.key == "records"
    change_only = replace(
        plan_of_charts(), traced=(), monitoring=(*bare.monitoring[:3], plan_of_charts().monitoring[-1])
    )
    found = recorders.control_point_of("T-12", as_in_force(change_only))
    assert found is not None and found.key == "records"
    assert recorders.control_point_of("T-12", as_in_force(replace(bare, monitoring=bare.monitoring[:3]))) is None


def test_recorders_of_the_invented_plant() -> None:
    """Those that write on paper, and what is read beside them; signals and gauges that only show are none."""
    plan = quillbrook()
    found = {one.code: recorders.usual_indicator(one, plan) for one in recorders.recorders(plan)}
    assert {code: one and one.code for code, one in found.items()} == {
        "tr-press-1": "ti-press-1",
        "tr-press-out": None,  # two show °F at the press and no check names either beside it: the person says which
        "pr-press-1": "pd-press-1",
        "tr-silo-a": "ti-silo-a",
        "tr-finished-1": "ti-finished-1",
        "tr-finished-2": "ti-finished-2",
        "tr-cip": "ti-cip",  # the washing station's conductivity and flow are traced, and write on no paper
    }


@pytest.mark.parametrize("hours", ["12", "24", "168"])
def test_each_span_ends_when_it_says(plant: Plant, hours: str) -> None:
    """12 h, 24 h, 7 days."""
    put_on(plant.actor("ines"), on(span_typed=hours, put_on_at=NOW - int(hours) * HOUR))
    assert watch.look() == {}
    plant.clock.on(seconds=1)
    assert watch.look() == {"chart past span": 1}
