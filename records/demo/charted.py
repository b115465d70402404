"""The press's paper charts of the invented days: put on, changed, taken off, signed, by the actions of the pages."""

from __future__ import annotations

from typing import TYPE_CHECKING

from plant import clock
from records.charts import actions, queries
from records.charts.data import Indicated, OffData, OnData
from records.demo import acts
from records.demo.hand import form_id

if TYPE_CHECKING:
    from records.demo.doing import Stage

RECORDER, INDICATING = "tr-press-1", "ti-press-1"
SIGNS_AFTER = 40.0  # seconds to fold the chart and sign it


def chart_on(stage: Stage, one: acts.ChartOn) -> None:
    """On the hot press, before its first product: the pen can be held against the indicating thermometer."""
    actions.put_on(stage.by, _on(stage, one.number, one.shown))


def chart_off(stage: Stage, one: acts.ChartOff) -> None:
    """The chart that is on comes off, or is changed for the next; whoever took it off signs it."""
    (chart,) = queries.on_now(RECORDER)
    by = stage.by
    off = OffData(
        form_id=form_id("chart off", stage.plant_day, one.at),
        chart=chart.number,
        taken_off_at=clock.now(),
        indicated=_shown(one.shown),
        products=one.products,
        unusual=bool(one.unusual),
        unusual_words=one.unusual,
        overlapped=False,
        clock_right=True,
        clock_against="the press room's clock",
    )
    if one.next_one:
        actions.change(by, off, _on(stage, one.next_one, one.shown))
    else:
        actions.take_off(by, off)
    stage.hand.on(SIGNS_AFTER)
    actions.sign_chart(by, chart.number)


def _on(stage: Stage, number: str, shown: str) -> OnData:
    return OnData(
        form_id=form_id("chart on", stage.plant_day, number),
        recorder=RECORDER,
        chart_number=number,
        shape="circular",
        span_typed="24",
        put_on_at=clock.now(),
        indicated=_shown(shown),
    )


def _shown(typed: str) -> Indicated:
    return Indicated(typed, "°F", INDICATING)
