"""The pages of traces: the list, the strip chart with its table and links, the columns for the script."""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from html.parser import HTMLParser
from typing import Any
from urllib.parse import parse_qs, urlsplit

import numpy as np
import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from plant.pictures.strip_data import Band, Stretch
from plant.pictures.strip_time import milliseconds
from plant.pictures.strip_words import WORDS
from plant.pictures.textures import FAMILIES
from plant.process.trace_blocks import Samples, unpack
from records.checks.actions import record_reading
from records.checks.entry import ReadingData
from records.ledger.models import Entry
from records.people.plans import InForce, plan_in_force
from records.people.rights import RIGHTS
from records.traces import blocks, overlays, recorded, strip
from records.traces.beside import checks_of, limits_of
from records.traces.overlays import Overlay
from records.traces.windows import Window
from tests.conftest import INSTALLED, NOW, Plant
from tests.pages.test_any_body import NASTY
from tests.pages.test_rights import WHO
from tests.records.traces.made_traces import day_with_a_dip, kept, samples

Browser = Callable[..., Client]
HOUR = timedelta(hours=1)
DAY = NOW.replace(day=2, hour=11, minute=0)  # 05:00 in Chicago on 2 March 2026: the plant day begins
PAGE, COLUMNS = "/traces/T-12/", "/traces/T-12/window.json"


def utc(moment: datetime) -> str:
    """A moment as addresses say it."""
    return f"{moment:%Y-%m-%dT%H:%M:%SZ}"


def asked(start: datetime, end: datetime, **more: Any) -> dict[str, Any]:
    """The query of a window."""
    return {"from": utc(start), "until": utc(end), **more}


class Shown(HTMLParser):
    """The links of the page's own, the table's rows, and what a strict policy would block."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.moves: dict[str, str] = {}
        self.rows: list[list[str]] = []
        self.blocked: list[str] = []
        self._cell = False
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given_ = dict(attrs)
        if tag == "a" and (given_.get("id") or "").startswith("strip-to-"):
            self.moves[(given_["id"] or "").removeprefix("strip-to-")] = given_.get("href") or ""
        if tag == "tr":
            self.rows.append([])
        self._cell = tag in ("td", "th")
        if tag == "style" or "style" in given_ or any(name.startswith("on") for name in given_):
            self.blocked.append(tag)
        if tag == "script" and not (given_.get("src") or "").startswith("/static/js/"):
            self.blocked.append("script")

    def handle_endtag(self, tag: str) -> None:
        self._cell = self._cell and tag not in ("td", "th")

    def handle_data(self, data: str) -> None:
        if self._cell and self.rows:
            self.rows[-1].append(data.strip())


def page(client: Client, **query: Any) -> str:
    """The strip's page; it must open."""
    answer = client.get(PAGE, query)
    assert answer.status_code == 200, answer.content.decode()[-900:]
    return answer.content.decode()


@pytest.fixture
def wren(plant: Plant, client_for: Browser) -> Client:
    """A supervisor's browser."""
    return client_for(plant.people.wren)


@pytest.fixture
def dip(plant: Plant) -> None:
    """A day of seconds with one of them at 120 °F."""
    kept(day_with_a_dip(DAY))


@pytest.fixture
def some(plant: Plant) -> None:
    """Ten minutes."""
    kept(samples(DAY, [1630] * 600))


# --- rights, and pages with nothing on them


@pytest.mark.parametrize(("address", "name"), [("/traces/", "traces"), (PAGE, "trace"), (COLUMNS, "trace-window")])
def test_pages_open_to_whom_the_table_says(address: str, name: str, plant: Plant, client_for: Browser) -> None:
    """Every role: 200 where the table allows it, else 403; a stranger signs in. Nothing is written."""
    kept(samples(DAY, [1630, 1631]))
    count = Entry.objects.count()
    for role, person in WHO.items():
        wanted = 200 if role.value in RIGHTS[f"records:{name}"] else 403
        assert client_for(getattr(plant.people, person)).get(address).status_code == wanted, role
    assert Client().get(address).headers["Location"].startswith("/sign-in/")
    assert client_for(plant.people.wren).post(address).status_code == 405
    assert Entry.objects.count() == count


def test_before_any_trace_the_list_says_so(wren: Client) -> None:
    """A sentence, and 404 for the strip of nothing."""
    assert "No trace has been recorded yet." in wren.get("/traces/").content.decode()
    assert wren.get(PAGE).status_code == wren.get(COLUMNS).status_code == 404


