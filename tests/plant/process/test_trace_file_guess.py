"""The guess at a file's form: what it finds, what it leaves to a person, and that reading by it gives the file."""

from __future__ import annotations

import io

import pytest
from hypothesis import HealthCheck, given, settings

from plant.process.errors import CalculationError
from plant.process.trace_file import FileRefused, guess, read
from tests.generated import BODIES
from tests.trace_file_tools import CHICAGO, EARLIEST_MS, NOW_MS, File, as_plain, files

pytestmark = pytest.mark.once


def shape(text: str, **more: object):  # type: ignore[no-untyped-def]
    """The guess at a whole file of this text."""
    return guess(text.encode(), whole=True, **more)  # type: ignore[arg-type]


def test_recorder_of_six_channels() -> None:
    """Comma, point, header, units out of the header; the preamble is no header."""
    found = shape(
        "Recorder 7\nserial,123\n\nTime,Milk out (°C),Tube [C],Flow (L/h),Water °F,Door,No.\n"
        "2026-03-03 10:00:00,71.6,72,9999,161.1,shut,1\n2026-03-03 10:00:01,OPEN,72,1200,161,,2\n"
        "2026-03-03 10:00:02,71.7,72,1201,161,shut,3\n"
    )
    assert (found.delimiter, found.decimal, found.header_row, found.data_row, found.skip) == (",", ".", 4, 5, 0)
    assert [one.kind for one in found.columns] == ["time", *["number"] * 4, "text", "count"]
    assert [one.unit for one in found.columns] == ["", "°C", "°C", "L/h", "°F", "", ""]
    assert found.columns[3].suspects == ("9999",)
    assert found.columns[1].examples == ("71.6", "OPEN", "71.7")
    assert found.to_choose == () and not found.order_needed


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_encodings(encoding: str) -> None:
    """By the byte order mark, by the zeros of UTF-16, by what UTF-8 does not allow."""
    data = "Zeit;Vorlauf °C\n2026-03-03 10:00:00;71,6\n2026-03-03 10:00:01;71,6\n".encode(encoding)
    found = guess(data, whole=True)
    assert found.encoding == {"utf-8-sig": "utf-8"}.get(encoding, encoding)
    assert (found.header, found.decimal, found.columns[1].unit) == (("Zeit", "Vorlauf °C"), ",", "°C")


def test_byte_that_cp1252_does_not_have_is_latin_1() -> None:
    """0x81 is nothing in cp1252."""
    assert guess(b"T;a\x81\n2026-03-03 10:00;1\n", whole=True).encoding == "latin-1"


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|", " "])
def test_delimiters(delimiter: str) -> None:
    """Each is found; blanks part date and time."""
    lines = ["2026-03-03 10:00:0{} 71.6 161", "2026-03-03 10:00:0{} 71.7 161.5"]
    text = "\n".join(one.format(at) for at, one in enumerate(lines)) + "\n"
    if delimiter != " ":
        text = text.replace(" 71", f"{delimiter}71").replace(" 161", f"{delimiter}161")
    found = shape(text)
    assert found.delimiter == delimiter
    assert found.time.columns == ((0, 1) if delimiter == " " else (0,))


def test_blanks_within_cells_are_no_delimiter() -> None:
    """A word beside date and time in one cell; but a comma before parts of a second is none either."""
    found = shape("x\t03.03.2026 22:53:20\t1\n")
    assert (found.delimiter, len(found.columns), found.time.columns) == ("\t", 3, (1,))
    found = shape("x;03.03.2026 22:53:20;1\n" * 9 + "x y;03.03.2026 22:53:30;1\n")
    assert (found.delimiter, found.time.columns) == (";", (1,))
    assert shape("2026-03-03 10:00:00,500 71,6\n2026-03-03 10:00:01,000 71,7\n").delimiter == " "


def test_row_of_units_and_rule_below_the_header() -> None:
    """They are skipped, and the units are taken from it."""
    found = shape("Time;T1;T2\n;°C;F\n2026-03-03 10:00:00;1,5;2\n2026-03-03 10:00:01;1,5;2\n")
    assert (found.header_row, found.data_row, found.skip) == (1, 3, 1)
    assert [one.unit for one in found.columns] == ["", "°C", "°F"]
    assert shape("Time;T1\n---;---\n2026-03-03 10:00:00;1,5\n").skip == 1


def test_units_behind_the_numbers() -> None:
    """71.6 °C says so itself."""
    assert shape("T,a\n2026-03-03 10:00:00,71.6 °C\n2026-03-03 10:00:01,71.6 °C\n").columns[1].unit == "°C"


def test_unit_that_is_not_named_must_be_chosen() -> None:
    """Column by column, by its name."""
    assert shape("Time,Milk\n2026-03-03 10:00,1\n").to_choose == ("the unit of column 2 (Milk) must be chosen",)


