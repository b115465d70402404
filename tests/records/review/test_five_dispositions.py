"""The five dispositions by their pages: a reading out of limits holds a tank and its packs; two people sign; then what
the pages say of them, what may leave and how, and that what lies downstream follows.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import dataclass
from html import unescape
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.urls import reverse

from plant import clock
from records.checks.actions import record_reading
from records.checks.entry import ReadingData
from records.deviations.holds import place_on_hold
from records.deviations.models import Deviation, DeviationCause, Disposition, Hold
from records.flow.actions import MovementData, record_movement
from records.flow.disposed import signed_for
from records.flow.errors import Several
from records.flow.models import Movement
from records.flow.queries import held_lots_at, not_free_at
from records.ledger.actions import act
from records.ledger.verify import verify
from records.recall.actions import dispatch
from records.recall.data import DispatchData
from records.recall.models import Dispatch
from tests.conftest import Plant
from tests.factories import PASSWORD
from tests.records.flow.made import made_ready, washed
from tests.records.labels.made import MINUTE, made_clear, packing, ready_plant

pytestmark = pytest.mark.django_db

WHERE = {"consignee": "Corner shop", "address": "1 Mill Lane, Quillbrook", "phone": "555 0100", "carrier": "own van"}


@dataclass
class Held:
    """Finished 1 on hold since its last reading in limits, and the packs W 2 that came out of it after that."""

    plant: Plant
    tank: UUID
    packs: UUID
    hold: Hold
    ines: Client
    wren: Client
    odile: Client

    def later(self, minutes: int = 5) -> None:
        self.plant.at(clock.now() + minutes * MINUTE)


@pytest.fixture
def held(plant: Plant, client_for: Callable[..., Client]) -> Held:
    """39 °F, W 2 packed, then 47 °F by Ines: a deviation, and both on hold by name from the first reading on."""
    ready_plant(plant)
    ines = plant.actor("ines")
    read(plant, "39")
    made_clear(plant)
    plant.at(clock.now() + 10 * MINUTE)
    row = record_movement(ines, packing(code="W 2", started_at=clock.now(), ended_at=clock.now(), quantity_typed="40",
                                        unit="gal", measured_by="count"))  # fmt: skip
    plant.at(clock.now() + 20 * MINUTE)
    read(plant, "47")
    hold = Hold.objects.exclude(lot=row.target_lot).get()
    assert set(Hold.objects.values_list("lot", flat=True)) == {hold.lot, row.target_lot}
    plant.at(clock.now() + 5 * MINUTE)
    clients = (client_for(getattr(plant.people, name)) for name in ("ines", "wren", "odile"))
    assert row.target_lot is not None
    return Held(plant, hold.lot, row.target_lot, hold, *clients)


def read(plant: Plant, typed: str) -> None:
    """A reading of Finished 1 by Ines, now."""
    data = ReadingData(
        uuid.uuid4(), "finished-1", "silo-holding", typed=typed, agitator_ran=True, bulb_covered=True,
        observed_at=clock.now(),
    )  # fmt: skip
    record_reading(plant.actor("ines"), data)


def text(answer: Any) -> str:
    return unescape(answer.content.decode())


def page(client: Client, route: str, *args: Any, query: str = "") -> str:
    return text(client.get(reverse(route, args=args) + query))


def leaves(one: Held, **typed: Any) -> str:
    """The packs W 2 sent by the form of dispatch, now."""
    body = {"form_id": str(uuid.uuid4()), "code": "W 2", "quantity": "10", "unit": "gal", "dispatched_at": "",
            "note": "", "begins_now": "1", **WHERE, **typed}  # fmt: skip
    body["dispatched_at"] = clock.now().astimezone(ZoneInfo("America/Chicago")).strftime("%Y-%m-%dT%H:%M")
    return text(one.ines.post(reverse("records:dispatch-new"), body, follow=True))


def proposed(one: Held, hold: Hold, what: str) -> None:
    """By Wren, through the supervisor's form."""
    body = {"what": what, "reason": "Looked at by two people.", "signer": "wren", "signer_secret": PASSWORD}
    answer = one.wren.post(reverse("records:disposition-new", args=[hold.number]), body)
    assert answer.status_code == 302, text(answer)[:3000]


