"""An outage is one deviation; its end asks every tank that holds product, and says what reading proves."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import datetime, timedelta

import pytest
from django.test import Client

from plant import clock
from records.checks import outages as asked
from records.checks import queries as checks
from records.checks.actions import record_reading
from records.checks.entry import ReadingData
from records.checks.queries import DueCheck
from records.deviations.models import Deviation, Outage, OutageEnd
from records.flow.queries import OUTAGE_END, facts_between
from records.ledger.models import Entry
from records.review import outage_data
from tests.conftest import NOW, Plant
from tests.records.deviations.made import SCRIPT, filled, read

Clients = Callable[..., Client]
HOUR = timedelta(hours=1)


def local(moment: datetime) -> str:
    """As the form takes it: the plant's clocks stand six hours behind UTC in March."""
    return (moment - 6 * HOUR).strftime("%Y-%m-%dT%H:%M")


def opened(client: Client, started: datetime = NOW - HOUR, ended: datetime | None = None) -> Outage:
    """A power outage through its form."""
    body = {"what": "power", "started_at": local(started), "text": "The mains failed."}
    answer = client.post("/outages/new/", body | ({"ended_at": local(ended)} if ended else {}))
    assert answer.status_code == 302, answer.content.decode()
    return Outage.objects.get(started_at=started)


def after(outage: Outage) -> list[DueCheck]:
    """The checks that its end made due."""
    now = clock.now()
    found = checks.due_between(now - 12 * HOUR, now + HOUR, now)
    return [one for one in found if one.due.event == f"{asked.PREFIX}{outage.number}"]


def test_it_is_one_deviation_that_lists_what_it_covers(plant: Plant, client_for: Clients) -> None:
    """The silo with its milk, the recorder, and each check that fell due in it."""
    filled(plant)
    outage = opened(client_for(plant.people.ines), NOW - 2 * HOUR)
    kinds = {one["kind"] for one in outage.covers}
    assert kinds == {"vessel", "recorder", "check"}
    assert [one["code"] for one in outage.covers if one["kind"] == "vessel"] == ["silo-a"]
    assert Deviation.objects.get(cause="outage").number == outage.deviation


def test_the_same_form_again_opens_nothing(plant: Plant, client_for: Clients) -> None:
    """A double tap; one deviation."""
    client = client_for(plant.people.ines)
    assert opened(client).number == opened(client).number
    assert Deviation.objects.filter(cause="outage").count() == 1


def test_an_outage_within_one_that_lasts_is_that_outage(plant: Plant, client_for: Clients) -> None:
    """Refused beside the field, by the entry it belongs to."""
    client = client_for(plant.people.ines)
    opened(client)
    answer = client.post("/outages/new/", {"what": "power", "started_at": local(NOW - HOUR / 2)})
    assert answer.status_code == 422 and "started_at" in answer.context["form"].errors
    assert Outage.objects.count() == 1


def test_its_end_makes_a_temperature_check_due_at_each_tank_with_product(plant: Plant, client_for: Clients) -> None:
    """The silo holds milk and is asked at once; the empty tank is not."""
    filled(plant)
    client = client_for(plant.people.ines)
    outage = opened(client)
    assert after(outage) == []
    assert client.post(f"/outages/{outage.number}/", {"ended_at": local(NOW)}).status_code == 302
    (due,) = after(outage)
    assert (due.due.subject, due.due.due_at, due.state) == ("silo-a", NOW, "due")
    assert due in checks.round_at(clock.now())


def test_the_first_reading_since_answers_it(plant: Plant, client_for: Clients) -> None:
    """As its own answer."""
    filled(plant)
    outage = opened(client_for(plant.people.ines), ended=NOW)
    (due,) = after(outage)
    plant.clock.on(minutes=5)
    record_reading(
        plant.actor("ines"),
        ReadingData(
            form_id=uuid.uuid4(), subject="silo-a", monitoring_key=due.due.key, typed="39.0", agitator_ran=True,
            bulb_covered=True, event=due.due.event, due_at=due.due.due_at,
        ),
    )  # fmt: skip
    (answered,) = after(outage)
    assert answered.state == "on time" and answered.reading is not None
    assert answered.reading.event == due.due.event


