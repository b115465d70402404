"""A retained sample whose keeping ends: a line on the page of samples, and one notice, at the end of its last day."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from plant import clock
from records import tasks
from records.checks import watch
from records.checks.models import Transition
from records.laboratory import retained
from records.laboratory.actions import take
from records.laboratory.models import Sample
from records.people.models import Notice
from records.people.plans import plan_in_force
from tests.conftest import NOW, Plant
from tests.records.laboratory.made import HOUR, of_lot
from tests.records.laboratory.test_results import ines  # noqa: F401 a fixture

pytestmark = pytest.mark.django_db
LAST = NOW.date() + timedelta(days=3)  # the last day of keeping


def kept(by: Any, **changes: Any) -> Sample:
    """A bottle of WM 1 in the cooler until its last day, or what a test changes."""
    own = {"kind": "retained", "tests": (), "kept_where": "Cooler, shelf 2", "kept_until": LAST, "temperature": "",
           "temperature_unit": "", "sent_to": "", "code": "R 1"}  # fmt: skip
    return take(by, of_lot("WM 1", **{**own, **changes}))


def midnight() -> datetime:
    """The end of the last day on the plant's clocks."""
    in_force = plan_in_force(clock.now())
    assert in_force is not None
    return in_force.calendar.utc(LAST + timedelta(days=1), datetime.min.time())


def told() -> list[tuple[str, str]]:
    """What the watch wrote, and the notice of it."""
    rows = Transition.objects.filter(key__startswith="told|retained sample|").order_by("number")
    notices = {one.message_id: one.subject for one in Notice.objects.filter(message_id__startswith="told|retained")}
    return [(one.sentence, notices.pop(one.key)) for one in rows] if len(notices) == rows.count() else []


def test_it_is_told_of_once_when_its_last_day_is_over(
    ines: Any, plant: Plant, client_for: Any  # noqa: F811
) -> None:
    """Not a second before midnight of the plant; then once, however often the watch looks; listed beside."""
    watch.begin_at(NOW)
    kept(ines)
    client: Client = client_for(plant.people.ines)
    plant.at(midnight() - timedelta(seconds=1))
    assert tasks.look_at_samples() == 0
    assert "keeping has ended" not in client.get(reverse("records:samples")).content.decode()
    plant.at(midnight())
    assert [tasks.look_at_samples() for _again in range(3)] == [1, 0, 0]
    ((sentence, subject),) = told()
    assert f"R 1, Whole milk WM 1: to be kept until {LAST}" in sentence and "shelf 2" in sentence
    # WM 1 waits for its results: the sample is needed still.
    assert "on hold: keep the sample until that is decided" in sentence and "R 1" in subject
    page = client.get(reverse("records:samples")).content.decode()
    assert "Retained samples whose keeping has ended" in page and "its lot is on hold: keep it" in page
    plant.at(midnight() + 31 * 24 * HOUR)
    assert "keeping has ended" not in client.get(reverse("records:samples")).content.decode()
    assert tasks.look_at_samples() == 0 and len(told()) == 1


def test_a_longer_keeping_is_told_of_at_its_own_end_and_one_that_did_not_happen_never(
    ines: Any, plant: Plant  # noqa: F811
) -> None:
    """Amended before its end: nothing at the old one. Two others: void, and amended after it was told of."""
    watch.begin_at(NOW)
    first, gone = kept(ines), kept(ines, code="R 2")
    later = {"amends": first.number, "amend_reason": "a complaint", "kept_until": LAST + timedelta(days=2)}
    kept(ines, form_id=uuid.uuid4(), **later)
    kept(ines, form_id=uuid.uuid4(), code="R 2", amends=gone.number, amend_reason="another bottle", void=True)
    plant.at(midnight())
    assert tasks.look_at_samples() == 0
    plant.at(midnight() + 48 * HOUR)
    assert tasks.look_at_samples() == 1 and f"until {LAST + timedelta(days=2)}" in told()[0][0]
    assert tasks.look_at_samples() == 0


def test_two_watches_at_once_tell_once(ines: Any, plant: Plant) -> None:  # noqa: F811
    """The second pass read its list before the first wrote: the act itself looks again."""
    watch.begin_at(NOW)
    kept(ines)
    plant.at(midnight())
    in_force = plan_in_force(clock.now())
    assert in_force is not None
    (one,) = retained.ended(clock.now(), in_force)
    assert retained.look() == 1
    assert retained._tell(one, in_force) is False and len(told()) == 1


def test_what_ended_before_the_watch_began_is_listed_and_not_told(ines: Any, plant: Plant) -> None:  # noqa: F811
    """A restored copy does not tell again of last month."""
    kept(ines)
    plant.at(midnight() + 24 * HOUR)
    watch.begin_at(clock.now())
    assert tasks.look_at_samples() == 0
    in_force = plan_in_force(clock.now())
    assert in_force is not None and len(retained.ended(clock.now(), in_force)) == 1


def test_the_look_asks_a_fixed_number_of_queries(
    ines: Any, plant: Plant, django_assert_max_num_queries: Any  # noqa: F811
) -> None:
    """Told of already: ten bottles ask for no more than one does."""
    watch.begin_at(NOW)
    for number in range(10):
        kept(ines, form_id=uuid.uuid4(), code=f"R {number}")
    plant.at(midnight())
    assert tasks.look_at_samples() == 10
    with django_assert_max_num_queries(20):
        assert tasks.look_at_samples() == 0


def test_the_shelf_is_listed_by_its_last_days_and_found_from_the_pages_of_samples(
    ines: Any, plant: Plant, client_for: Any  # noqa: F811
) -> None:
    """What is to be kept, the first to end first; after its last day among those whose keeping has ended."""
    late = kept(ines, code="R late", kept_until=LAST + timedelta(days=9))
    soon = kept(ines, code="R soon")
    gone = kept(ines, code="R gone")
    kept(ines, code="R gone", amends=gone.number, amend_reason="dropped", void=True)
    client: Client = client_for(plant.people.guest)
    address = reverse("records:samples-retained")
    for page in ("records:samples", "records:sample"):
        args = [late.number] if page == "records:sample" else []
        assert address in client.get(reverse(page, args=args)).content.decode()
    plant.at(midnight() - timedelta(seconds=1))
    page = client.get(address).content.decode()
    assert 0 < page.index("R soon") < page.index("R late") and "R gone" not in page
    assert "None in the last 30 days." in page and page.count("its lot is on hold: keep it") == 2
    assert "set aside" not in page  # an inspector only reads
    assert "set aside" in client_for(plant.people.ines).get(address).content.decode()
    plant.at(midnight())
    page = client.get(address).content.decode()
    assert page.index("R soon") < page.index("To be kept") < page.index("R late")
    assert reverse("records:sample", args=[soon.number]) in page


def test_more_than_a_page_holds_is_said(ines: Any, plant: Plant, client_for: Any, monkeypatch: Any) -> None:  # noqa: F811
    monkeypatch.setattr(retained, "MOST", 2)
    for at in range(3):
        kept(ines, code=f"R {at}", kept_until=LAST + timedelta(days=at))
    page = client_for(plant.people.ines).get(reverse("records:samples-retained")).content.decode()
    assert "More are kept than the 2" in page and "R 1" in page and "R 2" not in page
