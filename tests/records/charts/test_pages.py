"""The pages of charts: they record what was typed, refuse beside the field and keep it, and say what is missing."""

from __future__ import annotations

import math
import re
import uuid
from collections.abc import Callable
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from records.charts import queries
from records.charts.actions import keep_photo, sign_chart
from records.charts.models import (
    ChartCompared,
    ChartFit,
    ChartOff,
    ChartOn,
    ChartPhoto,
    ChartSigned,
    RegulatorInitials,
)
from records.checks.photos import Photo
from records.checks.queries import round_at
from records.deviations.models import Deviation
from records.flow.actions import EventData, record_event
from records.ledger.models import Entry
from tests.conftest import NOW, Plant
from tests.records.charts.drawn import chart_png, marks
from tests.records.charts.made import HOUR, in_force, is_on, was_on
from tests.records.deviations.made import signed_by
from tests.records.traces.made_traces import kept, samples

ON = {
    "changed_at": "2026-03-03T09:30", "typed": "161.8", "unit": "°F", "instrument": "T-11", "not_taken": "",
    "chart_number": "62", "span": "24", "strip_hours": "", "note": "",
}  # fmt: skip
OFF = {
    "changed_at": "2026-03-03T09:30", "typed": "161.8", "unit": "°F", "instrument": "T-11", "not_taken": "",
    "products": "Whole milk, 300 gal", "unusual": "no", "unusual_words": "", "overlapped": "no", "clock_right": "yes",
    "clock_against": "the tablet", "clock_words": "", "note": "",
}  # fmt: skip


@pytest.fixture
def ines(plant: Plant, client_for: Callable[..., Client]) -> Client:
    """An operator's browser."""
    return client_for(plant.people.ines)


@pytest.fixture
def wren(plant: Plant, client_for: Callable[..., Client]) -> Client:
    """A supervisor's browser."""
    return client_for(plant.people.wren)


def address(name: str, *parts: int) -> str:
    """Of a page of charts."""
    return reverse(f"records:{name}", args=parts)


def send(client: Client, at: str, said: dict[str, Any]) -> HttpResponse:
    """A form with an id of its own."""
    answer: HttpResponse = client.post(at, {"form_id": str(uuid.uuid4()), **said})  # type: ignore[assignment]
    return answer


def text_of(answer: Any) -> str:
    """The page as text."""
    return " ".join(answer.content.decode().split())


def photographed(plant: Plant, chart: ChartOn, data: bytes | None = None) -> ChartPhoto:
    """The drawn chart's photo, by Ines."""
    photo = Photo(chart_png() if data is None else data, "chart.png", "image/png")
    return keep_photo(plant.actor("ines"), chart.number, "front", photo, "", uuid.uuid4())


# --- putting on, taking off, changing


def test_chart_is_put_on_from_its_page(ines: Client) -> None:
    """Which recorder, then the form with the usual instrument chosen; then it stands on the list."""
    assert "T-12 Press 1 recording" in text_of(ines.get(address("chart-new")))
    shown = text_of(ines.get(address("chart-new") + "?recorder=T-12"))
    assert 'value="T-11" selected' in shown
    answer = send(ines, address("chart-new") + "?recorder=T-12", ON)
    (row,) = ChartOn.objects.all()
    assert answer.status_code == 302 and answer.headers["Location"] == address("chart", row.number)
    assert (row.chart_number, row.span_min, row.typed, row.instrument) == ("62", 1440, "161.8", "T-11")
    listed = text_of(ines.get(address("charts")))
    assert "on since 2026-03-03 09:30 (IA), circular, 24 h, made to run until 2026-03-04 09:30" in listed


