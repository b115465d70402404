"""Samples into blocks and out of them: only what is new is written, and a window reads its own hours alone."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from functools import lru_cache

import numpy as np
from django.db import connection
from django.db.models import Q

from plant.process.trace_blocks import Samples, pack, unpack
from records.ledger.actions import Act
from records.traces.models import CONTRADICTING, SAMPLES, TraceBlock

HOUR_MS = 3_600_000
HOUR = timedelta(hours=1)
SMALL, BLOCKS_KEPT = 3600, 512  # blocks of so many samples at most, some 30 MB of them, stay unpacked in memory
# The first block of each: another unit is never kept beside it.
_UNIT = (
    f"SELECT * FROM (SELECT instrument, unit FROM {TraceBlock._meta.db_table}"
    " WHERE instrument = %s ORDER BY hour, part LIMIT 1) AS one"
)
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Channel:
    """The samples of one instrument, as a file gives them."""

    instrument: str
    instrument_name: str
    unit: str
    samples: Samples


@dataclass(slots=True)
class Kept:
    """What became of samples: `new` were written, `known` were there already, `contradicting` had another value."""

    new: int = 0
    known: int = 0
    contradicting: int = 0

    def __add__(self, other: Kept) -> Kept:
        return Kept(self.new + other.new, self.known + other.known, self.contradicting + other.contradicting)


def keep(a: Act, channel: Channel, file: int | None) -> Kept:
    """Write the blocks of what is new of a channel, an hour each, within an act.

    Samples known already add nothing; another value at a known moment is kept beside the first. Raises ValueError when
    the instrument's earlier samples are in another unit.
    """
    rows, done = blocks_of(channel)
    write(a, rows, file)
    return done


def write(a: Act, rows: list[TraceBlock], file: int | None) -> None:
    """Write blocks that `blocks_of` made under the same lock."""
    for row in rows:
        row.file = file
    a.write_many(rows, observed_at=[row.first_at for row in rows])


def blocks_of(channel: Channel, otherwise: Samples | None = None) -> tuple[list[TraceBlock], Kept]:
    """The blocks that keeping a channel will write, and what becomes of its samples.

    `otherwise`: what the same file says too of moments that it has given; there moments may repeat (of three values for
    one moment two contradict the first). Call it under the ledger's lock. Raises as `keep`.
    """
    return blocks_of_many([(channel, otherwise)])


def blocks_of_many(given: Sequence[tuple[Channel, Samples | None]]) -> tuple[list[TraceBlock], Kept]:
    """`blocks_of` for several channels, each of an instrument of its own, with two queries for all."""
    standing = _standing(given)
    done, rows = Kept(), []
    for channel, otherwise in given:
        mine = standing.setdefault(channel.instrument, {})
        for turn in _turns_of(channel, otherwise):
            for hour, samples in _by_hour(turn):
                before = mine.setdefault(hour, [])
                new, again = _sorted_out(samples, before)
                for part, content in ((new, SAMPLES), (again, CONTRADICTING)):
                    if len(part):
                        rows.append(_block(channel, part, hour, len(before), content))
                        before.append((content, part))
                done += Kept(len(new), len(samples) - len(new) - len(again), len(again))
    return rows, done


def _turns_of(channel: Channel, otherwise: Samples | None) -> list[Samples]:
    return [one for one in (channel.samples, *_turns(otherwise)) if len(one)]


def _by_hour(samples: Samples) -> Iterator[tuple[int, Samples]]:
    """A channel cut at the full hours (UTC): hours since 1970, and the samples in it."""
    if not len(samples):
        return
    hours = np.floor_divide(samples.times_ms, HOUR_MS)
    starts = np.flatnonzero(np.diff(hours, prepend=hours[0] - 1))
    for start, end in zip(starts.tolist(), [*starts[1:].tolist(), len(hours)], strict=True):
        yield int(hours[start]), _cut(samples, start, end)


def _turns(samples: Samples | None) -> list[Samples]:
    """Samples of which a moment may come several times, in parts in which each comes once."""
    if samples is None or not len(samples):
        return []
    turn = np.arange(len(samples)) - np.searchsorted(samples.times_ms, samples.times_ms)
    return [taken(samples, turn == at) for at in range(int(turn.max()) + 1)]


def between(instrument: str, start: datetime, end: datetime) -> tuple[Samples, Samples]:
    """The samples of [start, end) and those that contradict one of them, in order of time; both may be empty."""
    return between_many([instrument], start, end)[instrument]


def between_many(instruments: Iterable[str], start: datetime, end: datetime) -> dict[str, tuple[Samples, Samples]]:
    """`between` for each of several instruments, in one query."""
    codes = list(dict.fromkeys(instruments))
    rows = TraceBlock.objects.filter(
        instrument__in=codes, hour__gte=_hour_of(start), hour__lt=end, first_at__lt=end, last_at__gte=start
    ).order_by("instrument", "hour", "part")
    found: dict[str, dict[str, list[Samples]]] = {code: {SAMPLES: [], CONTRADICTING: []} for code in codes}
    for instrument, content, data, samples in rows.values_list("instrument", "content", "data", "samples"):
        found[instrument][content].append(_unpacked(bytes(data), samples))
    low, high = _ms(start), _ms(end)
    return {
        code: (_window(parts[SAMPLES], low, high), _window(parts[CONTRADICTING], low, high))
        for code, parts in found.items()
    }


def _unpacked(data: bytes, samples: int) -> Samples:
    """A block's samples, not to be written to: what is judged is drawn at once, so small blocks stay in memory."""
    return _kept_unpacked(data) if samples <= SMALL else unpack(data)


