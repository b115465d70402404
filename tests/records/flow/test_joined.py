"""Washing beside product: both sides of a pipe have their deviation, and what was there is held."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from plant.hazard_plan.check import problems
from plant.hazard_plan.content import PipeDef, from_json, to_json
from plant.people.models import Person
from records.deviations.models import Deviation, Hold
from records.flow import joined
from records.flow.actions import amend_wash, begin_wash, record_movement, record_wash
from records.flow.common import history_at, plan_at
from records.flow.errors import Refused, Several
from records.flow.models import Movement, Wash
from records.ledger.models import Entry
from tests.conftest import NOW, Plant
from tests.factories import small_plan
from tests.records.charts.made import in_force
from tests.records.flow.made import HOUR, made_ready, moved, pasteurized, ran, wash
from tests.records.flow.test_flow_pages import local, wash_form

Browser = Callable[[Person], Client]
MINUTE = timedelta(minutes=1)
ELBOW = "swing elbow taken off"
PIPE = PipeDef("press-finished", ("press-1", "finished-1"), ELBOW)
JOINED = "Press 1 was washed while joined to Finished 1"


@pytest.fixture
def piped(plant: Plant) -> Plant:
    """A plant whose press is piped to Finished 1, in which whole milk of two hours ago waits."""
    in_force(plant, replace(small_plan(), pipes=(PIPE,)))
    plant.at(NOW + 12 * HOUR)
    ines = plant.actor("ines")
    made_ready(ines, NOW + HOUR)
    moved(ines, started_at=NOW + 2 * HOUR)
    ran(ines, started_at=NOW + 3 * HOUR)
    assert not Deviation.objects.exists()
    return plant


def subjects() -> set[str]:
    return {one.subject for one in Deviation.objects.filter(sentence__contains="joined to")}


def test_a_plan_takes_its_pipes_round() -> None:
    """From the written file to the frozen text; wrong ones are named; a plan without keeps its content."""
    plan = replace(small_plan(), pipes=(PIPE,))
    assert from_json(to_json(plan)) == plan and "pipes" not in to_json(small_plan())
    assert not [one for one in problems(plan) if "pipes" in one.path]
    wrong = (PipeDef("a", ("press-1", "press-1"), ELBOW), PipeDef("b", ("press-1", "nowhere"), " "))
    paths = [one.path for one in problems(replace(plan, pipes=wrong)) if "pipes" in one.path]
    assert paths == ["pipes[0].places", "pipes[1].places", "pipes[1].parted_by"]


@pytest.mark.parametrize(("parted", "said"), [("", "nothing says that they were parted"), ("no", "not parted")])
def test_a_wash_next_to_product_is_a_deviation_on_both_sides(piped: Plant, parted: str, said: str) -> None:
    """PMO Item 15p(B), from memory: milk kept apart from cleaning solution. The tank's lot is held, from then."""
    row = record_wash(piped.actor("ines"), wash("press-1", NOW + 5 * HOUR, parted=parted))
    assert subjects() == {"press-1", "finished-1"}
    for one in Deviation.objects.all():
        assert JOINED in one.sentence and said in one.sentence and ELBOW in one.sentence
    hold = Hold.objects.get()
    assert (hold.vessel, hold.since_at) == ("finished-1", row.started_at)
    assert row.joined == f"Finished 1 ({ELBOW})" and (row.parted or "") == parted


def test_seen_parted_is_no_deviation(piped: Plant) -> None:
    record_wash(piped.actor("ines"), wash("press-1", NOW + 5 * HOUR, parted="yes"))
    assert not Deviation.objects.exists() and not Hold.objects.exists()


def test_without_product_on_the_other_side_nobody_has_to_say(plant: Plant) -> None:
    in_force(plant, replace(small_plan(), pipes=(PIPE,)))
    plant.at(NOW + 2 * HOUR)
    record_wash(plant.actor("ines"), wash("press-1", NOW + HOUR))
    assert not Deviation.objects.exists()


def test_the_vessel_washed_while_its_line_runs(piped: Plant) -> None:
    """The other way round: what ran through the press went into Finished 1; washing the tank meets it at both ends."""
    ines = piped.actor("ines")
    record_wash(ines, wash("finished-1", NOW + 3 * HOUR + 20 * MINUTE, was_empty=True, parted="yes"))
    found = Deviation.objects.filter(sentence__contains="while product moved")
    assert {one.subject for one in found} == {"finished-1", "silo-a"}
    assert {one.vessel for one in Hold.objects.all()} == {"finished-1", "silo-a"}