def test_before_any_plan_the_pages_say_so(installed: Any) -> None:
    """The plant's hours are not known without a plan."""
    from tests.plant.conftest import _browser

    client = _browser(installed.wren)
    assert [client.get(one).status_code for one in ("/traces/", PAGE, COLUMNS)] == [409, 409, 409]


def test_the_list_names_instruments_and_their_plant_days(plant: Plant, wren: Client) -> None:
    """Night samples belong to the plant day before; each day's link opens that day."""
    kept(samples(DAY - 2 * HOUR, [400] * 10, 60_000))  # 03:00 on 2 March: the plant day of the 1st
    kept(samples(DAY, [400] * 10, 60_000))
    kept(samples(DAY, [10] * 10), "F-1", "Flow", "gal/min")
    text = wren.get("/traces/").content.decode()
    assert text.index("F-1 Flow") < text.index("T-12 Press 1 recording")
    days = re.findall(r'href="(/traces/T-12/\?[^"]*)">([^<]*)<', text)
    assert [words for _address, words in days] == ["Mon 2026-03-02", "Sun 2026-03-01"]
    opened = wren.get(days[1][0].replace("&amp;", "&"))
    assert "2026-03-01 05:00:00 to 2026-03-02 05:00:00" in opened.content.decode()


def test_a_channel_that_no_address_can_name_is_listed_without_links(wren: Client) -> None:
    """A recorder's own name may hold blanks."""
    kept(samples(DAY, [400]), "channel 3/a", "Somewhere")
    assert "channel 3/a Somewhere" in wren.get("/traces/").content.decode()


# --- the picture, the words, the table


def test_a_dip_of_one_second_is_in_the_picture_the_words_the_table_and_the_columns(dip: None, wren: Client) -> None:
    """24 hours at one a second: nowhere is it lost."""
    html = page(wren)
    panel = re.search(r'data-top="([\d.]+)" data-floor="([\d.]+)" data-low="([\d.]+)" data-high="([\d.]+)"', html)
    line = re.search(r'<path d="([^"]*)" class="strip-trace"', html)
    assert panel and line
    top, floor, low, high = (float(one) for one in panel.groups())
    deepest = max(float(y) for y in re.findall(r"[ML][\d.]+ ([\d.]+)", line[1]))
    assert low + (floor - deepest) / (floor - top) * (high - low) == pytest.approx(120.0, abs=0.02)
    assert "samples: 86,400; least 120.0 °F at 2026-03-02 12:00:00" in html
    rows = Shown(html).rows
    assert ["2026-03-02 12:00:00 to 12:01:00", "120.0", "163.8", "162.44", "60"] in rows and len(rows) == 1441
    data = wren.get(COLUMNS, asked(DAY, DAY + 24 * HOUR, width=400)).json()
    least = data["trace"]["low"]
    assert min(least) == 120.0 and least.index(120.0) == 7 * 400 // 24
    assert data["trace"]["count"] == [216] * 400


def test_the_page_needs_no_script_and_no_style_of_its_own(dip: None, wren: Client) -> None:
    """Own script files alone; each link and the form lead on without one."""
    html = page(wren, **asked(DAY + 6 * HOUR, DAY + 12 * HOUR))
    shown = Shown(html)
    assert shown.blocked == [] and set(shown.moves) == {"earlier", "later", "closer", "wider", "day", "unit"}
    wanted = {
        "earlier": (DAY, DAY + 6 * HOUR),
        "later": (DAY + 12 * HOUR, DAY + 18 * HOUR),
        "closer": (DAY + 7.5 * HOUR, DAY + 10.5 * HOUR),
        "wider": (DAY + 3 * HOUR, DAY + 15 * HOUR),
        "day": (DAY, DAY + 24 * HOUR),
        "unit": (DAY + 6 * HOUR, DAY + 12 * HOUR),
    }
    for key, (start, end) in wanted.items():
        query = parse_qs(urlsplit(shown.moves[key]).query)
        assert (query["from"], query["until"]) == ([utc(start)], [utc(end)]), key
        assert wren.get(shown.moves[key]).status_code == 200
    assert '<form class="strip-form no-print" id="strip-form" method="get"' in html


