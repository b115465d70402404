"""Files as loggers write them, made at random, and a second way to read them: plain Python, row by row.

The second way shares nothing with the first: the csv module, datetime.strptime, zoneinfo, Decimal and a dict.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal
from zoneinfo import ZoneInfo

import numpy as np
from hypothesis import strategies as st

from plant.process.trace_file import ChannelColumn, Mapping, Parsed, TimeColumns

CHICAGO = ZoneInfo("America/Chicago")
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
NOW_MS = 1_798_761_600_000  # 2027-01-01
EARLIEST_MS = 1_700_000_000_000
FAILED = "failed"
WORDS = ("OPEN", "---", "NaN", "fail")

# How a time is written: strptime's formats of its columns, the order of day and month, what its text ends in.
STYLES = {
    "iso": (("%Y-%m-%d %H:%M:%S",), ""),
    "iso T": (("%Y-%m-%dT%H:%M:%S.%f",), ""),
    "iso offset": (("%Y-%m-%dT%H:%M:%S%z",), ""),
    "two columns": (("%Y/%m/%d", "%H:%M:%S"), ""),
    "day first": (("%d.%m.%Y %H:%M:%S",), "dmy"),
    "day first, two columns": (("%d/%m/%y", "%H:%M:%S"), "dmy"),
    "month first": (("%m/%d/%Y %I:%M:%S %p",), "mdy"),
    "month named": (("%d-%b-%Y %H:%M:%S",), ""),
    "compact": (("%Y%m%dT%H%M%S",), ""),
    "epoch s": ((), ""),
    "epoch ms": ((), ""),
}


@dataclass
class File:
    """A file, the mapping that reads it, and how its times are written."""

    data: bytes
    mapping: Mapping
    formats: tuple[str, ...]
    clock: timezone | ZoneInfo = CHICAGO


@dataclass
class Plain:
    """A channel as the second way has it: samples by moment, those that contradict, counts."""

    samples: dict[int, Decimal | str] = field(default_factory=dict)
    contradictions: set[tuple[int, Decimal | str]] = field(default_factory=set)
    duplicates: int = 0
    empty: int = 0


def moment(ms: int) -> datetime:
    """A moment in UTC."""
    return EPOCH + timedelta(milliseconds=ms)


def written(ms: int, style: str, clock: timezone | ZoneInfo) -> list[str]:
    """The cells that hold a moment."""
    if style == "epoch s":
        return [f"{ms // 1000}" if ms % 1000 == 0 else f"{Decimal(ms) / 1000:.3f}"]
    if style == "epoch ms":
        return [str(ms)]
    local = moment(ms).astimezone(clock)
    cells = [local.strftime(one) for one in STYLES[style][0]]
    return [one[:-3] if style == "iso T" else one for one in cells]  # milliseconds, not microseconds


@st.composite
def files(draw: st.DrawFn) -> File:
    """A file of one to four channels in any form, with failures, empty cells, repeats, contradictions, late rows."""
    style = draw(st.sampled_from(sorted(STYLES)))
    clock = draw(st.sampled_from([CHICAGO, UTC, timezone(timedelta(hours=5, minutes=30))]))
    mark = draw(st.sampled_from(".,"))
    delimiter = draw(st.sampled_from([";", "\t", "|", " ", *([","] if mark == "." else [])]))
    if delimiter == " " and len(STYLES[style][0]) == 1 and " " in STYLES[style][0][0]:
        delimiter = ";"
    start = draw(st.sampled_from([1_772_600_000, 1_772_955_000, 1_793_510_000])) * 1000  # the latter two: clock changes
    step = draw(st.sampled_from([1000, 60_000, 900_000]))
    twice = start > 1_793_000_000_000 and clock is CHICAGO  # there the rows must run on
    count = draw(st.integers(1, 40))
    chance = draw(st.randoms(use_true_random=False))
    channels = draw(st.integers(1, 4))
    places = [chance.randrange(0, 5) for _one in range(channels)]
    rows = [
        (start + at * step, [_cell(chance, places[one], mark, delimiter) for one in range(channels)])
        for at in range(count)
        if twice or chance.random() > 0.1
    ] or [(start, ["1"] * channels)]
    for _turn in range(draw(st.integers(0, 3))):
        at = chance.randrange(len(rows))
        again = (rows[at][0], rows[at][1] if chance.random() < 0.5 else [f"{chance.randrange(90)}"] * channels)
        late = 1 if twice or step > 60_000 else chance.randrange(1, 3)
        rows.insert(min(at + late, len(rows)), again)
    time_width = len(written(start, style, clock))
    lead = draw(st.integers(0, 1)) if delimiter != " " else 0  # a column that nobody wants
    header = tuple(f"c{one}" for one in range(lead + time_width + channels)) if draw(st.booleans()) else ()
    above = ["Recorder 7", f"made{delimiter}up"][: draw(st.integers(0, 2))]
    lines = [*above, *([delimiter.join(header)] if header else [])]
    quoted = delimiter != " " and draw(st.sampled_from([False, False, True]))
    padding = draw(st.sampled_from(["", "", " "]))
    for ms, cells in rows:
        row = ["note é" if chance.random() < 0.1 else "x"] * lead + written(ms, style, clock) + cells
        row = [f'"{one}"' for one in row] if quoted else [f"{padding}{one}" for one in row]
        lines.append(delimiter.join(row))
    encoding = draw(st.sampled_from(["utf-8", "utf-8", "utf-16", "cp1252"]))
    end = draw(st.sampled_from(["\n", "\r\n", "\r"]))
    data = "".join(line + end for line in lines).encode(encoding)
    name = "" if clock is CHICAGO else "UTC" if clock is UTC else "+05:30"
    form = style if style.startswith("epoch") else "date"
    time = TimeColumns(
        tuple(range(lead, lead + time_width)), form, STYLES[style][1], "%z" in "".join(STYLES[style][0]), name
    )
    mapping = Mapping(
        encoding, delimiter, mark, lead + time_width + channels, time,
        tuple(
            ChannelColumn(lead + time_width + one, f"TT-{one}", "°C", fail_numbers=("9999", "-999.9"))
            for one in range(channels)
        ),
        header, 0 if header else len(above),
    )  # fmt: skip
    return File(data, mapping, STYLES[style][0], clock)


def _cell(chance: object, places: int, mark: str, delimiter: str) -> str:
    turn = chance.random()  # type: ignore[attr-defined]
    if turn < 0.03:
        return str(chance.choice(WORDS))  # type: ignore[attr-defined]
    if turn < 0.05:
        return "9999" if chance.random() < 0.5 else f"-999{mark}9"  # type: ignore[attr-defined]
    if turn < 0.08 and delimiter != " ":
        return ""
    if turn < 0.1:
        return f"{chance.randrange(-99, 99)}{mark}{chance.randrange(10)}"  # type: ignore[attr-defined]
    value = Decimal(chance.randrange(-(10**6), 10**6)).scaleb(-places)  # type: ignore[attr-defined]
    return f"{value:f}".replace(".", mark)


def read_plain(file: File) -> list[Plain]:
    """The file's channels by the second way. Every row of it must be in order; else an error comes."""
    mapping, time = file.mapping, file.mapping.time
    text = file.data.decode(mapping.encoding)
    if mapping.delimiter == " ":
        records = [[cell for cell in line.split(" ") if cell] for line in text.splitlines()]
    else:
        records = list(csv.reader(io.StringIO(text, newline=None), delimiter=mapping.delimiter))
    records = [[cell.strip() for cell in one] for one in records]
    start = records.index(list(mapping.header)) + 1 if mapping.header else mapping.skip
    found = [Plain() for _one in mapping.channels]
    before: int | None = None
    for record in records[start:]:
        assert len(record) == mapping.columns
        ms = _plain_time([record[at] for at in time.columns], file, before)
        before = ms
        for channel, plain in zip(mapping.channels, found, strict=True):
            _plain_sample(plain, ms, record[channel.column].replace(mapping.decimal, "."), channel.fail_numbers)
    return found


