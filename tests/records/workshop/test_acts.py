"""What each act of the workshop keeps, what follows from it, what it refuses, and that a form is kept once."""

from __future__ import annotations

import uuid
from decimal import Decimal
from typing import Any

import pytest

from records.deviations.models import Deviation, DeviationCause, Hold
from records.flow.errors import DifferentContent, Refused
from records.judging.models import Verdict
from records.ledger.models import Entry
from records.workshop.actions import (
    record_holding,
    record_notice,
    record_seal,
    record_test,
    record_work,
    say_it_did_not_happen,
)
from records.workshop.data import SealMoved
from records.workshop.keeping import standing
from records.workshop.models import HoldingTest, SealAct, WorkDone
from records.workshop.telling import untold
from tests.conftest import NOW, Plant
from tests.records.checks.made import seals as seals_reading
from tests.records.flow.made import made_ready, moved, ran
from tests.records.workshop.made import (
    HOUR,
    all_in_order,
    equipment_tested,
    held,
    holding,
    in_force,
    notice,
    numbered,
    seal,
    sealed,
    told,
    work,
    worked,
)

SET = {"what": "applied", "sealed_by": "state inspector", "by_regulator": True}


def milk_ran(plant: Plant, **changes: Any) -> None:
    """Whole milk through the press: by default it still runs."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - 6 * HOUR)
    moved(ines, started_at=NOW - 5 * HOUR)
    ran(ines, **{"started_at": NOW - 2 * HOUR, "ended_at": None, "quantity_typed": "", **changes})


# --- work


def test_a_work_names_the_tests_that_follow_it(plant: Plant) -> None:
    """As numbers and as printed words, from the table of parts."""
    row = worked(plant, part="indicating thermometer")
    assert row.tests == ["1", "4", "7"]
    assert row.tests_words[0] == "1, indicating thermometer: temperature"
    assert (row.place_name, row.part_words, row.worker) == ("Press 1", "indicating thermometer", "Piet Lomax")


def test_breaking_a_seal_asks_for_the_holding_time_too(plant: Plant) -> None:
    """Whatever part it was: ATCP 65.68(3)(c)."""
    row = worked(plant, part="recorder", seals=(SealMoved(seal_place="recorder", broken="7"),))
    assert row.tests == ["2", "3", "4", "8", "10", "11"]


def test_work_elsewhere_asks_for_no_test(plant: Plant) -> None:
    """The numbered tests are a pasteurizer's."""
    assert worked(plant, place="finished-1", part="other").tests == []


def test_the_seals_of_a_work_are_records_of_their_own(plant: Plant) -> None:
    """Broken at its start, renewed at its end, with number and who set the new one."""
    moved_seal = SealMoved(seal_place="timing pump", broken="114", renewed="115")
    row = worked(plant, seals=(moved_seal,), sealed_by="state inspector", by_regulator=True)
    acts = list(SealAct.objects.order_by("number").values_list("what", "number_seen", "observed_at", "work"))
    assert acts == [
        ("broken for work", "114", NOW - HOUR, row.number),
        ("renewed", "115", NOW, row.number),
    ]
    assert row.act == SealAct.objects.order_by("number")[0].act


def test_a_works_form_is_kept_once(plant: Plant) -> None:
    """With all that it stands for; other content is refused and what was saved stands."""
    said = work(seals=(SealMoved(seal_place="recorder", broken="7"),))
    first, second = (record_work(plant.actor("piet"), said) for _ in range(2))
    assert first.number == second.number and SealAct.objects.count() == 1
    with pytest.raises(DifferentContent):
        record_work(plant.actor("piet"), work(form_id=said.form_id, what="other"))