def test_strip_says_its_own_hours(ines: Client) -> None:
    """Hours belong to a strip alone, and a strip needs them."""
    at = address("chart-new") + "?recorder=T-12"
    assert "Hours belong to a strip." in text_of(send(ines, at, ON | {"strip_hours": "30"}))
    assert "Enter the hours that the chart is made for." in text_of(send(ines, at, ON | {"span": "strip"}))
    wrong = send(ines, at, ON | {"span": "strip", "strip_hours": "9999"})
    assert wrong.status_code == 422 and "up to 744" in text_of(wrong)
    assert not ChartOn.objects.exists()
    send(ines, at, ON | {"span": "strip", "strip_hours": "62.5"})
    row = ChartOn.objects.get()
    assert (row.shape, row.span_typed, row.span_min) == ("strip", "62.5", 3750)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"typed": "hot"}, "id_typed_error"),
        ({"typed": "1618"}, "outside what T-11 can show"),
        ({"typed": ""}, "Enter what the indicating instrument showed"),
        ({"instrument": ""}, "Choose the instrument that was read."),
        ({"changed_at": "2026-03-03T10:30"}, "That time is still to come"),
        ({"chart_number": ""}, "id_chart_number_error"),
        ({"span": ""}, "id_span_error"),
        ({"not_taken": "no light"}, "There is a reading above."),
    ],
)
def test_wrong_form_keeps_what_was_typed(ines: Client, changes: dict[str, str], sentence: str) -> None:
    """The sentence stands beside its field, the note is still there, nothing is kept."""
    before = Entry.objects.count()
    answer = send(ines, address("chart-new") + "?recorder=T-12", ON | {"note": "wet"} | changes)
    shown = text_of(answer)
    assert answer.status_code == 422 and sentence in shown and "wet" in shown
    assert Entry.objects.count() == before


def test_second_chart_is_warned_of_and_kept(plant: Plant, ines: Client) -> None:
    """The page says that one is on and offers the change; the fact is recorded and its deviation told."""
    is_on(plant.actor("ines"), put_on_at=NOW - HOUR)
    assert "The book says that chart 61 is on since" in text_of(ines.get(address("chart-new") + "?recorder=T-12"))
    answer = ines.post(
        address("chart-new") + "?recorder=T-12", {"form_id": str(uuid.uuid4()), **ON}, follow=True
    )
    assert "Deviation" in text_of(answer) and ChartOn.objects.count() == 2 and Deviation.objects.count() == 1


def test_chart_is_changed_with_one_reading(plant: Plant, ines: Client) -> None:
    """One form, one number; both rows have it."""
    chart = is_on(plant.actor("ines"), put_on_at=NOW - 10 * HOUR)
    answer = ines.post(address("chart-change", chart.number), {"form_id": str(uuid.uuid4()), **OFF, **ON}, follow=True)
    assert "Photograph this one, both sides, and sign it." in text_of(answer)
    gone, new = ChartOff.objects.get(), ChartOn.objects.get(chart_number="62")
    assert gone.reading == new.reading and new.replaces == chart.number and not Deviation.objects.exists()


def test_chart_taken_off_late_says_so(plant: Plant, ines: Client) -> None:
    """Before it is sent, and after."""
    chart = is_on(plant.actor("ines"), put_on_at=NOW - 25 * HOUR)
    assert "It ran past the time it is made for" in text_of(ines.get(address("chart-off", chart.number)))
    answer = ines.post(address("chart-off", chart.number), {"form_id": str(uuid.uuid4()), **OFF}, follow=True)
    shown = text_of(answer)
    assert "ran past the 24 h that it is made for" in shown and "It ran past its time from 2026-03-03 08:30 on" in shown
    told = text_of(ines.get(reverse("records:deviation", args=[Deviation.objects.get().number])))
    assert "Press 1 recording: chart 61 ran past the 24 h" in told and "a legal rule was broken" in told


def test_same_form_with_other_words_shows_what_was_saved(plant: Plant, ines: Client) -> None:
    """The back button changes nothing."""
    chart = is_on(plant.actor("ines"))
    said = {"form_id": str(uuid.uuid4()), **OFF}
    ines.post(address("chart-off", chart.number), said)
    assert ines.post(address("chart-off", chart.number), said).status_code == 302
    answer = ines.post(address("chart-off", chart.number), said | {"products": "Cream"})
    assert answer.status_code == 422 and "Saved before as entry" in text_of(answer)
    assert ChartOff.objects.get().products == "Whole milk, 300 gal"


