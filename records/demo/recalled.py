"""What leaves Quillbrook on the invented days, and its rehearsal of a recall."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from plant import clock
from records.demo import acts
from records.demo.hand import form_id
from records.recall import actions
from records.recall.data import DispatchData, EndData, RecallData, StepData
from records.recall.models import LOCATED
from records.recall.origins import Asked

if TYPE_CHECKING:
    from records.demo.doing import Stage


def sent(stage: Stage, one: acts.Sent) -> None:
    """Packs of the day's code that leave now."""
    actions.dispatch(
        stage.by,
        DispatchData(
            form_id("sent", stage.plant_day, one), _code(stage, one.code), one.to, clock.now(), address=one.address,
            phone=one.phone, carrier="own van", quantity_typed=one.quantity, unit="gal", leaves_now=True,
        ),
    )  # fmt: skip


def rehearsed(stage: Stage, one: acts.Rehearsed) -> None:
    """Begun by the supervisor from a code, located in house and by telephone, ended with its percentage."""
    by, code = stage.crew.actor("wren"), _code(stage, one.code)
    begun = actions.begin_recall(
        by,
        RecallData(form_id("rehearsed", stage.plant_day, one), True, one.why, clock.now(), Asked(code=code)),
    )
    for place, (minutes, quantity, where, words) in enumerate(one.located):
        stage.hand.to(begun.begun_at + timedelta(minutes=minutes))
        said = StepData(
            form_id("located", stage.plant_day, one.at, place), begun.number, LOCATED, clock.now(), where, code,
            quantity, "gal", words,
        )  # fmt: skip
        actions.record_step(by, said)
    stage.hand.to(begun.begun_at + timedelta(minutes=one.minutes))
    ended = EndData(form_id("rehearsal ended", stage.plant_day, one.at), begun.number, clock.now(), one.outcome)
    actions.end_recall(by, ended)


def _code(stage: Stage, code: str) -> str:
    return code.format(day=f"{stage.plant_day:%y%m%d}")
