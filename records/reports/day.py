"""Everything a plant day's sheet says, as plain values: page, PDF and attached JSON are made of this alone."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import date, datetime

from django.utils import translation
from django.utils.translation import gettext as _

from records.checks import queries as checks
from records.checks.models import Reading, RoundSigned
from records.checks.queries import DueCheck
from records.flow import history
from records.flow.history import History
from records.flow.models import LevelSeen, NoProduction, PlantEvent
from records.judging import queries as verdicts
from records.judging.models import Verdict
from records.ledger.canonical import moment
from records.ledger.models import Installation, Record
from records.people.plans import InForce, plan_in_force, versions_between
from records.reports import (
    batched,
    chart,
    charted,
    filled,
    looked,
    moved,
    ran,
    recalled,
    reworked,
    sampled,
    told_runs,
    traced,
    trained,
    troubles,
)
from records.reports.answers import Answers, check_row, round_row
from records.reports.values import Data, by_of, within

__all__ = ["Data", "Review", "by_of", "completeness", "day_data"]

ANSWERED = ("on time", "answered late", "answered after missed")
NOT_PROVEN = "not proven"


@dataclass(frozen=True, slots=True)
class Review:
    """What the review of a day adds to it: the ledger's head, who was in charge of each shift, the hand-overs.

    `balance` makes the mass balance of the day out of its history and readings.
    `since`: what happened after an earlier closing, as rows of `when`, `what`, `by`, `entry`.
    """

    ledger: Data
    in_charge: dict[str, str] = field(default_factory=dict)
    hand_overs: dict[str, list[tuple[str, str, Record]]] = field(default_factory=dict)
    since: tuple[Data, ...] = ()
    balance: Callable[[History, Iterable[Reading], InForce, datetime, datetime], Data] | None = None


def day_data(plant_day: date, revision: int, at: datetime, review: Review) -> Data:
    """The day as it stands at `at`, in the plant's language. `revision` names the closing it belongs to; a draft has
    none yet. JSON-able and canonical: text, whole numbers, true, false, null, lists and maps.

    `review` is what records.review adds (records/review/sheet.py calls this). Raises LookupError when
    no plan was in force.
    """
    newest = plan_in_force(at)
    if newest is None:
        raise LookupError(_("No plan was in force on this day."))
    start, end = newest.calendar.day_bounds(plant_day)
    in_force = plan_in_force(start) or newest
    with translation.override(in_force.plan.plant.language):
        return _day_data(plant_day, revision, at, review, in_force, (start, end))


def _day_data(
    plant_day: date, revision: int, at: datetime, review: Review, in_force: InForce, bounds: tuple[datetime, datetime]
) -> Data:
    start, end = bounds
    due = sorted(checks.due_between(start, end, at), key=lambda one: (one.due.due_at, one.key))
    readings = Reading.objects.filter(observed_at__gte=start, observed_at__lt=end).order_by("number")
    answers = Answers(readings, due)
    answers.judged = verdicts.all_verdicts(Reading.KIND, list(answers.by_number))
    opened = troubles.of_the_day(start, end)
    versions = list(versions_between(start, end))
    data: Data = {
        "format": 1,
        "plant": plant_header(in_force),
        "invented": bool(Installation.objects.values_list("invented", flat=True).first()),
        "day": plant_day.isoformat(),
        "starts_at": moment(start),
        "ends_at": moment(end),
        "zone": in_force.zone,
        "as_of": moment(at),
        "revision": revision,
        "kept_until": in_force.kept_until(end).isoformat(),
        "plans": [plan_row(one) for one, _since, _until in versions],
        "shifts": _shifts(in_force, plant_day, review),
        "completeness": completeness(due, answers.judged),
        "control_points": [
            {"key": one.key, "name": one.name, "kind": one.kind, "clause": one.clause}
            for one in in_force.plan.control_points
        ],
        "checks": [check_row(one, answers) for one in due],
        "unasked": answers.unasked(),
        "rounds": [round_row(one) for one in RoundSigned.objects.filter(plant_day=plant_day).order_by("number")],
        "corrections": troubles.corrections(start, end),
        "deviations": troubles.deviation_rows(opened),
        "holds": troubles.holds(start, end, opened),
        "traces": traced.traces(start, end, at, in_force),
        "loads": told_runs.loads(start, end, at),
        "runs": ran.runs(start, end, at),
        "vat_runs": told_runs.vat_runs(start, end, at),
        "freezer_runs": told_runs.freezer_runs(start, end, at, in_force),
        "rework": reworked.rework(start, end, at, in_force),
        "foreign_matter": looked.looks(start, end),
        "filling": filled.filling(start, end),
        "batched": batched.batched(start, end),
        "laboratory": sampled.samples(start, end),
        "trainings": trained.trainings(start, end),
        "charts": charted.charts(start, end, at, in_force),
        "dispatched": recalled.dispatched(start, end),
        "returned": recalled.came_back(start, end),
        "recalls": recalled.recalls(start, end),
        "movements": moved.movements(start, end),
        "washes": moved.washes(start, end, programs=any(one.plan.wash_steps for one, _since, _until in versions)),
        "levels": [moved.level(one) for one in within(LevelSeen, start, end)],
        "events": [moved.event(one) for one in within(PlantEvent, start, end)],
        "no_production": [
            {"shift": one.shift, "reason": one.reason, **by_of(one)}
            for one in NoProduction.objects.filter(plant_day=plant_day).order_by("number")
        ],
        "since_closing": list(review.since),
        "ledger": review.ledger,
    }
    until = max(start, min(end, at))
    story = history.load(in_force.plan, start, until)
    data["chart"] = chart.drawn(data, in_force, start, end, at, story)
    if review.balance is not None:
        data["balance"] = review.balance(story, list(answers.by_number.values()), in_force, start, until)
    return data


# --- the parts


def plant_header(in_force: InForce) -> Data:
    header = in_force.plan.plant
    return {
        "name": header.name,
        "address": header.address,
        "number": header.plant_number,
        "language": header.language,
        "temperature_unit": header.temperature_unit,
        "volume_unit": header.volume_unit,
        "rule_set": header.rule_set,
        "ordinance": header.ordinance,
        "caution": header.caution,
    }


def plan_row(in_force: InForce) -> Data:
    return {
        "number": in_force.number,
        "title": in_force.plan.title,
        "hash": in_force.content_hash,
        "in_force_from": moment(in_force.in_force_from),
    }


def _shifts(in_force: InForce, plant_day: date, review: Review) -> list[Data]:
    return [
        {
            "key": one.key,
            "name": one.shift.name,
            "starts_at": moment(one.start_at),
            "ends_at": moment(one.end_at),
            "closed": one.closed,
            "in_charge": review.in_charge.get(one.key, ""),
            "hand_overs": [
                {"side": side, "notes": notes, **by_of(row)} for side, notes, row in review.hand_overs.get(one.key, ())
            ],
        }
        for one in in_force.calendar.day_shifts(plant_day)
    ]


def completeness(due: list[DueCheck], judged: dict[int, list[Verdict]]) -> Data:
    """How many checks the plan made due, and what became of each.

    Both rows add up: due = on time + late + missed + open, and due - open = met + past the operating limit + not met +
    not proven. An answer that nobody judged proves nothing.
    """
    states = Counter(one.state for one in due)
    outcomes = Counter(_outcome(one, judged) for one in due if one.state in ANSWERED)
    counts = {
        "due": len(due),
        "on_time": states["on time"],
        "late": states["answered late"],
        "missed": states["missed"] + states["answered after missed"],
        "missed_then_answered": states["answered after missed"],
        "open": states["not yet"] + states["due"] + states["late"],
        "met": outcomes["met"],
        "operating": outcomes["met, past the operating limit"],
        "not_met": outcomes["not met"],
        "not_proven": outcomes[NOT_PROVEN] + states["missed"],
    }
    return {**counts, "sentence": _completeness_sentence(counts)}


def _outcome(one: DueCheck, judged: dict[int, list[Verdict]]) -> str:
    found = judged.get(one.reading.number) if one.reading is not None else None
    return found[-1].outcome if found else NOT_PROVEN


def _completeness_sentence(counts: dict[str, int]) -> str:
    sentence = _(
        "The plan made %(due)s checks due: %(on_time)s were answered in time, %(late)s late, %(missed)s missed"
        " (%(missed_then_answered)s of them answered afterwards), %(open)s are still open. Of the answers,"
        " %(met)s met their limits, %(operating)s met them past the operating limit, %(not_met)s did not;"
        " %(not_proven)s checks are not proven."
    )
    return sentence % counts
