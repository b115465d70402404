"""Where a scope begins: any record, lot, code, farm load, ingredient, roll of labels, place in a window of time."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db.models import Q
from django.utils.translation import gettext as _

from plant import clock
from records.checks.consequences import excursions_around
from records.checks.models import Reading, Transition
from records.deviations.errors import Refused
from records.deviations.models import Deviation, DeviationCause, Hold
from records.flow import choices
from records.flow.lineage import FIRST, LAST, span_of
from records.flow.models import Movement, MovementEnd, Wash
from records.flow.queries import label_of
from records.judging.models import Verdict
from records.labels import queries as labels
from records.labels.models import PackagingCounted, PackagingOpened
from records.ledger.models import Entry
from records.ledger.registry import kinds
from records.lots.models import Lot
from records.people.plans import InForce, plan_in_force
from records.recall.codes import lot_of
from records.recall.models import Dispatch, ProductReturned
from records.recall.reading import Start
from records.recall.returned import ORIGIN
from records.recall.rows import (
    Row,
    fills_at,
    fills_between,
    rows_from_outside,
    rows_into_lots,
    rows_numbered,
    rows_through,
)
from records.receiving.models import UNLOADING, LoadEvent
from records.run_rows.queries import runs_between, standing
from records.traces.models import TraceFinding

SAMPLE, RESULT = "sample", "laboratory result"  # kinds of the laboratory, which comes after this feature
PICK_UP = timedelta(hours=72)  # a farm's milk may be that old when it is picked up; common practice, no source
LONGEST_RUN = timedelta(days=8)  # a movement through a line is looked for so far before the window
LONGEST_WINDOW = timedelta(days=400)


@dataclass(frozen=True, slots=True)
class Asked:
    """What a person asks from, as the page's address says it; exactly one of entry, code, lot, place, source, roll."""

    entry: int | None = None
    code: str = ""
    lot: UUID | None = None
    place: str = ""
    source: str = ""
    since: datetime | None = None
    until: datetime | None = None
    roll: str = ""


@dataclass(frozen=True, slots=True)
class Begun:
    """The start that it names, in words, and why from then to then."""

    start: Start
    words: str
    reasons: tuple[str, ...] = field(default=())


def begin(asked: Asked, in_force: InForce, now: datetime, *, backward: bool = False) -> Begun:
    """The start of what was asked; Refused beside its field when it names nothing."""
    if asked.entry is not None:
        return of_entry(asked.entry, in_force, now)
    if asked.lot is not None or asked.code.strip():
        return of_lot(_lot(asked), in_force, backward=backward)
    if asked.roll.strip():
        return of_roll(asked, now)
    if not asked.place and not asked.source.strip():
        raise Refused(_("Say from what: an entry, a code, a place, a source or a roll."))
    since, until = _window(asked, now)
    if asked.place:
        return of_place(asked.place, since, until, in_force)
    return of_source(asked.source, since, until, in_force)


def of_lot(lot: Lot, in_force: InForce, *, backward: bool = False) -> Begun:
    """All that a vessel's lot was while it was there; the packs of a code by the movements that filled them.

    A part that came back is the lot that it was packed as.
    """
    if lot.origin == ORIGIN:
        lot = Lot.objects.get(id=ProductReturned.objects.filter(part=lot.id).values_list("lot", flat=True)[:1])
    label = label_of(lot, in_force)
    if not lot.vessel:
        rows = tuple(rows_into_lots([lot.id]))
        if not rows:
            raise Refused(_("Nothing that stands was packed under this code."), "code")
        return Begun(Start(rows=rows), label)
    begin, end = span_of(lot)
    fill = fills_at([(lot.vessel, begin)])[0]
    return Begun(Start(fills=((fill, begin, min(end, fill.end)),)), label)


def of_place(code: str, since: datetime, until: datetime, in_force: InForce) -> Begun:
    """All that a vessel held in a window; of a line, all that ran through it then."""
    local = in_force.calendar.local
    words = _("%(place)s from %(since)s to %(until)s") % {
        "place": in_force.names.get(code, code),
        "since": f"{local(since):%Y-%m-%d %H:%M}",
        "until": f"{local(until):%Y-%m-%d %H:%M}",
    }
    if choices.is_line(in_force.plan, code):
        rows = tuple(rows_through(code, since, until, since - LONGEST_RUN))
        if not rows:
            raise Refused(_("Nothing ran through it in that time: are place and window right?"), "place")
        return Begun(Start(rows=rows), words)
    if code not in dict(choices.holders(in_force.plan)):
        raise Refused(_("The plan knows no such place."), "place")
    fills = tuple((one, since, until) for one in fills_between(code, since, until))
    return Begun(Start(fills=fills), words)


