"""A vat's run: its hold against the published rows, the air space, the looks, the outlet, and what each leads to."""

from __future__ import annotations

from typing import Any

import pytest

from plant import clock
from records.deviations.errors import Refused
from records.deviations.models import Deviation, DeviationCause, Hold
from records.flow.actions import MovementData, record_movement
from records.flow.errors import DifferentContent, Several
from records.flow.models import Movement, MovementEnd
from records.judging.models import Verdict
from records.judging.queries import governing
from records.ledger.models import Entry
from records.ledger.verify import verify
from records.run_rows.models import ENDED, NOTE
from records.run_rows.queries import open_run, run_of
from records.vat_runs import state
from records.vat_runs.actions import amend, begin, open_outlet, say, shut_outlet
from records.vat_runs.data import BeginData
from records.vat_runs.models import HOLD_BEGUN, HOLD_ENDED, READ, VatEvent
from tests.conftest import NOW, Plant
from tests.records.flow.made import moved, movement
from tests.records.vat_runs.made import FROM, HOUR, MINUTE, begun, held, opened, ready_plant, said, shut

pytestmark = pytest.mark.django_db


@pytest.fixture
def vat(plant: Plant) -> Plant:
    """The plan of vats in force, milk in the vat."""
    return ready_plant(plant)


def verdict_of(number: int) -> Verdict:
    return governing(VatEvent.KIND, [number])[number]


def found(run: int) -> state.VatRun:
    one = run_of(VatEvent, run)
    assert one is not None
    return one


# 21 CFR 1240.61(b), table (text consulted): milk in a vat 145 °F for 30 min; 21 CFR 135.3: mix 155 °F for 30 min.
# 3 CCR 584(b) (text consulted): the air space at least 5 °F above the product's minimum. 1 NYCRR 2.45(b)(2) (state
# mirror): the recorder never higher than the indicating thermometer. PMO 16p(A) (from memory): filling and emptying.
ROWS = [
    ("milk just at each limit", "whole-milk", 30, {"indicating": "145", "recording": "145", "air_space": "150"}, "met"),
    ("milk, a tenth too cold", "whole-milk", 30, {"indicating": "144.9", "recording": "144.9"}, "not met"),
    ("milk, the recorder alone too cold", "whole-milk", 30, {"indicating": "145", "recording": "144.5"}, "not met"),
    ("milk, six seconds too short", "whole-milk", 29.9, {}, "not met"),
    ("milk, air space a tenth too cold", "whole-milk", 30, {"air_space": "149.9"}, "not met"),
    ("milk, recorder reads higher", "whole-milk", 30, {"indicating": "146", "recording": "146.5"}, "not met"),
    ("milk, air space nobody read", "whole-milk", 30, {"air_space": ""}, "not proven"),
    ("milk, recorder nobody read", "whole-milk", 30, {"recording": ""}, "not proven"),
    ("milk in Celsius, 62.8 is 145.04", "whole-milk", 30,
     {"unit": "°C", "indicating": "62.8", "recording": "62.8", "air_space": "66"}, "met"),
    ("milk in Celsius, 62.7 is 144.86", "whole-milk", 30,
     {"unit": "°C", "indicating": "62.7", "recording": "62.7", "air_space": "66"}, "not met"),
    ("mix at 155", "mix", 30, {"indicating": "155", "recording": "155", "air_space": "160"}, "met"),
    ("mix at milk's temperature", "mix", 30, {}, "not met"),
]  # fmt: skip


