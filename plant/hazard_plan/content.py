"""The whole plan as plain values: what a draft holds, what an approval freezes, and what every judgement reads.

No Django here. `from_json` is strict: an unknown or missing name, or a value of the wrong kind, raises `PlanError`
with the path to it (`monitoring[3].answer.kind`). `to_json` gives only text, whole numbers, true/false, lists and
maps, so that the canonical bytes are the same everywhere. Decimals are text, as written down.
"""

from __future__ import annotations

import types
import typing
from dataclasses import dataclass, field, fields, is_dataclass
from typing import Any

Json = Any


class PlanError(ValueError):
    """A written plan cannot be understood; `path` says where, and `line` when it came from a file."""

    def __init__(self, path: str, sentence: str, line: int = 0) -> None:
        where = f"line {line}: " if line else ""
        super().__init__(f"{where}{path}: {sentence}" if path else f"{where}{sentence}")
        self.path = path
        self.sentence = sentence
        self.line = line


@dataclass(frozen=True, slots=True)
class PlantHeader:
    """Who and where; `day_starts` is local HH:MM, empty for the first shift's start."""

    name: str
    time_zone: str
    rule_set: str
    ordinance: str
    temperature_unit: str = "F"
    volume_unit: str = "gal"
    language: str = "en"
    address: str = ""
    plant_number: str = ""
    day_starts: str = ""
    decimal_mark: str = "."
    caution: str = ""


@dataclass(frozen=True, slots=True)
class ShiftDef:
    """A shift: local HH:MM; it may end after midnight. Weekdays MO to SU."""

    key: str
    name: str
    starts: str
    ends: str
    weekdays: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ClosureDef:
    """Days without production: dates from and to (ISO, both included), or an RFC 5545 rule."""

    key: str
    name: str
    first: str = ""
    last: str = ""
    rule: str = ""


@dataclass(frozen=True, slots=True)
class VesselDef:
    """A vessel as it stood at approval; see plant.equipment.models.Vessel."""

    code: str
    name: str
    kind: str
    stage: str
    storage_class: str
    flow_order: int
    walk_order: int
    holds_product: bool = True
    capacity: str = ""
    unit: str = "gal"


@dataclass(frozen=True, slots=True)
class EquipmentDef:
    """Other equipment, or an area of the plant."""

    code: str
    name: str
    kind: str
    walk_order: int
    area: str = ""


@dataclass(frozen=True, slots=True)
class InstrumentDef:
    """An instrument; decimals as text, in `unit`; `calibration_due` an ISO date."""

    code: str
    name: str
    role: str
    unit: str
    low: str
    high: str
    resolution: str
    accuracy: str
    calibration_due: str
    place_code: str = ""
    correction: str = "0"


@dataclass(frozen=True, slots=True)
class ProductDef:
    """A product. `gtin`, `net_contents`, `shelf_days` and `keep` stand on the label of its packs.

    `keep`: 'refrigerated', 'frozen', or empty where the label says neither. `shelf_days`: whole days to best before.
    """

    code: str
    name: str
    family: str
    product_class: str
    fat_percent: str = ""
    allergens: tuple[str, ...] = ()
    is_sold: bool = True
    gtin: str = ""
    net_contents: str = ""
    shelf_days: str = ""
    keep: str = ""


@dataclass(frozen=True, slots=True)
class StepDef:
    """A process step, in flow order by `number`; `places` are codes of vessels and equipment."""

    key: str
    number: int
    name: str
    text: str = ""
    places: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class HazardDef:
    """A hazard at a step: kind is biological, chemical, physical or allergen."""

    key: str
    step: str
    kind: str
    text: str
    significant: bool
    reason: str
    control: str
    control_point: str = ""


@dataclass(frozen=True, slots=True)
class ControlPointDef:
    """Where a hazard is controlled. kind: ccp, allergen, sanitation, supply-chain, prerequisite, operating.

    `reaches_product`: a critical limit not met or not proven here touches product, so it holds what the vessel held.
    `bars_release`: 'pasteurization' or 'residue' where product that missed it is never released on test results.
    """

    key: str
    name: str
    kind: str
    step: str = ""
    clause: str = ""
    programme: str = ""
    reaches_product: bool = False
    bars_release: str = ""


