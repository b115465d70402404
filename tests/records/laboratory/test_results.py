"""Samples and results: judged by the plan, product that waits, misses that hold for good, tables all or nothing."""

from __future__ import annotations

import uuid
from dataclasses import replace
from typing import Any

import pytest

from plant import clock
from plant.hazard_plan.check import problems
from plant.hazard_plan.content import LimitDef, SampledDef, from_json, to_json
from plant.hazard_plan.stored import content_hash
from records.deviations.holds import allowed_dispositions
from records.deviations.models import Deviation, Hold, HoldLift
from records.flow.errors import DifferentContent, Refused
from records.judging.queries import governing
from records.laboratory import queries
from records.laboratory.actions import record_result, record_table, take
from records.laboratory.models import LabResult, Sample
from tests.conftest import NOW, Plant
from tests.factories import small_plan
from tests.records.charts.made import in_force
from tests.records.flow.made import made_ready, moved
from tests.records.laboratory.made import HOUR, SAMPLED, found, of_lot, reading, sampled_plan, taken

pytestmark = pytest.mark.django_db


@pytest.fixture
def ines(plant: Plant) -> Any:
    """Whole milk in Finished 1, and of it the pack WM 1, which waits for its results."""
    in_force(plant, sampled_plan())
    by = plant.actor("ines")
    plant.at(NOW + 2 * HOUR)
    made_ready(by, NOW)
    moved(by, source="", source_name="a tanker", target="finished-1", product="whole-milk", started_at=NOW + HOUR / 2,
          ended_at=NOW + HOUR)  # fmt: skip
    packed(by, "WM 1")
    return by


def packed(by: Any, code: str) -> Any:
    """A pack of what is in Finished 1."""
    return moved(by, source="finished-1", source_name="", target="", target_name="packed", product="whole-milk",
                 code=code, started_at=clock.now() - HOUR / 2, ended_at=clock.now() - HOUR / 4)  # fmt: skip


def outcome(row: LabResult) -> str:
    """The verdict that governs."""
    return governing(LabResult.KIND, [row.number])[row.number].outcome


def bars(*, lifted: bool = False) -> list[str]:
    """What holds the product now, or no more."""
    over = set(HoldLift.objects.values_list("hold", flat=True))
    return [one.bars_release for one in Hold.objects.order_by("number") if (one.number in over) is lifted]


def test_packed_product_waits_until_each_result_is_in_and_in_limits(ines: Any) -> None:
    assert bars() == ["results pending"] and "release" not in allowed_dispositions(Hold.objects.get())
    sample = taken(ines)
    assert sample.lot_label and [one.row.key for one in queries.missing_results(sample.lot)] == ["coliform", "bacteria"]
    assert outcome(found(ines, sample, "coliform", "<1")) == "met"
    assert [one.row.key for one in queries.missing_results(sample.lot)] == ["bacteria"] and bars()
    row = found(ines, sample, "bacteria", "4200 est.")
    verdict = governing(LabResult.KIND, [row.number])[row.number]
    assert (verdict.outcome, verdict.rule, verdict.clause) == ("met", "bacteria", "PMO Table 1; La. VII-355")
    assert bars() == [] and bars(lifted=True) == ["results pending"]


def test_a_miss_holds_the_lot_and_no_later_or_amended_result_makes_it_good(ines: Any) -> None:
    sample = taken(ines)
    bad = found(ines, sample, "coliform", "11")
    assert outcome(bad) == "not met" and bars() == ["results pending", "laboratory"]
    deviation = Deviation.objects.get()
    assert deviation.control_point == "release" and "Sample S WM 1" in deviation.sentence
    found(ines, sample, "bacteria", "100")
    better = found(ines, sample, "coliform", "1", amends=bad.number, amend_reason="read wrongly")
    assert outcome(better) == "met"
    assert bars() == ["results pending", "laboratory"]
    assert [one.missed for one in queries.wanted_results(sample.lot)] == [True, False]
    assert "release" not in allowed_dispositions(Hold.objects.order_by("-number")[0])


def test_a_good_result_that_is_taken_back_makes_product_wait_again(ines: Any) -> None:
    sample = taken(ines)
    found(ines, sample, "coliform", "<1")
    good = found(ines, sample, "bacteria", "100")
    assert bars() == []
    found(ines, sample, "bacteria", "100", amends=good.number, amend_reason="another sample", void=True)
    assert bars() == ["results pending"]


def test_a_late_result_of_a_vessel_holds_the_packs_that_it_flowed_into(ines: Any) -> None:
    from records.flow.queries import held_lots_at

    sample = taken(ines, lot_code="", kind="vessel", place="finished-1", taken_at=NOW + HOUR, tests=("phosphatase",))
    assert sample.product == "whole-milk"
    assert outcome(found(ines, sample, "phosphatase", "350")) == "not met"  # the rule says less than 350
    reasons = list(held_lots_at(clock.now()).values())
    assert len(reasons) == 2 and all(any("Sample" in text for text in one) for one in reasons)


