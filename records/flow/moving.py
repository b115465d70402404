"""Movements: recorded, ended, amended. What has happened is kept; what may not begin is refused."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from uuid import UUID, uuid5

from django.utils.translation import gettext as _

from plant import clock
from plant.hazard_plan.content import Plan
from plant.rework_places import is_rework
from records.flow import choices, closed_days, further
from records.flow import findings as book_findings
from records.flow.choices import WASHED
from records.flow.common import (
    PACK,
    history_at,
    label,
    lot_by_id,
    name_of,
    new_fill,
    not_ahead,
    plan_at,
    quantity_columns,
    same_or_different,
)
from records.flow.consequences import follow, wait_for_results
from records.flow.data import EndData, MovementData
from records.flow.effective import standing
from records.flow.errors import DifferentContent, Refused, Several
from records.flow.finding import Finding
from records.flow.findings import about_book, about_movement, bars
from records.flow.history import EMPTIED, EMPTIED_AT_END, History, Told, level_form
from records.flow.levels import seen_empty
from records.flow.models import Movement, MovementEnd
from records.flow.packing import is_packing
from records.flow.queries import held_lots_at
from records.ledger.actions import Act, Actor, act
from records.ledger.models import Record
from records.lots.models import Lot
from records.people.plans import InForce

# Everything that a person can say of a movement: what makes a repeat of a form the same.
_SAID = (
    "source", "source_name", "target", "target_name", "via", "ended_at", "quantity_typed", "unit", "uncertainty",
    "measured_by", "product", "note", "amends", "amend_reason", "void",
)  # fmt: skip
# What did not happen is named by all that it was: its successor says the same, and that it is void.
_VOID_REPEATS = (
    "source", "source_name", "target", "target_name", "via", "via_name", "started_at", "ended_at", "quantity_typed",
    "quantity", "unit", "uncertainty", "measured_by", "product", "product_name", "family", "source_lots", "target_lot",
)  # fmt: skip
_END_SAID = ("movement", "ended_at", "quantity_typed", "unit", "uncertainty", "measured_by", "note")
NOT_YET = 2**62  # the number of a movement that is only asked about: after every other
SUPERVISING = ("supervisor", "qualified individual")


@dataclass(frozen=True, slots=True)
class _Case:
    """A movement about to be written, with what the book says without it; `told`: as it stood, the amended one too."""

    row: Movement
    in_force: InForce
    before: History
    told: History
    since: datetime
    ended_at: datetime | None
    code: str
    emptied: bool


def record_movement(by: Actor, data: MovementData, *, load: int | None = None) -> Movement:
    """Keep a movement, its lots and its consequences; the same form again gives the row that it saved.

    With `start_now` a bar raises Several and nothing is written. Raises Refused for what makes no sense, beside its
    field, and DifferentContent for the same form with other content. `load`: the load of raw milk that is unloaded.
    """
    now = clock.now()
    started_at = now if data.start_now else data.started_at
    in_force = plan_at(started_at)
    row = _row(data, in_force, started_at)
    with act(by) as a:
        saved = Movement.objects.filter(form_id=data.form_id).first()
        if saved is not None:
            return _again(saved, row, by, data)
        case = _case(row, in_force, data.code, data.emptied)
        held = held_lots_at(started_at)
        if data.start_now:
            against = [*further.barred(row, load), *bars(row, case.before, in_force, held)]
            if against:
                raise Several(against)
        findings = about_movement(row, row.ended_at, case.before, in_force, held)
        _write(a, case, findings)
        further.then(a, row, None, load)
        return row


def what_bars(data: MovementData) -> list[str]:
    """What would refuse this movement if it began at its start; it writes nothing. Raises Refused as the act does."""
    in_force = plan_at(data.started_at)
    row = _row(data, in_force, data.started_at)
    case = _case(row, in_force, data.code, data.emptied)
    return [*further.barred(row, None), *bars(row, case.before, in_force, held_lots_at(data.started_at))]


def too_full(data: MovementData, amends: int | None = None) -> list[str]:
    """Where this movement would fill a vessel beyond what it holds, by the book; it writes nothing."""
    in_force = plan_at(data.started_at)
    row = _row(data, in_force, data.started_at)
    old = Movement.objects.filter(number=amends).first() if amends is not None else None
    case = _case(row, in_force, data.code, data.emptied, replaces=old)
    row.number = NOT_YET
    return book_findings.too_full(_with(case.before, row), case.told, in_force, row.target, row.started_at)


def end_too_full(number: int, data: EndData) -> list[str]:
    """As `too_full`, of a movement that runs and would end so."""
    row = Movement.objects.filter(number=number).first()
    if row is None or not row.target:
        return []
    in_force = plan_at(row.started_at)
    said = MovementEnd(**quantity_columns(
        data.quantity_typed, data.unit, data.uncertainty_typed, data.measured_by, in_force
    ))  # fmt: skip
    told = history_at(in_force, row.started_at, [row.source, row.target, row.via])
    ended = Told(row, data.ended_at, said.quantity, said.unit, said.uncertainty or Decimal(0), row.number)
    after = told.with_moves([*told.without(number).moves, ended])
    return book_findings.too_full(after, told.without(number), in_force, row.target, row.started_at)


def _row(data: MovementData, in_force: InForce, started_at: datetime) -> Movement:
    plan = in_force.plan
    _check_places(data, plan)
    not_ahead(started_at, "started_at")
    ended_at = None if data.start_now else data.ended_at
    if ended_at is not None:
        not_ahead(ended_at, "ended_at")
        if ended_at < started_at:
            raise Refused(_("This is before the start."), "ended_at")
    product = choices.product_of(in_force, data.product)
    if product is None:
        raise Refused(_("The plan knows no such product."), "product")
    return Movement(
        form_id=data.form_id,
        source=data.source,
        source_name=name_of(in_force, data.source) if data.source else data.source_name.strip(),
        target=data.target,
        target_name=name_of(in_force, data.target) if data.target else data.target_name.strip(),
        via=data.via,
        via_name=name_of(in_force, data.via) if data.via else "",
        started_at=started_at,
        ended_at=ended_at,
        product=product.code,
        product_name=product.name,
        family=product.family,
        note=data.note,
        **quantity_columns(data.quantity_typed, data.unit, data.uncertainty_typed, data.measured_by, in_force),
    )


def _check_places(data: MovementData, plan: Plan) -> None:
    holders = dict(choices.holders(plan))
    for field, code, words in (
        ("source", data.source, data.source_name),
        ("target", data.target, data.target_name),
    ):
        if code and code not in holders and not is_rework(code):
            raise Refused(_("The plan knows no such vessel that holds product."), field)
        if not code and not words.strip():
            raise Refused(_("Say where, since it is outside."), f"{field}_name")
    if not data.source and not data.target:
        raise Refused(_("One of the two has to be a vessel of this plant."), "target")
    if data.source == data.target:
        raise Refused(_("It cannot go into the vessel that it comes from."), "target")
    if data.via and not choices.is_line(plan, data.via):
        raise Refused(_("Product cannot run through that."), "via")
    if is_packing(data.target, data.target_name) and not data.code.strip():
        raise Refused(_("Enter the code that stands on the packs."), "code")


def _again(saved: Movement, new: Movement, by: Actor, data: MovementData) -> Movement:
    lot = lot_by_id(saved.target_lot)
    code = (lot.code if lot else None) or ""
    if code != data.code.strip() or (not data.start_now and saved.started_at != new.started_at):
        raise DifferentContent(saved)
    return same_or_different(saved, new, _SAID, by)


def _case(row: Movement, in_force: InForce, code: str, emptied: bool, *, replaces: Movement | None = None) -> _Case:
    earliest = min(row.started_at, replaces.started_at) if replaces else row.started_at
    told = history_at(in_force, earliest, [row.source, row.target, row.via])
    before = told.without(replaces.number) if replaces is not None else told
    return _Case(row, in_force, before, told, earliest, row.ended_at, code, emptied)


def _write(a: Act, case: _Case, findings: list[Finding]) -> Movement:
    """The movement with its lots, then what follows from it."""
    row, in_force, before = case.row, case.in_force, case.before
    found, fresh = _source_lot(case), None
    if row.source:
        lot = found.id if found is not None else before.lot_at(row.source, row.started_at)
        row.source_lots = [str(lot)] if lot else []
    if row.target:
        row.target_lot = before.lot_at(row.target, row.started_at) or _earlier_lot(row, before)
        if row.target_lot is None:
            fresh = new_fill(in_force, row.target, row.product)
            row.target_lot = fresh.id
    elif case.code:
        fresh = _pack(case)
        row.target_lot = fresh.id
    a.write(row, observed_at=row.started_at)
    if found is not None:
        a.write(_born_of(found, row), observed_at=row.started_at)
    if fresh is not None and fresh._state.adding:
        a.write(_born_of(fresh, row), observed_at=row.started_at)
    if row.target_lot is not None and not row.target:
        wait_for_results(a, row.target_lot, row, in_force)
    if case.emptied and row.source and case.ended_at:
        level_id = level_form(row.form_id, EMPTIED)
        findings += seen_empty(a, in_force, row.source, case.ended_at, level_id, _with(before, row))
    ends = case.ended_at or row.started_at
    findings += about_book(_with(before, row), case.told, in_force, (row.source, row.target), case.since, ends)
    lot_row = lot_by_id(row.target_lot, fresh)
    follow(
        a,
        findings,
        row,
        in_force,
        since_at=row.started_at,
        lot=row.target_lot,
        lot_label=label(lot_row, in_force),
        vessel=row.target,
    )
    return row


def _source_lot(case: _Case) -> Lot | None:
    """A lot for product drawn from a vessel of which the book knows none: it was there, so it can be held."""
    row = case.row
    if not row.source or case.before.lot_at(row.source, row.started_at) is not None:
        return None
    return new_fill(case.in_force, row.source, "")


def _earlier_lot(row: Movement, before: History) -> UUID | None:
    """Emptied and not washed is no clean break: of a vessel without any wash the last fill's lot goes on."""
    washed = any(one.started_at <= row.started_at for one in before.washes_of(row.target, WASHED))
    if washed or before.since.get(row.target) is None:
        return None
    last = (
        Movement.objects.filter(target=row.target, started_at__lte=row.started_at)
        .exclude(target_lot=None)
        .order_by("-started_at")
        .first()
    )
    return last.target_lot if last else None


