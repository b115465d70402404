"""Page one in short: what was out of limits, missed, corrected, held."""

from __future__ import annotations

from django.utils.translation import gettext as _

from records.reports import said
from records.reports.values import Data

MOST = 13  # printed lines on page one, beside its cautions; the rest is told on the pages that follow
A_LINE = 110  # letters that a printed line holds, about


def lines(data: Data, clock: said.Clock) -> Data:
    """`shown`: the first lines, gravest first, each with its mark; `more`: how many are left to the pages after."""
    found = [*_deviations(data, clock), *_holds(data), *_out(data, clock), *_missed(data), *_corrections(data, clock)]
    shown, room = 0, MOST
    for one in found:
        room -= -(-len(one["said"]) // A_LINE)
        if room < 0 and shown:
            break
        shown += 1
    return {"shown": found[:shown], "more": len(found) - shown}


def _deviations(data: Data, clock: said.Clock) -> list[Data]:
    rows = []
    for one in data["deviations"]:
        state = _("closed") if one["closing"] else _("open, %(count)s missing") % {"count": len(one["missing"])}
        said_ = _("Deviation %(number)s, %(where)s, since %(since)s (%(state)s): %(sentence)s") % {
            "number": one["number"],
            "where": one["where"],
            "since": clock.time(one["since_at"]),
            "state": state,
            "sentence": one["sentence"],
        }
        rows.append({"mark": "out" if one["cause"] in ("not met", "legal rule") else "none", "said": said_})
    return rows


def _holds(data: Data) -> list[Data]:
    open_ones = [one for one in data["holds"] if not one["lifted"]]
    if not open_ones:
        return []
    lots = "; ".join(dict.fromkeys(one["lot"] for one in open_ones))
    return [{"mark": "out", "said": _("On hold: %(lots)s") % {"lots": lots}}]


def _out(data: Data, clock: said.Clock) -> list[Data]:
    """Answers out of limits or not proven that no deviation of the day already tells."""
    told = {cause["entry"] for one in data["deviations"] for cause in one["causes"]}
    rows = []
    for check in data["checks"]:
        for one in check["readings"]:
            outcome = one["verdicts"][-1]["outcome"] if one["verdicts"] else "met"
            if outcome in ("not met", "not proven") and one["number"] not in told:
                word, mark = said.OUTCOMES[outcome]
                line = f"{check['where']}, {check['what']}, {clock.time(one['observed_at'])}: "
                rows.append({"mark": mark, "said": f"{line}{said.reading_words(one)}, {word}"})
    return rows


def _missed(data: Data) -> list[Data]:
    missed = [one for one in data["checks"] if one["state"] in ("missed", "answered after missed")]
    told = {(one["control_point_key"], one["subject"]) for one in data["deviations"]}
    rest = [one for one in missed if (one["control_point_key"], one["subject"]) not in told]
    if not rest:
        return []
    places = "; ".join(dict.fromkeys(f"{one['where']}, {one['what']}" for one in rest))
    return [{"mark": "none", "said": _("Missed: %(places)s") % {"places": places}}]


def _corrections(data: Data, clock: said.Clock) -> list[Data]:
    return [
        {
            "mark": "",
            "said": _("Correction, %(where)s, %(when)s: %(text)s")
            % {"where": one["where"], "when": clock.time(one["observed_at"]), "text": one["text"]},
        }
        for one in data["corrections"]
    ]
