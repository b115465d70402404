"""Which instruments write on paper, what is read beside them, and where their deviations belong: from the plan."""

from __future__ import annotations

from dataclasses import dataclass

from plant.hazard_plan.content import ControlPointDef, InstrumentDef, MonitoringDef, TracedDef
from records.checks.entry import fits
from records.people.plans import InForce

CHART_CHANGE = "chart change"
INDICATING = "indicating"
SIGNALS = ("wash strength", "wash flow")  # of the washing station: a trace is kept of them, no paper


@dataclass(frozen=True, slots=True)
class Recorder:
    """An instrument that writes a chart, as the plan in force states it."""

    code: str
    name: str
    unit: str
    place: str
    place_name: str

    @property
    def label(self) -> str:
        return f"{self.code} {self.name}".strip()


def recorders(in_force: InForce) -> list[Recorder]:
    """Every recorder of the plan that stands somewhere: what it says is traced, and every recording instrument."""
    traced = {one.key for one in in_force.plan.traced if one.what not in SIGNALS}
    return [
        _recorder(one, in_force)
        for one in in_force.plan.instruments
        if one.place_code and (one.code in traced or "recording" in one.role)
    ]


def _recorder(one: InstrumentDef, in_force: InForce) -> Recorder:
    return Recorder(one.code, one.name, one.unit, one.place_code, in_force.names.get(one.place_code, one.place_code))


def recorder_of(code: str, in_force: InForce) -> Recorder | None:
    """The recorder of a code; None when the plan knows none."""
    return next((one for one in recorders(in_force) if one.code == code), None)


def indicators(recorder: Recorder, in_force: InForce) -> list[InstrumentDef]:
    """What may be read at a change of its chart: indicating instruments at its place first, then every other."""
    codes = {one.code for one in recorders(in_force)}
    able = [one for one in in_force.plan.instruments if one.code not in codes and fits(one.unit, recorder.unit)]
    return sorted(able, key=lambda one: (one.place_code != recorder.place, INDICATING not in one.role))


def usual_indicator(recorder: Recorder, in_force: InForce) -> InstrumentDef | None:
    """The one indicating instrument at the recorder's place, or the one of several that a check names beside it."""
    here = [one for one in indicators(recorder, in_force) if one.place_code == recorder.place]
    named = {code for one in in_force.plan.monitoring if recorder.code in one.instruments for code in one.instruments}
    for found in ([one for one in here if one.code in named], here):
        if len(found) == 1:
            return found[0]
    return None


def asked_at_change(recorder: Recorder, in_force: InForce) -> list[MonitoringDef]:
    """The checks of a chart change at its place that the indicating reading itself answers."""
    return [
        one
        for one in in_force.plan.monitoring
        if one.frequency.kind == "each_event"
        and one.frequency.event == CHART_CHANGE
        and one.answer.kind == "number"
        and (not one.subjects or recorder.place in one.subjects)
        and fits(recorder.unit, one.answer.unit)
    ]


def traced_of(code: str, in_force: InForce) -> TracedDef | None:
    """The plan's row of what this recorder writes by itself, if there is one."""
    return next((one for one in in_force.plan.traced if one.key == code), None)


def control_point_of(code: str, in_force: InForce) -> ControlPointDef | None:
    """Where a deviation of this recorder's chart belongs.

    The control point of its row among what the plan traces; else of a check that names the recorder, one of operating
    (charts and run records) before others; else of a check that the plan asks at a chart change.
    """
    traced = traced_of(code, in_force)
    if traced is not None:
        return in_force.plan.control_point_by_key(traced.control_point)
    naming = [one for one in in_force.plan.monitoring if code in one.instruments]
    at_change = [one for one in in_force.plan.monitoring if one.frequency.event == CHART_CHANGE]
    for found in (naming, at_change):
        points = [in_force.plan.control_point_by_key(one.control_point) for one in found]
        points.sort(key=lambda one: one.kind != "operating")
        if points:
            return points[0]
    return None
