"""Control plates: a bad one leaves no result of its batch proven, and product keeps waiting or waits again."""

from __future__ import annotations

import uuid
from dataclasses import replace
from typing import Any

import pytest

from plant import clock
from records.deviations.models import Deviation, Hold, HoldLift
from records.flow.errors import Refused
from records.judging.queries import all_verdicts, governing
from records.laboratory import queries
from records.laboratory.actions import record_result, take
from records.laboratory.models import LabResult, Sample
from tests.conftest import NOW, Plant
from tests.records.laboratory.made import HOUR, SAMPLED, found, of_lot, reading, sampled_plan, taken
from tests.records.laboratory.test_results import bars, ines, outcome, packed  # noqa: F401 ines is a fixture

pytestmark = pytest.mark.django_db


def control(by: Any, test: str, typed: str, batch: str = "B 1", **changes: Any) -> LabResult:
    """A control plate of a batch, at the county's bench."""
    sample = taken(by, code=f"C {test} {batch} {uuid.uuid4().hex[:4]}", kind="control plate", lot_code="",
                   tests=(test,))  # fmt: skip
    return found(by, sample, test, typed, batch=batch, **changes)


def both(by: Any, sample: Sample, batch: str = "B 1") -> list[LabResult]:
    """The two results that WM 1 waits for, in limits."""
    return [found(by, sample, test, "1", batch=batch) for test in ("coliform", "bacteria")]


def reason(row: LabResult) -> str:
    """Of the verdict that governs."""
    return governing(LabResult.KIND, [row.number])[row.number].reason


def test_good_control_plates_change_nothing_and_open_nothing(ines: Any) -> None:  # noqa: F811
    good = [control(ines, "growth on control plate", "no growth"), control(ines, "growth on positive control", "+"),
            control(ines, "air plate", "15")]  # fmt: skip
    assert [outcome(one) for one in good] == ["met", "met", "met"]
    rows = both(ines, taken(ines))
    assert [outcome(one) for one in rows] == ["met", "met"] and bars() == []


@pytest.mark.parametrize(
    ("test", "typed"),
    [("growth on control plate", "growth"), ("growth on positive control", "no growth"), ("air plate", "16"),
     ("air plate", "TNTC")],
)  # fmt: skip
def test_beside_a_bad_one_nothing_is_proven_and_product_keeps_waiting(
    ines: Any, test: str, typed: str  # noqa: F811
) -> None:
    bad = control(ines, test, typed)
    assert outcome(bad) == "not met" and not Deviation.objects.exists()
    sample = taken(ines)
    rows = both(ines, sample)
    assert [outcome(one) for one in rows] == ["not proven", "not proven"] and bad.sample_code in reason(rows[0])
    assert bars() == ["results pending"] and len(queries.missing_results(sample.lot)) == 2
    again = both(ines, sample, "B 2")  # the same bottles poured anew: these take their place
    assert [outcome(one) for one in again] == ["met", "met"] and bars() == []


def test_a_bad_one_that_is_read_later_makes_product_wait_again_until_it_is_amended(ines: Any) -> None:  # noqa: F811
    rows = both(ines, taken(ines))
    assert bars() == []
    bad = control(ines, "growth on control plate", "+", batch="b 1")
    assert [outcome(one) for one in rows] == ["not proven", "not proven"] and bars() == ["results pending"]
    assert "control plate of entry" in Hold.objects.order_by("-number")[0].reason
    found(ines, bad.sample, bad.test, "-", batch="b 1", amends=bad.number, amend_reason="another dish")
    assert [outcome(one) for one in rows] == ["met", "met"] and bars() == []
    kept = all_verdicts(LabResult.KIND, [rows[0].number])[rows[0].number]
    assert [(one.outcome, one.why) for one in kept] == [
        ("met", "entry"), ("not proven", "control plate"), ("met", "control plate"),
    ]  # fmt: skip
    assert HoldLift.objects.count() == 2


def test_what_is_out_of_limits_stays_so_and_another_laboratory_or_batch_is_not_touched(ines: Any) -> None:  # noqa: F811
    sample = taken(ines)
    bad = found(ines, sample, "coliform", "30", batch="B 1")
    other = found(ines, sample, "bacteria", "30", batch="B 1", laboratory="another")
    third = found(ines, sample, "yeast and mold", "30", batch="B 2")
    control(ines, "growth on control plate", "+")
    assert (outcome(bad), outcome(other)) == ("not met", "met")
    assert not governing(LabResult.KIND, [third.number])


def test_where_nobody_wrote_the_batch_the_plates_of_that_day_speak_for_a_count(ines: Any, plant: Plant) -> None:  # noqa: F811
    sample = taken(ines, tests=("coliform", "bacteria", "phosphatase"))
    count, heat = found(ines, sample, "coliform", "1"), found(ines, sample, "phosphatase", "20")
    control(ines, "growth on control plate", "+")
    assert (outcome(count), outcome(heat)) == ("not proven", "met")  # no plate shows phosphatase
    plant.at(NOW + 26 * HOUR)
    assert outcome(found(ines, sample, "bacteria", "1")) == "met"  # another day's plates


def test_the_same_name_weeks_later_is_another_batch(ines: Any, plant: Plant) -> None:  # noqa: F811
    control(ines, "growth on control plate", "+")
    plant.at(NOW + 11 * 24 * HOUR)
    sample = taken(ines, taken_at=clock.now())
    assert outcome(found(ines, sample, "coliform", "1", batch="B 1")) == "met"


def test_of_several_samples_one_doubted_leaves_the_lot_waiting_for_another(plant: Plant) -> None:
    from tests.records.charts.made import in_force
    from tests.records.flow.made import made_ready, moved

    in_force(plant, replace(sampled_plan(), sampled=(replace(SAMPLED[0], samples=2, may_exceed=1, never_above="100"),)))
    by = plant.actor("ines")
    plant.at(NOW + 2 * HOUR)
    made_ready(by, NOW)
    moved(by, source="", source_name="a tanker", target="finished-1", product="whole-milk", started_at=NOW + HOUR / 2,
          ended_at=NOW + HOUR)  # fmt: skip
    packed(by, "WM 1")
    bottles = [taken(by, code=f"S {one}", tests=("coliform",)) for one in range(3)]
    first = found(by, bottles[0], "coliform", "1", batch="B 1")
    second = found(by, bottles[1], "coliform", "1", batch="B 2")
    assert outcome(second) == "met" and bars() == []
    control(by, "growth on control plate", "+")
    assert (outcome(first), outcome(second)) == ("not proven", "not proven") and bars() == ["results pending"]
    assert outcome(found(by, bottles[2], "coliform", "1", batch="B 2")) == "met" and bars() == []


def test_a_control_plate_needs_its_batch_and_keeps_to_its_own_tests(ines: Any) -> None:  # noqa: F811
    for changes in ({"tests": ("coliform", "air plate")}, {"kind": "control plate", "tests": ("coliform",)}):
        with pytest.raises(Refused) as refused:
            take(ines, replace(of_lot("WM 1"), **changes))
        assert refused.value.field == "tests"
    plate = taken(ines, kind="control plate", lot_code="", tests=("air plate",))
    for sample, test, field in ((plate, "air plate", "batch"), (plate, "coliform", "test"),
                                (taken(ines), "air plate", "test")):  # fmt: skip
        with pytest.raises(Refused) as refused:
            record_result(ines, reading(sample, test, "3"))
        assert refused.value.field == field