@dataclass(frozen=True, slots=True)
class LimitDef:
    """A critical limit with its tighter operating limit. Decimals as text in `unit`; empty: no such bound.

    `wanted`: the answers that meet it, for yes/no and choice. `rule`: id of the rule-set row it stands on, or empty;
    `basis`: 'text consulted', 'state mirror', 'twin', 'secondary', 'from memory', 'computed' or 'plant rule';
    `products`: product classes it applies to, empty for all.
    """

    key: str
    quantity: str
    clause: str
    basis: str
    unit: str = ""
    low: str = ""
    high: str = ""
    operating_low: str = ""
    operating_high: str = ""
    wanted: tuple[str, ...] = ()
    rule: str = ""
    note: str = ""
    products: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class AnswerDef:
    """What a check asks for. kind: number, pair, yes_no, choice, count, text, code, places, photo.

    `unit` for number and pair; `choices` for choice; `places` names the places of a list ("1" to "20" or names).
    """

    kind: str
    unit: str = ""
    choices: tuple[str, ...] = ()
    places: tuple[str, ...] = ()
    low: str = ""  # plausible range where no instrument gives one
    high: str = ""


@dataclass(frozen=True, slots=True)
class FrequencyDef:
    """How often: kind and its own fields, the others empty; planned.frequency builds plant.process.schedule's kinds.

    each_shift(at, shifts: keys, empty for all) · while_holding(every_min, first_min) · before_use(valid_min)
    · during_run(every_min or every_units) · run_ends(first, last) · after_event(event, minutes) · each_event(event)
    · calendar(rule, at, on_closed, start)
    """

    kind: str
    at: tuple[str, ...] = ()
    shifts: tuple[str, ...] = ()
    every_min: int = 0
    first_min: int = 0
    every_units: str = ""
    valid_min: int = 0
    first: bool = False
    last: bool = False
    event: str = ""
    minutes: int = 0
    rule: str = ""
    on_closed: str = "skip"
    start: str = ""


@dataclass(frozen=True, slots=True)
class MonitoringDef:
    """One thing that is watched: what, how, how often, who; `key` stays the same across versions.

    `subjects`: vessel and equipment codes, each its own check; none, and the event names the place or it is the whole
    plant. `weight`: safety, legal or quality. Minutes: `early_min` before due it may be taken, `grace_min` after due
    it is on time. `missed_after`: see plant.process.schedule.Timing. `agitator_min` > 0 asks whether the agitator ran
    that long and whether the milk covers the bulb. `recheck_min`: out of limits makes a re-check due after so many
    minutes.
    """

    key: str
    control_point: str
    subjects: tuple[str, ...]
    what: str
    how: str
    role: str
    answer: AnswerDef
    frequency: FrequencyDef
    limits: tuple[str, ...] = ()
    weight: str = "safety"
    early_min: int = 30
    grace_min: int = 30
    missed_after: str = "next due or shift end"
    agitator_min: int = 0
    recheck_min: int = 0
    corrective_action: str = ""
    instruments: tuple[str, ...] = ()
    legal: bool = False
    what_es: str = ""


@dataclass(frozen=True, slots=True)
class ProgrammeDef:
    """A prerequisite programme."""

    key: str
    name: str
    text: str


@dataclass(frozen=True, slots=True)
class VerificationDef:
    """How the plan itself is verified."""

    key: str
    name: str
    text: str
    frequency: str
    role: str
    clause: str = ""
    control_point: str = ""


@dataclass(frozen=True, slots=True)
class ReviewerDef:
    """Who reviews records, by sign-in name, from and until ISO dates (empty: open); outside: not employed here."""

    sign_in: str
    from_date: str = ""
    until_date: str = ""
    outside: bool = False
    self_review_allowed: bool = False


@dataclass(frozen=True, slots=True)
class EscalationDef:
    """Who hears of what and when: after `minutes` unanswered, mail goes to the people of `role`."""

    what: str  # 'late', 'missed', 'deviation'
    minutes: int
    role: str


