"""Rework as it stands: each portion set aside, what went out of its container, and what is left of it.

Nothing of it is stored: the portions are rows of the freezer's runs, and all that happened to them are movements.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from uuid import UUID

from django.db.models import Q

from plant.hazard_plan.content import Plan
from plant.process.properties import between
from plant.process.units import UnitError
from plant.rework_places import code_of
from records.flow.densities import nominal_of
from records.flow.disposed import AWAY
from records.flow.effective import stands, with_fate
from records.flow.exits import FEED, exit_of
from records.flow.history import EMPTIED, level_form
from records.flow.models import LevelSeen, Movement
from records.freezer_runs.models import REWORK, FreezerEvent
from records.people.plans import InForce
from records.run_rows.queries import standing

# What was set aside longer ago than this is not looked for any more.
LOOKED_BACK = timedelta(days=366)


@dataclass(frozen=True, slots=True)
class Portion:
    """Rework set aside at one moment. `number` names it: the entry that first set it aside.

    `row`: that entry as it stands; `moved`: its movement into the container (None before there were any); `out`: the
    movements out of it; `left` in the row's unit, None where it is not known; `emptied_at`: nothing is left since.
    """

    number: int
    row: FreezerEvent
    moved: Movement | None
    out: tuple[Movement, ...]
    left: Decimal | None
    emptied_at: datetime | None

    @property
    def code(self) -> str:
        return code_of(self.number)

    @property
    def lot(self) -> UUID | None:
        return self.moved.target_lot if self.moved is not None else None

    @property
    def is_kept(self) -> bool:
        """Whether some of it is there still, by the book."""
        return self.emptied_at is None

    @property
    def used(self) -> list[Movement]:
        return [one for one in self.out if not is_thrown_away(one)]

    @property
    def thrown_away(self) -> list[Movement]:
        return [one for one in self.out if is_thrown_away(one)]

    def until(self, in_force: InForce) -> datetime:
        """To when it has to be used."""
        return self.row.happened_at + timedelta(hours=hours_allowed(self.row, in_force))

    def is_past(self, now: datetime, in_force: InForce) -> bool:
        """Kept, and past its hours."""
        return self.is_kept and now > self.until(in_force)


def is_thrown_away(row: Movement) -> bool:
    """Whether a movement out of a container left by an exit at the end of which nobody eats it."""
    return not row.target and exit_of(row.target, row.target_name) in (*AWAY, FEED)


def hours_allowed(row: FreezerEvent, in_force: InForce) -> int:
    """The hours said when it was set aside, or the plan's where these are fewer [h]."""
    own, plans = row.use_within_h or 0, in_force.plan.settings.rework_h
    return min((one for one in (own, plans) if one), default=0)


def like_only(plan: Plan) -> str:
    """The clause of the plan's rule that rework goes like into like; empty where the plan has none.

    The rule is a limit on the quantity `rework` whose wanted answers do not include another flavor.
    """
    found = [one for one in plan.limits if one.quantity == "rework" and "other" not in one.wanted]
    return found[0].clause if found else ""


def portions(now: datetime, in_force: InForce, since: datetime | None = None) -> list[Portion]:
    """What was set aside within a year, or since a moment, in order of time. Four queries and no more."""
    rows = FreezerEvent.objects.filter(
        became=REWORK, happened_at__gte=since or now - LOOKED_BACK, happened_at__lte=now
    )
    return _told(list(standing(rows).order_by("happened_at", "number")), in_force)


def portion_of(number: int, in_force: InForce) -> Portion | None:
    """The portion of a number; None where nothing was set aside under it, or that was said not to have happened."""
    row = FreezerEvent.objects.filter(number=number).first() if 0 < number < 2**63 else None
    while row is not None and (later := FreezerEvent.objects.filter(amends=row.number).first()) is not None:
        row = later
    if row is None or row.void or row.became != REWORK:
        return None
    found = _told([row], in_force)[0]
    return found if found.number == number else None


def _told(rows: Sequence[FreezerEvent], in_force: InForce) -> list[Portion]:
    if not rows:
        return []
    firsts = _firsts(rows)
    codes = [code_of(firsts[one.number]) for one in rows]
    into: dict[str, Movement] = {}
    out: dict[str, list[Movement]] = defaultdict(list)
    taken_back = set()
    rows_of = Movement.objects.filter(Q(target__in=codes) | Q(source__in=codes))
    moves = list(with_fate(rows_of).order_by("started_at", "number"))
    for one in moves:
        if one.void:
            taken_back |= _levels_of(one, moves)
        if not stands(one):
            continue
        if one.target in codes:
            into[one.target] = one
        else:
            out[one.source].append(one)
    seen = LevelSeen.objects.filter(vessel__in=codes, quantity=0).exclude(form_id__in=taken_back)
    empty = dict(seen.order_by("-observed_at").values_list("vessel", "observed_at"))
    return [
        _portion(firsts[row.number], row, into.get(code), tuple(out[code]), empty.get(code), in_force)
        for row, code in zip(rows, codes, strict=True)
    ]


def _levels_of(void: Movement, moves: Iterable[Movement]) -> set[UUID]:
    """The levels of nothing that came with a movement which did not happen, under each form that it had."""
    by_number = {one.number: one for one in moves}
    found = {level_form(void.form_id, EMPTIED)}
    row: Movement | None = void
    while row is not None and row.amends is not None:
        row = by_number.get(row.amends)
        if row is not None:
            found.add(level_form(row.form_id, EMPTIED))
    return found


def _firsts(rows: Iterable[FreezerEvent]) -> dict[int, int]:
    """The first number of each line of amendments. A query for each step back, none without amendments."""
    firsts = {one.number: one.amends or one.number for one in rows}
    while True:
        wanted = set(firsts.values()) - {one for one in firsts.values() if one in firsts and firsts[one] == one}
        before = dict(
            FreezerEvent.objects.filter(number__in=wanted, amends__isnull=False).values_list("number", "amends")
        ) if wanted else {}  # fmt: skip
        if not before:
            return firsts
        firsts = {number: before.get(first) or first for number, first in firsts.items()}


def _portion(
    number: int, row: FreezerEvent, moved: Movement | None, out: tuple[Movement, ...], empty: datetime | None,
    in_force: InForce,
) -> Portion:  # fmt: skip
    left = left_of(row, out, in_force)
    if empty is None and left is not None and left <= 0:
        empty = max((one.started_at for one in out), default=row.happened_at)
    return Portion(number, row, moved, out, left, empty)


def left_of(row: FreezerEvent, out: Iterable[Movement], in_force: InForce) -> Decimal | None:
    """How much of a portion is left, in its own unit; below zero where more was taken than was set aside."""
    if row.amount is None:
        return None
    left = Fraction(row.amount)
    for one in out:
        taken = in_unit(one.quantity, one.unit, row, in_force)
        if taken is None:
            return None
        left -= taken
    return Decimal(left.numerator) / Decimal(left.denominator)


def in_unit(quantity: Decimal | None, unit: str, row: FreezerEvent, in_force: InForce) -> Fraction | None:
    """A quantity in the unit of a portion, by the usual density of its product; None where that cannot be said."""
    if quantity is None:
        return None
    try:
        return Fraction(between(quantity, unit, row.unit, nominal_of(in_force.plan, row.product).lb_per_gal))
    except UnitError:
        return None


__all__ = ["Portion", "hours_allowed", "is_thrown_away", "left_of", "like_only", "portion_of", "portions"]
