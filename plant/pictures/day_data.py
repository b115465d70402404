"""What the Day chart draws, as plain data. Moments are aware datetimes; values are in the lane's own unit."""

from dataclasses import dataclass
from datetime import datetime

OUTSIDE = ""
"""The name of no lane: product came from, or went, outside the plant."""


@dataclass(frozen=True, slots=True)
class Segment:
    """What a vessel held from start to end: full by ``fill0`` at the start, by ``fill1`` at the end (0 to
    1; None where it is not known). ``label``: more words than the family's, such as a quantity.
    """

    start: datetime
    end: datetime
    fill0: float | None
    fill1: float | None
    family: str  # raw milk, cream, skim, milk, mix, ice cream, other
    label: str = ""


@dataclass(frozen=True, slots=True)
class Mark:
    """One reading: when, its outcome (see marks.OUTCOMES), its words, and its value where it may stand on
    the scale.
    """

    at: datetime
    outcome: str
    label: str = ""
    value: float | None = None


@dataclass(frozen=True, slots=True)
class Wash:
    """A wash, or a sanitizing, with its word."""

    start: datetime
    end: datetime
    label: str


@dataclass(frozen=True, slots=True)
class Hold:
    """A time on hold; the end is None while it still is."""

    start: datetime
    end: datetime | None = None


@dataclass(frozen=True, slots=True)
class Deviation:
    """A deviation and its sentence; the end is None while it is open."""

    start: datetime
    end: datetime | None
    sentence: str


@dataclass(frozen=True, slots=True)
class Note:
    """A few words at a moment: 'start-up checks', 'overrun 82 %, 240 tubs'."""

    at: datetime
    text: str


@dataclass(frozen=True, slots=True)
class Lane:
    """One vessel or line. ``trace``: recorded values, None where the recorder was silent. ``limit_is`` says
    which side of the limit is out: "highest" (out above) or "lowest" (out below)."""

    name: str
    limit_label: str = ""
    capacity: str = ""
    contents: tuple[Segment, ...] = ()
    trace: tuple[tuple[datetime, float | None], ...] = ()
    scale: tuple[float, float] | None = None
    limit: float | None = None
    act_limit: float | None = None
    limit_is: str = "highest"
    marks: tuple[Mark, ...] = ()
    washes: tuple[Wash, ...] = ()
    holds: tuple[Hold, ...] = ()
    deviations: tuple[Deviation, ...] = ()
    notes: tuple[Note, ...] = ()

    @property
    def idle(self) -> bool:
        """Say whether nothing but washes happened here."""
        return not (self.contents or self.trace or self.marks or self.deviations or self.holds or self.notes)


@dataclass(frozen=True, slots=True)
class Movement:
    """Product from lane to lane, by the lanes' names; OUTSIDE where it came from or went to no lane."""

    from_lane: str
    to_lane: str
    start_at: datetime
    end_at: datetime | None
    label: str = ""


@dataclass(frozen=True, slots=True)
class DayChart:
    """A day as lanes, in flow order. ``zone``: IANA name, for the hours. ``now_at``: drawn as a line while
    the day runs.
    """

    title: str
    plant: str
    start_at: datetime
    end_at: datetime
    zone: str
    lanes: tuple[Lane, ...]
    shifts: tuple[tuple[datetime, str], ...] = ()
    movements: tuple[Movement, ...] = ()
    now_at: datetime | None = None
