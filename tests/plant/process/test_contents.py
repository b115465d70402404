"""What each vessel holds, folded from movements, washes and seen levels."""

import random
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.process.contents import MILK_LB_PER_GAL, Condition, Level, Move, Service, Wash
from plant.process.facts import Holding
from plant.process.folding import fold

pytestmark = pytest.mark.once

START = datetime(2026, 6, 8, 11, tzinfo=UTC)


def at(hours: float) -> datetime:
    return START + timedelta(hours=hours)


def move(number, source, target, start, end, quantity, unit="gal", **more):
    ended = None if end is None else at(end)
    amount = None if quantity is None else Decimal(str(quantity))
    return Move(number, source, target, at(start), ended, amount, unit, **more)


def washed(vessel, start, end, kind="washed"):
    return Wash(vessel, at(start), at(end), kind)


def kinds(book):
    return [one.kind for one in book.discrepancies]


def held(book, vessel="silo"):
    """Holding times in hours since the start."""
    hour = timedelta(hours=1)
    return [
        ((one.since - START) / hour, None if one.until is None else (one.until - START) / hour)
        for one in book.vessels[vessel].holdings
    ]


FILL = move(1, None, "silo", 0, 1, 800)
DRAW = move(2, "silo", None, 4, 6, 800)


def test_vessel_holds_from_the_fills_start_to_the_draws_end():
    """Product is in from the first moment of the fill until the draw has ended with nothing left."""
    assert held(fold([FILL, DRAW])) == [(0, 6)]


def test_quantity_changes_evenly_during_a_movement():
    """Half-way through the fill half of it is in; half-way through the draw half is out."""
    silo = fold([FILL, DRAW]).vessels["silo"]
    assert [silo.quantity_at(at(hours)) for hours in (-1, 0, 0.5, 2, 5, 6, 9)] == [0, 0, 400, 800, 400, 0, 0]


def test_part_emptying_and_topping_up_is_one_holding():
    """A tank drawn and topped up without ever being empty held all the time."""
    book = fold([FILL, move(2, "silo", None, 2, 3, 300), move(3, None, "silo", 4, 5, 100)])
    assert held(book) == [(0, None)]
    assert book.contents("silo", at(6)).quantity == Decimal("600.000")


def test_overlapping_movements_add_up():
    """A tank filled while it is drawn, silo to separator to press at once."""
    book = fold(
        [FILL, move(2, "silo", "cream", 2, 4, 80), move(3, "silo", "skim", 2, 4, 720), move(4, "skim", None, 3, 5, 720)]
    )
    assert book.vessels["silo"].quantity_at(at(3)) == 400
    assert book.vessels["skim"].quantity_at(at(4)) == 360
    assert held(book, "skim") == [(2, 5)]
    assert book.contents("cream", at(9)).holds


def test_movement_still_going_on_has_an_unknown_quantity():
    """Without an end the vessel holds and how much is unknown."""
    found = fold([move(1, None, "silo", 0, None, None)]).contents("silo", at(1))
    assert (found.holds, found.quantity) == (True, None)


def test_quantity_that_comes_at_the_end_is_folded_in():
    """The same movement with its end is known from its start on."""
    assert fold([FILL]).contents("silo", at(0.5)).quantity == Decimal("400.000")


def test_unknown_quantity_stays_unknown_until_a_level_is_seen():
    """A fill of unknown size leaves the quantity unknown; a seen level settles it."""
    book = fold([move(1, None, "silo", 0, 1, None)], levels=[Level("silo", at(2), Decimal(750), "gal")])
    assert [book.vessels["silo"].quantity_at(at(hours)) for hours in (1.5, 2, 3)] == [None, 750, 750]
    assert kinds(book) == []


def test_draw_of_unknown_quantity_leaves_the_vessel_holding():
    """After an unknown draw there may be product left, so the vessel still holds."""
    assert held(fold([FILL, move(2, "silo", None, 4, 6, None)])) == [(0, None)]


def test_level_of_nothing_ends_the_holding():
    """A tank seen empty is empty from then on."""
    book = fold([FILL, move(2, "silo", None, 4, 6, None)], levels=[Level("silo", at(6.5), Decimal(0), "gal")])
    assert held(book) == [(0, 6.5)]


def test_wash_after_an_unknown_draw_shows_the_vessel_empty():
    """A wash is taken as proof of empty when the book does not deny it, and the book says so."""
    book = fold([FILL, move(2, "silo", None, 4, 6, None)], [washed("silo", 7, 8)])
    assert held(book) == [(0, 7)]
    assert kinds(book) == ["taken as empty"]
    assert book.contents("silo", at(9)).condition is Condition.CLEAN