@pytest.mark.parametrize(("product", "minutes", "read", "outcome"), [one[1:] for one in ROWS], ids=[r[0] for r in ROWS])
def test_a_hold_against_the_published_rows(
    vat: Plant, product: str, minutes: float, read: dict[str, str], outcome: str
) -> None:
    """Each limit just met and just missed; what was not read is not proven; out of limits holds the lot in the vat."""
    ines = vat.actor("ines")
    run = begun(ines, product=product)
    ended = held(ines, run, minutes, begin_with=read, **read)
    assert verdict_of(ended).outcome == outcome, verdict_of(ended).reason
    if outcome == "met":
        assert not Deviation.objects.exists() and state.against(found(run), clock.now()) == []
    else:
        deviation = Deviation.objects.get()
        lot = Movement.objects.get(target="vat-1").target_lot
        assert (deviation.control_point, deviation.is_ccp) == ("pasteurizing", True)
        assert Hold.objects.filter(deviation=deviation.number, lot=lot).exists()


@pytest.mark.parametrize(
    ("minutes", "fill", "empty", "outcome"),
    [(42, "7", "5", "met"), (41, "7", "5", "not met"), (45, "", "0", "not proven"), (29, "", "0", "not met")],
)
def test_filling_and_emptying_count_where_they_belong(
    vat: Plant, minutes: int, fill: str, empty: str, outcome: str
) -> None:
    """PMO 16p(A) (from memory), 1 NYCRR 2.45(b)(3): 30 minutes and 7 and 5 are 42; not said is not proven."""
    ines = vat.actor("ines")
    ended = held(ines, begun(ines), minutes, fill_min=fill, empty_min=empty)
    assert verdict_of(ended).outcome == outcome, verdict_of(ended).reason


@pytest.mark.parametrize(("answer", "outcome"), [("no", "not met"), ("not seen", "not proven")])
@pytest.mark.parametrize("look", ["valve_closed", "agitated"])
def test_what_was_looked_at_decides_too(vat: Plant, look: str, answer: str, outcome: str) -> None:
    """An open outlet or a still agitator is not met, and unseen is not proven, whatever the thermometer says."""
    ines = vat.actor("ines")
    ended = held(ines, begun(ines), begin_with={look: answer})
    assert verdict_of(ended).outcome == outcome and state.look_words(look) in verdict_of(ended).reason


def test_a_correction_counts_against_the_hold(plant: Plant) -> None:
    """The thermometer reads 1 °F high: 145.5 °F as read is 144.5 °F corrected, which is not met."""
    from dataclasses import replace

    from tests.records.vat_runs.made import plan_of_vats

    found_ = [replace(one, correction="-1") if one.code == "T-30" else one for one in plan_of_vats().instruments]
    ready_plant(plant, instruments=tuple(found_))
    ines = plant.actor("ines")
    read = {"indicating": "145.5", "recording": "145.5"}
    ended = held(ines, begun(ines), begin_with=read, **read)
    assert "144.5" in verdict_of(ended).reason and verdict_of(ended).outcome == "not met"


def test_each_reading_is_judged_at_once(vat: Plant) -> None:
    """A cold one in the hold is a deviation before the hold ends; one while heating is judged by nothing."""
    ines = vat.actor("ines")
    run = begun(ines)
    heating = say(ines, said(run, READ, FROM - 5 * MINUTE, indicating="120", recording="120"))
    assert not governing(VatEvent.KIND, [heating.number])
    say(ines, said(run, HOLD_BEGUN, FROM))
    good = say(ines, said(run, READ, FROM + 10 * MINUTE))
    assert verdict_of(good.number).outcome == "met" and not Deviation.objects.exists()
    cold = say(ines, said(run, READ, FROM + 20 * MINUTE, indicating="143"))
    assert verdict_of(cold.number).clause.startswith("21 CFR 1240.61") and Deviation.objects.count() == 1
    ended = say(ines, said(run, HOLD_ENDED, FROM + 30 * MINUTE))
    assert verdict_of(ended.number).outcome == "not met" and Deviation.objects.count() == 1
    say(ines, said(run, HOLD_BEGUN, FROM + 31 * MINUTE))
    again = say(ines, said(run, HOLD_ENDED, clock.now()))
    assert verdict_of(again.number).outcome == "not met"  # 29 minutes
    assert verify().good


