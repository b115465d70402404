"""The runs of the press on the invented days: begun before the looks, product, water after it, ended."""

from __future__ import annotations

from typing import TYPE_CHECKING

from plant import clock
from records.charts import queries as charts
from records.demo import acts, charted
from records.demo.hand import form_id
from records.runs import actions, queries
from records.runs.data import EventData, OutData, ProductData, StartData
from records.runs.models import DIVERTED, ENDED, FORWARD_AGAIN

if TYPE_CHECKING:
    from records.demo.doing import Stage

PRESS = "press-1"
SET_UPS = {"milk": "press-1-milk", "raised": "press-1-cream", "mix": "press-1-mix"}


def begin(stage: Stage, one: acts.Ready) -> None:
    """The start of the press, on the set-up of the product's class."""
    chart = next(iter(charts.on_now(charted.RECORDER)), None)
    data = StartData(
        form_id("run", stage.plant_day, one.at), PRESS, SET_UPS[one.product_class], one.product, clock.now(),
        chart.on.chart_number if chart is not None else "",
    )  # fmt: skip
    actions.begin_start(stage.by, data)


def product_in(stage: Stage, one: acts.Move) -> int:
    """Product after the water; its movement's number."""
    run = queries.open_run(PRESS)
    assert run is not None  # each move through the press has its Ready before it
    row = actions.product_in(
        stage.by,
        ProductData(
            form_id("move", stage.plant_day, one), run.number, one.product, one.source, one.target, clock.now(), "drain"
        ),
    )
    assert row.movement is not None  # product has its movement
    return row.movement


def diverted(stage: Stage, one: acts.Diverted) -> None:
    """A diversion and its end, read off the event pen."""
    run = queries.open_run(PRESS)
    assert run is not None  # it diverted in it
    for what, at, words in ((DIVERTED, one.since, one.why), (FORWARD_AGAIN, one.until, "")):
        said = EventData(form_id(what, stage.plant_day, one), run.number, what, stage.moment(at), words)
        actions.say(stage.by, said)


def water_after(stage: Stage, one: acts.Move) -> None:
    """Water after the product, and the end."""
    run = queries.open_run(PRESS)
    assert run is not None  # it was begun
    name = {each.code: each.name for each in stage.in_force.plan.products}[one.product]
    actions.product_out(
        stage.by,
        OutData(
            form_id("out", stage.plant_day, one), run.number, clock.now(), "drain", one.quantity, one.unit, "",
            one.measured_by, one.emptied,
        ),
    )  # fmt: skip
    diverted_once = any(each.what == DIVERTED for each in run.events)
    unusual = "diverted once, as noted" if diverted_once else "nothing unusual"
    ended = EventData(
        form_id("run ends", stage.plant_day, one), run.number, ENDED, clock.now(),
        f"{name}, {one.quantity} {one.unit}; {unusual}",
    )  # fmt: skip
    actions.say(stage.by, ended)
