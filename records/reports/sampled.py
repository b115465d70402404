"""The samples taken and the results read that day, as plain values."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from records.deviations.models import DeviationCause
from records.judging.queries import governing
from records.judging.words import to_operator
from records.laboratory.models import LabResult, Sample
from records.laboratory.words import in_words as lab_words
from records.reports.values import Data, by_of, within


def samples(start: datetime, end: datetime) -> list[Data]:
    """Samples, then results, each in order of time; amended ones are struck. A handful of queries."""
    taken, read = list(within(Sample, start, end)), list(within(LabResult, start, end))
    if not taken and not read:
        return []
    replaced = {
        one for model, rows in ((Sample, taken), (LabResult, read))
        for one in model._default_manager.filter(amends__in=[row.number for row in rows]).values_list(
            "amends", flat=True
        )
    }  # fmt: skip
    verdicts = governing(LabResult.KIND, [one.number for one in read])
    causes = DeviationCause.objects.filter(cause_number__in=[one.number for one in read])
    led = {one.cause_number: one.deviation for one in causes}
    return [_sample(one, one.number in replaced) for one in taken] + [
        _result(one, one.number in replaced, verdicts.get(one.number), led.get(one.number)) for one in read
    ]


def _sample(one: Sample, struck: bool) -> Data:
    return {
        "kind": one.KIND,
        "code": one.code,
        "of_kind": one.kind,
        "of": one.lot_label or one.farm or one.place_name,
        "tests": list(one.tests),
        "temperature": f"{one.temperature_typed} {one.temperature_unit}".strip(),
        "sent_to": one.sent_to,
        "kept": f"{one.kept_where} {one.kept_until or ''}".strip(),
        **_amending(one, struck),
        "deviation": None,
        **by_of(one),
    }


def _result(one: LabResult, struck: bool, verdict: Any, deviation: int | None) -> Data:
    judged = None
    if verdict is not None:
        judged = {"outcome": verdict.outcome, "reason": verdict.reason, "clause": verdict.clause,
                  "plan": verdict.plan_number}  # fmt: skip
    return {
        "kind": one.KIND,
        "code": one.sample_code,
        "test": one.test,
        "typed": one.typed,
        "unit": one.unit,
        "laboratory": one.laboratory,
        "analyst": one.analyst,
        "batch": one.batch or "",
        "verdict": judged,
        **_amending(one, struck),
        "deviation": deviation,
        **by_of(one),
    }


def _amending(one: Sample | LabResult, struck: bool) -> Data:
    return {"amends": one.amends, "amend_reason": one.amend_reason, "void": one.void, "struck": struck}


def in_words(rows: list[Data] | None, clock: Any) -> list[Data]:
    """The same in the reader's words; a sheet from before there were any has none."""
    return [
        {
            **one,
            "at": clock.time(one["observed_at"]),
            "kind_words": lab_words(one.get("of_kind", "")),
            "tests_words": ", ".join(lab_words(test) for test in one.get("tests", ())),
            "test_words": lab_words(one.get("test", "")),
            "outcome_words": to_operator(one["verdict"]["outcome"]) if one.get("verdict") else "",
        }
        for one in rows or ()
    ]
