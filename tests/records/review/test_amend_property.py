"""Generated bodies at the form that amends: never a crash, nothing written without the right PIN."""

from __future__ import annotations

from collections.abc import Callable

from django.test import Client
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from records.checks.models import Reading
from tests.conftest import Plant
from tests.records.checks.made import fill_silo, read
from tests.records.checks.test_forms_property import ANYTHING, BESIDE, NUMBERS, YES_NO, bodies, many

AMEND = bodies(
    typed=NUMBERS,
    unit=st.just("°F"),
    agitator_ran=YES_NO,
    bulb_covered=YES_NO,
    amend_reason=ANYTHING,
    signer=ANYTHING,
    signer_secret=st.just("000000"),
    **BESIDE,
)


@many
@given(body=AMEND)
def test_an_amendment(plant: Plant, client_for: Callable[..., Client], body: dict[str, str]) -> None:
    """None of these is signed."""
    if not Reading.objects.exists():
        fill_silo(plant)
        read(plant, "38")
    client = client_for(plant.people.ines)
    client.raise_request_exception = False
    answer = client.post(reverse("records:reading-amend", args=[Reading.objects.get().number]), body)
    assert answer.status_code in (403, 422) and Reading.objects.count() == 1