@lru_cache(maxsize=BLOCKS_KEPT)
def _kept_unpacked(data: bytes) -> Samples:
    samples = unpack(data)
    for part in (samples.times_ms, samples.values, samples.failed):
        part.flags.writeable = False
    return samples


def forget() -> None:
    """Begin with nothing in memory, as a process that has just started."""
    _kept_unpacked.cache_clear()


def joined(parts: Iterable[Samples]) -> Samples:
    """Several as one, in order of time, with the most digits of any."""
    given = list(parts)
    if not given:
        return Samples(np.zeros(0, np.int64), np.zeros(0, np.int64), np.zeros(0, np.bool_), 0)
    places = max(one.places for one in given)
    times = np.concatenate([one.times_ms for one in given])
    scaled = [one.values if one.places == places else one.values * 10 ** (places - one.places) for one in given]
    values = np.concatenate(scaled)
    failed = np.concatenate([one.failed for one in given])
    if (times[1:] >= times[:-1]).all():
        return Samples(times, values, failed, places)
    order = np.argsort(times, kind="stable")
    return Samples(times[order], values[order], failed[order], places)


def _window(parts: list[Samples], low: int, high: int) -> Samples:
    whole = joined(parts)
    start, end = np.searchsorted(whole.times_ms, [low, high])
    return _cut(whole, int(start), int(end))


Standing = dict[str, dict[int, list[tuple[str, Samples]]]]


