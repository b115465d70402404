"""Bad input: a sentence with its place, nothing half taken, memory bounded."""

from __future__ import annotations

import gzip
import io
import tracemalloc
import zipfile
from collections.abc import Iterator

import pytest

from plant.process.trace_file import FileRefused, Mapping, TimeColumns, guess, read
from tests.plant.process.test_trace_file_reading import HEADER, mapping, parsed, table
from tests.trace_file_tools import CHICAGO, EARLIEST_MS, NOW_MS

pytestmark = pytest.mark.once

PICTURE = b"\xff\xd8\xff\xe0\0\x10JFIF" + bytes(range(256)) * 40
HOUR = ("10:00:00", "10:00:01", "10:00:02")


def refused(data: bytes | str, plan: Mapping | None = None) -> FileRefused:
    """The refusal of this file."""
    with pytest.raises(FileRefused) as caught:
        parsed(data, plan)
    return caught.value


class Stream(io.RawIOBase):
    """Bytes that are made as they are read: `head`, then `piece` so many times."""

    def __init__(self, head: bytes, piece: bytes, times: int) -> None:
        self._parts = self._all(head, piece, times)
        self.given = 0

    @staticmethod
    def _all(head: bytes, piece: bytes, times: int) -> Iterator[bytes]:
        yield head
        for _turn in range(times):
            yield piece

    def read(self, _size: int = -1) -> bytes:
        part = next(self._parts, b"")
        self.given += len(part)
        return part


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "the file is empty"),
        (PICTURE, "a picture"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR" + bytes(1000), "a picture"),
        (b"%PDF-1.7\n", "a document"),
        (gzip.compress(b"a,b\n" * 100, mtime=0), "unpack it"),
        (bytes(range(1, 32)) * 300, "no text"),
    ],
)
def test_what_is_no_table_is_named(data: bytes, words: str) -> None:
    """Both for the guess and for the reading, whatever the file is called."""
    assert words in str(refused(data))
    with pytest.raises(FileRefused, match=words):
        guess(data, whole=True)


def test_packed_file_is_never_inflated() -> None:
    """A hundred megabytes of zeros packed into a hundred kilobytes: refused by its first bytes."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("day.csv", bytes(100_000_000))
    tracemalloc.start()
    error = refused(packed.getvalue())
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert "unpack it" in str(error) and most < 1_000_000


def test_ten_million_columns_are_refused_without_reading_them_all() -> None:
    """The row is longer than any that a recorder writes."""
    stream = Stream(b"Time", b",1" * 500_000, 20)
    with pytest.raises(FileRefused, match="row 1: this line is longer") as caught:
        read(stream, mapping(), now_ms=NOW_MS, earliest_ms=EARLIEST_MS, zone=CHICAGO)  # type: ignore[arg-type]
    assert caught.value.row == 1 and stream.given < 2_000_000
    with pytest.raises(FileRefused, match="row 1: this line is longer"):
        guess(b"Time" + b",1" * 130_000)


def test_line_that_is_too_long_is_named_wherever_it_stands() -> None:
    """Up to 100,000 bytes are read; also in the middle of the file one byte more is refused."""
    plan = mapping(columns=4, header=(*HEADER, "Note"))
    for more, taken in ((0, True), (1, False)):
        note = "x" * (100_000 - len("2026-03-03 10:00:01,1,1,") + more)
        data = table(",1,1,", f",1,1,{note}", ",1,1,", header="Time,Milk,Water,Note")
        if taken:
            assert parsed(data, plan).rows == 3
        else:
            assert str(refused(data, plan)) == "row 3: this line is longer than any that a recorder writes"


def test_first_of_two_faults_is_named() -> None:
    """A NUL byte in row 3 and a wrong byte in row 4; two clocks in row 3 and a NUL byte in row 4."""
    assert str(refused(b"Time,Milk,Water\nx\n\0\n\xff\n")).startswith("row 3, column 1: there is a NUL byte")
    assert "one file holds one clock" in str(refused(table(",1,1", "2026-03-03 10:00:01Z,1,1", ",1,\0")))


def test_six_hundred_columns_are_counted() -> None:
    """More than 500 are refused by number."""
    with pytest.raises(FileRefused, match="row 1: there are 600 columns"):
        guess(b"2026-03-03 10:00:00" + b",1" * 599 + b"\n", whole=True)


def test_row_with_another_number_of_cells_is_rejected() -> None:
    """Named with both numbers."""
    (one,) = parsed(table(",1,2", ",1", ",1,2")).rejected
    assert str(one.sentence) == "row 3: its number of cells is 2, and a row has 3"
    assert one.text == "2026-03-03 10:00:01,1"


@pytest.mark.parametrize(
    ("cell", "words"),
    [
        ("=1+1", "'=1+1' is a formula; save the file with its values"),
        ("@SUM(A1)", "a formula"),
        ("+A1", "a formula"),
        ("vanilla", "'vanilla' is neither a number nor a word for a failed sensor"),
        ("1.2.3", "neither a number"),
        ("71;6", "neither a number"),
        ("1 234.5", "neither a number"),
        ("1e13", "larger than any measured value"),
        ("1234567890123", "larger than any measured value"),
        ("161 °F", "'161 °F' is not in °C as its column is"),
        ("１２", "neither a number"),
    ],
)
def test_cell_that_is_no_value_rejects_its_row(cell: str, words: str) -> None:
    """All the row's channels are left out, and the place, text and reason are named."""
    one = parsed(table(",1,1", f",{cell},1", ",2,1"))
    (found,) = one.rejected
    assert (found.row, found.column, found.text) == (3, "2 (Milk)", cell)
    assert words in str(found.sentence) and str(found.sentence).startswith("row 3, column 2 (Milk): ")
    assert [len(each.samples) for each in one.channels] == [2, 2]
    assert (one.rows, one.kept, one.rejected_count) == (3, 2, 1)