def of_source(name: str, since: datetime, until: datetime, in_force: InForce) -> Begun:
    """All that came from an outside place (a farm, an ingredient's lot) in a window."""
    found = {one.number: one for one in (*rows_from_outside(name, since, until), *_of_farm(name, since, until))}
    rows = tuple(found[number] for number in sorted(found))
    if not rows:
        raise Refused(_("Nothing came from there in that time: are name and window right?"), "source")
    local = in_force.calendar.local
    words = {"name": name.strip(), "since": f"{local(since):%Y-%m-%d %H:%M}", "until": f"{local(until):%Y-%m-%d %H:%M}"}
    return Begun(Start(rows=rows), _("what came from %(name)s from %(since)s to %(until)s") % words)


def of_roll(asked: Asked, now: datetime) -> Begun:
    """All packs that a roll of labels or a sleeve was on the line for; with a window, of those filled in it."""
    since, until = _window(asked, now) if asked.since is not None else (FIRST, LAST)
    found = _with_openings(labels.openings_of(asked.roll))
    rows = tuple(one for one in found if one.started_at <= until and one.ended_at >= since)
    if not rows:
        raise Refused(_("The book knows of no pack with this roll. That is no proof that there is none."), "roll")
    return Begun(Start(rows=rows), _("packs with roll or sleeve %(code)s") % {"code": asked.roll.strip()})


def _with_openings(opened: Iterable[PackagingOpened]) -> tuple[Row, ...]:
    return tuple(rows_numbered(sorted({row.number for _one, row in labels.packing_with(opened)})))


def _of_opening(number: int, kind: str) -> Begun:
    """The packs of one opening of a roll, named by it or by its count."""
    if kind == PackagingCounted.KIND:
        number = PackagingCounted.objects.get(number=number).opened
    opened = labels.that_stands(PackagingOpened.objects.all(), number)
    if opened is None:
        raise Refused(_("This opening is recorded as not having happened."), "entry")
    rows = _with_openings([opened])
    if not rows:
        raise Refused(_("The book knows of no pack with this roll. That is no proof that there is none."), "entry")
    words = _("packs with roll or sleeve %(code)s") % {"code": opened.roll_code}
    return Begun(Start(rows=rows), words, (_("opened by entry %(number)d") % {"number": number},))


def _of_farm(name: str, since: datetime, until: datetime) -> list[Row]:
    """What was unloaded in a window of loads that had this farm's milk in them, beside other farms' or alone."""
    wanted = name.strip().casefold()
    loads = runs_between(LoadEvent, since, until + timedelta(microseconds=1))
    mine = [load for load in loads if wanted in {one["farm"].casefold() for one in load.first.farms}]
    numbers = [_latest(one.movement) for load in mine for one in load.of(UNLOADING) if one.movement is not None]
    return [one for one in rows_numbered(numbers) if since <= one.started_at <= until]


# --- entries of the ledger


def of_entry(number: int, in_force: InForce, now: datetime) -> Begun:
    """What a record bears on: a movement, load, reading, verdict, trace's finding, missed check, deviation, hold."""
    kind = Entry.objects.filter(number=number).values_list("kind", flat=True).first()
    if kind is None:
        raise Refused(_("There is no such entry."), "entry")
    if kind == Verdict.KIND:
        verdict = Verdict.objects.get(number=number)
        found = of_entry(verdict.subject_number, in_force, now)
        reason = _("verdict %(n)d: %(why)s") % {"n": number, "why": verdict.reason}
        return Begun(found.start, found.words, (reason, *found.reasons))
    if kind in (Movement.KIND, MovementEnd.KIND):
        return _of_movement(number, kind)
    if kind == Reading.KIND:
        return _of_reading(Reading.objects.get(number=number), in_force, now)
    if kind == Transition.KIND:
        row = Transition.objects.get(number=number)
        return _in_window(row.subject, row.due_at, now, row.sentence, in_force)
    if kind == TraceFinding.KIND:
        return _of_finding(TraceFinding.objects.get(number=number), in_force)
    if kind == Deviation.KIND:
        return _of_deviation(Deviation.objects.get(number=number), in_force, now)
    if kind == Hold.KIND:
        return of_lot(Lot.objects.get(id=Hold.objects.get(number=number).lot), in_force)
    if kind == Lot.KIND:
        return of_lot(Lot.objects.get(number=number), in_force)
    if kind in (SAMPLE, RESULT):
        return _of_sample(number, kind, in_force, now)
    if kind == LoadEvent.KIND:
        return _of_load(LoadEvent.objects.get(number=number))
    if kind in (PackagingOpened.KIND, PackagingCounted.KIND):
        return _of_opening(number, kind)
    if kind == Wash.KIND:
        wash = Wash.objects.get(number=number)
        fill = fills_at([(wash.vessel, wash.ended_at)])[0]
        words = _("what %(place)s held after this wash") % {"place": wash.vessel_name}
        if choices.is_line(in_force.plan, wash.vessel):
            until = min(fill.end, now)
            return Begun(of_place(wash.vessel, wash.ended_at, until, in_force).start, words)
        return Begun(Start(fills=((fill, wash.ended_at, fill.end),)), words)
    raise Refused(_("From this kind of entry no scope begins: name the place and the time."), "entry")


