"""Rework followed: its lot and hours, what it goes into, what is refused beforehand and held afterwards.

Like into like, and hours for rework: common practice, no source. What the numbers are is the invented plan's.
"""

from __future__ import annotations

import uuid
from dataclasses import replace
from decimal import Decimal

import pytest

from plant import clock
from plant.hazard_plan.content import Settings
from records.checks.models import Transition
from records.deviations.errors import Refused
from records.deviations.holds import hold_by_hand
from records.deviations.models import Deviation, DeviationCause, Hold
from records.flow.actions import MovementData
from records.flow.errors import DifferentContent, Several
from records.flow.models import Movement
from records.flow.moving import amend_movement
from records.flow.queries import contents_at, held_lots_at, lots_upstream
from records.flow.views import as_recorded
from records.freezer_runs.actions import amend, say
from records.freezer_runs.models import DRAIN, PURGED, REWORK
from records.labels.contents import contents_of
from records.ledger.verify import verify
from records.people.plans import plan_in_force
from records.recall.origins import of_lot
from records.recall.scope import scope as scope_of
from records.rework import watch
from records.rework.actions import doubts, throw_away, use
from records.rework.state import portions
from tests.conftest import Plant
from tests.records.flow.made import washed
from tests.records.freezer_runs.made import drawing, plan_of_freezing, said
from tests.records.rework.made import (
    HOUR,
    MINUTE,
    ended,
    found,
    leaving,
    plant_with_rework,
    set_aside,
    tubs_aside,
    using,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def kept(plant: Plant) -> Plant:
    """The plan allows 24 h and has the rule of like into like; hazelnut mix in the vat."""
    return plant_with_rework(plant)


def in_force():
    now = plan_in_force(clock.now())
    assert now is not None
    return now


def sentences(row: Movement) -> list[str]:
    causes = DeviationCause.objects.filter(cause_number=row.number).order_by("number")
    return [one.sentence for one in causes]


# --- the plan's hours


def test_the_plans_hours_fill_in_and_bound_those_of_a_portion(kept: Plant) -> None:
    """None typed: 24. Less: as typed. More is a plan of the future: refused beside the field, nothing kept."""
    ines = kept.actor("ines")
    run = drawing(ines)
    assert set_aside(ines, run=run).row.use_within_h == 24
    assert set_aside(ines, run=run, use_within_h="6").row.use_within_h == 6
    before = Movement.objects.count()
    with pytest.raises(Refused, match=r"within 24 h by the plan \(version \d\)") as refused:
        set_aside(ines, run=run, use_within_h="25")
    assert refused.value.field == "use_within_h" and Movement.objects.count() == before


def test_a_plan_without_hours_asks_for_them(plant: Plant) -> None:
    """As before there was such a setting; and such a plan writes none into its content."""
    from plant.hazard_plan.content import to_json

    plant_with_rework(plant, hours=0)
    with pytest.raises(Refused, match="how many hours"):
        set_aside(plant.actor("ines"))
    assert "rework_h" not in to_json(Settings())
    assert to_json(plan_of_freezing(settings=Settings(rework_h=8)))["settings"]["rework_h"] == 8


# --- set aside


def test_a_portion_is_a_lot_of_what_it_was_drawn_from(kept: Plant) -> None:
    """Its family leads back to the vat; the vat's book is not emptied twice; the ledger verifies."""
    ines = kept.actor("ines")
    portion = set_aside(ines)
    vat = contents_at(clock.now(), ["flavor-vat"])["flavor-vat"]
    assert portion.moved is not None and portion.lot is not None
    assert (portion.moved.source, portion.moved.via, portion.moved.product) == ("flavor-vat", "freezer", "hazelnut")
    assert vat.lot in lots_upstream(portion.lot)
    assert (portion.left, portion.is_kept) == (Decimal(3), True)
    kept.at(clock.now() + 10 * MINUTE)
    from records.freezer_runs.actions import draw_ends
    from tests.records.freezer_runs.made import drawn

    draw_ends(ines, drawn(portion.row.run, quantity_typed="40"))
    assert contents_at(clock.now(), ["flavor-vat"])["flavor-vat"].quantity == 10  # 50 less 40, not less 43
    assert verify().good


def test_a_purge_after_the_draw_belongs_to_that_draw(kept: Plant) -> None:
    """The vat was emptied and washed since: the portion's lot is of what was drawn, not of what is in it now."""
    ines = kept.actor("ines")
    run = drawing(ines)
    drawn_lot = contents_at(clock.now(), ["flavor-vat"])["flavor-vat"].lot
    kept.at(clock.now() + 10 * MINUTE)
    ended(ines, run)
    kept.at(clock.now() + HOUR)
    washed(ines, "flavor-vat", clock.now() - 20 * MINUTE)
    portion = set_aside(ines, run=run)
    assert lots_upstream(portion.lot) >= {drawn_lot}
    assert portion.moved.ended_at < clock.now() - 30 * MINUTE  # as the draw
    assert portion.until(in_force()) == clock.now() + 24 * HOUR  # from when it was set aside


def test_amended_or_taken_back_it_stays_one_portion(kept: Plant) -> None:
    """More of it; then not rework at all: its movement did not happen, and it is on no list."""
    ines = kept.actor("ines")
    portion = set_aside(ines)
    run = portion.row.run
    row = amend(ines, portion.row.number, said(run, PURGED, amount="4", unit="gal", became=REWORK), "read again")
    again = found(portion.number)
    assert (again.row.number, again.left, again.lot) == (row.number, Decimal(4), portion.lot)
    row = amend(ines, row.number, said(run, PURGED, amount="4", unit="gal", became=DRAIN), "it went to the drain")
    assert (row.use_within_h, row.allergens) == (None, "")
    assert portions(clock.now(), in_force()) == []
    assert Movement.objects.get(amends=again.moved.number).void
    row = amend(ines, row.number, said(run, PURGED, amount="2", unit="gal", became=REWORK), "rework after all")
    assert found(portion.number).left == Decimal(2)


# --- used


def test_used_it_is_gone_and_in_the_family_of_what_it_went_into(kept: Plant) -> None:
    """The vat filled anew after a wash: its lot comes from the rework and from what that was drawn from."""
    ines = kept.actor("ines")
    run = drawing(ines)
    portion = set_aside(ines, run=run)
    first = contents_at(clock.now(), ["flavor-vat"])["flavor-vat"].lot
    _vat_anew(kept, ines, run)
    row = use(ines, using(portion, begins_now=True))
    after = found(portion.number)
    assert not after.is_kept and after.left == 0 and [one.number for one in after.used] == [row.number]
    assert {portion.lot, first} <= lots_upstream(row.target_lot)
    scope = scope_of(of_lot(_lot(portion.lot), in_force()).start, in_force(), clock.now())
    assert row.target_lot in {one.lot for one in scope.lots}
    assert sentences(row) == [] and verify().good


def _vat_anew(kept: Plant, by, run: int, minutes: int = 10) -> None:
    """The draw ended, the vat washed and sanitized an hour later, ready for another batch."""
    kept.at(clock.now() + minutes * MINUTE)
    ended(by, run)
    kept.at(clock.now() + HOUR)
    washed(by, "flavor-vat", clock.now() - 30 * MINUTE)


def _lot(lot):
    from records.lots.models import Lot

    return Lot.objects.get(id=lot)


def test_part_of_it_leaves_the_rest_and_more_than_that_asks(kept: Plant) -> None:
    """1 of 3 gal: 2 left. 5 more: asked, and kept as typed when it was right."""
    ines = kept.actor("ines")
    portion = set_aside(ines)
    use(ines, using(portion, quantity="1"))
    rest = found(portion.number)
    assert rest.left == Decimal(2) and rest.is_kept
    asked = doubts(rest, using(rest, quantity="5"), in_force())
    assert [(one.field, "more than is left" in one.sentence) for one in asked] == [("quantity", True)]
    assert doubts(rest, using(rest, quantity="2"), in_force()) == []
    use(ines, using(rest, quantity="5"))
    gone = found(portion.number)
    assert gone.left == Decimal(-3) and not gone.is_kept
    assert "nothing is left" in doubts(gone, using(gone), in_force())[0].sentence
    with pytest.raises(Several, match="nothing is left"):
        use(ines, using(gone, begins_now=True))


def test_tubs_of_unknown_weight_end_when_somebody_says_so(kept: Plant) -> None:
    """Four tubs: what went in is weighed; the tick says that nothing is left. Taken back, they are there again."""
    ines = kept.actor("ines")
    portion = tubs_aside(ines, drawing(ines))
    assert portion.left is None
    row = use(ines, using(portion, quantity="2.5", unit="lb"))
    assert found(portion.number).is_kept
    row = use(ines, using(portion, quantity="1", unit="lb", emptied=True))
    assert not found(portion.number).is_kept
    moved = as_recorded(row)
    from records.flow.data import MovementData

    data = MovementData(
        using(portion).form_id, portion.code, "flavor-vat", "hazelnut", moved["started_at"],
        ended_at=moved["ended_at"], quantity_typed="1", unit="lb", measured_by="mass", note=moved["note"],
    )  # fmt: skip
    amend_movement(ines, row.number, data, "it did not happen", void=True)
    assert found(portion.number).is_kept


def test_the_same_form_again_answers_as_the_first_time(kept: Plant) -> None:
    """One movement; other content under the same form is refused with what stands."""
    ines = kept.actor("ines")
    portion = set_aside(ines)
    data = using(portion, quantity="1", begins_now=True)
    row = use(ines, data)
    kept.at(clock.now() + MINUTE)
    assert use(ines, data).number == row.number
    with pytest.raises(DifferentContent):
        use(ines, replace(data, quantity="2"))
    assert len(found(portion.number).out) == 1


@pytest.mark.parametrize(
    ("field", "changes"),
    [
        ("quantity", {"quantity": ""}), ("quantity", {"quantity": "0"}), ("quantity", {"quantity": "much"}),
        ("quantity", {"quantity": "-2"}), ("unit", {"unit": "cups"}), ("target", {"target": "nowhere"}),
        ("product", {"product": "nothing"}), ("at", {"at": "before"}), ("at", {"at": "ahead"}),
    ],
)  # fmt: skip
def test_nonsense_is_refused_beside_its_field(kept: Plant, field: str, changes: dict) -> None:
    """Nothing is kept of it."""
    ines = kept.actor("ines")
    portion = set_aside(ines)
    if (at := changes.get("at")) is not None:
        changes = {"at": clock.now() + (-HOUR if at == "before" else HOUR)}
    before = Movement.objects.count()
    with pytest.raises(Refused) as refused:
        use(ines, using(portion, **changes))
    assert refused.value.field == field and Movement.objects.count() == before


# --- its hours


def test_past_its_hours_it_is_refused_and_used_all_the_same_held(kept: Plant) -> None:
    """At 24 h to the second it is in time. After it: safety, held, with setting, version and numbers."""
    ines = kept.actor("ines")
    portion = set_aside(ines)
    began = clock.now()
    kept.at(began + 24 * HOUR)
    assert sentences(use(ines, using(portion, quantity="1"))) == []
    kept.at(began + 26 * HOUR + 20 * MINUTE)
    with pytest.raises(Several, match="within 24 h is allowed"):
        use(ines, using(portion, quantity="1", begins_now=True))
    row = use(ines, using(portion, quantity="1"))
    (said_so,) = sentences(row)
    assert said_so == (
        f"Rework {portion.number}, Salted hazelnut ice cream: used 26 h 20 min after it was set aside; within 24 h is"
        f" allowed (24 h by entry {portion.number}; setting rework_h 24 h, plan version {in_force().number})"
    )
    deviation = Deviation.objects.get(number=DeviationCause.objects.get(cause_number=row.number).deviation)
    assert (deviation.weight, deviation.cause) == ("safety", "not met")
    assert Hold.objects.get(deviation=deviation.number).lot == row.target_lot


def test_past_its_hours_it_is_told_of_once(kept: Plant) -> None:
    """Not before its time; once however often the watch looks; not of what was thrown away."""
    ines = kept.actor("ines")
    run = drawing(ines)
    portion, other = set_aside(ines, run=run), set_aside(ines, run=run)
    throw_away(ines, leaving(other))
    kept.at(clock.now() + 24 * HOUR)
    assert watch.look() == 0
    kept.at(clock.now() + MINUTE)
    assert (watch.look(), watch.look()) == (1, 0)
    told = Transition.objects.get(key=f"told|rework past its hours|{portion.number}")
    assert "its 24 h were over" in told.sentence and f"plan version {in_force().number}" in told.sentence
    kept.at(clock.now() + HOUR)
    assert watch.look() == 0 and len(watch.past(clock.now(), in_force())) == 1
    throw_away(ines, leaving(portion))
    assert watch.past(clock.now(), in_force()) == []


# --- its flavor, its allergens, no heat after it


def test_into_another_flavor_is_refused_by_the_plans_rule(kept: Plant) -> None:
    """Crumble declares no tree nuts either: both are named, and nothing is kept."""
    ines = kept.actor("ines")
    portion = set_aside(ines)
    with pytest.raises(Several) as refused:
        use(ines, using(portion, product="crumble", begins_now=True))
    like, allergen = "rework goes like into like", "does not declare tree nuts"
    assert [any(one in each for each in refused.value.sentences) for one in (like, allergen)] == [True, True]
    assert Movement.objects.filter(source=portion.code).count() == 0


def test_without_that_rule_another_flavor_is_asked(plant: Plant) -> None:
    """Plain into hazelnut, whose label declares all that plain has: a question, no refusal."""
    plant_with_rework(plant, like=False)
    ines = plant.actor("ines")
    portion = set_aside(ines)
    asked = doubts(portion, using(portion, product="crumble"), in_force())
    assert [one.field for one in asked] == ["product"]
    with pytest.raises(Several) as refused:
        use(ines, using(portion, product="crumble", begins_now=True))
    assert not any("like into like" in one for one in refused.value.sentences)
    assert any("tree nuts" in one for one in refused.value.sentences)  # no plan waives an undeclared allergen


def test_an_allergen_that_the_label_does_not_declare_holds_what_took_it(kept: Plant) -> None:
    """Hazelnut into a vat of crumble: a deviation that names the allergen, and the vat's lot on hold."""
    ines = kept.actor("ines")
    run = drawing(ines)
    portion = set_aside(ines, run=run)
    _vat_anew(kept, ines, run)
    row = use(ines, using(portion, product="crumble"))
    told = sentences(row)
    assert any("Rhubarb crumble ice cream does not declare tree nuts" in one for one in told)
    assert row.target_lot in held_lots_at(clock.now())
    contents = contents_of("flavor-vat", row.target_lot, "crumble", clock.now(), in_force())
    assert "tree nuts" in {allergen for one in contents for allergen in one.allergens}


def test_without_heat_after_it_a_reason_is_asked(kept: Plant) -> None:
    """Into the vat behind the press: no reason, refused, and held when it happened. Into raw product none is asked."""
    ines = kept.actor("ines")
    run = drawing(ines)
    portion = set_aside(ines, run=run)
    with pytest.raises(Several, match="not pasteurized again"):
        use(ines, using(portion, why="", begins_now=True))
    kept.at(clock.now() + HOUR)
    washed(ines, "silo-a", clock.now() - 30 * MINUTE)
    raw = use(ines, using(portion, why="", quantity="1", target="silo-a"))
    assert sentences(raw) == []
    row = use(ines, using(portion, why="", quantity="1"))
    assert any("not pasteurized again" in one for one in sentences(row))
    assert row.target_lot in held_lots_at(clock.now())


# --- holds


def test_rework_of_a_held_lot_is_not_used_and_the_hold_follows_it(kept: Plant) -> None:
    """The vat's lot on hold from before the draw: the portion is held by computation; used, what took it is too."""
    ines = kept.actor("ines")
    run = drawing(ines)
    portion = set_aside(ines, run=run)
    vat = contents_at(clock.now(), ["flavor-vat"])["flavor-vat"].lot
    drawn_at = portion.moved.started_at
    _vat_anew(kept, ines, run)
    hold_by_hand(
        kept.actor("wren"), lot=vat, lot_label="vat", vessel="flavor-vat", since_at=drawn_at, reason="Glass nearby."
    )
    assert held_lots_at(clock.now())[portion.lot] == ["Glass nearby."]
    with pytest.raises(Several, match=f"What Rework {portion.number} holds is on hold: Glass nearby"):
        use(ines, using(portion, begins_now=True))
    row = use(ines, using(portion))
    assert row.target_lot in held_lots_at(clock.now())


def test_a_hold_that_comes_later_reaches_what_the_rework_went_into(kept: Plant) -> None:
    """Used first, held then: the new batch is held by computation alone."""
    ines = kept.actor("ines")
    run = drawing(ines)
    portion = set_aside(ines, run=run)
    vat, drawn_at = contents_at(clock.now(), ["flavor-vat"])["flavor-vat"].lot, portion.moved.started_at
    _vat_anew(kept, ines, run)
    row = use(ines, using(portion, begins_now=True))
    assert held_lots_at(clock.now()) == {}
    hold_by_hand(
        kept.actor("wren"), lot=vat, lot_label="vat", vessel="flavor-vat", since_at=drawn_at, reason="Glass nearby."
    )
    assert held_lots_at(clock.now())[row.target_lot] == ["Glass nearby."]
    assert Hold.objects.count() == 1


# --- thrown away


def test_thrown_away_by_a_named_exit_with_a_reason(kept: Plant) -> None:
    """To the drain: gone, nothing asked of its hours. Without a reason, or by another door, refused."""
    ines = kept.actor("ines")
    portion = set_aside(ines)
    kept.at(clock.now() + 30 * HOUR)
    for field, changes in (("why", {"why": " "}), ("leaves_by", {"leaves_by": "packed"})):
        with pytest.raises(Refused) as refused:
            throw_away(ines, leaving(portion, **changes))
        assert refused.value.field == field
    row = throw_away(ines, leaving(portion))
    gone = found(portion.number)
    assert not gone.is_kept and [one.number for one in gone.thrown_away] == [row.number]
    assert (row.target_name, row.note, sentences(row)) == ("drain", "Its hours are over.", [])


def test_a_purge_to_the_drain_makes_no_portion(kept: Plant) -> None:
    """Only rework is kept."""
    ines = kept.actor("ines")
    say(ines, said(drawing(ines), PURGED, amount="1", unit="gal", became=DRAIN))
    assert portions(clock.now(), in_force()) == []


def test_the_list_asks_the_same_few_questions_however_many_there_are(kept: Plant, django_assert_num_queries) -> None:
    """Three statements for one portion and for five."""
    ines = kept.actor("ines")
    run = drawing(ines)
    for wanted in (1, 5):
        while len(portions(clock.now(), in_force())) < wanted:
            set_aside(ines, run=run)
        with django_assert_num_queries(4):  # the newest approval, then three
            assert len(portions(clock.now(), in_force())) == wanted


def test_what_was_used_cannot_be_said_not_to_have_been_set_aside(plant: Plant) -> None:
    """Else the family would be cut where it went: its use is amended first."""
    ines = plant_with_rework(plant).actor("ines")
    portion = set_aside(ines)
    run = portion.row.run
    throw_away(ines, leaving(portion, quantity="1", unit="gal"))
    for changes, options in (({"became": DRAIN}, {}), ({"became": REWORK}, {"void": True})):
        data = said(run, PURGED, amount="3", unit="gal", **changes)
        with pytest.raises(Refused, match="used or thrown away"):
            amend(ines, portion.row.number, data, "not so", **options)
    assert found(portion.number).left == 2


def test_nothing_is_no_rework(plant: Plant) -> None:
    ines = plant_with_rework(plant).actor("ines")
    with pytest.raises(Refused, match="Nothing is no rework"):
        set_aside(ines, amount="0")


def test_a_draw_amended_to_another_vessel_takes_along_what_was_set_aside_from_it(kept: Plant) -> None:
    """The portion stays itself, with its lot and its amount; its family leads to the vessel that it was."""
    portion = set_aside(kept.actor("ines"))
    draw = next(one for one in Movement.objects.filter(via="freezer") if one.target != portion.code)
    data = MovementData(
        uuid.uuid4(), "finished-1", draw.target, draw.product, draw.started_at, via=draw.via,
        target_name=draw.target_name, note=draw.note,
    )  # fmt: skip
    amend_movement(kept.actor("wren"), draw.number, data, "it was Finished 1")
    moved, before = found(portion.number).moved, portion.moved
    assert moved is not None and before is not None
    assert (before.source, moved.source, moved.amends) == ("flavor-vat", "finished-1", before.number)
    assert (moved.target, moved.quantity_typed, moved.target_lot) == (portion.code, before.quantity_typed, portion.lot)
    assert moved.amend_reason == "it was Finished 1" and verify().good
    amend_movement(kept.actor("wren"), Movement.objects.get(amends=draw.number).number,
                   replace(data, form_id=uuid.uuid4(), note="seen again"), "a note")  # fmt: skip
    assert found(portion.number).moved == moved  # nothing of it changed
