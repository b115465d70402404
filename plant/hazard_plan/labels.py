"""The names of a plan's fields as people read them, and which of them are chosen from what."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from plant.hazard_plan.check import CONTROL_POINT_KINDS, ESCALATED, HAZARD_KINDS
from plant.hazard_plan.check_limits import PLANT_RULE
from plant.hazard_plan.check_monitoring import ANSWERS, WEIGHTS
from plant.hazard_plan.check_traces import CLASSES, HOMOGENIZERS, METHODS, TIMINGS, TRACED
from plant.hazard_plan.check_trainings import ROLES as TRAINED
from plant.hazard_plan.check_washes import FLOWS, STRENGTHS, WAYS
from plant.hazard_plan.check_washes import STEPS as WASH_STEPS
from plant.hazard_plan.content import Plan
from plant.hazard_plan.planned import FREQUENCY_KINDS
from plant.hazard_plan.words import BASES
from plant.people.models import Role
from plant.process.laboratory import TESTS
from plant.process.plant_calendar import WEEKDAYS
from plant.rules import keys, rule_set

Label = str | Promise
Choices = list[tuple[str, Label]]

TABLES: dict[str, Label] = {
    "steps": _("step"),
    "hazards": _("hazard"),
    "control_points": _("control point"),
    "limits": _("limit"),
    "monitoring": _("check"),
    "shifts": _("shift"),
    "closures": _("closure"),
    "programmes": _("programme"),
    "verification": _("verification"),
    "reviewers": _("reviewer"),
    "escalation": _("who hears of what"),
    "set_ups": _("set-up of a pasteurizer"),
    "traced": _("trace of a recorder"),
    "sampled": _("test of the laboratory"),
    "wash_steps": _("step of a wash program"),
    "pipes": _("pipe between two places"),
    "trainings": _("training"),
    "confirmations": _("confirmation"),
}

LABELS: dict[str, Label] = {
    "key": _("Key (stays the same across versions)"),
    "number": _("Place in flow order"),
    "name": _("Name"),
    "text": _("Text"),
    "places": _("Where"),
    "recorder": _("Recorder in the return line"),
    "way": _("Way of washing (empty: in place)"),
    "strips": _("Its strength is read with test strips"),
    "parts_of": _("Parts of which vessel or line"),
    "flow_low": _("Least flow"),
    "flow_unit": _("Unit of flow"),
    "strength_recorder": _("Recorder of the strength in the return line"),
    "flow_recorder": _("Recorder of the flow"),
    "parted_by": _("What keeps them apart while one is washed"),
    "topic": _("Topic"),
    "topic_es": _("Topic in Spanish"),
    "roles": _("Asked of"),
    "every_months": _("Asked again after months (0: once)"),
    "step": _("Step"),
    "kind": _("Kind"),
    "significant": _("Significant: it needs a control"),
    "reason": _("Why"),
    "control": _("What controls it"),
    "control_point": _("Control point"),
    "clause": _("Clause"),
    "programme": _("Programme"),
    "reaches_product": _("A limit missed here holds the product"),
    "bars_release": _("Never released on tests when missed"),
    "quantity": _("What is limited"),
    "basis": _("What it stands on"),
    "unit": _("Unit"),
    "low": _("Lowest allowed"),
    "high": _("Highest allowed"),
    "operating_low": _("Act below"),
    "operating_high": _("Act above"),
    "wanted": _("Answers that meet it"),
    "rule": _("Row of the rule set"),
    "note": _("Note"),
    "products": _("Only for pasteurization classes"),
    "subjects": _("At"),
    "what": _("Question"),
    "what_es": _("Question in Spanish"),
    "how": _("How"),
    "role": _("Who"),
    "limits": _("Limits"),
    "weight": _("Weight"),
    "early_min": _("Minutes early that are in time"),
    "grace_min": _("Minutes late that are in time"),
    "missed_after": _("Missed after"),
    "agitator_min": _("Minutes that the agitator must have run"),
    "recheck_min": _("Minutes to the re-check when out of limits"),
    "corrective_action": _("Written corrective action"),
    "instruments": _("Instruments"),
    "legal": _("Asked for by law"),
    "answer_kind": _("Kind of answer"),
    "answer_unit": _("Unit of the answer"),
    "answer_choices": _("Choices"),
    "answer_places": _("Places of the list"),
    "answer_low": _("Lowest plausible"),
    "answer_high": _("Highest plausible"),
    "frequency_kind": _("How often"),
    "frequency_at": _("Times (+00:30 after the shift's start, -00:15 before its end, or 09:00)"),
    "frequency_shifts": _("Only these shifts"),
    "frequency_every_min": _("Every so many minutes"),
    "frequency_first_min": _("First after so many minutes"),
    "frequency_every_units": _("Every so many units"),
    "frequency_valid_min": _("Stays valid for minutes"),
    "frequency_first": _("At the start of the run"),
    "frequency_last": _("At the end of the run"),
    "frequency_event": _("Event"),
    "frequency_minutes": _("Minutes after the event"),
    "frequency_rule": _("Calendar rule (RFC 5545)"),
    "frequency_on_closed": _("On closed days"),
    "frequency_start": _("Calendar counted from (2026-01-05)"),
    "starts": _("Starts (HH:MM)"),
    "ends": _("Ends (HH:MM, may be after midnight)"),
    "weekdays": _("Weekdays"),
    "first": _("First day (2026-12-24)"),
    "last": _("Last day"),
    "frequency": _("How often"),
    "sign_in": _("Sign-in name"),
    "from_date": _("From"),
    "until_date": _("Until"),
    "outside": _("Not employed here"),
    "self_review_allowed": _("May review own records where nobody else exists (every sheet says so)"),
    "minutes": _("Minutes"),
    "press": _("Pasteurizer"),
    "classes": _("Pasteurization classes that it was accepted for"),
    "set_point": _("Diverts below"),
    "method": _("Method"),
    "timing": _("What sets the holding time"),
    "homogenizer": _("Homogenizer during the test"),
    "top_rate": _("Fastest flow that was tested"),
    "top_rate_unit": _("Unit of that flow"),
    "place": _("On"),
    "slowest_s": _("Longest step between two samples, seconds"),
    "silent_min": _("Silent after minutes without a live sample (0: none are expected)"),
    "flat_min": _("Minutes unchanged that cast doubt on the sensor (0: not looked for)"),
    "fastest_per_s": _("Fastest change that can be, in its unit a second"),
    "spike_s": _("Seconds within which a spike comes back"),
    "clock_s": _("Seconds by which its clock may be off (0: not asked)"),
    "wash_at": _("A wash shows as at least"),
    "wash_min": _("for so many minutes (0: not looked for)"),
    "test": _("Test of the laboratory"),
    "every_lots": _("Of every so many lots (0: not by lots)"),
    "calendar": _("Calendar rule (RFC 5545), empty for none"),
    "required": _("Packed product waits on hold until it is in limits"),
    "zone": _("Environmental zone 1 to 4 (0: none; zone 1 touches product)"),
    "samples": _("Samples of a lot (n)"),
    "may_exceed": _("How many may be above the limit (c)"),
    "never_above": _("None above (M; empty: no such bound)"),
    "clean_days": _("After a find: days in a row on which it is not found (0: the plan does not say)"),
    "farms": _("Of each farm's own milk"),
    "wash_point": _("Control point of washes that do not show"),
    "cool_limit": _("After filling it is cooled to meet"),
    "cool_min": _("within so many minutes of the filling's end (0: not asked)"),
    "blend_limit": _("Limit that a later fill never exceeds meanwhile"),
    "title": _("Title of the plan"),
    "plant_name": _("Plant"),
    "time_zone": _("Time zone"),
    "rule_set": _("Rule set"),
    "ordinance": _("Milk ordinance: state and edition"),
    "temperature_unit": _("Temperatures in"),
    "volume_unit": _("Volumes in"),
    "language": _("Language"),
    "address": _("Address"),
    "plant_number": _("Plant number"),
    "day_starts": _("The plant day starts at (HH:MM)"),
    "decimal_mark": _("Decimal mark"),
    "caution": _("Caution on every sheet"),
    "sanitized_valid_h": _("Sanitized stays valid for hours"),
    "run_hours_between_washes": _("Hours of running between washes"),
    "large_book_difference": _("Difference from the book that opens a deviation, percent of capacity"),
    "record_years": _("Years that records are kept"),
    "unloads_on_pending": _("Unloads before the residue result is in, and holds it (the law: before processing)"),
    "line_clearance_h": _("A line clearance counts for hours before the first pack (0: none is asked)"),
    "label_difference": _("Labels, lids and tubs missing or too many that open a deviation, percent of those issued"),
    "rework_h": _("Rework is used within hours of being set aside (0: each portion names its own)"),
    "pickup_h": _("The most hours from a farm's pick-up to arrival (0: none is asked)"),
    "wash_unrecorded_min": _("A wash that was begun is asked for after minutes (0: three hours)"),
    "ferrous_piece_mm": _("Test piece of the metal detector, ferrous, mm"),
    "non_ferrous_piece_mm": _("Test piece of the metal detector, non-ferrous, mm"),
    "stainless_piece_mm": _("Test piece of the metal detector, stainless steel, mm"),
}

LONG = {"text", "reason", "control", "how", "corrective_action", "note", "caution"}
WEEKDAY_NAMES: dict[str, Label] = dict(
    zip(
        WEEKDAYS,
        (
            _("Monday"),
            _("Tuesday"),
            _("Wednesday"),
            _("Thursday"),
            _("Friday"),
            _("Saturday"),
            _("Sunday"),
        ),
        strict=True,
    )
)


def _same(values: tuple[str, ...] | list[str]) -> Choices:
    return [(one, one.replace("_", " ")) for one in values]


def _places(plan: Plan) -> Choices:
    things: tuple[Any, ...] = (*plan.vessels, *plan.equipment)
    return [(one.code, one.name) for one in things]


def _rules(plan: Plan) -> Choices:
    if plan.plant.rule_set not in keys():
        return []
    return [(one.id, f"{one.id}: {one.title}, {one.clause}") for one in rule_set(plan.plant.rule_set).rows.values()]


def _keyed(name: str) -> Callable[[Plan], Choices]:
    return lambda plan: [(one.key, getattr(one, "name", one.key)) for one in getattr(plan, name)]


def _fixed(choices: Choices) -> Callable[[Plan], Choices]:
    return lambda plan: choices


# (table or "", field) -> what may be chosen. The table "" stands for every table.
CHOSEN: dict[tuple[str, str], Callable[[Plan], Choices]] = {
    ("hazards", "kind"): _fixed(_same(HAZARD_KINDS)),
    ("control_points", "kind"): _fixed(_same(CONTROL_POINT_KINDS)),
    ("control_points", "bars_release"): _fixed(_same(("pasteurization", "residue"))),
    ("", "step"): _keyed("steps"),
    ("", "control_point"): _keyed("control_points"),
    ("", "programme"): _keyed("programmes"),
    ("", "limits"): _keyed("limits"),
    ("limits", "basis"): _fixed([(key, label) for key, label in BASES.items()]),
    ("limits", "rule"): _rules,
    ("limits", "products"): lambda plan: _same(sorted({one.product_class for one in plan.products})),
    ("monitoring", "subjects"): _places,
    ("steps", "places"): _places,
    ("monitoring", "instruments"): lambda plan: [(one.code, f"{one.code}: {one.name}") for one in plan.instruments],
    ("monitoring", "weight"): _fixed(_same(WEIGHTS)),
    ("", "role"): _fixed(list(Role.choices)),
    ("monitoring", "answer_kind"): _fixed(_same(ANSWERS)),
    ("monitoring", "frequency_kind"): _fixed(_same(FREQUENCY_KINDS)),
    ("monitoring", "frequency_shifts"): _keyed("shifts"),
    ("monitoring", "frequency_on_closed"): _fixed([("skip", _("not due")), ("keep", _("due all the same"))]),
    ("shifts", "weekdays"): _fixed(list(WEEKDAY_NAMES.items())),
    ("escalation", "what"): _fixed(_same(ESCALATED)),
    ("set_ups", "press"): lambda plan: [(one.code, one.name) for one in plan.vessels if one.kind == "pasteurizer"],
    ("set_ups", "classes"): _fixed(_same(CLASSES)),
    ("set_ups", "unit"): _fixed(_same(("°F", "°C"))),
    ("set_ups", "method"): _fixed(_same(METHODS)),
    ("set_ups", "timing"): _fixed(_same(TIMINGS)),
    ("set_ups", "homogenizer"): _fixed(_same(HOMOGENIZERS)),
    ("sampled", "place"): _places,
    ("sampled", "test"): _fixed(_same(tuple(TESTS))),
    ("sampled", "weight"): _fixed(_same(WEIGHTS)),
    ("sampled", "products"): lambda plan: [(one.code, one.name) for one in plan.products],
    ("traced", "place"): _places,
    ("traced", "wash_point"): _keyed("control_points"),
    ("traced", "what"): _fixed(_same(TRACED)),
    ("wash_steps", "places"): _places,
    ("pipes", "places"): _places,
    ("trainings", "roles"): _fixed([(key, label) for key, label in Role.choices if key in TRAINED]),
    ("wash_steps", "step"): _fixed(_same(WASH_STEPS)),
    ("wash_steps", "unit"): _fixed(_same(("°F", "°C"))),
    ("wash_steps", "strength_unit"): _fixed([("", "—"), *_same(STRENGTHS)]),
    ("wash_steps", "way"): _fixed(_same(WAYS)),
    ("wash_steps", "flow_unit"): _fixed([("", "—"), *_same(FLOWS)]),
    ("header", "rule_set"): lambda plan: _same(keys()),
    ("header", "temperature_unit"): _fixed([("F", "°F"), ("C", "°C")]),
    ("header", "volume_unit"): _fixed(_same(("gal", "L"))),
    ("header", "language"): _fixed([("en", _("English")), ("es", _("Spanish"))]),
    ("header", "decimal_mark"): _fixed([(".", "38.4"), (",", "38,4")]),
}


def choices_of(table: str, name: str, plan: Plan) -> Choices | None:
    """What a field may be, or None when it is written freely."""
    found: Any = CHOSEN.get((table, name)) or CHOSEN.get(("", name))
    return None if found is None else found(plan)


def label_of(name: str) -> Any:
    """A field's label."""
    return LABELS.get(name, name.replace("_", " "))


__all__ = ["LONG", "PLANT_RULE", "TABLES", "choices_of", "label_of"]
