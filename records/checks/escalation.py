"""Who must hear of what is late, missed or open, and when: notices put into the outbox exactly once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils.translation import gettext as _

from plant import clock
from records.checks import queries
from records.checks.models import Transition, WatchState
from records.checks.told_once import put_notice, told_of, write_told
from records.deviations.queries import open_deviations
from records.ledger.actions import WATCH, act
from records.people.plans import InForce, plan_in_force

# Older transitions have been told of long since; a watch that was away tells of the last two days.
LOOK_BACK = timedelta(days=2)


@dataclass(frozen=True, slots=True)
class Tell:
    """One thing to tell one role of, from `since_at` on."""

    what: str
    number: int
    role: str
    since_at: datetime
    subject: str
    subject_name: str
    monitoring_key: str
    sentence: str
    check: str = ""  # the key of a late check: once answered, nobody is told that it is late


def escalate() -> Counter[str]:
    """Put the notices that the plan asks for by now; counts what this call wrote."""
    now = clock.now()
    in_force = plan_in_force(now)
    done: Counter[str] = Counter()
    if in_force is None:
        return done
    with in_force.speaking():
        wanted = [one for one in _wanted(in_force, now) if one.since_at <= now]
        standing = told_of(_key(one) for one in wanted)
        untold = [one for one in wanted if _key(one) not in standing]
        # What has been answered by now is asked only where somebody would be told that it is late.
        answered = _answered(now) if any(one.what == "late" for one in untold) else frozenset()
        for one in untold:
            if one.check not in answered and _tell(one, in_force):
                done["told"] += 1
    return done


def _key(one: Tell) -> str:
    return f"told|{one.what}|{one.number}|{one.role}"


def _wanted(in_force: InForce, now: datetime) -> Iterator[Tell]:
    state = WatchState.objects.filter(only=1).first()
    since = max(now - LOOK_BACK, state.answers_from) if state else now - LOOK_BACK
    told = list(Transition.objects.filter(what__in=("late", "missed"), observed_at__gte=since).order_by("number"))
    for rule in in_force.plan.escalation:
        wait = timedelta(minutes=rule.minutes)
        if rule.what == "deviation":
            for deviation in open_deviations():
                yield Tell(
                    rule.what,
                    deviation.number,
                    rule.role,
                    deviation.received_at + wait,
                    deviation.subject,
                    deviation.subject_name,
                    "",
                    f"{_('Deviation')} {deviation.number}. {deviation.sentence}",
                )
            continue
        for row in told:
            if row.what != rule.what:
                continue
            yield Tell(
                rule.what,
                row.number,
                rule.role,
                row.observed_at + wait,
                row.subject,
                row.subject_name,
                row.monitoring_key,
                row.sentence,
                row.key.partition("|")[2] if row.what == "late" else "",
            )


def _answered(now: datetime) -> frozenset[str]:
    return frozenset(one.key for one in queries.unsettled(now) if one.reading is not None)


def _tell(one: Tell, in_force: InForce) -> bool:
    key = _key(one)
    with act(WATCH) as a:
        if told_of([key]):
            return False
        write_told(
            a, in_force, key, one.sentence, subject=one.subject, subject_name=one.subject_name, due_at=one.since_at,
            role=one.role, monitoring_key=one.monitoring_key,
        )  # fmt: skip
        put_notice(a, in_force, key, one.sentence, one.role)
        return True