def test_a_site_of_zone_1_holds_what_touched_it_since_it_was_last_clean(ines: Any) -> None:
    site = {"lot_code": "", "kind": "environment", "place": "finished-1", "tests": ("Listeria",)}
    found(ines, taken(ines, taken_at=NOW, **site), "Listeria", "not found")
    sample = taken(ines, **site)
    assert sample.zone == 1 and sample.lot is None
    found(ines, sample, "Listeria", "positive")
    assert "laboratory" in bars() and Deviation.objects.get().weight == "safety"


def test_what_the_plan_has_no_limit_for_is_kept_and_not_judged_but_found_never_passes(ines: Any) -> None:
    sample = taken(ines, tests=("yeast and mold", "Salmonella"))
    assert not governing(LabResult.KIND, [found(ines, sample, "yeast and mold", "40").number])
    assert outcome(found(ines, sample, "Salmonella", "+")) == "not met" and "laboratory" in bars()


def test_forms_are_kept_once_and_nonsense_is_refused_beside_its_field(ines: Any) -> None:
    said = of_lot("WM 1")
    assert take(ines, said).number == take(ines, said).number
    with pytest.raises(DifferentContent):
        take(ines, replace(said, code="other"))
    sample = Sample.objects.get()
    result = reading(sample, "coliform", "3")
    assert record_result(ines, result).number == record_result(ines, result).number
    for changes, field in (
        ({"typed": "about ten"}, "typed"), ({"typed": "<0"}, "typed"), ({"typed": "1.5"}, "typed"),
        ({"read_at": NOW}, "read_at"), ({"test": "luck"}, "test"), ({"sample": 99999}, "sample"),
    ):  # fmt: skip
        with pytest.raises(Refused) as refused:
            record_result(ines, replace(reading(sample, "coliform", "3"), **changes))
        assert refused.value.field == field
    for changes, field in (
        ({"lot_code": "none"}, "lot_code"), ({"code": ""}, "code"), ({"tests": ()}, "tests"),
        ({"kind": "retained"}, "kept_where"), ({"temperature": "900"}, "temperature"), ({"kind": "farm"}, "farm"),
    ):  # fmt: skip
        with pytest.raises(Refused) as refused:
            take(ines, replace(of_lot("WM 1"), **changes))
        assert refused.value.field == field
    assert LabResult.objects.count() == 1 and Sample.objects.count() == 1


def test_a_sample_with_results_keeps_what_it_was_taken_of(ines: Any) -> None:
    sample = taken(ines)
    found(ines, sample, "coliform", "1")
    again = replace(of_lot("WM 1"), taken_at=sample.observed_at, amends=sample.number, amend_reason="the bottle")
    with pytest.raises(Refused, match="cannot change"):
        take(ines, replace(again, lot_code="", kind="vessel", place="finished-1"))
    kept = take(ines, replace(again, code="S 9"))
    assert kept.root == sample.number and queries.sample_of(sample.number).code == "S 9"
    assert found(ines, kept, "bacteria", "9").sample == sample.number


def test_a_table_is_kept_as_a_whole_or_not_at_all(ines: Any) -> None:
    sample = taken(ines)
    rows = [reading(sample, "coliform", "1", form_id=uuid.uuid4()), reading(sample, "bacteria", "TNTC")]
    with pytest.raises(Refused):
        record_table(ines, [*rows, reading(sample, "bacteria", "many")])
    assert not LabResult.objects.exists()
    first = record_table(ines, rows)
    assert [one.number for one in record_table(ines, rows)] == [one.number for one in first]
    assert outcome(first[1]) == "not met" and LabResult.objects.count() == 2


def test_a_lot_with_several_samples_is_judged_as_a_whole(plant: Plant) -> None:
    """n 3, c 1, m 10, M 100: two above m, or one above M, and the lot is out."""
    several = replace(SAMPLED[0], samples=3, may_exceed=1, never_above="100")
    in_force(plant, replace(sampled_plan(), sampled=(several,)))
    by = plant.actor("ines")
    plant.at(NOW + 2 * HOUR)
    made_ready(by, NOW)
    moved(by, source="", source_name="a tanker", target="finished-1", product="whole-milk", started_at=NOW + HOUR / 2,
          ended_at=NOW + HOUR)  # fmt: skip
    packed(by, "WM 1")
    bottles = [taken(by, code=f"S {one}", tests=("coliform",)) for one in range(3)]
    assert outcome(found(by, bottles[0], "coliform", "<1")) == "not proven"
    assert outcome(found(by, bottles[1], "coliform", "40")) == "not proven" and bars() == ["results pending"]
    assert outcome(found(by, bottles[2], "coliform", "5")) == "met" and bars() == []


