"""Shares of the sources in lots: conservation, bounds, refusals, edges."""

import doctest
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from plant.process.errors import CalculationError, OutsideRange
from plant.process.lots import Movement, Origin, lot_shares, mixing, origin_shares, scope_forward, shares, washed_out

pytestmark = pytest.mark.once

VESSELS = ("A", "B", "C")
few = settings(max_examples=50, deadline=None)
quantities = st.floats(0.5, 30).map(lambda one: round(one, 2))


@st.composite
def plants(draw, unknown=False, most=7):
    """Vessels filled at the start or not, movements that overlap, cross and go round, clean breaks; never overdrawn.

    A vessel that gives holds enough of its own from the start, so that the record is one that can be.
    """
    moves = []
    for ident in range(1, draw(st.integers(1, most)) + 1):
        source = draw(st.sampled_from((*VESSELS, None)))
        target = draw(st.sampled_from([one for one in (*VESSELS, "Pack", None) if one != source]))
        start = draw(st.integers(1, 8))
        end = start + draw(st.sampled_from((0, 1, 3, 6)))
        quantity = draw(quantities) if not unknown or draw(st.booleans()) else None
        moves.append(Movement(ident, source, target, start, end, quantity))
    breaks = [
        (draw(st.sampled_from(("C", "Pack"))), float(draw(st.integers(4, 15)))) for _ in range(draw(st.integers(0, 2)))
    ]
    fills = []
    for number, vessel in enumerate(VESSELS):
        # What a vessel may give between two breaks, and a little more: half of the plants drain a vessel nearly empty.
        drawn = sum(one[5] or 30 for one in moves if one[1] == vessel)
        for at in {0.0, *(moment for name, moment in breaks if name == vessel)}:
            if drawn:
                fills.append(Movement(f"first {number} {at}", None, vessel, at, at, round(drawn * 1.001 + 0.5, 2)))
    return [*fills, *moves], breaks


@given(plants())
@few
def test_shares_of_a_known_record_are_known_and_sum_to_one(made):
    """In every lot and movement the shares are between 0 and 1 and sum to one."""
    found = lot_shares(*made)
    assert found.overdrawn == {}
    for mix in (*found.entered.values(), *found.carried.values(), *found.held.values()):
        assert mix.known
        if mix.quantity:
            assert mix.low.sum() == pytest.approx(1, abs=1e-9)
            assert mix.low.min() > -1e-12


@given(plants())
@few
def test_every_source_is_conserved(made):
    """What came in of a source is in the vessels, left the plant, or was washed away."""
    moves, breaks = made
    found = lot_shares(moves, breaks)
    left = np.zeros(len(found.sources))
    for move in moves:
        if move[2] is None:
            left += found.carried[move[0]].quantity * found.carried[move[0]].low
    for mix in found.held.values():
        left += mix.quantity * mix.low
    brought = [move[5] for move in moves if move[1] is None]
    assert left == pytest.approx(np.array(brought), rel=1e-9, abs=1e-9)


@given(plants())
@few
def test_every_vessel_is_balanced(made):
    """What a lot took in is what left it and what it held at its end, source by source."""
    moves, breaks = made
    if breaks:
        return
    found = lot_shares(moves, breaks)
    for (vessel, fill), mix in found.entered.items():
        out = sum(
            (found.carried[move[0]].quantity * found.carried[move[0]].low for move in moves if move[1] == vessel),
            np.zeros(len(found.sources)),
        )
        held = found.held[vessel, fill]
        assert mix.quantity * mix.low == pytest.approx(out + held.quantity * held.low, rel=1e-9, abs=1e-9)


@given(plants(), st.data())
@few
def test_forward_and_backward_shares_agree(made, data):
    """The share of a movement from outside in a lot is the same whether one follows it or asks the lot."""
    moves, breaks = made
    back = lot_shares(moves, breaks)
    if not back.sources:
        return
    source = data.draw(st.sampled_from(back.sources))
    ahead = origin_shares(moves, breaks, Origin(movements=(source,)))
    place = back.sources.index(source)
    for ident, mix in ahead.carried.items():
        if ident != source:
            assert mix.low[0] == pytest.approx(back.carried[ident].low[place], abs=1e-9)


@given(plants(), st.data())
@few
def test_what_has_a_share_is_in_the_scope(made, data):
    """No lot or movement outside the worst case has any share of the origin."""
    moves, breaks = made
    origin = data.draw(
        st.sampled_from([Origin(movements=(move[0],)) for move in moves])
        | st.builds(lambda at, long: Origin(("A",), at, at + long), st.integers(0, 9), st.integers(0, 3))
    )
    if not any("A" in move[1:3] for move in moves) and origin.places:
        return
    scope, found = scope_forward(moves, breaks, origin), origin_shares(moves, breaks, origin)
    assert {ident for ident, mix in found.carried.items() if mix.high[0] > 1e-12} <= set(scope.movements)
    assert {lot for lot, mix in found.held.items() if mix.high[0] > 1e-12 and mix.quantity != 0} <= set(scope.lots)