def test_comma_where_a_point_is_the_mark_is_said_so() -> None:
    """The wrong decimal mark has its own sentence."""
    one = parsed(table(",1,1", ',"71,6",1'))
    assert "no number when the decimal mark is '.'" in str(one.rejected[0].why)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (" ", "the time is missing"),
        ("2026-03-03", "no date and time"),
        ("2026-02-29 10:00:00", "no day of the calendar"),
        ("2026-13-03 10:00:00", "no day of the calendar"),
        ("2026-03-03 25:00:00", "no time of day"),
        ("2026-03-03 10:60:00", "no time of day"),
        ("2026-03-03 23:59:60", "no time of day"),
        ("2026-03-03 13:00:00 PM", "no time of day"),
        ("yesterday", "no date and time"),
        ("Time", "no date and time"),
    ],
)
def test_time_that_is_none_rejects_its_row(text: str, words: str) -> None:
    """Named as any cell is."""
    (one,) = parsed(table(",1,1", f"{text},1,1", ",2,1")).rejected
    assert words in str(one.sentence) and (one.row, one.column) == (3, "1 (Time)")


@pytest.mark.parametrize(
    "text", ["1970-01-01 00:00:07", "2093-03-03 10:00:00", "9999-12-31 23:59:59", "0001-01-01 00:00"]
)
def test_time_of_another_age_refuses_the_file(text: str) -> None:
    """1970 and 2093: with row and column; none of the good rows is taken."""
    error = refused(table(",1,1", f"{text},1,1", ",1,1"))
    assert (error.row, error.column) == (3, "1 (Time)")
    assert "before 2023" in str(error) or "has not come yet" in str(error)


def test_clock_may_be_ten_minutes_ahead_and_no_more() -> None:
    """Just below, at and above."""
    plan = mapping(time=TimeColumns((0,), "epoch ms"))
    for ahead, taken in ((0, True), (600_000, True), (600_001, False)):
        data = table(f"{NOW_MS + ahead},1,1")
        if taken:
            assert parsed(data, plan).rows == 1
        else:
            assert "has not come yet" in str(refused(data, plan))
    assert parsed(table(f"{EARLIEST_MS},1,1"), plan).rows == 1
    assert "the earliest time that is taken" in str(refused(table(f"{EARLIEST_MS - 1},1,1"), plan))


