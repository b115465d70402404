"""A freezer's run as it is recorded: what stands against the draw, what is judged, what is held, what is missing."""

from __future__ import annotations

from decimal import Decimal

import pytest

from plant import clock
from plant.hazard_plan.content import AnswerDef, FrequencyDef, MonitoringDef
from records.checks.models import Reading
from records.deviations.errors import Refused
from records.deviations.models import Deviation, DeviationCause, Hold
from records.flow.errors import DifferentContent, Several
from records.flow.models import Movement, MovementEnd
from records.freezer_runs import state
from records.freezer_runs.actions import amend, begin, draw_begins, draw_ends, say
from records.freezer_runs.data import BeginData
from records.freezer_runs.models import (
    CUP,
    DESTROYED,
    DRAIN,
    DRAW,
    FED,
    FIRST_RIGHT,
    HARDENING,
    PURGED,
    REWORK,
    FreezerEvent,
)
from records.judging.models import Verdict
from records.ledger.models import Entry
from records.ledger.verify import verify
from records.people.plans import plan_in_force
from records.run_rows.models import ENDED, NOTE, UNUSUAL
from records.run_rows.queries import open_run, run_of
from tests.conftest import NOW, Plant
from tests.records.flow.made import washed
from tests.records.freezer_runs.made import (
    CUP_OF,
    HOUR,
    MINUTE,
    begun,
    draw,
    drawing,
    drawn,
    plan_of_freezing,
    ready_plant,
    said,
    seen,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def frozen(plant: Plant) -> Plant:
    """The plan of freezing in force, the freezer sanitized, hazelnut mix in the vat."""
    return ready_plant(plant)


def found(run: int) -> state.FreezerRun:
    one = run_of(FreezerEvent, run)
    assert one is not None
    return one


def against(run: int, product: str = "hazelnut") -> list[str]:
    in_force = plan_in_force(clock.now())
    assert in_force is not None
    return [one.sentence for one in state.against(found(run), product, clock.now(), in_force)]


def missing(run: int) -> list[str]:
    in_force = plan_in_force(clock.now())
    assert in_force is not None
    return state.missing(found(run), in_force)


def outcome(reading: int | None) -> str:
    return Verdict.objects.get(subject_kind=Reading.KIND, subject_number=reading).outcome


def test_what_stands_against_the_draw_is_named_until_it_is_done(frozen: Plant) -> None:
    """The sanitizing comes from the washes, the look from the plan's check, the purge is asked; nothing is refused
    quietly, and what is refused writes nothing.
    """
    ines = frozen.actor("ines")
    run = begun(ines).number
    assert against(run) == ["Freezer-seen: nothing recorded", "Barrel purged: nothing recorded"]
    before = Entry.objects.count()
    with pytest.raises(Several, match="Barrel purged"):
        draw_begins(ines, draw(run, begins_now=True))
    assert Entry.objects.count() == before
    seen(ines, "freezer-seen", "freezer")
    say(ines, said(run, PURGED, amount="2", unit="gal", became=DRAIN))
    assert against(run) == []
    row = draw_begins(ines, draw(run, begins_now=True))
    moved = Movement.objects.get(number=row.movement)
    assert (moved.via, moved.source, moved.target, moved.product) == ("freezer", "flavor-vat", "hardening", "hazelnut")
    assert state.state_at(found(run), clock.now()) == "drawing"
    assert not Deviation.objects.exists()


def test_a_draw_that_happened_anyway_is_kept_and_held(frozen: Plant) -> None:
    """Not purged, not looked at: one deviation with both reasons, and the lot in the hardening room held."""
    ines = frozen.actor("ines")
    run = begun(ines, happened_at=NOW + 50 * MINUTE).number
    row = draw_begins(ines, draw(run, happened_at=NOW + 55 * MINUTE))
    causes = [one.sentence for one in DeviationCause.objects.filter(cause_number=row.number)]
    assert any("was drawn although" in one and "Freezer-seen" in one for one in causes)
    lot = Movement.objects.get(number=row.movement).target_lot
    assert Hold.objects.filter(lot=lot).exists()
    assert verify().good


def test_the_first_tubs_are_a_fact_each_with_what_became_of_them(frozen: Plant) -> None:
    """The page names each that is missing; a count without its fate is refused; rework carries allergens and hours."""
    ines = frozen.actor("ines")
    run = drawing(ines)
    assert "Salted hazelnut ice cream: first tubs: lid right" in missing(run) and len(missing(run)) == 6
    with pytest.raises(Refused, match="what became"):
        say(ines, said(run, FIRST_RIGHT, about="weight", tubs="4"))
    with pytest.raises(Refused, match="how many hours"):
        say(ines, said(run, FIRST_RIGHT, about="weight", tubs="4", became=REWORK))
    row = say(ines, said(run, FIRST_RIGHT, about="weight", tubs="4", became=REWORK, use_within_h="24"))
    assert (row.tubs, row.allergens, row.use_within_h) == (4, "milk, tree nuts", 24)
    say(ines, said(run, FIRST_RIGHT, about="draw temperature", tubs="6", became=DESTROYED))
    say(ines, said(run, FIRST_RIGHT, about="lid", tubs="0"))
    assert not [one for one in missing(run) if "first tubs" in one]


def test_draw_and_cup_are_readings_judged_at_once(frozen: Plant) -> None:
    """Too warm holds nothing (quality); below 4.5 lb/gal, 21 CFR 135.110(a)(2), is a deviation."""
    ines = frozen.actor("ines")
    run = drawing(ines)
    frozen.at(NOW + HOUR + 5 * MINUTE)
    cold = say(ines, said(run, DRAW, amount="22"))
    warm = say(ines, said(run, DRAW, amount="24.1"))
    assert (outcome(cold.reading), outcome(warm.reading)) == ("met", "not met")
    good = say(ines, said(run, CUP, cup_product="88", **CUP_OF))
    assert (good.overrun, good.lb_gal) == (Decimal("89.66"), Decimal("4.824"))
    assert (outcome(good.reading), outcome(good.reading_two)) == ("met", "met")
    assert not Deviation.objects.exists()
    light = say(ines, said(run, CUP, cup_product="84", **CUP_OF))  # 54 g of 110 g: 103.7 %, 4.491 lb/gal
    assert light.lb_gal == Decimal("4.491")
    verdict = Verdict.objects.get(subject_number=light.reading_two)
    assert (verdict.outcome, verdict.clause) == ("not met", "21 CFR 135.110(a)(2)")
    deviation = Deviation.objects.get()
    assert (deviation.control_point, deviation.weight) == ("body", "legal")
    assert Hold.objects.filter(deviation=deviation.number).exists() and verify().good


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"cup_product": "12"}, "cup_product"),
        ({"cup_product": "150"}, "cup_mix"),
        ({"cup_product": "88", "mix_lb_gal": "915"}, "mix_lb_gal"),
        ({"cup_product": "x"}, "cup_product"),
        ({"cup_product": "31"}, "cup_product"),
    ],
)
def test_a_cup_that_makes_no_sense_is_refused_beside_its_field(
    frozen: Plant, changes: dict[str, str], field: str
) -> None:
    """Less than the cup, more than mix, a slipped digit, no number, more air than anything holds: nothing is kept."""
    ines = frozen.actor("ines")
    run = drawing(ines)
    before = Entry.objects.count()
    with pytest.raises(Refused) as refused:
        say(ines, said(run, CUP, **{**CUP_OF, **changes}))
    assert refused.value.field == field and Entry.objects.count() == before


