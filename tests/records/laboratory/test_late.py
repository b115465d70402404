"""A result that comes late, after product left or its packing was amended; tables with what laboratories write."""

from __future__ import annotations

import uuid
from datetime import date
from typing import Any

import pytest
from django.urls import reverse

from plant import clock
from records.deviations.models import Deviation, Hold, HoldLift
from records.flow.actions import amend_movement
from records.flow.data import MovementData
from records.flow.models import Movement
from records.laboratory import tables
from records.laboratory.actions import record_result, take
from records.laboratory.models import LabResult
from records.lots.models import Lot
from records.people.plans import plan_in_force
from records.recall import watch
from records.recall.origins import of_entry
from records.recall.scope import scope
from tests.conftest import NOW, Plant
from tests.records.laboratory.made import HOUR, found, of_lot, reading, taken
from tests.records.laboratory.test_results import bars, ines, outcome, packed  # noqa: F401 ines is a fixture
from tests.records.recall.made import sent

pytestmark = pytest.mark.django_db


def amended(by: Any, code: str, **changes: Any) -> Movement:
    """The packing of WM 1 as it should have been written."""
    old = Movement.objects.filter(target_name="packed").order_by("-number")[0]
    said = {
        "form_id": uuid.uuid4(), "source": old.source, "target": "", "product": old.product,
        "started_at": old.started_at, "ended_at": old.ended_at, "target_name": "packed", "quantity_typed": "90",
        "unit": "gal", "measured_by": "count", "code": code,
    }  # fmt: skip
    return amend_movement(by, old.number, MovementData(**(said | changes)), "counted again")


def test_a_late_miss_opens_the_scope_with_what_left(ines: Any, plant: Plant, client_for: Any) -> None:  # noqa: F811
    """Both results in, the wait over, tubs gone; then a phosphatase of the same lot comes in, over its limit."""
    sample = taken(ines, tests=("coliform", "bacteria", "phosphatase"))
    for test in ("coliform", "bacteria"):
        found(ines, sample, test, "1")
    sent(ines, "WM 1", dispatched_at=clock.now())
    plant.at(NOW + 30 * HOUR)
    late = found(ines, sample, "phosphatase", "900")
    there = plan_in_force(clock.now())
    assert there is not None
    begun = of_entry(late.number, there, clock.now())
    affected = scope(begun.start, there, clock.now())
    assert affected.consignees == ("Corner shop",) and "sample S WM 1" in begun.words
    client = client_for(plant.people.wren)
    page = client.get(reverse("records:sample", args=[sample.number])).content.decode()
    address = f"{reverse('records:recall-scope')}?entry={sample.number}"
    assert address in page
    for entry in (sample.number, late.number, Deviation.objects.get().number):
        text = client.get(f"{reverse('records:recall-scope')}?entry={entry}").content.decode()
        assert "Corner shop" in text and "WM 1" in text
    watch.look(again=True)
    assert Deviation.objects.count() == 2  # that it had left is one of its own


def test_a_farm_a_vessel_and_an_official_sample_have_a_scope(ines: Any, plant: Plant) -> None:  # noqa: F811
    there = plan_in_force(clock.now())
    assert there is not None
    for said in (
        {"kind": "vessel", "place": "finished-1", "taken_at": NOW + HOUR},
        {"kind": "official", "place": "finished-1", "taken_at": NOW + HOUR}, {"kind": "official", "lot_code": "WM 1"},
        {"kind": "retained", "lot_code": "WM 1", "kept_where": "shelf", "kept_until": date(2026, 5, 1)},
    ):
        sample = taken(ines, **({"lot_code": "", "tests": ("bacteria",)} | said))
        begun = of_entry(sample.number, there, clock.now())
        assert ["WM 1" in one.label for one in scope(begun.start, there, clock.now()).packs] == [True], said


def test_a_packing_amended_while_it_waits_keeps_one_wait_that_its_results_end(ines: Any) -> None:  # noqa: F811
    sample = taken(ines)
    amended(ines, "WM 1")
    assert set(bars()) == {"results pending"}
    amended(ines, "WM 1", started_at=clock.now() - HOUR * 3 / 4)  # earlier: what it holds is held from then
    for test in ("coliform", "bacteria"):
        found(ines, sample, test, "1")
    assert bars() == []
    amended(ines, "WM 1", quantity_typed="88")
    assert bars() == []  # its results are in: none would come to end another wait