def test_product_recorded_after_the_wash_is_found_all_the_same(plant: Plant) -> None:
    """The wash came first into the book, the milk that stood beside it is entered late."""
    in_force(plant, replace(small_plan(), pipes=(PIPE,)))
    plant.at(NOW + 12 * HOUR)
    ines = plant.actor("ines")
    made_ready(ines, NOW + HOUR)
    moved(ines, started_at=NOW + 2 * HOUR)
    record_wash(ines, wash("press-1", NOW + 5 * HOUR))
    assert not Deviation.objects.exists()
    row = ran(ines, started_at=NOW + 3 * HOUR)
    assert subjects() == {"press-1", "finished-1"}
    assert {one.lot for one in Hold.objects.all()} == {row.target_lot}


def test_what_came_after_the_wash_is_not_touched(piped: Plant) -> None:
    """Washed at one, filled at three: nothing of it stood there."""
    ines = piped.actor("ines")
    record_wash(ines, wash("press-1", NOW + 7 * HOUR, parted="yes"))
    record_wash(ines, wash("press-1", NOW + 8 * HOUR, "sanitized", parted="yes"))
    ran(ines, started_at=NOW + 9 * HOUR, quantity_typed="100")
    assert not Deviation.objects.exists()


def test_a_wash_does_not_begin_beside_product_unless_parted(piped: Plant) -> None:
    """Refused with the reason and the plan's way; said to be parted, it begins, and that is kept."""
    ines = piped.actor("ines")
    count = Entry.objects.count()
    with pytest.raises(Refused, match="Finished 1 holds product and is joined to it"):
        begin_wash(ines, "press-1", uuid.uuid4())
    assert Entry.objects.count() == count
    assert begin_wash(ines, "press-1", uuid.uuid4(), parted=True).reference == "yes"


def test_product_does_not_begin_beside_a_wash_that_goes_on(plant: Plant) -> None:
    """The press is being washed, not said to be parted: a transfer into Finished 1 waits until the wash is recorded."""
    in_force(plant, replace(small_plan(), pipes=(PIPE,)))
    plant.at(NOW + 4 * HOUR)
    ines = plant.actor("ines")
    made_ready(ines, NOW + 2 * HOUR)
    begin_wash(ines, "press-1", uuid.uuid4())
    plant.at(NOW + 4 * HOUR + 5 * MINUTE)
    now = NOW + 4 * HOUR + 5 * MINUTE
    poured = pasteurized(source="", source_name="Oxbow Farm", via="", started_at=now, ended_at=None, start_now=True)
    with pytest.raises(Several) as refused:
        record_movement(ines, poured)
    assert any("Press 1 is being washed and is joined to Finished 1" in one for one in refused.value.sentences)
    plant.at(NOW + 5 * HOUR)
    record_wash(ines, wash("press-1", NOW + 5 * HOUR - MINUTE, started_at=NOW + 4 * HOUR, parted="yes"))
    record_movement(ines, replace(poured, started_at=NOW + 5 * HOUR))


def test_a_wash_said_not_to_have_happened_ends_none_that_was_begun(plant: Plant) -> None:
    """Begun, recorded, then said not to have happened: what is joined to it waits as before the record."""
    in_force(plant, replace(small_plan(), pipes=(PIPE,)))
    plant.at(NOW + 4 * HOUR)
    ines = plant.actor("ines")
    made_ready(ines, NOW + 2 * HOUR)
    begin_wash(ines, "press-1", uuid.uuid4())
    plant.at(NOW + 5 * HOUR)
    data = wash("press-1", NOW + 5 * HOUR - MINUTE, started_at=NOW + 4 * HOUR, parted="yes")
    row = record_wash(ines, data)
    poured = pasteurized(source="", source_name="Oxbow Farm", via="", started_at=NOW + 5 * HOUR, ended_at=None)
    history = history_at(plan_at(NOW), NOW + 5 * HOUR, ["finished-1", "press-1"])
    asked = Movement(source="", via="", target="finished-1", product="whole-milk", started_at=NOW + 5 * HOUR)
    assert not joined.of_movement(asked, None, history, plan_at(NOW))
    amend_wash(ines, row.number, replace(data, form_id=uuid.uuid4()), "another line", void=True)
    with pytest.raises(Several) as refused:
        record_movement(ines, replace(poured, start_now=True))
    assert any("Press 1 is being washed and is joined to Finished 1" in one for one in refused.value.sentences)


