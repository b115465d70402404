"""Live samples taken in: each once, committed at once; what cannot be read is set aside with its reason."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from fractions import Fraction

import numpy as np
from django.db import transaction

from plant import clock
from plant.process.trace_blocks import Samples
from plant.process.units import UnitError, exact
from records.live.messages import Said, Unreadable
from records.live.models import LiveFeed, RefusedMessage, StagedSample
from records.people.plans import InForce, plan_in_force
from records.traces import sources
from records.traces.blocks import between, units_before
from records.traces.importing import Known, known_instruments
from records.traces.moments import to_moment, to_ms

NOT_ITS_OWN = "this gateway is not enrolled for the instrument"
MOST_REFUSED = 200  # that are kept for a person to see


@dataclass(slots=True)
class Taken:
    """What became of samples: `new` were staged, `known` were there already; `refused` (row from 0, reason)."""

    new: int = 0
    known: int = 0
    refused: list[tuple[int, str]] = field(default_factory=list)


def take(
    said: Sequence[Said | Unreadable], names: Sequence[str] = (), only: Collection[str] | None = None
) -> Taken:
    """Stage samples in one transaction; the same again adds nothing. `names`: of those that could not be read.

    `only`: the instruments that the sender may send for; None for all.
    What is refused does not keep the others out: a sender repeats what was refused for ever.
    """
    now = clock.now()
    done = Taken()
    with transaction.atomic():
        feeds = {one.name: one for one in LiveFeed.objects.all()}
        in_force = plan_in_force(now)
        known = {one.code: one for one in known_instruments(in_force)} if in_force else {}
        before = units_before({one.instrument for one in feeds.values()})
        rows: list[StagedSample] = []
        for at, one in enumerate(said):
            try:
                rows.append(_row(one, feeds, known, before, now))
                if only is not None and rows[-1].instrument not in only:
                    raise Unreadable(f"{NOT_ITS_OWN}: {rows.pop().instrument}")
            except Unreadable as why:
                done.refused.append((at, str(why)))
        fresh = _fresh(rows)
        StagedSample.objects.bulk_create(fresh, ignore_conflicts=True)
        done.new, done.known = len(fresh), len(rows) - len(fresh)
        if done.refused:
            _set_aside(said, names, done.refused, now)
    return done


def _row(
    one: Said | Unreadable, feeds: dict[str, LiveFeed], known: dict[str, Known], before: dict[str, str], now: datetime
) -> StagedSample:
    if isinstance(one, Unreadable):
        raise one
    feed = feeds.get(one.name)
    if feed is None:
        raise Unreadable("nobody has said which instrument this is")
    unit = one.unit or feed.unit
    if feed.instrument not in known:
        raise Unreadable("the plan in force knows no such instrument")
    if unit != before.get(feed.instrument, feed.unit):
        raise Unreadable(f"{feed.instrument} is kept in {before.get(feed.instrument, feed.unit)}")
    return StagedSample(
        instrument=feed.instrument,
        unit=unit,
        at_ms=one.at_ms,
        text=one.text,
        value=one.value,
        places=one.places,
        failed=one.failed,
        received_at=now,
    )


def _fresh(rows: list[StagedSample]) -> list[StagedSample]:
    """Those that neither the staging nor a sealed hour has: the same value of the same moment."""
    once: dict[tuple[str, int, str], StagedSample] = {}
    for row in rows:
        once.setdefault((row.instrument, row.at_ms, row.text), row)
    by_instrument: dict[str, list[StagedSample]] = {}
    for row in once.values():
        by_instrument.setdefault(row.instrument, []).append(row)
    found: list[StagedSample] = []
    for instrument, mine in by_instrument.items():
        moments = [row.at_ms for row in mine]
        staged = set(
            StagedSample.objects.filter(instrument=instrument, at_ms__gte=min(moments), at_ms__lte=max(moments))
            .values_list("at_ms", "text")
        )  # fmt: skip
        sealed = _sealed(instrument, min(moments), max(moments))
        for row in mine:
            if (row.at_ms, row.text) not in staged and (row.at_ms, *_number(row)) not in sealed:
                found.append(row)
    return found


def _number(row: StagedSample) -> tuple[Fraction | None]:
    return (None if row.failed else Fraction(row.value, 10**row.places),)


def _sealed(instrument: str, first_ms: int, last_ms: int) -> set[tuple[int, Fraction | None]]:
    """What blocks hold of these moments, contradicting values too."""
    found: set[tuple[int, Fraction | None]] = set()
    for one in between(instrument, to_moment(first_ms), to_moment(last_ms + 1)):
        scale = 10**one.places
        for at, value, failed in zip(one.times_ms.tolist(), one.values.tolist(), one.failed.tolist(), strict=True):
            found.add((at, None if failed else Fraction(value, scale)))
    return found


def _set_aside(
    said: Sequence[Said | Unreadable], names: Sequence[str], refused: Iterable[tuple[int, str]], now: datetime
) -> None:
    rows = []
    for at, why in refused:
        one = said[at]
        name = one.name if isinstance(one, Said) else names[at] if at < len(names) else ""
        text = one.text if isinstance(one, Said) else ""
        rows.append(RefusedMessage(at=now, name=name[:200], text=text[:200], why=why[:200]))
    RefusedMessage.objects.bulk_create(rows[-MOST_REFUSED:])
    keep = RefusedMessage.objects.order_by("-id").values_list("id", flat=True)[MOST_REFUSED : MOST_REFUSED + 1].first()
    if keep is not None:
        RefusedMessage.objects.filter(id__lte=keep).delete()


@sources.source
def staged(instruments: Sequence[str], start: datetime, end: datetime) -> dict[str, Samples]:
    """The staged samples of [start, end): of a moment with several values the first that came. One query."""
    rows = StagedSample.objects.filter(instrument__in=instruments, at_ms__gte=to_ms(start), at_ms__lt=to_ms(end))
    rows = rows.order_by("instrument", "at_ms", "id")
    by_instrument: dict[str, list[Plain]] = {}
    for code, at_ms, value, places, is_failed in rows.values_list("instrument", "at_ms", "value", "places", "failed"):
        by_instrument.setdefault(code, []).append((at_ms, value, places, is_failed))
    found = {code: as_samples(mine)[0] for code, mine in by_instrument.items()}
    return {code: samples for code, samples in found.items() if samples is not None}


Plain = tuple[int, int, int, bool]


def as_samples(rows: list[Plain]) -> tuple[Samples | None, Samples | None]:
    """Rows in order of time as samples, and those that give a moment another value; None for none."""
    if not rows:
        return None, None
    places = max(one[2] for one in rows)
    times = np.array([one[0] for one in rows], np.int64)
    values = np.array([one[1] * 10 ** (places - one[2]) for one in rows], np.int64)
    failed = np.array([one[3] for one in rows], np.bool_)
    first = np.append(True, times[1:] != times[:-1])
    other = ~first
    told = Samples(times[first], values[first], failed[first], places)
    return told, Samples(times[other], values[other], failed[other], places) if other.any() else None


def check_unit(instrument: str, unit: str, in_force: InForce) -> str:
    """Empty when an instrument's feed may have this unit, else the reason."""
    known = {one.code: one for one in known_instruments(in_force)}.get(instrument)
    if known is None:
        return "instrument"
    try:
        exact(Fraction(1), unit, known.unit)
    except UnitError:
        return "unit"
    return "" if units_before([instrument]).get(instrument, unit) == unit else "before"
