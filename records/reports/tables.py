"""A day's readings as a table that any spreadsheet opens, without letting a cell run as a formula."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from zoneinfo import ZoneInfo

from plant.spreadsheet import csv_text
from records.ledger.canonical import canonical
from records.reports.said import Clock
from records.reports.values import Data

COLUMNS = (
    "entry",
    "where",
    "what",
    "due",
    "state",
    "observed",
    "received",
    "answer",
    "second",
    "unit",
    "outcome",
    "reason",
    "clause",
    "by",
    "role",
    "amends",
    "amend reason",
    "notes",
)


def readings_csv(data: Data, day: Clock) -> str:
    """Every reading of the day, the amended ones too; a check without answer has a line with nothing in it."""
    return csv_text(COLUMNS, _rows(data, day))


def clock_of(data: Data) -> Clock:
    """The plant's clocks on the data's day."""
    return Clock(ZoneInfo(data["zone"]), date.fromisoformat(data["day"]))


def _rows(data: Data, day: Clock) -> Iterator[list[object]]:
    for check in data["checks"]:
        due = day.full(check["due_at"])
        if not check["readings"]:
            yield ["", check["where"], check["what"], due, check["state"], *[""] * (len(COLUMNS) - 5)]
        for reading in check["readings"]:
            for one in (*reading["replaced"], reading):
                yield _reading(one, check["what"], due, check["state"], day)
    for reading in data["unasked"]:
        for one in (*reading["replaced"], reading):
            yield _reading(one, one["what"], "", "", day)


def _reading(one: Data, what: str, due: str, state: str, day: Clock) -> list[object]:
    verdict = one["verdicts"][-1] if one["verdicts"] else {"outcome": "", "reason": "", "clause": ""}
    answer = canonical(one["places"]) if one["kind"] == "places" else one["typed"]
    return [
        one["entry"],
        one["where"],
        what,
        due,
        state,
        day.full(one["observed_at"]),
        day.full(one["received_at"]),
        f"not taken: {one['not_taken']}" if one["not_taken"] else answer,
        one["typed_second"],
        one["unit"],
        verdict["outcome"],
        verdict["reason"],
        verdict["clause"],
        one["by"],
        one["role"],
        one["amends"] or "",
        one["amend_reason"],
        " / ".join([*filter(None, [one["note"]]), *(each["text"] for each in one["notes"])]),
    ]