def test_there_is_no_link_to_where_nothing_is(dip: None, wren: Client) -> None:
    """Before the first hour, after the last, closer than ten seconds, wider than a month."""
    assert not {"earlier", "later", "day"} & set(Shown(page(wren)).moves)
    near = page(wren, **asked(DAY, DAY + timedelta(seconds=10)))
    assert "closer" not in Shown(near).moves and "later" in Shown(near).moves
    assert "wider" not in Shown(page(wren, **asked(DAY - timedelta(days=20), DAY + timedelta(days=11)))).moves


def test_local_times_are_on_the_plants_clocks(dip: None, wren: Client) -> None:
    """The form's times have no offset: 12:00 in Chicago is 18:00 UTC in March; one time alone is a day."""
    html = page(wren, **{"from": "2026-03-02T12:00:00", "until": "2026-03-02 12:05"})
    assert f'data-from="{milliseconds(DAY + 7 * HOUR)}"' in html and "2026-03-02 12:00:00 to" in html
    assert f'data-until="{milliseconds(DAY + 31 * HOUR)}"' in page(wren, **{"from": "2026-03-02T12:00"})
    assert f'data-from="{milliseconds(DAY - 17 * HOUR)}"' in page(wren, until="2026-03-02T12:00")


def test_both_passes_of_the_repeated_hour_can_be_asked_for(plant: Plant, wren: Client) -> None:
    """1 November 2026, 01:30 CDT and 01:30 CST (15 U.S.C. 260a(a)): the address says which, the page says so too."""
    first = datetime.fromisoformat("2026-11-01T06:30:00+00:00")
    kept(samples(first - HOUR, [400] * 180, 60_000))
    for start, zone in ((first, "CDT"), (first + HOUR, "CST")):
        html = page(wren, **asked(start, start + timedelta(minutes=20)))
        assert f"2026-11-01 01:30:00 {zone} to 2026-11-01 01:50:00 {zone}" in html
    assert f'data-from="{milliseconds(first)}"' in page(
        wren, **{"from": "2026-11-01T01:30", "until": "2026-11-01T03:00"}
    )


def test_gaps_and_contradictions_are_told(plant: Plant, wren: Client) -> None:
    """In the picture, in the sentence and in the table."""
    kept(samples(DAY, [400] * 600))
    kept(samples(DAY + timedelta(minutes=20), [400] * 600))
    kept(samples(DAY + timedelta(minutes=1), [900] * 30))
    html = page(wren, **asked(DAY, DAY + timedelta(minutes=30)))
    assert 'class="strip-beside"' in html and "samples that contradict it: 30" in html
    assert "times with nothing recorded: 1, 10 min 1 s in all" in html
    rows = Shown(html).rows
    assert ["2026-03-02 05:10:00 to 05:20:00", "nothing recorded"] in rows
    assert ["2026-03-02 05:01:00 to 05:02:00", "40.0", "40.0", "40.00", "60, 30 contradicting"] in rows


def test_a_failed_sensor_is_told(plant: Plant, wren: Client) -> None:
    """It has no value, and the mean leaves it out."""
    one = samples(DAY, [400] * 60)
    failed = np.zeros(60, np.bool_)
    failed[20:40] = True
    kept(Samples(one.times_ms, np.where(failed, 0, one.values), failed, 1))
    html = page(wren, **asked(DAY, DAY + timedelta(minutes=1)))
    assert "times that the sensor said it failed: 1" in html
    assert ["2026-03-02 05:00:00 to 05:01:00", "40.0", "40.0", "40.00", "40, 20 failed"] in Shown(html).rows


def test_a_long_window_has_fewer_rows(plant: Plant, wren: Client) -> None:
    """A month in half hours; what is silent is one row."""
    kept(samples(DAY, [400] * 48, 1_800_000))
    html = page(wren, **asked(DAY - timedelta(days=20), DAY + timedelta(days=11)))
    assert "Each 30 minutes, in °F" in html and len(Shown(html).rows) == 1 + 48 + 2


def test_temperatures_are_shown_in_the_other_scale_too(dip: None, wren: Client) -> None:
    """120.0 °F is 48.89 °C ((°F - 32) × 5/9, NIST SP 811, appendix B.8); of the limit the plan's number comes first."""
    html = page(wren, **asked(DAY + 7 * HOUR, DAY + 7 * HOUR + timedelta(minutes=1), unit="C"))
    assert "least 48.89 °C" in html and "limit 161 °F (71.7 °C) at least" in html
    assert "48.89" in Shown(html).rows[1] and 'name="unit" value="C"' in html
    data = wren.get(COLUMNS, asked(DAY + 7 * HOUR, DAY + 8 * HOUR, unit="C", width=10)).json()
    assert data["unit"] == "°C" and data["trace"]["low"][0] == pytest.approx(48.889, abs=0.001)
    assert "unit=C" in Shown(html).moves["later"]


