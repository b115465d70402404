"""The Round sends to a look's own form; a plain answer that comes all the same is kept and proves nothing."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from django.test import Client
from django.urls import reverse

from plant import clock
from plant.hazard_plan.content import AnswerDef, ControlPointDef, FrequencyDef, LimitDef, MonitoringDef
from plant.people.models import Person
from records.checks import queries as checks
from records.checks import watch
from records.checks.actions import amend_reading, record_reading
from records.checks.entry import ReadingData
from records.checks.models import Reading
from records.deviations.models import Deviation, Hold
from records.flow.actions import EndData, end_movement
from records.flow.models import Movement
from records.foreign_matter import actions
from records.foreign_matter.models import DetectorChallenge, StrainerLook
from records.judging.models import Verdict
from tests.conftest import NOW, Plant
from tests.factories import small_plan
from tests.records.charts.made import in_force
from tests.records.flow.made import made_ready, moved, ran
from tests.records.flow.test_flow_pages import local
from tests.records.foreign_matter.test_foreign_matter import challenge

pytestmark = pytest.mark.django_db
Browser = Callable[[Person], Client]
MINUTE = timedelta(minutes=1)
STRAINED = ("whole, nothing caught", "something caught", "damaged")
DETECTOR, STRAINER = "detector", "press-strainer"


@pytest.fixture
def running(plant: Plant) -> Plant:
    """A run since NOW + 10 min, challenged well at 15: the next challenge is due at 70 and missed at 130."""
    small = small_plan()
    of_the_run = MonitoringDef(
        DETECTOR, "metal", ("press-1",), "Metal detector challenged", "Three pieces.", "operator",
        AnswerDef("yes_no"), FrequencyDef("during_run", every_min=60), ("detects",), grace_min=20,
        corrective_action="Hold it.",
    )  # fmt: skip
    of_a_shift = MonitoringDef(
        STRAINER, "metal", ("press-1",), "Line strainer opened", "Under the lamp.", "operator",
        AnswerDef("choice", choices=STRAINED), FrequencyDef("run_ends", last=True), ("whole",),
        corrective_action="Hold it.",
    )  # fmt: skip
    limits = (
        LimitDef("detects", "metal detector", "plant rule", "plant rule", wanted=("yes",)),
        LimitDef("whole", "strainer", "plant rule", "plant rule", wanted=STRAINED[:1]),
    )
    point = ControlPointDef("metal", "Metal detector", "ccp", reaches_product=True)
    plant.at(NOW)
    in_force(plant, small_plan(
        limits=(*small.limits, *limits), monitoring=(*small.monitoring, of_the_run, of_a_shift),
        control_points=(*small.control_points, point),
    ))  # fmt: skip
    watch.begin_at(NOW)
    by = plant.actor("ines")
    made_ready(by, NOW)
    plant.at(NOW + 10 * MINUTE)
    moved(by, started_at=NOW + 5 * MINUTE, ended_at=NOW + 9 * MINUTE)
    ran(by, started_at=NOW + 10 * MINUTE, ended_at=None, quantity_typed="", measured_by="unknown")
    plant.at(NOW + 15 * MINUTE)
    actions.record_challenge(by, challenge())
    plant.at(NOW + 72 * MINUTE)
    return plant


def due(key: str = DETECTOR) -> checks.DueCheck:
    """The check of that key that waits now."""
    return next(one for one in checks.round_at(clock.now()) if one.monitoring.key == key)


def held() -> list[datetime]:
    """Since when product is held at the detector's point."""
    found = Deviation.objects.filter(control_point="metal").values("number")
    return list(Hold.objects.filter(deviation__in=found).values_list("since_at", flat=True))


def pieces(**changes: str) -> dict[str, str]:
    """The form of a challenge in the run, all seen."""
    sent = {"form_id": str(uuid.uuid4()), "when": "hourly", "rejected": "yes", "at": local(clock.now())}
    for metal in ("ferrous", "non-ferrous", "stainless"):
        sent |= {f"size_{metal}": "2.0", f"seen_{metal}": "yes"}
    return sent | changes


