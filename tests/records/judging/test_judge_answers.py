"""Every other kind of answer: yes or no, choice, count, code, places, photo."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from plant.hazard_plan.content import AnswerDef, LimitDef
from records.judging.judge import judge_reading
from records.judging.words import to_operator
from records.people.plans import InForce
from tests.factories import small_plan
from tests.records.judging.made import in_force, judged, reading

pytestmark = pytest.mark.once


def with_answer(answer: AnswerDef, *limits: LimitDef) -> InForce:
    """The small plan whose seal check asks something else."""
    plan = small_plan()
    asked = tuple(
        replace(one, answer=answer, limits=tuple(limit.key for limit in limits)) if one.key == "press-seals" else one
        for one in plan.monitoring
    )
    return in_force(replace(plan, monitoring=asked, limits=(*plan.limits, *limits)))


@pytest.mark.parametrize(("typed", "outcome"), [("yes", "met"), ("no", "not met"), ("", "not proven")])
def test_yes_or_no_against_the_wanted_answer(typed: str, outcome: str) -> None:
    """A broken seal is not met, silence is not proven."""
    assert judged("press-seals", typed).outcome == outcome


@pytest.mark.parametrize(
    ("typed", "outcome"), [("not found", "met"), ("found", "not met"), ("test not valid", "not met")]
)
def test_a_choice_against_the_wanted_answers(typed: str, outcome: str) -> None:
    """A residue screen that did not work is no pass."""
    assert judged("residue-screen", typed).outcome == outcome


@pytest.mark.parametrize(("typed", "outcome"), [("0", "met"), ("2", "met"), ("3", "not met")])
def test_a_count_against_its_bounds(typed: str, outcome: str) -> None:
    """Two are allowed, three are not."""
    few = LimitDef("few", "pieces", "plant rule, invented for the tests", "plant rule", high="2")
    plan = with_answer(AnswerDef("count"), few)
    assert judged("press-seals", typed, plan).outcome == outcome


def test_a_count_without_a_limit_is_recorded() -> None:
    """Diversions are counted and signed; the plan sets no number."""
    assert judged("press-diversions", "3").outcome == "met"


@pytest.mark.parametrize(("typed", "outcome"), [("LOT 7", "met"), (" ", "not proven")])
def test_a_code_is_met_when_it_is_there(typed: str, outcome: str) -> None:
    """A lot number is kept; an empty one proves nothing."""
    assert judged("feeder-lot", typed).outcome == outcome


def test_places_are_judged_one_by_one() -> None:
    """One catch among twenty traps is not met and named; one silent trap is not proven."""
    names = [str(one) for one in range(1, 21)]
    every = dict.fromkeys(names, "nothing")
    assert judged("traps", places=every).outcome == "met"
    caught = judged("traps", places=every | {"7": "catch"})
    assert caught.outcome == "not met" and "7" in caught.reason
    assert judged("traps", places=dict.fromkeys(names[:19], "nothing")).outcome == "not proven"


@pytest.mark.parametrize(("file", "outcome"), [("ab" * 32, "met"), ("", "not proven")])
def test_a_photo_is_met_when_it_is_there(file: str, outcome: str) -> None:
    """The picture is the answer."""
    assert judged("press-seals", plan=with_answer(AnswerDef("photo")), file=file).outcome == outcome


def test_a_pair_without_a_limit_is_only_compared() -> None:
    """The two thermometers agree: that is all the plan asks."""
    plan = with_answer(AnswerDef("pair", "°F"))
    assert judged("press-seals", "70", plan, value_second=Decimal("70")).outcome == "met"
    assert judged("press-seals", "70", plan, value_second=Decimal("71")).outcome == "not met"


def test_what_a_version_does_not_monitor_is_not_judged() -> None:
    """A free reading has no verdict."""
    free = reading("press-seals")
    free.monitoring_key = ""
    assert judge_reading(free, in_force(small_plan())) is None


def test_operators_read_plain_words() -> None:
    """In limits; in limits, act; out of limits; not proven."""
    words = [to_operator(one) for one in ("met", "met, past the operating limit", "not met", "not proven")]
    assert words == ["in limits", "in limits, act", "out of limits", "not proven"]
