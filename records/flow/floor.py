"""What the Floor and a vessel's page show: each place in words, with its last reading, clocks, holds and forecast."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID, uuid5

from django.db.models import Exists, OuterRef, Subquery
from django.utils.translation import gettext as _

from plant.hazard_plan.content import LimitDef, VesselDef
from plant.process.contents import Condition
from plant.process.storage import Warming, time_to_limit, warming_stretch
from plant.process.units import UnitError, exact, plain
from records.deviations.queries import open_deviations
from records.flow import choices, further
from records.flow.choices import WASH_NOT_DONE, WASHED
from records.flow.clocks import Clock, clocks_of
from records.flow.effective import asked_at_once
from records.flow.history import Told, load
from records.flow.models import PlantEvent
from records.flow.programs import programs_at
from records.flow.queries import Contents, contents_in, not_free_at, wash_not_recorded
from records.flow.words import in_words
from records.judging import queries as verdicts
from records.judging.words import to_operator
from records.ledger.registry import kinds
from records.people.plans import InForce

# A forecast looks at the readings of one day; older ones say nothing about this warming.
RECENT = timedelta(hours=24)


@dataclass(frozen=True, slots=True)
class LastReading:
    """The last thing read at a place: its answer, when, its verdict in words, and the outcome that its mark draws."""

    what: str
    words: str
    at: datetime
    verdict: str
    mark: str


@dataclass(frozen=True, slots=True)
class Forecast:
    """When a warming tank reaches its limit if it goes on so: an estimate, in words."""

    limit: str
    rate: str
    expected_at: datetime
    earliest_at: datetime
    latest_at: datetime
    readings: int
    percent: int


@dataclass(slots=True)
class Place:
    """One vessel or line of the Floor."""

    vessel: VesselDef
    contents: Contents
    clocks: list[Clock]
    running: list[Told]
    reading: LastReading | None = None
    forecast: Forecast | None = None
    holds: list[str] = field(default_factory=list)
    deviations: list[tuple[int, str]] = field(default_factory=list)
    unproven: list[tuple[int, str]] = field(default_factory=list)  # washes that count for none: number and sentence
    not_recorded: PlantEvent | None = None  # a wash said to begin that nobody recorded in the plan's time
    programs: list[str] = field(default_factory=list)  # by which that one is recorded

    @property
    def condition(self) -> str:
        """What it is in words. A wash that is not proven makes nothing clean or sanitized."""
        return _("washed, not proven") if self.unproven else in_words(self.contents.condition)

    @property
    def not_recorded_words(self) -> str:
        """What is asked of a wash that was said to begin and not recorded; empty without one."""
        return "" if self.not_recorded is None else not_recorded_words(self.not_recorded)

    @property
    def begun_form_id(self) -> UUID | None:
        """The form id of the tap that says that it did not happen."""
        return None if self.not_recorded is None else not_done_form(self.not_recorded)

    @property
    def passes(self) -> bool:
        """Whether product only passes through."""
        return not self.vessel.holds_product

    @property
    def share(self) -> int | None:
        """Percent of the capacity; None where it is not known."""
        if self.contents.quantity is None or not self.contents.capacity:
            return None
        return int(self.contents.quantity * 100 / self.contents.capacity)

    @property
    def quantity_words(self) -> str:
        """'640 of 800 gal', 'not known of 800 gal'."""
        one = self.contents
        if one.quantity is None and any(told.runs for told in self.running):
            return _("quantity known once the movement ends")
        known = _("not known") if one.quantity is None else plain(one.quantity, 1)
        if one.capacity is None:
            return f"{known} {one.unit}" if one.quantity is not None else known
        words = {"quantity": known, "capacity": plain(one.capacity), "unit": one.unit}
        return _("%(quantity)s of %(capacity)s %(unit)s") % words


def floor_at(in_force: InForce, moment: datetime, codes: Sequence[str] | None = None) -> list[Place]:
    """Every place in flow order; the number of queries does not grow with the past, nor with the places."""
    history = load(in_force.plan, moment, moment, codes)
    contents = contents_in(history, in_force.plan, moment, codes)
    places = [
        Place(vessel, contents[vessel.code], clocks_of(contents[vessel.code], history, in_force, moment),
              list(contents[vessel.code].running))
        for vessel in choices.in_flow_order(in_force.plan)
        if vessel.code in contents
    ]  # fmt: skip
    held = not_free_at(moment)
    open_here = defaultdict(list)
    for deviation in open_deviations(moment):
        open_here[deviation.subject].append((deviation.number, deviation.sentence))
    empty = [one.vessel for one in contents.values() if one.condition in (Condition.CLEAN, Condition.SANITIZED)]
    unproven = further.unproven_washes(empty, history, moment, in_force)
    recent = _recent(list(contents), moment)
    last = _last(list(contents), recent, moment)
    for place in places:
        code, lot = place.vessel.code, place.contents.lot
        place.holds = list(dict.fromkeys(held[lot])) if lot in held else []
        place.deviations = open_here.get(code, [])
        place.unproven = unproven.get(code, [])
        place.not_recorded = wash_not_recorded(history, code, moment, in_force.plan)
        if place.not_recorded is not None:
            place.programs = programs_at(in_force.plan, code, WASHED)
        place.reading = last.get(code)
        place.forecast = _forecast(place.contents, recent.get(code, []), in_force)
    return places


def not_done_form(begun: PlantEvent) -> UUID:
    """The form id with which a wash that was begun is said not to have happened."""
    return uuid5(begun.form_id, WASH_NOT_DONE)


def not_recorded_words(begun: PlantEvent) -> str:
    """'Filler: a wash was begun by Ines Alder and nothing is recorded of it; record it, or say …'."""
    words = {"vessel": begun.subject_name, "who": begun.by_name}
    sentence = _(
        "%(vessel)s: a wash was begun by %(who)s and is not recorded yet. Record it, or say that it did not happen;"
        " one that was broken off is recorded with the steps that were done."
    )
    return sentence % words


# --- readings


def _readings() -> Any:
    """The governing readings: those that no later one amends. Readings are a later feature's records."""
    manager: Any = kinds()["reading"]._default_manager
    return manager.filter(~Exists(manager.filter(amends=OuterRef("number"))))