# --- one chart


def test_page_names_what_is_missing(plant: Plant, ines: Client) -> None:
    """Of a chart that came off half written."""
    chart, _gone = was_on(plant.actor("ines"), NOW - 5 * HOUR, NOW, products="", clock_right=None, clock_against="")
    shown = text_of(ines.get(address("chart", chart.number)))
    for words in (
        "name and amount of each run&#x27;s product", "whether its clock was right", "a photo of the front",
        "a photo of the back", "the operator&#x27;s signature",
    ):  # fmt: skip
        assert f"<li>{words}</li>" in shown


def test_page_shows_the_reading_as_amended(plant: Plant, ines: Client) -> None:
    """The reading is amended where readings are; the chart's page shows both."""
    from records.checks.actions import amend_reading
    from records.checks.entry import ReadingData

    chart = is_on(plant.actor("ines"))
    assert chart.reading is not None
    data = ReadingData(uuid.uuid4(), "press-1", typed="162.8", unit="°F", instrument="T-11", what="slip")
    amend_reading(plant.actor("ines"), chart.reading, data, "slip of the finger", day_closed=False)
    shown = text_of(ines.get(address("chart", chart.number)))
    assert '<strong class="number struck">161.8 °F, T-11</strong>' in shown and "162.8" in shown


def test_list_finds_charts_by_recorder_and_day(plant: Plant, ines: Client) -> None:
    """What was on on another day is not among them; nonsense shows all."""
    was_on(plant.actor("ines"), NOW - 50 * HOUR, NOW - 27 * HOUR)
    for query, found in (("", True), ("?day=2026-03-01", True), ("?day=2026-03-02", False), ("?day=x", True)):
        assert ("2026-03-01 07:30" in text_of(ines.get(address("charts") + query))) == found, query
    assert "2026-03-01 07:30" in text_of(ines.get(address("charts") + "?recorder=T-12"))


def test_inspector_reads_and_writes_nothing(plant: Plant, client_for: Callable[..., Client]) -> None:
    """No link to a page that refuses."""
    chart, _gone = was_on(plant.actor("ines"), NOW - 5 * HOUR, NOW)
    guest = client_for(plant.people.guest)
    for at in (address("charts"), address("chart", chart.number)):
        shown = text_of(guest.get(at))
        assert "/change/" not in shown and "/sign/" not in shown and "/charts/new/" not in shown
    assert guest.post(address("chart-off", chart.number), OFF).status_code == 403


def test_reading_pages_write_nothing(plant: Plant, ines: Client) -> None:
    """GET changes nothing."""
    chart, _gone = was_on(plant.actor("ines"), NOW - 5 * HOUR, NOW)
    photo = photographed(plant, chart)
    before = Entry.objects.count()
    for at in (
        address("charts"), address("chart-new") + "?recorder=T-12", address("chart", chart.number),
        address("chart-change", chart.number), address("chart-sign", chart.number),
        address("chart-photo", chart.number, photo.number), address("chart-fit", chart.number, photo.number),
        address("chart-over", chart.number, photo.number),
    ):  # fmt: skip
        assert ines.get(at).status_code == 200, at
    assert Entry.objects.count() == before


# --- photos, signature, initials


def upload(client: Client, at: str, data: bytes, **said: str) -> Any:
    """A photo sent."""
    file = SimpleUploadedFile("../chart.png", data, "text/html")
    return client.post(at, {"form_id": str(uuid.uuid4()), "side": "back", "note": "", "photo": file, **said})


