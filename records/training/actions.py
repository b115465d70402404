"""The act of recording a training, once for each form, and its amendment."""

from __future__ import annotations

from datetime import date
from uuid import UUID

from django.utils.translation import gettext as _

from plant import clock
from plant.hazard_plan.words import topic
from plant.people.models import Person
from records.flow.common import plan_at
from records.flow.errors import Refused
from records.ingredients import keeping
from records.ledger import files
from records.ledger.actions import Actor, act
from records.ledger.models import FileKept
from records.people.plans import InForce
from records.training.data import PROVEN, TrainingData
from records.training.models import PersonTrained, Training

# Before it nobody of today was trained: a slipped digit in the year is caught by it.
EARLIEST = date(1950, 1, 1)
# They come with the moment of recording, not with what is said.
NOT_SAID = frozenset({"observed_at", "plan_number"})


def record(by: Actor, data: TrainingData) -> Training:
    """Keep a training, or the amendment of one. Raises Refused beside the field, DifferentContent.

    With it, in the same act, a row for each person trained. What did not happen has none.
    """
    in_force = plan_at(clock.now())
    old = Training.objects.filter(number=data.amends).first() if data.amends is not None else None
    if data.proven not in PROVEN:
        raise Refused(_("Choose one of the list."), "proven")
    _days(data, in_force.calendar.local(clock.now()).date())
    people = _people(data.people)
    row = Training(
        training=data.training,
        topic=_topic(data, in_force, old),
        people=[{"id": str(one.id), "name": one.name, "initials": one.initials} for one in people],
        trained_on=data.trained_on,
        trainer=keeping.text(data.trainer, "trainer", 120),
        proven=data.proven,
        ends_on=data.ends_on,
        certificate=data.certificate.sha256 if data.certificate else old.certificate if old else "",
        plan_number=in_force.number,
        **keeping.common(data),
    )
    with act(by) as a:
        if data.certificate and not FileKept.objects.filter(sha256=row.certificate).exists():
            files.note(a, row.certificate, data.certificate.name, data.certificate.mime)
        row, fresh = keeping.write(a, by, row, not_said=NOT_SAID)
        for one in people if fresh and not row.void else ():
            beside = PersonTrained(
                training_number=row.number,
                training=row.training,
                person=one.id,
                person_name=one.name,
                trained_on=row.trained_on,
            )
            a.write(beside, observed_at=row.observed_at)
    return row


def _topic(data: TrainingData, in_force: InForce, old: Training | None) -> str:
    if not data.training:
        return keeping.text(data.topic, "topic", 200)
    asked = next((one for one in in_force.plan.trainings if one.key == data.training), None)
    if asked is not None:
        with in_force.speaking():
            return topic(asked)
    if old is not None and old.training == data.training:
        return old.topic  # the plan of today no longer names it
    raise Refused(_("That is not on the list. Choose one of the list."), "training")


def _days(data: TrainingData, today: date) -> None:
    if data.trained_on > today:
        raise Refused(_("This day is still to come. A training is recorded when it was held."), "trained_on")
    if data.trained_on < EARLIEST:
        raise Refused(_("Nobody here was trained so long ago. Look at the year."), "trained_on")
    if data.ends_on is not None and data.ends_on < data.trained_on:
        raise Refused(_("This is before the training."), "ends_on")
    if data.ends_on is not None and data.ends_on.year > today.year + 100:
        raise Refused(_("Nothing counts so long. Look at the year."), "ends_on")


def _people(said: tuple[UUID, ...]) -> list[Person]:
    found = list(Person.objects.filter(id__in=said).order_by("name", "id"))
    if not said:
        raise Refused(_("Tick at least one person."), "people")
    if len(found) != len(set(said)):
        raise Refused(_("Somebody of these is not in the book. Choose from the list."), "people")
    return found