def _pack(case: _Case) -> Lot:
    """The pack lot of a code: a new one, or the same one where more of that product gets the same code."""
    row, code = case.row, case.code.strip()
    known = Lot.objects.filter(code=code).first()
    if known is None:
        return Lot(origin=PACK, code=code, product=row.product, product_name=row.product_name)
    if known.product != row.product:
        words = {"code": code, "product": known.product_name}
        raise Refused(_("%(code)s is the code of %(product)s already.") % words, "code")
    return known


def _born_of(lot: Lot, row: Movement) -> Lot:
    lot.movement = row.number if row.target_lot == lot.id else None
    return lot


def _with(before: History, row: Movement) -> History:
    """The history with this movement in it."""
    told = Told(row, row.ended_at, row.quantity, row.unit, row.uncertainty or Decimal(0), row.number)
    return before.with_moves([*before.without(row.number).moves, told])


# --- the end


def end_movement(by: Actor, number: int, data: EndData) -> MovementEnd:
    """Keep the end of a movement that was recorded at its start, once; a repeat gives the row that it saved."""
    not_ahead(data.ended_at, "ended_at")
    row = Movement.objects.filter(number=number).first()
    if row is None:
        raise Refused(_("There is no such movement."))
    in_force = plan_at(row.started_at)
    if data.ended_at < row.started_at:
        raise Refused(_("This is before the start."), "ended_at")
    columns = quantity_columns(data.quantity_typed, data.unit, data.uncertainty_typed, data.measured_by, in_force)
    end = MovementEnd(movement=number, ended_at=data.ended_at, note=data.note, **columns)
    with act(by) as a:
        saved = MovementEnd.objects.filter(movement=number).first()
        if saved is not None:
            return same_or_different(saved, end, _END_SAID, by)
        _still_runs(row)
        a.write(end, observed_at=data.ended_at)
        before = history_at(in_force, row.started_at, [row.source, row.target, row.via])
        findings = []
        if data.emptied and row.source:
            level_id = level_form(row.form_id, EMPTIED_AT_END)
            findings = seen_empty(a, in_force, row.source, data.ended_at, level_id, before)
        findings += [
            one
            for one in about_movement(row, data.ended_at, before.without(number), in_force, {})
            if one.sentence not in _known(row, before, in_force)
        ]
        codes = (row.source, row.target)
        findings += about_book(before, before.without(number), in_force, codes, row.started_at, data.ended_at)
        lot = lot_by_id(row.target_lot)
        follow(
            a,
            findings,
            end,
            in_force,
            since_at=row.started_at,
            lot=row.target_lot,
            lot_label=label(lot, in_force),
            vessel=row.target,
        )
    return end


