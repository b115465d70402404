"""Washes and sanitizings: two acts, two records."""

from __future__ import annotations

from uuid import UUID

from django.utils.translation import gettext as _

from plant import clock
from records.flow import choices, closed_days
from records.flow.choices import SANITIZED, WASHED
from records.flow.common import (
    history_at,
    label,
    lot_by_id,
    name_of,
    not_ahead,
    plan_at,
    same_or_different,
    typed_number,
)
from records.flow.consequences import follow
from records.flow.data import WashData
from records.flow.errors import Refused
from records.flow.findings import SANITATION, Finding
from records.flow.history import WASH_EMPTY, History, level_form
from records.flow.levels import seen_empty
from records.flow.models import PlantEvent, Wash
from records.flow.moving import may_amend
from records.flow.words import in_words
from records.ledger.actions import Actor, act
from records.people.plans import InForce

_SAID = (
    "what", "vessel", "started_at", "ended_at", "method", "temperature_typed", "temperature_unit", "strength",
    "contact_min", "note", "amends", "amend_reason", "void",
)  # fmt: skip


def record_wash(by: Actor, data: WashData) -> Wash:
    """Keep a wash or a sanitizing. Whoever washed a vessel that the book calls full says that it was empty."""
    in_force = plan_at(data.started_at)
    row = _row(data, in_force)
    with act(by) as a:
        saved = Wash.objects.filter(form_id=data.form_id).first()
        if saved is not None:
            return same_or_different(saved, row, _SAID, by)
        before = history_at(in_force, row.started_at, [row.vessel])
        contents = before.book.contents(row.vessel, row.started_at)
        findings: list[Finding] = []
        if row.what == WASHED and contents.holds:
            if not data.was_empty:
                words = {"vessel": row.vessel_name}
                sentence = _(
                    "The book says that %(vessel)s holds product then. "
                    "Tick that it was empty, or check which vessel it was."
                )
                raise Refused(sentence % words, "was_empty")
            level_id = level_form(row.form_id, WASH_EMPTY)
            findings += seen_empty(a, in_force, row.vessel, row.started_at, level_id, before)
        a.write(row, observed_at=row.started_at)
        findings += _moved_meanwhile(row, before, in_force)
        lot = before.lot_at(row.vessel, row.started_at)
        follow(
            a,
            findings,
            row,
            in_force,
            since_at=row.started_at,
            lot=lot,
            lot_label=label(lot_by_id(lot), in_force),
            vessel=row.vessel,
        )
    return row


def _row(data: WashData, in_force: InForce) -> Wash:
    if data.what not in (WASHED, SANITIZED):
        raise Refused(_("Say whether it was washed or sanitized."), "what")
    if data.vessel not in dict(choices.washable(in_force.plan)):
        raise Refused(_("The plan knows no such vessel or line."), "vessel")
    for moment, field in ((data.started_at, "started_at"), (data.ended_at, "ended_at")):
        not_ahead(moment, field)
    if data.ended_at < data.started_at:
        raise Refused(_("This is before the start."), "ended_at")
    if data.what == WASHED and data.ended_at == data.started_at:
        raise Refused(_("A wash takes time: enter when it began."), "started_at")
    if not data.method.strip():
        raise Refused(_("Say how it was washed."), "method")
    return Wash(
        form_id=data.form_id,
        what=data.what,
        vessel=data.vessel,
        vessel_name=name_of(in_force, data.vessel),
        started_at=data.started_at,
        ended_at=data.ended_at,
        method=data.method.strip(),
        temperature_typed=data.temperature_typed,
        temperature=typed_number(data.temperature_typed, in_force, "temperature", negative=True),
        temperature_unit=data.temperature_unit if data.temperature_typed else "",
        strength=data.strength,
        contact_min=data.contact_min,
        note=data.note,
    )


def _moved_meanwhile(row: Wash, before: History, in_force: InForce) -> list[Finding]:
    """Product that moved through a vessel or line while it was washed: cleaning solution may have met it."""
    moves = (*before.into(row.vessel), *before.out_of(row.vessel), *before.through(row.vessel))
    for one in moves:
        if one.ended_at is not None and row.started_at < one.ended_at and one.row.started_at < row.ended_at:
            with in_force.speaking():
                words = {"vessel": row.vessel_name, "what": in_words(row.what)}
                sentence = _("%(vessel)s was %(what)s while product moved") % words
            return [Finding(SANITATION, row.vessel, sentence, "legal rule", holds=True)]
    return []


def amend_wash(by: Actor, number: int, data: WashData, reason: str, void: bool = False) -> Wash:
    """A successor of a wash, at most one each; `void` says that it did not happen."""
    if not reason.strip():
        raise Refused(_("Write why it is amended."), "amend_reason")
    old = Wash.objects.filter(number=number).first()
    if old is None:
        raise Refused(_("There is no such wash."))
    in_force = plan_at(data.started_at)
    closed = closed_days.is_closed(in_force.calendar.plant_day(old.started_at))
    row = _row(data, in_force)
    row.amends, row.amend_reason, row.void = number, reason.strip(), void
    if void:
        # What did not happen is named by all that it was.
        row.vessel, row.vessel_name, row.what = old.vessel, old.vessel_name, old.what
        row.started_at, row.ended_at = old.started_at, old.ended_at
    with act(by) as a:
        saved = Wash.objects.filter(form_id=data.form_id).first()
        if saved is not None:
            return same_or_different(saved, row, _SAID, by)
        if why_not := may_amend(by, old, closed):
            raise Refused(why_not)
        if Wash.objects.filter(amends=number).exists():
            raise Refused(_("This wash was amended already. Amend the one that stands."))
        return a.write(row, observed_at=row.started_at)


def begin_wash(by: Actor, vessel: str, form_id: UUID) -> PlantEvent:
    """Say that the wash of a vessel or line begins now: until it is recorded, the vessel is 'being washed'."""
    now = clock.now()
    in_force = plan_at(now)
    if vessel not in dict(choices.washable(in_force.plan)):
        raise Refused(_("The plan knows no such vessel or line."), "vessel")
    row = PlantEvent(form_id=form_id, event=choices.WASH_BEGUN, subject=vessel, subject_name=name_of(in_force, vessel))
    with act(by) as a:
        saved = PlantEvent.objects.filter(form_id=form_id).first()
        if saved is not None:
            return same_or_different(saved, row, ("event", "subject"), by)
        if history_at(in_force, now, [vessel]).book.contents(vessel, now).holds:
            words = {"vessel": row.subject_name}
            sentence = _("%(vessel)s holds product by the book. Record what left it, or the level seen, first.")
            raise Refused(sentence % words)
        return a.write(row)