@given(plants(), st.data())
@few
def test_bounds_hold_the_truth_that_was_hidden(made, data):
    """Some quantities made unknown: the bounds hold the shares that the full record gives."""
    moves, breaks = made
    full = lot_shares(moves, breaks)
    hidden = data.draw(st.lists(st.sampled_from([move[0] for move in moves]), max_size=3))
    part = lot_shares([one._replace(quantity=None) if one[0] in hidden else one for one in moves], breaks)
    for ident, mix in full.carried.items():
        assert (part.carried[ident].low <= mix.low + 1e-9).all()
        assert (part.carried[ident].high >= mix.high - 1e-9).all()
    for lot, mix in full.held.items():
        if mix.quantity:
            assert (part.held[lot].low <= mix.low + 1e-9).all()
            assert (part.held[lot].high >= mix.high - 1e-9).all()


@given(plants(unknown=True), st.data())
@few
def test_bounds_stay_within_the_scope(made, data):
    """With unknown quantities too, a share can only be where the worst case reaches."""
    moves, breaks = made
    origin = Origin(movements=(data.draw(st.sampled_from([move[0] for move in moves])),))
    scope, found = scope_forward(moves, breaks, origin), origin_shares(moves, breaks, origin)
    if not found.overdrawn:
        assert {ident for ident, mix in found.carried.items() if mix.high[0] > 1e-12} <= set(scope.movements)


@given(plants(), st.floats(0.01, 100), st.integers(-5, 50))
@few
def test_the_unit_and_the_clock_do_not_matter(made, factor, shift):
    """Other units of quantity and another zero of time leave all shares as they are."""
    moves, breaks = made
    same = lot_shares(moves, breaks)
    other = lot_shares(
        [
            one._replace(started_at=60 * one[3] + shift, ended_at=60 * one[4] + shift, quantity=one[5] * factor)
            for one in moves
        ],
        [(vessel, 60 * at + shift) for vessel, at in breaks],
    )
    for ident, mix in same.carried.items():
        assert other.carried[ident].low == pytest.approx(mix.low, abs=1e-8)


def test_a_vessel_filled_from_two_farms():
    """300 and 100: three quarters and one quarter, wherever it goes."""
    day = [(1, "Farm", "Silo", 0, 10, 300.0), (2, "Farm", "Silo", 20, 30, 100.0), (3, "Silo", "Vat", 40, 50, 80.0)]
    found = lot_shares(day, [], outside=("Farm",))
    assert found.entered["Vat", 0].low.tolist() == pytest.approx([0.75, 0.25])
    assert (found.held["Vat", 0].quantity, found.held["Silo", 0].quantity) == (80.0, 320.0)


def test_an_unknown_quantity_gives_bounds_in_its_lot_alone():
    """The vat that got an unknown quantity has bounds; the silo, and what left it, keep their shares."""
    day = [
        (1, "Farm", "Silo", 0, 1, 300.0),
        (2, "Farm", "Silo", 2, 3, 100.0),
        (3, "Farm", "Vat", 2, 3, 50.0),
        (4, "Silo", "Vat", 4, 5, None),
        (5, "Vat", None, 6, 7, 10.0),
    ]
    found = lot_shares(day, [], outside=("Farm",))
    assert found.carried[4].low.tolist() == [0.75, 0.25, 0.0]
    vat = found.carried[5]
    assert (vat.known, vat.low.tolist(), vat.high.tolist()) == (False, [0, 0, 0], [0.75, 0.25, 1])
    assert found.held["Vat", 0].quantity is None


def test_an_unknown_quantity_from_one_source_into_a_clean_vessel_is_known():
    """Whatever the quantity, a vessel that got nothing else holds nothing else."""
    found = lot_shares([(1, "Farm", "Silo", 0, 1, None), (2, "Silo", "Vat", 2, 3, None)], [], outside=("Farm",))
    assert found.held["Vat", 0].low.tolist() == found.held["Vat", 0].high.tolist() == [1.0]


def test_a_clean_break_starts_a_new_lot():
    """What was washed away is in no later lot."""
    day = [(1, "Farm", "Silo", 0, 1, 30.0), (2, "Farm", "Silo", 5, 6, 10.0), (3, "Silo", None, 7, 8, 10.0)]
    found = lot_shares(day, [("Silo", 3.0)], outside=("Farm",))
    assert found.carried[3].low.tolist() == [0.0, 1.0]
    assert (found.held["Silo", 0].quantity, found.held["Silo", 1].quantity) == (30.0, 0.0)


