"""What is in which vessel, since when, and what ran: computed from the records for any moment."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from decimal import Decimal
from uuid import UUID

from django.utils.translation import gettext as _

from plant.hazard_plan.content import Plan, VesselDef
from plant.process import facts
from plant.process.contents import Condition
from plant.process.occurrences import LOOK_AHEAD
from plant.process.units import plain
from records.deviations.models import OutageEnd
from records.deviations.queries import held_by_name
from records.flow import choices, disposed, lineage
from records.flow.choices import SANITIZED, WASHED
from records.flow.clocks import Clock, clocks_of
from records.flow.facts_kept import facts_kept
from records.flow.history import WASH_LASTS, History, Told, load
from records.flow.history_kept import history_kept
from records.flow.lineage import downstream_lots, lots_upstream
from records.flow.lines import line_condition, runs_of
from records.flow.models import Movement, NoProduction, PlantEvent
from records.lots.models import Lot
from records.people.plans import InForce, plan_in_force, versions_between

TANKER = "tanker"
OUTAGE_END = "outage end"
# After so many minutes a wash that was begun is asked for, where the plan names none: longer than most programs take.
WASH_UNRECORDED_MIN = 180


@dataclass(frozen=True, slots=True)
class Contents:
    """One vessel (or line) at a moment, as the book has it. `quantity` in `unit`; None is unknown.

    `condition` is one of the six words of plant.process.contents.Condition. `since`: this time of holding began;
    `first_product_at`: the first product since the last wash; `oldest_at`: the age of the oldest product in it.
    `emptied_at`: only while it is dirty; `washed_at`, `sanitized_at`: only while it is so still.
    """

    vessel: str
    name: str
    condition: str
    holds: bool
    quantity: Decimal | None
    unit: str
    capacity: Decimal | None
    product: str
    product_name: str
    family: str
    lot: UUID | None
    since: datetime | None
    first_product_at: datetime | None
    oldest_at: datetime | None
    emptied_at: datetime | None
    washed_at: datetime | None
    sanitized_at: datetime | None
    last_wash: datetime | None  # whatever came after it
    last_sanitized: datetime | None  # since then
    washing_since: datetime | None
    out_of_service: bool
    running: tuple[Told, ...]

    @property
    def words(self) -> str:
        """'Whole milk, 640 gal', or what the empty vessel is."""
        if not self.holds:
            return self.condition
        quantity = _("quantity not known") if self.quantity is None else f"{plain(self.quantity, 1)} {self.unit}"
        return f"{self.product_name or _('product not known')}, {quantity}"


@dataclass(frozen=True, slots=True)
class HeldOrRunning:
    """What a vessel held or a line ran at a moment, for a reading to copy."""

    words: str
    lot: UUID | None
    product: str


@dataclass(frozen=True, slots=True)
class Touched:
    """A lot that was in a vessel, entered or left it, or ran through a line, and since when within the time asked."""

    id: UUID
    label: str
    since: datetime


# --- contents


def contents_at(moment: datetime, codes: Iterable[str] | None = None) -> dict[str, Contents]:
    """Each vessel and line of the plan in force at `moment`, in flow order; a few queries, whatever the past holds."""
    in_force = plan_in_force(moment)
    if in_force is None:
        return {}
    history = load(in_force.plan, moment, moment, codes)
    return contents_in(history, in_force.plan, moment, codes)


def contents_in(
    history: History, plan: Plan, moment: datetime, codes: Iterable[str] | None = None
) -> dict[str, Contents]:
    """As `contents_at`, from a history that is loaded already."""
    wanted = None if codes is None else set(codes)
    vessels = [one for one in choices.in_flow_order(plan) if wanted is None or one.code in wanted]
    return {one.code: _contents(history, plan, one, moment) for one in vessels}


def _contents(history: History, plan: Plan, vessel: VesselDef, moment: datetime) -> Contents:
    now = history.book.contents(vessel.code, moment)
    running = tuple(
        one for one in history.running(moment) if vessel.code in (one.row.source, one.row.target, one.row.via)
    )
    washing = washing_since(history, vessel.code, moment)
    out = _out_of_service(history, vessel.code, moment)
    if vessel.holds_product:
        condition = str(Condition.WASHING if washing and not now.holds else now.condition)
    else:
        condition = line_condition(history, vessel.code, moment, washing, out)
    washes = [one for one in history.washes_of(vessel.code) if one.ended_at <= moment]
    washed_at, sanitized_at = history.clean_since(vessel.code, moment)
    dirty = not now.holds and washed_at is None
    last_wash = max((one.ended_at for one in washes if one.what == WASHED), default=None)
    sanitizings = [
        one.ended_at for one in washes if one.what == SANITIZED and last_wash is not None and one.ended_at >= last_wash
    ]
    held = _product(history, vessel.code, moment) if now.holds else None
    return Contents(
        vessel=vessel.code,
        name=vessel.name,
        condition=condition,
        holds=now.holds,
        quantity=now.quantity,
        unit=now.unit or vessel.unit,
        capacity=Decimal(vessel.capacity) if vessel.capacity else None,
        product=held.product if held else "",
        product_name=_names(history, vessel.code, now.since, moment) if held else "",
        family=held.family if held else "",
        lot=history.lot_at(vessel.code, moment) if now.holds else None,
        since=now.since,
        first_product_at=now.first_product_at,
        oldest_at=now.oldest_at,
        emptied_at=now.emptied_at if dirty else None,
        washed_at=washed_at,
        sanitized_at=sanitized_at,
        last_wash=last_wash,
        last_sanitized=max(sanitizings, default=None),
        washing_since=washing,
        out_of_service=out,
        running=running,
    )


def _product(history: History, code: str, moment: datetime) -> Movement | None:
    """The movement that says what is in it: the last since its wash that began to fill it."""
    washed = max((one.started_at for one in history.washes_of(code, WASHED) if one.started_at <= moment), default=None)
    fills = [one.row for one in history.into(code) if one.row.started_at <= moment]
    return next((one for one in reversed(fills) if washed is None or one.started_at >= washed), None)


# What a reading copies in must fit its column; further names are counted.
LONGEST_NAMES = 120


def _names(history: History, code: str, since: datetime | None, moment: datetime) -> str:
    """Every product that went in since it last was empty, the latest first: 'Rhubarb crumble + Salted hazelnut'.

    A room with two ice creams must name both, or it misleads on allergens.
    """
    told = [one for one in history.into(code) if one.row.started_at <= moment]
    within = [one for one in told if since is None or one.ended_at is None or one.ended_at >= since] or told[-1:]
    names = list(dict.fromkeys(one.row.product_name for one in reversed(within) if one.row.product_name))
    shown = names[:1]
    for name in names[1:]:
        if len(" + ".join([*shown, name])) > LONGEST_NAMES:
            break
        shown.append(name)
    more = len(names) - len(shown)
    return " + ".join([*shown, *([_("%(n)s more") % {"n": more}] if more else [])])


def washing_since(history: History, code: str, moment: datetime) -> datetime | None:
    """When the wash began that goes on at a moment: said to have begun and not ended, or a wash of that time."""
    for wash in history.washes_of(code):
        if wash.started_at <= moment < wash.ended_at:
            return wash.started_at
    begun = wash_begun(history, code, moment)
    return begun.observed_at if begun is not None and moment - begun.observed_at <= WASH_LASTS else None


def wash_begun(history: History, code: str, moment: datetime) -> PlantEvent | None:
    """The wash that was said to begin and of which nothing is recorded since: no wash, no product."""
    begun = [one for one in history.washes_begun if one.subject == code and one.observed_at <= moment]
    last = max(begun, key=lambda one: (one.observed_at, one.number), default=None)
    if last is None:
        return None
    ended = any(last.observed_at <= one.ended_at <= moment for one in history.washes_of(code))
    moves = (*history.into(code), *history.through(code))
    used = any(last.observed_at <= one.row.started_at <= moment for one in moves)
    return None if ended or used else last


def wash_not_recorded(history: History, code: str, moment: datetime, plan: Plan) -> PlantEvent | None:
    """As wash_begun, once the plan's minutes are over: somebody records it, or says that it did not happen."""
    begun = wash_begun(history, code, moment)
    minutes = plan.settings.wash_unrecorded_min or WASH_UNRECORDED_MIN
    return begun if begun is not None and moment - begun.observed_at >= timedelta(minutes=minutes) else None


