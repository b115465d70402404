"""What a plan may say of set-ups and of recorders' traces."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest

from plant.hazard_plan.check import problems
from plant.hazard_plan.content import LimitDef, Plan, SetUpDef, TracedDef, from_json, to_json
from tests.factories import small_plan

pytestmark = pytest.mark.once

SET_UP = SetUpDef("press-1-milk", "Milk", "press-1", "161.5", ("milk",), homogenizer="running")
HOT = TracedDef("T-12", "Press 1 recorder", "press-1", "hold temperature", "pasteurizing", "°F", "5", ("hot",))
FORWARD = TracedDef("fd-press-1", "Diversion device, forward", "press-1", "forward flow", "pasteurizing")


def plan(set_up: dict[str, Any] | None = None, hot: dict[str, Any] | None = None, **changes: Any) -> Plan:
    """The small plan with a set-up and two traces, some of it otherwise."""
    parts: dict[str, Any] = {
        "set_ups": (replace(SET_UP, **(set_up or {})),),
        "traced": (replace(HOT, **(hot or {})), FORWARD),
    }
    return small_plan(**(parts | changes))


def refused(of: Plan) -> set[str]:
    """The paths of what is refused."""
    return {one.path for one in problems(of) if one.refuses}


def test_a_press_with_its_set_up_and_traces_stands() -> None:
    """Nothing is refused and nothing is said of traces."""
    said = {one.path for one in problems(plan())} - {one.path for one in problems(small_plan(set_ups=(), traced=()))}
    assert said == set()


@pytest.mark.parametrize(
    ("set_up", "path"),
    [
        ({"press": "silo-a"}, "set_ups[0].press"),
        ({"set_point": "hot"}, "set_ups[0].set_point"),
        ({"set_point": "0"}, "set_ups[0].set_point"),
        ({"unit": "K"}, "set_ups[0].unit"),
        ({"method": "vat"}, "set_ups[0].method"),
        ({"timing": "by eye"}, "set_ups[0].timing"),
        ({"timing": "meter"}, "set_ups[0].top_rate"),
        ({"top_rate": "5000"}, "set_ups[0].top_rate_unit"),
        ({"homogenizer": "perhaps"}, "set_ups[0].homogenizer"),
        ({"classes": ()}, "set_ups[0].classes"),
        ({"classes": ("juice",)}, "set_ups[0].classes"),
    ],
)
def test_a_set_up_that_makes_no_sense_is_refused(set_up: dict[str, Any], path: str) -> None:
    """Each by the place that is wrong."""
    assert refused(plan(set_up=set_up)) == {path}


@pytest.mark.parametrize(
    ("hot", "path"),
    [
        ({"place": "nowhere"}, "traced[0].place"),
        ({"control_point": "none"}, "traced[0].control_point"),
        ({"what": "mood"}, "traced[0].what"),
        ({"unit": ""}, "traced[0].unit"),
        ({"unit": "°C"}, "traced[0].unit"),
        ({"limits": ("none",)}, "traced[0].limits"),
        ({"limits": ("seals-whole",)}, "traced[0].limits"),
        ({"slowest_s": "0"}, "traced[0].slowest_s"),
        ({"fastest_per_s": "-1"}, "traced[0].fastest_per_s"),
        ({"spike_s": "soon"}, "traced[0].spike_s"),
        ({"flat_min": -1}, "traced[0].flat_min"),
        ({"wash_min": 5}, "traced[0].wash_at"),
        ({"wash_min": 5, "wash_at": "hot"}, "traced[0].wash_at"),
        ({"wash_point": "none"}, "traced[0].wash_point"),
        ({"key": "fd-press-1"}, "traced[1].key"),
        ({"cool_limit": "cold", "cool_min": 60}, "traced[0].cool_limit"),
    ],
)
def test_a_trace_that_makes_no_sense_is_refused(hot: dict[str, Any], path: str) -> None:
    """Each by the place that is wrong."""
    assert refused(plan(hot=hot)) == {path}


TANK = TracedDef("T-20", "Silo A recorder", "silo-a", "tank temperature", "raw-storage", "°F", "60", ("cold",))


@pytest.mark.parametrize(
    ("tank", "path"),
    [
        ({"cool_limit": "none", "cool_min": 60}, "traced[2].cool_limit"),
        ({"cool_limit": "hot", "cool_min": 60}, "traced[2].cool_limit"),
        ({"cool_limit": "cold"}, "traced[2].cool_min"),
        ({"cool_min": 60}, "traced[2].cool_min"),
        ({"blend_limit": "cold"}, "traced[2].blend_limit"),
        ({"cool_limit": "cold", "cool_min": 60, "blend_limit": "seals-whole"}, "traced[2].blend_limit"),
        ({"cool_limit": "cold", "cool_min": 60, "blend_limit": "cold"}, ""),
    ],
)
def test_the_time_to_cool_names_what_it_needs(tank: dict[str, Any], path: str) -> None:
    """A limit with a highest temperature, and its minutes."""
    assert refused(plan(traced=(HOT, FORWARD, replace(TANK, **tank)))) == ({path} if path else set())


@pytest.mark.parametrize(
    ("rule", "minutes", "asked"), [("farm-2h", 120, False), ("farm-2h", 121, True), ("raw-cold", 5, True)]
)
def test_more_time_to_cool_than_the_row_gives_is_confirmed(rule: str, minutes: int, asked: bool) -> None:
    """45 °F within 2 h of the end of milking (PMO Table 1, a textbook's copy); raw milk in the plant has no time."""
    limit = LimitDef("cool", "product temperature", "PMO Table 1", "state mirror", "°F", high="45", rule=rule)
    tank = replace(TANK, cool_limit="cool", cool_min=minutes)
    said = problems(plan(limits=(*small_plan().limits, limit), traced=(HOT, FORWARD, tank)))
    assert [one.path for one in said if "may take" in one.sentence] == (["traced[2].cool_min"] if asked else [])


def test_a_signal_has_no_unit() -> None:
    """1 and 0 are no measurement."""
    assert refused(plan(traced=(HOT, replace(FORWARD, unit="V")))) == {"traced[1].unit"}


def test_a_press_has_one_of_each() -> None:
    """Two recorders of the same thing would be two answers to one question."""
    twice = (HOT, FORWARD, replace(HOT, key="T-11", unit="°F"))
    assert refused(plan(traced=twice)) == {"traced[2].what"}


@pytest.mark.parametrize(
    ("changes", "path"),
    [({"traced": (HOT,)}, "traced"), ({"set_ups": ()}, "set_ups"), ({"traced": (HOT, FORWARD)}, "")],
)
def test_what_can_prove_nothing_is_said(changes: dict[str, Any], path: str) -> None:
    """Without a forward-flow signal or a set-up nothing of a press's trace is proven."""
    said = [one.path for one in problems(plan(**changes)) if "can be proven" in one.sentence]
    assert said == ([path] if path else [])


def test_a_plan_without_them_is_written_as_it_always_was() -> None:
    """An older plan's content, and so its hash, stays the same; a plan with them comes back whole."""
    assert {"set_ups", "traced"}.isdisjoint(to_json(small_plan(set_ups=(), traced=())))
    assert from_json(json.loads(json.dumps(to_json(plan())))) == plan()
