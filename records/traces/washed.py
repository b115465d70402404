"""What a wash's recorder shows of its steps: judged sample by sample, and drawn with the steps as they were typed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from fractions import Fraction

from plant.pictures.strip_chart import strip_chart_svg
from plant.pictures.strip_data import Channel, Rule, Stretch
from plant.process.limits import Judged, Limit
from plant.process.units import CELSIUS, FAHRENHEIT, exact
from plant.process.washing import judge_trace
from records.people.plans import InForce
from records.traces import blocks, strip
from records.traces.circumstances import to_ms
from records.traces.models import TraceBlock
from records.traces.place_strip import strip_of_place
from records.traces.recorded import TooManySamples
from records.traces.windows import Window
from records.washes import along
from records.washes.models import WashStep
from records.washes.state import limits_of, program
from records.washes.words import step_words

AROUND, WIDTH = timedelta(minutes=3), 976


def judge(recorder: str, low: Limit, least: Limit, start: datetime, end: datetime, in_force: InForce) -> Judged:
    """A step by all samples of its recorder, those that contradict another too: the colder governs. Two queries."""
    row = next((one for one in in_force.plan.traced if one.key == recorder), None)
    if row is None:
        return judge_trace(low, least, (), to_ms(start), to_ms(end), slowest_ms=0)
    slowest, dip = (int(Fraction(text or "0") * 1000) for text in (row.slowest_s, row.spike_s))
    more = timedelta(milliseconds=slowest)
    kept = TraceBlock.objects.filter(instrument=recorder, last_at__gte=start - more, first_at__lte=end + more)
    unit = kept.values_list("unit", flat=True).first() or row.unit
    samples = [
        (int(at), None if failed else _in(Fraction(int(value), 10**part.places), unit, low.unit))
        for part in blocks.between(recorder, start - more, end + more + timedelta(milliseconds=1))
        for at, value, failed in zip(part.times_ms, part.values, part.failed, strict=True)
    ]
    return judge_trace(low, least, samples, to_ms(start), to_ms(end), slowest_ms=slowest, dip_ms=dip)


def _in(value: Fraction, unit: str, wanted: str) -> Fraction | None:
    """None for a unit of another kind: it proves nothing of this limit."""
    if unit == wanted:
        return value
    return exact(value, unit, wanted) if {unit, wanted} <= {CELSIUS, FAHRENHEIT} else None


def draw(recorder: str, steps: Sequence[WashStep], in_force: InForce, now: datetime) -> str:
    """All channels at the recorder's place while the steps went on, each step marked as it was typed."""
    row = next((one for one in in_force.plan.traced if one.key == recorder), None)
    if row is None or not steps:
        return ""
    window = Window(min(one.started_at for one in steps) - AROUND, max(one.ended_at for one in steps) + AROUND)
    try:
        drawn = strip_of_place(row.place, window, in_force, now)
    except TooManySamples:
        return ""
    if drawn is None:
        return ""
    channels = tuple(_ruled(one, steps, in_force) for one in drawn.channels)
    typed = tuple(
        Stretch(to_ms(one.started_at), to_ms(one.ended_at), f"{one.place_in}. {step_words(one.step)}", out=False)
        for one in steps
    )
    drawn = replace(drawn, channels=channels, stretches=(*drawn.stretches, *typed))
    return strip_chart_svg(drawn, WIDTH, words=strip.words())


def _ruled(channel: Channel, steps: Sequence[WashStep], in_force: InForce) -> Channel:
    """A channel with the limits of the steps that have to show in it, each while that step went on."""
    rules = list(channel.rules)
    for row in steps:
        planned = program(in_force.plan, row.program)
        step = planned[row.place_in - 1] if row.place_in <= len(planned) else None
        for limit in limits_of(step) if step is not None else ():
            if step is None or step.recorders.get(limit.quantity) != channel.name.split(" ")[0]:
                continue
            for sign, bound in (("≥", limit.low), ("≤", limit.high)):
                value = None if bound is None else _in(Fraction(bound), limit.unit, channel.unit)
                if value is not None:
                    words = f"{row.place_in}. {sign} {bound} {limit.unit}"
                    rules.append(Rule(float(value), words, False, to_ms(row.started_at), to_ms(row.ended_at)))
    return replace(channel, rules=tuple(rules))


along.register(judge, draw)