def test_an_undeclared_allergen_in_the_feeder_holds_what_is_drawn(frozen: Plant) -> None:
    """Hazelnuts are declared; wheat crumble is not: a deviation at the allergen control, the lot held."""
    ines = frozen.actor("ines")
    run = drawing(ines)
    say(ines, said(run, FED, ingredient="Hazelnuts", lot_code="HZ-1", allergens=("tree nuts",)))
    assert not Deviation.objects.exists()
    row = say(ines, said(run, FED, ingredient="Crumble", lot_code="WC-1", allergens=("wheat",)))
    deviation = Deviation.objects.get()
    assert deviation.control_point == "contact" and "Crumble, lot WC-1, in the feeder: wheat" in deviation.sentence
    assert DeviationCause.objects.get().cause_number == row.number
    assert Hold.objects.filter(deviation=deviation.number).exists()


def test_a_change_of_flavor_asks_for_a_purge_and_a_purge_takes_no_allergen_away(frozen: Plant) -> None:
    """From hazelnut to crumble: the purge goes to rework with its allergens; tree nuts stay until a wash."""
    ines = frozen.actor("ines")
    run = drawing(ines)
    frozen.at(NOW + 2 * HOUR)
    draw_ends(ines, drawn(run))
    assert state.state_at(found(run), clock.now()) == "between products"
    assert against(run) == ["Barrel purged: nothing recorded"]
    row = say(ines, said(run, PURGED, amount="3", unit="gal", became=REWORK, use_within_h="48"))
    assert (row.allergens, row.use_within_h, row.product) == ("milk, tree nuts", 48, "hazelnut")
    sentence = "Allergens: Salted hazelnut ice cream ran since the last wash: tree nuts"
    assert against(run, "crumble") == [sentence] and against(run) == []
    frozen.at(NOW + 3 * HOUR)
    washed(ines, "freezer", NOW + 2 * HOUR + 20 * MINUTE)
    assert against(run, "crumble") == []


