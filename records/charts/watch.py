"""The watch of charts: one that is still on after the time it is made for is noticed once."""

from __future__ import annotations

from collections import Counter

from plant import clock
from records.charts import queries
from records.charts.consequences import past_span
from records.charts.models import ChartPastSpan
from records.ledger.actions import WATCH, act
from records.people.plans import plan_in_force


def look() -> Counter[str]:
    """One pass over the charts that are on; counts those that this pass, and no other, noticed."""
    now = clock.now()
    done: Counter[str] = Counter()
    in_force = plan_in_force(now)
    if in_force is None:
        return done
    for found in queries.on_now():
        if not found.is_past(now):
            continue
        with act(WATCH) as a:
            chart = queries.chart_of(found.number)  # somebody may have taken it off since
            if chart is None or chart.off is not None:
                continue
            known = ChartPastSpan.objects.filter(chart=chart.number).exists()
            past_span(a, chart, in_force)
            done["chart past span"] += not known
    return done
