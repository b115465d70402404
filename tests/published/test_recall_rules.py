"""Recalls and releases, clause by clause: what the rule asks a record to have, asked of the forms, records and pages.

Sources (addresses of the R-numbers: [sources] of plant/rules/us.toml): 21 CFR 117.139(b) (text consulted: R43); 21 CFR
117.315(a), two years (a secondary text, R100, and the twin 121.315(a), R101, were read); 21 CFR 1.345(a) and (b) (text
consulted: R93; its item (a)(3), the date of release, from memory, and so are the numbers of the other items). What
117.139 asks of the written plan itself, who is assigned to each step, lies outside this book: it says who did it.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable

import pytest
from django.test import Client

from plant.people.models import Person
from records.ledger.content_fields import FIELDS
from records.lots.models import Lot
from records.recall import state
from records.recall.models import Dispatch, ProductReturned, RecallBegun, RecallStep
from tests.conftest import Plant
from tests.factories import PASSWORD
from tests.records.recall.made import a_day

pytestmark = pytest.mark.django_db
Browser = Callable[[Person], Client]

# Clause, what it asks for, the field of the form, what is typed there. Of 21 CFR 1.345(a).
RELEASED = (
    ("1.345(a)(1)", "name of the recipient", "consignee", "Corner shop"),
    ("1.345(a)(1)", "its address", "address", "1 Mill Lane, Quillbrook"),
    ("1.345(a)(1)", "its telephone number", "phone", "555 0100"),
    ("1.345(a)(1)", "fax number and e-mail, if it has them", "email", "shop@quillbrook.example"),
    ("1.345(a)(3)", "date of release", "dispatched_at", "2026-03-03T09:10"),
    ("1.345(a)(4)", "lot or code number, of who packs", "code", "WM 0303"),
    ("1.345(a)(5)", "quantity", "quantity", "80"),
    ("1.345(a)(5)", "how the food is packaged", "packed_as", "half-gallon jugs, 9 to a crate"),
    ("1.345(a)(6)", "transporter with address and telephone", "carrier", "Brook Haulage, 2 Ford Road, 555 0111"),
)
BODY = {"unit": "gal"} | {field: typed for _clause, _asked, field, typed in RELEASED}
# Step of a recall by its address, its clause in the list of what a recall must have, and what is posted.
STEPS = (
    ("notice", "117.139(b)(1)", {"consignee": "Corner shop", "words": "by telephone: keep it apart, we fetch it"}),
    ("effectiveness-check", "117.139(b)(3)", {"consignee": "Corner shop", "words": "called back: all off the shelf"}),
    ("public-notice", "117.139(b)(2)", {"words": "not told: none was sold"}),
    ("returned", "117.139(b)(4)", {"code": "WM 0303", "consignee": "Corner shop", "quantity": "80", "unit": "gal"}),
    ("located", "117.139(b)(4)", {"code": "WM 0303", "quantity": "70", "unit": "gal"}),
    ("destroyed", "117.139(b)(4)", {"code": "WM 0303", "quantity": "150", "unit": "gal", "words": "to the digester"}),
)


@pytest.fixture
def day(plant: Plant) -> Plant:
    """150 gal of WM 0303 packed, of two farms."""
    a_day(plant)
    return plant


@pytest.fixture
def recall(day: Plant, client_for: Browser) -> int:
    """80 gal of it to a shop, and a recall of it begun, by forms alone."""
    wren = client_for(day.people.wren)
    assert wren.post("/dispatch/new/", BODY | {"form_id": str(uuid.uuid4())}).status_code == 302
    said = {"form_id": str(uuid.uuid4()), "kind": "recall", "reason": "a foreign taste", "begun_at": "2026-03-03T09:15",
            "signer": "wren", "signer_secret": PASSWORD}  # fmt: skip
    assert wren.post("/recall/new/?code=WM+0303", said).status_code == 302
    return RecallBegun.objects.get().number


@pytest.mark.parametrize(("clause", "asked", "field", "typed"), RELEASED)
def test_a_release_has_what_the_rule_asks(
    day: Plant, client_for: Browser, clause: str, asked: str, field: str, typed: str
) -> None:
    """A field for it, its content in the ledger and on the page; nothing of it is lost when another one is wrong."""
    client = client_for(day.people.ines)
    assert f'name="{field}"' in client.get("/dispatch/new/").content.decode(), (clause, asked)
    wrong = client.post("/dispatch/new/", BODY | {"form_id": str(uuid.uuid4()), "unit": "furlong"})
    assert wrong.status_code == 422 and typed in wrong.content.decode() and not Dispatch.objects.exists()
    assert client.post("/dispatch/new/", BODY | {"form_id": str(uuid.uuid4())}).status_code == 302
    row = Dispatch.objects.get()
    column = "quantity_typed" if field == "quantity" else field
    assert column in FIELDS[Dispatch.KIND][row.content_version], (clause, asked)
    page = client.get(f"/dispatch/{row.number}/").content.decode()
    if field == "dispatched_at":
        assert f"{row.dispatched_at:%M}" == "10" and "09:10" in page
    else:
        assert getattr(row, column) == typed and typed in page


def test_a_release_names_food_and_variety(day: Plant, client_for: Browser) -> None:
    """1.345(a)(2): an adequate description. Who types the code types no product: it is that of the packed lot."""
    client = client_for(day.people.ines)
    client.post("/dispatch/new/", BODY | {"form_id": str(uuid.uuid4())})
    row = Dispatch.objects.get()
    assert (row.product, row.product_name) == ("whole-milk", "Whole milk")
    assert "Whole milk WM 0303" in client.get(f"/dispatch/{row.number}/").content.decode()


@pytest.mark.parametrize("missing", ["consignee", "address", "code", "dispatched_at", "quantity"])
def test_what_a_release_cannot_be_without(day: Plant, client_for: Browser, missing: str) -> None:
    """1.345(a): the recipient, address, code, date and quantity are asked for, each beside its field."""
    client = client_for(day.people.ines)
    page = client.post("/dispatch/new/", BODY | {"form_id": str(uuid.uuid4()), missing: ""})
    assert page.status_code == 422 and f'id="id_{missing}_error"' in page.content.decode()
    assert not Dispatch.objects.exists()


def test_sources_of_a_released_lot(day: Plant, client_for: Browser) -> None:
    """1.345(b): the specific source of each ingredient of the lot, by what is reasonably available: both farms."""
    lot = Lot.objects.get(code="WM 0303")
    page = client_for(day.people.guest).get(f"/tub/{lot.id}/").content.decode()
    assert "Nettle Farm" in page and "Oxbow Farm" in page


def test_the_notice_has_what_it_takes_to_reach_each_recipient(day: Plant, recall: int, client_for: Browser) -> None:
    """117.139(b)(1) with 1.345(a)(1): page and CSV of the scope name address, telephone and e-mail."""
    client = client_for(day.people.wren)
    for address in ("/recall/scope/?code=WM+0303", "/recall/scope.csv?code=WM+0303"):
        page = client.get(address).content.decode()
        for wanted in ("Corner shop", "1 Mill Lane, Quillbrook", "555 0100", "shop@quillbrook.example"):
            assert wanted in page, (address, wanted)


def test_a_recall_lacks_each_step_of_the_plan_until_it_is_recorded(
    day: Plant, recall: int, client_for: Browser
) -> None:
    """117.139(b)(1) to (4): each is named as missing, by its paragraph, and ticked by the record of it alone."""
    client = client_for(day.people.wren)

    def lacks() -> set[str]:
        found = state.recall_of(recall)
        assert found is not None
        page = client.get(f"/recall/{recall}/").content.decode()
        assert page.count("□") == len(state.missing(found))
        return {clause for clause in PARAGRAPHS if any(clause in one for one in state.missing(found))}

    assert lacks() == PARAGRAPHS
    for slug, clause, said in STEPS:
        assert client.post(f"/recall/{recall}/say/{slug}/", {
            "form_id": str(uuid.uuid4()), "happened_at": "2026-03-03T09:25", **said,
        }).status_code == 302, slug  # fmt: skip
        if slug != "located":  # with it all that was made is found; destroying is said beyond that
            assert (clause in lacks()) == (slug == "returned"), slug
    assert lacks() == set()
    page = client.get(f"/recall/{recall}/").content.decode()
    for row in RecallStep.objects.all():
        assert row.words in page and row.by_name in page and row.by_name == "Wren Castell"


PARAGRAPHS = {clause for _slug, clause, _said in STEPS}


def test_paragraphs_are_those_of_the_rule() -> None:
    """Four: consignees, public, effectiveness checks, disposition (R43)."""
    assert sorted(PARAGRAPHS) == [f"117.139(b)({number})" for number in (1, 2, 3, 4)]


def test_records_are_kept_two_years_from_their_preparation(day: Plant, recall: int, client_for: Browser) -> None:
    """117.315(a): dispatch, recall and return say the day, two years on to the day; no page deletes any of them."""
    client = client_for(day.people.wren)
    back = {"form_id": str(uuid.uuid4()), "code": "WM 0303", "consignee": "Corner shop", "quantity": "80",
            "unit": "gal", "returned_at": "2026-03-03T09:25", "condition": "whole", "reason": "recalled",
            "kept_where": "cage 2", "recall": str(recall)}  # fmt: skip
    assert client.post("/returns/new/", back).status_code == 302
    addresses = [
        f"/dispatch/{Dispatch.objects.get().number}/", f"/recall/{recall}/",
        f"/returns/{ProductReturned.objects.get().number}/",
    ]  # fmt: skip
    for address in addresses:
        assert "To be kept until 2028-03-03 at least" in client.get(address).content.decode(), address
        assert client.delete(address).status_code == 405