def test_photo_comes_back_as_it_came(plant: Plant, ines: Client) -> None:
    """Byte for byte, as a picture by its bytes, never sniffed."""
    chart = is_on(plant.actor("ines"))
    assert upload(ines, address("chart-photo-new", chart.number), chart_png()).status_code == 302
    row = ChartPhoto.objects.get()
    answer = ines.get(address("chart-photo", chart.number, row.number))
    assert answer.content == chart_png() and row.side == "back"
    assert answer.headers["Content-Type"] == "image/png" and answer.headers["X-Content-Type-Options"] == "nosniff"


@pytest.mark.parametrize("data", [b"", b"<html><script>alert(1)</script>", b"GIF89a"], ids=["empty", "page", "gif"])
def test_what_is_no_photo_is_refused(plant: Plant, ines: Client, data: bytes) -> None:
    """Whatever it is called."""
    chart = is_on(plant.actor("ines"))
    answer = upload(ines, address("chart-photo-new", chart.number), data, note="kept words")
    assert answer.status_code == 422 and "kept words" in text_of(answer) and not ChartPhoto.objects.exists()


def test_photo_of_another_chart_is_not_found(plant: Plant, ines: Client) -> None:
    """A photo belongs to its chart."""
    first, _gone = was_on(plant.actor("ines"), NOW - 5 * HOUR, NOW - HOUR)
    other = is_on(plant.actor("ines"), chart_number="62")
    photo = photographed(plant, first)
    for name in ("chart-photo", "chart-fit", "chart-over", "chart-compare"):
        assert ines.get(address(name, other.number, photo.number)).status_code == 404


def test_operator_signs_with_a_pin(plant: Plant, ines: Client) -> None:
    """A wrong PIN signs nothing; the right one does."""
    chart, _gone = was_on(plant.actor("ines"), NOW - 5 * HOUR, NOW)
    right = {"signer": str(plant.people.ines.id), "signer_secret": "482913"}
    at = address("chart-sign", chart.number)
    assert ines.post(at, right | {"signer_secret": "000000"}).status_code == 422
    assert ines.post(at, right | {"signer": str(plant.people.tomas.id)}).status_code == 422
    assert not ChartSigned.objects.exists()
    assert ines.post(at, right).status_code == 302
    assert ChartSigned.objects.get().by_initials == "IA"


def test_supervisor_copies_the_regulators_initials(plant: Plant, wren: Client) -> None:
    """For a chart; they show on its page and on the list."""
    chart, _gone = was_on(plant.actor("ines"), NOW - 5 * HOUR, NOW)
    said = {"recorder": "T-12", "written_on": "2026-03-03", "initials": "J.V.", "name": "J. Vane", "accuracy": ""}
    at = f"{address('chart-initials')}?chart={chart.number}"
    assert send(wren, at, said).status_code == 422
    assert send(wren, at, said | {"accuracy": "3 min slow"}).status_code == 302
    assert RegulatorInitials.objects.get().chart == chart.number
    for page in (address("chart", chart.number), address("charts")):
        assert "J.V., J. Vane, 2026-03-03: 3 min slow" in text_of(wren.get(page))


# --- the trace over the photo


def laid(plant: Plant) -> tuple[ChartOn, ChartPhoto]:
    """A chart of five hours with its stored trace, photographed."""
    kept(samples(NOW - 5 * HOUR, [1620] * (5 * 3600)))
    chart, _gone = was_on(plant.actor("ines"), NOW - 5 * HOUR, NOW)
    return chart, photographed(plant, chart)


FIT = {
    **marks(), "first_at": "2026-03-03T12:00", "outer_ruler": "", "arm_length": "", "arm_pivot": "", "arm_bend": "",
}  # fmt: skip