def _out_of_service(history: History, code: str, moment: datetime) -> bool:
    said = [one for one in history.services if one.vessel == code and one.observed_at <= moment]
    return max(said, key=lambda one: (one.observed_at, one.number)).out if said else False


def lot_in(vessel: str, moment: datetime) -> UUID | None:
    """The lot that a vessel held at a moment; None when the book calls it empty."""
    found = contents_at(moment, [vessel]).get(vessel)
    return found.lot if found else None


def held_or_running(subject: str, moment: datetime) -> HeldOrRunning | None:
    """What a vessel held, or a line ran, at a moment; None for what is neither."""
    in_force = plan_in_force(moment)
    if in_force is None:
        return None
    holds = {code for code, _name in choices.holders(in_force.plan)}
    if subject in holds:
        found = contents_at(moment, [subject])[subject]
        return HeldOrRunning(found.words, found.lot, found.product)
    if not choices.is_line(in_force.plan, subject):
        return None
    history = load(in_force.plan, moment, moment, [subject])
    running = [one.row for one in history.running(moment) if one.row.via == subject]
    if not running:
        return HeldOrRunning(_("nothing runs through it"), None, "")
    row = running[-1]
    text = _("%(product)s, from %(source)s into %(target)s") % {
        "product": row.product_name,
        "source": row.source_name,
        "target": row.target_name,
    }
    return HeldOrRunning(text, row.target_lot, row.product)


