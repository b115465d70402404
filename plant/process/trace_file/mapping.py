"""How a recorder's file is to be read: what a person confirms once and the next file of its kind is read by."""

from __future__ import annotations

import re
from collections.abc import Mapping as PlainMapping
from dataclasses import dataclass
from datetime import UTC, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo

from plant.process.errors import CalculationError
from plant.process.said import Said
from plant.process.said import say as _
from plant.process.trace_file.cells import DELIMITERS, FAIL_TEXTS, number
from plant.process.trace_file.moments import ORDERS

ENCODINGS = ("utf-8", "utf-16", "utf-16-le", "utf-16-be", "cp1252", "latin-1")
MOST_COLUMNS = 500
DATE, EPOCH_S, EPOCH_MS = "date", "epoch s", "epoch ms"
FORMS = (DATE, EPOCH_S, EPOCH_MS)
_OFFSET = re.compile(r"([+-])(\d\d):(\d\d)", re.ASCII)
_MOST_SKIPPED = 1000


@dataclass(frozen=True, slots=True)
class TimeColumns:
    """Where a row's time stands.

    `columns` (from 0; date, time of day and what belongs to it, in this order) hold it in one of the FORMS. `order` is
    that of day, month and year ("dmy", "mdy", "ymd"); "" where the year comes first or the month is a word. `offset`:
    each time is written with its offset from UTC. Without one `clock` says which clock the recorder keeps: "" that of
    the plant's zone with its clock changes, "UTC", a fixed offset ("-06:00") or a zone's name.
    """

    columns: tuple[int, ...]
    form: str = DATE
    order: str = ""
    offset: bool = False
    clock: str = ""

    def __post_init__(self) -> None:
        _check(1 <= len(self.columns) <= 6, _("the time stands in one to six columns"))
        _check(self.form in FORMS, _("the form of the time is none that is known"))
        _check(self.order in ("", *ORDERS), _("the order of day, month and year is none that is known"))
        zone_of(self.clock, UTC)


@dataclass(frozen=True, slots=True)
class ChannelColumn:
    """A column (from 0) and the instrument whose readings it holds, in `unit` (never converted).

    `fail_texts` and `fail_numbers` (decimals with a point, such as "-999.9") are what a failed sensor writes.
    """

    column: int
    instrument: str
    unit: str
    fail_texts: tuple[str, ...] = FAIL_TEXTS
    fail_numbers: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        _check(bool(self.instrument.strip()), _("each channel needs its instrument"))
        _check(bool(self.unit.strip()), _("the unit of each channel must be chosen"))
        for one in self.fail_numbers:
            if number(one.strip(), ".") is None:
                raise CalculationError(_("'%(text)s' is no number for a failed sensor", text=one))