def test_the_outlet_waits_for_a_hold_within_its_row(vat: Plant) -> None:
    """Refused while it has not happened; afterwards the movement ends with its quantity and the run with it."""
    ines = vat.actor("ines")
    run = begun(ines)
    before = Entry.objects.count()
    with pytest.raises(Several, match="No hold is recorded"):
        open_outlet(ines, opened(run, begins_now=True))
    say(ines, said(run, HOLD_BEGUN, FROM))
    with pytest.raises(Several, match="end of the hold is not recorded"):
        open_outlet(ines, opened(run, begins_now=True))
    assert Entry.objects.count() == before + 2  # the beginning of the hold and its verdict
    say(ines, said(run, HOLD_ENDED, FROM + 30 * MINUTE))
    row = open_outlet(ines, opened(run, begins_now=True))
    moved = Movement.objects.get(number=row.movement)
    assert (moved.source, moved.target) == ("vat-1", "finished-1") and not Deviation.objects.exists()
    with pytest.raises(Refused, match="outlet is open"):
        say(ines, said(run, ENDED, clock.now()))
    vat.at(NOW + 3 * HOUR)
    shut_outlet(ines, shut(run))
    assert MovementEnd.objects.get(movement=row.movement).quantity == 100
    say(ines, said(run, ENDED, clock.now()))
    assert open_run(VatEvent, "vat-1") is None and state.missing(found(run)) == []
    assert verify().good


def test_what_left_without_a_hold_is_kept_and_held(vat: Plant) -> None:
    """A fact is never refused: a deviation at pasteurization, and the lot that it flowed into is held."""
    ines = vat.actor("ines")
    run = begun(ines)
    row = open_outlet(ines, opened(run, NOW + HOUR))
    deviation = Deviation.objects.get(control_point="pasteurizing")
    assert "No hold is recorded." in deviation.sentence
    lots = set(Hold.objects.filter(deviation=deviation.number).values_list("lot", flat=True))
    assert Movement.objects.get(number=row.movement).target_lot in lots


def test_a_run_that_ends_without_a_hold_proves_nothing(vat: Plant) -> None:
    """Not proven at the control point of pasteurization; what was in the vat is held."""
    ines = vat.actor("ines")
    run = begun(ines)
    say(ines, said(run, ENDED, FROM))
    deviation = Deviation.objects.get()
    assert (deviation.control_point, deviation.cause) == ("pasteurizing", "not proven")
    assert Hold.objects.filter(deviation=deviation.number, lot=Movement.objects.get(target="vat-1").target_lot).exists()


def test_an_amendment_judges_the_hold_anew_and_closes_nothing(vat: Plant) -> None:
    """The end as it was: its verdict follows the old one; the deviation stays; a late cold reading undoes it again."""
    ines = vat.actor("ines")
    run = begun(ines)
    ended = held(ines, run, 25)
    assert verdict_of(ended).outcome == "not met"
    with pytest.raises(Refused, match="Only Ines Alder"):
        amend(vat.actor("tomas"), ended, said(run, HOLD_ENDED, FROM + 31 * MINUTE), "the clock")
    row = amend(ines, ended, said(run, HOLD_ENDED, FROM + 31 * MINUTE), "I wrote the wrong time")
    assert verdict_of(row.number).outcome == "met" and verdict_of(row.number).follows == verdict_of(ended).number
    assert Deviation.objects.count() == 1 and state.against(found(run), clock.now()) == []
    say(ines, said(run, READ, FROM + 15 * MINUTE, indicating="140", recording="140"))
    assert verdict_of(row.number).outcome == "not met" and state.against(found(run), clock.now())
    assert verify().good


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"indicating": "1460"}, "indicating"),
        ({"unit": "°C"}, "recording"),
        ({"air_space": "x"}, "air_space"),
        ({"unit": "K"}, "unit"),
        ({"agitated": ""}, "agitated"),
    ],
)
def test_nonsense_is_refused_beside_its_field(vat: Plant, changes: dict[str, Any], field: str) -> None:
    """A slipped digit, the wrong unit, letters, a look nobody answered: nothing is kept."""
    ines = vat.actor("ines")
    run = begun(ines)
    before = Entry.objects.count()
    extra = {"indicating": "66"} if changes.get("unit") == "°C" else {}
    recording = {"recording": "300"} if extra else {}
    with pytest.raises(Refused) as refused:
        say(ines, said(run, HOLD_BEGUN, FROM, **(extra | recording | changes)))
    assert refused.value.field == field and Entry.objects.count() == before


