"""Signing without being who one says: forms without components, with another's, twice under two roles."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.db import transaction
from django.test import Client

from plant.people.models import Role
from records.deviations import actions, holds
from records.deviations.models import Deviation, Disposition, Hold, HoldLift
from records.ledger.actions import WATCH, act
from records.ledger.models import Entry
from records.people.actions import grant_role
from records.people.models import FailedAttempt
from records.people.rights import PUBLIC, RIGHTS
from records.review import actions as review
from tests.conftest import Plant, actor_of
from tests.factories import PASSWORD, PIN
from tests.pages.routes import Route, routes
from tests.pages.test_any_body import Fields
from tests.pages.test_rights import WHO, known
from tests.records.deviations.made import answered, signed_by, the_hold, warm
from tests.records.reports.made import DAY, closed

pytestmark = pytest.mark.once  # what a page answers to a body is the same on both databases

Browser = Callable[..., Client]
SIGNED = [one for one in routes() if RIGHTS[one.name] != PUBLIC]


@pytest.fixture
def busy(plant: Plant) -> Plant:
    """A day that is closed and unsigned, with a deviation and a hold."""
    closed(plant)
    return plant


def parts_of(route: Route, plant: Plant) -> dict[str, Any]:
    """What stands in the book for a route's parts."""
    deviation, hold = Deviation.objects.first(), Hold.objects.first()
    assert deviation is not None and hold is not None  # the closed day has one of each
    numbers = {"deviation": deviation.number, "hold": hold.number, "disposition": hold.number}
    own: dict[str, Any] = {"shift": "early", "side": "leaving", "place": "operator", "part": "problem"}
    own["number"] = numbers.get(route.name.partition(":")[2].partition("-")[0], 1)
    return {**known(plant), "person_id": plant.people.tomas.id, **own}


def test_form_that_signs_takes_nothing_but_ones_own_fresh_components(busy: Plant, client_for: Browser) -> None:
    """Each form with a signature, filled as its page offers: without components, half, another's, wrong: no act."""
    tried = set()
    for route in SIGNED:
        address = route.address(parts_of(route, busy))
        for name in (WHO[role] for role in WHO if role in RIGHTS[route.name]):
            client = client_for(getattr(busy.people, name))
            page = client.get(address)
            if page.status_code != 200 or b"signer_secret" not in page.content:
                continue
            tried.add(route.name)
            offers = Fields(page.content.decode()).offers
            body = {field: next((one for one in values if one), "a reason") for field, values in offers.items()}
            body = {field: value for field, value in body.items() if field not in ("signer", "signer_secret")}
            for signature in not_ones_own(busy, name):
                refuse(client, address, body | signature)
            break
    assert len(tried) > 15, tried


def not_ones_own(plant: Plant, name: str) -> list[dict[str, str]]:
    """Signatures that are not fresh, whole, right and the person's own."""
    by_pin = name in ("ines", "tomas")
    mine = signed_by(plant, name)
    others = {"ines": "tomas", "hanne": "wren"}.get(name, "ines" if by_pin else "hanne")
    other = signed_by(plant, others)
    return [
        {},
        {"signer": mine["signer"]},
        {"signer_secret": mine["signer_secret"]},
        other,
        {**mine, "signer": other["signer"]},
        {**mine, "signer_secret": PASSWORD if by_pin else PIN},
        {**mine, "signer": mine["signer"][::-1]},
    ]


def refuse(client: Client, address: str, body: dict[str, str]) -> None:
    """Nothing but the failed attempt is written; undone afterwards, so that nobody is locked meanwhile."""
    with transaction.atomic():
        before, failed = Entry.objects.count(), FailedAttempt.objects.count()
        client.post(address, body)
        written, wrong = Entry.objects.count() - before, FailedAttempt.objects.count() - failed
        transaction.set_rollback(True)
    assert written == wrong, (address, body)