def _standing(given: Sequence[tuple[Channel, Samples | None]]) -> Standing:
    """What is kept of the hours of several channels: by instrument and hour (content, samples) of each part."""
    channels = {channel.instrument: channel for channel, _otherwise in given}
    for code, unit in units_before(channels).items():
        if unit != channels[code].unit:
            raise ValueError(f"{code} was kept in {unit} before, and this is in {channels[code].unit}")
    wanted = Q(pk__in=())
    for channel, otherwise in given:
        ends = [int(at) for one in _turns_of(channel, otherwise) for at in (one.times_ms[0], one.times_ms[-1])]
        if ends:
            hours = (_moment(min(ends) // HOUR_MS * HOUR_MS), _moment(max(ends) // HOUR_MS * HOUR_MS))
            wanted |= Q(instrument=channel.instrument, hour__range=hours)
    found: Standing = {}
    rows = TraceBlock.objects.filter(wanted).order_by("instrument", "hour", "part")
    for code, hour, content, data in rows.values_list("instrument", "hour", "content", "data"):
        found.setdefault(code, {}).setdefault(_ms(hour) // HOUR_MS, []).append((content, unpack(bytes(data))))
    return found


def units_before(instruments: Iterable[str]) -> dict[str, str]:
    """The unit in which each instrument's samples were kept so far; one query, a step in the index for each."""
    codes = list(dict.fromkeys(instruments))
    if not codes:
        return {}
    with connection.cursor() as cursor:
        cursor.execute(" UNION ALL ".join([_UNIT] * len(codes)), codes)
        return dict(cursor.fetchall())


def _sorted_out(given: Samples, before: list[tuple[str, Samples]]) -> tuple[Samples, Samples]:
    """What is new of an hour, and what contradicts what is known (each contradiction once)."""
    known = joined(one for content, one in before if content == SAMPLES)
    new, other = sorted_out(given, known)
    for content, one in before:
        if content == CONTRADICTING and len(other):
            other = taken(other, ~_among(other, one))
    return new, other


def sorted_out(given: Samples, known: Samples) -> tuple[Samples, Samples]:
    """What of samples is new beside known ones, and what gives a known moment another value."""
    if not len(known):
        return given, _cut(given, 0, 0)
    at_known = np.minimum(np.searchsorted(known.times_ms, given.times_ms), len(known) - 1)
    met = known.times_ms[at_known] == given.times_ms
    places = max(given.places, known.places)
    mine = given.values * 10 ** (places - given.places)
    theirs = known.values[at_known] * 10 ** (places - known.places)
    other = met & ((mine != theirs) | (given.failed != known.failed[at_known]))
    return taken(given, ~met), taken(given, other)


def _among(given: Samples, kept: Samples) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Which samples a block of contradictions holds already."""
    at = np.minimum(np.searchsorted(kept.times_ms, given.times_ms), len(kept) - 1)
    places = max(given.places, kept.places)
    same = given.values * 10 ** (places - given.places) == kept.values[at] * 10 ** (places - kept.places)
    found: np.ndarray[tuple[int], np.dtype[np.bool_]] = (
        (kept.times_ms[at] == given.times_ms) & same & (given.failed == kept.failed[at])
    )
    return found


def _block(channel: Channel, samples: Samples, hour: int, part: int, content: str) -> TraceBlock:
    seen = samples.values[~samples.failed]
    scale = Decimal(1).scaleb(-samples.places)
    return TraceBlock(
        instrument=channel.instrument,
        instrument_name=channel.instrument_name,
        unit=channel.unit,
        hour=_moment(hour * HOUR_MS),
        part=part,
        content=content,
        places=samples.places,
        samples=len(samples),
        failed=int(samples.failed.sum()),
        first_at=_moment(samples.times_ms[0]),
        last_at=_moment(samples.times_ms[-1]),
        least=int(seen.min()) * scale if len(seen) else None,
        greatest=int(seen.max()) * scale if len(seen) else None,
        data=pack(samples),
    )


def _cut(samples: Samples, start: int, end: int) -> Samples:
    return replace(
        samples,
        times_ms=samples.times_ms[start:end],
        values=samples.values[start:end],
        failed=samples.failed[start:end],
    )


def taken(samples: Samples, which: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> Samples:
    return replace(
        samples, times_ms=samples.times_ms[which], values=samples.values[which], failed=samples.failed[which]
    )


def _moment(ms: int | np.int64) -> datetime:
    return EPOCH + timedelta(milliseconds=int(ms))


def _ms(moment: datetime) -> int:
    return (moment - EPOCH) // timedelta(milliseconds=1)


def _hour_of(moment: datetime) -> datetime:
    return moment.astimezone(UTC).replace(minute=0, second=0, microsecond=0)


__all__ = [
    "Channel",
    "Kept",
    "between",
    "between_many",
    "blocks_of",
    "blocks_of_many",
    "forget",
    "joined",
    "keep",
    "sorted_out",
    "taken",
    "units_before",
    "write",
]