def test_a_packing_amended_to_another_code_waits_under_that_code(ines: Any) -> None:  # noqa: F811
    sample = taken(ines)
    amended(ines, "WM 2")
    new = Lot.objects.get(code="WM 2")
    assert [one.bars_release for one in Hold.objects.filter(lot=new.id)] == ["results pending"]
    moved = take(ines, of_lot("WM 2", code="S WM 1", taken_at=sample.observed_at, amends=sample.number,
                              amend_reason="the code was wrong"))  # fmt: skip
    for test in ("coliform", "bacteria"):
        found(ines, moved, test, "1")
    lifted = set(HoldLift.objects.values_list("hold", flat=True))
    assert {one.number for one in Hold.objects.filter(lot=new.id)} == lifted
    assert bars() == ["results pending"]  # nothing released what the first code names


def test_more_of_a_code_whose_results_are_in_waits_for_another_sample(ines: Any, plant: Plant) -> None:  # noqa: F811
    sample = taken(ines)
    for test in ("coliform", "bacteria"):
        found(ines, sample, test, "1")
    plant.at(NOW + 3 * HOUR)
    packed(ines, "WM 1")
    assert bars() == ["results pending"]


CELLS = (
    ("S WM 9;coliform;1", "No sample has this code."),
    ("S WM 1;coliform;", "Nothing was given."),
    ("S WM 1;coliform;=1+1", "This is a formula"),
    ("=S;coliform;1", "No sample has this code."),
    ("S WM 1;coliform;1,5", "without a point or comma"),
    ("S WM 1;coliform;12.000", "without a point or comma"),
    ("S WM 1;phosphatase;3,5", "The decimal mark of this plant is ."),
    ("S WM 1;coliform;about 3", "A result is a number"),
    ("S WM 1;luck;3", "Choose one of the tests."),
    ("S WM 1;coliform;3;;;;;9", "more cells than the heading"),
)


def test_each_wrong_cell_of_a_table_has_its_sentence(ines: Any) -> None:  # noqa: F811
    taken(ines, tests=("coliform", "bacteria", "phosphatase"))
    for line, sentence in CELLS:
        lines, wrong = tables.read(f"sample;test;result\n{line}\n", uuid.uuid4(), clock.now())
        assert not wrong and sentence in lines[0].wrong and lines[0].result is None, line


def test_a_decimal_comma_in_a_table_of_commas_is_no_shorter_number(ines: Any) -> None:  # noqa: F811
    taken(ines, tests=("fat",))
    lines, _wrong = tables.read("sample,test,result\nS WM 1,fat,3,5\n", uuid.uuid4(), clock.now())
    assert "a comma cannot be a decimal mark" in lines[0].wrong
    broken, wrong = tables.read('sample,test,result\n"S WM 1,fat,3\n', uuid.uuid4(), clock.now())
    assert not broken and "quotation mark" in wrong


def test_what_laboratories_write_is_kept_as_written(ines: Any) -> None:  # noqa: F811
    for typed, said in (("<10", "met"), (">250", "not met"), ("TNTC", "not met"), ("4 est", "met"),
                        ("12 est.", "not met"), ("<100", "not proven")):  # fmt: skip
        taken(ines, code=typed)
        text = f"sample;test;result\n{typed};coliform;{typed}\n"
        lines, _wrong = tables.read(text, uuid.uuid4(), clock.now())
        assert lines[0].result is not None
        row = record_result(ines, lines[0].result)
        assert (row.typed, outcome(row)) == (typed, said) and LabResult.objects.get(number=row.number).typed == typed


def test_a_result_by_hand_with_a_formula_is_refused_beside_its_field(ines: Any) -> None:  # noqa: F811
    from records.flow.errors import Refused

    with pytest.raises(Refused) as refused:
        record_result(ines, reading(taken(ines), "coliform", "=A1"))
    assert refused.value.field == "typed"