def test_left_unread_it_is_missed(plant: Plant, client_for: Clients) -> None:
    """After twice its grace, an hour at least."""
    filled(plant)
    outage = opened(client_for(plant.people.ines), ended=NOW)
    plant.clock.on(hours=1, minutes=1)
    (due,) = after(outage)
    assert due.state == "missed"


def test_the_facts_name_its_end_at_every_place(plant: Plant, client_for: Clients) -> None:
    """So that a plan may ask more of it: 'outage end' is an event like another."""
    opened(client_for(plant.people.ines), ended=NOW)
    events = [one for one in facts_between(NOW - HOUR, NOW + HOUR).events if one.kind == OUTAGE_END]
    assert {one.subject for one in events} == {"silo-a", "press-1", "finished-1", "traps"}
    assert {one.at for one in events} == {NOW}


@pytest.mark.parametrize(
    ("before", "following", "proven", "words"),
    [
        ("39.0", "40.0", True, "in limits by reading before and after"),
        ("39.0", "46.4", False, "out of limits"),
        (None, "40.0", False, "no reading in limits before"),
        ("39.0", None, False, "not read since"),
    ],
)
def test_it_says_what_reading_proves(
    plant: Plant, client_for: Clients, before: str | None, following: str | None, proven: bool, words: str
) -> None:
    """In limits on both sides is said so, and never that nothing happened between; all else is not proven."""
    filled(plant)
    if before:
        plant.at(NOW - timedelta(minutes=75))
        read(plant, before, monitoring_key="silo-holding")
        plant.at(NOW)
    outage = opened(client_for(plant.people.ines), ended=NOW - timedelta(minutes=10))
    if following:
        read(plant, following, monitoring_key="silo-holding")
    (tank,) = outage_data.tanks(outage, OutageEnd.objects.get(), clock.now())
    assert tank.proven is proven and words in tank.words
    assert words in client_for(plant.people.guest).get(f"/outages/{outage.number}/").content.decode()


@pytest.mark.parametrize(
    "wrong",
    [
        {"what": "", "started_at": "08:00"},
        {"what": "sabotage", "started_at": "08:00"},
        {"what": "power", "started_at": "tomorrow"},
        {"what": "power", "started_at": "2026-03-03T23:00"},
        {"what": "power", "started_at": "08:00", "ended_at": "07:00"},
        {"what": "power", "started_at": "2001-01-01T08:00"},
        {"what": "power", "started_at": "08:00", "text": "x" * 1_000_000},
    ],
)
def test_what_makes_no_sense_is_refused(plant: Plant, client_for: Clients, wrong: dict[str, str]) -> None:
    """Nothing is written; what was typed stands."""
    before = Entry.objects.count()
    answer = client_for(plant.people.ines).post("/outages/new/", wrong)
    assert answer.status_code == 422 and Entry.objects.count() == before


def test_it_does_not_end_before_it_began_and_ends_once(plant: Plant, client_for: Clients) -> None:
    """Refused beside the field; a second end changes nothing."""
    client = client_for(plant.people.ines)
    outage = opened(client)
    address = f"/outages/{outage.number}/"
    assert client.post(address, {"ended_at": local(NOW - 2 * HOUR)}).status_code == 422
    for _ in range(2):
        assert client.post(address, {"ended_at": local(NOW)}).status_code == 302
    assert OutageEnd.objects.count() == 1
    assert client_for(plant.people.guest).post(address, {"ended_at": local(NOW)}).status_code in (302, 403)


def test_script_tags_are_shown_as_text(plant: Plant, client_for: Clients) -> None:
    """In what is known of it."""
    client = client_for(plant.people.ines)
    client.post("/outages/new/", {"what": "power", "started_at": local(NOW - HOUR), "text": SCRIPT})
    outage = Outage.objects.get()
    for address in ("/outages/", f"/outages/{outage.number}/", f"/deviations/{outage.deviation}/"):
        page = client_for(plant.people.wren).get(address).content.decode()
        assert "<script>alert" not in page and "&lt;script&gt;alert" in page
