"""The indicating reading at a change of chart: kept once, among the readings, as the answer to what the plan asks."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from uuid import UUID

from django.utils.translation import gettext as _

from plant.process.schedule import Due
from records.charts.data import Indicated
from records.charts.models import ChartOff, ChartOn
from records.charts.recorders import Recorder, asked_at_change
from records.checks import queries as checks
from records.checks.actions import record_reading
from records.checks.entry import Nonsense, ReadingData
from records.checks.models import Reading
from records.deviations.errors import Refused
from records.flow.models import PlantEvent
from records.ledger.actions import Act, Actor
from records.people.plans import InForce


def refuse_neither(given: Indicated) -> None:
    """A reading, or why there is none: never silence."""
    if given.not_taken.strip():
        if given.typed.strip():
            raise Refused(_("There is a reading above. Take it out, or take these words away."), "not_taken")
        return
    if not given.typed.strip():
        raise Refused(_("Enter what the indicating instrument showed, or say why it was not read."), "typed")
    if not given.instrument:
        raise Refused(_("Choose the instrument that was read."), "instrument")


def keep_reading(
    a: Act,
    by: Actor,
    form_id: UUID,
    given: Indicated,
    recorder: Recorder,
    at: datetime,
    in_force: InForce,
    event: PlantEvent | None,
) -> Reading | None:
    """Keep it within the act: as the answer of the plan's check of this change, else as a reading that nobody asked.

    A refusal of the number, its unit, time or instrument is Refused beside that field, and the act is undone. None
    when the plan asks nothing and nothing was read.
    """
    data = ReadingData(
        form_id=form_id,
        subject=recorder.place,
        typed=given.typed,
        unit=given.unit,
        instrument="" if given.not_taken.strip() else given.instrument,
        not_taken=given.not_taken,
        observed_at=at,
    )
    due = _due(event, recorder, in_force, a.now)
    if due is not None:
        data = replace(data, monitoring_key=due.key, event=due.event, due_at=due.due_at)
    elif given.not_taken.strip():
        return None
    else:
        with in_force.speaking():
            data = replace(data, what=_("indicating reading at a change of chart"))
    try:
        return record_reading(by, data).reading
    except Nonsense as refused:
        raise Refused(refused.sentence, refused.field) from refused


def _due(event: PlantEvent | None, recorder: Recorder, in_force: InForce, now: datetime) -> Due | None:
    """The plan's check of this very change that the reading answers: of several the first, the others stay due."""
    keys = {one.key for one in asked_at_change(recorder, in_force)}
    if event is None or not keys:
        return None
    at = event.observed_at
    found = checks.due_between(at, at + timedelta(microseconds=1), now, keys=keys)
    mine = (one.due for one in found if one.due.event == str(event.number) and one.due.subject == recorder.place)
    return next(mine, None)


def copy_said(row: ChartOn | ChartOff, given: Indicated, in_force: InForce) -> None:
    """What was said of the reading, into a chart's row; Refused for neither a reading nor a reason, and for both."""
    refuse_neither(given)
    row.not_taken = given.not_taken.strip()
    if row.not_taken:
        return
    row.typed, row.unit, row.instrument = given.typed.strip(), given.unit, given.instrument
    named = next((one.name for one in in_force.plan.instruments if one.code == given.instrument), "")
    row.instrument_name = named


def copy_reading(row: ChartOn | ChartOff, reading: Reading | None) -> None:
    """The number of the reading that was kept, and its value."""
    if reading is not None:
        row.reading, row.value = reading.number, reading.value