def _recent(codes: list[str], moment: datetime) -> dict[str, list[Any]]:
    """The readings of the last day at each place, oldest first; one query."""
    rows = _readings().filter(subject__in=codes, observed_at__gt=moment - RECENT, observed_at__lte=moment)
    found: dict[str, list[Any]] = defaultdict(list)
    for row in rows.order_by("observed_at", "number"):
        found[row.subject].append(row)
    return found


def _last(codes: list[str], recent: dict[str, list[Any]], moment: datetime) -> dict[str, LastReading]:
    """The last reading of each place, with its governing verdict."""
    rows = {code: found[-1] for code, found in recent.items() if found}
    older = [code for code in codes if code not in rows]
    asked = {f"v{index}": _last_number(code, moment) for index, code in enumerate(older)}
    numbers = [one for one in asked_at_once(asked).values() if one is not None]
    for row in _readings().filter(number__in=numbers) if numbers else ():
        rows[row.subject] = row
    governing = verdicts.governing("reading", [one.number for one in rows.values()])
    return {code: shown(row, governing.get(row.number)) for code, row in rows.items()}


def _last_number(code: str, moment: datetime) -> Subquery:
    rows = _readings().filter(subject=code, observed_at__lte=moment)
    return Subquery(rows.order_by("-observed_at", "-number").values("number")[:1])


def shown(row: Any, verdict: Any) -> LastReading:
    """A reading in words: its answer as typed, and the verdict that governs it."""
    outcome = verdict.outcome if verdict is not None else ""
    return LastReading(
        what=row.what,
        words=answer_words(row),
        at=row.observed_at,
        verdict=to_operator(outcome) if outcome else _("not judged"),
        mark=outcome,
    )


def answer_words(row: Any) -> str:
    """What was answered, as typed: '38.4 °F', '161.2 and 161.0 °F', 'not taken: …'."""
    if row.not_taken:
        return _("not taken: %(why)s") % {"why": row.not_taken}
    if row.typed_second:
        return _("%(first)s and %(second)s %(unit)s") % {
            "first": row.typed,
            "second": row.typed_second,
            "unit": unit_words(row.unit),
        }
    if row.places:
        return ", ".join(f"{place}: {answer}" for place, answer in row.places.items())
    return f"{row.typed} {unit_words(row.unit)}".strip()


def unit_words(unit: str) -> str:
    """A unit as people read it: a bare F or C is a temperature."""
    return f"°{unit}" if unit in ("F", "C") else unit


# --- warming


def _forecast(contents: Contents, readings: Iterable[Any], in_force: InForce) -> Forecast | None:
    """The earliest limit that a tank reaches at its present rate; None when nothing can be said."""
    if not contents.holds or contents.since is None:
        return None
    mine = [one for one in readings if one.value is not None and one.observed_at >= contents.since]
    found = []
    for limit, keys in _upper_limits(contents, in_force):
        watched = [one for one in mine if one.monitoring_key in keys]
        points = [(one.observed_at, value) for one in watched if (value := _value(one, limit)) is not None]
        step = _step(watched, in_force)
        warming = time_to_limit(warming_stretch(points), Decimal(limit.high), resolution=step)
        if isinstance(warming, Warming):
            found.append((warming, limit))
    if not found:
        return None
    warming, limit = min(found, key=lambda one: one[0].expected)
    return Forecast(
        limit=f"{limit.high} {unit_words(limit.unit)}",
        rate=f"{warming.per_hour:.1f} {unit_words(limit.unit)}",
        expected_at=warming.expected,
        earliest_at=warming.earliest,
        latest_at=warming.latest,
        readings=warming.readings,
        percent=round(warming.confidence * 100),
    )


def _upper_limits(contents: Contents, in_force: InForce) -> list[tuple[LimitDef, set[str]]]:
    """The upper temperature limits watched at a vessel, each with the checks that read it."""
    product = choices.product_of(in_force, contents.product)
    found: dict[str, set[str]] = defaultdict(set)
    for one in in_force.plan.monitoring:
        if contents.vessel in one.subjects and one.answer.kind == "number":
            for key in one.limits:
                found[key].add(one.key)
    limits = [(in_force.plan.limit_by_key(key), keys) for key, keys in found.items()]
    return [
        (limit, keys)
        for limit, keys in limits
        if limit.high
        and limit.unit.removeprefix("°") in ("F", "C")
        and (not limit.products or product is None or product.product_class in limit.products)
    ]


def _value(row: Any, limit: LimitDef) -> Decimal | None:
    """A reading in the limit's unit; None when it is of something else."""
    if row.unit.removeprefix("°") == limit.unit.removeprefix("°"):
        value: Decimal = row.value
        return value
    try:
        number = exact(row.value, unit_words(row.unit), unit_words(limit.unit))
    except UnitError:
        return None
    return Decimal(number.numerator) / Decimal(number.denominator)


def _step(readings: Sequence[Any], in_force: InForce) -> Decimal:
    """The coarsest step of the instruments that were read."""
    used = {one.instrument for one in readings}
    steps = [Decimal(one.resolution) for one in in_force.plan.instruments if one.code in used]
    return max(steps, default=Decimal("0.1"))
