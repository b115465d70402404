"""Who was trained in what last, and how that stands today. A few queries, whatever the past holds."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet, Subquery

from plant.hazard_plan.content import TrainingDef
from plant.people.models import Person, Role
from plant.process.training import Standing, last_day, standing
from records.ingredients.keeping import standing as of_those
from records.people.plans import InForce
from records.training.models import PersonTrained, Training

LACKING = (Standing.OVERDUE, Standing.MISSING)


@dataclass(frozen=True, slots=True)
class Stand:
    """One person and one training of the plan. `roles`: those held now of which the plan asks it; none: not asked.

    `last`: the latest that stands, `until` its last day (None: without end, or there is none).
    """

    person: Person
    asked: TrainingDef
    roles: tuple[str, ...]
    last: Training | None
    until: date | None
    how: Standing

    @property
    def lacks(self) -> bool:
        """Whether it is asked of the person and is overdue, or nothing is recorded."""
        return bool(self.roles) and self.how in LACKING


def staff(now: datetime) -> QuerySet[Person]:
    """The people of the book who have not left; a guest whose account has ended is none of them."""
    there = Person.objects.filter(Q(expires_at__isnull=True) | Q(expires_at__gt=now), is_active=True)
    return there.prefetch_related("held_roles").order_by("name", "id")


def trained_here(person: Person, now: datetime) -> bool:
    """Whether the plant trains the person: holds a role other than the inspector's."""
    return bool(person.roles_at(now) - {Role.INSPECTOR.value})


def stands(now: datetime, in_force: InForce, person: Person | None = None) -> list[list[Stand]]:
    """For each person of the book, by name, how every training of the plan stands today. Three queries."""
    asked = in_force.plan.trainings
    today = in_force.calendar.local(now).date()
    rows: Any = staff(now).annotate(**{f"last_{at}": _last(one.key) for at, one in enumerate(asked)})
    people = [one for one in (rows.filter(id=person.id) if person else rows) if trained_here(one, now)]
    numbers = {getattr(one, f"last_{at}") for one in people for at in range(len(asked))} - {None}
    trainings = Training.objects.in_bulk(list(numbers), field_name="number") if numbers else {}
    return [
        [
            _stand(one, each, trainings.get(getattr(one, f"last_{at}")), now, today)
            for at, each in enumerate(asked)
        ]
        for one in people
    ]  # fmt: skip


def lacking(now: datetime, in_force: InForce) -> list[Stand]:
    """What is overdue or not recorded of those of whom the plan asks it, training by training."""
    every = [one for row in stands(now, in_force) for one in row if one.lacks]
    order = {one.key: at for at, one in enumerate(in_force.plan.trainings)}
    return sorted(every, key=lambda one: (order[one.asked.key], one.person.name))


def _last(key: str) -> Subquery:
    """The number of a person's latest training that stands: one look into an index for each person."""
    later = Training.objects.filter(amends=OuterRef("training_number"))
    void = Training.objects.filter(number=OuterRef("training_number"), void=True)
    rows = PersonTrained.objects.filter(~Exists(later), ~Exists(void), person=OuterRef("id"), training=key)
    return Subquery(rows.order_by("-trained_on", "-number").values("training_number")[:1])


def _stand(person: Person, asked: TrainingDef, last: Training | None, now: datetime, today: date) -> Stand:
    roles = tuple(sorted(person.roles_at(now) & set(asked.roles)))
    if last is None:
        return Stand(person, asked, roles, None, None, Standing.MISSING)
    until = last_day(last.trained_on, asked.every_months, last.ends_on)
    return Stand(person, asked, roles, last, until, standing(until, today))


def of_person(person: Person, most: int) -> list[Training]:
    """The person's trainings that stand, those of the plan and others, the latest first."""
    numbers = PersonTrained.objects.filter(person=person.id).order_by("-trained_on", "-number")
    found = Training.objects.filter(number__in=list(numbers.values_list("training_number", flat=True)[: 2 * most]))
    return list(of_those(found).order_by("-trained_on", "-number")[:most])


def lately(most: int) -> list[Training]:
    """What was recorded last, and stands."""
    return list(of_those(Training.objects.all()).order_by("-number")[:most])
