"""Products: the list and their descriptions."""

import pytest
from django.urls import reverse

from plant.products.models import Product

pytestmark = pytest.mark.django_db

CUSTARD = {
    "code": "vanilla-custard",
    "name": "Vanilla custard",
    "family": "mix",
    "product_class": "mix",
    "fat_percent": "10",
    "allergens": "milk, eggs",
    "is_sold": "on",
    "is_active": "on",
}


def test_the_list_shows_class_and_allergens(plant, client_for):
    """Every product stands with what its limits and its label depend on."""
    text = client_for(plant.people.wren).get(reverse("plant:products")).content.decode()
    for one in Product.objects.all():
        assert one.name in text
    assert "milk" in text


def test_a_product_is_added_with_its_allergens(installed, browser_of):
    """Allergens are a list, typed with commas."""
    assert browser_of(installed.odile).post(reverse("plant:product-add"), CUSTARD).status_code == 302
    assert Product.objects.get(code="vanilla-custard").allergens == ["milk", "eggs"]


def test_before_an_approval_a_product_is_edited_in_place(installed, browser_of):
    """What the form shows, it saves; the allergens come back as typed."""
    client = browser_of(installed.odile)
    client.post(reverse("plant:product-add"), CUSTARD)
    where = reverse("plant:product", args=["vanilla-custard"])
    assert 'value="milk, eggs"' in client.get(where).content.decode()
    assert client.post(where, CUSTARD | {"allergens": "milk"}).status_code == 302
    assert Product.objects.get(code="vanilla-custard").allergens == ["milk"]


def test_after_an_approval_editing_leads_to_the_signed_change(plant, client_for):
    """Once a plan stands on it, a change is signed."""
    product = Product.objects.first()
    page = client_for(plant.people.odile).get(reverse("plant:product", args=[product.code]))
    assert page["Location"] == reverse("records:plant-revise", args=["product", product.code])


@pytest.mark.parametrize("changes", [{"fat_percent": "101"}, {"fat_percent": "ten"}, {"name": ""}, {"family": "soup"}])
def test_what_is_wrong_is_said_and_nothing_saved(installed, browser_of, changes):
    """A slip is a sentence, not a product."""
    page = browser_of(installed.odile).post(reverse("plant:product-add"), CUSTARD | changes)
    assert page.status_code == 200
    assert page.context["form"].errors
    assert not Product.objects.exists()


def test_operators_may_read_and_not_change(plant, client_for):
    """The list is open to the floor; changing is not."""
    client = client_for(plant.people.ines)
    assert client.get(reverse("plant:products")).status_code == 200
    assert client.post(reverse("plant:product-add"), CUSTARD).status_code == 403