@pytest.mark.parametrize(
    ("field", "changes"),
    [
        ("part", {"part": "no such part"}),
        ("place", {"place": "tank-of-another-plant"}),
        ("place", {"place": ""}),
        ("what", {"what": " "}),
        ("what", {"what": "x" * 4001}),
        ("worker", {"worker": ""}),
        ("at", {"started_at": NOW + HOUR}),
        ("at", {"at": NOW + HOUR}),
        ("tools_after", {"tools_before": 3}),
        ("tools_after", {"opened": True}),
        ("parts_after", {"parts_before": 3, "parts_after": -1, "count_note": "?"}),
        ("count_note", {"tools_before": 3, "tools_after": 2}),
        ("sealed_by", {"seals": (SealMoved(seal_place="recorder", renewed="8"),)}),
        ("seals", {"place": "finished-1", "seals": (SealMoved(seal_place="recorder", broken="8"),)}),
    ],
)
def test_work_that_makes_no_sense_is_refused(plant: Plant, field: str, changes: dict[str, Any]) -> None:
    """Beside its field; nothing is written."""
    before = Entry.objects.count()
    with pytest.raises(Refused) as refused:
        record_work(plant.actor("piet"), work(**changes))
    assert refused.value.field == field and Entry.objects.count() == before


def test_an_amended_work_keeps_its_seal_acts(plant: Plant) -> None:
    """They are entries of their own; only the work is written anew, with its reason, and counts from now on."""
    seals = (SealMoved(seal_place="recorder", broken="7"),)
    old = worked(plant, part="recorder", seals=seals)
    new = worked(plant, part="recorder", what="pen arm", amends=old.number, amend_reason="slip of the pen")
    assert SealAct.objects.count() == 1
    assert list(standing(WorkDone.objects.all())) == [new]
    assert new.seals_broken == old.seals_broken and "11" not in new.tests


def test_an_amendment_needs_its_reason_and_comes_once(plant: Plant) -> None:
    """The line of amendments does not fork; another's entry is not an operator's or maintenance person's to amend."""
    old = worked(plant)
    with pytest.raises(Refused):
        worked(plant, amends=old.number)
    with pytest.raises(Refused):
        record_work(plant.actor("ines"), work(amends=old.number, amend_reason="not mine"))
    worked(plant, amends=old.number, amend_reason="slip")
    with pytest.raises(Refused):
        worked(plant, amends=old.number, amend_reason="slip again")


def test_what_did_not_happen_is_named_by_all_that_it_was(plant: Plant) -> None:
    """Nothing is taken away: a successor says so, once for its form."""
    old, form = worked(plant), uuid.uuid4()
    for _ in range(2):
        row = say_it_did_not_happen(plant.actor("piet"), old, "wrong press", form)
    assert (row.void, row.amends, row.what) == (True, old.number, old.what)
    assert WorkDone.objects.count() == 2 and not standing(WorkDone.objects.all()).exists()


# --- tests of record


def test_a_holding_time_is_judged_by_the_rows_of_its_classes(plant: Plant) -> None:
    """The least of all seconds typed counts; the verdict names row, clause and numbers (21 CFR 1240.61(b))."""
    saved = held(plant, seconds="16.2", tries=("16.2", "15.4"), diverted="15.9")
    assert saved.row.seconds == Decimal("15.4") and saved.verdict is not None
    assert (saved.verdict.outcome, saved.verdict.subject_number) == ("met", saved.row.number)
    assert "1240.61" in saved.verdict.clause and saved.verdict.numbers["hold_s"] == "15.4"


@pytest.mark.parametrize(("seconds", "outcome"), [("15.0", "met"), ("14.99", "not met"), ("15,0", None)])
def test_the_bound_itself_meets_it_exactly(plant: Plant, seconds: str, outcome: str | None) -> None:
    """15 s at 161 °F; a comma is no decimal mark here."""
    if outcome is None:
        with pytest.raises(Refused) as refused:
            held(plant, seconds=seconds, tries=())
        assert refused.value.field == "seconds"
        return
    verdict = held(plant, seconds=seconds, tries=()).verdict
    assert verdict is not None and verdict.outcome == outcome


def test_a_test_in_another_state_of_the_homogenizer_is_not_proven(plant: Plant) -> None:
    """It is kept, and says nothing for this set-up."""
    verdict = held(plant, homogenizer="bypassed").verdict
    assert verdict is not None and verdict.outcome == "not proven" and "homogenizer" in verdict.reason


