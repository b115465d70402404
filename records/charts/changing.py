"""Putting a chart on, taking it off, and changing one for another: each saved once for its form, with what follows."""

from __future__ import annotations

import uuid
from dataclasses import dataclass, replace

from django.utils.translation import gettext as _

from records.charts import consequences, queries, recorders
from records.charts.data import Indicated, OffData, OnData
from records.charts.models import CIRCULAR, STRIP, ChartOff, ChartOn
from records.charts.queries import Chart
from records.charts.reading import copy_reading, copy_said, keep_reading
from records.charts.recorders import CHART_CHANGE, Recorder
from records.deviations.errors import Refused
from records.flow.actions import EventData, record_event
from records.flow.common import not_ahead, plan_at, same_or_different, typed_number
from records.ledger.actions import Act, Actor, act
from records.people.plans import InForce

# A strip of a month is longer than any recorder of a dairy takes (common practice, no source).
LONGEST_SPAN_H = 31 * 24
SAID_ON = (
    "recorder", "chart_number", "shape", "span_typed", "put_on_at", "typed", "unit", "instrument", "not_taken", "note",
    "replaces",
)  # fmt: skip
SAID_OFF = (
    "chart", "taken_off_at", "typed", "unit", "instrument", "not_taken", "products", "unusual", "unusual_words",
    "overlapped", "clock_right", "clock_against", "clock_words", "note",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Changed:
    """What a change came to: the chart that came off, and the one that was put on."""

    off: ChartOff
    on: ChartOn


def put_on(by: Actor, data: OnData) -> ChartOn:
    """Keep that a chart was put on, with the indicating reading; a second one on the same recorder is a deviation.

    Raises Refused beside the field, DifferentContent for a form that was saved before with other content.
    """
    row, recorder, in_force = on_row(data)
    with act(by) as a:
        if saved := ChartOn.objects.filter(by_id=by.person_id, form_id=data.form_id).first():
            return same_or_different(saved, row, SAID_ON, by)
        refuse_the_same(row)
        _with_event_and_reading(a, by, [row], data.indicated, recorder, in_force)
        _on(a, row, in_force)
    return row


def take_off(by: Actor, data: OffData) -> ChartOff:
    """Keep that a chart was taken off, once; past its span or overlapped it is a deviation. Raises as `put_on`."""
    row, in_force = off_row(data)
    with act(by) as a:
        if saved := ChartOff.objects.filter(by_id=by.person_id, form_id=data.form_id).first():
            return same_or_different(saved, row, SAID_OFF, by)
        chart = _still_on(row)
        reading = keep_reading(
            a, by, data.form_id, data.indicated, recorder_of_chart(chart, in_force), row.taken_off_at, in_force, None
        )
        copy_reading(row, reading)
        consequences.after_off(a, _off(a, row, chart), in_force)
    return row


def change(by: Actor, off: OffData, on: OnData) -> Changed:
    """One chart for another at one moment, with one indicating reading for both. Raises as `put_on`."""
    row, recorder, in_force = on_row(on)
    gone, _same = off_row(off)
    row.replaces = gone.chart
    with act(by) as a:
        saved = ChartOn.objects.filter(by_id=by.person_id, form_id=on.form_id).first()
        saved_off = ChartOff.objects.filter(by_id=by.person_id, form_id=off.form_id).first()
        if saved and saved_off:
            both = same_or_different(saved_off, gone, SAID_OFF, by), same_or_different(saved, row, SAID_ON, by)
            return Changed(*both)
        chart = _still_on(gone)
        if chart.on.recorder != row.recorder:
            raise Refused(_("That chart is on another recorder."), "recorder")
        refuse_the_same(row)
        _with_event_and_reading(a, by, [gone, row], on.indicated, recorder, in_force)
        # The old one comes off before the new one goes on: a change is no second chart.
        old = _off(a, gone, chart)
        _on(a, row, in_force)
        consequences.after_off(a, old, in_force)
    return Changed(gone, row)


def _with_event_and_reading(
    a: Act, by: Actor, rows: list[ChartOn | ChartOff], given: Indicated, recorder: Recorder, in_force: InForce
) -> None:
    """The plant event of a change of chart, and its one indicating reading, which answers what the plan asks at it."""
    on = next(one for one in rows if isinstance(one, ChartOn))
    event = record_event(
        by,
        EventData(
            # An id of its own that the same form always gives.
            form_id=uuid.uuid5(on.form_id, CHART_CHANGE),
            event=CHART_CHANGE,
            happened_at=on.put_on_at,
            subject=recorder.place,
            reference=f"{on.recorder} {on.chart_number}"[:120],
        ),
    )
    on.event = event.number
    reading = keep_reading(a, by, on.form_id, given, recorder, on.put_on_at, in_force, event)
    for row in rows:
        copy_reading(row, reading)


def _on(a: Act, row: ChartOn, in_force: InForce) -> None:
    before = queries.on_at(row.recorder, row.put_on_at)
    a.write(row, observed_at=row.put_on_at)
    consequences.after_on(a, Chart(row), before, in_force)


def _off(a: Act, row: ChartOff, chart: Chart) -> Chart:
    a.write(row, observed_at=row.taken_off_at)
    return replace(chart, off=row)


# --- from what was said to rows; nothing is written here


def on_row(data: OnData) -> tuple[ChartOn, Recorder, InForce]:
    """The unsaved row of a chart put on; Refused beside the field for what cannot be."""
    not_ahead(data.put_on_at, "put_on_at")
    in_force = plan_at(data.put_on_at)
    recorder = recorders.recorder_of(data.recorder, in_force)
    if recorder is None:
        raise Refused(_("The plan knows no such recorder."), "recorder")
    if data.shape not in (CIRCULAR, STRIP):
        raise Refused(_("Choose what kind of chart it is."), "shape")
    if not data.chart_number.strip():
        raise Refused(_("Enter the number written on the chart."), "chart_number")
    row = ChartOn(
        form_id=data.form_id,
        recorder=recorder.code,
        recorder_name=recorder.name,
        place=recorder.place,
        place_name=recorder.place_name,
        plant_name=in_force.plan.plant.name,
        chart_number=data.chart_number.strip(),
        shape=data.shape,
        span_typed=data.span_typed.strip(),
        span_min=_minutes(data.span_typed.strip(), in_force),
        put_on_at=data.put_on_at,
        note=data.note.strip(),
    )
    copy_said(row, data.indicated, in_force)
    return row, recorder, in_force


def _minutes(typed: str, in_force: InForce) -> int:
    """The whole minutes of a number of hours."""
    hours = typed_number(typed, in_force, "span_typed")
    if hours is None:
        raise Refused(_("Enter the hours that the chart is made for."), "span_typed")
    minutes = hours * 60
    if not 0 < hours <= LONGEST_SPAN_H or minutes != minutes.to_integral_value():
        raise Refused(
            _("Enter whole minutes' worth of hours, up to %(most)d.") % {"most": LONGEST_SPAN_H}, "span_typed"
        )
    return int(minutes)


def off_row(data: OffData) -> tuple[ChartOff, InForce]:
    """The unsaved row of a chart taken off; Refused beside the field for what cannot be."""
    not_ahead(data.taken_off_at, "taken_off_at")
    in_force = plan_at(data.taken_off_at)
    chart = queries.chart_of(data.chart)
    if chart is None:
        raise Refused(_("There is no such chart."), "chart")
    _refuse_half_said(data)
    row = ChartOff(
        form_id=data.form_id,
        chart=chart.number,
        recorder=chart.on.recorder,
        recorder_name=chart.on.recorder_name,
        chart_number=chart.on.chart_number,
        taken_off_at=data.taken_off_at,
        products=data.products.strip(),
        unusual=data.unusual,
        unusual_words=data.unusual_words.strip(),
        overlapped=data.overlapped,
        clock_right=data.clock_right,
        clock_against=data.clock_against.strip(),
        clock_words=data.clock_words.strip(),
        note=data.note.strip(),
    )
    copy_said(row, data.indicated, in_force)
    return row, in_force


def _refuse_half_said(data: OffData) -> None:
    if data.overlapped is None:
        raise Refused(_("Say whether the traces overlap."), "overlapped")
    if data.unusual is None:
        raise Refused(_("Say whether anything unusual happened."), "unusual")
    if data.unusual and not data.unusual_words.strip():
        raise Refused(_("Write what happened."), "unusual_words")
    if data.clock_right is not None and not data.clock_against.strip():
        raise Refused(_("Write which clock it was held against."), "clock_against")
    if data.clock_right is False and not data.clock_words.strip():
        raise Refused(_("Write what time the chart showed."), "clock_words")


def _still_on(row: ChartOff) -> Chart:
    """The chart to be taken off, inside the act; Refused when somebody has taken it off or it came on later."""
    chart = queries.chart_of(row.chart)
    if chart is None:
        raise Refused(_("There is no such chart."), "chart")
    if chart.off is not None:
        words = {"who": chart.off.by_name, "number": chart.off.number, "chart": chart.on.chart_number}
        raise Refused(
            _("Chart %(chart)s was taken off already, as %(who)s recorded (entry %(number)d).") % words, "chart"
        )
    if row.taken_off_at < chart.on.put_on_at:
        raise Refused(_("This is before the chart was put on."), "taken_off_at")
    undone = ChartOff.objects.filter(chart=chart.number).order_by("-number").first()
    if undone is not None:  # it was said before, and then that it did not happen
        row.amends, row.amend_reason = undone.number, undone.amend_reason
    return chart


def refuse_the_same(row: ChartOn) -> None:
    """The same paper cannot be put on twice while it is on. One put on a whole span before it is another paper."""
    for one in queries.on_now(row.recorder):
        other = one.number in (row.replaces, row.root) or row.put_on_at <= one.on.put_on_at - one.span
        if one.on.chart_number == row.chart_number and not other:
            words = {"chart": row.chart_number, "who": one.on.by_name, "number": one.on.number}
            raise Refused(
                _("Chart %(chart)s is on this recorder already, as %(who)s recorded (entry %(number)d).") % words,
                "chart_number",
            )


def recorder_of_chart(chart: Chart, in_force: InForce) -> Recorder:
    """The recorder of a chart: as the plan states it now, else as it was when the chart was put on."""
    found = recorders.recorder_of(chart.on.recorder, in_force) or recorders.recorder_of(
        chart.on.recorder, plan_at(chart.on.put_on_at)
    )
    if found is None:
        raise Refused(_("The plan knows no such recorder."), "recorder")
    return found


__all__ = ["Changed", "change", "off_row", "on_row", "put_on", "recorder_of_chart", "refuse_the_same", "take_off"]
