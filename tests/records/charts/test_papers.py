"""Photos by their hash, the signature and what it covers, the regulator's initials, comparisons, and a day's charts."""

from __future__ import annotations

import uuid
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from records.charts.actions import (
    ComparedData,
    InitialsData,
    compare,
    copy_initials,
    keep_photo,
    sign_chart,
)
from records.charts.day import charts_for_day
from records.charts.models import ChartCompared, ChartFit, ChartOn, ChartPhoto, RegulatorInitials
from records.checks.photos import Photo
from records.deviations.errors import Refused
from records.deviations.models import Deviation, DeviationCause
from records.flow.errors import DifferentContent
from records.ledger import files
from records.ledger.actions import act
from records.ledger.models import Entry, FileKept
from tests.conftest import NOW, Plant
from tests.records.charts.made import HOUR, is_on, was_on

JPEG = b"\xff\xd8\xff\xe0 a front"
START, END = NOW - 12 * HOUR, NOW + 12 * HOUR


def photo(plant: Plant, chart: ChartOn, side: str = "front", data: bytes = JPEG, **changes: Any) -> ChartPhoto:
    """A photo of one side, by Ines."""
    form_id = changes.pop("form_id", uuid.uuid4())
    return keep_photo(plant.actor("ines"), chart.number, side, Photo(data, "a.jpg", "image/jpeg"), "", form_id)


def fitted(plant: Plant, kept: ChartPhoto, marked: dict[str, str] | None = None) -> ChartFit:
    """A fit of a photo, as marked."""
    row = ChartFit(form_id=uuid.uuid4(), chart=kept.chart, photo=kept.number, shape="circular", unit="°F")
    row.first_at, row.marks = NOW, {name: text for name, text in (marked or {}).items() if name != "unit"}
    with act(plant.actor("ines")) as a:
        return a.write(row)


def compared(kept: ChartPhoto, over: ChartFit, **changes: Any) -> ComparedData:
    """They agree."""
    values: dict[str, Any] = {"form_id": uuid.uuid4(), "chart": kept.chart, "photo": kept.number, "fit": over.number}
    values["outcome"] = "agree"
    return ComparedData(**(values | changes))


def test_photo_is_kept_by_its_hash(plant: Plant) -> None:
    """Its bytes, one entry for the file, and the chart and side that it shows."""
    row = photo(plant, is_on(plant.actor("ines")))
    assert files.read(row.file) == JPEG
    assert FileKept.objects.get(sha256=row.file).mime == "image/jpeg" and row.side == "front"


def test_photo_sent_twice_is_one(plant: Plant) -> None:
    """The same form; another photo under its id is refused."""
    chart, form_id = is_on(plant.actor("ines")), uuid.uuid4()
    first = photo(plant, chart, form_id=form_id)
    assert photo(plant, chart, form_id=form_id).number == first.number
    with pytest.raises(DifferentContent):
        photo(plant, chart, data=JPEG + b"another", form_id=form_id)
    with pytest.raises(Refused) as refused:
        photo(plant, chart, side="edge")
    assert refused.value.field == "side" and ChartPhoto.objects.count() == 1


def test_signature_covers_what_stood(plant: Plant) -> None:
    """What is added later is not under it, and the book says so; signing again covers it."""
    ines = plant.actor("ines")
    chart, gone = was_on(ines, NOW - 5 * HOUR, NOW)
    signed = sign_chart(ines, chart.number)
    assert signed.covers == [chart.number, gone.number]
    assert sign_chart(ines, chart.number).number == signed.number
    kept = photo(plant, chart)
    (day,) = charts_for_day(START, END)
    assert "the operator's signature under what was added or amended since" in day.missing
    assert sign_chart(ines, chart.number).covers == [chart.number, gone.number, kept.number]
    (day,) = charts_for_day(START, END)
    assert not [one for one in day.missing if "signature" in one] and day.signed == ("IA",)


def test_chart_that_is_on_is_not_signed(plant: Plant) -> None:
    """It is not finished."""
    with pytest.raises(Refused):
        sign_chart(plant.actor("ines"), is_on(plant.actor("ines")).number)


