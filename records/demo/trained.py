"""The trainings that the supervisor of the invented plant writes down, by the act of the page of training."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from plant import clock
from records.demo import acts
from records.demo.hand import form_id
from records.training.actions import record
from records.training.data import TrainingData

if TYPE_CHECKING:
    from records.demo.doing import Stage

SECONDS_EACH = 30.0


def trained(stage: Stage, one: acts.Trained) -> None:
    """One training with its people."""
    record(
        stage.crew.actor("wren"),
        TrainingData(
            form_id=form_id("training", stage.plant_day, one),
            at=clock.now(),
            training=one.training,
            people=tuple(stage.crew.people[name].id for name in one.people),
            trained_on=stage.plant_day - timedelta(days=one.days_ago),
            trainer=one.trainer,
            proven=one.proven,
            note=one.note,
        ),
    )
    stage.hand.on(SECONDS_EACH)
