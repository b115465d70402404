"""The checks that were due and the readings that answered them, as plain values."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from plant.hazard_plan.content import LimitDef, MonitoringDef
from records.checks.models import Reading, ReadingNote, RoundSigned
from records.checks.queries import DueCheck
from records.judging.models import Verdict
from records.ledger.canonical import moment
from records.people.plans import InForce
from records.reports.values import Data, by_of

Verdicts = dict[int, list[Verdict]]


class Answers:
    """The readings that a day shows: its own, those that answer its checks from another day, all they replaced."""

    def __init__(self, readings: Iterable[Reading], due: list[DueCheck], judged: Verdicts | None = None) -> None:
        self.by_number = _with_answers(list(readings), due)
        self.judged: Verdicts = judged or {}
        self.notes: dict[int, list[ReadingNote]] = defaultdict(list)
        for note in ReadingNote.objects.filter(reading__in=list(self.by_number)).order_by("number"):
            self.notes[note.reading].append(note)
        self.amended = {one.amends for one in self.by_number.values() if one.amends is not None}
        self.asked = {one.number for check in due for one in (check.reading, *check.more) if one is not None}

    def unasked(self) -> list[Data]:
        """Readings that answer no check of the day."""
        rows = [one for one in self.by_number.values() if one.number not in self.asked]
        return [self.line(one) for one in rows if one.number not in self.amended]

    def line(self, reading: Reading) -> Data:
        """A reading with what it replaced, oldest first, so that both can be shown."""
        replaced: list[Data] = []
        older = self.by_number.get(reading.amends or 0)
        while older is not None:
            replaced.insert(0, self._reading(older))
            older = self.by_number.get(older.amends or 0)
        return {**self._reading(reading), "replaced": replaced}

    def _reading(self, one: Reading) -> Data:
        return {
            "number": one.number,
            "where": one.subject_name,
            "subject": one.subject,
            "what": one.what,
            "monitoring": one.monitoring_key,
            "kind": one.answer_kind,
            "typed": one.typed,
            "typed_second": one.typed_second,
            "unit": one.unit,
            "places": one.places,
            "file": one.file,
            "not_taken": one.not_taken,
            "instrument": one.instrument,
            "instrument_name": one.instrument_name,
            "agitator_ran": one.agitator_ran,
            "bulb_covered": one.bulb_covered,
            "book_says": one.book_says,
            "note": one.note,
            "notes": [{"text": each.text, **by_of(each)} for each in self.notes.get(one.number, [])],
            "late_reason": one.late_reason,
            "paper_form": one.paper_form,
            "amends": one.amends,
            "amend_reason": one.amend_reason,
            "verdicts": [_verdict(each) for each in self.judged.get(one.number, [])],
            **by_of(one),
        }


def _with_answers(readings: list[Reading], due: list[DueCheck]) -> dict[int, Reading]:
    found = {one.number: one for one in readings}
    for check in due:
        for one in (check.reading, *check.more):
            if one is not None:
                found.setdefault(one.number, one)
    while missing := {one.amends for one in found.values() if one.amends is not None} - set(found):
        found.update({one.number: one for one in Reading.objects.filter(number__in=missing)})
    return dict(sorted(found.items()))


def check_row(one: DueCheck, answers: Answers) -> Data:
    """A due check with its state and the readings that answer it."""
    readings = [each for each in (one.reading, *one.more) if each is not None]
    return {
        "key": one.key,
        "where": one.subject_name,
        "subject": one.due.subject,
        "what": what_of(one.monitoring, one.in_force),
        "monitoring": one.monitoring.key,
        "control_point": one.control_point.name,
        "control_point_key": one.control_point.key,
        "control_point_kind": one.control_point.kind,
        "ccp": one.is_ccp,
        "legal": one.monitoring.legal,
        "weight": one.monitoring.weight,
        "event": one.due.event,
        "shift": one.due.shift or "",
        "due_at": moment(one.due.due_at),
        "late_after": moment(one.due.late_after),
        "missed_at": moment(one.due.missed_at),
        "state": one.state,
        "plan": one.in_force.number,
        "limits": [limit_row(one.in_force.plan.limit_by_key(key)) for key in one.monitoring.limits],
        "readings": [answers.line(each) for each in readings],
    }


def what_of(monitoring: MonitoringDef, in_force: InForce) -> str:
    """What is asked, in the plant's language."""
    spanish = in_force.plan.plant.language.startswith("es")
    return monitoring.what_es if spanish and monitoring.what_es else monitoring.what


def limit_row(one: LimitDef) -> Data:
    """A limit as the plan has it."""
    return {
        "key": one.key,
        "quantity": one.quantity,
        "unit": one.unit,
        "low": one.low,
        "high": one.high,
        "act_low": one.operating_low,
        "act_high": one.operating_high,
        "wanted": list(one.wanted),
        "products": list(one.products),
        "clause": one.clause,
        "basis": one.basis,
        "rule": one.rule,
    }


def _verdict(one: Verdict) -> Data:
    return {
        "number": one.number,
        "outcome": one.outcome,
        "reason": one.reason,
        "clause": one.clause,
        "basis": one.basis,
        "rule": one.rule,
        "limit": one.limit_key,
        "numbers": one.numbers,
        "plan": one.plan_number,
        "why": one.why,
    }


def round_row(one: RoundSigned) -> Data:
    """A signed round."""
    return {"shift": one.shift, "started_at": moment(one.started_at), "readings": one.readings, **by_of(one)}