def test_marks_are_shown_before_they_are_kept(plant: Plant, ines: Client) -> None:
    """Then kept, and the trace lies over the photo."""
    chart, photo = laid(plant)
    at = address("chart-fit", chart.number, photo.number)
    shown = text_of(send(ines, at, FIT | {"show": "1"}))
    assert "18,000 stored samples from 2026-03-03 04:30 to 2026-03-03 09:30 are drawn." in shown
    assert "chart-over-trace" in shown and not ChartFit.objects.exists()
    assert send(ines, at, FIT).headers["Location"] == address("chart-over", chart.number, photo.number)
    row = ChartFit.objects.get()
    assert row.marks["center_x"] == "500.0" and row.first_at == NOW + 2.5 * HOUR
    over = text_of(ines.get(address("chart-over", chart.number, photo.number)))
    assert "chart-over-trace" in over and "Marked by Ines Alder" in over and "limit 161 °F at least" in over


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"center_x": "left"}, "id_center_x_error"),
        ({"center_x": ""}, "id_center_x_error"),
        ({"center_x": "99999"}, "within 10000"),
        ({"outer_value": "100"}, "different values"),
        ({"inner_x": "500", "inner_y": "0"}, "outside of the inner one"),
        ({"mark_x": "500", "mark_y": "375"}, "too near to the center"),
        ({"turns": ""}, "id_turns_error"),
        ({"first_at": "2026-02-01T12:00"}, "The chart does not reach that time."),
        ({"arm_length": "200"}, "all four are needed"),
        ({"outer_ruler": "0", "arm_length": "2", "arm_pivot": "2", "arm_bend": "clockwise"}, "more than zero"),
        ({"outer_ruler": "100", "arm_length": "2", "arm_pivot": "300", "arm_bend": "clockwise"}, "does not reach"),
        ({"unit": "psi"}, "id_unit_error"),
    ],
)
@pytest.mark.parametrize("show", [{}, {"show": "1"}])
def test_marks_that_give_no_drawing_are_refused(
    plant: Plant, ines: Client, changes: dict[str, str], sentence: str, show: dict[str, str]
) -> None:
    """Beside the mark, shown or kept; nothing is written."""
    chart, photo = laid(plant)
    answer = send(ines, address("chart-fit", chart.number, photo.number), FIT | changes | show)
    assert answer.status_code == 422 and sentence in text_of(answer) and not ChartFit.objects.exists()


def test_arm_of_the_pen_is_kept_as_measured(plant: Plant, ines: Client) -> None:
    """Four numbers with a ruler."""
    chart, photo = laid(plant)
    arm = {"outer_ruler": "4.5", "arm_length": "6.1", "arm_pivot": "6.0", "arm_bend": "counterclockwise"}
    assert send(ines, address("chart-fit", chart.number, photo.number), FIT | arm).status_code == 302
    assert ChartFit.objects.get().marks["arm_pivot"] == "6.0"
    assert "chart-over-trace" in text_of(ines.get(address("chart-over", chart.number, photo.number)))


def test_trace_is_drawn_in_the_unit_that_the_chart_is_printed_in(plant: Plant, ines: Client) -> None:
    """100 and 220 °F are 37.8 and 104.4 °C: the same circles, the same line."""
    chart, photo = laid(plant)
    drawn = []
    for changes in ({}, {"unit": "°C", "inner_value": "37.7778", "outer_value": "104.4444"}):
        shown = text_of(send(ines, address("chart-fit", chart.number, photo.number), FIT | changes | {"show": "1"}))
        path = re.search(r'<g class="chart-over-trace"><path d="M([0-9.]+) ([0-9.]+)', shown)
        assert path is not None
        drawn.append((float(path[1]), float(path[2])))
    assert drawn[0] == pytest.approx(drawn[1], abs=0.02)
    # 04:30 lies 112.5 degrees before noon; 162 °F at 100 + 233.33 * 62/120 thousandths from the center.
    radius, turned = 100 + 700 / 3 * 62 / 120, math.radians(-112.5)
    assert drawn[0] == pytest.approx((500 + radius * math.sin(turned), 375 - radius * math.cos(turned)), abs=0.5)


