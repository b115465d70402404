"""The freezer runs and the vat runs of a day: each with what happened in it, in order, and what it lacks."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime
from typing import Any

from plant.process.residue import Residue
from records.checks.models import Reading
from records.deviations.models import DeviationCause
from records.freezer_runs import state as freezing
from records.freezer_runs import words as freezer_words
from records.freezer_runs.models import DRAW_BEGUN, FreezerEvent
from records.judging.queries import governing
from records.judging.words import to_operator
from records.ledger.canonical import moment
from records.people.plans import InForce
from records.receiving import state as receiving
from records.receiving import words as load_words
from records.receiving.models import LoadEvent
from records.reports.said import Clock
from records.reports.values import Data
from records.run_rows.models import RunRow
from records.run_rows.queries import Run, runs_between
from records.vat_runs import state as holding
from records.vat_runs import words as vat_words
from records.vat_runs.models import VatEvent


def freezer_runs(start: datetime, end: datetime, at: datetime, in_force: InForce) -> list[Data]:
    """The freezer runs of which anything happened in [start, end), with their state at its end or now."""
    found = _touching(FreezerEvent, start, end)
    if not found:
        return []
    rows = [row for one in found for row in one.events]
    readings = [number for row in rows for number in (row.reading, row.reading_two) if number]
    opened = _opened([*(row.number for row in rows), *readings])
    outcomes = {number: one.outcome for number, one in governing(Reading.KIND, readings).items()}
    told = []
    for run in found:
        data = _run(run, start, end, freezing.state_at(run, min(end, at)), freezer_words.details)
        data["product"] = ", ".join(dict.fromkeys(one.product_name for one in run.of(DRAW_BEGUN))) or data["product"]
        data["missing"] = freezing.missing(run, in_force)
        by_number = {row.number: row for row in run.events}
        for one in data["events"]:
            row = by_number[one["entry"]]
            mine = [number for number in (row.reading, row.reading_two) if number]
            one["readings"] = [{"entry": number, "outcome": outcomes.get(number, "")} for number in mine]
            one["deviation"] = next((opened[number] for number in (row.number, *mine) if number in opened), None)
        told.append(data)
    return told


def vat_runs(start: datetime, end: datetime, at: datetime) -> list[Data]:
    """The vat runs of which anything happened in [start, end), each row with its verdict."""
    found = _touching(VatEvent, start, end)
    if not found:
        return []
    rows = [row for one in found for row in one.events]
    opened = _opened(row.number for row in rows)
    verdicts = governing(VatEvent.KIND, [row.number for row in rows])
    told = []
    for run in found:
        data = _run(run, start, end, holding.state_at(run, min(end, at)), vat_words.details)
        data["missing"] = holding.missing(run)
        for one in data["events"]:
            verdict = verdicts.get(one["entry"])
            one["verdict"] = verdict and {"outcome": verdict.outcome, "reason": verdict.reason, "entry": verdict.number}
            one["deviation"] = opened.get(one["entry"])
        told.append(data)
    return told


def loads(start: datetime, end: datetime, at: datetime) -> list[Data]:
    """The loads of raw milk to which anything happened in [start, end), with their residue result by its end or now."""
    found = _touching(LoadEvent, start, end)
    if not found:
        return []
    opened = _opened(row.number for one in found for row in one.events)
    told = []
    for load in found:
        moment_of = min(end, at)
        data = _run(load, start, end, receiving.state_at(load, moment_of), load_words.details)
        data["residue"] = receiving.residue_at(load, moment_of).value
        data["tanker"] = load.first.tanker
        data["missing"] = [load_words.what_words(one) for one in receiving.missing(load)]
        for one in data["events"]:
            one["deviation"] = opened.get(one["entry"])
        told.append(data)
    return told


def _touching(model: Any, start: datetime, end: datetime) -> list[Run[Any]]:
    found = runs_between(model, start, end)
    return [one for one in found if any(start <= row.happened_at < end for row in one.events)]


def _opened(numbers: Iterable[int]) -> dict[int, int]:
    rows = DeviationCause.objects.filter(cause_number__in=list(numbers))
    return dict(rows.order_by("number").values_list("cause_number", "deviation"))  # the last of each


def _run(one: Run[Any], start: datetime, end: datetime, state: str, details: Callable[[Any], str]) -> Data:
    return {
        "entry": one.number,
        "place": one.place,
        "place_name": one.first.place_name,
        "product": one.first.product_name,
        "begun_at": moment(one.first.happened_at),
        "state": state,
        "events": [_event(row, details) for row in one.events if start <= row.happened_at < end],
    }


def _event(row: RunRow, details: Callable[[Any], str]) -> Data:
    return {
        "entry": row.number,
        "what": row.what,
        "at": moment(row.happened_at),
        "details": details(row),
        "movement": row.movement,
        "by": row.by_initials,
        "amends": row.amends,
        "amend_reason": row.amend_reason,
    }


def in_words(data: list[Data] | None, clock: Clock, words: Any) -> list[Data]:
    """The runs of a day's data in words, by the words of their kind; none for a day written down before they were."""
    return [
        {
            **one,
            "state_words": words.state_words(one["state"]),
            **({"residue_words": receiving.residue_words(Residue(one["residue"]))} if "residue" in one else {}),
            "events": [
                {
                    **each,
                    "when": clock.time(each["at"]),
                    "what_words": words.what_words(each["what"]),
                    "readings": [_outcome(read) for read in each.get("readings", [])],
                    "verdict": _outcome(each["verdict"]) if each.get("verdict") else None,
                }
                for each in one["events"]
            ],
        }
        for one in data or []
    ]


def _outcome(one: Data) -> Data:
    return {**one, "outcome_words": to_operator(one["outcome"]) if one["outcome"] else ""}
