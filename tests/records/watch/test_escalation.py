"""Who is told of what, when, and once."""

from __future__ import annotations

from datetime import timedelta

from records.checks import escalation
from records.checks.models import Transition
from records.people.models import Notice
from tests.conftest import NOW, Plant
from tests.records.watch.conftest import walk


def test_a_missed_check_is_told_to_the_supervisor_once(milk: Plant) -> None:
    """The plan says: missed, at once, supervisor. One notice each, however often the watch looks."""
    walk(milk, NOW + timedelta(hours=4))
    escalation.escalate()
    notices = list(Notice.objects.filter(message_id__startswith="told|missed"))
    assert len(notices) == Transition.objects.filter(what="missed").count() > 0
    assert {one.to for one in notices} == {"wren@quillbrook.example"}
    escalation.escalate()
    assert Notice.objects.filter(message_id__startswith="told|missed").count() == len(notices)


def test_a_late_check_is_told_to_the_shift_after_its_minutes(milk: Plant) -> None:
    """Fifteen minutes late: not a minute before."""
    walk(milk, NOW + timedelta(hours=1, minutes=1))
    escalation.escalate()
    assert not Notice.objects.filter(message_id__startswith="told|late").exists()
    milk.at(NOW + timedelta(hours=1, minutes=16))
    escalation.escalate()
    told = Notice.objects.filter(message_id__startswith="told|late")
    assert told and "ines@quillbrook.example" in told[0].to