def test_wash_shows_empty_what_is_left_within_the_meters_uncertainty():
    """Five gallons left in the book after draws good to ten are no product."""
    book = fold([FILL, move(2, "silo", None, 4, 6, 795, uncertainty=Decimal(10))], [washed("silo", 7, 8)])
    assert (held(book), kinds(book)) == ([(0, 7)], ["taken as empty"])
    assert book.discrepancies[0].amount == -5


def test_wash_of_a_full_vessel_does_not_count():
    """A wash entered for a vessel that holds product stops no check and no clock; it is listed."""
    book = fold([FILL], [washed("silo", 2, 3)])
    found = book.contents("silo", at(4))
    assert (found.condition, found.first_product_at, kinds(book)) == (Condition.HOLDS, at(0), ["washed while holding"])


def test_late_entered_draw_makes_the_wash_count():
    """The draw before the wash, entered afterwards, is simply folded in."""
    book = fold([FILL, move(2, "silo", None, 1, 2, 800)], [washed("silo", 2, 3)])
    assert (book.contents("silo", at(4)).condition, kinds(book)) == (Condition.CLEAN, [])


def test_more_drawn_than_held_is_reported_and_never_shown_below_zero():
    """A draw of 810 from 800 shows nothing below zero and lists ten too many when it ends."""
    book = fold([FILL, move(2, "silo", None, 4, 6, 810)])
    assert min(book.vessels["silo"].quantity_at(at(4 + part / 10)) for part in range(30)) == 0
    assert [(one.kind, one.amount, one.at) for one in book.discrepancies] == [("below zero", 10, at(6))]


def test_draw_that_starts_before_its_fill_is_no_discrepancy_once_filled():
    """Times a few minutes out between two movements at once leave no trace when the sums agree."""
    book = fold([move(1, None, "balance", 0.1, 1.1, 100), move(2, "balance", None, 0, 2, 100)])
    assert (kinds(book), held(book, "balance")) == ([], [(0, 2)])


def test_draw_from_an_empty_vessel_still_holds_while_it_lasts():
    """What is drawn was there: the vessel holds during the draw and the book lists what it did not know."""
    book = fold([move(1, "silo", "vat", 0, 1, 50)])
    assert held(book) == [(0, 1)]
    assert kinds(book) == ["below zero"]
    assert book.vessels["silo"].batches[0].move is None


def test_level_in_an_empty_vessel_is_found_product():
    """The vessel is right and the book wrong: it holds from the moment it was seen."""
    book = fold([], levels=[Level("silo", at(1), Decimal(40), "gal")])
    assert (held(book), kinds(book)) == ([(1, None)], ["found"])


def test_level_that_differs_is_a_gain_or_loss():
    """A level of 790 where the book has 800 is a loss of ten."""
    book = fold([FILL], levels=[Level("silo", at(2), Decimal(790), "gal")])
    assert [(one.kind, one.amount) for one in book.discrepancies] == [("level", -10)]
    assert book.contents("silo", at(2)).quantity == Decimal("790.000")


def test_batch_starts_at_the_first_fill_after_a_clean_break():
    """Emptied and washed, the next fill is a new lot; later fills join it."""
    second, third = (
        move(3, None, "silo", 9, 10, 500, target_lot="L2"),
        move(4, None, "silo", 11, 12, 100, target_lot="L2"),
    )
    book = fold([FILL, DRAW, second, third], [washed("silo", 7, 8)])
    assert [(one.since, one.move, one.lot) for one in book.vessels["silo"].batches] == [
        (at(0), 1, ""),
        (at(9), 3, "L2"),
    ]


def test_emptied_without_a_wash_joins_the_same_batch():
    """Without a wash between, the next fill is the same lot and the 72-hour clock runs on."""
    book = fold([FILL, DRAW, move(3, None, "silo", 9, 10, 500)])
    assert len(book.vessels["silo"].batches) == 1
    assert book.contents("silo", at(10)).first_product_at == at(0)


def test_first_product_clock_is_not_reset_by_topping_up_or_part_emptying():
    """The clock of raw storage starts with the first product after the wash and stops at the next wash alone."""
    book = fold(
        [FILL, move(2, "silo", None, 2, 3, 300), move(3, None, "silo", 4, 5, 100), move(4, "silo", None, 6, 7, 600)],
        [washed("silo", 8, 9)],
    )
    assert [book.contents("silo", at(hours)).first_product_at for hours in (1, 5, 7.5, 9)] == [
        at(0),
        at(0),
        at(0),
        None,
    ]


