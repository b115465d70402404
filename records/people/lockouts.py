"""Wrong PINs and passwords: counted, and when they lock a person on a tablet."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.utils.translation import gettext, override

from plant.people.models import Person, Role, Tablet
from records.ledger.actions import Act, Actor, act
from records.people import outbox
from records.people.models import AccountAct, FailedAttempt
from records.people.queries import holders

TRIES = 5
WITHIN = timedelta(minutes=10)
# Names that nobody has: so many in ten minutes are kept, or a stranger could fill the ledger.
STRANGERS_KEPT = 20


def is_locked(person: Person, tablet: Tablet | None, now: datetime) -> bool:
    """Whether five wrong ones locked this person there.

    On a tablet until a supervisor unlocks. Away from tablets for ten minutes: there anybody on the network could
    otherwise keep the only supervisor out for good.
    """
    place = tablet.id if tablet else None
    locks = FailedAttempt.objects.filter(person_id=person.id, tablet_id=place, locked=True)
    if tablet is None:
        locks = locks.filter(received_at__range=_lately(now))
    last = locks.order_by("-number").values_list("number", flat=True).first()
    if last is None:
        return False
    unlocked = AccountAct.objects.filter(person_id=person.id, what="unlocked", detail=str(place or ""))
    return not unlocked.filter(number__gt=last).exists()


def write_failure(person: Person | None, tablet: Tablet | None, component: str) -> FailedAttempt | None:
    """The record of a wrong PIN or password; the fifth within ten minutes locks.

    None, and nothing written: while locked, and for strangers once STRANGERS_KEPT are kept.
    """
    by = Actor(name="someone at the door", role="unknown", tablet=tablet.name if tablet else "")
    place = tablet.id if tablet else None
    with act(by) as a:
        recent = FailedAttempt.objects.filter(received_at__range=_lately(a.now))
        if person is None:
            # What was typed is not kept: people type a password where the name belongs.
            if recent.filter(person_id=None).count() >= STRANGERS_KEPT:
                return None
            return a.write(FailedAttempt(tablet_id=place, component=component))
        if is_locked(person, tablet, a.now):
            return None
        before = recent.filter(person_id=person.id, tablet_id=place, number__gt=_counted_from(person, tablet)).count()
        row = FailedAttempt(
            person_id=person.id,
            person_name=person.name,
            tablet_id=place,
            component=component,
            locked=before + 1 >= TRIES,
        )
        a.write(row)
        if row.locked:
            _tell(a, person, tablet, row)
        return row


def _tell(a: Act, person: Person, tablet: Tablet | None, row: FailedAttempt) -> None:
    """Wrong tries that lock are reported at once (21 CFR 11.300(d))."""
    for one in holders(Role.SUPERVISOR, a.now):
        if not one.email:
            continue
        with override(one.language):
            place = tablet.name if tablet else gettext("a browser that is no tablet")
            outbox.put(
                f"locked-{row.number}-{one.id}",
                one.email,
                gettext("Five wrong tries: %(name)s is locked") % {"name": person.name},
                gettext(
                    "Five wrong PINs or passwords were given for %(name)s on %(place)s within ten minutes "
                    "(ledger entry %(number)s). Ask %(name)s whether it was them before you unlock."
                )
                % {"name": person.name, "place": place, "number": row.number},
                a.now,
            )


def _lately(now: datetime) -> tuple[datetime, datetime]:
    # Bounded ahead too: what was written while the clock ran ahead would else lock people out until that time comes.
    return now - WITHIN, now + WITHIN


def _counted_from(person: Person, tablet: Tablet | None) -> int:
    """The last lock or unlocking: what lies before it has had its consequence."""
    place = tablet.id if tablet else None
    lock = FailedAttempt.objects.filter(person_id=person.id, tablet_id=place, locked=True).order_by("-number").first()
    unlocked = AccountAct.objects.filter(person_id=person.id, what="unlocked", detail=str(place or ""))
    freed = unlocked.order_by("-number").first()
    return max(lock.number if lock else 0, freed.number if freed else 0)
