"""Recorders' files beside the standards that say how cells and times are written.

RFC 4180, Common Format and MIME Type for CSV Files, section 2 (from memory): https://www.rfc-editor.org/rfc/rfc4180
RFC 3339, Date and Time on the Internet, section 5.8 (from memory): https://www.rfc-editor.org/rfc/rfc3339
ISO 8601:2004, 4.3.2 and 4.2.3 (from memory).
POSIX.1-2017, base definitions, 4.16, seconds since the Epoch (from memory).
15 U.S.C. 260a as amended by the Energy Policy Act of 2005, section 110 (from memory): in the United States clocks
change on the second Sunday of March and the first Sunday of November at 02:00 local time; Chicago is six hours behind
UTC in winter.
Directive 2000/84/EC, articles 2 and 3 (from memory): in the European Union on the last Sundays of March and October at
01:00 UTC.
"""

from __future__ import annotations

import io
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from plant.process.trace_file import ChannelColumn, Mapping, TimeColumns, read
from plant.process.trace_file.cells import fields
from plant.process.trace_file.moments import moment
from plant.process.trace_file.refusals import CellRefused
from plant.process.trace_file.zones import changes

pytestmark = pytest.mark.once

CRLF = "\n"  # line ends have been made line feeds before records are split


@pytest.mark.parametrize(
    ("record", "cells"),
    [
        ("aaa,bbb,ccc", ["aaa", "bbb", "ccc"]),  # rule 1
        ("zzz,yyy,xxx", ["zzz", "yyy", "xxx"]),  # rule 2
        ("field_name,field_name,field_name", ["field_name"] * 3),  # rule 3
        ('"aaa","bbb","ccc"', ["aaa", "bbb", "ccc"]),  # rule 5
        (f'"aaa","b{CRLF}bb","ccc"', ["aaa", f"b{CRLF}bb", "ccc"]),  # rule 6
        ('"aaa","b""bb","ccc"', ["aaa", 'b"bb', "ccc"]),  # rule 7
    ],
)
def test_records_of_rfc_4180(record: str, cells: list[str]) -> None:
    """Each example record of section 2."""
    assert fields(record, ",") == cells


def test_record_of_rfc_4180_goes_on_until_its_quotation_mark() -> None:
    """Rule 6: a line end within quotation marks does not end the record."""
    assert fields('"aaa","b', ",") is None


@pytest.mark.parametrize(
    ("text", "utc"),
    [
        ("1985-04-12T23:20:50.52Z", datetime(1985, 4, 12, 23, 20, 50, 520_000, UTC)),
        ("1996-12-19T16:39:57-08:00", datetime(1996, 12, 20, 0, 39, 57, tzinfo=UTC)),  # as its text says
        ("1937-01-01T12:00:27.87+00:20", datetime(1937, 1, 1, 11, 40, 27, 870_000, UTC)),
    ],
)
def test_examples_of_rfc_3339(text: str, utc: datetime) -> None:
    """The examples of section 5.8 that name a moment of a day of 86,400 s."""
    local, offset = moment(text, "")
    assert offset is not None and local - offset == _ms(utc)


@pytest.mark.parametrize("text", ["1990-12-31T23:59:60Z", "1990-12-31T15:59:60-08:00"])
def test_leap_second_of_rfc_3339_is_named(text: str) -> None:
    """The other two examples are one leap second, which a count of milliseconds since 1970 does not have."""
    with pytest.raises(CellRefused, match="no time of day"):
        moment(text, "")