@dataclass(frozen=True, slots=True)
class SetUpDef:
    """An approved set-up of a continuous pasteurizer: below `set_point` in `unit` flow diverts.

    `classes`: the pasteurization classes that the regulator accepted it for. method: HTST or HHST. timing: 'sealed
    pump' (judged by its test and seals) or 'meter' (judged by flow as well: no faster than `top_rate`). homogenizer:
    none, timing pump, running, bypassed. The test of record is no part of the plan: each is a record of its own.
    """

    key: str
    name: str
    press: str
    set_point: str
    classes: tuple[str, ...]
    unit: str = "°F"
    method: str = "HTST"
    timing: str = "sealed pump"
    homogenizer: str = "none"
    top_rate: str = ""
    top_rate_unit: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class TracedDef:
    """What a recorder or logger writes by itself; `key` is an instrument's number, or a signal's own name.

    what: 'hold temperature' (at the holding tube's end), 'forward flow' and 'pump running' (signals of 1 and 0),
    'flow', 'cooled product', 'pressure difference', 'tank temperature', 'wash temperature', 'other'. `slowest_s`
    seconds: the longest step between two samples. `control_point`: where its findings belong. `limits` that it is held
    against (of a hold temperature, the rows of the product's class decide). `silent_min`: after so many minutes without
    a live sample it is silent; 0: no live samples are expected. A sensor is doubted when it stands still for `flat_min`
    minutes, or changes by more than `fastest_per_s` (units a second); what comes back within `spike_s` seconds is a
    spike. `clock_s`: by how many seconds its clock may be off; 0: not asked. A wash shows in a tank's trace as
    `wash_at` (in `unit`) or above for `wash_min` minutes; 0: not looked for. What it shows otherwise belongs to the
    control point `wash_point`; empty: it is listed, and opens nothing. What a tank was filled with has to meet
    `cool_limit` within `cool_min` minutes of the filling's end (0: not asked), and that limit waits so long; what is
    poured on later never warms the whole above `blend_limit` meanwhile.
    """

    key: str
    name: str
    place: str
    what: str
    control_point: str
    unit: str = ""
    slowest_s: str = "60"
    limits: tuple[str, ...] = ()
    silent_min: int = 0
    flat_min: int = 0
    fastest_per_s: str = ""
    spike_s: str = "0"
    clock_s: int = 0
    wash_at: str = ""
    wash_min: int = 0
    wash_point: str = ""
    cool_limit: str = ""
    cool_min: int = 0
    blend_limit: str = ""


@dataclass(frozen=True, slots=True)
class SampledDef:
    """One test of the laboratory that the plan asks for: of `products` (codes), or at a `place` (vessel or equipment).

    `test`: see plant.process.laboratory.TESTS. How often: of every `every_lots`th lot, or by `calendar` (RFC 5545);
    neither: when asked. `limits` judge it. `required`: a packed lot waits on hold until its result is in limits.
    `farms`: of each farm's own milk, before it meets another's. `zone` 1 (touches product) to 4 of an environmental
    site; 0: no such site; after a find there it is sampled until not found on `clean_days` in a row. `weight`: safety,
    legal or quality; a quality miss holds nothing. `samples` > 1: n of a plan with at most `may_exceed` (c) above the
    limit's high (m) and none above `never_above` (M; empty: two-class).
    """

    key: str
    name: str
    test: str
    control_point: str
    products: tuple[str, ...] = ()
    place: str = ""
    limits: tuple[str, ...] = ()
    every_lots: int = 0
    calendar: str = ""
    required: bool = False
    zone: int = 0
    weight: str = "legal"
    samples: int = 1
    may_exceed: int = 0
    never_above: str = ""
    farms: bool = False
    clean_days: int = 0


@dataclass(frozen=True, slots=True)
class WashStepDef:
    """One step of a wash program, in the table's order; the rows of one `program` are that program.

    `step` in the trade's words (see check_washes.STEPS); `places`: the vessels and lines that it washes. Bounds as
    decimal text, empty: not asked. `minutes` at least; temperature at the outlet in `unit`; strength in
    `strength_unit`; flow at least `flow_low` in `flow_unit`. `clause`: where the numbers come from; no statute fixes
    them. `recorder`: a `traced` key, the temperature in the return line; the step has to show in it, and its gaps prove
    nothing; so with `strength_recorder` (a conductivity, say) and `flow_recorder`. Empty: none is asked. `way`: empty
    in place, else 'by hand' or 'out of place' (parts in a tank); `strips`: the strength is read with test strips, whose
    lot and date are asked; `parts_of`: the vessel or line that has to have these parts washed before first product.
    """

    key: str
    program: str
    step: str
    places: tuple[str, ...]
    minutes: str = ""
    temperature_low: str = ""
    temperature_high: str = ""
    unit: str = "°F"
    strength_low: str = ""
    strength_high: str = ""
    strength_unit: str = ""
    clause: str = "the plant's own, common practice, no source"
    recorder: str = ""
    flow_low: str = ""
    flow_unit: str = ""
    strength_recorder: str = ""
    flow_recorder: str = ""
    way: str = ""
    strips: bool = False
    parts_of: str = ""

    @property
    def recorders(self) -> dict[str, str]:
        """By quantity: the `traced` key in which the step has to show."""
        named = {"temperature": self.recorder, "strength": self.strength_recorder, "flow": self.flow_recorder}
        return {quantity: key for quantity, key in named.items() if key}