def test_a_feeder_keeps_its_allergen_until_it_is_washed_and_shown_clean(plant: Plant) -> None:
    """Demo's pair of flavors: hazelnuts stay in the feeder through purge, end and next run, and through a wash of the
    freezer; then the plan's check of the changeover has to be good, its latest. What was drawn anyway is held.
    """
    changeover = FrequencyDef("each_event", event="changeover")
    swab = MonitoringDef(
        "swab", "contact", (), "Swab for the added allergen", "Swab.", "operator", AnswerDef("yes_no"), changeover,
        ("seals-whole",), corrective_action="Wash again.",
    )  # fmt: skip
    ready_plant(plant, monitoring=(*plan_of_freezing().monitoring, swab))
    ines = plant.actor("ines")
    run = drawing(ines)
    say(ines, said(run, FED, ingredient="Hazelnuts", lot_code="HZ-1", allergens=("tree nuts",)))
    plant.at(NOW + 2 * HOUR)
    draw_ends(ines, drawn(run))
    say(ines, said(run, ENDED))
    plant.at(NOW + 3 * HOUR)
    washed(ines, "freezer", NOW + 2 * HOUR + 20 * MINUTE)
    run = begun(ines, product="crumble").number
    seen(ines, "freezer-seen", "freezer")
    say(ines, said(run, PURGED, became=DRAIN))
    feeder = "Allergens: Hazelnuts, lot HZ-1, in the feeder: tree nuts"
    freezer = "Allergens: Salted hazelnut ice cream ran before the wash (tree nuts); not shown good since: Swab for the"
    assert against(run, "crumble") == [f"{freezer} added allergen", feeder] and against(run) == []
    with pytest.raises(Several) as refused:
        draw_begins(ines, draw(run, product="crumble", begins_now=True))
    assert feeder in refused.value.sentences and not Hold.objects.exists()
    plant.at(NOW + 4 * HOUR)
    washed(ines, "feeder", NOW + 3 * HOUR + 20 * MINUTE)
    seen(ines, "swab", "freezer")
    seen(ines, "swab", "feeder", "no")
    (owed,) = against(run, "crumble")
    assert "Hazelnuts HZ-1 ran before the wash (tree nuts); not shown good since: Swab" in owed
    kept = draw_begins(ines, draw(run, product="crumble"))
    sentences = [one.sentence for one in DeviationCause.objects.filter(cause_number=kept.number)]
    assert len(sentences) == 1 and "was drawn although this stood against it" in sentences[0]
    lot = Movement.objects.get(number=kept.movement).target_lot
    assert Hold.objects.filter(lot=lot).exists()
    plant.at(NOW + 5 * HOUR)
    draw_ends(ines, drawn(run))
    seen(ines, "swab", "feeder")
    assert against(run, "plain") == ["Barrel purged: nothing recorded"] + [
        "Allergens: Rhubarb crumble ice cream ran since the last wash: wheat"
    ]
    assert against(run, "crumble") == ["Barrel purged: nothing recorded"]
    plant.at(NOW + 6 * HOUR)
    seen(ines, "swab", "freezer", "no")
    assert any("not shown good since" in one for one in against(run, "crumble"))


