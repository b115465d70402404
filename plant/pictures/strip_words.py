"""What a strip chart says: its words in English, and what its window holds as sentences."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from plant.pictures import strip_time
from plant.pictures.strip_columns import FAILED, SILENT, silences
from plant.pictures.strip_data import Band, Channel, Stretch, Strip, Trace

WORDS = {
    "recorded": "recorded, each column from its least to its greatest",
    "beside": "contradicts it: another file said so",
    "reading": "read by a person",
    "limit": "limit",
    "act": "operating limit",
    SILENT: "nothing recorded",
    FAILED: "the sensor said that it failed",
    "now": "now",
    "forward": "clocks go forward",
    "back": "clocks go back",
    "range": "least {least} at {least_at}, greatest {greatest} at {greatest_at}",
    "summary": "{name}, {unit}, {start} to {end}; samples: {samples}",
    "nothing": "{name}, {unit}, {start} to {end}: no sample has a value",
    "silences": "times with nothing recorded: {times}, {length} in all",
    "failures": "times that the sensor said it failed: {times}",
    "contradictions": "samples that contradict it: {samples}",
    "readings": "readings by people: {times}",
    "more": "and {count} more: see the list",
    "to": "{start} to {end}",
}


def said_of(strip: Strip, words: Mapping[str, str] | None = None) -> list[str]:
    """What the strip shows, in sentences without their full stops: of each channel, then every marked time."""
    named = {**WORDS, **(words or {})}
    found = [_channel(channel, strip, named) for channel in strip.channels]
    marked: tuple[Band | Stretch, ...] = (*strip.bands, *strip.stretches)
    return found + [timed(one, strip, named) for one in marked if meets(one, strip)]


def _channel(channel: Channel, strip: Strip, named: Mapping[str, str]) -> str:
    start, end = (strip_time.said(at, strip.zone) for at in (strip.start_ms, strip.end_ms))
    names = {"name": channel.name, "unit": channel.unit, "start": start, "end": end}
    held = _within(channel.trace, strip)
    parts = [named["summary" if held else "nothing"].format(samples=f"{held:,}", **names)]
    extremes = extremes_of(channel, strip)
    parts += [named["range"].format(**extremes)] if extremes else []
    missing = silences(channel.trace, strip.start_ms, until(strip)) if until(strip) > strip.start_ms else []
    silent = [one for one in missing if one.why == SILENT]
    if silent:
        length = sum(one.end_ms - one.start_ms for one in silent)
        parts.append(named["silences"].format(times=f"{len(silent):,}", length=in_length(length)))
    failed = len(missing) - len(silent)
    parts += [named["failures"].format(times=f"{failed:,}")] if failed else []
    contrary = _within(channel.beside, strip) if channel.beside is not None else 0
    parts += [named["contradictions"].format(samples=f"{contrary:,}")] if contrary else []
    spots = sum(strip.start_ms <= one.at_ms <= strip.end_ms for one in channel.spots)
    parts += [named["readings"].format(times=spots)] if spots else []
    return "; ".join([*parts, *dict.fromkeys(one.words for one in channel.rules)])


def extremes_of(channel: Channel, strip: Strip) -> dict[str, str]:
    """The least and the greatest value of the window with their moments; none where no sample has a value."""
    trace = channel.trace
    low, high = np.searchsorted(trace.times_ms, [strip.start_ms, strip.end_ms])
    valid = np.flatnonzero(~trace.failed[low:high]) + low
    if not len(valid):
        return {}
    values = trace.values[valid]
    found = {}
    for name, at in (("least", int(values.argmin())), ("greatest", int(values.argmax()))):
        found[name] = f"{in_places(float(values[at]), channel.places)} {channel.unit}"
        found[f"{name}_at"] = clock(int(trace.times_ms[valid[at]]), strip)
    return found


def in_places(value: float, places: int) -> str:
    """A value with so many decimals and a true minus sign."""
    text = f"{abs(value):.{places}f}"
    return f"−{text}" if value < 0 and float(text) else text


def until(strip: Strip) -> int:
    """Where what is missing ends: nothing is missing of what is still to come."""
    now = strip.end_ms if strip.now_ms is None else strip.now_ms
    return max(strip.start_ms, min(strip.end_ms, now))


def meets(one: Band | Stretch, strip: Strip) -> bool:
    """Say whether a marked time has a part in the window."""
    return one.start_ms < strip.end_ms and (one.end_ms is None or one.end_ms > strip.start_ms)


def timed(one: Band | Stretch, strip: Strip, named: Mapping[str, str]) -> str:
    """The words of a marked time with its beginning and its end."""
    end = clock(one.end_ms, strip) if one.end_ms is not None else "…"
    return f"{one.words}, {named['to'].format(start=clock(one.start_ms, strip), end=end)}"


def clock(at_ms: int, strip: Strip) -> str:
    """A moment as its window needs it: without the date where the window lies in one day."""
    text = strip_time.said(at_ms, strip.zone)
    days = {strip_time.said(at, strip.zone)[:10] for at in (strip.start_ms, strip.end_ms - 1, at_ms)}
    return text[11:] if len(days) == 1 else text


def in_length(ms: int) -> str:
    """A length of time: '12 s', '5 min 3 s', '2 h 10 min'; what is shorter than a second is '< 1 s'."""
    seconds = round(ms / 1000)
    hours, minutes = seconds // 3600, seconds // 60 % 60
    if hours:
        return f"{hours:,} h {minutes} min" if minutes else f"{hours:,} h"
    if minutes:
        return f"{minutes} min {seconds % 60} s" if seconds % 60 else f"{minutes} min"
    return f"{seconds} s" if seconds else "< 1 s"


def _within(trace: Trace, strip: Strip) -> int:
    low, high = np.searchsorted(trace.times_ms, [strip.start_ms, strip.end_ms])
    return int((~trace.failed[low:high]).sum())