def test_proposer_cannot_sign_again_under_another_role(plant: Plant) -> None:
    """A person with two roles is still one person: the second signature is refused in the second role too."""
    hold = the_hold(warm(plant))
    grant_role(plant.actor("admin"), plant.people.wren, Role.OWNER, "stands in")
    said = holds.propose_disposition(plant.actor("wren", "supervisor"), hold, "release", "Cooled within the hour.")
    with pytest.raises(Exception, match="another person"):
        holds.sign_disposition(plant.actor("wren", "owner"), said)
    assert not HoldLift.objects.exists()


@pytest.mark.parametrize("bar", ["pasteurization", "residue"])
@pytest.mark.parametrize("what", ["release", "rework", "sent to another use", "destroy ", "", "RELEASE"])
def test_barred_product_is_released_by_no_direct_post(
    bar: str, what: str, plant: Plant, client_for: Browser
) -> None:
    """What the page does not offer is refused when it is sent all the same; another hold of the lot is no way round."""
    first = the_hold(warm(plant))
    with act(WATCH) as a:
        holds.place_on_hold(
            a, lot=first.lot, lot_label=first.lot_label, vessel="silo-a", since_at=first.since_at, reason="barred",
            bars_release=bar,
        )  # fmt: skip
    client, before = client_for(plant.people.wren), Entry.objects.count()
    for hold in Hold.objects.all():
        body = {"what": what, "reason": "it smells fine", **signed_by(plant, "wren")}
        assert client.post(f"/holds/{hold.number}/disposition/", body).status_code == 422
    assert Entry.objects.count() == before and not Disposition.objects.exists()


def test_second_signature_takes_no_disposition_of_another_hold(plant: Plant, client_for: Browser) -> None:
    """A number changed in the form signs nothing."""
    hold = the_hold(warm(plant))
    holds.propose_disposition(plant.actor("wren"), hold, "release", "Cooled within the hour.")
    for given in ("0", "-1", str(hold.number), str(2**63), "9" * 30, "x"):
        body = {"disposition": given, "read": "on", **signed_by(plant, "odile")}
        assert client_for(plant.people.odile).post(f"/holds/{hold.number}/second/", body).status_code == 422
    assert not HoldLift.objects.exists()


def test_reader_closes_no_deviation_of_their_own(plant: Plant, client_for: Browser) -> None:
    """Not as an operator (403), nor after becoming a supervisor too."""
    found = warm(plant)
    answered(plant, found)
    address, body = f"/deviations/{found.number}/close/", {"text": "fine", **signed_by(plant, "ines")}
    assert client_for(plant.people.ines).post(address, body).status_code == 403
    grant_role(plant.actor("admin"), plant.people.ines, Role.SUPERVISOR, "promoted")
    with pytest.raises(Exception, match=r"closed yet|somebody else"):
        actions.close(actor_of(plant.people.ines, "supervisor"), found, "fine")


@pytest.mark.parametrize(
    ("who", "place"),
    [
        ("ines", "operator"),
        ("wren", "operator"),
        ("ines", "supervisor"),
        ("tomas", "supervisor"),
        ("wren", "supervisor"),
    ],
)
def test_sheet_is_signed_by_nobody_out_of_turn(who: str, place: str, busy: Plant, client_for: Browser) -> None:
    """Not in charge, not a reviewer, or before the operator in charge: sent back to the day, nothing signed."""
    before = Entry.objects.count()
    answer = client_for(getattr(busy.people, who)).post(
        f"/days/{DAY.isoformat()}/sign/{place}/", {"sheet": "1", **signed_by(busy, who)}
    )
    assert answer.status_code in (302, 422)
    assert Entry.objects.count() == before


def test_operator_in_charge_does_not_review_as_a_supervisor(busy: Plant) -> None:
    """Tomas, in charge and lately a supervisor, cannot give the second signature; nor can whoever's work the day is."""
    review.sign_sheet(busy.actor("tomas"), DAY, review.OPERATOR_IN_CHARGE)
    for name in ("tomas", "ines"):
        grant_role(busy.actor("admin"), getattr(busy.people, name), Role.QUALIFIED, "studied")
        with pytest.raises(Exception, match=r"somebody else|own work"):
            review.sign_sheet(actor_of(getattr(busy.people, name), "qualified individual"), DAY, review.SUPERVISOR)
