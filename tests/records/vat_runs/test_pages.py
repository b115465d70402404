"""The pages of vat runs: a run from its beginning to its end by what a person types; nonsense beside its field."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from records.ledger.models import Entry
from records.people.plans import plan_in_force
from records.vat_runs.models import HOLD_ENDED, VatEvent
from tests.conftest import NOW, Plant
from tests.records.freezer_runs.test_pages import local, send, text
from tests.records.vat_runs.made import LOOKED, begun, held, ready_plant

pytestmark = pytest.mark.django_db
READ = {"unit": "°F", "indicating": "146", "recording": "145.5", "air_space": "151"}


@pytest.fixture
def ines(plant: Plant, client_for: Callable[..., Client]) -> Client:
    """An operator's browser; milk in the vat."""
    ready_plant(plant)
    return client_for(plant.people.ines)


def test_a_run_by_its_pages(plant: Plant, ines: Client) -> None:
    """Begun, asked, held, judged, refused, amended, emptied, ended; each step leads back to the run's page."""
    assert reverse("records:vat-runs") in text(ines.get(reverse("records:runs")))
    page = text(send(ines, reverse("records:vat-run-new") + "?vat=vat-1", 50, product="whole-milk", chart_number=""))
    run = VatEvent.objects.get().number
    assert "145 °F for 30 min (21 CFR 1240.61(b))" in page and "air space 150 °F or above (3 CCR 584(b))" in page
    assert "number of the chart" in page and "No hold is recorded." in page

    def event(slug: str, minutes: int, **typed: Any) -> str:
        return text(send(ines, reverse("records:vat-run-event", args=[run, slug]), minutes, **typed))

    assert "in limits" in event("hold", 60, **READ, **LOOKED)
    page = event("read", 75, **{**READ, "air_space": "149.9"})
    assert "out of limits" in page and "Air space 149.9 °F, 150 °F at least (3 CCR 584(b))" in page
    page = event("hold-ended", 90, **READ, fill_min="0", empty_min="0")
    assert "hold ended" in page and "Deviation" in page
    outlet = reverse("records:vat-run-opened", args=[run])
    body = {"target": "finished-1", "via": ""}
    assert "Air space 149.9" in text(send(ines, outlet, 95, **body, begins_now="1"))
    cold = VatEvent.objects.get(what="read")
    address = reverse("records:vat-run-amend", args=[cold.number])
    assert 'value="149.9"' in text(ines.get(address))
    page = text(send(ines, address, 75, **READ, reason="I read the wrong thermometer"))
    assert 'class="struck"' in page and "This stands against opening the outlet" not in page
    held_still = text(send(ines, outlet, 95, **body, begins_now="1"))
    assert "is on hold" in held_still  # amending releases nothing: two people have to dispose of it
    page = text(send(ines, outlet, 95, **body))
    assert "outlet open" in page
    much = {"quantity": "100", "unit": "gal", "measured_by": "level", "uncertainty": ""}
    assert "Enter how much it was" in text(
        send(ines, reverse("records:vat-run-shut", args=[run]), 110, **{**much, "quantity": ""})
    )
    send(ines, reverse("records:vat-run-shut", args=[run]), 110, **much)
    assert ">ended<" in event("ended", 111)
    assert "in limits" in text(ines.get(reverse("records:vat-runs")))


def test_what_makes_no_sense_stands_beside_its_field_and_is_kept(plant: Plant, ines: Client) -> None:
    """Still to come, a slipped digit, letters, a look that nobody answered, addresses that are none."""
    run = begun(plant.actor("ines"))
    before = Entry.objects.count()
    hold = reverse("records:vat-run-event", args=[run, "hold"])
    page = text(send(ines, hold, 500, unit="K", indicating="14<6", recording="", air_space=""))
    assert "still to come" in page and "14&lt;6" in page and page.count("Choose one.") >= 4
    page = text(send(ines, hold, 60, **{**READ, **LOOKED, "indicating": "1460"}))
    assert "No vat is as cold or as hot as this" in page and 'value="1460"' in page
    ended = reverse("records:vat-run-event", args=[run, "hold-ended"])
    assert "no hold goes on" in text(send(ines, ended, 60, **READ, fill_min="0", empty_min="0"))
    assert Entry.objects.count() == before
    for address in (f"/vat-runs/{2**70}/", "/vat-runs/1/", f"/vat-runs/{run}/say/nothing/",
                    "/vat-runs/events/999999/amend/"):  # fmt: skip
        assert ines.get(address).status_code == 404


def test_who_may_and_what_it_costs(
    plant: Plant, client_for: Callable[..., Client], django_assert_max_num_queries: Any
) -> None:
    """Maintenance reads; a plan without such a vat says so; few queries."""
    ready_plant(plant)
    run = begun(plant.actor("ines"))
    held(plant.actor("ines"), run)
    assert VatEvent.objects.filter(what=HOLD_ENDED).count() == 1 and plan_in_force(NOW) is not None and local(0)
    piet = client_for(plant.people.piet)
    piet.get(reverse("records:vat-run", args=[run]))
    with django_assert_max_num_queries(60):
        assert piet.get(reverse("records:vat-run", args=[run])).status_code == 200
    assert piet.get(reverse("records:vat-run-event", args=[run, "hold"])).status_code == 403
