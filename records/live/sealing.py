"""Each minute what is staged is judged; an hour that is over is sealed into blocks, and its staging cleared at once."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from django.db.models import Max, Min

from plant import clock
from records.ledger.actions import WATCH, act
from records.live.models import StagedSample
from records.live.staging import as_samples
from records.people.plans import plan_in_force
from records.traces import judging
from records.traces.blocks import HOUR_MS, Channel, blocks_of, write
from records.traces.importing import known_instruments
from records.traces.moments import to_moment, to_ms

LATE = timedelta(minutes=2)  # an hour is sealed so long after its end: senders buffer a little


def look() -> dict[str, int]:
    """Judge what is staged and seal what is over; may run twice, and in two processes."""
    spans = _spans()
    if not spans:
        return {"judged": 0, "sealed": 0}
    for instrument, (first, last) in spans.items():
        judging.judge_instruments([instrument], to_moment(first), to_moment(last))
    sealed = seal(clock.now())
    return {"judged": len(spans), "sealed": sealed}


def _spans() -> dict[str, tuple[int, int]]:
    rows = StagedSample.objects.order_by().values("instrument").annotate(first=Min("at_ms"), last=Max("at_ms"))
    return {one["instrument"]: (one["first"], one["last"]) for one in rows}


def seal(now: datetime) -> int:
    """Seal every instrument's hours that are over; gives how many blocks were written.

    Each hour is an act of its own, blocks and clearing in one transaction: a crash leaves it staged or sealed, never
    both and never neither.
    """
    before_ms = to_ms(now - LATE) // HOUR_MS * HOUR_MS
    due = StagedSample.objects.filter(at_ms__lt=before_ms).order_by("instrument", "at_ms")
    hours = dict.fromkeys((name, at // HOUR_MS) for name, at in due.values_list("instrument", "at_ms").iterator())
    names = _names(now, {name for name, _hour in hours})
    written, spans = 0, dict[str, tuple[int, int]]()
    for instrument, hour in hours:
        written += _seal(instrument, hour, names.get(instrument, instrument))
        first, last = spans.get(instrument, (hour, hour))
        spans[instrument] = min(first, hour), max(last, hour)
    for instrument, (first, last) in spans.items():
        judging.judge_instruments([instrument], to_moment(first * HOUR_MS), to_moment((last + 1) * HOUR_MS))
    return written


def _names(now: datetime, instruments: Iterable[str]) -> dict[str, str]:
    in_force = plan_in_force(now)
    known = {one.code: one.name for one in known_instruments(in_force)} if in_force else {}
    return {one: known.get(one, one) for one in instruments}


def _seal(instrument: str, hour: int, name: str) -> int:
    with act(WATCH) as a:
        # Read under the lock: what comes meanwhile stays staged, and is sealed with a further part of the hour.
        rows = list(
            StagedSample.objects.filter(
                instrument=instrument, at_ms__gte=hour * HOUR_MS, at_ms__lt=(hour + 1) * HOUR_MS
            ).order_by("at_ms", "id")
        )
        if not rows:
            return 0
        told, other = as_samples([(one.at_ms, one.value, one.places, one.failed) for one in rows])
        assert told is not None  # there are rows
        blocks, _kept = blocks_of(Channel(instrument, name, rows[0].unit, told), other)
        write(a, blocks, None)
        StagedSample.objects.filter(id__in=[one.id for one in rows]).delete()
        return len(blocks)
