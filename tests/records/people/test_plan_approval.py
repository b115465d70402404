"""Approving a plan: two people sign, and it is frozen whole."""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import replace
from datetime import timedelta

import pytest
from django.db import DatabaseError, transaction
from django.test import Client

from plant import clock
from plant.hazard_plan.content import from_json
from plant.hazard_plan.models import PlanVersion
from plant.hazard_plan.tidy import tidy
from plant.hazard_plan.written import plan_of, store
from records.ledger.models import Entry
from records.people.models import PlanApproval, PlanSignature
from records.people.plan_actions import OWNER_SIGNS, QUALIFIED_SIGNS, frozen, sign_plan
from records.people.plans import plan_in_force
from records.people.refused import Refused
from tests.conftest import NOW, Plant
from tests.factories import PASSWORD, small_plan


@pytest.fixture
def draft(plant: Plant) -> PlanVersion:
    """Version 2, as a draft, with another title."""
    return store(small_plan(title="Quillbrook, second"), plant.people.odile, clock.now())


def sign_both(plant: Plant, draft: PlanVersion, **more: object) -> PlanApproval:
    """Odile signs, then Hanne."""
    sign_plan(plant.actor("odile"), draft, QUALIFIED_SIGNS)
    done = sign_plan(plant.actor("hanne"), draft, OWNER_SIGNS, **more)  # type: ignore[arg-type]
    assert isinstance(done, PlanApproval)
    return done


def test_second_signature_approves(plant: Plant, draft: PlanVersion) -> None:
    """One signature approves nothing; the second brings the version into force at once."""
    first = sign_plan(plant.actor("odile"), draft, QUALIFIED_SIGNS)
    assert isinstance(first, PlanSignature) and PlanApproval.objects.count() == 1
    sign_plan(plant.actor("hanne"), draft, OWNER_SIGNS)
    in_force = plan_in_force(NOW)
    assert in_force is not None and (in_force.number, in_force.in_force_from) == (2, NOW)


def test_approval_holds_the_whole_plan(plant: Plant, draft: PlanVersion) -> None:
    """The frozen text gives the plan back, and its SHA-256 is what was signed."""
    approval = sign_both(plant, draft)
    assert from_json(json.loads(approval.plan)) == tidy(small_plan(title="Quillbrook, second"))
    assert hashlib.sha256(approval.plan.encode()).hexdigest() == approval.content_hash
    assert set(PlanSignature.objects.filter(version_id=draft.id).values_list("content_hash", flat=True)) == {
        approval.content_hash
    }


def test_one_person_cannot_sign_both(plant: Plant, draft: PlanVersion) -> None:
    """Holding both roles is not being two people."""
    from records.people.actions import grant_role

    grant_role(plant.actor("admin"), plant.people.hanne, "qualified individual", "studied")
    sign_plan(plant.actor("hanne"), draft, QUALIFIED_SIGNS)
    with pytest.raises(Refused, match="Two different people"):
        sign_plan(plant.actor("hanne"), draft, OWNER_SIGNS)


@pytest.mark.parametrize(
    ("who", "meaning"),
    [
        ("wren", QUALIFIED_SIGNS),
        ("wren", OWNER_SIGNS),
        ("hanne", QUALIFIED_SIGNS),
        ("odile", OWNER_SIGNS),
        ("admin", OWNER_SIGNS),
        ("ines", OWNER_SIGNS),
        ("odile", "just so"),
    ],
)
def test_signature_of_another_role_is_refused(plant: Plant, draft: PlanVersion, who: str, meaning: str) -> None:
    """Each signature takes its own role."""
    with pytest.raises(Refused):
        sign_plan(plant.actor(who), draft, meaning)
    assert not PlanSignature.objects.filter(version_id=draft.id).exists()


def test_signing_twice_writes_once(plant: Plant, draft: PlanVersion) -> None:
    """The same person, the same content: the signature there is."""
    first = sign_plan(plant.actor("odile"), draft, QUALIFIED_SIGNS)
    count = Entry.objects.count()
    assert sign_plan(plant.actor("odile"), draft, QUALIFIED_SIGNS) == first
    assert Entry.objects.count() == count


def test_changed_draft_needs_both_signatures_again(plant: Plant, draft: PlanVersion) -> None:
    """A signature stands for the content that was read, no other."""
    sign_plan(plant.actor("odile"), draft, QUALIFIED_SIGNS)
    draft.title = "Quillbrook, third thoughts"
    draft.save()
    assert isinstance(sign_plan(plant.actor("hanne"), draft, OWNER_SIGNS), PlanSignature)
    assert not PlanApproval.objects.filter(version_id=draft.id).exists()


def test_content_that_changed_while_it_was_read_is_not_signed(plant: Plant, draft: PlanVersion) -> None:
    """The form names the hash it showed."""
    seen = frozen(draft)[1]
    draft.title = "Quillbrook, changed meanwhile"
    draft.save()
    with pytest.raises(Refused, match="changed since"):
        sign_plan(plant.actor("odile"), draft, QUALIFIED_SIGNS, signed_hash=seen)


def test_version_never_comes_into_force_earlier(plant: Plant, draft: PlanVersion) -> None:
    """A time before the approval is refused, and nothing is written."""
    count = Entry.objects.count()
    with pytest.raises(Refused) as refused:
        sign_both(plant, draft, in_force_from=NOW - timedelta(seconds=1))
    assert refused.value.field == "in_force_from" and not PlanApproval.objects.filter(version_id=draft.id).exists()
    assert Entry.objects.count() == count + 1  # the first signature


