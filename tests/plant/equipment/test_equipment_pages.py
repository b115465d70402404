"""Vessels, equipment and instruments: lists, descriptions, labels."""

from decimal import Decimal

import pytest
import segno
from django.urls import reverse

from plant.equipment.models import Equipment, Instrument, Vessel

pytestmark = pytest.mark.django_db

SILO = {
    "code": "silo-b",
    "name": "Silo B",
    "kind": "silo",
    "stage": "raw",
    "storage_class": "raw storage",
    "holds_product": "on",
    "capacity": "2000",
    "unit": "gal",
    "flow_order": "11",
    "walk_order": "11",
    "is_active": "on",
}
THERMOMETER = {
    "code": "t-9",
    "name": "Dial",
    "role": "indicating thermometer",
    "unit": "°F",
    "low": "20",
    "high": "220",
    "resolution": "0.5",
    "accuracy": "1",
    "correction": "0",
    "calibration_due": "2027-01-31",
    "is_active": "on",
}


def test_the_list_shows_what_stands_in_the_plant(plant, client_for):
    """Every vessel, equipment and instrument is on the page."""
    text = client_for(plant.people.piet).get(reverse("plant:equipment")).content.decode()
    for one in [*Vessel.objects.all(), *Equipment.objects.all(), *Instrument.objects.all()]:
        assert one.name in text


def test_an_overdue_instrument_says_so(plant, client_for):
    """A calibration date that has passed is a word, not only a color."""
    Instrument.objects.update(calibration_due="2020-01-01")
    assert "overdue" in client_for(plant.people.piet).get(reverse("plant:equipment")).content.decode()


@pytest.mark.parametrize(
    ("table", "sent", "model"), [("vessel", SILO, Vessel), ("instrument", THERMOMETER, Instrument)]
)
def test_a_description_is_added(installed, browser_of, table, sent, model):
    """A new vessel or instrument is kept as typed."""
    page = browser_of(installed.odile).post(reverse("plant:thing-add", args=[table]), sent)
    assert page.status_code == 302
    assert model.objects.get(code=sent["code"]).name == sent["name"]


def test_before_an_approval_a_description_is_edited_in_place(installed, browser_of):
    """No plan stands on it, so no signature is asked; the code stays."""
    client = browser_of(installed.odile)
    client.post(reverse("plant:thing-add", args=["vessel"]), SILO)
    where = reverse("plant:thing", args=["vessel", "silo-b"])
    assert client.post(where, SILO | {"capacity": "2500.5", "code": "other"}).status_code == 302
    assert Vessel.objects.get(code="silo-b").capacity == Decimal("2500.5")
    assert not Vessel.objects.filter(code="other").exists()


def test_after_an_approval_editing_leads_to_the_signed_change(plant, client_for):
    """Once a plan stands on it, a change is signed, with a reason; this page writes nothing."""
    vessel = Vessel.objects.first()
    page = client_for(plant.people.odile).post(reverse("plant:thing", args=["vessel", vessel.code]), SILO)
    assert page.status_code == 302
    assert page["Location"] == reverse("records:plant-revise", args=["vessel", vessel.code])
    assert Vessel.objects.get(id=vessel.id).name == vessel.name


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"capacity": "0"}, None),
        ({"capacity": "12,5"}, "capacity"),
        ({"capacity": "1" * 30}, "capacity"),
        ({"flow_order": "-1"}, "flow_order"),
        ({"name": ""}, "name"),
        ({"name": "x" * 200}, "name"),
        ({"kind": "barrel"}, "kind"),
        ({"code": "silo b"}, "code"),
        ({"code": ""}, "code"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_saved(installed, browser_of, changes, field):
    """Each slip gets a sentence at its field, and no vessel."""
    page = browser_of(installed.odile).post(reverse("plant:thing-add", args=["vessel"]), SILO | changes)
    assert page.status_code == 200
    assert (field or "__all__") in page.context["form"].errors
    assert not Vessel.objects.exists()


def test_an_instrument_without_width_is_refused(installed, browser_of):
    """Its highest reading lies above its lowest."""
    sent = THERMOMETER | {"high": "20"}
    page = browser_of(installed.odile).post(reverse("plant:thing-add", args=["instrument"]), sent)
    assert page.context["form"].errors
    assert not Instrument.objects.exists()


@pytest.mark.parametrize("who", ["ines", "wren", "piet", "guest", "admin"])
def test_others_may_not_change_the_plant(plant, client_for, who):
    """Only the qualified individual and the owner describe the plant."""
    client = client_for(getattr(plant.people, who))
    assert client.post(reverse("plant:thing-add", args=["vessel"]), SILO).status_code == 403
    assert not Vessel.objects.filter(code="silo-b").exists()


def test_an_unknown_table_or_code_is_not_found(installed, browser_of):
    """Nothing else can be edited by this address."""
    client = browser_of(installed.odile)
    assert client.get(reverse("plant:thing-add", args=["person"])).status_code == 404
    assert client.get(reverse("plant:thing", args=["vessel", "none"])).status_code == 404


def test_a_label_is_the_symbol_of_the_round_at_its_vessel(plant, client_for):
    """It has the squares of the address and the border of four that a scanner needs (ISO/IEC 18004, from memory)."""
    vessel = Vessel.objects.first()
    page = client_for(plant.people.ines).get(reverse("plant:qr", args=[vessel.code]))
    made = segno.make(f"http://testserver{reverse('records:at', args=[vessel.code])}", error="q", micro=False)
    side = made.symbol_size(scale=1, border=0)[0] + 2 * 4
    assert page["Content-Type"] == "image/svg+xml"
    assert f'width="{4 * side}" height="{4 * side}"' in page.content.decode()
    path = made.svg_inline(scale=4, border=4).split(' d="')[1].split('"')[0]
    assert f' d="{path}"' in page.content.decode()


def test_the_sheet_has_a_label_for_each_vessel_in_use(plant, client_for):
    """One picture a vessel; one alone when asked; none and no error for nonsense."""
    Vessel.objects.filter(code=Vessel.objects.last().code).update(is_active=False)
    client = client_for(plant.people.ines)
    text = client.get(reverse("plant:labels")).content.decode()
    assert text.count("<img") == Vessel.objects.filter(is_active=True).count()
    one = Vessel.objects.filter(is_active=True).first().code
    assert client.get(reverse("plant:labels"), {"vessel": one}).content.decode().count("<img") == 1
    assert client.get(reverse("plant:labels"), {"vessel": "\x00<script>"}).status_code == 200


def test_a_scanned_label_leads_to_its_vessel(plant, client_for):
    """The address on the label is that of the round at the vessel."""
    vessel = Vessel.objects.first()
    page = client_for(plant.people.ines).get(reverse("records:at", args=[vessel.code]), follow=True)
    assert page.status_code == 200
    assert vessel.name in page.content.decode()


def test_a_scanned_label_asks_a_stranger_to_sign_in(plant, client):
    """A label opens nothing by itself."""
    page = client.get(reverse("records:at", args=[Vessel.objects.first().code]))
    assert page["Location"].startswith(reverse("records:sign-in"))
