"""The paper charts of a day: which were on, what they carry and lack, and the room for the regulator's initials."""

from __future__ import annotations

from datetime import datetime

from django.utils.translation import gettext as _

from records.charts.day import ChartOfDay, charts_for_day
from records.charts.models import STRIP, RegulatorInitials
from records.charts.queries import quarter_of
from records.charts.recorders import recorders
from records.flow.queries import lots_touched
from records.ledger.canonical import moment
from records.people.plans import InForce
from records.reports.said import Clock
from records.reports.values import Data


def charts(start: datetime, end: datetime, at: datetime, in_force: InForce) -> Data:
    """The charts that were on in [start, end), the recorders of the plan that had none, the regulator's quarter."""
    found = charts_for_day(start, end)
    had = {one.recorder: one.recorder_name for one in found}
    known = {one.code: one.label for one in recorders(in_force)}
    return {
        "on": [_chart(one, start, min(end, at)) for one in found],
        "none": [label for code, label in known.items() if code not in had],
        "initials": [_initials(code, name, start, in_force) for code, name in had.items()],
    }


def _chart(one: ChartOfDay, start: datetime, until: datetime) -> Data:
    return {
        "entry": one.number,
        "recorder": one.recorder,
        "recorder_name": one.recorder_name,
        "place": one.place_name,
        "number": one.chart_number,
        "shape": one.shape,
        "span_h": one.span_h,
        "put_on_at": moment(one.put_on_at),
        "put_on_by": one.put_on_by,
        "put_on_reading": one.put_on_reading,
        "put_on_entry": one.put_on_entry,
        "taken_off_at": moment(one.taken_off_at) if one.taken_off_at else "",
        "taken_off_by": one.taken_off_by,
        "taken_off_reading": one.taken_off_reading,
        "taken_off_entry": one.taken_off_entry,
        "amended": list(one.amended),
        "past_span_from": moment(one.past_span_from) if one.past_span_from else "",
        "overlapped": one.overlapped,
        "lots": _lots(one, start, until),
        "products": one.products,
        "unusual": one.unusual,
        "clock": one.clock,
        "photos": list(one.photos),
        "signed": list(one.signed),
        "compared": list(one.compared),
        "deviations": list(one.deviations),
        "missing": list(one.missing),
    }


def _lots(one: ChartOfDay, start: datetime, until: datetime) -> list[str]:
    """What ran, or was held, at the recorder's place under this chart on this day."""
    since, last = max(one.put_on_at, start), min(one.taken_off_at or until, until)
    if not one.place or last <= since:
        return []
    return [lot.label for lot in lots_touched(one.place, since, last)]


def _initials(recorder: str, name: str, start: datetime, in_force: InForce) -> Data:
    year, quarter = quarter_of(in_force.calendar.plant_day(start))
    rows = RegulatorInitials.objects.filter(recorder=recorder, year=year, quarter=quarter).order_by("number")
    return {
        "recorder": recorder,
        "name": name,
        "year": year,
        "quarter": quarter,
        "copied": [
            {
                "initials": one.initials,
                "name": one.name,
                "written_on": one.written_on.isoformat(),
                "accuracy": one.accuracy,
                "copied_by": one.by_name,
                "entry": one.number,
            }
            for one in rows
        ],
    }


def in_words(data: Data | None, clock: Clock) -> Data | None:
    """The charts of a day's data in words; None for a day written down before charts were."""
    if data is None or not (data["on"] or data["none"]):
        return None
    return {**data, "on": [_in_words(one, clock) for one in data["on"]]}


def _in_words(one: Data, clock: Clock) -> Data:
    shape = _("strip") if one["shape"] == STRIP else _("circular")
    return {
        **one,
        # The sheet ends these sentences itself.
        "products": one["products"].rstrip(". "),
        "unusual": one["unusual"].rstrip(". "),
        "span": _("%(shape)s, %(hours)s h") % {"shape": shape, "hours": one["span_h"]},
        "on_at": clock.time(one["put_on_at"]),
        "off_at": clock.time(one["taken_off_at"]),
        "past_from": clock.time(one["past_span_from"]),
    }