def initials(**changes: Any) -> InitialsData:
    """As they stand on chart 61."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(),
        "recorder": "T-12",
        "written_on": date(2026, 3, 2),
        "initials": "J.V.",
        "name": "J. Vane, state inspector (invented)",
        "accuracy": "12 h run: 3 min slow",
    }
    return InitialsData(**(values | changes))


def test_regulators_initials_are_copied_as_written(plant: Plant) -> None:
    """Quarter by the day written on; whoever copies them is not who gave them. Once a form."""
    data = initials()
    row = copy_initials(plant.actor("wren"), data)
    assert (row.year, row.quarter, row.initials, row.accuracy) == (2026, 1, "J.V.", "12 h run: 3 min slow")
    assert row.by_name == "Wren Castell"
    assert copy_initials(plant.actor("wren"), data).number == row.number
    with pytest.raises(DifferentContent):
        copy_initials(plant.actor("wren"), replace(data, accuracy="right"))


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"recorder": "T-11"}, "recorder"),
        ({"written_on": date(2026, 3, 4)}, "written_on"),
        ({"written_on": date(1926, 3, 4)}, "written_on"),
        ({"initials": " "}, "initials"),
        ({"name": ""}, "name"),
        ({"accuracy": ""}, "accuracy"),
        ({"chart": 1}, "chart"),
        ({"chart": -5}, "chart"),
    ],
)
def test_initials_that_cannot_be_are_refused(plant: Plant, changes: dict[str, Any], field: str) -> None:
    """Beside their field, nothing kept."""
    with pytest.raises(Refused) as refused:
        copy_initials(plant.actor("wren"), initials(**changes))
    assert refused.value.field == field and not RegulatorInitials.objects.exists()


def test_agreement_is_a_record_and_no_more(plant: Plant) -> None:
    """No deviation; the same form once."""
    chart, _gone = was_on(plant.actor("ines"), NOW - 5 * HOUR, NOW)
    kept = photo(plant, chart)
    data = compared(kept, fitted(plant, kept))
    assert compare(plant.actor("wren"), data).number == compare(plant.actor("wren"), data).number
    assert Deviation.objects.count() == 0 and charts_for_day(START, END)[0].compared == ("photo and trace agree",)


def test_disagreement_is_not_proven(plant: Plant) -> None:
    """A deviation at the recorder's control point, at the moment said."""
    chart, _gone = was_on(plant.actor("ines"), NOW - 5 * HOUR, NOW)
    kept = photo(plant, chart)
    data = compared(
        kept, fitted(plant, kept), outcome="disagree", disagree_at=NOW - HOUR, because="paper 158 °F, trace 162 °F"
    )
    row = compare(plant.actor("wren"), data)
    found = Deviation.objects.get()
    assert (found.cause, found.control_point, found.since_at) == ("not proven", "pasteurizing", NOW - HOUR)
    assert found.sentence == (
        "Press 1 recording: chart 61 and the stored trace disagree at 2026-03-03 08:30: paper 158 °F, trace 162 °F"
    )
    assert DeviationCause.objects.get().cause_number == row.number
    compare(plant.actor("wren"), data)
    assert DeviationCause.objects.count() == 1
    assert charts_for_day(START, END)[0].deviations == (found.number,)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"outcome": "maybe"}, "outcome"),
        ({"photo": 1}, "photo"),
        ({"fit": None}, ""),
        ({"fit": 1}, ""),
        ({"outcome": "disagree"}, "disagree_at"),
        ({"outcome": "disagree", "disagree_at": NOW - 6 * HOUR, "because": "x"}, "disagree_at"),
        ({"outcome": "disagree", "disagree_at": NOW + HOUR, "because": "x"}, "disagree_at"),
        ({"outcome": "disagree", "disagree_at": NOW - HOUR, "because": " "}, "because"),
    ],
)
def test_half_a_comparison_is_refused(plant: Plant, changes: dict[str, Any], field: str) -> None:
    """Beside its field, nothing kept."""
    chart, _gone = was_on(plant.actor("ines"), NOW - 5 * HOUR, NOW)
    kept = photo(plant, chart)
    data = compared(kept, fitted(plant, kept), **changes)
    before = Entry.objects.count()
    with pytest.raises(Refused) as refused:
        compare(plant.actor("wren"), data)
    assert refused.value.field == field
    assert Entry.objects.count() == before and not ChartCompared.objects.exists()


def test_day_has_the_charts_that_were_on_in_it(plant: Plant) -> None:
    """One that ended before, and one that begins after, are other days'."""
    ines = plant.actor("ines")
    was_on(ines, NOW - 30 * HOUR, NOW - 13 * HOUR)
    was_on(ines, NOW - 13 * HOUR, NOW - 2 * HOUR, unusual=True, unusual_words="power dip at 03:10")
    is_on(ines, chart_number="63")
    found = charts_for_day(START, END)
    assert [(one.chart_number, one.taken_off_at) for one in found] == [("61", NOW - 2 * HOUR), ("63", None)]
    assert found[0].unusual == "power dip at 03:10" and found[0].put_on_reading == "161.8 °F, T-11"
    assert found[0].clock == "right, against the tablet" and found[1].missing == ()
    assert [one.chart_number for one in charts_for_day(NOW - 31 * HOUR, NOW - 20 * HOUR)] == ["61"]


def test_day_reads_a_few_times_however_many_charts(
    plant: Plant, django_assert_max_num_queries: Any
) -> None:
    """About ten queries for ten charts."""
    ines = plant.actor("ines")
    for at in range(10):
        was_on(ines, NOW - timedelta(hours=11 - at), NOW - timedelta(hours=10 - at))
    with django_assert_max_num_queries(12):
        assert len(charts_for_day(START, END)) == 10
