"""The Day chart from the day's data and the book of contents: what to draw, as plain values and as a picture's data.

Readings by people are drawn as dots, never joined to a line that nobody recorded; a recorder's trace is a ribbon from
its least to its greatest in each column.
"""

from __future__ import annotations

from collections import Counter
from datetime import date, datetime, timedelta
from decimal import Decimal, InvalidOperation
from fractions import Fraction

from django.utils import formats
from django.utils.translation import gettext as _

from plant.hazard_plan.content import VesselDef
from plant.process.excursion import excursion
from plant.process.limits import Outcome
from plant.process.units import plain
from records.flow import choices, history
from records.judging.words import to_operator
from records.ledger.canonical import moment
from records.people.plans import InForce
from records.reports import traced
from records.reports.values import Data

NEAR_LIMIT = 12  # degrees
DEGREES = ("°F", "°C")


def drawn(
    data: Data, in_force: InForce, start: datetime, end: datetime, at: datetime, story: history.History | None = None
) -> Data:
    """What the Day chart of a day shows, as plain values; `data` is the day's data without its chart.

    `story`: the history of all places over the day where it is loaded already.
    """
    until = max(start, min(end, at))
    story = story or history.load(in_force.plan, start, until)
    vessels = choices.in_flow_order(in_force.plan)
    day = date.fromisoformat(data["day"])
    plant = data["plant"]["name"] + (f" ({_('invented')})" if data["invented"] else "")
    return {
        "title": _("Day chart"),
        "plant": f"{formats.date_format(day, 'l j F Y')} · {plant}",
        "start_at": moment(start),
        "end_at": moment(end),
        "zone": in_force.zone,
        "now_at": moment(at) if start <= at < end else None,
        "shifts": [[one["starts_at"], one["name"]] for one in data["shifts"] if not one["closed"]],
        "lanes": [_lane(one, data, story, start, until, in_force) for one in vessels],
        "movements": _movements(data, vessels),
    }


# --- a lane


def _lane(
    vessel: VesselDef, data: Data, story: history.History, start: datetime, until: datetime, in_force: InForce
) -> Data:
    checks = [one for one in data["checks"] if one["subject"] == vessel.code]
    unasked = [one for one in data["unasked"] if one["subject"] == vessel.code]
    limit = _limit(checks)
    readings = [reading for check in checks for reading in check["readings"]] + unasked
    marks = [_mark(one, limit) for one in readings if one["verdicts"]] + _missed(checks)
    values = [Decimal(one["value"]) for one in marks if one["value"]]
    trace = traced.columns_of(vessel.code, limit["unit"], start, until, in_force) if limit else []
    return {
        "name": vessel.name,
        "limit_label": _limit_label(limit),
        "capacity": f"{vessel.capacity} {vessel.unit}" if vessel.capacity and vessel.holds_product else "",
        "contents": _contents(vessel, story, start, until) if vessel.holds_product else [],
        "trace": trace,
        "scale": _scale(limit, [*values, *_near(trace, limit)]),
        "limit": (limit["high"] or limit["low"]) if limit else "",
        "act_limit": (limit["act_high"] if limit["high"] else limit["act_low"]) if limit else "",
        "limit_is": "lowest" if limit and not limit["high"] else "highest",
        "marks": sorted(marks, key=lambda one: (one["at"], one["label"])),
        "washes": [
            {"start": one["started_at"], "end": one["ended_at"], "label": _washed(one["what"])}
            for one in data["washes"]
            if one["vessel"] == vessel.code and not one["struck"] and not one["void"]
        ],
        "holds": [
            {"start": one["since_at"], "end": one["lifted"]["received_at"] if one["lifted"] else None}
            for one in data["holds"]
            if one["vessel"] == vessel.code
        ],
        "deviations": [
            {"start": one["since_at"], "end": (end := _ended(one, data)), "sentence": _sentence(one, readings, end)}
            for one in data["deviations"]
            if one["subject"] == vessel.code
        ],
        "notes": [
            {"at": one["observed_at"], "text": " ".join(filter(None, (one["event"], one["reference"])))}
            for one in data["events"]
            if one["subject"] == vessel.code
        ],
    }