def test_strip_is_marked_by_two_corners(plant: Plant, ines: Client) -> None:
    """Times may be printed ahead of now."""
    kept(samples(NOW - HOUR, [1620] * 3600))
    send(ines, address("chart-new") + "?recorder=T-12",
         ON | {"span": "strip", "strip_hours": "12", "changed_at": "2026-03-03T08:30"})  # fmt: skip
    chart = ChartOn.objects.get()
    photo = photographed(plant, chart)
    said = {
        "unit": "°F", "first_x": "100", "first_y": "600", "first_value": "100", "first_at": "2026-03-03T08:00",
        "second_x": "900", "second_y": "100", "second_value": "220", "second_at": "2026-03-03T20:00", "runs": "across",
    }  # fmt: skip
    assert send(ines, address("chart-fit", chart.number, photo.number), said).status_code == 302
    assert "chart-over-trace" in text_of(ines.get(address("chart-over", chart.number, photo.number)))
    missing = send(ines, address("chart-fit", chart.number, photo.number), said | {"second_at": ""})
    assert missing.status_code == 422


def test_photo_without_a_size_is_kept_and_not_marked(plant: Plant, ines: Client) -> None:
    """A damaged one says so, and how to go on."""
    chart = is_on(plant.actor("ines"))
    photo = photographed(plant, chart, b"\xff\xd8\xff\xe0 damaged")
    answer = ines.get(address("chart-fit", chart.number, photo.number))
    assert answer.status_code == 409 and "Take another one as JPEG, PNG or WebP" in text_of(answer)
    assert "size cannot be read" in text_of(ines.get(address("chart-over", chart.number, photo.number)))


def test_without_a_stored_trace_only_the_marks_are_drawn(plant: Plant, ines: Client) -> None:
    """It says so."""
    chart, _gone = was_on(plant.actor("ines"), NOW - 5 * HOUR, NOW)
    photo = photographed(plant, chart)
    send(ines, address("chart-fit", chart.number, photo.number), FIT)
    shown = text_of(ines.get(address("chart-over", chart.number, photo.number)))
    assert "No trace of this recorder is stored" in shown and "chart-over-trace" not in shown


def test_disagreement_is_recorded_and_told(plant: Plant, ines: Client) -> None:
    """With the marks that the person saw it by; without when and why it is refused."""
    chart, photo = laid(plant)
    send(ines, address("chart-fit", chart.number, photo.number), FIT)
    at = address("chart-compare", chart.number, photo.number)
    said = {"fit": str(ChartFit.objects.get().number), "outcome": "disagree", "disagree_at": "", "because": "lower"}
    answer = send(ines, at, said)
    assert answer.status_code == 422 and "Write at what time they disagree." in text_of(answer)
    assert "lower" in text_of(answer) and "chart-over-trace" in text_of(answer)
    assert send(ines, at, said | {"fit": ""}).status_code == 422
    assert not ChartCompared.objects.exists()
    done = ines.post(at, {"form_id": str(uuid.uuid4()), **said, "disagree_at": "2026-03-03T07:00"}, follow=True)
    assert "disagree at 2026-03-03 07:00: lower" in text_of(done)
    assert Deviation.objects.get().cause == "not proven" and ines.get(at).status_code == 302


# --- amending


def test_slip_in_the_number_is_amended(plant: Plant, ines: Client) -> None:
    """Both stand on the page, the old one struck; the chart keeps its number in the book, reading and papers."""
    chart = is_on(plant.actor("ines"), chart_number="16")
    photographed(plant, chart)
    at = address("chart-amend-on", chart.number)
    right = {"signer": str(plant.people.ines.id), "signer_secret": "482913"}
    said = {key: ON[key] for key in ("changed_at", "chart_number", "span", "strip_hours", "note")}
    assert send(ines, at, said | right).status_code == 422  # why?
    answer = send(ines, at, said | right | {"amend_reason": "turned digits"})
    assert answer.headers["Location"] == address("chart", chart.number)
    found = queries.chart_of(chart.number)
    assert found is not None and found.on.chart_number == "62" and found.on.reading == chart.reading
    shown = text_of(ines.get(address("chart", chart.number)))
    assert "turned digits" in shown and '<li class="struck">' in shown
    assert ChartPhoto.objects.get().chart == chart.number


