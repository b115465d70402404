"""Raw milk that a movement alone brought in: it waits for a residue result as a load does, until its load is linked.

Every load of raw milk is screened before it is processed, and so is raw milk not moved in a tanker (Ala. 420-3-16
App. N, state mirror, R34): from the plant's own parlor, in cans, or entered late from paper.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.db import connection
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from plant.process.residue import Residue
from records.deviations import queries as holds
from records.deviations.actions import Cause, open_or_extend
from records.deviations.errors import Refused
from records.deviations.holds import lift_by_other, place_on_hold
from records.deviations.models import Hold, HoldLift
from records.flow.choices import BOUGHT_RAW, RAW, is_raw, product_of, vessel_of
from records.flow.common import label, lot_by_id, plan_at
from records.flow.models import Movement
from records.flow.moving import SUPERVISING
from records.ledger.actions import Act, Actor, act
from records.people.plans import InForce, versions_between
from records.receiving.models import UNLOADING, LoadEvent
from records.receiving.state import residue_at, residue_point
from records.run_rows import queries as loads

PENDING_BAR, RESIDUE_BAR = "residue pending", "residue"
MOST = 40
# The whole chain of amendments around each of these movements; `number` and `act` are columns of every record.
_LINES = """
    WITH RECURSIVE line (number, amends) AS (
        SELECT number, amends FROM {table} WHERE number IN ({numbers})
        UNION
        SELECT other.number, other.amends FROM {table} other
        JOIN line ON other.amends = line.number OR other.number = line.amends
    ) SELECT number FROM line