@dataclass(frozen=True, slots=True)
class PipeDef:
    """A pipe between two places (vessels or lines): what washes the one could reach product in the other.

    `parted_by`: what keeps the two apart while one is washed, in the plant's words (a swing elbow taken off, say).
    """

    key: str
    places: tuple[str, ...]
    parted_by: str
    clause: str = 'Grade "A" PMO Item 15p(B), from memory'


@dataclass(frozen=True, slots=True)
class TrainingDef:
    """A training that the plan asks of whoever holds one of `roles`; `topic` in the plant's words.

    Whole `every_months` after the day of the last one it is asked again; 0: once. `control_point`: the key of the one
    that nobody works at without it, empty for none. `clause`: where it comes from.
    """

    key: str
    topic: str
    roles: tuple[str, ...]
    every_months: int
    clause: str = "common practice, no source"
    topic_es: str = ""
    control_point: str = ""


@dataclass(frozen=True, slots=True)
class Settings:
    """Plan rules that are not checks. Hours and minutes as whole numbers; decimals as text.

    `line_clearance_h`: so long before the first pack a clearance of the filling line counts; 0: none is asked.
    `label_difference`: the share of a roll of labels, or a sleeve, that may be missing or too much [% of what was
    issued]; beyond it the count opens a deviation. Empty: the plan has no bound.
    `rework_h`: so many hours after it was set aside rework is used at the latest; 0: each portion names its own.
    `pickup_h`: the most hours from a farm's pick-up to arrival, the plan's own rule; 0: none is asked.
    `wash_unrecorded_min`: so long after a wash was said to begin it is asked for; 0: three hours.
    `…_piece_mm`: the test pieces of the metal detector, by their metal; empty: the plan names none.
    """

    sanitized_valid_h: int = 24
    run_hours_between_washes: int = 10
    large_book_difference: str = "5"  # percent of capacity; beyond it a seen level opens a deviation
    record_years: int = 2
    unloads_on_pending: bool = False  # the residue result is wanted before processing (law), not before unloading
    line_clearance_h: int = 0
    label_difference: str = ""
    wash_unrecorded_min: int = 0
    ferrous_piece_mm: str = ""
    non_ferrous_piece_mm: str = ""
    stainless_piece_mm: str = ""
    rework_h: int = 0
    pickup_h: int = 0


@dataclass(frozen=True, slots=True)
class Plan:
    """Everything, in the order a plan is read."""

    title: str
    plant: PlantHeader
    shifts: tuple[ShiftDef, ...]
    vessels: tuple[VesselDef, ...]
    monitoring: tuple[MonitoringDef, ...]
    control_points: tuple[ControlPointDef, ...]
    settings: Settings = field(default_factory=Settings)
    closures: tuple[ClosureDef, ...] = ()
    equipment: tuple[EquipmentDef, ...] = ()
    instruments: tuple[InstrumentDef, ...] = ()
    products: tuple[ProductDef, ...] = ()
    steps: tuple[StepDef, ...] = ()
    hazards: tuple[HazardDef, ...] = ()
    limits: tuple[LimitDef, ...] = ()
    programmes: tuple[ProgrammeDef, ...] = ()
    verification: tuple[VerificationDef, ...] = ()
    reviewers: tuple[ReviewerDef, ...] = ()
    escalation: tuple[EscalationDef, ...] = ()
    set_ups: tuple[SetUpDef, ...] = ()
    traced: tuple[TracedDef, ...] = ()
    sampled: tuple[SampledDef, ...] = ()
    wash_steps: tuple[WashStepDef, ...] = ()
    pipes: tuple[PipeDef, ...] = ()
    trainings: tuple[TrainingDef, ...] = ()
    confirmations: tuple[dict[str, str], ...] = ()  # rules laxer than an unread row: {'limit', 'reason', 'by'}

    def monitoring_by_key(self, key: str) -> MonitoringDef | None:
        """The monitoring of that key, or None when this version has none."""
        return next((one for one in self.monitoring if one.key == key), None)

    def limit_by_key(self, key: str) -> LimitDef:
        """The limit of that key; KeyError when there is none."""
        for one in self.limits:
            if one.key == key:
                return one
        raise KeyError(key)

    def control_point_by_key(self, key: str) -> ControlPointDef:
        """The control point of that key; KeyError when there is none."""
        for one in self.control_points:
            if one.key == key:
                return one
        raise KeyError(key)