def test_version_may_come_into_force_later(plant: Plant, draft: PlanVersion) -> None:
    """Until then the earlier one stands."""
    starts = NOW + timedelta(days=3)
    sign_both(plant, draft, in_force_from=starts)
    assert [plan_in_force(at).number for at in (NOW, starts - timedelta(microseconds=1), starts)] == [1, 1, 2]  # type: ignore[union-attr]


def test_versions_come_into_force_one_after_the_other(plant: Plant, draft: PlanVersion) -> None:
    """None slips in before one that is approved already."""
    sign_both(plant, draft, in_force_from=NOW + timedelta(days=3))
    third = store(small_plan(title="Quillbrook, third"), plant.people.odile, clock.now())
    sign_plan(plant.actor("odile"), third, QUALIFIED_SIGNS)
    with pytest.raises(Refused):
        sign_plan(plant.actor("hanne"), third, OWNER_SIGNS)


def test_approved_version_is_refused_any_signature(plant: Plant, draft: PlanVersion) -> None:
    """Nothing about it changes."""
    sign_both(plant, draft)
    with pytest.raises(Refused, match="approved already"):
        sign_plan(plant.actor("odile"), draft, QUALIFIED_SIGNS)


@pytest.mark.parametrize("rows", ["limits", "monitoring", "control_points", "steps", "hazards"])
def test_nothing_under_an_approved_version_changes(plant: Plant, draft: PlanVersion, rows: str) -> None:
    """The database itself refuses."""
    from plant.hazard_plan.stored import TABLES

    sign_both(plant, draft)
    table = TABLES[rows][0]._default_manager
    with pytest.raises(DatabaseError), transaction.atomic():
        table.filter(version=draft).update(place=99)
    with pytest.raises(DatabaseError), transaction.atomic():
        table.filter(version=draft).delete()
    assert plan_of(draft) == tidy(small_plan(title="Quillbrook, second"))


def test_plan_that_cannot_be_worked_is_not_approved(plant: Plant) -> None:
    """A plan without a shift would stop every page: it is refused with its sentence."""
    broken = store(replace(small_plan(), title="No shift", shifts=()), plant.people.odile, clock.now())
    with pytest.raises(Refused, match="at least one shift"):
        sign_plan(plant.actor("odile"), broken, QUALIFIED_SIGNS)


# --- the page


def form_of(client: Client, number: int) -> dict[str, str]:
    """What the page's form holds."""
    page = client.get(f"/plan/{number}/approve/").content.decode()
    found = re.search(r'name="signed_hash" value="([0-9a-f]{64})"', page)
    assert found
    return {"signed_hash": found[1]}


def test_page_signs_and_approves(plant: Plant, draft: PlanVersion, client_for) -> None:
    """Odile and then Hanne sign on the page; the plan is in force."""
    for who in ("odile", "hanne"):
        client = client_for(getattr(plant.people, who))
        sent = {**form_of(client, 2), "signer": who, "signer_secret": PASSWORD}
        assert client.post("/plan/2/approve/", sent).status_code == 302
    assert plan_in_force(NOW).number == 2  # type: ignore[union-attr]


def test_page_reads_the_time_as_the_plants(plant: Plant, draft: PlanVersion, client_for) -> None:
    """05:00 is five in the morning in Chicago."""
    sign_plan(plant.actor("odile"), draft, QUALIFIED_SIGNS)
    client = client_for(plant.people.hanne)
    sent = {**form_of(client, 2), "signer": "hanne", "signer_secret": PASSWORD, "in_force_from": "2026-03-05T05:00"}
    assert client.post("/plan/2/approve/", sent).status_code == 302
    assert PlanApproval.objects.get(version_id=draft.id).in_force_from.isoformat() == "2026-03-05T11:00:00+00:00"


@pytest.mark.parametrize(
    "wrong",
    [
        {"signer_secret": "wrong"},
        {"signer": "odile"},
        {"signer": ""},
        {"signer_secret": ""},
        {"signed_hash": "0" * 64},
        {"signed_hash": "\0"},
        {"in_force_from": "2020-01-01T00:00"},
        {"in_force_from": "soon"},
        {"in_force_from": "9999-12-31T23:59"},
        {"in_force_from": "0001-01-01T00:00"},
    ],
)
def test_invalid_page_form_shows_its_errors_and_writes_nothing(
    plant: Plant, draft: PlanVersion, client_for, wrong: dict[str, str]
) -> None:
    """A wrong component or field is answered beside it; no signature is written."""
    sign_plan(plant.actor("odile"), draft, QUALIFIED_SIGNS)
    client = client_for(plant.people.hanne)
    sent = {**form_of(client, 2), "signer": "hanne", "signer_secret": PASSWORD, **wrong}
    answer = client.post("/plan/2/approve/", sent)
    assert answer.status_code == 200 and b"data-errors" in answer.content
    assert PlanSignature.objects.filter(version_id=draft.id).count() == 1


def test_getting_the_page_writes_nothing(plant: Plant, draft: PlanVersion, client_for) -> None:
    """GET changes nothing."""
    count = Entry.objects.count()
    assert client_for(plant.people.odile).get("/plan/2/approve/").status_code == 200
    assert Entry.objects.count() == count


def test_page_of_another_role_is_refused(plant: Plant, draft: PlanVersion, client_for) -> None:
    """A supervisor approves no plan."""
    assert client_for(plant.people.wren).get("/plan/2/approve/").status_code == 403


def test_unknown_version_is_no_page(plant: Plant, client_for) -> None:
    """404, not an error."""
    assert client_for(plant.people.odile).get("/plan/99/approve/").status_code == 404
