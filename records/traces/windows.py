"""The window of time that a page of traces shows: read from its address, moved, and written into addresses again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from urllib.parse import urlencode

from django.utils.translation import gettext as _

from plant.process.plant_calendar import PlantCalendar, to_utc

SHORTEST, LONGEST = timedelta(seconds=10), timedelta(days=31)
DAY = timedelta(days=1)
FIRST, LAST = datetime(2000, 1, 1, tzinfo=UTC), datetime(2200, 1, 1, tzinfo=UTC)
NARROWEST, WIDEST, USUAL_WIDTH = 480, 1600, 976  # of the picture
MOST_COLUMNS, USUAL_COLUMNS = 4000, 1000
UNITS = {"C": "°C", "F": "°F"}


class WrongWindow(ValueError):
    """An address asks for a window that cannot be shown: the field, and a sentence to stand beside it."""

    def __init__(self, field: str, sentence: str) -> None:
        super().__init__(sentence)
        self.field, self.sentence = field, sentence


@dataclass(frozen=True, slots=True)
class Window:
    """From `start` up to `end`, both UTC."""

    start: datetime
    end: datetime

    @property
    def length(self) -> timedelta:
        return self.end - self.start

    def moved(self, share: float) -> Window:
        """Later by a share of its length; earlier where that is negative."""
        return Window(self.start + self.length * share, self.end + self.length * share)

    def zoomed(self, factor: float) -> Window:
        """So many times as long around its middle, within what can be shown."""
        length = min(max(self.length * factor, SHORTEST), LONGEST)
        start = (self.start + (self.length - length) / 2).replace(microsecond=0)
        return Window(start, start + timedelta(seconds=round(length.total_seconds())))

    def query(self, **more: str) -> str:
        """The query of an address that shows it."""
        named = {"from": in_address(self.start), "until": in_address(self.end)}
        return urlencode(named | {name: text for name, text in more.items() if text})


def day_of(moment: datetime, calendar: PlantCalendar) -> Window:
    """The whole plant day of a moment."""
    return Window(*calendar.day_bounds(calendar.plant_day(moment)))


def in_address(moment: datetime) -> str:
    """A moment as an address says it: UTC, so that an hour which comes twice is one of the two."""
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z").replace(".000Z", "Z")


def asked(given: Mapping[str, str], calendar: PlantCalendar, usual: Window) -> Window:
    """The window that an address asks for: `from` and `until`, each alone with a day's length; neither: the usual one.

    A time without an offset is on the plant's clocks: one that a clock change skips moves forward, one that comes twice
    means its first pass. Raises WrongWindow.
    """
    start, end = (_moment(given.get(name, ""), name, calendar) for name in ("from", "until"))
    if start is not None:
        window = Window(start, end if end is not None else start + DAY)
    elif end is not None:
        window = Window(end - DAY, end)
    else:
        return usual
    if window.end <= window.start:
        raise WrongWindow("until", _("The end must be later than the beginning."))
    if window.length > LONGEST:
        raise WrongWindow("until", _("At most %(days)s days are shown at once.") % {"days": LONGEST.days})
    if window.length < SHORTEST:
        seconds = int(SHORTEST.total_seconds())
        raise WrongWindow("until", _("At least %(seconds)s seconds are shown.") % {"seconds": seconds})
    return window


def whole_number(given: Mapping[str, str], name: str, low: int, high: int, usual: int) -> int:
    """A whole number of an address within bounds. Raises WrongWindow."""
    text = given.get(name, "")
    if not text:
        return usual
    number = int(text) if text.isascii() and text.isdecimal() and len(text) < 9 else -1
    if not low <= number <= high:
        named = {"low": low, "high": high}
        raise WrongWindow(name, _("The width is a whole number from %(low)s to %(high)s.") % named)
    return number


def unit_of(given: Mapping[str, str], recorded: str) -> str:
    """The unit that an address asks values in: the recorded one, or of a temperature the other scale.

    Raises WrongWindow.
    """
    text = given.get("unit", "")
    if not text:
        return recorded
    if text not in UNITS or recorded not in UNITS.values():
        raise WrongWindow("unit", _("Temperatures are shown in °F or °C, other values as they were recorded."))
    return UNITS[text]


def _moment(text: str, field: str, calendar: PlantCalendar) -> datetime | None:
    text = text.strip()
    if not text:
        return None
    try:
        read = datetime.fromisoformat(text) if len(text) <= 40 else None
    except ValueError:
        read = None
    # What lies near the ends of the calendar is refused before anything is computed from it.
    if read is None or not FIRST.year <= read.year < LAST.year:
        raise WrongWindow(field, _("Write date and time as 2026-03-03 17:05."))
    at = to_utc(read, calendar.tz) if read.tzinfo is None else read.astimezone(UTC)
    return at.replace(microsecond=at.microsecond // 1000 * 1000)
