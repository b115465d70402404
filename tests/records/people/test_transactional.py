"""What only shows with real commits: two at once, and a database emptied between tests although records refuse it."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

import pytest
from django.core import mail
from django.db import connection, connections

from records.ledger import triggers
from records.ledger.models import Entry
from records.people import credentials, lockouts, outbox, tablets
from records.people.models import AccountAct, FailedAttempt, PlanApproval
from records.people.plan_actions import OWNER_SIGNS, QUALIFIED_SIGNS, sign_plan
from records.people.refused import Refused
from tests.conftest import NOW, Plant
from tests.factories import small_plan

pytestmark = pytest.mark.django_db(transaction=True)


def at_once(*works: Callable[[], Any]) -> list[Any]:
    """Run each in a thread of its own, started together; gives results or the errors, in order."""
    done: list[Any] = [None] * len(works)
    gate = threading.Barrier(len(works))

    def run(at: int, work: Callable[[], Any]) -> None:
        try:
            gate.wait(10)
            done[at] = work()
        except Exception as error:
            done[at] = error
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run, args=(at, work)) for at, work in enumerate(works)]
    for one in threads:
        one.start()
    for one in threads:
        one.join(60)
    return done


@pytest.mark.parametrize("again", [1, 2])
def test_emptied_database_has_every_trigger_again(plant: Plant, again: int) -> None:
    """The first run's rows are gone in the second, and records are guarded as before."""
    assert triggers.missing(connection) == []
    assert Entry.objects.filter(kind="installation").count() == 1
    FailedAttempt.objects.all().exists()
    lockouts.write_failure(plant.people.ines, plant.tablet, "PIN")
    assert FailedAttempt.objects.count() == 1


def test_ten_wrong_pins_at_once_lock_once(plant: Plant) -> None:
    """However they race: five are kept, the fifth locks, the others change nothing."""
    at_once(*[lambda: lockouts.write_failure(plant.people.ines, plant.tablet, "PIN")] * 10)
    assert [one.locked for one in FailedAttempt.objects.all()] == [False] * 4 + [True]


def test_two_tablets_of_one_name_at_once_become_one(plant: Plant) -> None:
    """One is enrolled, the other refused in a sentence."""
    done = at_once(*[lambda: tablets.enrol_tablet(plant.actor("admin"), "Tablet 2")] * 2)
    assert sorted(type(one).__name__ for one in done) == ["Refused", "tuple"]


def test_link_used_twice_at_once_sets_one_pin(plant: Plant) -> None:
    """It works once."""
    token = credentials.reset_pin(plant.actor("admin"), plant.people.ines, "forgotten")
    done = at_once(lambda: credentials.use_link(token, "739154"), lambda: credentials.use_link(token, "915473"))
    assert sum(isinstance(one, Refused) for one in done) == 1
    assert AccountAct.objects.filter(person_id=plant.people.ines.id, detail="through a link").count() == 1


def test_both_signatures_at_once_approve_once(plant: Plant) -> None:
    """Whoever comes second approves; there is one approval."""
    from plant.hazard_plan.written import store

    draft = store(small_plan(title="Quillbrook, second"), plant.people.odile, NOW)
    at_once(
        lambda: sign_plan(plant.actor("odile"), draft, QUALIFIED_SIGNS),
        lambda: sign_plan(plant.actor("hanne"), draft, OWNER_SIGNS),
    )
    assert PlanApproval.objects.filter(version_id=draft.id).count() == 1


def test_two_senders_mail_each_notice_once(plant: Plant) -> None:
    """Two watches at the outbox: nothing goes out twice while neither crashes."""
    for at in range(20):
        outbox.put(f"m-{at}", "wren@quillbrook.example", f"Notice {at}", "x", NOW)
    sent = at_once(outbox.send_waiting, outbox.send_waiting)
    assert sum(sent) == 20 == len({one.subject for one in mail.outbox}) == len(mail.outbox)
