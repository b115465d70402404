"""What the data of a day says: complete, adding up, and in few queries."""

from __future__ import annotations

import uuid
from dataclasses import dataclass, replace
from typing import Any, cast

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import translation
from hypothesis import given
from hypothesis import strategies as st

from records.checks.queries import DueCheck
from records.deviations.actions import write_part
from records.flow.actions import MovementData
from records.flow.queries import contents_at
from records.judging.models import Verdict
from records.ledger.canonical import canonical
from records.people.plans import plan_in_force
from records.reports import chart, picture, troubles
from records.reports.day import completeness
from records.review.sheet import sheet_data
from tests.conftest import Plant
from tests.records.deviations.made import warm
from tests.records.receiving.made import brought
from tests.records.reports import made

STATES = ("not yet", "due", "late", "on time", "answered late", "missed", "answered after missed")
ANSWERED = {"on time", "answered late", "answered after missed"}
OUTCOMES = ("met", "met, past the operating limit", "not met", "not proven", None)


@dataclass
class Answer:
    number: int


@dataclass
class Check:
    state: str
    reading: Answer | None


@given(st.lists(st.tuples(st.sampled_from(STATES), st.sampled_from(OUTCOMES)), max_size=60))
def test_completeness_adds_up(rows: list[tuple[str, str | None]]) -> None:
    """Whatever the states: what was due is what became of it, and nothing unjudged is counted as met."""
    checks, judged = [], {}
    for number, (state, outcome) in enumerate(rows):
        answered = state in ANSWERED
        checks.append(Check(state, Answer(number) if answered else None))
        if answered and outcome is not None:
            judged[number] = [Verdict(outcome=outcome)]
    said = completeness(cast(list[DueCheck], checks), judged)
    assert said["due"] == said["on_time"] + said["late"] + said["missed"] + said["open"] == len(rows)
    judged_so = said["met"] + said["operating"] + said["not_met"] + said["not_proven"]
    assert said["due"] - said["open"] == judged_so
    assert said["met"] == sum(state in ANSWERED and outcome == "met" for state, outcome in rows)
    assert str(said["due"]) in said["sentence"]


def _data(plant: Plant) -> dict[str, Any]:
    return sheet_data(made.DAY, 1, plant.clock.moment)


def test_every_due_check_is_in_the_data(plant: Plant) -> None:
    """Each check that the plan made due has its line, answered or not."""
    made.live(plant)
    keys = [one["key"] for one in _data(plant)["checks"]]
    assert sorted(keys) == sorted(one.key for one in made.due(plant.clock.moment))
    assert len(keys) == len(set(keys)) > 5


def test_an_amended_reading_keeps_what_it_replaced(plant: Plant) -> None:
    """83.4 °F is there under 38.4 °F, with the reason and both verdicts."""
    made.live(plant)
    lines = [line for check in _data(plant)["checks"] for line in check["readings"] if line["replaced"]]
    assert [(one["typed"], one["amend_reason"]) for one in lines] == [("38.4", "two digits swapped")]
    old = lines[0]["replaced"][0]
    assert (old["typed"], old["verdicts"][-1]["outcome"]) == ("83.4", "not met")


def test_the_data_is_canonical(plant: Plant) -> None:
    """It can be attached and hashed: no fractions, no odd types."""
    made.live(plant)
    assert canonical(_data(plant)).startswith('{"as_of":')


def test_chart_draws_what_the_book_and_the_readings_say(plant: Plant) -> None:
    """The silo holds raw milk from its filling on; its temperatures are dots with their outcome; the excursion ends."""
    made.live(plant)
    lanes = {one["name"]: one for one in _data(plant)["chart"]["lanes"]}
    silo = lanes["Silo A"]
    assert {one["family"] for one in silo["contents"]} == {"raw milk"}
    assert silo["contents"][0]["fill0"] == "0.0000" and silo["contents"][-1]["fill1"] == "0.6667"
    assert {"46.4", "41.0", "39.2"} <= {one["value"] for one in silo["marks"]}
    first = silo["deviations"][0]
    assert "46.4 °F" in first["sentence"] and first["end"] == "2026-03-03T16:30:00.000000Z"
    assert [one["label"] for one in silo["washes"]] == ["washed", "sanitized"]
    assert any(one["label"] == "missed" and one["outcome"] == "not proven" for one in silo["marks"])


def test_a_room_without_capacity_says_the_quantity_that_the_floor_says(plant: Plant) -> None:
    """How full it is is not known, how much is in it is: 0 to 2000 gal while it fills, then 2000 gal."""
    made.live(plant)
    data, in_force = _data(plant), plan_in_force(made.at(25))
    assert in_force is not None
    bare = tuple(replace(one, capacity="") for one in in_force.plan.vessels)
    changed = replace(in_force, plan=replace(in_force.plan, vessels=bare))
    drawn = chart.drawn(data, changed, made.START, made.at(24), made.at(25))
    silo = next(one for one in drawn["lanes"] if one["name"] == "Silo A")
    on_the_floor = contents_at(made.at(23))["silo-a"].quantity
    assert on_the_floor == 2000
    assert [one["label"] for one in silo["contents"]] == ["0 gal to 2000 gal", f"{on_the_floor:.0f} gal"]
    assert {one["fill0"] for one in silo["contents"]} == {one["fill1"] for one in silo["contents"]} == {None}
    said = picture.svg({**data, "chart": drawn}, print_=False)
    assert "Silo A: raw milk, 2000 gal" in said and "how full is not known" in said


def test_a_quantity_that_nobody_knows_is_called_so(plant: Plant) -> None:
    """Milk of which no quantity was given: neither how much nor how full."""
    plant.at(made.at(1))
    made.wash(plant, "silo-a", 0.1)
    brought(
        plant.actor("ines"),
        MovementData(uuid.uuid4(), "", "silo-a", "raw-milk", made.at(0.3), "Nettle Farm", ended_at=made.at(0.8)),
    )
    plant.at(made.at(2))
    lanes = {one["name"]: one for one in _data(plant)["chart"]["lanes"]}
    last = lanes["Silo A"]["contents"][-1]
    assert (last["label"], last["fill0"], last["fill1"]) == ("quantity not known", None, None)


@pytest.mark.parametrize(
    ("language", "words"),
    [
        ("en", "who told the regulator, when, and the answer"),
        ("es", "quién avisó a la autoridad, cuándo, y la respuesta"),
    ],
)
def test_what_the_regulator_was_told_stands_under_its_words(plant: Plant, language: str, words: str) -> None:
    """A part that may be written without being wanted has its words too, in the language of the sheet."""
    found = warm(plant)
    write_part(plant.actor("wren"), found, "regulator", "Told at 10:20 by telephone.", uuid.uuid4())
    with translation.override(language):
        (row,) = troubles.deviation_rows([found])
    assert [(one["part"], one["asks"]) for one in row["parts"]] == [("regulator", words)]
    assert words not in row["missing"]


def _queries(plant: Plant) -> int:
    _data(plant)  # what is remembered from now on is not counted
    with CaptureQueriesContext(connection) as seen:
        _data(plant)
    return len(seen)


def test_queries_do_not_grow_with_the_readings(plant: Plant) -> None:
    """Twelve more readings: the same number of queries, and a bounded one."""
    made.live(plant)
    few = _queries(plant)
    for _reading in range(12):
        made.answer(plant, "silo-holding", "38.0")
    assert _queries(plant) == few < 100