def lots_touched(subject: str, since: datetime, until: datetime) -> list[Touched]:
    """Every lot that was in the vessel in [since, until], entered or left it, or ran through the line then."""
    return lots_touched_in(subject, [(since, until)])


def lots_touched_in(subject: str, windows: Sequence[tuple[datetime, datetime]]) -> list[Touched]:
    """As `lots_touched`, in any of several windows; each lot once, from its earliest moment in them on."""
    until = max((last for _first, last in windows), default=None)
    in_force = plan_in_force(until) if until is not None else None
    if in_force is None or until is None:
        return []
    history = history_kept(subject, min(first for first, _last in windows), until, in_force)
    found: dict[UUID, datetime] = {}
    for first, last in windows:
        for lot, at in _touched(history, subject, first, last):
            found[lot] = min(at, found.get(lot, at))
    labels = labels_of(found, in_force)
    return [Touched(lot, labels[lot], first) for lot, first in sorted(found.items(), key=lambda one: one[1])]


def _touched(history: History, subject: str, since: datetime, until: datetime) -> Iterator[tuple[UUID, datetime]]:
    for held in holdings_of(history, subject):
        if held.since <= until and (held.until is None or held.until >= since):
            first = max(held.since, since)
            lot = history.lot_at(subject, first)
            if lot is not None:
                yield lot, first
    for one in (*history.into(subject), *history.out_of(subject), *history.through(subject)):
        row = one.row
        overlaps = row.started_at <= until and (one.ended_at is None or one.ended_at >= since)
        if overlaps and row.target_lot is not None:
            yield row.target_lot, max(row.started_at, since)


def labels_of(lots: Iterable[UUID], in_force: InForce) -> dict[UUID, str]:
    """How each lot is called: a pack by its code, a fill by its vessel, product and first moment."""
    rows = Lot.objects.filter(id__in=list(lots))
    return {one.id: label_of(one, in_force) for one in rows}


def label_of(lot: Lot, in_force: InForce) -> str:
    """'Silo A, raw milk, since 2026-03-03 05:20', or a pack's code."""
    if lot.code:
        return f"{lot.product_name} {lot.code}".strip()
    local = in_force.calendar.local(lot.observed_at)
    words = {
        "vessel": lot.vessel_name,
        "product": lot.product_name or _("product not known"),
        "when": f"{local:%Y-%m-%d %H:%M}",
    }
    return _("%(vessel)s, %(product)s, since %(when)s") % words


# --- clocks


def clocks_at(moment: datetime) -> dict[str, list[Clock]]:
    """Every clock that runs at each vessel and line at `moment`, with when it runs out."""
    in_force = plan_in_force(moment)
    if in_force is None:
        return {}
    history = load(in_force.plan, moment, moment)
    contents = contents_in(history, in_force.plan, moment)
    return {code: clocks_of(one, history, in_force, moment) for code, one in contents.items()}


# --- what bears on due checks


def facts_between(start: datetime, end: datetime) -> facts.Facts:
    """Holdings, runs, events and days without production that bear on what is due in [start, end)."""
    in_force = plan_in_force(end)
    if in_force is None:
        return facts.Facts()
    return facts_kept(in_force.number, start, end, lambda first, last: _facts_told(in_force, first, last))


def _facts_told(in_force: InForce, start: datetime, end: datetime) -> facts.Facts:
    in_force = replace(in_force, plan=_with_earlier_places(in_force.plan, start, end))
    # What ends soon after decides when the last checks of the window count as missed.
    until = end + LOOK_AHEAD
    history = load(in_force.plan, start, until)
    return facts_of(history, in_force, start, until)


