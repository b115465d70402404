"""Whatever is sent to a form about a real deviation, hold, outage or day: a page, a redirect, never an error of ours.

Hypothesis; 50 bodies for each form, THOROUGH=1 sends 2,000.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import transaction
from django.test import Client
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from plant import clock
from records.deviations import actions, holds
from records.ledger.models import Entry
from records.people.plans import plan_in_force
from records.review import actions as review
from tests.conftest import Plant
from tests.generated import BODIES
from tests.pages.test_any_body import Fields, bodies
from tests.records.deviations.made import complete, signed_by, the_hold, warm
from tests.records.review import test_days as day_of

pytestmark = pytest.mark.once  # what a page answers to a body is the same on both databases

Made = Callable[[Plant], str]


def closing(plant: Plant) -> str:
    """A complete deviation's closing."""
    return f"/deviations/{complete(plant).number}/close/"


def parts(plant: Plant) -> str:
    """A part of an open deviation."""
    return f"/deviations/{warm(plant).number}/parts/evaluation/"


def raising(plant: Plant) -> str:
    """A correction to raise."""
    row, _none = actions.record_correction(
        plant.actor("ines"), plan_in_force(clock.now()), subject_kind="reading", subject_number=1,
        control_point="pests", subject="traps", text="Rinsed.", form_id=uuid.uuid4(),
    )  # fmt: skip
    return f"/corrections/{row.number}/raise/"


def proposing(plant: Plant) -> str:
    """A hold without a disposition."""
    return f"/holds/{the_hold(warm(plant)).number}/disposition/"


def signing_a_hold(plant: Plant) -> str:
    """A disposition that Odile proposed."""
    hold = the_hold(warm(plant))
    holds.propose_disposition(plant.actor("odile"), hold, "destroy", "It smells.")
    return f"/holds/{hold.number}/second/"


def holding(plant: Plant) -> str:
    """Product in the plant."""
    warm(plant)
    return "/holds/new/"


def outage(plant: Plant) -> str:
    """A new outage."""
    warm(plant)
    return "/outages/new/"


def outage_end(plant: Plant) -> str:
    """One that lasts."""
    start = clock.now() - timedelta(hours=1)
    found, _deviation = actions.open_outage(plant.actor("ines"), plan_in_force(start), "power", start, [])
    return f"/outages/{found.number}/"


def closing_a_day(plant: Plant) -> str:
    """A day that can be closed: its form, without a rendering for each body."""
    day_of.lived(plant)
    return f"{day_of.ADDRESS}close/"


def signing_a_day(plant: Plant) -> str:
    """A day closed and signed by the operator in charge."""
    day_of.closed(plant)
    review.sign_sheet(plant.actor("tomas"), day_of.DAY, review.OPERATOR_IN_CHARGE)
    return f"{day_of.ADDRESS}sign/supervisor/"


def naming(_plant: Plant) -> str:
    """Who is in charge."""
    return f"{day_of.ADDRESS}shifts/early/in-charge/"


def handing_over(plant: Plant) -> str:
    """The side that Wren may sign: taking."""
    warm(plant)
    return f"{day_of.ADDRESS}shifts/early/taking/"


FORMS = [
    closing, parts, raising, proposing, signing_a_hold, holding, outage, outage_end, closing_a_day, signing_a_day,
    naming, handing_over,
]  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("make", FORMS, ids=[one.__name__ for one in FORMS])
def test_no_body_breaks_a_form(
    make: Made, plant: Plant, client_for: Callable[..., Client], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each body is answered below 500; a page that shows its form again wrote nothing; each is undone afterwards."""
    address = make(plant)
    client = client_for(plant.people.wren)
    shown = client.get(address.split("parts/")[0] if "parts/" in address else address)
    assert shown.status_code == 200
    offers = Fields(shown.content.decode()).offers
    assert offers
    # Rendering and signing a PDF for each body would test the engine again; the rest of both acts runs.
    monkeypatch.setattr(review, "_render", lambda *_args, **_more: None)
    monkeypatch.setattr(review, "sign_pdf", lambda pdf, *_args, **_more: pdf)
    right = signed_by(plant, "wren")
    cookies = dict(client.cookies.items())
    saved = set()

    @settings(
        max_examples=BODIES, deadline=None, derandomize=True, database=None, suppress_health_check=list(HealthCheck)
    )
    @given(body=bodies(offers, "wren"), signs=st.booleans())
    def send(body: dict[str, list[str]], signs: bool) -> None:
        client.cookies.clear()
        client.cookies.update(cookies)
        sent: dict[str, object] = {**body, **(right if signs and "signer" in offers else {})}
        with transaction.atomic():
            before = Entry.objects.exclude(kind="failed attempt").count()
            answer = client.post(address, sent)
            wrote = Entry.objects.exclude(kind="failed attempt").count() - before
            transaction.set_rollback(True)
        assert answer.status_code in (200, 302, 422), answer.status_code
        assert answer.status_code == 302 or wrote == 0
        saved.add(wrote > 0)

    send()
    assert False in saved  # some bodies are refused, and those write nothing
