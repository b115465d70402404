"""The filling line of the invented days: cleared and checked, rolls and sleeves opened and counted, by its acts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from plant import clock
from records.demo import acts
from records.demo.hand import form_id
from records.labels import actions, queries
from records.labels.data import CheckData, ClearData, CountedData, OpenedData
from records.labels.models import INGREDIENTS, LABELS, LIDS, NONE, OFF, TUBS

if TYPE_CHECKING:
    from records.demo.doing import Stage

FILLER, SECOND_PERSON = "filler", "hanne"
WALKS = 90.0  # seconds in which the second person walks the line


def cleared(stage: Stage, one: acts.Cleared) -> None:
    """The operator takes off what is left of the last product and signs; the owner walks the line and signs."""
    counts = {LABELS: one.labels, LIDS: one.lids}
    row = actions.clear_line(
        stage.by,
        ClearData(
            form_id=form_id("cleared", stage.plant_day, one.at),
            place=FILLER,
            product=one.product,
            at=clock.now(),
            answers={thing: OFF if count else NONE for thing, count in counts.items()}
            | {TUBS: NONE, INGREDIENTS: NONE},
            counts=counts,
        ),
    )
    stage.hand.on(WALKS)
    look = form_id("second look", stage.plant_day, one.at)
    actions.check_clearance(stage.crew.actor(SECOND_PERSON), CheckData(look, row.number, True, clock.now()))


def roll(stage: Stage, one: acts.Roll) -> None:
    """A roll or sleeve opened; where another product is printed on it, it is caught."""
    actions.open_packaging(
        stage.by,
        OpenedData(
            form_id=form_id("roll", stage.plant_day, one.at, one.code),
            place=FILLER,
            product=one.product,
            kind=one.kind,
            roll_code=one.code,
            printed=one.printed or one.product,
            at=clock.now(),
            issued=one.issued,
        ),
    )


def counted(stage: Stage, one: acts.RollCounted) -> None:
    """The roll of this code that is on the line is counted off it."""
    (opened,) = (row for row in queries.on_the_line(FILLER, clock.now()) if row.roll_code == one.code)
    actions.count_packaging(
        stage.by,
        CountedData(
            form_id("counted", stage.plant_day, one.code), opened.number, clock.now(), one.used, one.returned,
            one.damaged, one.because,
        ),
    )  # fmt: skip