# What a plan without it says as it did before there was any: an older plan keeps its content, and so its hash.
ADDED_LATER = {
    "Plan": ("set_ups", "traced", "sampled", "wash_steps", "pipes", "trainings"),
    "SampledDef": ("farms", "clean_days"),
    "TracedDef": ("cool_limit", "cool_min", "blend_limit"),
    "WashStepDef": (
        "recorder", "flow_low", "flow_unit", "strength_recorder", "flow_recorder", "way", "strips", "parts_of",
    ),
    "ProductDef": ("gtin", "net_contents", "shelf_days", "keep"),
    "Settings": (
        "unloads_on_pending", "line_clearance_h", "label_difference", "ferrous_piece_mm", "non_ferrous_piece_mm",
        "stainless_piece_mm", "rework_h", "pickup_h", "wash_unrecorded_min",
    ),
}


def to_json(value: Any) -> Json:
    """Plain maps, lists, text, whole numbers and booleans."""
    if is_dataclass(value) and not isinstance(value, type):
        later = ADDED_LATER.get(type(value).__name__, ())
        named = {one.name: getattr(value, one.name) for one in fields(value)}
        named = {name: one for name, one in named.items() if one or name not in later}
        return {name: to_json(one) for name, one in named.items()}
    if isinstance(value, tuple):
        return [to_json(one) for one in value]
    if isinstance(value, dict):
        return {key: to_json(one) for key, one in value.items()}
    return value


def from_json(data: Json) -> Plan:
    """A Plan from plain values; PlanError names the place of anything wrong."""
    return typing.cast(Plan, _build(Plan, data, ""))


def build(kind: type[Any], data: Json, path: str = "") -> Any:
    """One dataclass of this module from plain values."""
    return _build(kind, data, path)


def _build(kind: Any, data: Json, path: str) -> Any:
    if is_dataclass(kind) and isinstance(kind, type):
        return _build_dataclass(kind, data, path)
    origin = typing.get_origin(kind)
    if origin is tuple:
        if not isinstance(data, (list, tuple)):
            raise PlanError(path, "a list is wanted here")
        inner = typing.get_args(kind)[0]
        return tuple(_build(inner, one, f"{path}[{index}]") for index, one in enumerate(data))
    if origin is dict:
        if not isinstance(data, dict) or not all(isinstance(k, str) and isinstance(v, str) for k, v in data.items()):
            raise PlanError(path, "a table of texts is wanted here")
        return dict(data)
    if origin is types.UnionType:  # pragma: no cover - no field of this module is a union
        raise TypeError(kind)
    if kind is bool and isinstance(data, bool):
        return data
    if kind is int and isinstance(data, int) and not isinstance(data, bool):
        return data
    if kind is str and isinstance(data, str):
        return data
    words = {bool: "true or false", int: "a whole number", str: "a text in quotes"}
    raise PlanError(path, f"{words[kind]} is wanted here, not {data!r}")


_HINTS: dict[Any, dict[str, Any]] = {}


def hints_of(kind: Any) -> dict[str, Any]:
    """The resolved types of a class of this module; worked out once, because that is the slow part of reading."""
    if kind not in _HINTS:
        _HINTS[kind] = typing.get_type_hints(kind)
    return _HINTS[kind]


def _build_dataclass(kind: type[Any], data: Json, path: str) -> Any:
    if not isinstance(data, dict):
        raise PlanError(path, "a table is wanted here")
    hints = hints_of(kind)
    names = {one.name for one in fields(kind)}
    for key in data:
        if key not in names:
            raise PlanError(_join(path, key), "is not a name that a plan knows")
    values = {}
    for one in fields(kind):
        if one.name in data:
            values[one.name] = _build(hints[one.name], data[one.name], _join(path, one.name))
        elif one.default is _missing() and one.default_factory is _missing():
            raise PlanError(_join(path, one.name), "is missing")
    return kind(**values)


def _missing() -> Any:
    from dataclasses import MISSING

    return MISSING


def _join(path: str, name: str) -> str:
    return f"{path}.{name}" if path else name
