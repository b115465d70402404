"""Training on the Ready page: what those who hold a role lack. Who works today is not known, so each is named."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from itertools import groupby

from django.urls import reverse
from django.utils.translation import gettext as _

from plant.hazard_plan.words import topic
from plant.people.models import Role
from plant.process.training import Standing
from records.people.plans import InForce
from records.review.ready_lines import AGAINST, UNKNOWN, Ready
from records.training import queries
from records.training.queries import Stand


def add(one: Ready, in_force: InForce, now: datetime) -> None:
    """A line for each training that is overdue, and one for each of which nothing is recorded. Three queries."""
    address = reverse("records:training")
    if not in_force.plan.trainings:
        said = _("Training: the plan in force names none. Who works today has to be trained by your own records.")
        one.add(UNKNOWN, [said], address)
        return
    points = {each.key: each.name for each in in_force.plan.control_points}
    for asked, found in groupby(queries.lacking(now, in_force), key=lambda each: each.asked):
        stands = list(found)
        words = {"topic": topic(asked), "clause": asked.clause}
        place = points.get(asked.control_point, "")
        needed = " " + _("Nobody works without it at: %(place)s.") % {"place": place} if place else ""
        if overdue := [each for each in stands if each.how == Standing.OVERDUE]:
            said = _("Training, %(topic)s: overdue, should they work today: %(people)s (%(clause)s).")
            one.add(AGAINST, [said % {**words, "people": _people(overdue)} + needed], address)
        if missing := [each for each in stands if each.how == Standing.MISSING]:
            said = _("Training, %(topic)s: nothing recorded, should they work today: %(people)s (%(clause)s).")
            one.add(UNKNOWN, [said % {**words, "people": _people(missing)} + needed], address)


def _people(stands: Iterable[Stand]) -> str:
    return "; ".join(_person(one) for one in stands)


def _person(one: Stand) -> str:
    roles = ", ".join(str(Role(role).label) for role in one.roles)
    if one.until is None:
        return f"{one.person.name} ({roles})"
    since = (one.until + timedelta(days=1)).isoformat()
    return _("%(name)s (%(roles)s), since %(day)s") % {"name": one.person.name, "roles": roles, "day": since}
