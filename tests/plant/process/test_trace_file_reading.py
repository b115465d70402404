"""Reading a recorder's file: its form, its times, its values, and what a person is told about it."""

from __future__ import annotations

import io
import json
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from plant.process.errors import CalculationError
from plant.process.trace_blocks import pack, unpack
from plant.process.trace_file import ChannelColumn, Mapping, Parsed, TimeColumns, read
from tests.trace_file_tools import CHICAGO, EARLIEST_MS, NOW_MS

pytestmark = pytest.mark.once

HEADER = ("Time", "Milk", "Water")
START_MS = 1_772_532_000_000  # 3 March 2026, 10:00 UTC


def mapping(**changes: object) -> Mapping:
    """A comma, a point, a time in UTC and two channels, unless changed."""
    usual: dict[str, object] = {
        "encoding": "utf-8",
        "delimiter": ",",
        "decimal": ".",
        "columns": 3,
        "time": TimeColumns((0,), clock="UTC"),
        "channels": (ChannelColumn(1, "TT-1", "°C"), ChannelColumn(2, "TT-2", "°F")),
        "header": HEADER,
    }
    return Mapping(**(usual | changes))  # type: ignore[arg-type]


def parsed(data: bytes | str, plan: Mapping | None = None) -> Parsed:
    """The file read with that mapping, for Chicago."""
    raw = data if isinstance(data, bytes) else data.encode()
    return read(io.BytesIO(raw), plan or mapping(), now_ms=NOW_MS, earliest_ms=EARLIEST_MS, zone=CHICAGO)


def table(*rows: str, header: str = "Time,Milk,Water") -> str:
    """A file of these rows; a row without its own time is one second after the one above."""
    lines = [header]
    for at, row in enumerate(rows):
        moment = datetime(2026, 3, 3, 10, tzinfo=UTC) + timedelta(seconds=at)
        lines.append(f"{moment:%Y-%m-%d %H:%M:%S}{row}" if row.startswith(",") else row)
    return "\n".join(lines) + "\n"


def values(one: Parsed, channel: int = 0) -> list[Decimal | None]:
    """A channel's values, None where its sensor failed."""
    samples = one.channels[channel].samples
    return [
        None if failed else Decimal(value).scaleb(-samples.places)
        for value, failed in zip(samples.values.tolist(), samples.failed.tolist(), strict=True)
    ]


def test_samples_are_whole_milliseconds_and_digits_as_written() -> None:
    """Times in UTC, values on the most places seen, in the column's own unit."""
    one = parsed(table(",71.6,161", ",71.66,161.2"))
    milk, water = one.channels
    assert milk.samples.times_ms.tolist() == [START_MS, START_MS + 1000]
    assert (milk.samples.values.tolist(), milk.samples.places) == ([7160, 7166], 2)
    assert (water.samples.values.tolist(), water.samples.places, water.unit) == ([1610, 1612], 1, "°F")
    assert (milk.name, milk.instrument, milk.column) == ("Milk", "TT-1", 1)


def test_samples_go_into_a_block_as_they_are() -> None:
    """What was read can be packed, and comes out the same."""
    samples = parsed(table(",71.6,1", ",OPEN,1", ",-0.05,1")).channels[0].samples
    again = unpack(pack(samples))
    assert again.values.tolist() == samples.values.tolist() == [7160, 0, -5]
    assert again.failed.tolist() == [False, True, False]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252", "latin-1"])
def test_encodings(encoding: str) -> None:
    """A header beyond ASCII is found in each; a byte order mark outweighs what was chosen."""
    header = ("Time", "Milk °C", "Water °F")
    data = table(",71.6,161", header=",".join(header)).encode(encoding)
    chosen = encoding.removesuffix("-sig")
    assert values(parsed(data, mapping(encoding=chosen, header=header))) == [Decimal("71.6")]
    if encoding in ("utf-8-sig", "utf-16"):
        assert values(parsed(data, mapping(encoding="cp1252", header=header))) == [Decimal("71.6")]