@pytest.mark.parametrize(
    ("rows", "order"),
    [
        (["13/04/2026 10:00:00"], "dmy"),
        (["04/13/2026 10:00:00"], "mdy"),
        (["03/04/2026 23:59:59", "04/04/2026 00:00:00"], "dmy"),
        (["04/03/2026 23:59:59", "04/04/2026 00:00:00"], "mdy"),
        (["04/04/2026 00:00:00", "03/04/2026 23:59:59"], "dmy"),
        (["03/04/2026 10:00:00", "03/04/2026 10:00:01"], ""),
        (["31.12.25 23:59:59", "01.01.26 00:00:00"], "dmy"),
    ],
)
def test_order_of_day_and_month(rows: list[str], order: str) -> None:
    """A number above 12, a date that goes on by a day; where neither shows it, it must be chosen."""
    found = shape("".join(f"{one},71.6\n" for one in rows), earliest_ms=EARLIEST_MS)
    assert (found.order_needed, found.time.order) == (True, order)
    chosen = [one for one in found.to_choose if "day or the month" in one]
    assert bool(chosen) is (order == "")
    if not order:
        assert "'03/04/2026 10:00:00'" in chosen[0]
        with pytest.raises(CalculationError, match="must be chosen"):
            found.mapping({1: "TT-1"}, units={1: "°C"})
        assert found.mapping({1: "TT-1"}, units={1: "°C"}, order="dmy").time.order == "dmy"


def test_order_is_found_by_what_has_not_come_yet_and_by_the_end_of_the_file() -> None:
    """3 December lies ahead on 1 October 2026; the last rows may have a number above 12."""
    rows = "03/12/2026 10:00:00,71.6\n"
    october = 1_790_800_000_000
    assert shape(rows, earliest_ms=EARLIEST_MS, now_ms=october).time.order == "mdy"
    assert guess(rows.encode() * 3, tail=b"6\n13/12/2026 10:00:00,71.6\nxx").time.order == "dmy"


def test_comma_that_may_stand_for_thousands_must_be_chosen() -> None:
    """71,600 between tabs is either; 71,6 is not."""
    assert shape("2026-03-03 10:00:00\t71,600\n").decimal == ""
    assert shape("2026-03-03 10:00:00\t71,6\n").decimal == ","
    assert shape("2026-03-03 10:00:00;71,600\n").decimal == ","
    with pytest.raises(CalculationError, match="decimal mark must be chosen"):
        shape("2026-03-03 10:00:00\t71,600\n").mapping({1: "TT-1"}, units={1: "°C"})


@pytest.mark.parametrize(("text", "form"), [("1772532000", "epoch s"), ("1772532000123", "epoch ms")])
def test_counts_of_time_since_1970(text: str, form: str) -> None:
    """Seconds or milliseconds, by their size."""
    assert shape(f"t,a\n{text},71.6\n").time.form == form


def test_head_may_be_cut_anywhere() -> None:
    """The last line, begun, is not looked at; nor is half a character."""
    data = "Time;Milk °C\n2026-03-03 10:00:00;71,6\n2026-03-03 10:00:01;71,6\n".encode()
    for end in range(40, len(data)):
        assert guess(data[:end]).delimiter == ";"
    assert guess(data[:12] + data[12:]).columns[1].unit == "°C"


def test_file_without_times_is_refused() -> None:
    """The sentence shows how it begins."""
    with pytest.raises(FileRefused, match="row 2: no column of times .* the file begins 'a,b'"):
        shape("\na,b\n1,2\n")
    with pytest.raises(FileRefused, match="no line with anything in it"):
        shape("\n \n")


def test_mapping_of_a_column_that_is_not_there_is_refused() -> None:
    """By number."""
    with pytest.raises(CalculationError, match="does not have"):
        shape("2026-03-03 10:00:00,1\n").mapping({7: "TT-1"}, units={7: "°C"})


def test_choices_of_a_person_are_in_the_mapping() -> None:
    """Instrument, unit, numbers of a failed sensor, clock."""
    plan = shape("Time,Milk\n2026-03-03 10:00:00,1\n").mapping(
        {1: "TT-1"}, units={1: "°F"}, fail_numbers={1: ("9999",)}, clock="UTC"
    )
    (channel,) = plan.channels
    assert (channel.instrument, channel.unit, channel.fail_numbers) == ("TT-1", "°F", ("9999",))
    assert (plan.time.clock, plan.header) == ("UTC", ("Time", "Milk"))


@settings(max_examples=BODIES, deadline=None, suppress_health_check=list(HealthCheck))
@given(file=files())
def test_file_is_read_alike_by_the_guess(file: File) -> None:
    """Where the file does not show the order and the mark, they are chosen; the samples are those of its own form."""
    own = file.mapping
    try:
        found = guess(file.data, whole=True, now_ms=NOW_MS, earliest_ms=EARLIEST_MS)
    except FileRefused as refused:
        assert "no column of times" in str(refused)  # every cell of the only rows is empty
        return
    assert found.time.order in ("", own.time.order)
    plan = found.mapping(
        {one.column: one.instrument for one in own.channels},
        units={one.column: one.unit for one in own.channels},
        fail_numbers={one.column: one.fail_numbers for one in own.channels},
        order=own.time.order,
        decimal=own.decimal,
        clock=own.time.clock,
    )
    readings = [
        read(io.BytesIO(file.data), one, now_ms=NOW_MS, earliest_ms=EARLIEST_MS, zone=CHICAGO) for one in (plan, own)
    ]
    assert as_plain(readings[0]) == as_plain(readings[1])