def test_more_drawn_than_held_makes_shares_unknown():
    """Something is missing in the record: what left the vessel may be anything, and the amount is said."""
    day = [(1, "Farm", "Silo", 0, 1, 30.0), (2, "Silo", "Vat", 2, 3, 33.0)]
    found = lot_shares(day, [], outside=("Farm",))
    assert found.overdrawn == {("Silo", 0): pytest.approx(3.0)}
    assert (found.held["Vat", 0].low.tolist(), found.held["Vat", 0].high.tolist()) == ([0.0], [1.0])


def test_a_gap_in_the_record_counts_from_the_beginning_of_the_lot():
    """What is missing may have been there before the first draw: that draw is unknown too, the next lot is not."""
    day = [(1, None, "Silo", 0, 1, 30.0), (2, "Silo", "Vat", 2, 3, 5.0), (3, "Silo", None, 4, 5, 40.0)]
    found = lot_shares([*day, (4, None, "Silo", 8, 9, 5.0), (5, "Silo", None, 10, 11, 5.0)], [("Silo", 6.0)])
    assert (found.carried[2].low.tolist(), found.carried[2].high.tolist()) == ([0.0, 0.0], [1.0, 1.0])
    assert found.carried[5].low.tolist() == [0.0, 1.0]


def test_a_little_more_drawn_than_held_is_the_meters():
    """Within the slack the vessel ran empty; the amount is still said."""
    day = [(1, "Farm", "Silo", 0, 1, 30.0), (2, "Silo", "Vat", 2, 3, 33.0), (3, "Silo", "Vat", 4, 4, 1.0)]
    found = lot_shares(day, [], outside=("Farm",), slack=5.0)
    assert found.overdrawn == {("Silo", 0): pytest.approx(4.0)}
    assert found.held["Vat", 0].low.tolist() == [1.0]


def test_a_vessel_that_runs_empty_in_the_middle_passes_on_what_comes():
    """From then on what leaves is what comes in."""
    day = [(1, "Farm", "Tank", 0, 0, 10.0), (2, "Farm", "Tank", 0, 20, 20.0), (3, "Tank", "Vat", 0, 20, 40.0)]
    found = lot_shares(day, [], outside=("Farm",), slack=10.0, moments=[10.0, 15.0])
    assert found.seen["Tank", 10.0].quantity == 0
    assert found.seen["Tank", 15.0].low.tolist() == pytest.approx([0.0, 1.0])


def test_a_vessel_without_quantity_passes_on_at_once():
    """A balance tank that keeps no stock: what comes in goes out, with the same shares."""
    day = [(1, "Farm", "Tank", 0, 10, 50.0), (2, "Tank", "Vat", 0, 10, 50.0)]
    found = lot_shares(day, [], outside=("Farm",))
    assert (found.carried[2].low.tolist(), found.held["Tank", 0].quantity) == ([1.0], 0.0)


def test_a_ring_of_empty_vessels_is_unknown():
    """Product that goes round between vessels that hold none: nobody knows what it is."""
    day = [(1, "A", "B", 0, 10, 5.0), (2, "B", "A", 0, 10, 5.0), (3, "B", None, 12, 13, 0.0)]
    found = lot_shares(day, [("C", 1.0)])
    assert found.sources == ()
    followed = origin_shares([*day, (4, None, "A", 20, 21, 1.0)], [], Origin(movements=(4,)))
    assert (followed.carried[2].low.tolist(), followed.carried[2].high.tolist()) == ([0.0], [1.0])


def test_a_window_on_a_vessel_marks_all_that_it_holds_then():
    """Contents at the moment and what comes in until the window ends are of the origin; later fills dilute."""
    day = [
        (1, None, "Silo", 0, 0, 60.0),
        (2, None, "Silo", 10, 10, 40.0),
        (3, "Silo", None, 12, 13, 0.0),
        (4, None, "Silo", 20, 20, 100.0),
        (5, "Silo", None, 30, 31, 10.0),
    ]
    found = origin_shares(day, [], Origin(("Silo",), 5, 15))
    assert found.carried[3].low[0] == 1.0
    assert found.carried[5].low[0] == pytest.approx(0.5)


def test_a_movement_still_going_on_has_an_unknown_quantity():
    """No end recorded: its quantity so far is not known, whatever was planned."""
    found = lot_shares([(1, None, "A", 0, 1, 9.0), (2, "A", "B", 2, None, 5.0), (3, None, "C", 2, 4, 5.0)], [])
    assert found.carried[2].quantity is None
    assert found.held["B", 0].low.tolist() == [1.0, 0.0]