def test_a_hold_found_too_short_puts_in_question_what_ran_since_the_last_good_test(plant: Plant) -> None:
    """A deviation at the seals' control point, and every lot since then is held."""
    held(plant, at=NOW - 4 * HOUR)
    milk_ran(plant, ended_at=NOW - HOUR, quantity_typed="300")
    saved = held(plant, seconds="14.2", tries=())
    assert saved.deviation is not None
    assert (saved.deviation.control_point, saved.deviation.since_at) == ("pasteurizing", NOW - 4 * HOUR)
    assert Hold.objects.filter(deviation=saved.deviation.number).exists()


def test_a_numbered_test_not_met_puts_in_question_what_ran_since_it_last_was(plant: Plant) -> None:
    """A deviation that names the test, once for its form; what ran since the last good one is held."""
    equipment_tested(plant, test="7", at=NOW - 4 * HOUR)
    milk_ran(plant, ended_at=NOW - HOUR, quantity_typed="300")
    said = numbered(test="7", met=False, results="8 s")
    saved = record_test(plant.actor("piet"), said)
    assert saved.deviation is not None and saved.deviation.since_at == NOW - 4 * HOUR
    cause = DeviationCause.objects.get(deviation=saved.deviation.number, cause_number=saved.row.number)
    assert "7, indicating thermometer: response" in cause.sentence
    assert Hold.objects.filter(deviation=saved.deviation.number).exists()
    assert record_test(plant.actor("piet"), said).deviation == saved.deviation


def test_a_test_that_fails_after_work_puts_nothing_before_the_work_in_question(plant: Plant) -> None:
    """The milk ran, then the thermometer was changed, and nothing ran since."""
    milk_ran(plant, ended_at=NOW - 1.5 * HOUR, quantity_typed="300")
    worked(plant, part="indicating thermometer", at=NOW - HOUR)
    assert record_test(plant.actor("piet"), numbered(test="7", met=False)).deviation is None
    assert record_test(plant.actor("piet"), numbered(test="8", met=False)).deviation is not None  # not asked for by it


def test_a_short_hold_of_an_idle_press_touched_nothing(plant: Plant) -> None:
    """No product ran: no deviation, but the verdict stands."""
    assert held(plant, seconds="14.2", tries=()).deviation is None


def test_an_amended_holding_time_is_judged_anew(plant: Plant) -> None:
    """Its verdict follows the old one."""
    old = held(plant, seconds="14.2", tries=())
    new = held(plant, seconds="15.2", tries=(), amends=old.row.number, amend_reason="misread")
    assert old.verdict is not None and new.verdict is not None
    assert (new.verdict.follows, new.verdict.why, new.verdict.outcome) == (old.verdict.number, "amendment", "met")


def test_a_holding_tests_form_is_kept_once(plant: Plant) -> None:
    """One test, one verdict."""
    said = holding()
    for _ in range(2):
        record_holding(plant.actor("piet"), said)
    assert HoldingTest.objects.count() == 1 and Verdict.objects.count() == 1


@pytest.mark.parametrize(
    ("field", "changes"),
    [
        ("set_up", {"set_up": "of-another-press"}),
        ("place", {"place": "finished-1"}),
        ("seconds", {"seconds": ""}),
        ("seconds", {"seconds": "fifteen"}),
        ("seconds", {"seconds": "1520"}),
        ("tries", {"tries": ("15.2", "x")}),
        ("diverted", {"diverted": "0"}),
        ("medium", {"medium": "air"}),
        ("homogenizer", {"homogenizer": "off"}),
        ("pump_rate", {"pump_rate": "fast"}),
        ("pump_rate_unit", {"pump_rate": "1200"}),
        ("tester", {"tester": " "}),
        ("at", {"at": NOW + HOUR}),
    ],
)
def test_a_holding_test_that_makes_no_sense_is_refused(plant: Plant, field: str, changes: dict[str, Any]) -> None:
    """Beside its field; nothing is written."""
    before = Entry.objects.count()
    with pytest.raises(Refused) as refused:
        record_holding(plant.actor("piet"), holding(**changes))
    assert refused.value.field == field and Entry.objects.count() == before


