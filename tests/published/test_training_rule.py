"""Training against 21 CFR part 117: what a record of it must say, and that the records are there to be shown.

From memory, paragraph by paragraph: 117.4(b)(2) training in food hygiene and food safety, employee health and personal
hygiene among it; 117.4(d) records of that training are kept; 117.180(d) training of a preventive controls qualified
individual is documented with the date of the training, its type and the persons trained. 117.190(a)(7): records of
applicable training are among those that implement the plan (117.190(a) was read, R40; its numbers are from memory).
117.315(a): kept two years (a secondary text and the twin 121.315(a) were read).
"""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest

from plant.hazard_plan.written import read
from plant.rules import rule_set
from records.ledger.content_fields import FIELDS
from records.ledger.models import Entry
from records.review.sheet import sheet_data
from records.training.models import Training
from tests.conftest import NOW, Plant
from tests.records.training.made import asked_for, plan_now, trained

QUILLBROOK = Path(__file__).resolve().parents[2] / "plant" / "demo" / "quillbrook.toml"
# 21 CFR 117.180(d), from memory: what the record must say, and the column that says it.
MUST_SAY = {
    "the date of the training": "trained_on", "the type of training": "topic", "the person(s) trained": "people",
}  # fmt: skip


@pytest.mark.once
@pytest.mark.parametrize("what", MUST_SAY)
def test_every_version_of_the_content_has_what_the_rule_asks(what: str) -> None:
    """117.180(d): in the ledger's own content, so that it cannot be changed unseen."""
    assert FIELDS["training"] and all(MUST_SAY[what] in columns for columns in FIELDS["training"].values())


@pytest.mark.once
@pytest.mark.parametrize("what", MUST_SAY)
def test_none_of_it_can_be_left_empty(what: str) -> None:
    """117.180(d): no date without its day, no type without words; people are refused when there are none (below)."""
    column = Training._meta.get_field(MUST_SAY[what])
    assert not column.null and (what == "the person(s) trained" or not column.blank)


@pytest.mark.django_db
def test_the_entry_of_a_training_says_date_type_and_persons(plant: Plant) -> None:
    """117.180(d), of the qualified individual's own training and of two operators' food hygiene (117.4(b)(2), (d))."""
    asked_for(plant)
    own = trained(plant, "odile", training="once", trained_on=date(2020, 5, 6))
    hygiene = trained(plant, "ines", "tomas", trained_on=date(2026, 3, 2))
    told = [json.loads(Entry.objects.get(number=one.number).content)["record"] for one in (own, hygiene)]
    assert [(one["trained_on"], one["topic"]) for one in told] == [
        ("2020-05-06", "Preventive controls"), ("2026-03-02", "Food hygiene"),
    ]  # fmt: skip
    assert [[each["name"] for each in one["people"]] for one in told] == [["Odile Marsh"], ["Ines Alder", "Tomas Reed"]]


@pytest.mark.django_db
def test_it_is_among_the_records_that_are_shown_and_kept_two_years(plant: Plant) -> None:
    """117.190(a)(7) on the day's sheet; 117.315(a) from the day on which the record was prepared."""
    asked_for(plant)
    row = trained(plant, trained_on=date(2020, 5, 6))
    (shown,) = sheet_data(NOW.date(), 0, NOW)["trainings"]
    assert shown["entry"] == row.number
    assert plan_now().kept_until(row.received_at) >= date(NOW.year + 2, NOW.month, NOW.day)


@pytest.mark.once
def test_the_rule_set_names_training_among_the_records_that_must_exist() -> None:
    """117.190(a), text consulted (R40)."""
    row = rule_set("us").rows["rec-must-exist"]
    assert row.clause == "21 CFR 117.190(a)" and "training" in row.title


@pytest.mark.once
def test_the_written_plan_asks_everybody_for_food_hygiene() -> None:
    """117.4(b)(2): all who make, process, pack or hold food, and those who supervise them; each row says its source."""
    plan = read(QUILLBROOK.read_text(encoding="utf-8"))
    (hygiene,) = [one for one in plan.trainings if "117.4(b)(2)" in one.clause]
    assert {"operator", "supervisor", "qualified individual", "owner", "maintenance"} <= set(hygiene.roles)
    assert all("CFR" in one.clause or "PMO" in one.clause or "no source" in one.clause for one in plan.trainings)
    assert all("from memory" in one.clause or "no source" in one.clause for one in plan.trainings)
