"""The plan as one TOML text, whose tables mirror plant.hazard_plan.content.Plan.

    title = "…"
    [plant]            name, time_zone, rule_set, ordinance, …        content.PlantHeader
    [settings]         sanitized_valid_h, …                           content.Settings
    [[shifts]]         key, name, starts, ends, weekdays              content.ShiftDef
    [[closures]] [[vessels]] [[equipment]] [[instruments]] [[products]] [[steps]] [[hazards]]
    [[control_points]] [[limits]] [[monitoring]] [[programmes]] [[verification]] [[reviewers]]
    [[escalation]] [[set_ups]] [[traced]] [[sampled]] [[wash_steps]] [[pipes]] [[trainings]]
    [[confirmations]]

Each table's names are the fields of its class in content.py, with their meaning; one with a default may be
left out. Numbers that are measured or compared are texts in quotes ("38.4"), so that they stay as written;
minutes, hours and places in an order are whole numbers. `answer` and `frequency` of a monitoring are inline
tables. `plan_of` and `store` turn a plan into draft rows and back.
"""

from __future__ import annotations

import re
import tomllib

from plant.hazard_plan.content import Plan, PlanError, from_json
from plant.hazard_plan.lines import Lines
from plant.hazard_plan.stored import plan_of, same_content, store
from plant.hazard_plan.tidy import tidy

__all__ = ["plan_of", "read", "same_content", "store"]

_PLACE = re.compile(r" \(at line (\d+), column \d+\)$")
_END = " (at end of document)"


def read(text: str) -> Plan:
    """The plan that a TOML text says; PlanError with the path and the number of the wrong line."""
    text = text.removeprefix("\ufeff").replace("\r\n", "\n")
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _not_toml(text, str(error)) from error
    try:
        return tidy(from_json(data))
    except PlanError as error:
        line = Lines(text).line_of(error.path) or 1
        raise PlanError(error.path, error.sentence, line) from error


def _not_toml(text: str, message: str) -> PlanError:
    found = _PLACE.search(message)
    if found:
        return PlanError("", f"this is not TOML: {message[: found.start()]}", int(found[1]))
    return PlanError("", f"this is not TOML: {message.removesuffix(_END)}", text.count("\n") + 1)