def test_a_numbered_test_keeps_its_rule(plant: Plant) -> None:
    """Which row says how often, its clause, whose test it was."""
    row = record_test(plant.actor("piet"), numbered()).row
    assert (row.test, row.rule, row.by_regulator) == ("1", "test-instruments", True)
    assert "VII-313" in row.clause and row.basis == "text consulted"


@pytest.mark.parametrize(
    ("field", "changes"),
    [
        ("test", {"test": "11"}), ("test", {"test": "99"}), ("place", {"place": "nowhere"}), ("place", {"place": ""}),
        ("results", {"results": ""}), ("tester", {"tester": ""}), ("instrument", {"instrument": "T-99"}),
    ],
)  # fmt: skip
def test_a_numbered_test_that_makes_no_sense_is_refused(plant: Plant, field: str, changes: dict[str, Any]) -> None:
    """Beside its field; the holding time has a form of its own."""
    before = Entry.objects.count()
    with pytest.raises(Refused) as refused:
        record_test(plant.actor("piet"), numbered(**changes))
    assert refused.value.field == field and Entry.objects.count() == before


# --- seals


def test_a_seal_found_broken_in_a_running_run_is_a_deviation(plant: Plant) -> None:
    """At the control point of the plan's seal check, back to when it was last seen whole; what ran is held."""
    all_in_order(plant, NOW - 4 * HOUR)
    milk_ran(plant)
    saved = sealed(plant, "ines", what="found broken", number="timing pump-1")
    assert saved.deviation is not None
    assert (saved.deviation.control_point, saved.deviation.subject, saved.deviation.weight) == (
        "pasteurizing", "press-1", "legal",
    )  # fmt: skip
    assert saved.deviation.since_at == NOW - 4 * HOUR
    assert DeviationCause.objects.get(cause_number=saved.row.number).cause_kind == "seal act"
    assert Hold.objects.filter(deviation=saved.deviation.number).exists()


def test_the_plans_own_check_on_seals_says_when_they_were_last_whole(plant: Plant) -> None:
    """Answered yes at 08:00: only what ran since is touched."""
    from records.checks.actions import record_reading

    all_in_order(plant, NOW - 4 * HOUR)
    milk_ran(plant)
    record_reading(plant.actor("ines"), seals_reading("yes", observed_at=NOW - HOUR))
    saved = sealed(plant, what="found missing", number="")
    assert saved.deviation is not None and saved.deviation.since_at == NOW - HOUR


def test_a_seal_found_broken_after_a_run_reaches_that_run(plant: Plant) -> None:
    """Nobody knows when it broke: what ran since it was last whole is held."""
    all_in_order(plant, NOW - 4 * HOUR)
    milk_ran(plant, ended_at=NOW - HOUR, quantity_typed="300")
    assert sealed(plant, what="found missing").deviation is not None


def test_a_seal_never_seen_whole_reaches_back_to_the_beginning(plant: Plant) -> None:
    """Silence is no seal."""
    milk_ran(plant, ended_at=NOW - HOUR, quantity_typed="300")
    saved = sealed(plant, what="found broken")
    assert saved.deviation is not None and saved.deviation.since_at < NOW - 5 * HOUR


def test_a_seal_found_broken_at_rest_is_no_deviation(plant: Plant) -> None:
    """Nothing ran since it was last whole; it stands against the next start all the same."""
    all_in_order(plant, NOW - 4 * HOUR)
    assert sealed(plant, what="found broken").deviation is None


def test_breaking_a_seal_for_work_is_a_deviation_only_while_product_runs(plant: Plant) -> None:
    """At rest it is how work begins."""
    all_in_order(plant, NOW - 4 * HOUR)
    milk_ran(plant, ended_at=NOW - HOUR, quantity_typed="300")
    assert sealed(plant, what="broken for work").deviation is None
    ran(plant.actor("ines"), started_at=NOW - HOUR / 2, ended_at=None, quantity_typed="")
    assert sealed(plant, what="broken for work", seal_place="recorder").deviation is not None