def test_seconds_taken_for_milliseconds_are_seen() -> None:
    """They lie in January 1970."""
    error = refused(table("1772532000,1,1"), mapping(time=TimeColumns((0,), "epoch ms")))
    assert str(error).startswith("row 2, column 1 (Time): 1970-01-21 12:22:12Z is before")


def test_channel_of_text_is_refused() -> None:
    """No row is understood; the first reason is given."""
    error = refused(table(*[",vanilla,1"] * 3))
    assert str(error).startswith("row 2, column 2 (Milk): nothing here is understood")
    assert "'vanilla' is neither a number" in str(error)


def test_hopeless_file_is_given_up_after_a_thousand_rows() -> None:
    """A thousand rows without one that is understood are enough; 999 and then a good one are named."""
    stream = Stream(b"Time,Milk,Water\n", b"2026-03-03 10:00:00,vanilla,1\n" * 20_000, 1000)
    with pytest.raises(FileRefused, match="nothing here is understood"):
        read(stream, mapping(), now_ms=NOW_MS, earliest_ms=EARLIEST_MS, zone=CHICAGO)  # type: ignore[arg-type]
    assert stream.given < 5_000_000
    one = parsed(table(*[",vanilla,1"] * 999, ",1,1"))
    assert (one.kept, one.rejected_count, len(one.rejected)) == (1, 999, 200)


def test_nul_byte_refuses_the_file() -> None:
    """With its row and column: the file is damaged."""
    error = refused(table(",1,1", ",1,\0\0", ",1,1"))
    assert str(error).startswith("row 3, column 3: there is a NUL byte")
    plan = mapping(delimiter=" ", columns=4, header=(), time=TimeColumns((0, 1)), channels=mapping().channels[1:])
    blanks = "2026-03-03  10:00:00 1 1\n2026-03-03  10:00:01 1\0 1\n"
    assert str(refused(blanks, plan)).startswith("row 2, column 3: there is a NUL byte")
    with pytest.raises(FileRefused, match="row 3, column 3: there is a NUL byte"):
        guess(table(",1,1", ",1,\0\0", ",1,1").encode(), whole=True)


def test_bytes_of_another_encoding_are_named_with_their_place() -> None:
    """A degree sign of cp1252 in a file that was to be UTF-8."""
    error = refused(table(",1,1", ",1,71\xb0").encode("cp1252"))
    assert str(error) == "row 3, column 3: these bytes are not in the encoding utf-8"
    assert "not in the encoding cp1252" in str(refused(table(",1,1").encode() + b"\x81\n", mapping(encoding="cp1252")))
    assert "not in the encoding utf-16" in str(refused(table(",1,1"), mapping(encoding="utf-16")))


def test_other_header_refuses_the_file() -> None:
    """A remembered mapping never reads columns that have changed places."""
    error = refused(table(",1,1", header="Time,Water,Milk"))
    assert "the header that this mapping was made for is not in the file: Time | Milk | Water" in str(error)
    assert "there is no row of readings" in str(refused("Time,Milk,Water\n"))
    assert "is not in the file" in str(refused("x\n" * 1001 + table(",1,1")))


def test_header_that_comes_again_is_a_row_that_is_left_out_unless_its_columns_change_places() -> None:
    """Two files put together: alike, a row is named; with other columns nothing is taken."""
    (one,) = parsed(table(",1,1", "Time,Milk,Water", ",1,1")).rejected
    assert (one.row, str(one.why)) == (3, "'Time' is no date and time")
    error = refused(table(",1,1", "Time,Water,Milk", ",1,1"))
    assert str(error).startswith("row 3: the header comes again here with its columns in another order")


@pytest.mark.parametrize("cut", [",71", ",71.", ",71.6,", ",71.6,16", ",71.6,161", ",71.6,161.", ""])
def test_file_cut_within_its_last_row_names_it(cut: str) -> None:
    """Without its line end and unlike the row before, a last row may have lost digits: it is left out."""
    one = parsed(table(",71.6,161.5", ",71.6,161.5") + f"2026-03-03 10:00:02{cut}")
    (found,) = one.rejected
    assert (found.row, one.rows, one.kept) == (4, 3, 2)
    assert "the file ends within this row" in str(found.sentence)