def signed(hold: Hold, client: Client, who: str) -> str:
    """The second signature, through its form."""
    newest = Disposition.objects.filter(hold=hold.number).order_by("-number")[0]
    body = {"disposition": str(newest.number), "read": "on", "signer": who, "signer_secret": PASSWORD}
    return text(client.post(reverse("records:disposition-sign", args=[hold.number]), body, follow=True))


def disposed(one: Held, what: str, packs: str = "") -> None:
    """Of the tank and of its packs: proposed by Wren, who alone lifts nothing; signed by Odile."""
    for hold in Hold.objects.order_by("number"):
        proposed(one, hold, packs if packs and hold.lot == one.packs else what)
        assert "has to be another person's" in signed(hold, one.wren, "wren")
        assert hold.lot in held_lots_at(clock.now())
        assert "The hold is lifted" in signed(hold, one.odile, "odile")
    one.later()
    assert held_lots_at(clock.now()) == {} and verify().good


def moving(source: str, target: str = "", **changes: Any) -> MovementData:
    """It begins now, unless `started_at` says when it was."""
    at = changes.pop("started_at", None)
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(), "source": source, "target": target, "product": "whole-milk",
        "started_at": at or clock.now(), "ended_at": at, "start_now": at is None,
    }  # fmt: skip
    return MovementData(**{**values, **changes})


def refused(one: Held, data: MovementData) -> str:
    """What refuses it; nothing is kept."""
    before = Movement.objects.count()
    with pytest.raises(Several) as refusal:
        record_movement(one.plant.actor("ines"), data)
    assert Movement.objects.count() == before
    return " ".join(refusal.value.sentences)


def goes(one: Held, data: MovementData) -> Movement:
    """It is recorded, and opens nothing."""
    before = Deviation.objects.count()
    row = record_movement(one.plant.actor("ines"), data)
    assert Deviation.objects.count() == before, list(DeviationCause.objects.values_list("sentence", flat=True))
    return row


def out(one: Held, by_exit: str) -> MovementData:
    return moving("finished-1", target_name=by_exit, started_at=clock.now(), quantity_typed="20", unit="gal",
                  measured_by="level")  # fmt: skip


def all_pages(one: Held) -> dict[str, str]:
    """What each page says of the tank or of its packs."""
    return {
        "tub": page(one.ines, "records:tub", one.packs),
        "floor": page(one.ines, "records:floor"),
        "vessel": page(one.ines, "records:vessel", "finished-1"),
        "lot": page(one.ines, "records:lot", one.packs),
        "label": page(one.ines, "records:label-sheet", one.packs),
        "scope": page(one.ines, "records:recall-scope", query=f"?lot={one.tank}"),
        "dispatch": page(one.ines, "records:dispatch-new", query="?code=W 2"),
    }


NOT_RELEASED = {
    "pasteurize again": "pasteurize again before it leaves", "rework": "rework",
    "sent to another use": "send to another use", "destroy": "destroy",
}  # fmt: skip
NO_OTHER_WAY = "may go no other way than was signed"


# --- while it is held


def test_while_it_is_held_nothing_leaves_and_every_page_says_so(held: Held) -> None:
    """The tank by name, its packs by computation; packing and dispatch are refused; operators cannot dispose."""
    assert held.packs in held_lots_at(held.hold.received_at)
    for name, said in all_pages(held).items():
        assert "on hold" in said, name
    assert "on hold" in refused(held, packing(code="W 3"))
    assert "W 2 is on hold" in leaves(held) and not Dispatch.objects.exists()
    for route in ("records:disposition-new", "records:disposition-sign"):
        assert held.ines.get(reverse(route, args=[held.hold.number])).status_code == 403
    assert held.wren.get(reverse("records:hold", args=[held.hold.number])).status_code == 200


def test_a_residue_hold_on_the_same_lot_leaves_two_ways(held: Held) -> None:
    """The form offers destroy and the regulator's word; release and pasteurizing again are refused when sent anyway."""
    with act(held.plant.actor("wren")) as a:
        place_on_hold(
            a, lot=held.tank, lot_label="Finished 1", vessel="finished-1", since_at=held.hold.since_at,
            reason="Residue found.", bars_release="residue",
        )  # fmt: skip
    form = page(held.wren, "records:disposition-new", held.hold.number)
    offered = [one for one in (*NOT_RELEASED, "release", "as the regulator wrote") if f'value="{one}"' in form]
    assert offered == ["destroy", "as the regulator wrote"]
    body = {"reason": "x", "signer": "wren", "signer_secret": PASSWORD}
    for what in ("release", "pasteurize again", "rework", "sent to another use"):
        answer = held.wren.post(reverse("records:disposition-new", args=[held.hold.number]), body | {"what": what})
        assert answer.status_code == 422
    assert not Disposition.objects.exists()