# --- what lies over it


def test_limits_of_the_plan_apply_to_their_instrument(dip: None, wren: Client) -> None:
    """The pair of thermometers has its limit; an instrument that no check reads, on a line, has none of others."""
    assert "limit 161 °F at least" in page(wren)
    kept(samples(DAY, [400] * 10), "T-04", "Silo A thermometer")
    silo = wren.get("/traces/T-04/").content.decode()
    assert "limit 45 °F at most" in silo and "act above 43 °F" in silo and "limit 161" not in silo
    kept(samples(DAY, [400] * 10), "H-01", "Hand thermometer")
    assert "limit" not in wren.get("/traces/H-01/").content.decode().split("strip-said")[1].split("</div>")[0]


def test_an_instrument_that_no_check_reads_has_the_limits_of_its_vessel(plant: Plant) -> None:
    """A recorder on the silo: the silo's temperature. One on a line, where each place has its own limit: none."""
    in_force = plan_in_force(NOW)
    assert in_force is not None
    on_silo, on_line = (
        replace(in_force.plan.instruments[0], code=code, role="recording thermometer", place_code=place)
        for code, place in (("TR-8", "silo-a"), ("TR-9", "press-1"))
    )
    more = replace(in_force, plan=replace(in_force.plan, instruments=(*in_force.plan.instruments, on_silo, on_line)))
    assert [one.key for one in checks_of("TR-8", more)] == ["silo-shift", "silo-holding"]
    assert checks_of("TR-9", more) == checks_of("nobody's", more) == []


def test_a_limit_is_in_force_from_its_approval_on(plant: Plant) -> None:
    """Before the first plan there was none; what two checks share is one rule."""
    window = Window(NOW - timedelta(days=40), NOW)
    high, act_high = limits_of("T-04", "°F", "°F", window)
    assert (high.value, high.words, act_high.value, act_high.act) == (45.0, "limit 45 °F at most", 43.0, True)
    assert high.start_ms == milliseconds(INSTALLED + HOUR) and high.end_ms == milliseconds(NOW)
    assert limits_of("T-04", "gal/min", "gal/min", window) == ()


def test_a_limit_of_another_unit_is_placed_where_it_belongs(plant: Plant, wren: Client) -> None:
    """A trace in °C under a plan in °F: 45 °F is 7.22 °C."""
    kept(samples(DAY, [40] * 10), "T-04", "Silo A thermometer", "°C")
    html = wren.get("/traces/T-04/").content.decode()
    assert "limit 45 °F (7.2 °C) at most" in html
    kept(samples(DAY, [40] * 10), "T-05", "Finished 1 thermometer", "gal/min")
    assert "limit 45" not in wren.get("/traces/T-05/").content.decode()


def test_readings_by_people_stand_on_the_trace(plant: Plant, wren: Client) -> None:
    """The indicating thermometer's on its own trace, the recorder's of the pair on the recorder's; with a link."""
    kept(samples(NOW - HOUR, [1630] * 7200))
    kept(samples(NOW - HOUR, [1635] * 7200), "T-11", "Press 1 indicating")
    saved = record_reading(
        plant.actor("ines"),
        ReadingData(
            form_id=uuid.uuid4(), subject="press-1", monitoring_key="press-thermometers", typed="163.4",
            typed_second="160.2", observed_at=NOW,
        ),
    )  # fmt: skip
    number = saved.reading.number
    recorder = page(wren, **asked(NOW - HOUR, NOW + HOUR))
    assert "160.2 °F, Indicating and recording thermometer, T-11: 163.4 °F, IA, out of limits" in recorder
    assert f'href="/readings/{number}/"' in recorder and "160.2 out of limits" in recorder
    indicating = wren.get("/traces/T-11/", asked(NOW - HOUR, NOW + HOUR)).content.decode()
    assert "163.4 °F, Indicating and recording thermometer, IA" in indicating
    assert "Read by people" not in page(wren, **asked(NOW - HOUR, NOW - HOUR / 2))


