"""Raw milk that a movement alone brought in: it waits for a residue result as a load does, until its load is linked.

Every load of raw milk is screened before it is processed, and so is raw milk not moved in a tanker (Ala. 420-3-16
App. N, state mirror, R34): from the plant's own parlor, in cans, or entered late from paper.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.utils.translation import gettext as _

from plant.process.residue import Residue
from records.deviations import queries as holds
from records.deviations.actions import Cause, open_or_extend
from records.deviations.errors import Refused
from records.deviations.holds import lift_by_other, place_on_hold
from records.deviations.models import Hold, HoldLift
from records.flow.common import label, lot_by_id
from records.flow.models import Movement
from records.flow.moving import SUPERVISING
from records.ledger.actions import Act, Actor, act
from records.people.plans import InForce
from records.receiving.models import UNLOADING, LoadEvent
from records.receiving.state import residue_at, residue_point
from records.run_rows import queries as loads

PENDING_BAR, RESIDUE_BAR = "residue pending", "residue"
RAW = "raw milk"
MOST = 40


@dataclass(frozen=True, slots=True)
class Waiting:
    """A movement that brought raw milk in without a load, as it stands now, and the holds that wait for its result."""

    root: int
    row: Movement
    holds: tuple[Hold, ...]

    @property
    def happened(self) -> bool:
        """Whether it still says that raw milk came in from outside."""
        return brings_raw_milk(self.row)


def brings_raw_milk(row: Movement) -> bool:
    """Whether this movement says that raw milk came from outside into a vessel."""
    return not row.void and not row.source and bool(row.target) and row.family == RAW


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
    return [_("Raw milk from outside belongs to a load: record its paper and its residue screen first.")]


def wait(a: Act, row: Movement, root: int, in_force: InForce) -> Hold | None:
    """Hold what a movement brought in; a deviation where the plan wants a result before unloading."""
    with in_force.speaking():
        sentence = _("Raw milk from outside, movement %(number)d: no load and no residue result") % {"number": root}
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


def waiting(most: int = MOST) -> list[Waiting]:
    """The movements without a load of which something is still on hold, the latest first."""
    pending = holds.open_holds().filter(bars_release=PENDING_BAR).order_by("-number")[:most]
    return _waiting(Movement.objects.filter(target_lot__in={one.lot for one in pending}, source=""))


def waiting_in(lot: UUID) -> list[Waiting]:
    """As `waiting`, of one lot, whichever it stands in now."""
    if not holds.open_holds_of(lot).filter(bars_release=PENDING_BAR).exists():
        return []
    return _waiting(Movement.objects.filter(target_lot=lot, source=""))


def waiting_of(number: int) -> Waiting | None:
    """As `waiting`, of one movement, by the number of any row of its line."""
    line = line_of(number)
    if not line or linked_to(line) is not None:
        return None
    still = still_open(waits_of(line))
    return Waiting(line[0].number, line[-1], tuple(still)) if still else None


def _waiting(rows: Iterable[Movement]) -> list[Waiting]:
    found: dict[int, Waiting] = {}
    for row in rows:
        one = waiting_of(row.number)
        if one is not None:
            found[one.root] = one
    return sorted(found.values(), key=lambda one: -one.root)


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