# --- released


def test_released(held: Held) -> None:
    """The tank and its packs are free: packed, dispatched, and no page says a hold."""
    disposed(held, "release")
    assert not_free_at(clock.now()) == {}
    for name, said in all_pages(held).items():
        assert "on hold:" not in said and "not released" not in said, name
    leaves(held)
    assert Dispatch.objects.count() == 1
    goes(held, packing(code="W 3"))


def test_each_hold_has_its_own_word(held: Held) -> None:
    """The tank destroyed, its packs released by name: the packs leave, the tank does not."""
    disposed(held, "destroy", packs="release")
    assert set(signed_for(clock.now())) == {held.tank}
    leaves(held)
    assert Dispatch.objects.count() == 1 and Deviation.objects.count() == 1
    assert NO_OTHER_WAY in refused(held, packing(code="W 3"))


# --- the four that do not release


@pytest.mark.parametrize("what", list(NOT_RELEASED))
def test_not_released_it_neither_is_packed_nor_leaves(held: Held, what: str) -> None:
    """The hold is lifted, and still: packing refused, dispatch refused, each page names what was signed.

    What was packed all the same is a deviation, and its packs are on hold.
    """
    disposed(held, what)
    assert {held.tank, held.packs} <= set(signed_for(clock.now()))
    for name, said in all_pages(held).items():
        assert f"not released; signed was: {NOT_RELEASED[what]}" in said, name
    assert NO_OTHER_WAY in refused(held, packing(code="W 3"))
    told = leaves(held)
    assert "is not released" in told and not Dispatch.objects.exists()
    row = record_movement(
        held.plant.actor("ines"), packing(code="W 3", started_at=clock.now(), ended_at=clock.now())
    )
    assert NO_OTHER_WAY in DeviationCause.objects.get(cause_number=row.number).sentence
    assert row.target_lot in held_lots_at(clock.now())


def test_dispatched_all_the_same_is_a_deviation(held: Held) -> None:
    """It has left: kept, with what was signed for it."""
    disposed(held, "destroy")
    data = DispatchData(
        uuid.uuid4(), "W 2", "Corner shop", clock.now(), address="1 Mill Lane", quantity_typed="10", unit="gal"
    )
    dispatch(held.plant.actor("ines"), data)
    row = Dispatch.objects.get()
    assert "signed was: destroy" in DeviationCause.objects.get(cause_number=row.number).sentence


def test_written_down_after_the_decision_it_had_still_left_while_held(held: Held) -> None:
    """Away by Ines's paper ten minutes before both signed to destroy it: no hold stands now, none was signed then."""
    left = clock.now()
    held.later(10)
    disposed(held, "destroy")
    assert held.packs in held_lots_at(left) and held.packs not in held_lots_at(clock.now())
    dispatch(held.plant.actor("ines"), DispatchData(
        uuid.uuid4(), "W 2", "Corner shop", left, address="1 Mill Lane", quantity_typed="10", unit="gal"))  # fmt: skip
    assert DeviationCause.objects.filter(cause_kind="dispatch", cause_number=Dispatch.objects.get().number).exists()


def test_what_may_never_be_released_is_reworked_only_to_be_heated(held: Held) -> None:
    """A laboratory's hold, signed to rework: into raw product, and by no pump into another vat to be packed."""
    with act(held.plant.actor("wren")) as a:
        place_on_hold(a, lot=held.tank, lot_label="Finished 1", vessel="finished-1", since_at=clock.now(),
                      reason="coliform over its limit", bars_release="laboratory")  # fmt: skip
    held.later()
    disposed(held, "rework")
    ines = held.plant.actor("ines")
    washed(ines, "vat", clock.now() - 20 * MINUTE, was_empty=True)
    made_ready(ines, clock.now() - 20 * MINUTE, "silo-a")
    held.later(30)
    assert NO_OTHER_WAY in refused(held, moving("finished-1", "vat"))
    back = goes(held, moving("finished-1", "silo-a", started_at=clock.now(), quantity_typed="50", unit="gal",
                             measured_by="level"))  # fmt: skip
    assert back.target_lot is not None


