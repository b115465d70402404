"""Amending a reading through its page: both stay, signed afresh; who may, before and after the day is closed."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from plant.people.models import Person
from records.checks.actions import may_amend
from records.checks.models import Reading
from records.judging.models import Verdict
from tests.conftest import Plant
from tests.factories import PASSWORD, PIN
from tests.records.checks.made import fill_silo, read
from tests.records.checks.test_round_page import text

ClientFor = Callable[..., Client]


@pytest.fixture
def kept(plant: Plant) -> Reading:
    """The silo read by Ines: 46.4 °F, a slip."""
    fill_silo(plant)
    return read(plant, "46.4").reading


def body(signer: Person | str, secret: str = PIN, **changes: Any) -> dict[str, Any]:
    """What the page sends."""
    values = {
        "form_id": str(uuid.uuid4()), "typed": "36.4", "unit": "°F", "agitator_ran": "yes", "bulb_covered": "yes",
        "observed_at": "2026-03-03T09:30", "amend_reason": "slip of the finger",
        "signer": signer if isinstance(signer, str) else str(signer.id), "signer_secret": secret,
    }  # fmt: skip
    return {**values, **changes}


def where(reading: Reading) -> str:
    """Its page."""
    return reverse("records:reading-amend", args=[reading.number])


def test_an_amendment_is_a_successor_with_its_own_verdict(plant: Plant, kept: Reading, client_for: ClientFor) -> None:
    """The new number governs, the old one is shown struck through, its verdict is followed."""
    tablet = client_for(plant.people.ines)
    assert 'value="46.4"' in tablet.get(where(kept)).content.decode()
    answer = tablet.post(where(kept), body(plant.people.ines))
    new = Reading.objects.get(amends=kept.number)
    assert answer.url == reverse("records:reading", args=[new.number])
    assert (new.typed, new.amend_reason, new.due_at, new.observed_at) == (
        "36.4", "slip of the finger", kept.due_at, kept.observed_at,
    )  # fmt: skip
    old = Verdict.objects.get(subject_kind="reading", subject_number=kept.number)
    assert Verdict.objects.get(subject_number=new.number, subject_kind="reading").follows == old.number
    page = tablet.get(answer.url)
    assert "struck" in page.content.decode() and "slip of the finger" in text(page)
    assert "amended" in text(tablet.get(reverse("records:reading", args=[kept.number])))


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"amend_reason": ""}, "Write why it is amended."),
        ({"signer_secret": "000000"}, "This is not the right PIN."),
        ({"typed": "abc"}, "digits only"),
        ({"typed": ""}, "Enter a number."),
        ({"observed_at": "2026-03-03T15:00"}, "still to come"),
    ],
)
def test_an_amendment_that_is_not_right_writes_nothing(
    plant: Plant, kept: Reading, client_for: ClientFor, changes: dict[str, str], sentence: str
) -> None:
    """Each gets its sentence."""
    answer = client_for(plant.people.ines).post(where(kept), body(plant.people.ines, **changes))
    assert answer.status_code == 422 and sentence in text(answer)
    assert Reading.objects.count() == 1


def test_a_reading_has_one_amendment(plant: Plant, kept: Reading, client_for: ClientFor) -> None:
    """A second one is made of the newer reading; the same form again is the same amendment."""
    tablet, said = client_for(plant.people.ines), body(plant.people.ines)
    tablet.post(where(kept), said)
    answer = tablet.post(where(kept), body(plant.people.ines, typed="35"))
    assert answer.status_code == 403 and "Amend the newer one." in text(answer)
    assert Reading.objects.count() == 2


def test_somebody_elses_reading_is_not_an_operators_to_amend(
    plant: Plant, kept: Reading, client_for: ClientFor
) -> None:
    """Tomas may not, Wren may."""
    tomas = client_for(plant.people.tomas).post(where(kept), body(plant.people.tomas))
    assert tomas.status_code == 403 and Reading.objects.count() == 1
    wren = client_for(plant.people.wren).post(where(kept), body("wren", PASSWORD))
    assert wren.status_code == 302 and Reading.objects.count() == 2


def test_after_the_day_is_closed_only_another_supervisor(plant: Plant, kept: Reading) -> None:
    """One's own until the day closes; afterwards a supervisor, and not one's own."""
    ines, tomas, wren = plant.actor("ines"), plant.actor("tomas"), plant.actor("wren")
    assert may_amend(ines, kept, False) == "" and may_amend(wren, kept, False) == ""
    assert may_amend(tomas, kept, False) and may_amend(ines, kept, True) and may_amend(tomas, kept, True)
    assert may_amend(wren, kept, True) == ""
    own = read(plant, "38", who="wren").reading
    assert may_amend(wren, own, True)


def test_the_page_knows_that_the_day_is_closed(plant: Plant, kept: Reading, client_for: ClientFor) -> None:
    """Closing the day takes it out of the operator's hands."""
    from records.review.actions import close_day

    plant.clock.on(hours=22)
    day = kept.observed_at.date()
    close_day(plant.actor("wren"), day)
    answer = client_for(plant.people.ines).post(where(kept), body(plant.people.ines))
    assert answer.status_code == 403 and "only a supervisor can amend it now" in text(answer)
    assert client_for(plant.people.wren).get(where(kept)).status_code == 200
    assert plant.clock() - kept.observed_at > timedelta(hours=20)