def _near(trace: list[list[str | None]], limit: Data | None) -> list[Decimal]:
    """The recorded values that the scale makes room for: those near the limit, not a cold start or a wash."""
    if limit is None:
        return []
    bound = Decimal(limit["high"] or limit["low"])
    values = [Decimal(text) for one in trace for text in one[1:] if text is not None]
    return [one for one in values if abs(one - bound) <= NEAR_LIMIT]


def _washed(what: str) -> str:
    return _("washed") if what == "washed" else _("sanitized")


def _limit(checks: list[Data]) -> Data | None:
    """The temperature limit that most of the lane's readings were judged by, else the first that the plan asks for."""
    limits = {
        one["key"]: one for check in checks for one in check["limits"] if one["unit"] in DEGREES and _degrees(check)
    }
    judged = Counter(
        reading["verdicts"][-1]["limit"]
        for check in checks
        for reading in check["readings"]
        if reading["verdicts"] and reading["verdicts"][-1]["limit"] in limits
    )
    usable = [key for key, _n in judged.most_common() if limits[key]["low"] or limits[key]["high"]]
    usable = usable or [key for key, one in limits.items() if one["low"] or one["high"]]
    return limits[usable[0]] if usable else None


def _degrees(check: Data) -> bool:
    return all(one["kind"] in ("number", "pair") for one in check["readings"])


def _limit_label(limit: Data | None) -> str:
    if limit is None:
        return ""
    bound = limit["high"] or limit["low"]
    return _("limit %(bound)s %(unit)s") % {"bound": bound, "unit": limit["unit"]}


def _mark(reading: Data, limit: Data | None) -> Data:
    verdict = reading["verdicts"][-1]
    comparable = (
        limit is not None
        and verdict["limit"] == limit["key"]
        and reading["unit"] == limit["unit"]
        and _number(reading["typed"])
    )
    said = reading["typed"] if reading["kind"] in ("number", "pair", "count") else ""
    label = f"{said} {reading['unit']}".strip() if said and not reading["not_taken"] else ""
    return {
        "at": reading["observed_at"],
        "outcome": verdict["outcome"],
        "label": label or to_operator(verdict["outcome"]),
        "value": _number(reading["typed"]) if comparable else "",
    }


def _missed(checks: list[Data]) -> list[Data]:
    return [
        {
            "at": one["due_at"],
            "outcome": Outcome.NOT_PROVEN.value,
            "label": _("missed"),
            "value": "",
        }
        for one in checks
        if one["state"] in ("missed", "answered after missed")
    ]


def _number(typed: str) -> str:
    try:
        value = Decimal(typed.replace(",", "."))
    except InvalidOperation:
        return ""
    return format(value, "f") if value.is_finite() else ""


def _scale(limit: Data | None, values: list[Decimal]) -> list[str] | None:
    """The lane's scale: its readings and limits, with a little room; None where there is no temperature to place."""
    if limit is None:
        return None
    bounds = [Decimal(text) for text in (limit["low"], limit["high"], limit["act_low"], limit["act_high"]) if text]
    low, high = min([*bounds, *values]), max([*bounds, *values])
    room = max((high - low) / 5, Decimal(2))
    return [format(low - room, "f"), format(high + room, "f")]


def _contents(vessel: VesselDef, story: history.History, start: datetime, until: datetime) -> list[Data]:
    book = story.book.vessels.get(vessel.code)
    if book is None:
        return []
    full = Fraction(vessel.capacity) if vessel.capacity and Fraction(vessel.capacity) > 0 else None
    into = [(one.row.started_at, one.row) for one in reversed(story.into(vessel.code))]  # the last one first
    found = []
    for index, one in enumerate(book.snapshots):
        last = book.snapshots[index + 1].at if index + 1 < len(book.snapshots) else until
        begin, end = max(one.at, start), min(last, until)
        if not one.holding or begin >= end:
            continue
        first, then = one.quantity_at(begin), one.quantity_at(end)
        known = full is not None and first is not None and then is not None
        found.append(
            {
                "start": moment(begin),
                "end": moment(end),
                "fill0": _share(first, full) if known else None,
                "fill1": _share(then, full) if known else None,
                "family": next((row.family for at, row in into if at <= begin), "other"),
                "label": "" if known else _quantity(first, then, book.unit or vessel.unit),
            }
        )
    return found


