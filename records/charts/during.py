"""What ran, or was held, at a recorder's place while a chart was on: how a chart is tied to its runs."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from records.charts.queries import Chart
from records.flow.queries import lots_touched


@dataclass(frozen=True, slots=True)
class Ran:
    """A lot that ran through the place or was in it, and since when within the chart's time."""

    label: str
    since: datetime


def ran_while_on(chart: Chart, now: datetime) -> list[Ran]:
    """By the movements that the book has: oldest first."""
    if not chart.on.place:
        return []
    return [Ran(one.label, one.since) for one in lots_touched(chart.on.place, chart.on.put_on_at, chart.until(now))]