def test_words_follow_wash_and_sanitizing():
    """Empty and dirty, being washed, empty and clean, sanitized, holds product."""
    book = fold(
        [FILL, DRAW, move(3, None, "silo", 12, 13, 10)], [washed("silo", 7, 8), washed("silo", 10, 11, "sanitized")]
    )
    words = [book.contents("silo", at(hours)).condition for hours in (5, 6, 7.5, 8, 10.5, 11, 12)]
    assert words == [
        Condition.HOLDS,
        Condition.DIRTY,
        Condition.WASHING,
        Condition.CLEAN,
        Condition.WASHING,
        Condition.SANITIZED,
        Condition.HOLDS,
    ]


def test_sanitizing_a_dirty_vessel_does_not_make_it_clean():
    """Sanitized without a wash before is still dirty, and a wash afterwards takes the sanitizing back."""
    assert fold([FILL, DRAW], [washed("silo", 7, 8, "sanitized")]).contents("silo", at(9)).condition is Condition.DIRTY
    both = fold([FILL, DRAW], [washed("silo", 7, 8), washed("silo", 8, 9, "sanitized"), washed("silo", 9, 10)])
    assert both.contents("silo", at(10)).condition is Condition.CLEAN


def test_clocks_keep_their_last_times_while_product_is_in():
    """Since emptied, washed and sanitized stay known after the next fill."""
    book = fold(
        [FILL, DRAW, move(3, None, "silo", 12, 13, 10)], [washed("silo", 7, 8), washed("silo", 10, 11, "sanitized")]
    )
    found = book.contents("silo", at(14))
    assert (found.emptied_at, found.washed_at, found.sanitized_at) == (at(6), at(8), at(11))


def test_fill_at_the_minute_in_which_the_wash_ended_finds_it_clean():
    """Wash until 08:00, first product at 08:00: a clean break."""
    book = fold([FILL, DRAW, move(3, None, "silo", 8, 8, 500)], [washed("silo", 7, 8)])
    assert ([one.move for one in book.vessels["silo"].batches], kinds(book)) == ([1, 3], [])


def test_vessel_refilled_at_the_moment_it_ran_empty_held_without_a_break():
    """Emptied and filled at one moment is one holding."""
    assert held(fold([FILL, DRAW, move(3, None, "silo", 6, 7, 500)])) == [(0, None)]


def test_holdings_are_facts_that_make_checks_due():
    """The book gives its holdings as the schedule reads them."""
    assert fold([FILL, DRAW]).holdings == (Holding("silo", at(0), at(6)),)


def test_vessel_without_any_fact_is_empty_and_dirty():
    """Nothing recorded is never clean."""
    found = fold([]).contents("vat", at(0))
    assert (found.condition, found.quantity) == (Condition.DIRTY, 0)


def test_out_of_service_shows_unless_product_is_in():
    """A vessel out of service says so, but one that holds product says that first."""
    service = [Service("silo", at(2), True), Service("vat", at(2), True), Service("vat", at(5), False)]
    book = fold([FILL], services=service)
    assert book.contents("silo", at(3)).condition is Condition.HOLDS
    assert [book.contents("vat", at(hours)).condition for hours in (3, 5)] == [Condition.OUT, Condition.DIRTY]


def test_raw_milk_carries_its_age_from_tank_to_tank():
    """Milk moved on the second day is as old as when it came in; mixed, the oldest counts."""
    book = fold([FILL, move(2, "silo", "vat", 24, 25, 100), move(3, None, "vat", 26, 27, 50)])
    assert book.contents("vat", at(28)).oldest_at == at(0)


def test_pasteurized_product_starts_its_own_age():
    """A movement that renews the age does not carry it."""
    assert fold([FILL, move(2, "silo", "vat", 24, 25, 100, renews_age=True)]).contents("vat", at(26)).oldest_at == at(
        24
    )


def test_age_is_gone_when_the_vessel_is_empty():
    """Fresh milk in an emptied tank is fresh, whatever was in it before."""
    assert fold([FILL, DRAW, move(3, None, "silo", 9, 10, 10)]).contents("silo", at(10)).oldest_at == at(9)


def test_pounds_received_into_a_gallon_silo_need_the_weight_of_a_gallon():
    """8,600 lb at 8.6 lb/gal are 1,000 gal; without that figure the quantity is unknown and says why."""
    ticket = [move(1, None, "silo", 0, 1, 8600, "lb")]
    assert fold(ticket, units={"silo": "gal"}, lb_per_gal=MILK_LB_PER_GAL).contents("silo", at(2)).quantity == 1000
    blind = fold(ticket, units={"silo": "gal"})
    assert (blind.contents("silo", at(2)).quantity, kinds(blind)) == (None, ["unit"])


