"""The lines of a sheet, ready to be set: what the templates loop over."""

from __future__ import annotations

from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from django.utils import formats
from django.utils.translation import gettext as _
from django.utils.translation import pgettext

from records.freezer_runs import words as freezer_words
from records.judging.words import to_operator
from records.receiving import words as load_words
from records.reports import (
    batched,
    brief,
    charted,
    filled,
    looked,
    ran,
    recalled,
    reworked,
    said,
    sampled,
    told_runs,
    traced,
    trained,
)
from records.reports.values import Data
from records.vat_runs import words as vat_words
from records.washes.words import step_words

EMPTY: Data = {
    **dict.fromkeys(("taken", "received", "outcome", "mark", "reason", "instrument", "by", "entry"), ""),
    "said": "—",
    "more": [],
    "struck": [],
    "has_more": False,
}
SHORT = 60  # a longer reason gets a line of its own under the reading


def _traced(one: Data, clock: said.Clock) -> Data:
    """A place's traces in words."""
    return {
        **one,
        "sentence": traced.sentence_of(one),
        "judged": [
            {**each, "from": clock.full(each["start_at"]), "until": clock.full(each["end_at"])}
            for each in one["judged"]
        ],
        "channels": [
            {**each, "from": clock.time(each["first_at"]), "until": clock.time(each["last_at"])}
            for each in one["channels"]
        ],
        "findings": [{**each, "word": to_operator(each["outcome"])} for each in one["findings"]],
    }


def view_of(data: Data) -> Data:
    """Everything of a day's data in words, in the present language."""
    day = date.fromisoformat(data["day"])
    clock = said.Clock(ZoneInfo(data["zone"]), day)
    closed = data["ledger"]["closed"]
    state = _("closed") if closed else _("draft, unreviewed")
    return {
        "day": formats.date_format(day, "l j F Y"),
        "state": state,
        "running": " · ".join(
            filter(
                None,
                (
                    data["plant"]["name"],
                    data["day"],
                    _("revision %(number)s") % {"number": data["revision"]} if closed else _("not closed"),
                    state if not closed else "",
                    _("invented plant") if data["invented"] else "",
                ),
            )
        ),
        "as_of": clock.full(data["as_of"]),
        "running_day": data["as_of"] < data["ends_at"],
        "closed_at": clock.full(data["ledger"]["closed_at"]) if closed else "",
        "offset": clock.offset(data["starts_at"], data["ends_at"]),
        "starts": clock.full(data["starts_at"]),
        "ends": clock.full(data["ends_at"]),
        "plans": [
            {**one, "since": clock.full(one["in_force_from"]), "hash": grouped(one["hash"])} for one in data["plans"]
        ],
        "shifts": [_shift(one, clock) for one in data["shifts"]],
        "counts": _counts(data["completeness"]),
        "brief": brief.lines(data, clock),
        "points": _points(data, clock),
        "unasked": [_answer(one, clock) for one in data["unasked"]],
        "corrections": [{**one, "at": clock.time(one["observed_at"])} for one in data["corrections"]],
        "deviations": [deviation_in_words(one, clock) for one in data["deviations"]],
        "holds": [hold_in_words(one, clock) for one in data["holds"]],
        "traces": [_traced(one, clock) for one in data.get("traces", [])],
        "loads": told_runs.in_words(data.get("loads"), clock, load_words),
        "runs": ran.in_words(data.get("runs"), clock),
        "vat_runs": told_runs.in_words(data.get("vat_runs"), clock, vat_words),
        "freezer_runs": told_runs.in_words(data.get("freezer_runs"), clock, freezer_words),
        "rework": reworked.in_words(data.get("rework"), clock),
        "laboratory": sampled.in_words(data.get("laboratory"), clock),
        "looks": looked.in_words(data.get("foreign_matter"), clock),
        "trainings": trained.in_words(data.get("trainings"), clock),
        "balance": data.get("balance"),
        "filling": filled.in_words(data.get("filling"), clock),
        "batched": batched.in_words_of(data.get("batched"), clock),
        "charts": charted.in_words(data.get("charts"), clock),
        "dispatched": recalled.dispatched_in_words(data.get("dispatched"), clock),
        "came_back": recalled.came_back_in_words(data.get("returned"), clock),
        "recalls": recalled.recalls_in_words(data.get("recalls"), clock),
        "movements": [_movement(one, clock) for one in data["movements"]],
        "washes": [_wash(one, clock) for one in data["washes"]],
        "levels": [{**one, "at": clock.time(one["observed_at"])} for one in data["levels"]],
        "events": [{**one, "at": clock.time(one["observed_at"])} for one in data["events"]],
        "rounds": [
            {
                **one,
                "start": clock.time(one["started_at"]),
                "at": clock.time(one["received_at"]),
                "count": len(one["readings"]),
            }
            for one in data["rounds"]
        ],
        "no_production": data["no_production"],
        "since_closing": [{**one, "at": clock.full(one["when"])} for one in data["since_closing"]],
        "last_in_charge": next((one["in_charge"] for one in reversed(data["shifts"]) if not one["closed"]), ""),
    }


