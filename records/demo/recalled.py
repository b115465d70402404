"""What leaves Quillbrook on the invented days and what comes back, and its rehearsal of a recall."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from plant import clock
from records.demo import acts
from records.demo.hand import form_id
from records.deviations import holds
from records.deviations.queries import open_holds
from records.lots.models import Lot
from records.recall import actions, return_actions, returned
from records.recall.data import DispatchData, EndData, RecallData, ReturnData, StepData
from records.recall.models import LOCATED
from records.recall.origins import Asked

SECONDS_EACH = 35.0  # between a proposal and the second signature

if TYPE_CHECKING:
    from records.demo.doing import Stage


def sent(stage: Stage, one: acts.Sent) -> None:
    """Packs of the day's code that leave now."""
    actions.dispatch(
        stage.by,
        DispatchData(
            form_id("sent", stage.plant_day, one), _code(stage, one.code), one.to, clock.now(), address=one.address,
            phone=one.phone, carrier=one.carrier, quantity_typed=one.quantity, unit="gal", leaves_now=True,
            email=one.email, packed_as=one.packed_as,
        ),
    )  # fmt: skip


def came_back(stage: Stage, one: acts.CameBack) -> None:
    """Packs that a customer sends back: kept apart, on hold from now on."""
    return_actions.take_back(
        stage.by,
        ReturnData(
            form_id("came back", stage.plant_day, one), _code(stage, one.code, one.days_ago), one.sender, clock.now(),
            one.condition, one.reason, one.kept_where, one.quantity, "gal", one.temperature,
        ),
    )  # fmt: skip


def settled(stage: Stage, one: acts.Settled) -> None:
    """What becomes of what came back of a code: proposed for each hold, signed by a second person."""
    lot = Lot.objects.get(code=_code(stage, one.code, one.days_ago))
    for back in returned.back_of([lot.id])[lot.id]:
        for hold in open_holds().filter(lot=back.row.part):
            what = holds.propose_disposition(stage.crew.actor(one.by), hold, one.what, one.reason)
            stage.hand.on(SECONDS_EACH)
            holds.sign_disposition(stage.crew.actor(one.second), what)


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


def _code(stage: Stage, code: str, days_ago: int = 0) -> str:
    return code.format(day=f"{stage.worked(days_ago):%y%m%d}")
