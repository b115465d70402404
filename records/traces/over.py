"""What the strip chart shows over a trace: the products of its place, where flow was diverted, what was found."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta

from django.utils.translation import gettext as _

from plant.hazard_plan.content import TracedDef
from plant.pictures.strip_data import Band, Stretch
from plant.process.trace_blocks import Samples
from plant.process.trace_judging import FlowState, Signal, flow_segments
from records.flow.held_spans import held_between
from records.people.plans import InForce
from records.traces import findings, overlays
from records.traces.circumstances import slowest_ms, to_ms, traced_at
from records.traces.findings import FindingSaid
from records.traces.overlays import Overlay
from records.traces.sources import samples_of
from records.traces.windows import Window

MOST_STRETCHES = 400  # of one picture; the list beside it has all
SHORT = timedelta(seconds=1)


def place_of(instrument: str, in_force: InForce) -> str:
    """Where an instrument or a signal is, by the plan; empty where it does not say."""
    named = {one.code: one.place_code for one in in_force.plan.instruments}
    return next((one.place for one in in_force.plan.traced if one.key == instrument), named.get(instrument, ""))


@overlays.source
def products(instrument: str, window: Window, in_force: InForce) -> Overlay:
    """What its place held or ran."""
    place = place_of(instrument, in_force)
    if not place:
        return Overlay()
    families = {one.code: (one.name, one.family) for one in in_force.plan.products}
    spans = held_between(place, window.start, window.end, in_force).spans
    return Overlay(
        tuple(
            Band(
                to_ms(one.start),
                None if one.end is None else to_ms(one.end),
                *families.get(one.product, (one.product or _("product not known"), "other")),
            )
            for one in spans
        )
    )


@overlays.source
def diversions(instrument: str, window: Window, in_force: InForce) -> Overlay:
    """Where the diversion device of its place was not in forward flow, once it had been."""
    place = place_of(instrument, in_force)
    rows = {one.what: one for one in traced_at(place, in_force)} if place else {}
    forward = rows.get("forward flow")
    if forward is None:
        return Overlay()
    running = rows.get("pump running")
    signals = [one for one in (forward, running) if one is not None]
    told = samples_of([one.key for one in signals], window.start - SHORT, window.end + SHORT)
    segments = flow_segments(
        _signal(forward, told),
        None if running is None else _signal(running, told),
        to_ms(window.start),
        to_ms(window.end),
    )
    found = [
        Stretch(one.start_ms, one.end_ms, _("diverted"), out=False)
        for one in segments
        if one.state is FlowState.DIVERTED
    ]
    return Overlay(stretches=tuple(found[:MOST_STRETCHES]))


def _signal(row: TracedDef, told: Mapping[str, tuple[Samples, Samples]]) -> Signal | None:
    samples, beside = told[row.key]
    return Signal(row.key, samples, slowest_ms(row), beside if len(beside) else None) if len(samples) else None


@overlays.source
def found(instrument: str, window: Window, in_force: InForce) -> Overlay:
    """What was found at its place: each with its sentence."""
    place = place_of(instrument, in_force)
    if not place:
        return Overlay()
    told = findings.standing(window.start, window.end, [place], in_force.zone)[:MOST_STRETCHES]
    return Overlay(stretches=tuple(_stretch(one) for one in told))


def _stretch(one: FindingSaid) -> Stretch:
    words = f"{one.word}: {one.row.sentence}".rstrip(".")
    return Stretch(to_ms(one.row.start_at), to_ms(one.row.end_at), words, one.out)