@dataclass(frozen=True, slots=True)
class Mapping:
    """A file's form and what its columns are.

    `columns` is how many cells each row has. `header` holds the texts of the header row, found by them wherever it
    stands, so that a file with other columns is refused; () for none. `skip` is how many lines stand between the header
    (or the beginning) and the first row. `any_order`: rows may be in any order, however far back their times go.
    """

    encoding: str
    delimiter: str
    decimal: str
    columns: int
    time: TimeColumns
    channels: tuple[ChannelColumn, ...]
    header: tuple[str, ...] = ()
    skip: int = 0
    any_order: bool = False

    def __post_init__(self) -> None:
        _check(self.encoding in ENCODINGS, _("the encoding is none that is known"))
        _check(self.delimiter in DELIMITERS, _("the delimiter is none that is known"))
        _check(self.decimal in (".", ","), _("the decimal mark must be chosen: a point or a comma"))
        _check(2 <= self.columns <= MOST_COLUMNS, _("a file has a column of times and one of readings, 500 at most"))
        _check(0 <= self.skip <= _MOST_SKIPPED, _("at most 1,000 lines stand above the first row"))
        _check(bool(self.channels), _("at least one column must be mapped to an instrument"))
        used = [*self.time.columns, *(one.column for one in self.channels)]
        _check(all(0 <= one < self.columns for one in used), _("a column is mapped that the file does not have"))
        _check(len(set(used)) == len(used), _("a column is mapped twice"))
        codes = [one.instrument for one in self.channels]
        _check(len(set(codes)) == len(codes), _("an instrument is mapped to two columns"))

    def to_plain(self) -> dict[str, object]:
        """As JSON has it: texts, numbers, true and false, lists, and dicts of these."""
        time = {**_fields(self.time), "columns": list(self.time.columns)}
        channels = [
            {**_fields(one), "fail_texts": list(one.fail_texts), "fail_numbers": list(one.fail_numbers)}
            for one in self.channels
        ]
        return {**_fields(self), "header": list(self.header), "time": time, "channels": channels}

    @classmethod
    def from_plain(cls, plain: object) -> Mapping:
        """Back from `to_plain`. Raises CalculationError for anything that it did not write."""
        try:
            have = _dict(plain, cls)
            time, channels = _dict(have.pop("time"), TimeColumns), have.pop("channels")
            columns = tuple(_whole(one) for one in _list(time.pop("columns")))
            return cls(
                time=TimeColumns(columns, offset=_true(time.pop("offset")), **_texts(time)),
                channels=tuple(_channel(_dict(one, ChannelColumn)) for one in _list(channels)),
                header=tuple(_text(one) for one in _list(have.pop("header"))),
                columns=_whole(have.pop("columns")),
                skip=_whole(have.pop("skip")),
                any_order=_true(have.pop("any_order")),
                **_texts(have),
            )
        except CalculationError:
            raise
        except (KeyError, TypeError, ValueError) as error:
            raise CalculationError(_("this is no mapping of a recorder's file")) from error


def zone_of(clock: str, plant: tzinfo) -> tzinfo:
    """The zone that a recorder's clock keeps: `plant` for "". Raises CalculationError for one that is unknown."""
    if clock in ("", "UTC"):
        return plant if clock == "" else UTC
    found = _OFFSET.fullmatch(clock)
    if found:
        ahead = timedelta(hours=int(found[2]), minutes=int(found[3]))
        if ahead < timedelta(hours=24) and int(found[3]) < 60:
            return timezone(ahead if found[1] == "+" else -ahead)
    try:
        return ZoneInfo(clock)
    except (OSError, ValueError, KeyError) as error:  # no such name, or one that is no name of a file
        raise CalculationError(_("'%(clock)s' is no time zone", clock=clock)) from error


def _check(holds: bool, otherwise: Said) -> None:
    if not holds:
        raise CalculationError(otherwise)


def _fields(one: object) -> dict[str, object]:
    return {name: getattr(one, name) for name in one.__slots__}  # type: ignore[attr-defined]


def _channel(have: dict[str, object]) -> ChannelColumn:
    column = _whole(have.pop("column"))
    texts, numbers = (tuple(_text(one) for one in _list(have.pop(name))) for name in ("fail_texts", "fail_numbers"))
    return ChannelColumn(column, fail_texts=texts, fail_numbers=numbers, **_texts(have))


def _dict(value: object, of: type) -> dict[str, object]:
    if not isinstance(value, PlainMapping) or set(value) != set(of.__slots__):  # type: ignore[attr-defined]
        raise TypeError(of)
    return dict(value)


def _list(value: object) -> list[object]:
    if not isinstance(value, list | tuple):
        raise TypeError(value)
    return list(value)


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise TypeError(value)
    return value


def _texts(value: dict[str, object]) -> dict[str, str]:
    return {name: _text(one) for name, one in value.items()}


def _whole(value: object) -> int:
    if not isinstance(value, int) or isinstance(value, bool):
        raise TypeError(value)
    return value


def _true(value: object) -> bool:
    if not isinstance(value, bool):
        raise TypeError(value)
    return value