@pytest.fixture
def known_runs() -> Iterator[None]:
    """A source of overlays, as a later feature registers one."""

    def runs(instrument: str, window: Window, in_force: InForce) -> Overlay:
        if instrument != "T-12":
            return Overlay()
        start = milliseconds(DAY + 7 * HOUR)
        return Overlay(
            (Band(start - 3_600_000, start + 3_600_000, "Whole milk", "milk"),),
            (Stretch(start, start + 45_000, "diverted 45 s: 120.0 °F <b>"),),
        )

    overlays.source(runs)
    overlays.source(runs)  # twice is once
    yield
    overlays.forget(runs)


def test_products_and_findings_come_from_their_sources(dip: None, known_runs: None, wren: Client) -> None:
    """What a registered source knows is drawn and said, once, and escaped."""
    html = page(wren)
    assert html.count('class="strip-sentences"') == 1 and "Whole milk, 2026-03-02 11:00:00" in html
    assert "diverted 45 s: 120.0 °F &lt;b&gt;" in html and "°F <b>" not in html
    kept(samples(DAY, [400] * 10), "T-04", "Silo A thermometer")
    assert "diverted" not in wren.get("/traces/T-04/").content.decode()


# --- the columns


def test_columns_are_as_many_as_asked_for_and_no_more(dip: None, wren: Client) -> None:
    """Whatever the window: its work and its answer are bounded."""
    for start, end, width in ((DAY, DAY + HOUR, 50), (DAY, DAY + 24 * HOUR, 4000), (DAY, DAY + timedelta(days=31), 7)):
        data = wren.get(COLUMNS, asked(start, end, width=width)).json()
        assert {len(data["trace"][name]) for name in ("low", "high", "first", "last", "count", "joined")} == {width}
        assert (data["from"], data["until"], data["width"], data["unit"]) == (utc(start), utc(end), width, "°F")
    assert len(wren.get(COLUMNS).json()["trace"]["low"]) == 1000


def test_columns_say_where_the_line_is_joined(plant: Plant, wren: Client) -> None:
    """A gap of two minutes; empty columns have no value; the line comes in from the sample before."""
    kept(samples(DAY, [400 + at for at in range(60)]))
    kept(samples(DAY + timedelta(minutes=3), [500] * 60))
    start = DAY + timedelta(seconds=30)
    one = wren.get(COLUMNS, asked(start, start + timedelta(minutes=4), width=24)).json()["trace"]
    assert one["low"][:4] == [43.0, 44.0, 45.0, None] and one["high"][:3] == [43.9, 44.9, 45.9]
    assert one["joined"][:4] == [1, 1, 1, 0] and one["lead"] == [milliseconds(start) - 1000, 42.9]
    assert one["joined"][15:18] == [0, 1, 1] and one["trail"] is None


def test_contradicting_columns_stand_beside(plant: Plant, wren: Client) -> None:
    """None where there are none."""
    kept(samples(DAY, [400] * 60))
    query = asked(DAY, DAY + timedelta(minutes=1), width=6)
    assert wren.get(COLUMNS, query).json()["beside"] is None
    kept(samples(DAY + timedelta(seconds=10), [900] * 10))
    assert wren.get(COLUMNS, query).json()["beside"]["high"] == [None, 90.0, None, None, None, None]


# --- what cannot be shown


@pytest.mark.parametrize(
    ("query", "field", "sentence"),
    [
        ({"from": "yesterday"}, "from", "Write date and time as 2026-03-03 17:05."),
        ({"until": "2026-13-45"}, "until", "Write date and time as 2026-03-03 17:05."),
        ({"from": "0001-01-01T00:00:00+14:00"}, "from", "Write date and time as 2026-03-03 17:05."),
        ({"from": "9999-12-31T23:59:59-14:00"}, "from", "Write date and time as 2026-03-03 17:05."),
        (asked(DAY, DAY), "until", "The end must be later than the beginning."),
        (asked(DAY, DAY + timedelta(days=32)), "until", "At most 31 days are shown at once."),
        (asked(DAY, DAY + timedelta(seconds=9)), "until", "At least 10 seconds are shown."),
        ({"width": "0"}, "width", "The width is a whole number from"),
        ({"width": "٣٠٠"}, "width", "The width is a whole number from"),
        ({"unit": "K"}, "unit", "Temperatures are shown in °F or °C, other values as they were recorded."),
    ],
)
def test_a_bad_parameter_gets_its_sentence(
    query: dict[str, str], field: str, sentence: str, dip: None, wren: Client
) -> None:
    """Beside the form, with the usual day above it; as JSON for the script."""
    answer = wren.get(PAGE, query)
    html = answer.content.decode()
    assert answer.status_code == 422 and sentence in html.split('id="strip-form"')[1].split("</form>")[0]
    assert f'href="#strip-{field}"' in html and "2026-03-02 05:00:00 to 2026-03-03 05:00:00" in html
    answer = wren.get(COLUMNS, query)
    assert answer.status_code == 422 and answer.json()["field"] == field
    assert answer.json()["wrong"].startswith(sentence)