def test_the_same_form_saves_once_and_a_run_has_its_order(vat: Plant) -> None:
    """A repeat answers as the first time, other content is refused; no end without a beginning; one run a vat."""
    ines = vat.actor("ines")
    run = begun(ines)
    assert "hold begun" in state.missing(found(run))
    data = said(run, NOTE, FROM, words="Steam valve slow")
    first = say(ines, data)
    assert say(ines, data).number == first.number
    with pytest.raises(DifferentContent):
        say(ines, said(run, NOTE, FROM, words="other", form_id=data.form_id))
    with pytest.raises(Refused, match="no hold goes on"):
        say(ines, said(run, HOLD_ENDED, FROM))
    with pytest.raises(Refused, match="not recorded as ended"):
        begun(ines)
    with pytest.raises(Refused, match="no such vat"):
        begin(ines, BeginData(data.form_id, "silo-a", "mix", NOW))


def on_the_floor(**changes: Any) -> MovementData:
    """The vat emptied into Finished 1 by the Floor's form, now."""
    values: dict[str, Any] = {
        "source": "vat-1", "source_name": "", "target": "finished-1", "product": "whole-milk",
        "started_at": clock.now(), "ended_at": None, "quantity_typed": "", "unit": "", "measured_by": "unknown",
    }  # fmt: skip
    return movement(**(values | changes))


def test_a_vat_emptied_on_the_floor_is_held_against_its_hold(vat: Plant) -> None:
    """Every particle for its time, 21 CFR 1240.61(b): without it refused beforehand, as a fact held."""
    ines = vat.actor("ines")
    with pytest.raises(Several, match="Vat 1: No run with a hold is recorded"):
        record_movement(ines, on_the_floor(start_now=True))
    run = begun(ines)
    say(ines, said(run, HOLD_BEGUN, FROM))
    say(ines, said(run, HOLD_ENDED, FROM + 29 * MINUTE))  # 30 minutes in the table of 21 CFR 1240.61(b)
    with pytest.raises(Several, match="Vat 1: not met|Vat 1: out of limits"):
        record_movement(ines, on_the_floor(start_now=True))
    row = record_movement(ines, on_the_floor())
    (cause,) = DeviationCause.objects.filter(cause_number=row.number, sentence__startswith="Vat 1:")
    hold = Hold.objects.get(deviation=cause.deviation, lot=row.target_lot, since_at=row.started_at)
    assert hold.bars_release == "pasteurization" and verify().good


def test_a_vat_with_its_hold_may_be_emptied_on_the_floor_until_something_is_added(vat: Plant) -> None:
    """The half hour that was judged met counts for what was in the vat then, and not for what went in after it."""
    ines = vat.actor("ines")
    run = begun(ines)
    say(ines, said(run, HOLD_BEGUN, FROM))
    say(ines, said(run, HOLD_ENDED, FROM + 30 * MINUTE))
    row = record_movement(ines, on_the_floor(started_at=FROM + 35 * MINUTE, ended_at=FROM + 36 * MINUTE))
    assert not DeviationCause.objects.filter(cause_number=row.number, sentence__startswith="Vat 1:").exists()
    moved(
        ines, source="silo-a", source_name="", target="vat-1", product="whole-milk", quantity_typed="10",
        started_at=FROM + 40 * MINUTE, ended_at=FROM + 41 * MINUTE,
    )  # fmt: skip
    with pytest.raises(Several, match="after its last hold began"):
        record_movement(ines, on_the_floor(start_now=True))