def _of_sample(number: int, kind: str, in_force: InForce, now: datetime) -> Begun:
    """What a sample stands for: its lot, its farm's milk since the pick-up before, or its place while that is doubted.

    The laboratory comes after this feature: its rows are found by their kind.
    """
    rows: Any = kinds()
    root = rows[RESULT]._default_manager.get(number=number).sample if kind == RESULT else number
    row = rows[SAMPLE]._default_manager.get(number=root)
    root = row.root or row.number
    line = rows[SAMPLE]._default_manager.filter(Q(number=root) | Q(root=root))
    row = line.order_by("-number").first()
    words = _("sample %(code)s") % {"code": row.code}
    if row.lot is not None:
        found = of_lot(Lot.objects.get(id=row.lot), in_force)
        return Begun(found.start, words, (found.words, *found.reasons))
    if row.farm:
        found = of_source(row.farm, row.observed_at - PICK_UP, now, in_force)
        return Begun(found.start, words, (found.words,))
    if row.place:
        numbers = list(rows[RESULT]._default_manager.filter(sample=root).values_list("number", flat=True))
        led = DeviationCause.objects.filter(cause_number__in=numbers).values_list("deviation", flat=True)
        held = Hold.objects.filter(deviation__in=list(led)).order_by("since_at").first()
        since = held.since_at if held is not None else row.observed_at
        return _in_window(row.place, min(since, row.observed_at), now, words, in_force)
    raise Refused(_("From this kind of entry no scope begins: name the place and the time."), "entry")


def _of_movement(number: int, kind: str) -> Begun:
    if kind == MovementEnd.KIND:
        number = MovementEnd.objects.get(number=number).movement
    number = _latest(number)
    rows = rows_numbered([number])
    if not rows:
        raise Refused(_("This movement is recorded as not having happened."), "entry")
    row = rows[0]
    words = _("movement %(number)d, %(product)s from %(source)s into %(target)s") % {
        "number": number, "product": row.product_name, "source": row.source_name, "target": row.target_name,
    }  # fmt: skip
    return Begun(Start(rows=(row,)), words)


def _of_load(row: LoadEvent) -> Begun:
    """All that was unloaded of a load of raw milk."""
    load = row.run or row.number
    begun = standing(LoadEvent.objects.filter(run=load, what=UNLOADING).exclude(movement=None))
    moved = begun.values_list("movement", flat=True)
    rows = tuple(rows_numbered([_latest(number) for number in moved if number is not None]))
    if not rows:
        raise Refused(_("Nothing of this load was unloaded."), "entry")
    return Begun(Start(rows=rows), _("load %(number)d of raw milk") % {"number": load})


def _latest(number: int) -> int:
    """The movement that stands for this one."""
    while (later := Movement.objects.filter(amends=number).values_list("number", flat=True).first()) is not None:
        number = later
    return number


def _of_reading(row: Reading, in_force: InForce, now: datetime) -> Begun:
    """From the last reading in limits to the next in limits (foundations); in limits it is its moment alone."""
    words = _("%(what)s at %(place)s, entry %(number)d") % {
        "what": row.what, "place": row.subject_name, "number": row.number,
    }  # fmt: skip
    judged = plan_in_force(row.observed_at)
    if row.monitoring_key and judged is not None and judged.plan.monitoring_by_key(row.monitoring_key) is not None:
        for one in excursions_around(row, judged):
            if one.covers(row.observed_at) and row.number in one.numbers:
                since = one.from_at or _first_product(row.subject, one.first_bad)
                until = one.until or now
                return _in_window(row.subject, since, until, words, in_force)
    return _in_window(row.subject, row.observed_at, row.observed_at, words, in_force)