def end_if_running(by: Actor, number: int, data: EndData) -> None:
    """End a movement that still runs; one that somebody ended on the Floor stays as it was said there."""
    if MovementEnd.objects.filter(movement=number).exists():
        return
    if not Movement.objects.filter(number=number, ended_at__isnull=False).exists():
        end_movement(by, number, data)


def _known(row: Movement, before: History, in_force: InForce) -> set[str]:
    """What was wrong at the start already: it is not found a second time at the end."""
    found = about_movement(row, None, before.without(row.number), in_force, {})
    return {one.sentence for one in found}


def _still_runs(row: Movement) -> None:
    if row.ended_at is not None:
        raise Refused(_("This movement has its end already; amend it if it is wrong."))
    if row.void or Movement.objects.filter(amends=row.number).exists():
        raise Refused(_("This movement was amended. End the one that stands."))


# --- amendments


def may_amend(by: Actor, row: Record, closed: bool) -> str:
    """Empty when the person may amend this movement or wash, else the sentence that says who may.

    One's own until the day is closed; afterwards, and for another's, a supervisor: after closing never one's own.
    """
    own = row.by_id is not None and by.person_id == row.by_id
    if own and not closed:
        return ""
    if by.role not in SUPERVISING:
        who = _("The day is closed: only a supervisor can amend it now.")
        return who if closed else _("Only %(name)s or a supervisor can amend this.") % {"name": row.by_name}
    return _("The day is closed: somebody else has to amend what you recorded.") if own else ""


