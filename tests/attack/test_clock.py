"""The machine's clock set a year ahead, and back: nothing is hidden by what was written while it was wrong."""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest

from records.checks import queries as checks
from records.checks import watch
from records.checks.actions import write_note
from records.checks.models import Reading, Transition
from records.deviations import holds, queries
from records.deviations.models import Deviation, DeviationCause, Hold, Outage
from records.flow.queries import held_lots_at
from records.ledger.actions import WATCH, act
from records.ledger.verify import verify
from records.lots.models import Lot
from records.people import outbox
from records.people.components import check_password
from records.people.models import FailedAttempt, Notice
from records.people.refused import Refused
from records.review import actions as review
from tests.conftest import Plant
from tests.factories import PASSWORD
from tests.records.reports.made import DAY, at, fill, live, wash

YEAR = timedelta(days=365)


@pytest.fixture
def ahead(plant: Plant) -> Plant:
    """Milk in the silo; the watch looked, and a minute later the clock stands a year ahead."""
    plant.at(at(0.1))
    wash(plant, "silo-a", 0.1)
    plant.at(at(1))
    fill(plant)
    watch.look()
    plant.clock.on(minutes=1)
    plant.clock.on(days=365)
    return plant


def set_back(plant: Plant) -> None:
    """Somebody sees it, a minute later."""
    plant.clock.on(minutes=1)
    plant.clock.on(days=-365)


def test_year_ahead_is_one_outage_and_two_days_of_checks(ahead: Plant) -> None:
    """The watch cannot know that it is the clock: one outage, one deviation, and no more checks than two days have."""
    before = Transition.objects.count()
    watch.look()
    expected = checks.due_between(ahead.clock() - checks.ORDINARY_REACH, ahead.clock(), ahead.clock())
    assert Outage.objects.count() == 1 and Deviation.objects.filter(cause="outage").count() == 1
    assert 0 < Transition.objects.count() - before <= 2 * len(expected)
    again = Transition.objects.count()
    ahead.clock.on(minutes=1)
    watch.look()
    assert Transition.objects.count() == again and verify().good


def test_outage_written_ahead_does_not_swallow_what_is_missed_afterwards(ahead: Plant) -> None:
    """It ends in a year. What is missed in the hours after the clock is right opens a deviation of its own."""
    watch.look()
    (outage,) = Outage.objects.all()
    under = DeviationCause.objects.filter(deviation=outage.deviation).count()
    set_back(ahead)
    last = Deviation.objects.order_by("-number").first()
    assert last is not None
    for _ in range(60):
        ahead.clock.on(minutes=10)
        watch.look()
    assert DeviationCause.objects.filter(deviation=outage.deviation).count() == under
    missed = Deviation.objects.filter(number__gt=last.number, cause="missed")
    assert [one.subject for one in missed] == ["silo-a"]


def test_hold_placed_ahead_holds_when_the_clock_is_right(ahead: Plant) -> None:
    """It is dated later than now: the floor, the lots and the movements know it all the same."""
    lot = Lot.objects.get()
    held = holds.hold_by_hand(
        ahead.actor("wren"), lot=lot.id, lot_label="Silo A", vessel="silo-a", since_at=ahead.clock(), reason="smells"
    )
    watch.look()  # an outage's deviation, dated ahead as well
    set_back(ahead)
    now = ahead.clock()
    assert held.received_at > now + timedelta(days=300)
    assert "smells" in held_lots_at(now)[lot.id]
    assert list(queries.open_holds(now)) == list(Hold.objects.order_by("number"))
    assert list(queries.open_deviations(now)) == list(queries.open_deviations())


def test_day_closed_ahead_is_closed_again_for_what_comes_after(plant: Plant) -> None:
    """What follows by the right clock is a record of the day that came later: a new revision, as ever."""
    live(plant)
    plant.clock.on(days=365)
    first = review.close_day(plant.actor("wren"), DAY)
    plant.clock.on(days=-365)
    assert first.received_at > plant.clock() and review.queries.is_closed(at(1))
    assert review.queries.changed_since(first, plant.clock()) == []
    with pytest.raises(Refused, match="nothing of it has changed"):
        review.close_day(plant.actor("wren"), DAY)
    plant.at(at(20))
    write_note(plant.actor("ines"), Reading.objects.order_by("number")[0], "The lid stood open.", uuid.uuid4())
    plant.at(at(26))
    second = review.close_day(plant.actor("wren"), DAY, "a note was written late")
    assert second.revision == 2 and second.received_at < first.received_at and verify().good


def test_wrong_tries_made_ahead_lock_nobody_out_for_a_year(plant: Plant) -> None:
    """Away from a tablet a lock ends by itself: also when the clock was ahead as it began."""
    plant.clock.on(days=365)
    for _ in range(5):
        check_password(plant.people.wren, "not the password", None)
    assert FailedAttempt.objects.filter(locked=True).count() == 1
    assert not check_password(plant.people.wren, PASSWORD, None)
    plant.clock.on(days=-365)
    assert check_password(plant.people.wren, PASSWORD, None)


def test_notice_claimed_ahead_by_a_sender_that_died_goes_out(plant: Plant) -> None:
    """A claim lasts two minutes, whatever the clock said when it was made."""
    with act(WATCH) as a:
        outbox.put("one", "wren@quillbrook.example", "late", "a check is late", a.now)
    Notice.objects.update(claimed_at=plant.clock() + YEAR)
    assert outbox.send_waiting() == 1


def test_signature_outside_of_the_certificates_time_is_refused_in_words(plant: Plant) -> None:
    """The clock set to a day on which the person's certificate does not hold: a sentence, not a broken page."""
    live(plant)
    review.close_day(plant.actor("wren"), DAY)
    tomas = plant.actor("tomas")
    plant.clock.on(days=4000)
    with pytest.raises(Refused, match=r"could not be signed\. The certificate [0-9a-f]+ holds from"):
        review.sign_sheet(tomas, DAY, review.OPERATOR_IN_CHARGE)