def facts_of(history: History, in_force: InForce, start: datetime, until: datetime) -> facts.Facts:
    """The facts that a history tells, with the events and days signed in that time."""
    events_from = start - _longest_delay(in_force.plan)
    days = [in_force.calendar.plant_day(moment) for moment in (start, until)]
    raw = {one.code for one in in_force.plan.vessels if one.stage == "raw"}
    tankers = [
        facts.Event(TANKER, str(one.first), one.row.target, one.row.started_at)
        for one in history.moves
        if not one.row.source and one.row.target in raw and one.row.started_at >= events_from
    ]
    others = PlantEvent.objects.filter(observed_at__gte=events_from, observed_at__lte=until).exclude(
        event__in=(choices.WASH_BEGUN, choices.WASH_NOT_DONE)
    )
    signed = NoProduction.objects.filter(plant_day__gte=days[0], plant_day__lte=days[1])
    return facts.Facts(
        holdings=tuple(
            facts.Holding(code, held.since, held.until)
            for code, _name in choices.holders(in_force.plan)
            for held in holdings_of(history, code)
            if held.until is None or held.until >= start
        ),
        runs=tuple(run for run in runs_of(history) if run.ended_at is None or run.ended_at >= start),
        events=(
            *sorted(tankers, key=lambda one: (one.at, one.id)),
            *(facts.Event(one.event, str(one.number), one.subject, one.observed_at) for one in others),
            *_outage_ends(in_force.plan, events_from, until),
        ),
        no_production=tuple(facts.NoProduction(one.shift or None, one.plant_day) for one in signed),
    )


def _outage_ends(plan: Plan, start: datetime, until: datetime) -> list[facts.Event]:
    """The end of each outage, as an event at every place of the plant: an outage spares none."""
    ends = OutageEnd.objects.filter(ended_at__gte=start, ended_at__lte=until).order_by("ended_at", "number")
    codes = [*(one.code for one in plan.vessels), *(one.code for one in plan.equipment)]
    return [facts.Event(OUTAGE_END, str(one.outage), code, one.ended_at) for one in ends for code in codes]


def _with_earlier_places(plan: Plan, start: datetime, end: datetime) -> Plan:
    """The plan with the vessels and equipment of the versions before it in that time: their checks were due too."""
    vessels = {one.code: one for one in plan.vessels}
    equipment = {one.code: one for one in plan.equipment}
    for earlier, _since, _until in reversed(versions_between(start, end)):
        for vessel in earlier.plan.vessels:
            vessels.setdefault(vessel.code, vessel)
        for other in earlier.plan.equipment:
            equipment.setdefault(other.code, other)
    return replace(plan, vessels=tuple(vessels.values()), equipment=tuple(equipment.values()))


def _longest_delay(plan: Plan) -> timedelta:
    return timedelta(minutes=max((one.frequency.minutes for one in plan.monitoring), default=0))


def holdings_of(history: History, code: str) -> list[facts.Holding]:
    """Times of holding that this history tells in full: what lies before its beginning is another story's."""
    vessel = history.book.vessels.get(code)
    begins = history.since.get(code)
    if vessel is None:
        return []
    return [
        facts.Holding(code, one.since, one.until)
        for one in vessel.holdings
        if begins is None or one.until is None or one.until > begins
    ]


# --- holds


def held_lots_at(moment: datetime) -> dict[UUID, list[str]]:
    """Every lot held at a moment, by name or through what flowed into it, with the reasons."""
    found: dict[UUID, list[str]] = {}
    held = held_by_name(moment)
    reached = lineage.downstream_of({lot: min(one.since_at for one in holds) for lot, holds in held.items()})
    for lot, holds in held.items():
        reasons = [one.reason for one in holds]
        for one in (lot, *sorted(reached[lot])):
            found.setdefault(one, []).extend(reasons)
    return found


def not_free_at(moment: datetime) -> dict[UUID, list[str]]:
    """Every lot that is held at a moment, or that two people did not release: why it is not to leave as it is."""
    found = held_lots_at(moment)
    for lot, signed in disposed.signed_for(moment).items():
        found.setdefault(lot, []).extend(one.sentence for one in signed)
    return found


__all__ = [
    "Contents",
    "HeldOrRunning",
    "Touched",
    "clocks_at",
    "contents_at",
    "downstream_lots",
    "facts_between",
    "held_lots_at",
    "held_or_running",
    "label_of",
    "lot_in",
    "lots_touched",
    "lots_touched_in",
    "lots_upstream",
    "not_free_at",
]
