"""What the watch tells somebody of once: a transition under a key of its own, and the notice that goes with it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from django.utils.translation import gettext as _

from plant import clock
from plant.people.models import Person
from records.checks.models import Transition, WatchState
from records.ledger.actions import Act
from records.people import outbox
from records.people.plans import InForce

SUPERVISOR = "supervisor"


def answers_from() -> datetime | None:
    """Since when the watch answers for this plant: what was over before is nobody's news. None: from the beginning."""
    state = WatchState.objects.filter(only=1).first()
    return state.answers_from if state is not None else None


def first_day(in_force: InForce) -> date | None:
    """As answers_from, as the plant's day."""
    since = answers_from()
    return in_force.calendar.local(since).date() if since is not None else None


def told_of(keys: Iterable[str]) -> set[str]:
    """Those of these keys that somebody was told of. One query."""
    return set(Transition.objects.filter(key__in=list(keys)).values_list("key", flat=True))


def write_told(
    a: Act, in_force: InForce, key: str, sentence: str, *, subject: str, subject_name: str, due_at: datetime,
    role: str = SUPERVISOR, monitoring_key: str = "",
) -> None:  # fmt: skip
    """That a role is told of it, within the caller's act."""
    a.write(
        Transition(
            key=key,
            what="told",
            monitoring_key=monitoring_key,
            subject=subject,
            subject_name=subject_name,
            due_at=due_at,
            plan_number=in_force.number,
            sentence=_("%(role)s told: %(sentence)s") % {"role": _(role), "sentence": sentence},
        )
    )


def put_notice(a: Act, in_force: InForce, key: str, sentence: str, *roles: str) -> None:
    """The mail that says it, where somebody in these roles (none: a supervisor) has an address. Within an act."""
    if to := sorted({one for role in roles or (SUPERVISOR,) for one in addresses(role)}):
        plant = in_force.plan.plant.name
        body = _("%(sentence)s\n\nRecorded in the daybook of %(plant)s. Open it to answer.") % {
            "sentence": sentence, "plant": plant,
        }  # fmt: skip
        outbox.put(key, ", ".join(to), f"{plant}: {sentence}", body, a.now)


def addresses(role: str) -> list[str]:
    """The e-mail addresses of the active people who hold a role now."""
    now = clock.now()
    people = Person.objects.filter(is_active=True).exclude(email="").prefetch_related("held_roles")
    return sorted(one.email for one in people if role in one.roles_at(now))