def test_pasteurized_again(held: Held) -> None:
    """Back into raw product and through the press: what comes out is free, what did not go that way is not."""
    disposed(held, "pasteurize again")
    ines = held.plant.actor("ines")
    assert NO_OTHER_WAY in refused(held, moving("finished-1", "vat"))
    made_ready(ines, clock.now() - 20 * MINUTE, "silo-a", "press-1")
    held.later(30)
    back = goes(held, moving("finished-1", "silo-a", started_at=clock.now(), quantity_typed="260", unit="gal",
                             measured_by="level", emptied=True))  # fmt: skip
    assert back.target_lot in signed_for(clock.now())  # raw again, and not pasteurized yet
    washed(ines, "vat", clock.now() - 20 * MINUTE, was_empty=True)
    held.later(10)
    again = record_movement(ines, moving("silo-a", "vat", via="press-1", started_at=clock.now(), quantity_typed="50",
                                         unit="gal", measured_by="level"))  # fmt: skip
    assert again.target_lot not in not_free_at(clock.now())
    assert back.target_lot in signed_for(clock.now()) and held.packs in signed_for(clock.now())


def test_reworked(held: Held) -> None:
    """Into another batch: that one is free by this word; the packs, which nobody opened, are not."""
    disposed(held, "rework")
    washed(held.plant.actor("ines"), "vat", clock.now() - 20 * MINUTE, was_empty=True)
    held.later(10)
    row = goes(held, moving("finished-1", "vat", started_at=clock.now(), quantity_typed="20", unit="gal",
                            measured_by="level"))  # fmt: skip
    assert row.target_lot not in not_free_at(clock.now())
    assert held.packs in signed_for(clock.now())
    goes(held, out(held, "drain"))


def test_sent_to_another_use(held: Held) -> None:
    """To animal feed, or outside by name; into no packs, no other vessel. Packs leave with words of the use."""
    disposed(held, "sent to another use")
    goes(held, out(held, "animal feed"))
    goes(held, out(held, "Oxbow Farm, for its pigs"))
    assert NO_OTHER_WAY in refused(held, moving("finished-1", "vat"))
    assert NO_OTHER_WAY in refused(held, moving("finished-1", target_name="donation"))
    assert "write in the note which" in leaves(held)
    assert not Dispatch.objects.exists()
    leaves(held, consignee="Oxbow Farm", note="Feed for its pigs, as signed; Oxbow Farm takes it for that.")
    assert Dispatch.objects.count() == 1 and Deviation.objects.count() == 1


def test_destroyed(held: Held) -> None:
    """Down the drain or destroyed by name; to animal feed and into any vessel it is refused."""
    disposed(held, "destroy")
    for by_exit in ("drain", "destroyed"):
        goes(held, out(held, by_exit))
    assert NO_OTHER_WAY in refused(held, moving("finished-1", target_name="animal feed"))
    assert NO_OTHER_WAY in refused(held, moving("finished-1", "vat"))


def test_washed_and_filled_anew_the_tank_is_free_of_it(held: Held) -> None:
    """Destroyed, emptied, washed: the next milk in it is another lot. The packs stay what they are."""
    disposed(held, "destroy")
    ines = held.plant.actor("ines")
    goes(held, moving("finished-1", target_name="drain", started_at=clock.now(), quantity_typed="260", unit="gal",
                      measured_by="level", emptied=True))  # fmt: skip
    held.later(60)
    washed(ines, "finished-1", clock.now() - 30 * MINUTE)
    row = record_movement(ines, MovementData(
        uuid.uuid4(), "", "finished-1", "whole-milk", clock.now(), source_name="Another plant", quantity_typed="100",
        unit="gal", measured_by="level", ended_at=clock.now()))  # fmt: skip
    assert row.target_lot not in not_free_at(clock.now())
    assert "not released" not in page(held.ines, "records:floor")
    assert held.packs in signed_for(clock.now())
    goes(held, packing(code="W 4"))