"""


@dataclass(frozen=True, slots=True)
class Waiting:
    """A movement that brought raw milk in without a load, as it stands now, and the holds that wait for its result."""

    root: int
    row: Movement
    holds: tuple[Hold, ...]
    happened: bool  # whether it still says that raw milk came in from outside


def brings_raw_milk(row: Movement, in_force: InForce | None = None) -> bool:
    """Whether this movement says that raw milk, or raw product of it, came from outside into a vessel.

    `in_force`: the plan of its time, looked up where it is not given and decides.
    """
    if row.void or row.source or not row.target:
        return False
    if row.family == RAW or row.family not in BOUGHT_RAW:
        return row.family == RAW
    plan = in_force if in_force is not None else plan_at(row.started_at)
    return is_raw(product_of(plan, row.product), vessel_of(plan, row.target))


def line_of(number: int) -> list[Movement]:
    """A movement with all that it amends and all that amend it, the first one first. A query for each."""
    row = Movement.objects.filter(number=number).first()
    found: list[Movement] = [] if row is None else [row]
    while found and found[0].amends is not None:
        found.insert(0, Movement.objects.get(number=found[0].amends))
    while found:
        after = Movement.objects.filter(amends=found[-1].number).first()
        if after is None:
            break
        found.append(after)
    return found


def linked_to(line: Iterable[Movement]) -> int | None:
    """The load that a movement belongs to."""
    rows = loads.standing(LoadEvent.objects.filter(what=UNLOADING, movement__in=[one.number for one in line]))
    row = rows.first()
    return None if row is None else row.run


def waits_of(line: list[Movement]) -> list[Hold]:
    """The holds, lifted ones too, that waited for this movement's result: written by its own acts, or by its link's."""
    acts = {one.act for one in line}
    acts |= set(LoadEvent.objects.filter(movement__in=[one.number for one in line]).values_list("act", flat=True))
    lots = {one.target_lot for one in line if one.target_lot is not None}
    found = Hold.objects.filter(lot__in=lots, bars_release=PENDING_BAR, act__in=acts)
    return list(found.order_by("number"))


def still_open(found: Iterable[Hold]) -> list[Hold]:
    """Of these, the holds that nobody lifted."""
    rows = list(found)
    lifted = set(HoldLift.objects.filter(hold__in=[one.number for one in rows]).values_list("hold", flat=True))
    return [one for one in rows if one.number not in lifted]


# --- what flow asks


def bars(row: Movement, load: int | None) -> list[str]:
    """Raw milk from outside begins at its load, with paper and screen."""
    if load is not None or not brings_raw_milk(row):
        return []
    sentence = _("%(product)s from outside belongs to a load: record its paper and its residue screen first.")
    return [sentence % {"product": row.product_name}]


def wait(a: Act, row: Movement, root: int, in_force: InForce) -> Hold | None:
    """Hold what a movement brought in; a deviation where the plan wants a result before unloading."""
    with in_force.speaking():
        words = {"product": row.product_name, "number": root}
        sentence = _("%(product)s from outside, movement %(number)d: no load and no residue result") % words
        if row.target_lot is None:
            return None
        if not in_force.plan.settings.unloads_on_pending:
            point = residue_point(in_force)
            open_or_extend(
                a,
                in_force=in_force,
                control_point=point.key if point is not None else "residue",
                subject=row.target,
                cause="legal rule",
                found=Cause(Movement.KIND, row.number, row.started_at, sentence),
                since_at=row.started_at,
            )
        return place_on_hold(
            a,
            lot=row.target_lot,
            lot_label=label(lot_by_id(row.target_lot), in_force),
            vessel=row.target,
            since_at=row.started_at,
            reason=sentence,
            bars_release=PENDING_BAR,
        )


# --- what waits


def waiting(most: int | None = MOST) -> list[Waiting]:
    """The movements without a load of which something is still on hold, the latest first; None: all. Nine queries."""
    return _waiting(_pending().order_by("-number")[:most])


def waiting_between(start: datetime, end: datetime) -> list[Waiting]:
    """As `waiting`, of what came in within [start, end) by its last amendment. Nine queries."""
    return [one for one in waiting(None) if start <= one.row.started_at < end]


def waiting_in(lot: UUID) -> list[Waiting]:
    """As `waiting`, of one lot, whichever it stands in now."""
    return _waiting(_pending().filter(lot=lot))


def _pending() -> QuerySet[Hold]:
    return holds.open_holds().filter(bars_release=PENDING_BAR)


def waiting_of(number: int) -> Waiting | None:
    """As `waiting`, of one movement, by the number of any row of its line."""
    line = line_of(number)
    if not line or linked_to(line) is not None:
        return None
    still = still_open(waits_of(line))
    return Waiting(line[0].number, line[-1], tuple(still), brings_raw_milk(line[-1])) if still else None


def _waiting(pending: Iterable[Hold]) -> list[Waiting]:
    """The lines of movements that these holds wait for; as many queries for many as for one."""
    acts = {one.act for one in pending}
    if not acts:
        return []
    seeds = set(Movement.objects.filter(act__in=acts).values_list("number", flat=True))
    told = LoadEvent.objects.filter(act__in=acts).values_list("movement", flat=True)
    seeds |= {number for number in told if number is not None}
    lines = _lines(sorted(seeds))
    events = LoadEvent.objects.filter(movement__in=[row.number for line in lines for row in line])
    acts_of: defaultdict[int, set[UUID]] = defaultdict(set)
    for movement, its_act in events.values_list("movement", "act"):
        acts_of[movement or 0].add(its_act)
    linked = set(loads.standing(events.filter(what=UNLOADING)).values_list("movement", flat=True))
    lots = {row.target_lot for line in lines for row in line if row.target_lot is not None}
    still = list(_pending().filter(lot__in=lots).order_by("number"))
    times = [line[-1].started_at for line in lines]
    plans = versions_between(min(times), max(times) + timedelta(microseconds=1)) if times else []
    found = []
    for line in lines:
        if any(row.number in linked for row in line):
            continue
        own = {row.act for row in line}.union(*(acts_of[row.number] for row in line))
        its_lots = {row.target_lot for row in line}
        waits = tuple(one for one in still if one.act in own and one.lot in its_lots)
        if waits:
            row = line[-1]
            found.append(Waiting(line[0].number, row, waits, brings_raw_milk(row, _plan_of(row, plans))))
    return sorted(found, key=lambda one: -one.root)


def _plan_of(row: Movement, plans: list[tuple[InForce, datetime, datetime]]) -> InForce | None:
    return next((plan for plan, since, until in plans if since <= row.started_at < until), None)


def _lines(numbers: Sequence[int]) -> list[list[Movement]]:
    """Each movement of these numbers with all that it amends and all that amend it, the first one first."""
    if not numbers:
        return []
    marks = ", ".join(["%s"] * len(numbers))
    table = connection.ops.quote_name(Movement._meta.db_table)
    with connection.cursor() as cursor:
        cursor.execute(_LINES.format(table=table, numbers=marks), list(numbers))
        every = [number for (number,) in cursor.fetchall()]
    line_at: dict[int, list[Movement]] = {}
    for row in Movement.objects.filter(number__in=every).order_by("number"):  # an amendment's number is the later one
        line = line_at[row.amends] if row.amends is not None else []
        line.append(row)
        line_at[row.number] = line
    return [line for number, line in line_at.items() if line[0].number == number]


def others_wait(load: loads.Run[LoadEvent], lot: UUID, now: datetime) -> bool:
    """Whether another load, or raw milk without a load, still waits for a result in the same lot."""
    numbers = Movement.objects.filter(target_lot=lot, source="", void=False).values_list("number", flat=True)
    rows = LoadEvent.objects.filter(what=UNLOADING, movement__in=list(numbers)).exclude(run=load.number)
    for number in set(loads.standing(rows).values_list("run", flat=True)):
        other = loads.run_of(LoadEvent, number or 0)
        if other is not None and residue_at(other, now) != Residue.NOT_FOUND:
            return True
    return bool(waiting_in(lot))


def end_wait(by: Actor, number: int, reason: str) -> Movement:
    """End the wait of what did not come in after all: a second person's act, never that of who amended it.

    Raises Refused where it still says that raw milk came in: then only a result ends it.
    """
    if not reason.strip():
        raise Refused(_("Write the reason."), "reason")
    with act(by) as a:
        one = waiting_of(number)
        if one is None:
            raise Refused(_("Nothing of this movement waits for a residue result."))
        if one.happened:
            raise Refused(_("By the book this raw milk came in: only the result of its load ends its wait."))
        if by.role not in SUPERVISING:
            raise Refused(_("A supervisor or the qualified individual does this."))
        if by.person_id in {each.by_id for each in line_of(number)}:
            raise Refused(_("Who recorded or amended it cannot end its wait. Somebody else has to."))
        for hold in one.holds:
            words = {"number": one.row.number, "reason": reason.strip()}
            lift_by_other(a, hold, _("Entry %(number)d says that it did not come in. %(reason)s") % words)
    return one.row