@pytest.mark.parametrize("delimiter", [";", "\t", "|"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_delimiters_decimal_comma_and_line_ends(delimiter: str, end: str) -> None:
    """Any of them, with any line end."""
    data = table(",71.6,161", ",-71.6,+161").replace(",", delimiter).replace(".", ",").replace("\n", end)
    assert values(parsed(data, mapping(delimiter=delimiter, decimal=","))) == [Decimal("71.6"), Decimal("-71.6")]


def test_runs_of_blanks_part_cells() -> None:
    """Blanks and tabs, also before and behind the row; date and time are then two columns."""
    plan = mapping(
        delimiter=" ",
        columns=4,
        header=(),
        time=TimeColumns((0, 1), clock="UTC"),
        channels=(ChannelColumn(2, "TT-1", "°C"), ChannelColumn(3, "TT-2", "°C")),
    )
    one = parsed("  2026-03-03 10:00:00   71.6 \t 161\n2026-03-03\t10:00:01 71.7 --- \n", plan)
    assert (values(one), values(one, 1)) == ([Decimal("71.6"), Decimal("71.7")], [Decimal(161), None])


def test_decimal_comma_within_quotation_marks() -> None:
    """A comma may part cells and be the decimal mark where the cells are quoted."""
    one = parsed(table(',"71,66","161,5"'), mapping(decimal=","))
    assert values(one) == [Decimal("71.66")]


def test_header_is_found_wherever_it_stands() -> None:
    """Lines above it do not matter, nor does how many there are today; a row of units below it is skipped."""
    for above in ("", "Recorder 7\n\n", 'Serial,"12,\n34"\nPlant\nx\n'):
        data = above + table("date,°C,°F", ",1.5,2")
        assert values(parsed(data, mapping(skip=1))) == [Decimal("1.5")], above


def test_without_a_header_lines_are_skipped_by_number() -> None:
    """The first row is where the mapping says."""
    assert parsed("a\nb\n" + table(",1,2").split("\n", 1)[1], mapping(header=(), skip=2)).rows == 1


@pytest.mark.parametrize(
    ("text", "form", "order"),
    [
        ("1772532000", "epoch s", ""),
        ("1772532000.000", "epoch s", ""),
        ("1.772532E9", "epoch s", ""),
        ("1772532000000", "epoch ms", ""),
        ("2026-03-03 10:00", "date", ""),
        ("2026-03-03T10:00:00.000", "date", ""),
        ("2026/3/3 10:00:00", "date", ""),
        ("20260303T100000", "date", ""),
        ("20260303100000", "date", ""),
        ("03.03.2026 10:00:00", "date", "dmy"),
        ("3/3/26 10:00:00", "date", "mdy"),
        ("26-03-03 10:00:00", "date", "ymd"),
        ("03/03/2026 10:00:00 AM", "date", "mdy"),
        ("03/03/2026  10:00:00 a.m.", "date", "mdy"),
        ("3 Mar 2026 10:00:00", "date", ""),
        ("03-March-26 10:00:00", "date", ""),
        ("Mar 3 2026 10:00:00", "date", ""),
    ],
)
def test_times_as_recorders_write_them(text: str, form: str, order: str) -> None:
    """All of these are 10:00 on 3 March 2026."""
    plan = mapping(time=TimeColumns((0,), form, order, clock="UTC"))
    assert parsed(table(f"{text},1,2"), plan).channels[0].samples.times_ms.tolist() == [START_MS]


@pytest.mark.parametrize("text", ["2026-03-03T04:00:00-06:00", "2026-03-03 10:00:00Z", "2026-03-03T15:30:00 +0530"])
def test_offset_beside_the_time_counts(text: str) -> None:
    """It says which moment is meant, whatever the plant's zone."""
    plan = mapping(time=TimeColumns((0,), offset=True))
    assert parsed(table(f"{text},1,2"), plan).channels[0].samples.times_ms.tolist() == [START_MS]


@pytest.mark.parametrize(
    ("clock", "hours"), [("", 6), ("UTC", 0), ("-06:00", 6), ("Europe/Madrid", -1), ("+05:30", -5.5)]
)
def test_clock_says_where_a_time_without_offset_belongs(clock: str, hours: float) -> None:
    """The plant's zone (Chicago, in winter), UTC, a fixed offset or a zone by name."""
    found = parsed(table(",1,2"), mapping(time=TimeColumns((0,), clock=clock))).channels[0].samples.times_ms.tolist()
    assert found == [START_MS + hours * 3_600_000]


def test_failed_sensors_have_a_moment_and_no_value() -> None:
    """By word in any case, by number however its zeros are written; other numbers stay."""
    channels = (ChannelColumn(1, "TT-1", "°C", fail_numbers=("9999", "-999.90")), ChannelColumn(2, "TT-2", "°C"))
    one = parsed(
        table(",open,1", ",---,1", ",NaN,1", ",9999,1", ",9999.000,1", ",-999.9,1", ",9998,9999"),
        mapping(channels=channels),
    )
    assert values(one) == [None] * 6 + [Decimal(9998)]
    assert (one.channels[0].failed, one.channels[0].samples.places) == (6, 0)
    assert (one.channels[1].failed, one.channels[1].highest, one.channels[1].lowest) == (0, Decimal(9999), Decimal(1))


def test_empty_cell_is_no_sample_unless_the_plant_says_it_is_a_failure() -> None:
    """A channel that is read less often leaves cells empty."""
    data = table(",1,2", ",,2", ",3,2")
    one = parsed(data)
    assert (values(one), one.channels[0].empty, one.rejected) == ([Decimal(1), Decimal(3)], 1, ())
    failing = ChannelColumn(1, "TT-1", "°C", fail_texts=("",))
    assert values(parsed(data, mapping(channels=(failing,)))) == [Decimal(1), None, Decimal(3)]


def test_more_than_six_places_are_rounded_and_counted() -> None:
    """Zeros beyond six places cost nothing; other digits are counted as rounded, half a millionth away from zero."""
    one = parsed(table(",71.60000000,1", ",71.5999985,1", ",-71.5999985,1", ",1.23e-9,1")).channels[0]
    assert one.samples.values.tolist() == [71_600_000, 71_599_999, -71_599_999, 0]
    assert (one.samples.places, one.rounded) == (6, 3)


def test_numbers_keep_their_digits_in_every_spelling() -> None:
    """Signs, a bare point, powers of ten, the true minus sign, a unit behind the number."""
    one = parsed(table(",+7.5,1", ",.5,1", ",7.,1", ",7.166E+01,1", ",\N{MINUS SIGN}3.25,1", ",71.6 °C,1", ",71.6C,1"))
    wanted = ["7.5", "0.5", "7", "71.66", "-3.25", "71.6", "71.6"]
    assert (values(one), one.rejected) == ([Decimal(at) for at in wanted], ())


def test_same_time_and_value_count_once() -> None:
    """A repeat is counted; also where its zeros differ, and where both are failures."""
    at = "2026-03-03 10:00:00"
    one = parsed(table(f"{at},1.50,OPEN", f"{at},1.5,---", ",2,3")).channels
    assert [(len(each.samples), each.duplicates, len(each.contradictions)) for each in one] == [(2, 1, 0), (2, 1, 0)]


def test_contradiction_is_kept_beside_the_first() -> None:
    """The first of a moment stands, wherever it sorts; each other value is named once, with its row."""
    at = "2026-03-03 10:00:05"
    milk = parsed(table(",1,1", f"{at},5,1", f"{at},6.5,1", f"{at},6.5,1", f"{at},FAIL,1", ",2,1")).channels[0]
    assert milk.duplicates == 1
    found = [(one.row, one.time_ms - START_MS, one.first, one.other) for one in milk.contradictions]
    assert found == [
        (4, 5000, Decimal(5), Decimal("6.5")),
        (6, 5000, Decimal(5), None),
        (7, 5000, Decimal(5), Decimal(2)),
    ]
    assert values(parsed(table(",1,1", f"{at},5,1", f"{at},6.5,1"))) == [Decimal(1), Decimal(5)]


def test_rows_out_of_order_are_sorted_and_counted() -> None:
    """A row earlier than one before it counts; the samples rise."""
    one = parsed(table(",1,1", "2026-03-03 10:00:03,4,1", "2026-03-03 10:00:01,2,1", "2026-03-03 10:00:02,3,1"))
    assert (values(one), one.out_of_order, one.newest_first) == ([Decimal(at) for at in (1, 2, 3, 4)], 2, False)


def test_file_with_the_newest_row_first_is_no_disorder() -> None:
    """It is read from its end, and a gap in it is no jump of the clock; first and last stay those of the file."""
    rows = [f"2026-03-03 {hour:02d}:00:{second:02d},{hour}.{second},1" for hour in (10, 14) for second in range(9)]
    one = parsed(table(*reversed(rows)))
    assert (one.newest_first, one.out_of_order, len(one.channels[0].samples)) == (True, 0, 18)
    assert one.first[0].values[0] == Decimal("14.8") and one.last[-1].values[0] == Decimal("10.0")


def test_gaps_are_longer_than_twice_the_usual_step() -> None:
    """Twice the step is none yet; each gap has its two moments; each channel has its own."""
    times = [0, 1, 2, 4, 5, 8, 9, 10]
    rows = [f"2026-03-03 10:00:{at:02d},1,{'' if at == 9 else 2}" for at in times]
    milk, water = parsed(table(*rows)).channels
    assert (milk.usual_step_ms, (milk.gaps_ms - START_MS).tolist()) == (1000.0, [[5000, 8000]])
    assert (water.usual_step_ms, (water.gaps_ms - START_MS).tolist()) == (1500.0, [])


def test_first_and_last_rows_are_shown_as_understood() -> None:
    """Five of each: line, moment, values, failures."""
    one = parsed(table(*(f",{at}.5,{'OPEN' if at else ''}" for at in range(8))))
    assert [each.row for each in one.first] == [2, 3, 4, 5, 6] and [each.row for each in one.last] == [5, 6, 7, 8, 9]
    assert (one.first[0].values, one.first[0].failed) == ((Decimal("0.5"), None), (False, False))
    assert (one.last[4].time_ms, one.last[4].failed) == (START_MS + 7000, (False, True))


def test_blank_lines_are_no_rows() -> None:
    """Nor are lines of delimiters alone, nor the sign that old systems end a file with."""
    one = parsed(table(",1,1", "", "  ", " ,,", ",2,1") + "\x1a")
    assert (one.rows, one.kept, one.rejected) == (2, 2, ())


def test_row_of_several_lines_is_one_row() -> None:
    """A line end within quotation marks does not end the row; it has the number of its first line."""
    plan = mapping(columns=4, header=(*HEADER, "Note"))
    one = parsed(table(',1,1,"a\nb"', ",2,1,c", header="Time,Milk,Water,Note"), plan)
    assert ([each.row for each in one.first], values(one)) == ([2, 4], [Decimal(1), Decimal(2)])


def test_mapping_is_remembered_as_plain_values() -> None:
    """As JSON and back; whatever is not one is refused."""
    plan = mapping(time=TimeColumns((0,), order="dmy", clock="-06:00"), any_order=True, skip=3)
    plain = plan.to_plain()
    assert Mapping.from_plain(json.loads(json.dumps(plain))) == plan
    for wrong in (
        None,
        [],
        {},
        plain | {"more": 1},
        plain | {"columns": "3"},
        plain | {"any_order": 1},
        plain | {"channels": [{}]},
        plain | {"time": None},
        plain | {"encoding": "rot13"},
        plain | {"header": "abc"},
    ):
        with pytest.raises(CalculationError):
            Mapping.from_plain(wrong)


@pytest.mark.parametrize(
    "changes",
    [
        {"delimiter": "x"},
        {"decimal": ""},
        {"columns": 1},
        {"columns": 501},
        {"channels": ()},
        {"channels": (ChannelColumn(3, "TT-1", "°C"),)},
        {"channels": (ChannelColumn(0, "TT-1", "°C"),)},
        {"channels": (ChannelColumn(1, "TT-1", "°C"), ChannelColumn(2, "TT-1", "°C"))},
        {"skip": -1},
    ],
)
def test_mapping_that_makes_no_sense_is_refused(changes: dict[str, object]) -> None:
    """With a sentence, before anything is read."""
    with pytest.raises(CalculationError, match=r"\w+ \w+"):
        mapping(**changes)


@pytest.mark.parametrize(
    "make",
    [
        lambda: ChannelColumn(1, "", "°C"),
        lambda: ChannelColumn(1, "TT-1", " "),
        lambda: ChannelColumn(1, "TT-1", "°C", fail_numbers=("OPEN",)),
        lambda: TimeColumns(()),
        lambda: TimeColumns((0,), "days"),
        lambda: TimeColumns((0,), order="ydm"),
        lambda: TimeColumns((0,), clock="Nowhere/Town"),
        lambda: TimeColumns((0,), clock="../../etc/passwd"),
        lambda: TimeColumns((0,), clock="+25:00"),
    ],
)
def test_choice_that_makes_no_sense_is_refused(make: object) -> None:
    """A channel without instrument or unit, a time of no form, a clock of no zone."""
    with pytest.raises(CalculationError):
        make()  # type: ignore[operator]
