"""Whatever is sent to a form about a real chart: a page, a redirect, never an error of ours (Hypothesis)."""

from __future__ import annotations

import uuid
from collections.abc import Callable

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from records.charts.actions import keep_photo
from records.charts.models import ChartOn
from records.checks.photos import Photo
from records.ledger.models import Entry
from tests.conftest import NOW, Plant
from tests.generated import BODIES
from tests.pages.test_any_body import Fields, bodies
from tests.records.charts.drawn import chart_png, marks
from tests.records.charts.made import HOUR, is_on, on, was_on
from tests.records.charts.test_papers import fitted
from tests.records.deviations.made import signed_by
from tests.records.traces.made_traces import kept, samples

pytestmark = pytest.mark.once  # what a page answers to a body is the same on both databases

FORMS = ["chart-change", "chart-off", "chart-sign", "chart-amend-on", "chart-amend-off", "chart-photo-new"]
OF_PHOTOS = ["chart-fit", "chart-compare"]


def address_of(name: str, plant: Plant) -> tuple[str, str]:
    """Where the form of a route stands, and where it is sent."""
    ines = plant.actor("ines")
    if name in ("chart-change", "chart-off"):
        at = reverse(f"records:{name}", args=[is_on(ines, put_on_at=NOW - 2 * HOUR).number])
        return at, at
    chart: ChartOn = was_on(ines, NOW - 5 * HOUR, NOW)[0]
    if name in FORMS:
        at = reverse(f"records:{name}", args=[chart.number])
        return at, at
    kept(samples(NOW - 4 * HOUR, [1620] * 600))
    photo = keep_photo(ines, chart.number, "front", Photo(chart_png(), "a.png", "image/png"), "", on().form_id)
    if name == "chart-compare":
        row = fitted(plant, photo, marks())
        assert row.number
        return (
            reverse("records:chart-over", args=[chart.number, photo.number]),
            reverse("records:chart-compare", args=[chart.number, photo.number]),
        )
    at = reverse(f"records:{name}", args=[chart.number, photo.number])
    return at, at


@pytest.mark.slow
@pytest.mark.parametrize("name", [*FORMS, *OF_PHOTOS])
def test_no_body_breaks_a_form(name: str, plant: Plant, client_for: Callable[..., Client]) -> None:
    """Each body is answered below 500; a page that shows its form again wrote nothing; each is undone afterwards."""
    shown_at, address = address_of(name, plant)
    client = client_for(plant.people.wren)
    shown = client.get(shown_at)
    assert shown.status_code == 200
    offers = Fields(shown.content.decode()).offers
    assert offers
    right = signed_by(plant, "wren")
    cookies = dict(client.cookies.items())

    @settings(
        max_examples=BODIES, deadline=None, derandomize=True, database=None, suppress_health_check=list(HealthCheck)
    )
    @given(body=bodies(offers, "wren"), signs=st.booleans())
    def send(body: dict[str, list[str]], signs: bool) -> None:
        client.cookies.clear()
        client.cookies.update(cookies)
        sent: dict[str, object] = {**body, **(right if signs and "signer" in offers else {})}
        if signs:
            sent["form_id"] = str(uuid.uuid4())
        with transaction.atomic():
            before = Entry.objects.exclude(kind="failed attempt").count()
            answer = client.post(address, sent)
            wrote = Entry.objects.exclude(kind="failed attempt").count() - before
            transaction.set_rollback(True)
        assert answer.status_code in (200, 302, 422), answer.status_code
        assert answer.status_code == 302 or wrote == 0

    send()
