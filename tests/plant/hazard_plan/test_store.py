"""Draft rows and back: the same content, once; the plant's own rows before and after an approval."""

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from plant.equipment.models import Vessel
from plant.hazard_plan.content import Plan, PlanError, to_json
from plant.hazard_plan.models import PlanVersion
from plant.hazard_plan.stored import content_hash, same_content
from plant.hazard_plan.written import plan_of, read, store
from records.ledger.actions import Actor, act
from records.people.models import PlanApproval
from tests.plant.hazard_plan.test_read import SMALL

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 3, 2, 12, tzinfo=UTC)


@pytest.fixture
def plan() -> Plan:
    """A plan of one vessel and one check."""
    return read(SMALL)


def approve(version: PlanVersion) -> None:
    """Freeze a version as the records do."""
    text = json.dumps(to_json(plan_of(version)))
    with act(Actor(name="a test")) as a:
        a.write(
            PlanApproval(
                version_id=version.id,
                version_number=version.number,
                in_force_from=NOW,
                plan=text,
                content_hash="0" * 64,
            )
        )


def test_a_stored_plan_reads_back_equal(plan):
    """Rows give back exactly what was stored."""
    assert plan_of(store(plan, None, NOW)) == plan


def test_the_same_content_again_adds_nothing(plan):
    """A second store of the same content gives the version that stands."""
    first = store(plan, None, NOW)
    assert store(read(SMALL), None, NOW + timedelta(days=1)) == first
    assert PlanVersion.objects.count() == 1


def test_other_content_makes_the_next_version(plan):
    """A changed plan is a new draft with the next number."""
    store(plan, None, NOW)
    assert store(replace(plan, title="Another"), None, NOW).number == 2


def test_a_draft_edited_since_is_not_the_same_content(plan):
    """A draft that was changed by hand no longer counts as what was loaded."""
    version = store(plan, None, NOW)
    version.monitorings.update(what="Something else")
    assert same_content(plan) is None


def test_the_plant_becomes_what_the_plan_describes(plan):
    """Before any approval a vessel is made, changed, and taken out of use as the plan says."""
    store(plan, None, NOW)
    bigger = replace(plan, vessels=(replace(plan.vessels[0], capacity="250.5"),))
    store(bigger, None, NOW)
    assert Vessel.objects.get(code="tank").capacity == Decimal("250.5")
    store(replace(plan, vessels=()), None, NOW)
    assert not Vessel.objects.get(code="tank").is_active


def test_after_an_approval_a_differing_description_is_refused(plan):
    """The sentence names the code and where to change it."""
    approve(store(plan, None, NOW))
    with pytest.raises(PlanError, match="tank is described otherwise.*on its own page, with a reason"):
        store(replace(plan, vessels=(replace(plan.vessels[0], name="Vat"),)), None, NOW)
    assert PlanVersion.objects.count() == 1


def test_after_an_approval_a_missing_vessel_is_refused(plan):
    """A plan cannot drop a vessel that is in use."""
    approve(store(plan, None, NOW))
    with pytest.raises(PlanError, match="tank is in use in the plant and missing here"):
        store(replace(plan, vessels=()), None, NOW)


def test_after_an_approval_a_new_vessel_is_added(plan):
    """A new code joins the plant, and the draft describes it."""
    approve(store(plan, None, NOW))
    more = replace(plan, vessels=(*plan.vessels, replace(plan.vessels[0], code="second", flow_order=2)))
    assert plan_of(store(more, None, NOW)) == more


def test_an_approved_version_says_what_was_frozen(plan):
    """A later change of the plant's rows does not change an approved version's content."""
    version = store(plan, None, NOW)
    approve(version)
    Vessel.objects.filter(code="tank").update(name="Renamed")
    assert plan_of(version) == plan


def test_a_key_used_twice_is_refused(plan):
    """Two checks of one key cannot be told apart."""
    with pytest.raises(PlanError, match=r"monitoring\[1\]\.key: 'tank-temperature' is used twice"):
        store(replace(plan, monitoring=plan.monitoring * 2), None, NOW)


def test_a_text_longer_than_its_column_is_refused(plan):
    """A title of 300 letters is refused by name on both databases, and nothing is stored."""
    with pytest.raises(PlanError, match=r"monitoring\[0\]\.what"):
        store(replace(plan, monitoring=(replace(plan.monitoring[0], what="x" * 300),)), None, NOW)
    assert not PlanVersion.objects.exists()
    assert not Vessel.objects.exists()


def test_the_hash_does_not_depend_on_the_order_of_vessels(plan):
    """Vessels written in another order are the same content."""
    two = (plan.vessels[0], replace(plan.vessels[0], code="second", flow_order=2))
    assert content_hash(replace(plan, vessels=two)) == content_hash(replace(plan, vessels=two[::-1]))
