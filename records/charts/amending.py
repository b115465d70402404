"""Amending what was said of a chart: a successor of the row, at most one each; both stay, the old one struck through.

The indicating reading is amended where readings are. An amendment closes no deviation and releases nothing.
"""

from __future__ import annotations

from django.utils.translation import gettext as _

from records.charts import consequences, queries
from records.charts.changing import SAID_OFF, SAID_ON, off_row, on_row, refuse_the_same
from records.charts.data import Indicated, OffData, OnData
from records.charts.models import ChartOff, ChartOn
from records.charts.queries import Chart
from records.deviations.errors import Refused
from records.flow.actions import may_amend
from records.flow.closed_days import is_closed
from records.flow.common import plan_at, same_or_different
from records.ledger.actions import Actor, act

_AMENDED = ("amends", "amend_reason", "void")


def why_not(by: Actor, row: ChartOn | ChartOff) -> str:
    """Empty when the person may amend this row, else the sentence that says who may."""
    closed = is_closed(plan_at(row.observed_at).calendar.plant_day(row.observed_at))
    return may_amend(by, row, closed)


def as_indicated(row: ChartOn | ChartOff) -> Indicated:
    """The indicating reading as it was said."""
    return Indicated(row.typed, row.unit, row.instrument, row.not_taken)


def amend_on(by: Actor, number: int, data: OnData, reason: str, *, void: bool = False) -> ChartOn:
    """A chart's putting on as it should have been said; `void`: it did not happen. Raises Refused, DifferentContent."""
    old = _standing(number).on
    row, _recorder, in_force = on_row(data)
    if row.recorder != old.recorder:
        raise Refused(_("Another recorder is another chart: say that this one was not put on, and put that one on."))
    if void:
        _as_it_was(row, old, (*SAID_ON, "shape", "span_min"))
        row.observed_at = old.observed_at
    row.root, row.replaces, row.event = old.root or old.number, old.replaces, old.event
    _after(row, old, reason, void)
    with act(by) as a:
        if saved := ChartOn.objects.filter(by_id=by.person_id, form_id=data.form_id).first():
            return same_or_different(saved, row, (*SAID_ON, *_AMENDED), by)
        _refuse_amending(by, old)
        before = [one for one in queries.on_at(row.recorder, row.put_on_at) if one.number != row.root]
        if not void:
            refuse_the_same(row)
        a.write(row, observed_at=row.put_on_at)
        chart = queries.chart_of(row.root)
        if chart is not None:
            if not consequences.is_cause(old):
                consequences.after_on(a, chart, before, in_force)
            if chart.is_past(a.now):
                consequences.past_span(a, chart, in_force)
    return row


def amend_off(by: Actor, number: int, data: OffData, reason: str, *, void: bool = False) -> ChartOff:
    """A chart's taking off as it should have been said; `void`: it is still on. Raises as `amend_on`."""
    old = _standing(number).off
    if old is None:
        raise Refused(_("This chart has not been taken off."))
    row, in_force = off_row(data)
    if void:
        _as_it_was(row, old, SAID_OFF)
    _after(row, old, reason, void)
    with act(by) as a:
        if saved := ChartOff.objects.filter(by_id=by.person_id, form_id=data.form_id).first():
            return same_or_different(saved, row, (*SAID_OFF, *_AMENDED), by)
        _refuse_amending(by, old)
        chart = _standing(number)
        if row.taken_off_at < chart.on.put_on_at:
            raise Refused(_("This is before the chart was put on."), "taken_off_at")
        a.write(row, observed_at=row.taken_off_at)
        if not void:
            consequences.after_off(a, Chart(chart.on, row, chart.past), in_force, known=old)
    return row


def _standing(number: int) -> Chart:
    chart = queries.chart_of(number)
    if chart is None:
        raise Refused(_("There is no such chart."))
    return chart


def _after(row: ChartOn | ChartOff, old: ChartOn | ChartOff, reason: str, void: bool) -> None:
    """The links of a successor, and the reading, which is not amended here."""
    if not reason.strip():
        raise Refused(_("Write why it is amended."), "amend_reason")
    row.amends, row.amend_reason, row.void = old.number, reason.strip(), void
    row.reading, row.value = old.reading, old.value
    row.instrument, row.instrument_name = old.instrument, old.instrument_name


def _as_it_was(row: ChartOn | ChartOff, old: ChartOn | ChartOff, names: tuple[str, ...]) -> None:
    for name in names:
        setattr(row, name, getattr(old, name))


def _refuse_amending(by: Actor, old: ChartOn | ChartOff) -> None:
    if sentence := why_not(by, old):
        raise Refused(sentence)
    if type(old)._default_manager.filter(amends=old.number).exists():
        raise Refused(_("This was amended already. Amend what stands."))
