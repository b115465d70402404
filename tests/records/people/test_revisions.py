"""A description of the plant changed after an approval."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from plant.equipment.models import Instrument, Vessel
from records.ledger.models import Entry
from records.people.models import PlantRevision
from records.people.refused import Refused
from records.people.revisions import revise
from tests.conftest import Plant
from tests.factories import PASSWORD


def test_change_is_kept_before_and_after_with_its_reason(plant: Plant) -> None:
    """The record says what it was, what it is, why, and who."""
    silo = Vessel.objects.get(code="silo-a")
    row = revise(plant.actor("odile"), "vessel", silo, {"capacity": Decimal("3100"), "name": "Silo A"}, "measured anew")
    assert row is not None
    assert (row.before, row.after, row.by_name) == ({"capacity": "3000"}, {"capacity": "3100"}, "Odile Marsh")
    assert Vessel.objects.get(code="silo-a").capacity == 3100


def test_same_values_write_nothing(plant: Plant) -> None:
    """A repeat is not a change."""
    silo = Vessel.objects.get(code="silo-a")
    assert revise(plant.actor("odile"), "vessel", silo, {"capacity": Decimal("3000.000")}, "again") is None
    assert not PlantRevision.objects.exists()


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"code": "silo-z"}, "renamed"),
        ({"id": "x"}, "renamed"),
        ({"capacity": Decimal("-1")}, "measured"),
        ({"kind": "bucket"}, "measured"),
        ({"name": "Silo"}, " "),
        ({"name": "Silo"}, "x" * 3000),
    ],
)
def test_bad_change_is_refused(plant: Plant, changes: dict[str, Any], reason: str) -> None:
    """Codes stay, columns keep their promises, a reason is given; nothing is written."""
    with pytest.raises(Refused):
        revise(plant.actor("odile"), "vessel", Vessel.objects.get(code="silo-a"), changes, reason)
    assert not PlantRevision.objects.exists()


@pytest.mark.parametrize(
    ("table", "code"), [("vessel", "silo-a"), ("instrument", "T-04"), ("equipment", "traps"), ("product", "raw-milk")]
)
def test_page_shows_every_kind(plant: Plant, client_for, table: str, code: str) -> None:
    """Each kind has its form, and sending it unchanged writes nothing."""
    client = client_for(plant.people.odile)
    address = f"/revise/{table}/{code}/"
    answer = client.get(address)
    assert answer.status_code == 200
    form = answer.context["form"]
    sent = {name: form[name].value() for name in form.names_of_columns if form[name].value() not in (None, False)}
    sent = {name: value.isoformat() if isinstance(value, date) else value for name, value in sent.items()}
    sent |= {"reason": "looked again", "signer": "odile", "signer_secret": PASSWORD}
    count = Entry.objects.count()
    assert client.post(address, sent).status_code == 302
    assert Entry.objects.count() == count


def test_page_changes_an_instrument(plant: Plant, client_for) -> None:
    """A new calibration date, signed."""
    client = client_for(plant.people.odile)
    form = client.get("/revise/instrument/T-04/").context["form"]
    sent = {name: form[name].value() for name in form.names_of_columns if form[name].value() not in (None, False)}
    sent |= {
        "calibration_due": "2027-06-30",
        "reason": "calibrated",
        "signer": "odile",
        "signer_secret": PASSWORD,
    }
    assert client.post("/revise/instrument/T-04/", sent).status_code == 302
    assert Instrument.objects.get(code="T-04").calibration_due == date(2027, 6, 30)
    assert PlantRevision.objects.get().after == {"calibration_due": "2027-06-30"}


def test_wrong_password_changes_nothing(plant: Plant, client_for) -> None:
    """Both components, afresh."""
    client = client_for(plant.people.odile)
    form = client.get("/revise/vessel/silo-a/").context["form"]
    sent = {name: form[name].value() for name in form.names_of_columns}
    answer = client.post(
        "/revise/vessel/silo-a/", {**sent, "name": "X", "reason": "y", "signer": "odile", "signer_secret": "wrong"}
    )
    assert answer.status_code == 200 and not PlantRevision.objects.exists()


@pytest.mark.parametrize("address", ["/revise/vessel/nowhere/", "/revise/person/ines/", "/revise/x/y/"])
def test_unknown_thing_is_no_page(plant: Plant, client_for, address: str) -> None:
    """404, not an error."""
    assert client_for(plant.people.odile).get(address).status_code == 404
