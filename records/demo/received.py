"""The invented tankers by the Receiving pages' own acts: the paper, the screen, unloading into the silo."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from plant import clock
from plant.process.residue import INITIAL, NOT_FOUND
from records.demo import acts
from records.demo.hand import form_id
from records.receiving import actions
from records.receiving.data import ArriveData, Pickup, ScreenData, UnloadData, UnloadedData
from records.receiving.models import ARRIVED, UNLOADING, YES, LoadEvent

if TYPE_CHECKING:
    from records.demo.doing import Stage

TANKERS = {"Nettle Farm": "T-12", "Oxbow Farm": "T-7"}
SEALS = {"Nettle Farm": "4411, 4412", "Oxbow Farm": "4460"}
KIT, KIT_LOT = "strip kit (invented)", "RK-118"
# Answered by the load's own rows, with the movement.
BY_THE_LOAD = ("residue-screen", "residue-in-time")


def arrived(stage: Stage, one: acts.Look) -> None:
    """A load at the bay with its paper, then its screen."""
    now = clock.now()
    load = actions.arrive(
        stage.by,
        ArriveData(
            form_id=form_id("load", stage.plant_day, one),
            place=one.place,
            happened_at=now,
            product="raw-milk",
            tanker=TANKERS.get(one.farm, "T-1"),
            ticket=f"{stage.plant_day:%m%d}-{one.at.replace(':', '')}",
            pounds=one.pounds,
            farms=[(one.farm, one.pounds)],
            pickups=[Pickup("38.5", now - timedelta(hours=2), now - timedelta(hours=3.5))],
            seals=SEALS.get(one.farm, "4499"),
            seals_whole=YES,
            washed_at=now - timedelta(hours=11),
            wash_place="Quillbrook Creamery",
            wash_by="the driver",
            agitated="5",
            looks="good",
            sample=f"T-{stage.plant_day:%d%m}{one.at[:2]}",
            sampler="Tomas Reed",
            sampler_license="BT-07 (invented)",
        ),
    )
    stage.hand.on(40)
    actions.screen(
        stage.by,
        ScreenData(
            form_id=form_id("screen", stage.plant_day, one),
            run=load.number,
            happened_at=clock.now(),
            stage=INITIAL,
            result=NOT_FOUND,
            kit=KIT,
            kit_lot=KIT_LOT,
            negative_control=YES,
            positive_control=YES,
            analyst=stage.by.name,
        ),
    )
    stage.hand.on(20)


def at_the_bay() -> LoadEvent | None:
    """The latest load, where nobody has begun to unload it."""
    row = LoadEvent.objects.filter(what=ARRIVED).order_by("-number").first()
    begun = LoadEvent.objects.filter(run=row.number, what=UNLOADING).exists() if row is not None else True
    return None if begun else row


def unloading(stage: Stage, one: acts.Move, load: LoadEvent) -> int:
    """Unloading begins; the number of its movement."""
    data = UnloadData(form_id("unload", stage.plant_day, one), load.number, one.target, clock.now(), begins_now=True)
    row = actions.unload(stage.by, data)
    assert row.movement is not None  # an unloading always has one
    return row.movement


def unloaded(stage: Stage, one: acts.Move, movement: int) -> bool:
    """Its end; False for a movement that no load began."""
    begun = LoadEvent.objects.filter(what=UNLOADING, movement=movement).first()
    if begun is None or begun.run is None:
        return False
    actions.unloaded(stage.by, UnloadedData(form_id("unloaded", stage.plant_day, one), begun.run, clock.now()))
    return True