def grouped(digits: str, size: int = 8) -> str:
    """A long row of hexadecimal digits in groups, to be compared by eye."""
    return " ".join(digits[at : at + size] for at in range(0, len(digits), size))


def _shift(one: Data, clock: said.Clock) -> Data:
    sides = {"leaving": _("handed over by"), "taking": _("taken over by")}
    handed = [
        {"said": f"{sides.get(each['side'], each['side'])} {clock.signed(each)}", "notes": each["notes"]}
        for each in one["hand_overs"]
    ]
    return {**one, "time": f"{clock.time(one['starts_at'])}–{clock.time(one['ends_at'])}", "handed": handed}


def _counts(counts: Data) -> list[list[tuple[str, int]]]:
    """Two rows whose numbers add up."""
    return [
        [
            (pgettext("how many checks the plan made", "due"), counts["due"]),
            (_("in time"), counts["on_time"]),
            (_("late"), counts["late"]),
            (_("missed"), counts["missed"]),
            (_("still open"), counts["open"]),
        ],
        [
            (_("no longer open"), counts["due"] - counts["open"]),
            (_("met"), counts["met"]),
            (_("met, past the operating limit"), counts["operating"]),
            (_("not met"), counts["not_met"]),
            (_("not proven"), counts["not_proven"]),
        ],
    ]


# --- checks


def _points(data: Data, clock: said.Clock) -> list[Data]:
    """The due checks by control point, in the plan's order; within it by question, then place."""
    order = {one["key"]: index for index, one in enumerate(data["control_points"])}
    known = {one["key"]: one for one in data["control_points"]}
    found: dict[str, dict[tuple[str, str], list[Data]]] = {}
    for one in data["checks"]:
        key = (one["what"], one["monitoring"])
        found.setdefault(one["control_point_key"], {}).setdefault(key, []).append(one)
    points = []
    for point, blocks in sorted(found.items(), key=lambda one: order.get(one[0], len(order))):
        first = next(iter(blocks.values()))[0]
        points.append(
            {
                "name": first["control_point"],
                "ccp": first["ccp"],
                "kind": said.KINDS.get(first["control_point_kind"], first["control_point_kind"]),
                "clause": known.get(point, {}).get("clause", ""),
                "blocks": [_block(rows, clock) for rows in blocks.values()],
            }
        )
    return points


def _block(checks: list[Data], clock: said.Clock) -> Data:
    first = checks[0]
    governing = {
        reading["verdicts"][-1]["limit"] for one in checks for reading in one["readings"] if reading["verdicts"]
    }
    limits = [one for one in first["limits"] if one["key"] in governing] or first["limits"]
    words = [
        " · ".join(filter(None, (said.limit_words(one, first["what"]), one["clause"] or one["basis"])))
        for one in limits
    ]
    checks = sorted(checks, key=lambda one: (one["where"], one["due_at"]))
    rows = [row for one in checks for row in _check_rows(one, clock)]
    for before, row in zip([{}, *rows], rows, strict=False):
        row["place"] = "" if row["where"] == before.get("where") else row["where"]
    return {
        "what": first["what"],
        "legal": first["legal"],
        "limits": words,
        "rows": rows,
        "span": sum(1 + row["has_more"] for row in rows),
        "whole": len(rows) < 14,
    }


def _check_rows(one: Data, clock: said.Clock) -> list[Data]:
    """A line for each reading of a check, or one that says there is none."""
    due, state = clock.time(one["due_at"]), str(said.TIMELINESS.get(one["state"], one["state"]))
    if not one["readings"]:
        missed = one["state"] == "missed"
        silent = {"outcome": _word("not proven"), "mark": "none", "reason": _("nothing recorded")} if missed else {}
        return [{**EMPTY, **silent, "where": one["where"], "due": due, "state": state}]
    rows = []
    for index, reading in enumerate(one["readings"]):
        row = _answer(reading, clock)
        row |= {"due": due if index == 0 else "", "state": state if index == 0 else _("again")}
        rows.append(row)
    return rows


def _answer(one: Data, clock: said.Clock) -> Data:
    """A reading's line: when, what, verdict, who; what it replaced struck through, what was written to it."""
    verdict = one["verdicts"][-1] if one["verdicts"] else None
    outcome = verdict["outcome"] if verdict else ""
    reason = "" if outcome in ("", "met") and len(one["verdicts"]) < 2 else _reasons(one)
    more = said.remarks(one, clock)
    if len(reason) > SHORT:
        more, reason = [reason, *more], ""
    struck = [_struck(each, one, index, clock) for index, each in enumerate(one.get("replaced", []))]
    instrument = one["instrument"] if one["kind"] in ("number", "pair") else ""
    return {
        "where": one["where"],
        "what": one["what"],
        "due": "",
        "state": "",
        "taken": clock.time(one["observed_at"]),
        "received": clock.received(one),
        "said": said.reading_words(one),
        "instrument": instrument,
        "outcome": _word(outcome) if verdict else _("no limit asked"),
        "mark": said.OUTCOMES[outcome][1] if outcome else "",
        "reason": reason,
        "by": one["initials"],
        "entry": one["entry"],
        "struck": struck,
        "more": more,
        "has_more": bool(more or struck),
    }