@pytest.mark.parametrize(
    ("last", "taken"), [("161.5", True), ("98.6", True), ("1000.1", True), ("9", False), ("OPEN", False)]
)
def test_last_row_without_its_line_end_is_taken_when_it_is_like_the_one_before(last: str, taken: bool) -> None:
    """Many programs leave out the last line end: the same number of places shows that nothing is missing."""
    one = parsed(table(",71.6,161.5") + f"2026-03-03 10:00:02,71.6,{last}")
    assert one.kept == 1 + taken


def test_only_row_without_its_line_end_is_not_taken() -> None:
    """There is nothing that it could be like."""
    assert "the file ends within this row" in str(refused(table(",71.6,161.5").rstrip("\n")))


def test_file_cut_within_a_character_is_refused() -> None:
    """Half a character of UTF-16."""
    assert "the file ends within a character" in str(refused(table(",1,1").encode("utf-16")[:-1]))


def test_clock_set_back_refuses_the_file() -> None:
    """A jump back by an hour is a second clock in one file; the row is named, and how to go on."""
    error = refused(table(*(f"2026-03-03 {at},1,1" for at in (*HOUR, "09:00:03", "09:00:04"))))
    assert (error.row, error.column) == (5, "1 (Time)")
    assert "the time jumps by 59 minutes against the order of the rows: one file holds one clock" in str(error)


def test_rows_in_any_order_are_taken_where_a_person_says_so() -> None:
    """The same file, said to be in any order."""
    rows = table(*(f"2026-03-03 {at},1,1" for at in (*HOUR, "09:00:03", "09:00:04")))
    assert parsed(rows, mapping(any_order=True)).out_of_order == 2


def test_offsets_that_differ_are_two_clocks() -> None:
    """Unless they differ as the plant's zone does at its clock change."""
    plan = mapping(time=TimeColumns((0,), offset=True))
    error = refused(table("2026-03-03T10:00:00-06:00,1,1", "2026-03-03T17:00:00+01:00,1,1"), plan)
    assert str(error).startswith("row 3, column 1 (Time): the offset from UTC is +01:00 here and -06:00 in row 2")
    changed = table("2026-11-01T01:59:59-05:00,1,1", "2026-11-01T01:00:00-06:00,1,1")
    assert parsed(changed, plan).channels[0].usual_step_ms == 1000


@pytest.mark.parametrize("offset", [False, True])
def test_times_with_and_without_offset_are_two_clocks(offset: bool) -> None:
    """Whichever the file began with."""
    rows = ["2026-03-03T10:00:00,1,1", "2026-03-03T10:00:01Z,1,1"]
    error = refused(table(*(reversed(rows) if offset else rows)), mapping(time=TimeColumns((0,), offset=offset)))
    assert (error.row, error.column) == (3, "1 (Time)") and "one file holds one clock" in str(error)


def test_order_of_day_and_month_must_be_chosen() -> None:
    """It is never guessed while reading."""
    error = refused(table("03/04/2026 10:00:00,1,1"), mapping(time=TimeColumns((0,))))
    assert str(error) == "row 2, column 1 (Time): whether the day or the month comes first must be chosen"


def test_quotation_mark_that_is_never_closed_refuses_the_file() -> None:
    """From where it opens, at the end of the file or after fifty lines."""
    for rows in (3, 200):
        error = refused(table(",1,1", ',"1,1', *[",1,1"] * rows))
        assert str(error) == "row 3: a quotation mark that opens here is never closed"


def test_memory_is_bounded_by_rows_not_by_bytes() -> None:
    """Thirty megabytes of cells that nobody wants leave 20,000 rows: a few megabytes."""
    row = b"2026-03-03 10:00:00,1,1," + b"x" * 1476 + b"\n"
    plan = mapping(columns=4, header=(*HEADER, "Note"))
    stream = Stream(b"Time,Milk,Water,Note\n", row * 100, 200)
    tracemalloc.start()
    one = read(stream, plan, now_ms=NOW_MS, earliest_ms=EARLIEST_MS, zone=CHICAGO)  # type: ignore[arg-type]
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert one.rows == 20_000 and stream.given > 29_000_000 and most < 12_000_000