def amend_movement(by: Actor, number: int, data: MovementData, reason: str, void: bool = False) -> Movement:
    """A successor of a movement, at most one each; `void` says that it did not happen. It releases nothing."""
    if not reason.strip():
        raise Refused(_("Write why it is amended."), "amend_reason")
    old = Movement.objects.filter(number=number).first()
    if old is None:
        raise Refused(_("There is no such movement."))
    in_force = plan_at(data.started_at)
    closed = closed_days.is_closed(in_force.calendar.plant_day(old.started_at))
    row = _row(data, in_force, data.started_at)
    row.amends, row.amend_reason, row.void = number, reason.strip(), void
    with act(by) as a:
        saved = Movement.objects.filter(form_id=data.form_id).first()
        if saved is not None and void:
            return same_or_different(saved, row, ("amends", "amend_reason", "void"), by)
        if saved is not None:
            return _again(saved, row, by, data)
        if why_not := may_amend(by, old, closed):
            raise Refused(why_not)
        if Movement.objects.filter(amends=number).exists():
            raise Refused(_("This movement was amended already. Amend the one that stands."))
        if void:
            _repeat(row, old, _VOID_REPEATS)
            told = history_at(in_force, old.started_at, [old.source, old.target])
            a.write(row, observed_at=row.started_at)
            codes, since = (old.source, old.target), old.started_at
            findings = about_book(told.without(number), told, in_force, codes, since, old.ended_at or since)
            follow(a, findings, row, in_force, since_at=since)
            further.then(a, row, old, None)
            return row
        _succeed(a, row, old, in_force, data)
        _take_along(a, row, old, in_force)
        return row


def _succeed(a: Act, row: Movement, old: Movement, in_force: InForce, data: MovementData) -> None:
    case = _case(row, in_force, data.code, data.emptied, replaces=old)
    findings = about_movement(row, row.ended_at, case.before, in_force, held_lots_at(row.started_at))
    kept = old.target_lot if row.target and old.target == row.target else None
    if kept is not None and case.before.lot_at(row.target, row.started_at) is None:
        # The amended movement began the lot, so its successor goes on with it, and so does every hold on it.
        _write_with_lot(a, case, findings, kept)
    else:
        _write(a, case, findings)
    further.then(a, row, old, None)


def _take_along(a: Act, row: Movement, old: Movement, in_force: InForce) -> None:
    """What was set aside as rework from a draw goes with it, so that its family leads where the draw's does."""
    was, now = ((one.source, one.via, one.started_at) for one in (old, row))
    if was == now or not old.source or is_rework(old.target):
        return
    beside = Movement.objects.filter(source=old.source, via=old.via, started_at=old.started_at)
    for one in standing(beside).order_by("number"):
        if not is_rework(one.target):
            continue
        data = MovementData(
            form_id=uuid5(one.form_id, f"with entry {row.number}"), source=row.source, source_name=row.source_name,
            target=one.target, via=row.via, product=one.product, started_at=row.started_at,
            ended_at=max(row.started_at, one.ended_at or row.started_at), quantity_typed=one.quantity_typed,
            unit=one.unit, measured_by=one.measured_by, note=one.note,
        )  # fmt: skip
        moved = _row(data, in_force, row.started_at)
        moved.amends, moved.amend_reason = one.number, row.amend_reason
        _succeed(a, moved, one, in_force, data)


def _repeat(row: Movement, old: Movement, columns: tuple[str, ...]) -> None:
    for name in columns:
        setattr(row, name, getattr(old, name))


def _write_with_lot(a: Act, case: _Case, findings: list[Finding], lot: UUID) -> Movement:
    case.before.found = [*case.before.found, *_as_found(lot, case.row)]
    return _write(a, case, findings)


def _as_found(lot: UUID, row: Movement) -> list[Lot]:
    known = Lot.objects.filter(id=lot).first()
    if known is None or known.vessel != row.target:
        return []
    known.observed_at = row.started_at  # in memory only: it is in the vessel from the successor's start
    return [known]