def _word(outcome: str) -> str:
    return str(said.OUTCOMES[outcome][0]) if outcome else ""


def _reasons(one: Data) -> str:
    """Why, and what it was judged before: the last verdict governs, all are shown."""
    *earlier, last = one["verdicts"]
    before = [
        _("before: %(outcome)s (%(why)s)") % {"outcome": _word(each["outcome"]), "why": each["why"]} for each in earlier
    ]
    return " ".join([last["reason"] if last["outcome"] != "met" else "", *before]).strip()


def _struck(old: Data, newest: Data, index: int, clock: said.Clock) -> Data:
    """What an amendment replaced: its value, who, when, its verdict; and who replaced it and why."""
    follower = (newest["replaced"] + [newest])[index + 1]
    verdict = _word(old["verdicts"][-1]["outcome"]) if old["verdicts"] else ""
    return {
        "said": said.reading_words(old),
        "by": f"{old['initials']} {clock.time(old['observed_at'])}",
        "outcome": verdict,
        "entry": old["entry"],
        "why": _("amended by %(who)s %(when)s: %(why)s")
        % {
            "who": follower["initials"] or follower["by"],
            "when": clock.time(follower["received_at"]),
            "why": follower["amend_reason"],
        },
    }


# --- deviations and holds


def deviation_in_words(one: Data, clock: said.Clock) -> Data:
    latest = {each["part"]: index for index, each in enumerate(one["parts"])}
    return {
        **one,
        "since": clock.time(one["since_at"]),
        "opened": clock.time(one["received_at"]),
        "causes": [{**each, "at": clock.time(each["observed_at"])} for each in one["causes"]],
        "parts": [
            {**each, "signed": clock.signed(each), "earlier": latest[each["part"]] != index}
            for index, each in enumerate(one["parts"])
        ],
        "closing": {**one["closing"], "signed": clock.signed(one["closing"])} if one["closing"] else None,
    }


def hold_in_words(one: Data, clock: said.Clock) -> Data:
    lifted: dict[str, Any] = {}
    if one["lifted"]:
        lifted = {**one["lifted"], "signed": clock.signed(one["lifted"])}
    bars = {
        "pasteurization": _("never released on test results: it missed the legal pasteurization"),
        "residue": _("never released: drug residue"),
        "laboratory": _("never released: a result of the laboratory missed its limit"),
        "results pending": _("waits for its results"),
        "residue pending": _("waits for its drug-residue result"),
    }
    return {
        **one,
        "since": clock.time(one["since_at"]),
        "bars": bars.get(one["bars_release"], one["bars_release"]),
        "dispositions": [{**each, "signed": clock.signed(each)} for each in one["dispositions"]],
        "lifted": lifted,
    }


# --- what moved


def _movement(one: Data, clock: said.Clock) -> Data:
    quantity = f"{one['quantity']} {one['unit']}".strip() if one["quantity"] else _("quantity not known")
    return {
        **one,
        "start": clock.time(one["started_at"]),
        "end": clock.time(one["ended_at"]) if one["ended_at"] else _("running"),
        "received": clock.received(one),
        "quantity": quantity,
        "gone": one["struck"] or one["void"],
    }


def _parted(one: Data) -> str:
    if not one.get("joined"):
        return ""
    words = {"yes": _("seen parted from %(what)s"), "no": _("not parted from %(what)s")}
    return words.get(one["parted"], _("nothing says that it was parted from %(what)s")) % {"what": one["joined"]}


def _wash(one: Data, clock: said.Clock) -> Data:
    minutes = _("%(minutes)s min contact") % {"minutes": one["contact_min"]} if one["contact_min"] is not None else ""
    words = {"washed": _("washed"), "sanitized": _("sanitized")}
    return {
        **one,
        "what": words.get(one["what"], one["what"]),
        "start": clock.time(one["started_at"]),
        "end": clock.time(one["ended_at"]),
        "how": ", ".join(filter(None, (one["method"], one["strength"], one["temperature"], minutes, _parted(one)))),
        "gone": one["struck"] or one["void"],
        "verdict_words": {"met": _("met"), "not proven": _("not proven")}.get(one.get("verdict", ""), ""),
        "steps_words": "; ".join(
            f"{step_words(step['step'])} {step['figures']} ({step['initials']})" for step in one.get("steps", ())
        ),
    }