def test_a_second_seal_found_broken_joins_the_open_deviation(plant: Plant) -> None:
    """One at a time for a control point and place."""
    all_in_order(plant, NOW - 4 * HOUR)
    milk_ran(plant)
    first = sealed(plant, what="found broken").deviation
    second = sealed(plant, what="found broken", seal_place="recorder").deviation
    assert first is not None and second is not None and first.number == second.number
    assert Deviation.objects.filter(control_point="pasteurizing").count() == 1


def test_a_seal_act_is_kept_once(plant: Plant) -> None:
    """One act and one deviation, however often the form comes."""
    milk_ran(plant)
    said = seal(what="found broken")
    first, second = (record_seal(plant.actor("ines"), said) for _ in range(2))
    assert first.row.number == second.row.number and second.deviation == first.deviation


@pytest.mark.parametrize(
    ("field", "changes"),
    [
        ("seal_place", {"seal_place": "door"}),
        ("what", {"what": "mended"}),
        ("place", {"place": "finished-1"}),
        ("number", {"what": "applied", "number": ""}),
        ("number", {"number": "1" * 41}),
        ("by_regulator", {"what": "renewed", "sealed_by": "x"}),
        ("sealed_by", {"what": "renewed", "by_regulator": True}),
        ("at", {"at": NOW + HOUR}),
    ],
)
def test_a_seal_act_that_makes_no_sense_is_refused(plant: Plant, field: str, changes: dict[str, Any]) -> None:
    """Beside its field; nothing is written."""
    before = Entry.objects.count()
    with pytest.raises(Refused) as refused:
        record_seal(plant.actor("piet"), seal(**changes))
    assert refused.value.field == field and Entry.objects.count() == before


# --- the regulator


def test_a_broken_seal_waits_until_the_regulator_was_told_in_words_and_in_writing(plant: Plant) -> None:
    """Told within the hours of Wisconsin's rule, the form within five business days: Tuesday to the next Tuesday."""
    row = sealed(plant, what="found broken").row
    (open_,) = untold("press-1", in_force())
    assert [(one.rule.id, one.told_by, str(one.form_by)) for one in open_.asks] == [
        ("seal-broken-wi", NOW + 2 * HOUR, "2026-03-10"),
        ("seal-broken", None, "None"),
    ]
    assert open_.is_late(NOW)  # at once, as the ordinance has it
    said = told(plant, row.number, answer="reseal on Thursday")
    (open_,) = untold("press-1", in_force())
    assert open_.told == said and open_.answer == said and open_.form is None and not open_.is_late(NOW)
    told(plant, row.number, what="form sent", how="mail")
    assert untold("press-1", in_force()) == []


def test_a_seal_seen_whole_is_nothing_to_tell(plant: Plant) -> None:
    """Only one that is not what the book says."""
    sealed(plant, **SET)
    sealed(plant)
    assert untold("press-1", in_force()) == []


@pytest.mark.parametrize(
    ("field", "changes"),
    [
        ("what", {"what": "thought of"}), ("how", {"how": "pigeon"}), ("told_by", {"told_by": ""}),
        ("told_whom", {"told_whom": ""}), ("answer", {"what": "answer"}), ("at", {"at": NOW + HOUR}),
        ("", {"subject_number": 1}), ("", {"subject_kind": "person"}),
    ],
)  # fmt: skip
def test_a_notice_that_makes_no_sense_is_refused(plant: Plant, field: str, changes: dict[str, Any]) -> None:
    """Beside its field; nothing is written."""
    row = sealed(plant, what="found broken").row
    before = Entry.objects.count()
    with pytest.raises(Refused) as refused:
        record_notice(plant.actor("wren"), notice(changes.pop("subject_number", row.number), **changes))
    assert refused.value.field == field and Entry.objects.count() == before


def test_a_notice_is_kept_once(plant: Plant) -> None:
    """The same form again gives the notice that was saved."""
    said = notice(sealed(plant, what="found broken").row.number)
    first, second = (record_notice(plant.actor("wren"), said) for _ in range(2))
    assert first == second
