"""Washes and sanitizings: two acts, two records."""

from __future__ import annotations

from uuid import UUID

from django.utils.translation import gettext as _

from plant import clock
from records.flow import choices, closed_days, joined
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
from records.flow.consequences import follow, follow_product
from records.flow.data import WashData
from records.flow.errors import Refused
from records.flow.finding import Finding
from records.flow.findings import about_movement
from records.flow.history import WASH_EMPTY, History, Told, level_form
from records.flow.levels import seen_empty
from records.flow.models import PlantEvent, Wash
from records.flow.moving import may_amend
from records.flow.programs import product_place
from records.flow.queries import wash_begun
from records.ledger.actions import Act, Actor, act
from records.people.plans import InForce

_SAID = (
    "what", "vessel", "started_at", "ended_at", "method", "temperature_typed", "temperature_unit", "strength",
    "contact_min", "parted", "note", "amends", "amend_reason", "void",
)  # fmt: skip


def record_wash(by: Actor, data: WashData) -> Wash:
    """Keep a wash or a sanitizing. Whoever washed a vessel that the book calls full says that it was empty."""
    in_force = plan_at(data.started_at)
    row = _row(data, in_force)
    with act(by) as a:
        saved = Wash.objects.filter(form_id=data.form_id).first()
        if saved is not None:
            return same_or_different(saved, row, _SAID, by)
        before = history_at(in_force, row.started_at, joined.places_of(in_force.plan, row.vessel))
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
        findings += joined.of_wash(row, before, in_force)
        _follow(a, findings, row, before, in_force)
    return row


def _follow(a: Act, findings: list[Finding], row: Wash, before: History, in_force: InForce) -> None:
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
        parted=_parted(data.parted),
        joined=joined.in_words_of(in_force, data.vessel) or None,
        note=data.note,
    )


def _parted(said: str) -> str | None:
    if said not in ("", *joined.PARTED):
        raise Refused(_("Say yes or no."), "parted")
    return said or None


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
        before = _around(row, old, in_force)
        known = {one.sentence for one in joined.of_wash(old, before, in_force)}
        product = before.product_after(product_place(in_force.plan, old.vessel), old.ended_at)
        first = product[0] if product else None
        wrong = {one.sentence for one in _wrong(first, before, in_force)} if first else set()
        a.write(row, observed_at=row.started_at)
        after = _around(row, old, in_force)
        found = [] if void else joined.of_wash(row, after, in_force)
        _follow(a, [one for one in found if one.sentence not in known], row, after, in_force)
        if first is not None:
            worse = [one for one in _wrong(first, after, in_force) if one.sentence not in wrong]
            follow_product(a, worse, row, in_force, [one.row for one in product])
    return row


def _around(row: Wash, old: Wash, in_force: InForce) -> History:
    """What the book tells of both washes' places, and of what pipes join them to."""
    plan = in_force.plan
    places = [*joined.places_of(plan, row.vessel), *joined.places_of(plan, old.vessel)]
    places += [product_place(plan, one.vessel) for one in (row, old)]
    return history_at(in_force, min(row.started_at, old.started_at), list(dict.fromkeys(places)))


def _wrong(told: Told, history: History, in_force: InForce) -> list[Finding]:
    return about_movement(told.row, told.ended_at, history.without(told.row.number), in_force, {})


def wash_did_not_happen(by: Actor, number: int, form_id: UUID) -> PlantEvent:
    """Say that the wash which was said to begin (entry `number`) did not happen; the place is as it was before.

    Refused where a wash was recorded since: that one is amended. Said twice, it stands once.
    """
    now = clock.now()
    in_force = plan_at(now)
    with act(by) as a:
        begun = PlantEvent.objects.filter(number=number, event=choices.WASH_BEGUN).first()
        if begun is None:
            raise Refused(_("No wash was said to begin by this entry."))
        saved = PlantEvent.objects.filter(event=choices.WASH_NOT_DONE, reference=str(number)).first()
        if saved is not None:
            return saved
        history = history_at(in_force, begun.observed_at, [begun.subject])
        last = wash_begun(history, begun.subject, now)
        if last is None or last.number != number:
            raise Refused(_("Something is recorded of this place since: amend that, if it is wrong."))
        row = PlantEvent(
            form_id=form_id,
            event=choices.WASH_NOT_DONE,
            subject=begun.subject,
            subject_name=name_of(in_force, begun.subject),
            reference=str(number),
        )
        return a.write(row)


def begin_wash(by: Actor, vessel: str, form_id: UUID, *, parted: bool = False) -> PlantEvent:
    """Say that the wash of a vessel or line begins now: until it is recorded, the vessel is 'being washed'.

    Refused while a pipe of the plan joins it to product, unless the two are seen `parted`; that is kept as the event's
    reference.
    """
    now = clock.now()
    in_force = plan_at(now)
    if vessel not in dict(choices.washable(in_force.plan)):
        raise Refused(_("The plan knows no such vessel or line."), "vessel")
    row = PlantEvent(
        form_id=form_id,
        event=choices.WASH_BEGUN,
        subject=vessel,
        subject_name=name_of(in_force, vessel),
        reference=joined.YES if parted else "",
    )
    with act(by) as a:
        saved = PlantEvent.objects.filter(form_id=form_id).first()
        if saved is not None:
            return same_or_different(saved, row, ("event", "subject", "reference"), by)
        history = history_at(in_force, now, joined.places_of(in_force.plan, vessel))
        if history.book.contents(vessel, now).holds:
            words = {"vessel": row.subject_name}
            sentence = _("%(vessel)s holds product by the book. Record what left it, or the level seen, first.")
            raise Refused(sentence % words)
        why = "" if parted else joined.why_not_begin(vessel, now, history, in_force)
        if why:
            raise Refused(why, "parted")
        return a.write(row)