@pytest.mark.parametrize(
    ("text", "utc"),
    [
        ("19850412T101530", datetime(1985, 4, 12, 10, 15, 30, tzinfo=UTC)),  # 4.3.2, basic
        ("1985-04-12T10:15:30", datetime(1985, 4, 12, 10, 15, 30, tzinfo=UTC)),  # 4.3.2, extended
        ("19850412T101530Z", datetime(1985, 4, 12, 10, 15, 30, tzinfo=UTC)),
        ("19850412T101530+0400", datetime(1985, 4, 12, 6, 15, 30, tzinfo=UTC)),
        ("19850412T101530+04", datetime(1985, 4, 12, 6, 15, 30, tzinfo=UTC)),
        ("1985-04-12T10:15:30+04:00", datetime(1985, 4, 12, 6, 15, 30, tzinfo=UTC)),
        ("1985-04-12T10:15:30+04", datetime(1985, 4, 12, 6, 15, 30, tzinfo=UTC)),
        ("1985-04-12T24:00:00", datetime(1985, 4, 13, tzinfo=UTC)),  # 4.2.3: the end of a day
        ("1985-04-12T10:15:30,5", datetime(1985, 4, 12, 10, 15, 30, 500_000, UTC)),  # 4.2.2.4: a comma for the mark
    ],
)
def test_representations_of_iso_8601(text: str, utc: datetime) -> None:
    """Basic and extended, with Z, hours or hours and minutes, the end of a day, a comma as decimal sign."""
    local, offset = moment(text, "")
    assert local - (offset or 0) == _ms(utc)


@pytest.mark.parametrize(
    ("count", "utc"),
    [
        # The formula of 4.16 gives these counts for these moments.
        ("1000000000", datetime(2001, 9, 9, 1, 46, 40, tzinfo=UTC)),
        ("1234567890", datetime(2009, 2, 13, 23, 31, 30, tzinfo=UTC)),
        ("2147483647", datetime(2038, 1, 19, 3, 14, 7, tzinfo=UTC)),
    ],
)
def test_seconds_since_the_epoch_of_posix(count: str, utc: datetime) -> None:
    """A count of seconds is the moment in UTC, whatever the plant's zone."""
    times = _times([count], TimeColumns((0,), "epoch s"), "America/Chicago")
    assert times == [_ms(utc)]


@pytest.mark.parametrize(
    ("zone", "utc"),
    [
        ("America/Chicago", [datetime(2026, 3, 8, 8, tzinfo=UTC), datetime(2026, 11, 1, 7, tzinfo=UTC)]),
        ("Europe/Madrid", [datetime(2026, 3, 29, 1, tzinfo=UTC), datetime(2026, 10, 25, 1, tzinfo=UTC)]),
    ],
)
def test_clock_changes_of_2026(zone: str, utc: list[datetime]) -> None:
    """The moments that the two laws give."""
    assert changes(ZoneInfo(zone), 2026, 2026).at_ms.tolist() == [_ms(one) for one in utc]


@pytest.mark.parametrize(
    ("rows", "utc"),
    [
        # In March 01:59 is followed by 03:00, a minute later: 08:00 UTC.
        (
            ["2026-03-08 01:59", "2026-03-08 03:00"],
            [datetime(2026, 3, 8, 7, 59, tzinfo=UTC), datetime(2026, 3, 8, 8, tzinfo=UTC)],
        ),
        # In November 01:59 is followed by 01:00, a minute later: 07:00 UTC.
        (
            ["2026-11-01 01:58", "2026-11-01 01:59", "2026-11-01 01:00", "2026-11-01 01:01"],
            [datetime(2026, 11, 1, 6, 58, tzinfo=UTC), datetime(2026, 11, 1, 6, 59, tzinfo=UTC),
             datetime(2026, 11, 1, 7, tzinfo=UTC), datetime(2026, 11, 1, 7, 1, tzinfo=UTC)],
        ),
    ],
)  # fmt: skip
def test_rows_across_the_clock_changes_of_2026(rows: list[str], utc: list[datetime]) -> None:
    """A recorder on Chicago's clock that wrote each minute wrote without a gap."""
    times = _times(rows, TimeColumns((0,)), "America/Chicago")
    assert times == [_ms(one) for one in utc]
    assert set(np.diff(times)) == {60_000}


def _times(rows: list[str], time: TimeColumns, zone: str) -> list[int]:
    mapping = Mapping("utf-8", ",", ".", 2, time, (ChannelColumn(1, "TT-1", "°C"),))
    file = io.BytesIO("".join(f"{one},71.6\r\n" for one in rows).encode())
    parsed = read(file, mapping, now_ms=_ms(datetime(2040, 1, 1, tzinfo=UTC)), earliest_ms=0, zone=ZoneInfo(zone))
    assert parsed.rejected == ()
    return [int(one) for one in parsed.channels[0].samples.times_ms]


def _ms(utc: datetime) -> int:
    return round(utc.timestamp() * 1000)