# --- amended


def test_amended_to_not_parted_opens_it(piped: Plant) -> None:
    ines = piped.actor("ines")
    row = record_wash(ines, wash("press-1", NOW + 5 * HOUR, parted="yes"))
    amend_wash(ines, row.number, wash("press-1", NOW + 5 * HOUR, parted="no"), "the elbow was on")
    assert subjects() == {"press-1", "finished-1"} and Hold.objects.count() == 1


def test_amended_to_parted_closes_and_releases_nothing(piped: Plant) -> None:
    ines = piped.actor("ines")
    row = record_wash(ines, wash("press-1", NOW + 5 * HOUR))
    open_before = list(Deviation.objects.values_list("number", flat=True))
    amend_wash(ines, row.number, wash("press-1", NOW + 5 * HOUR, parted="yes"), "it was off")
    assert list(Deviation.objects.values_list("number", flat=True)) == open_before and Hold.objects.count() == 1


def test_a_wash_that_did_not_happen_leaves_the_first_product_unclean(piped: Plant) -> None:
    """Void: the run after it went through a press that nothing says was washed; its lot is held."""
    ines = piped.actor("ines")
    (of_press,) = Wash.objects.filter(vessel="press-1", what="washed")
    data = wash("press-1", of_press.ended_at, started_at=of_press.started_at)
    amend_wash(ines, of_press.number, data, "another line", void=True)
    (found,) = Deviation.objects.all()
    assert found.subject == "press-1" and "nothing recorded says so" in found.sentence
    assert Hold.objects.get().vessel == "finished-1"


# --- pages


def test_the_page_asks_and_says_what_followed(piped: Plant, client_for: Browser) -> None:
    """Without an answer it is asked beside the field and what was typed stays; 'no' is kept, and said on the page."""
    ines = client_for(piped.people.ines)
    address = reverse("records:washed", args=["press-1"])
    assert ELBOW in ines.get(address).content.decode()
    moment = {"started_at": local(NOW + 5 * HOUR), "ended_at": local(NOW + 5 * HOUR + 20 * MINUTE)}
    form = wash_form(**moment, note="hot today")
    count = Wash.objects.count()
    refused = ines.post(address, form)
    assert refused.status_code == 422 and Wash.objects.count() == count
    text = refused.content.decode()
    assert "Choose one." in text and "hot today" in text
    assert ines.post(address, {**form, "parted": "no"}).status_code == 302
    row = Wash.objects.latest("number")
    page = ines.get(reverse("records:wash", args=[row.number])).content.decode()
    assert f"Not parted from Finished 1 ({ELBOW})." in page and JOINED in page


def test_a_wash_is_amended_from_its_page(piped: Plant, client_for: Browser) -> None:
    """The old one stays and says what replaced it."""
    ines = client_for(piped.people.ines)
    row = record_wash(piped.actor("ines"), wash("press-1", NOW + 5 * HOUR, parted="yes"))
    page = ines.get(reverse("records:wash", args=[row.number])).content.decode()
    address = reverse("records:wash-amend", args=[row.number])
    assert address in page
    shown = ines.get(address).content.decode()
    assert "circuit 2" in shown and 'value="yes"' in shown
    moment = {"started_at": local(row.started_at), "ended_at": local(row.ended_at)}
    form = wash_form(**moment, parted="no", reason="the elbow was on")
    assert ines.post(address, {**form, "reason": ""}).status_code == 422
    assert ines.post(address, form).status_code == 302
    assert "the elbow was on" in ines.get(reverse("records:wash", args=[row.number])).content.decode()
    assert subjects() == {"press-1", "finished-1"}


def test_one_tap_begins_only_when_parted(piped: Plant, client_for: Browser) -> None:
    """Beside product the tap asks first, with the plan's way; the answer is one more tap."""
    ines = client_for(piped.people.ines)
    begins = reverse("records:wash-begins", args=["press-1"])
    form = {"form_id": str(uuid.uuid4())}
    asked = ines.post(begins, form)
    text = asked.content.decode()
    assert asked.status_code == 422 and ELBOW in text and "I saw them parted" in text and form["form_id"] in text
    said = ines.post(begins, {**form, "parted": "yes"}, follow=True).content.decode()
    assert "is being washed" in said