def _quantity(first: Fraction | None, then: Fraction | None, unit: str) -> str:
    """How much there was in a vessel of which it is not known how full it was: a room without a capacity, or the
    quantity itself is not known.
    """
    if first is None or then is None:
        return _("quantity not known")
    if first == then:
        return f"{plain(first, 1)} {unit}"
    words = {"first": plain(first, 1), "then": plain(then, 1), "unit": unit}
    return _("%(first)s %(unit)s to %(then)s %(unit)s") % words


def _share(quantity: Fraction | None, full: Fraction | None) -> str:
    assert quantity is not None and full is not None  # the caller has looked
    return f"{float(min(Fraction(1), quantity / full)):.4f}"


# --- deviations


def _ended(one: Data, data: Data) -> str | None:
    """When the excursion ended: the first of two readings in a row in limits; None while none did."""
    rows = []
    for check in data["checks"]:
        if check["subject"] == one["subject"] and check["control_point_key"] == one["control_point_key"]:
            rows += [reading for reading in check["readings"] if reading["verdicts"]]
    judged = sorted(
        (datetime.fromisoformat(row["observed_at"]), Outcome(row["verdicts"][-1]["outcome"]), row["number"])
        for row in rows
    )
    causes = {cause["entry"] for cause in one["causes"]}
    for found in excursion(judged):
        if causes & set(found.numbers):
            return moment(found.until) if found.until else None
    since = max((cause["observed_at"] for cause in one["causes"]), default=one["observed_at"])
    good = [moment(at) for at, outcome, _n in judged if outcome in (Outcome.MET, Outcome.OPERATING)]
    return min((at for at in good if at > since), default=None)


def _sentence(one: Data, readings: list[Data], end: str | None) -> str:
    """'deviation 12: 46.4 °F, 58 min', or its cause in a word."""
    causes = {cause["entry"] for cause in one["causes"]}
    every = [each for row in readings for each in (*row["replaced"], row)]
    bad = [row for row in every if row["number"] in causes and row["unit"] in DEGREES and _number(row["typed"])]
    said = _cause(one["cause"])
    if bad:
        worst = max(bad, key=lambda row: Decimal(_number(row["typed"])))
        said = f"{worst['typed']} {worst['unit']}"
    if end:
        length = datetime.fromisoformat(end) - datetime.fromisoformat(one["since_at"])
        said += ", " + _length(length)
    return _("deviation %(number)s: %(said)s") % {"number": one["number"], "said": said}


def _length(length: timedelta) -> str:
    minutes = int(length.total_seconds()) // 60
    if minutes < 120:
        return _("%(minutes)s min") % {"minutes": minutes}
    return _("%(hours)s h %(minutes)s min") % {"hours": minutes // 60, "minutes": minutes % 60}


def _cause(cause: str) -> str:
    words = {
        "not met": _("out of limits"),
        "not proven": _("not proven"),
        "missed": _("missed"),
        "legal rule": _("a legal rule"),
        "book": _("the book differs"),
        "repeated": _("a correction repeated"),
        "raised": _("a correction raised"),
        "outage": _("outage"),
    }
    return words.get(cause, cause)


# --- movements


def _movements(data: Data, vessels: list[VesselDef]) -> list[Data]:
    """Each movement; one through a line is two: into the line and out of it."""
    name = {one.code: one.name for one in vessels}
    found = []
    for one in data["movements"]:
        if one["struck"] or one["void"]:
            continue
        stops = [name.get(one["from_code"], ""), name.get(one["to_code"], "")]
        if one["via_code"] in name:
            stops.insert(1, name[one["via_code"]])
        quantity = f"{one['quantity']} {one['unit']}".strip() if one["quantity"] else ""
        for index, (source, target) in enumerate(zip(stops, stops[1:], strict=False)):
            found.append(
                {
                    "from": source,
                    "to": target,
                    "start_at": one["started_at"],
                    "end_at": one["ended_at"] or None,
                    "label": quantity if index == len(stops) - 2 else "",
                }
            )
    return [one for one in found if one["from"] or one["to"]]