@pytest.mark.once
def test_the_round_links_to_the_looks_own_form_with_what_is_known(running: Plant, client_for: Browser) -> None:
    """No yes and no on the Round, only the way to the form and the honest way out; the form says when already."""
    ines = client_for(running.people.ines)
    check = due()
    page = ines.get(reverse("records:round-check", args=[check.key])).content.decode()
    assert "Write what was seen" in page and "I could not take it" in page and 'name="typed"' not in page
    address = reverse("records:foreign-matter-new", args=["detector", "press-1"])
    assert address in page
    form = ines.get(address, {"when": "hourly", "next": reverse("records:round")}).content.decode()
    assert 'value="hourly"' in form and "checked" in form.split('value="hourly"')[1].split(">")[0]
    assert "checked" not in form.split('name="seen_ferrous"')[1].split("</fieldset>")[0]  # what was seen is asked


def test_a_look_from_the_round_answers_it_and_goes_back_there(running: Plant, client_for: Browser) -> None:
    ines = client_for(running.people.ines)
    check = due()
    address = reverse("records:foreign-matter-new", args=["detector", "press-1"]) + "?next=" + reverse("records:round")
    answer = ines.post(address, pieces())
    read = DetectorChallenge.objects.order_by("-number")[0].reading
    assert answer.status_code == 302 and answer["Location"] == f"{reverse('records:round')}?after={read}"
    assert Verdict.objects.get(subject_number=read).outcome == "met" and not Deviation.objects.exists()
    assert all(one.key != check.key for one in checks.round_at(clock.now()))


def test_a_bad_look_from_the_round_asks_at_once_what_was_done(running: Plant, client_for: Browser) -> None:
    """And holds since the last good look."""
    ines = client_for(running.people.ines)
    address = reverse("records:foreign-matter-new", args=["detector", "press-1"]) + "?next=" + reverse("records:round")
    answer = ines.post(address, pieces(seen_stainless="no"))
    read = DetectorChallenge.objects.order_by("-number")[0].reading
    where = urlsplit(answer["Location"])
    assert where.path == reverse("records:reading-answer", args=[read])
    assert parse_qs(where.query)["next"] == [f"{reverse('records:round')}?after={read}"]
    assert held() and min(held()) >= NOW + 15 * MINUTE


def bare(by: Any, typed: str, key: str = DETECTOR, **changes: Any) -> Any:
    """A plain answer to the check that waits, as a page opened long ago sends it."""
    check = due(key)
    said = ReadingData(
        form_id=uuid.uuid4(), subject="press-1", monitoring_key=key, event=check.due.event,
        due_at=check.due.due_at, typed=typed, **changes,
    )  # fmt: skip
    return record_reading(by, said)


def test_a_plain_yes_is_kept_proves_nothing_and_holds(running: Plant, client_for: Browser) -> None:
    """Sent to the Round by an old page: the reading is there, not proven, product held since the last good look."""
    ines = client_for(running.people.ines)
    check = due()
    sent = {"form_id": str(uuid.uuid4()), "typed": "yes", "note": "", "late_reason": "", "device_offset_ms": "0"}
    assert ines.post(reverse("records:round-check", args=[check.key]), sent).status_code == 302
    reading = Reading.objects.order_by("-number")[0]
    assert (reading.typed, reading.due_at) == ("yes", check.due.due_at)
    verdict = Verdict.objects.get(subject_number=reading.number)
    assert verdict.outcome == "not proven" and "what was looked at" in verdict.reason
    assert Deviation.objects.get(control_point="metal").cause == "not proven"
    assert held() and min(held()) >= NOW + 15 * MINUTE


def test_a_plain_no_is_what_it_says(running: Plant) -> None:
    saved = bare(running.actor("ines"), "no")
    assert saved.verdict.outcome == "not met" and held()


