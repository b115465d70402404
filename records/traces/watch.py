"""What makes traces be judged again: a file, and every record of a place that bears on its judgement, late or not."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import datetime, timedelta

from django.db.models import Max, Min

from plant import clock
from plant.hazard_plan.check_traces import clock_checks
from records.checks.models import Reading
from records.checks.queries import governing
from records.judging.judge import GOOD
from records.judging.queries import governing as verdicts_of
from records.ledger.models import Entry, Record
from records.ledger.registry import kinds
from records.people.plans import plan_in_force, versions_between
from records.traces import judging
from records.traces.circumstances import CLOCK_NEAR
from records.traces.models import TraceBlock, TraceCursor, TraceFile
from records.washes.anew import follow_traces
from records.workshop.bearing import bears_since
from records.workshop.doubt import last_good
from records.workshop.models import Calibration

MOST = 2000  # entries of one look; the next look goes on from there
# Which records bear on a place's traces, and where each names its place. A movement bears on all that it touches.
PLACES = {
    "movement": ("source", "target", "via"),
    "wash": ("vessel",),
    "reading": ("subject",),
    "run started": ("place",),
    "run event": ("place",),
    "run ended": ("place",),
    "holding-time test": ("place",),
    "seal act": ("place",),
    "work done": ("place",),
}
Span = tuple[datetime, datetime]
DAY = timedelta(days=1)
MOMENT = timedelta(milliseconds=1)


def look() -> int:
    """Judge what the ledger's newest entries touch; gives how many places were judged. May run twice."""
    cursor, _made = TraceCursor.objects.get_or_create(id=1)
    entries = list(
        Entry.objects.filter(number__gt=cursor.number).order_by("number").values_list("number", "kind")[:MOST]
    )
    if not entries:
        return 0
    if not TraceBlock.objects.exists():
        # Nothing is recorded: what came before the first trace is read when it comes.
        last = Entry.objects.order_by("-number").values_list("number", flat=True).first() or 0
        TraceCursor.objects.filter(id=1).update(number=last)
        return 0
    follow_traces(_of_washes(entries))
    spans = touched(entries)
    for place, found in spans.items():
        for start, end in found:
            for since, until in _days(start, end):
                judging.judge_place(place, since, until)
    TraceCursor.objects.filter(id=1, number=cursor.number).update(number=entries[-1][0])
    return len(spans)


def touched(entries: Iterable[tuple[int, str]]) -> dict[str, list[Span]]:
    """The times of places that these entries bear on, where something is recorded then."""
    by_kind: dict[str, list[int]] = defaultdict(list)
    for number, kind in entries:
        if kind in PLACES or kind in (TraceFile.KIND, Calibration.KIND):
            by_kind[kind].append(number)
    found: dict[str, list[Span]] = defaultdict(list)
    for kind, numbers in by_kind.items():
        if kind not in kinds():
            continue
        for row in kinds()[kind]._default_manager.filter(number__in=numbers):
            if isinstance(row, TraceFile):
                judging.judge_instruments(row.instruments, row.first_at, row.last_at)
                continue
            if isinstance(row, Calibration):
                for place, since in _in_doubt(row):
                    found[place].append((since, row.observed_at))
                continue
            start, end = _span(row)
            for place in {getattr(row, name) for name in PLACES[kind]} - {""}:
                found[place].append((start, end))
    return {place: _together(spans) for place, spans in found.items()}


def _of_washes(entries: Iterable[tuple[int, str]]) -> list[tuple[str, datetime, datetime]]:
    """What of these entries is a trace of a wash, from a file or live: recorder, first and last moment."""
    rows = TraceBlock.objects.filter(number__in=[number for number, kind in entries if kind == TraceBlock.KIND])
    span = rows.aggregate(first=Min("first_at"), last=Max("last_at"))
    if span["first"] is None:
        return []
    versions = versions_between(span["first"], span["last"] + MOMENT)
    recorders = {
        key
        for in_force, _since, _until in versions
        for one in in_force.plan.wash_steps
        for key in one.recorders.values()
    }
    found = rows.filter(instrument__in=recorders).order_by("number")
    return list(found.values_list("instrument", "first_at", "last_at"))


def _in_doubt(row: Calibration) -> Iterator[tuple[str, datetime]]:
    """The places whose traces a calibration, or the one that it amends, puts in doubt, and since when."""
    old = Calibration.objects.filter(number=row.amends).first() if row.amends is not None else None
    if all(one.within for one in (row, old) if one is not None):
        return
    in_force = plan_in_force(row.observed_at)
    first = TraceBlock.objects.aggregate(first=Min("first_at"))["first"]
    if in_force is None or first is None:
        return
    since = last_good(row.instrument, row.observed_at)
    places = {one.place for one in in_force.plan.traced if one.key == row.instrument}
    places |= {one.place_code for one in in_force.plan.instruments if one.code == row.instrument}
    since = max(first, since) if since is not None else first
    if since <= row.observed_at:
        yield from ((place, since) for place in sorted(places - {""}))


def _clock_span(row: Record) -> Span | None:
    """The times that a look at a recorder's clock puts in doubt or proves; None for any other record."""
    if not isinstance(row, Reading):
        return None
    in_force = plan_in_force(row.observed_at)
    if in_force is None or row.monitoring_key not in clock_checks(in_force.plan, row.subject):
        return None
    near = governing(
        Reading.objects.filter(
            monitoring_key=row.monitoring_key,
            subject=row.subject,
            observed_at__gte=row.observed_at - CLOCK_NEAR,
            observed_at__lte=row.observed_at + CLOCK_NEAR,
        ).exclude(number__in=[row.number, row.amends or 0])
    )
    outcomes = verdicts_of(Reading.KIND, [one.number for one in [*near, row]])
    good = [one.observed_at for one in near if one.number in outcomes and outcomes[one.number].outcome in GOOD]
    plain = row.amends is None and row.number in outcomes and outcomes[row.number].outcome in GOOD
    if plain and any(at <= row.observed_at for at in good):
        return None  # right as before: nothing that was judged changes
    since = max((at for at in good if at <= row.observed_at), default=row.observed_at - CLOCK_NEAR)
    until = min((at for at in good if at > row.observed_at), default=row.observed_at + CLOCK_NEAR)
    return since, min(until, clock.now())


def _span(row: Record) -> Span:
    told = _clock_span(row)
    if told is not None:
        return told
    since = bears_since(row)
    if since is not None:
        # Seals, works and tests bear on all that ran since, not only while they were done.
        return min(since, row.received_at), row.received_at
    start = getattr(row, "started_at", None) or row.observed_at
    end = getattr(row, "ended_at", None) or row.received_at
    return min(start, end), max(start, end)


def _days(start: datetime, end: datetime) -> Iterator[Span]:
    """A time in parts of a day at most: what was recorded months late is judged day by day."""
    while end - start > DAY:
        yield start, start + DAY
        start += DAY
    yield start, end


def _together(spans: list[Span]) -> list[Span]:
    merged: list[Span] = []
    for start, end in sorted(spans):
        if merged and start <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(merged[-1][1], end))
        else:
            merged.append((start, end))
    return merged