def _first_product(subject: str, moment: datetime) -> datetime:
    """Nothing was read before: from the beginning of what it held."""
    fill = fills_at([(subject, moment)])[0]
    return max(fill.begin, moment - LONGEST_WINDOW)


def _of_finding(row: TraceFinding, in_force: InForce) -> Begun:
    latest = TraceFinding.objects.filter(key=row.key).order_by("-part").first() or row
    return _in_window(latest.place, latest.start_at, latest.end_at, latest.sentence, in_force)


def _of_deviation(row: Deviation, in_force: InForce, now: datetime) -> Begun:
    """The place of a deviation from its beginning to the last of its causes, or as far as its readings say."""
    result = DeviationCause.objects.filter(deviation=row.number, cause_kind=RESULT).order_by("number").first()
    if result is not None:
        found = _of_sample(result.cause_number, RESULT, in_force, now)
        return Begun(found.start, row.sentence, (found.words, *found.reasons))
    if row.subject not in in_force.names and (named := _of_named(row, in_force)) is not None:
        return Begun(named.start, row.sentence, (named.words, *named.reasons))
    last = row.since_at
    numbers = list(DeviationCause.objects.filter(deviation=row.number).values_list("cause_number", flat=True))
    readings = Reading.objects.filter(number__in=numbers).order_by("-observed_at")
    last_reading = readings.first()
    if last_reading is not None:
        last = _of_window_end(last_reading, now)
    findings = TraceFinding.objects.filter(number__in=numbers).order_by("-end_at").first()
    moments = [last, *([findings.end_at] if findings is not None else [])]
    moments += list(Movement.objects.filter(number__in=numbers).values_list("started_at", flat=True))
    moved = [one.number for one in Movement.objects.filter(number__in=numbers)]
    if moved and last_reading is None and findings is None:
        rows = tuple(rows_numbered([_latest(one) for one in moved]))
        if rows:
            return Begun(Start(rows=rows), row.sentence)
    return _in_window(row.subject, row.since_at, max(moments), row.sentence, in_force)


def _of_named(row: Deviation, in_force: InForce) -> Begun | None:
    """Of a deviation that is of no place: the packs that had its roll, or the code that left while it was held."""
    causes = DeviationCause.objects.filter(deviation=row.number, cause_kind__in=(PackagingCounted.KIND, Dispatch.KIND))
    cause = causes.order_by("-number").first()
    if cause is None:
        return None
    if cause.cause_kind == PackagingCounted.KIND:
        return _of_opening(cause.cause_number, cause.cause_kind)
    return of_lot(Lot.objects.get(id=Dispatch.objects.get(number=cause.cause_number).lot), in_force)


def _of_window_end(row: Reading, now: datetime) -> datetime:
    judged = plan_in_force(row.observed_at)
    if row.monitoring_key and judged is not None and judged.plan.monitoring_by_key(row.monitoring_key) is not None:
        for one in excursions_around(row, judged):
            if row.number in one.numbers:
                return one.until or now
    return row.observed_at


def _in_window(subject: str, since: datetime, until: datetime, words: str, in_force: InForce) -> Begun:
    found = of_place(subject, since, until, in_force)
    return Begun(found.start, words, (found.words,))


# --- what was asked


def _lot(asked: Asked) -> Lot:
    found = (
        Lot.objects.filter(id=asked.lot).first()
        if asked.lot is not None
        else lot_of(asked.code, clock.now().year)
    )
    if found is None:
        raise Refused(_("No lot of that code was packed."), "code")
    return found


def _window(asked: Asked, now: datetime) -> tuple[datetime, datetime]:
    if asked.since is None:
        raise Refused(_("Say from when on."), "since")
    until = asked.until or now
    if until < asked.since:
        raise Refused(_("The window ends before it begins."), "until")
    if until - asked.since > LONGEST_WINDOW:
        raise Refused(_("Longer than 400 days: ask for less at a time."), "since")
    return asked.since, until


__all__ = ["Asked", "Begun", "begin", "of_entry", "of_lot", "of_place", "of_roll", "of_source"]
