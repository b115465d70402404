"""Both written plans go from their file to in force, and what is in force says what the file says."""

from pathlib import Path

import pytest

from plant import clock
from plant.hazard_plan.written import plan_of, read, same_content, store
from records.people.plan_actions import OWNER_SIGNS, QUALIFIED_SIGNS, sign_plan
from records.people.plans import plan_in_force

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("path", ["plant/demo/quillbrook.toml", "tests/plans/valle_hondo.toml"])
def test_two_signatures_put_a_written_plan_in_force(installed, set_clock, path):
    """Signed by both, the plan in force equals the file, and the same content again is that version."""
    plan = read(Path(path).read_text(encoding="utf-8"))
    version = store(plan, installed.odile, clock.now())
    sign_plan(installed.actor("odile"), version, QUALIFIED_SIGNS)
    sign_plan(installed.actor("hanne"), version, OWNER_SIGNS)
    standing = plan_in_force(clock.now())
    assert standing is not None
    assert standing.plan == plan == plan_of(version)
    assert same_content(plan) == version
