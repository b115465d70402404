"""The runs of the freezer on the invented days: begun before the looks, purged, drawn, weighed, hardened, ended."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from plant import clock
from records.demo import acts
from records.demo.hand import form_id
from records.flow.exits import DRAIN
from records.freezer_runs import actions
from records.freezer_runs.data import BeginData, DrawData, DrawnData, SayData
from records.freezer_runs.models import FreezerEvent
from records.rework.actions import throw_away, use
from records.rework.data import AwayData, UseData
from records.rework.state import portions
from records.run_rows.models import ENDED
from records.run_rows.queries import open_run

if TYPE_CHECKING:
    from records.demo.doing import Stage

FREEZER = "freezer"
TUBS_A_GALLON = 14  # tubs of about a pint from a gallon of mix at this overrun, some lost


def begin(stage: Stage, one: acts.Ready) -> None:
    """A run of the freezer, for the product that it will draw."""
    data = BeginData(form_id("freezer", stage.plant_day, one.at), FREEZER, one.product, clock.now())
    actions.begin(stage.by, data)


def _run() -> int:
    run = open_run(FreezerEvent, FREEZER)
    assert run is not None  # each draw has its Ready before it
    return run.number


def say(stage: Stage, one: acts.Froze) -> None:
    """One thing that happened in the run."""
    drawn_at = clock.now() - timedelta(minutes=one.drawn) if one.drawn else None
    said = dict(one.said)
    data = SayData(
        form_id("froze", stage.plant_day, one.at, one.what, sorted(said.items())), _run(), one.what, clock.now(),
        drawn_at=drawn_at, **said,
    )  # fmt: skip
    actions.say(stage.by, data)


def reworked(stage: Stage, one: acts.Reworked) -> None:
    """The rework set aside last, used up or thrown away."""
    portion = [each for each in portions(clock.now(), stage.in_force) if each.is_kept][-1]
    form, now = form_id("reworked", stage.plant_day, one), clock.now()
    if one.into:
        use(
            stage.by,
            UseData(
                form_id=form, portion=portion.number, target=one.into, product=one.product, at=now,
                quantity=one.quantity, unit=one.unit, why=one.why, begins_now=True,
            ),
        )  # fmt: skip
        return
    throw_away(
        stage.by,
        AwayData(
            form_id=form, portion=portion.number, leaves_by=DRAIN, why=one.why, at=now, quantity=one.quantity,
            unit=one.unit,
        ),
    )  # fmt: skip


def draw_begun(stage: Stage, one: acts.Move) -> int:
    """The draw as it begins; its movement's number."""
    row = actions.draw_begins(
        stage.by,
        DrawData(form_id("move", stage.plant_day, one), _run(), one.product, one.source, one.target, clock.now()),
    )
    assert row.movement is not None  # a draw has its movement
    return row.movement


def draw_ended(stage: Stage, one: acts.Move) -> None:
    """The draw's end with its tubs, and the end of the run."""
    run = _run()
    tubs = str(int(one.quantity) * TUBS_A_GALLON)
    actions.draw_ends(
        stage.by,
        DrawnData(
            form_id("drawn", stage.plant_day, one), run, clock.now(), tubs, "", one.quantity, one.unit, "",
            one.measured_by, one.emptied,
        ),
    )  # fmt: skip
    actions.say(stage.by, SayData(form_id("freezer ends", stage.plant_day, one), run, ENDED, clock.now()))