def test_a_plain_answer_copied_from_paper_proves_nothing_either(running: Plant) -> None:
    saved = bare(running.actor("ines"), "yes", paper_form="F-12")
    assert saved.reading.paper_form == "F-12" and saved.verdict.outcome == "not proven"


def test_an_amendment_to_yes_is_no_look(running: Plant) -> None:
    """A plain no amended to yes is not proven; the reading of a good look, amended in its note, stays met."""
    ines = running.actor("ines")
    first = bare(ines, "no").reading
    again = ReadingData(form_id=uuid.uuid4(), subject="press-1", typed="yes")
    assert amend_reading(ines, first.number, again, "a slip", day_closed=False).verdict.outcome == "not proven"
    looked = DetectorChallenge.objects.get().reading
    noted = ReadingData(form_id=uuid.uuid4(), subject="press-1", typed="yes", note="by the window")
    assert amend_reading(ines, looked, noted, "a note", day_closed=False).verdict.outcome == "met"


def test_could_not_take_it_stays_an_answer(running: Plant, client_for: Browser) -> None:
    ines = client_for(running.people.ines)
    page = ines.get(reverse("records:round-check", args=[due().key]), {"could_not": "1"}).content.decode()
    assert "Write what was seen" not in page and 'name="not_taken"' in page or 'name="why"' in page
    saved = bare(running.actor("ines"), "", not_taken="detector is off")
    assert saved.verdict.outcome == "not proven"


def test_a_look_after_product_went_on_is_late_and_good_holds_nothing(running: Plant) -> None:
    """Due at 70, looked at 100: answered late is a fact of its own; what ran is between two good looks."""
    check = due()
    running.at(NOW + 100 * MINUTE)
    watch.look()
    actions.record_challenge(running.actor("ines"), challenge())
    (state,) = [
        one.state
        for one in checks.due_between(check.due.due_at, check.due.due_at + MINUTE, clock.now())
        if one.key == check.key
    ]
    assert state == "answered late" and not held()


def test_a_late_look_that_is_bad_holds_since_the_last_good_one(running: Plant) -> None:
    """All that ran since 15, the half hour after it was due included."""
    running.at(NOW + 100 * MINUTE)
    watch.look()
    row = actions.record_challenge(running.actor("ines"), challenge("ferrous"))
    assert row.suspect_since == NOW + 15 * MINUTE
    assert held() and min(held()) == NOW + 15 * MINUTE


def test_a_look_after_the_miss_answers_it_and_the_hold_of_the_miss_stands(running: Plant) -> None:
    for after in range(75, 136, 10):  # the watch was not away
        running.at(NOW + after * MINUTE)
        watch.look()
    before = held()
    assert before and min(before) >= NOW + 15 * MINUTE
    actions.record_challenge(running.actor("ines"), challenge())
    assert held() == before and Deviation.objects.filter(control_point="metal", cause="missed").count() == 1


@pytest.mark.once
def test_a_strainers_form_knows_that_it_is_after_the_run(running: Plant, client_for: Browser) -> None:
    """From the Round, with the words of the plan's check."""
    by = running.actor("ines")
    run = Movement.objects.filter(via="press-1").latest("number")
    end_movement(by, run.number, EndData(NOW + 71 * MINUTE, "300", "gal", "", "meter"))
    ines = client_for(running.people.ines)
    page = ines.get(reverse("records:round-check", args=[due(STRAINER).key])).content.decode()
    address = reverse("records:foreign-matter-new", args=["strainer", "press-1"])
    assert f"{address}?after=run&amp;next=" in page
    sent = {"form_id": str(uuid.uuid4()), "found": STRAINED[0], "after": "run", "at": local(clock.now())}
    assert ines.post(f"{address}?after=run&next={reverse('records:round')}", sent).status_code == 302
    assert StrainerLook.objects.get().check_key == STRAINER