def _plain_time(cells: list[str], file: File, before: int | None) -> int:
    form = file.mapping.time.form
    if form != "date":
        count = Decimal(cells[0].replace(file.mapping.decimal, "."))
        return int(count * 1000 if form == "epoch s" else count)
    read = datetime.strptime(" ".join(cells), " ".join(file.formats))  # noqa: DTZ007  (its zone comes next)
    if read.tzinfo is not None:
        return _ms(read)
    first = _ms(read.replace(tzinfo=file.clock))
    second = _ms(read.replace(tzinfo=file.clock, fold=1))
    # The rows run on: of the two moments that a local time may be, the one that is nearest to the row before.
    return second if before is not None and abs(second - before) < abs(first - before) else first


def _ms(when: datetime) -> int:
    return (when - EPOCH) // timedelta(milliseconds=1)


def _plain_sample(plain: Plain, ms: int, cell: str, fail_numbers: tuple[str, ...]) -> None:
    if not cell:
        plain.empty += 1
        return
    value: Decimal | str = FAILED if cell.upper() in ("OPEN", "---", "NAN", "FAIL") else Decimal(cell)
    if value in [Decimal(one) for one in fail_numbers]:
        value = FAILED
    if ms not in plain.samples:
        plain.samples[ms] = value
    elif plain.samples[ms] == value or (ms, value) in plain.contradictions:
        plain.duplicates += 1
    else:
        plain.contradictions.add((ms, value))


def as_plain(parsed: Parsed) -> list[Plain]:
    """What `read` gave, in the second way's terms."""
    found = []
    for one in parsed.channels:
        samples = one.samples
        values = [
            FAILED if failed else Decimal(value).scaleb(-samples.places)
            for value, failed in zip(samples.values.tolist(), samples.failed.tolist(), strict=True)
        ]
        contradictions = {(at.time_ms, FAILED if at.other is None else at.other) for at in one.contradictions}
        plain = Plain(
            dict(zip(samples.times_ms.tolist(), values, strict=True)), contradictions, one.duplicates, one.empty
        )
        found.append(plain)
        assert (np.diff(samples.times_ms) > 0).all()
    return found


def same(one: Parsed, other: Parsed) -> bool:
    """Whether two readings of a file are alike to the last bit."""
    plain = ("rows", "rejected_count", "rejected", "out_of_order", "newest_first", "told_apart", "first", "last")
    return all(getattr(one, name) == getattr(other, name) for name in plain) and all(
        _same_channel(*pair) for pair in zip(one.channels, other.channels, strict=True)
    )


def _same_channel(one: object, other: object) -> bool:
    alike = ("column", "name", "instrument", "unit", "duplicates", "empty", "rounded", "usual_step_ms")
    arrays = (
        ("gaps_ms",),
        *(("samples", name) for name in ("times_ms", "values", "failed")),
        *(("contradictions", name) for name in ("rows", "times_ms", "first", "first_failed", "other", "other_failed")),
    )

    def at(channel: object, path: tuple[str, ...]) -> object:
        for name in path:
            channel = getattr(channel, name)
        return channel

    return (
        all(getattr(one, name) == getattr(other, name) for name in alike)
        and at(one, ("samples", "places")) == at(other, ("samples", "places"))
        and all(np.array_equal(at(one, path), at(other, path)) for path in arrays)
    )
