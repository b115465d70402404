"""Trainings that became overdue: a supervisor is told of each once, when its last day is over.

Nothing here takes anybody off their work: the supervisor decides who does what.
"""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from itertools import groupby

from django.utils.translation import gettext as _

from plant import clock
from plant.hazard_plan.words import topic
from plant.process.training import Standing
from records.checks.told_once import first_day, put_notice, told_of, write_told
from records.ledger.actions import WATCH, act
from records.people.plans import InForce, plan_in_force
from records.training.models import Training
from records.training.queries import Stand, lacking

Together = tuple[str, date]  # one training with one last day


def look() -> int:
    """Put a notice for those that the watch answers for; counts the people that this pass, and no other, told of."""
    now = clock.now()
    in_force = plan_in_force(now)
    if in_force is None:
        return 0
    began = first_day(in_force)
    wanted = [one for one in overdue(now, in_force) if began is None or _last_day(one) >= began]
    known = told_of(_key(one) for one in wanted)
    new = sorted((one for one in wanted if _key(one) not in known), key=_together)
    with in_force.speaking():
        return sum(_tell(list(those), in_force) for _same, those in groupby(new, key=_together))


def overdue(now: datetime, in_force: InForce) -> list[Stand]:
    """What is overdue of those of whom the plan asks it. What was never recorded became due at no known moment."""
    return [one for one in lacking(now, in_force) if one.how == Standing.OVERDUE]


def _together(one: Stand) -> Together:
    return one.asked.key, _last_day(one)


def _last_day(one: Stand) -> date:
    assert one.until is not None  # it is overdue
    return one.until


def _key(one: Stand) -> str:
    return f"told|training|{one.person.id}|{one.asked.key}|{_last_day(one).isoformat()}"


def _tell(stands: list[Stand], in_force: InForce) -> int:
    """A transition for each person, one notice for those of one training and one last day."""
    with act(WATCH) as a:
        # Amended, or told of by another pass, since it was read.
        known = told_of(_key(one) for one in stands)
        later = Training.objects.filter(amends__in=[one.last.number for one in stands if one.last])
        gone = set(later.values_list("amends", flat=True))
        new = [one for one in stands if _key(one) not in known and one.last and one.last.number not in gone]
        for one in new:
            write_told(
                a, in_force, _key(one), _sentence([one]), subject=str(one.person.id), subject_name=one.person.name,
                due_at=in_force.calendar.utc(_last_day(one) + timedelta(days=1), time()),
            )  # fmt: skip
        if new:
            put_notice(a, in_force, _key(new[0]), _sentence(new))
    return len(new)


def _sentence(stands: list[Stand]) -> str:
    first = stands[0]
    return _("Training, %(topic)s: it counted until %(day)s, now over, for %(people)s (%(clause)s).") % {
        "topic": topic(first.asked), "day": _last_day(first).isoformat(), "clause": first.asked.clause,
        "people": ", ".join(one.person.name for one in stands),
    }  # fmt: skip