def test_a_wrong_time_stays_where_it_was_typed(dip: None, wren: Client) -> None:
    """Escaped, in its field, which is marked as wrong."""
    html = wren.get(PAGE, {"from": '"><script>x', "until": "2026-03-02T12:00"}).content.decode()
    assert 'value="&quot;&gt;&lt;script&gt;x" aria-invalid="true"' in html and 'value="2026-03-02T12:00"' in html


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture], derandomize=True)
@given(
    query=st.dictionaries(
        st.sampled_from(["from", "until", "width", "unit"]),
        st.sampled_from(NASTY) | st.text(max_size=30) | st.datetimes().map(str),
        max_size=4,
    )
)
def test_no_query_breaks_a_page(query: dict[str, str], some: None, wren: Client) -> None:
    """Whatever an address says: a page or a sentence."""
    assert wren.get(PAGE, query).status_code in (200, 422)
    assert wren.get(COLUMNS, query).status_code in (200, 422)


def test_too_many_samples_are_not_read(dip: None, wren: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    """The sentence comes before any block is unpacked; less of it opens again."""
    monkeypatch.setattr(recorded, "MOST_SAMPLES", 20_000)
    answer = wren.get(PAGE)
    assert answer.status_code == 422 and b"more than 20,000 samples" in answer.content and b"<svg" not in answer.content
    assert wren.get(COLUMNS, asked(DAY, DAY + 24 * HOUR)).status_code == 422
    assert wren.get(PAGE, asked(DAY + 5 * HOUR, DAY + 6 * HOUR)).status_code == 200


# --- what it costs


def queries(client: Client, address: str, query: dict[str, Any] | None = None) -> list[str]:
    """The questions to the traces' and the readings' tables for one page."""
    with CaptureQueriesContext(
        connection,
    ) as asked_:
        assert client.get(address, query or {}).status_code == 200
    tables = ("records_trace", "records_reading", "records_verdict")
    return [one["sql"] for one in asked_ if any(table in one["sql"] for table in tables)]


def test_pages_ask_few_questions(plant: Plant, wren: Client) -> None:
    """The same number for an hour, a day and a month, for one instrument and for several."""
    kept(day_with_a_dip(DAY))
    wren.get(PAGE)  # the installation and the plan are read once
    wide = asked(DAY - timedelta(days=15), DAY + timedelta(days=15))
    for query in (None, asked(DAY, DAY + HOUR), wide):
        assert len(queries(wren, PAGE, query)) == 9
        assert len(queries(wren, COLUMNS, query)) == 4
    assert len(queries(wren, "/traces/")) == 3
    for code in ("T-04", "T-05", "F-1"):
        kept(samples(DAY, [400] * 10), code, "Another")
    assert len(queries(wren, "/traces/")) == 3


def test_a_minute_of_a_day_unpacks_its_own_hours(dip: None, wren: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    """The hour before and the hour after with it, and no other."""
    unpacked: list[int] = []

    def counted(block: bytes) -> Samples:
        unpacked.append(len(block))
        return unpack(block)

    monkeypatch.setattr("records.traces.blocks.unpack", counted)
    blocks.forget()
    start = DAY + 10.25 * HOUR
    wren.get(COLUMNS, asked(start, start + timedelta(minutes=1)))
    assert len(unpacked) == 3


def test_every_word_of_the_picture_is_said_in_the_readers_language() -> None:
    """In English what the picture itself says; every word of it has its twin, and so have the families' textures."""
    said = strip.words()
    assert {name: said[name] for name in WORDS} == WORDS
    assert set(said) == {*WORDS, *FAMILIES}