def test_shorter_span_by_amendment_is_a_deviation(plant: Plant, ines: Client) -> None:
    """It was a 12-hour chart all along."""
    chart, _gone = was_on(plant.actor("ines"), NOW - 14 * HOUR, NOW)
    right = {"signer": str(plant.people.ines.id), "signer_secret": "482913", "amend_reason": "it is a 12 h chart"}
    said = {"changed_at": "2026-03-02T19:30", "chart_number": "61", "span": "12", "strip_hours": "", "note": ""}
    assert send(ines, address("chart-amend-on", chart.number), said | right).status_code == 302
    assert "ran past the 12 h" in Deviation.objects.get().sentence


def test_chart_that_was_not_taken_off_is_on_again_and_comes_off_later(plant: Plant, ines: Client) -> None:
    """An end that did not happen; the real one follows it."""
    chart, _gone = was_on(plant.actor("ines"), NOW - 5 * HOUR, NOW)
    right = {"signer": str(plant.people.ines.id), "signer_secret": "482913", "amend_reason": "wrong recorder"}
    assert send(ines, address("chart-amend-off", chart.number), OFF | right | {"void": "on"}).status_code == 302
    assert [one.number for one in queries.on_now()] == [chart.number]
    assert send(ines, address("chart-off", chart.number), OFF).status_code == 302
    assert queries.on_now() == [] and ChartOff.objects.count() == 3


def test_chart_that_was_never_on_is_gone(plant: Plant, ines: Client) -> None:
    """Its page too; the ledger keeps both rows."""
    chart = is_on(plant.actor("ines"))
    right = {"signer": str(plant.people.ines.id), "signer_secret": "482913", "amend_reason": "wrong recorder"}
    said = {key: ON[key] for key in ("changed_at", "chart_number", "span", "strip_hours", "note")}
    assert send(ines, address("chart-amend-on", chart.number), said | right | {"void": "on"}).status_code == 302
    assert queries.on_now() == [] and ines.get(address("chart", chart.number)).status_code == 404
    assert ChartOn.objects.count() == 2


def test_another_operator_amends_nothing(plant: Plant, client_for: Callable[..., Client]) -> None:
    """One's own, or a supervisor's."""
    chart = is_on(plant.actor("ines"))
    tomas = client_for(plant.people.tomas)
    assert tomas.get(address("chart-amend-on", chart.number)).status_code == 302
    sign_in = signed_by(plant, "wren")
    wren = client_for(plant.people.wren)
    said = {key: ON[key] for key in ("changed_at", "chart_number", "span", "strip_hours", "note")}
    done = send(wren, address("chart-amend-on", chart.number), said | sign_in | {"amend_reason": "seen on the paper"})
    assert done.status_code == 302 and ChartOn.objects.count() == 2


def test_signature_is_no_longer_whole_after_an_amendment(plant: Plant, ines: Client) -> None:
    """The page says so."""
    chart, _gone = was_on(plant.actor("ines"), NOW - 5 * HOUR, NOW)
    sign_chart(plant.actor("ines"), chart.number)
    right = {"signer": str(plant.people.ines.id), "signer_secret": "482913", "amend_reason": "more was made"}
    assert send(ines, address("chart-amend-off", chart.number), OFF | right | {"products": "Cream"}).status_code == 302
    assert "something was added or amended since" in text_of(ines.get(address("chart", chart.number)))


def test_plan_with_charts_asks_and_is_answered(plant: Plant, ines: Client) -> None:
    """The Round asks nothing more of a change that was recorded here; one logged as an event alone still waits."""
    in_force(plant)
    send(ines, address("chart-new") + "?recorder=T-12", ON)
    assert "chart-change" not in {one.monitoring.key for one in round_at(NOW)}
    record_event(plant.actor("ines"), EventData(uuid.uuid4(), "chart change", NOW, "press-1"))
    assert "chart-change" in {one.monitoring.key for one in round_at(NOW)}