def test_what_is_due_by_lots_and_by_calendar_ticks_itself(ines: Any) -> None:
    from records.people.plans import plan_in_force

    now = clock.now()
    plan = plan_in_force(now)
    assert plan is not None
    assert {one.row.key for one in queries.due_samples(now, plan)} == {"coliform", "bacteria", "phosphatase", "site"}
    taken(ines, tests=("coliform", "bacteria", "phosphatase"))
    assert {one.row.key for one in queries.due_samples(now, plan)} == {"site"}


def test_nothing_was_due_before_there_was_a_plan_and_a_farms_milk_has_its_own_row(plant: Plant) -> None:
    from records.people.plans import plan_in_force

    farm = SampledDef("farm", "Farm bacteria", "bacteria", "release", ("raw-milk",), limits=("single",), farms=True,
                      calendar="FREQ=WEEKLY;BYDAY=TU")  # fmt: skip
    yearly = "FREQ=YEARLY;BYMONTH=12;BYMONTHDAY=1"
    silo = replace(farm, key="silo", limits=("commingled",), farms=False, calendar=yearly)
    limits = tuple(LimitDef(key, "bacteria", "PMO Table 1; La. VII-349", "text consulted", "per mL", high=high)
                   for key, high in (("single", "100000"), ("commingled", "300000")))  # fmt: skip
    plan = sampled_plan()
    in_force(plant, replace(plan, limits=(*plan.limits, *limits), sampled=(farm, silo)))
    by, now = plant.actor("ines"), clock.now()
    there = plan_in_force(now)
    assert there is not None
    assert [one.row.key for one in queries.due_samples(now, there)] == ["farm"]  # the silo: since the plan began never
    sample = taken(by, lot_code="", kind="farm", farm="Nettle Farm", tests=("bacteria",))
    assert not queries.due_samples(now, there)
    assert outcome(found(by, sample, "bacteria", "100001")) == "not met"  # 300,000 is for milk of several farms
    wrong = replace(plan, limits=(*plan.limits, *limits), sampled=(replace(farm, required=True), silo))
    assert "sampled[0].farms" in [one.path for one in problems(wrong)]


def test_the_running_rule_is_over_the_products_own_days(ines: Any, plant: Plant) -> None:
    from records.people.plans import plan_in_force

    for day in range(3):
        plant.at(NOW + (2 + 24 * day) * HOUR)
        sample = taken(ines, code=f"S {day}", taken_at=clock.now())
        found(ines, sample, "coliform", "20" if day else "<1")
    plan = plan_in_force(clock.now())
    assert plan is not None
    rule = queries.running_of(sample, "coliform", plan)
    assert rule is not None and (rule.standing.value, rule.over_of_four) == ("written notice", 2)


def test_an_older_plan_reads_the_same_and_the_table_is_checked() -> None:
    """A plan without tests keeps its content and hash; one with them goes to text and back."""
    assert "sampled" not in to_json(small_plan())
    plan = sampled_plan()
    assert from_json(to_json(plan)).sampled == plan.sampled and content_hash(plan) != content_hash(small_plan())
    assert not [one for one in problems(plan) if one.path.startswith("sampled") and one.bars_approval]
    for wrong, path in (
        ({"test": "luck"}, "test"), ({"limits": ("none-found",)}, "limits"), ({"products": ("x",)}, "products"),
        ({"calendar": "often"}, "calendar"), ({"zone": 1}, "zone"), ({"may_exceed": 3}, "samples"),
    ):  # fmt: skip
        found_here = problems(replace(plan, sampled=(replace(SAMPLED[0], **wrong),)))
        assert f"sampled[0].{path}" in [one.path for one in found_here if one.bars_approval]


def test_on_the_european_rule_set_raw_milk_is_judged_by_its_mean(plant: Plant) -> None:
    """853/2004 Annex III Section IX Chapter I Part III: a single count over 100,000 is not yet one over the limit."""
    mean = LimitDef("raw", "count", "853/2004 Annex III Sec. IX Ch. I Part III", "text consulted", "per mL",
                    high="100000", rule="raw-bacteria")  # fmt: skip
    row = SampledDef("raw", "Raw", "bacteria", "release", ("raw-milk",), limits=("raw",), farms=True)
    plan = sampled_plan()
    header = replace(plan.plant, rule_set="eu")
    ours = tuple(replace(one, rule="", basis="plant rule") for one in plan.limits)
    in_force(plant, replace(plan, plant=header, limits=(*ours, mean), sampled=(row,)))
    by = plant.actor("ines")
    said = []
    for day, typed in ((0, "40000"), (10, "400000"), (31, "40000"), (45, "40000"), (59, "900000")):
        plant.at(NOW + (2 + 24 * day) * HOUR)
        sample = taken(by, code=f"F {day}", kind="farm", lot_code="", farm="Nettle Farm", tests=("bacteria",),
                       taken_at=clock.now())  # fmt: skip
        said.append(outcome(found(by, sample, "bacteria", typed)))
    assert said == ["not proven", "not met", "not proven", "met", "not met"]
    assert "The authority decides." in Deviation.objects.get().sentence and not Hold.objects.exists()