def test_minutes_into_hardening_are_held_against_the_plan(frozen: Plant) -> None:
    """20 minutes meet the plan's limit, 21 do not; before the draw is nonsense."""
    ines = frozen.actor("ines")
    run = drawing(ines)
    frozen.at(NOW + 2 * HOUR)
    good = say(ines, said(run, HARDENING, tubs="40", drawn_at=clock.now() - 20 * MINUTE))
    slow = say(ines, said(run, HARDENING, tubs="40", drawn_at=clock.now() - 21 * MINUTE))
    assert (good.minutes, outcome(good.reading), outcome(slow.reading)) == (Decimal("20"), "met", "not met")
    with pytest.raises(Refused, match="before they were drawn"):
        say(ines, said(run, HARDENING, tubs="40", drawn_at=clock.now() + MINUTE))


def test_the_end_waits_for_the_draw_and_closes_the_run(frozen: Plant) -> None:
    """The movement ends with its quantity, the tubs are counted; afterwards only notes are taken."""
    ines = frozen.actor("ines")
    run = drawing(ines)
    frozen.at(NOW + 2 * HOUR)
    with pytest.raises(Refused, match="the draw goes on"):
        say(ines, said(run, ENDED))
    with pytest.raises(Refused, match="how many tubs"):
        draw_ends(ines, drawn(run, tubs=""))
    row = draw_ends(ines, drawn(run))
    assert MovementEnd.objects.get(movement=row.movement).quantity == 40 and row.tubs == 300
    say(ines, said(run, ENDED))
    assert open_run(FreezerEvent, "freezer") is None
    with pytest.raises(Refused, match="recorded as ended"):
        say(ines, said(run, DRAW, amount="22"))
    say(ines, said(run, NOTE, words="Blades changed."))
    assert verify().good


def test_a_cup_is_amended_with_its_readings(frozen: Plant) -> None:
    """The successor stands, the readings are amended with it, the deviation stays; another operator may not."""
    ines = frozen.actor("ines")
    run = drawing(ines)
    light = say(ines, said(run, CUP, cup_product="84", **CUP_OF))
    data = said(run, CUP, cup_product="88", **CUP_OF)
    with pytest.raises(Refused, match="Only Ines Alder"):
        amend(frozen.actor("tomas"), light.number, data, "wrong cup")
    with pytest.raises(Refused, match="few words"):
        amend(ines, light.number, data, " ")
    row = amend(ines, light.number, data, "I read the scale upside down")
    assert found(run).of(CUP) == [row] and row.lb_gal == Decimal("4.824")
    assert Reading.objects.get(number=row.reading_two).amends == light.reading_two
    assert outcome(row.reading_two) == "met" and Deviation.objects.count() == 1
    with pytest.raises(Refused, match="amended already"):
        amend(ines, light.number, said(run, CUP, cup_product="89", **CUP_OF), "again")
    assert verify().good


def test_the_same_form_saves_once(frozen: Plant) -> None:
    """A repeat answers as the first time; other content is refused; one run a freezer at a time."""
    ines = frozen.actor("ines")
    run = drawing(ines)
    before = Entry.objects.count()
    data = said(run, UNUSUAL, words="Belt slipped")
    first = say(ines, data)
    assert say(ines, data).number == first.number and Entry.objects.count() == before + 1
    with pytest.raises(DifferentContent):
        say(ines, said(run, UNUSUAL, words="Belt broke", form_id=data.form_id))
    with pytest.raises(Refused, match="not recorded as ended"):
        begun(ines)
    with pytest.raises(Refused, match="no such freezer"):
        begin(ines, BeginData(draw(run).form_id, "silo-a", "hazelnut", clock.now()))
