"""What every act on a run does: the row in its run, within its time, once for its form; amending."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TypeVar
from uuid import UUID

from django.utils.translation import gettext as _

from plant.hazard_plan.content import ProductDef
from records.checks.consequences import hold_what_it_reaches
from records.deviations.actions import Cause, open_or_extend
from records.deviations.errors import Refused
from records.deviations.models import Deviation
from records.flow.actions import may_amend
from records.flow.choices import product_of
from records.flow.closed_days import is_closed
from records.flow.common import not_ahead, plan_at, same_or_different
from records.ledger.actions import Act, Actor
from records.people.plans import InForce
from records.run_rows.models import ENDED, OPENED, RunRow
from records.run_rows.queries import AFTER_THE_END, Run, run_of

R = TypeVar("R", bound=RunRow)
# What two submissions of one form have to say alike, beside what each kind of run adds.
SAID = (
    "run", "place", "what", "happened_at", "product", "movement", "words", "amends", "amend_reason", "void",
)  # fmt: skip


def found(model: type[R], number: int) -> Run[R]:
    """The run of a number; Refused where there is none."""
    run = run_of(model, number)
    if run is None:
        raise Refused(_("There is no such run."))
    return run


def new_row(
    model: type[R], run: int | None, place: str, what: str, happened_at: datetime, form_id: UUID, in_force: InForce
) -> R:
    """A row of a run, not yet written; `run` None: the one that begins it."""
    return model(
        form_id=form_id,
        run=run,
        place=place,
        place_name=in_force.names.get(place, place),
        what=what,
        happened_at=happened_at,
    )


def product_named(code: str, in_force: InForce) -> ProductDef:
    """The product of a code; Refused beside its field."""
    product = product_of(in_force, code)
    if product is None:
        raise Refused(_("The plan knows no such product."), "product")
    return product


def saved_before(by: Actor, row: R, said: Sequence[str]) -> R | None:
    """The row that the same form saved; DifferentContent where it says something else now. Inside `act`."""
    saved: R | None = type(row)._default_manager.filter(by_id=by.person_id, form_id=row.form_id).first()
    return None if saved is None else same_or_different(saved, row, said, by)


def in_its_time(run: Run[R], row: R) -> None:
    """A row lies within its run: after the beginning, and only notes after the end."""
    if row.happened_at < run.first.happened_at:
        raise Refused(_("This is before this run was begun."), "happened_at")
    ended = run.ended_at
    if ended is not None and row.what not in AFTER_THE_END and (row.what == ENDED or row.happened_at >= ended):
        raise Refused(_("This run is recorded as ended."), "happened_at")
    later = [one for one in run.events if one.happened_at > row.happened_at and one.what not in AFTER_THE_END]
    if row.what == ENDED and later:
        raise Refused(_("Something happened in this run after that time."), "happened_at")


def why_not(by: Actor, row: RunRow) -> str:
    """Empty when the person may amend this row, else the sentence that says who may."""
    return may_amend(by, row, is_closed(plan_at(row.observed_at).calendar.plant_day(row.observed_at)))


def successor(
    model: type[R], number: int, form_id: UUID, happened_at: datetime, reason: str, *, void: bool, copied: Sequence[str]
) -> tuple[R, R]:
    """The row that is amended, and its unsaved successor with the same content. Raises Refused."""
    old = model._default_manager.filter(number=number).first()
    if old is None:
        raise Refused(_("There is no such event."))
    if old.movement is not None:
        raise Refused(_("Product, its times and its amount stand in the movement: amend that."))
    if not reason.strip():
        raise Refused(_("Write a few words here."), "reason")
    not_ahead(happened_at, "happened_at")
    row = model(**{name: getattr(old, name) for name in copied})
    row.form_id, row.amends, row.amend_reason, row.void = form_id, old.number, reason.strip(), void
    row.run = old.run or old.number
    row.happened_at = old.happened_at if void else happened_at
    return old, row


def may_replace(by: Actor, old: R, *, void: bool) -> None:
    """Refused where another has to amend, where it was amended already, and where a run would lose its beginning."""
    if (refusal := why_not(by, old)) or type(old)._default_manager.filter(amends=old.number).exists():
        raise Refused(refusal or _("It was amended already: amend the latest."))
    run = run_of(type(old), old.run or old.number)
    if void and old.what == OPENED and run is not None and len(run.events) > 1:
        raise Refused(_("Something happened in this run. Say first that it did not."))


def stands_against(
    a: Act,
    row: RunRow,
    point: str,
    sentence: str,
    in_force: InForce,
    since: datetime,
    until: datetime,
    cause: str = "legal rule",
) -> Deviation:
    """A deviation at a control point with this row among its causes, and a hold on what it reaches from then on."""
    deviation, _opened = open_or_extend(
        a,
        in_force=in_force,
        control_point=point,
        subject=row.place,
        cause=cause,
        found=Cause(type(row).KIND, row.number, row.happened_at, sentence),
        since_at=since,
    )
    place = next((one for one in in_force.plan.control_points if one.key == point), None)
    if place is not None:
        hold_what_it_reaches(a, deviation, place, row.place, since, max(until, since))
    return deviation