def test_gallons_into_a_vessel_weighed_in_pounds():
    """The other way round, and through liters and kilograms."""
    book = fold([move(1, None, "vat", 0, 1, 10)], units={"vat": "lb"}, lb_per_gal=MILK_LB_PER_GAL)
    assert book.contents("vat", at(2)).quantity == 86


@pytest.mark.parametrize("facts", [([replace(FILL, ended_at=at(-1))], []), ([], [washed("silo", 2, 1)])])
def test_fact_that_ends_before_it_starts_is_an_error(facts):
    """Such a fact cannot have been recorded; the fold refuses it."""
    with pytest.raises(ValueError, match="before it starts"):
        fold(*facts)


VESSELS = ("silo", "vat", "press")
quarters = st.integers(0, 200).map(lambda number: number / 4)
names = st.sampled_from([*VESSELS, None])


@st.composite
def histories(draw, known=True):
    moves = []
    for number in range(draw(st.integers(0, 8))):
        start = draw(quarters)
        quantity = draw(st.decimals(0, 900, places=1) if known else st.none() | st.decimals(0, 900, places=1))
        end = start + draw(quarters) if known or draw(st.booleans()) else None
        moves.append(move(number, draw(names), draw(names), start, end, quantity))
    washes = [
        washed(
            draw(st.sampled_from(VESSELS)),
            start := draw(quarters),
            start + draw(quarters),
            draw(st.sampled_from(["washed", "sanitized"])),
        )
        for _ in range(draw(st.integers(0, 5)))
    ]
    levels = [
        Level(draw(st.sampled_from(VESSELS)), at(draw(quarters)), draw(st.decimals(0, 900, places=1)), "gal")
        for _ in range(draw(st.integers(0, 4)))
    ]
    return moves, washes, levels


@settings(deadline=None, max_examples=150)
@given(histories())
def test_nothing_is_lost_or_made(history):
    """What is in all vessels at the end is what came in, less what left, and what the book says did not agree."""
    moves, washes, levels = history
    book = fold(moves, washes, levels)
    inside = sum((vessel.quantity_at(at(500)) for vessel in book.vessels.values()), Fraction(0))
    came = sum((Fraction(one.quantity) for one in moves if one.source is None and one.target), Fraction(0))
    left = sum((Fraction(one.quantity) for one in moves if one.target is None and one.source), Fraction(0))
    assert inside == came - left + sum(
        (one.amount for one in book.discrepancies if one.kind != "washed while holding"), Fraction(0)
    )


@settings(deadline=None, max_examples=100)
@given(histories(known=False), st.randoms(use_true_random=False))
def test_order_of_recording_changes_nothing(history, chance):
    """The same facts in any order fold into the same book."""
    shuffled = [chance.sample(facts, len(facts)) for facts in history]
    assert fold(*shuffled) == fold(*history)


@settings(deadline=None, max_examples=150)
@given(histories(known=False))
def test_book_is_never_below_zero_and_its_holdings_follow_one_another(history):
    """Quantities never show below zero, holdings are in order and apart, and their words agree."""
    book = fold(*history)
    for vessel in book.vessels.values():
        shown = [vessel.quantity_at(at(quarter / 4)) for quarter in range(0, 420, 3)]
        assert all(one is None or one >= 0 for one in shown)
        edges = [edge for one in vessel.holdings for edge in (one.since, one.until or at(9999))]
        assert edges == sorted(set(edges))
        for one in vessel.holdings:
            assert vessel.contents(one.since).condition is Condition.HOLDS
            assert one.until is None or vessel.contents(one.until).condition is not Condition.HOLDS


def test_fold_of_a_years_movements_takes_time_in_proportion():
    """Eight times the facts take nowhere near sixty-four times as long."""

    def seconds(days):
        chance = random.Random(7)
        moves = []
        for day in range(days):
            for number in range(20):
                start = 24 * day + chance.random() * 20
                moves.append(move(day * 20 + number, None, f"v{number % 9}", start, start + 1, 100))
                moves.append(move(100_000 + day * 20 + number, f"v{number % 9}", None, start + 2, start + 3, 100))
        best = []
        for _ in range(3):
            begun = time.perf_counter()
            fold(moves)
            best.append(time.perf_counter() - begun)
        return min(best)

    seconds(5)
    assert seconds(80) < 24 * seconds(10)