def test_the_record_may_be_cut():
    """Until a moment in the middle of a movement: what had flowed by then."""
    found = lot_shares([(1, None, "A", 0, 10, 50.0), (2, None, "A", 20, 30, 50.0)], [], until=4.0)
    assert (found.held["A", 0].quantity, found.carried[1].quantity) == (pytest.approx(20.0), pytest.approx(20.0))
    assert 2 not in found.carried


@pytest.mark.parametrize(
    "day",
    [
        [(1, None, "A", 5, 4, 1.0)],
        [(1, None, "A", math.nan, 4, 1.0)],
        [(1, None, "A", -math.inf, 4, 1.0)],
        [(1, None, "A", 0, 1, 1.0), (1, None, "A", 0, 1, 1.0)],
    ],
)
def test_records_that_cannot_be_are_refused(day):
    """Backward in time, without a moment, or two movements of one name."""
    with pytest.raises(CalculationError):
        lot_shares(day, [])


@pytest.mark.parametrize("quantity", [-1.0, math.nan, math.inf])
def test_a_quantity_must_be_a_number_from_nothing_up(quantity):
    """Neither negative nor nan."""
    with pytest.raises(OutsideRange, match="quantity of movement 1"):
        lot_shares([(1, None, "A", 0, 1, quantity)], [])


@pytest.mark.parametrize("few_or_many", [0, 20_001])
def test_the_number_of_movements_is_bounded(few_or_many):
    """None at all, or more than are taken."""
    with pytest.raises(OutsideRange, match="number of movements"):
        lot_shares([(one, None, "A", 0, 1, 1.0) for one in range(few_or_many)], [])


@given(st.floats(1, 1e3), st.floats(0, 50), st.floats(0, 50), st.floats(0.01, 100))
@few
def test_what_is_left_and_what_left_are_all_there_was(quantity, inflow, outflow, seconds):
    """The first contents are in the vessel or have left it."""
    if quantity + (inflow - outflow) * seconds < 0:
        return
    left, gone = washed_out(quantity, inflow, outflow, seconds)
    end = quantity + (inflow - outflow) * seconds
    assert left * end + gone * outflow * seconds == pytest.approx(quantity, rel=1e-9)
    assert 0 <= left <= gone * (1 + 1e-12) <= 1 + 1e-12


@pytest.mark.parametrize(
    ("quantities_at_first", "flows", "seconds"),
    [
        # A ring fed by a tank whose own composition changes; C begins nearly empty.
        ((10.0, 100.0, 1e-3), (4.2, 6.0, 1.0), 39.9),
        # Quick and slow together: A turns over 40,000 times.
        ((0.1, 4000.0, 50.0), (4.0, 6.0, 5.0), 1000.0),
        # B is drained to a millionth.
        ((30.0, 80.000001, 10.0), (4.0, 6.0, 2.0), 40.0),
    ],
)
def test_coupled_vessels_are_exact_to_nine_digits(quantities_at_first, flows, seconds):
    """Rings and chains with stiff and nearly empty vessels, against an integrator at its tightest."""
    names, first = "ABC", (1.0, 0.0, 0.4)
    tanks = {
        name: mixing.Tank(size, np.array([share]), flow)
        for name, size, share, flow in zip(names, quantities_at_first, first, flows, strict=True)
    }
    links = {("A", "B"): 4.0, ("B", "A"): 1.0, ("B", "C"): 5.0}
    feed = mixing.mixed_closed(1500.0, np.array([0.2]), 1.0, np.array([0.9]), 2.0, seconds)
    found = mixing.coupled(tanks, links, [("A", 3.0, feed)], seconds)
    inflow = {"A": 4.0, "B": 4.0, "C": 5.0}

    def slopes(moment, state):
        volumes = [tanks[name].quantity + (inflow[name] - tanks[name].outflow) * moment for name in names]
        a, b, c = state
        gains = (3 * (feed.at(moment)[0] - a) + (b - a), 4 * (a - b), 5 * (b - c))
        return [gain / volume for gain, volume in zip(gains, volumes, strict=True)]

    run = solve_ivp(slopes, (0, seconds), first, "Radau", rtol=1e-12, atol=1e-14)
    assert [float(found[name][0][0]) for name in names] == pytest.approx(run.y[:, -1], rel=1e-9)


def test_washed_out_refuses_a_vessel_that_runs_dry():
    """Nor negative flows."""
    with pytest.raises(OutsideRange, match="at the end"):
        washed_out(10, 1, 3, 6)
    with pytest.raises(OutsideRange, match="inflow"):
        washed_out(10, -1, 3, 1)


@pytest.mark.parametrize("module", [mixing, shares])
def test_examples_of_the_docstrings_run(module):
    """Each docstring's example gives what it shows."""
    found = doctest.testmod(module)
    assert found.attempted > 0
    assert found.failed == 0
