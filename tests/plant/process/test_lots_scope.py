"""The scope of a recall: its laws, a brute-force search on small plants, its refusals, its edges."""

import doctest
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import plant.process.lots as lots
from plant.process.errors import CalculationError
from plant.process.lots import Movement, Origin, fill_at, reach, records, scope_backward, scope_forward

pytestmark = pytest.mark.once

VESSELS = ("A", "B", "C", "D")
OUTSIDE = ("Farm", "Drain")
few = settings(max_examples=60, deadline=None)


@st.composite
def plants(draw, most=9):
    """Movements that overlap, cross and cycle, on few moments so that edges meet; and clean breaks."""
    moves = []
    for ident in range(1, draw(st.integers(1, most)) + 1):
        source = draw(st.sampled_from((*VESSELS, *OUTSIDE[:1], None)))
        target = draw(st.sampled_from((*VESSELS, *OUTSIDE[1:], None)))
        start = draw(st.integers(0, 8))
        end = draw(st.sampled_from((start, start + 1, start + 3, start + 6, None)))
        moves.append(Movement(ident, source, target, start, end, draw(st.sampled_from((None, 0.0, 5.0)))))
    breaks = draw(st.lists(st.tuples(st.sampled_from(VESSELS), st.integers(0, 9)), max_size=6))
    return moves, [(vessel, float(at)) for vessel, at in breaks]


def moments(moves, breaks, origin):
    """Every moment that matters and one between each two: on these, a search by hand finds what a continuum would."""
    exact = {at for one in moves for at in (one[3], one[4]) if at is not None} | {at for _vessel, at in breaks}
    exact |= {-1, 20} | {at for at in (origin.since, origin.until) if math.isfinite(at)}
    steps = sorted(exact)
    return sorted({*steps, *((one + two) / 2 for one, two in zip(steps, steps[1:], strict=False))})


def flows_at(move, moment):
    """Whether the movement is going on at the moment."""
    end = math.inf if move[4] is None else move[4]
    return move[3] <= moment < end or (moment == move[3] == end)


def brute_forward(moves, breaks, origin):
    """Moment by moment: what is in which vessel, flows carried on until nothing changes."""
    away = {None, *OUTSIDE}
    holding, lots_found, carried = set(), {}, {}
    for moment in moments(moves, breaks, origin):
        holding -= {vessel for vessel, at in breaks if at == moment}
        in_window = origin.since <= moment <= origin.until
        if in_window:
            holding |= {place for place in origin.places if place not in away}
        changed = True
        while changed:
            changed = False
            for move in moves:
                if not flows_at(move, moment):
                    continue
                mine = move[0] in origin.movements or (in_window and move[1] in away and move[1] in origin.places)
                if mine or move[1] in holding:
                    carried.setdefault(move[0], moment)
                    if move[2] not in away and move[2] not in holding:
                        holding.add(move[2])
                        changed = True
        for vessel in holding:
            lots_found.setdefault((vessel, fill_at(breaks, vessel, moment)), moment)
    return lots_found, carried


@given(plants(), st.data())
@few
def test_forward_scope_is_that_of_a_search_moment_by_moment(made, data):
    """Lots, movements and earliest moments, from a movement or a vessel in a window, with rework and instant moves."""
    moves, breaks = made
    origin = data.draw(origins(moves))
    if is_silent(moves, breaks, origin):
        with pytest.raises(CalculationError, match="nothing came from"):
            scope_forward(moves, breaks, origin, OUTSIDE)
        return
    found = scope_forward(moves, breaks, origin, OUTSIDE)
    assert (found.lots, found.movements) == brute_forward(moves, breaks, origin)


def origins(moves):
    """A movement of the plant, or a place that a movement names, in a window."""
    places = sorted({place for one in moves for place in one[1:3] if place is not None})
    by_movement = st.sampled_from([Origin(movements=(one[0],)) for one in moves])
    if not places:
        return by_movement
    windows = st.tuples(st.integers(0, 9), st.integers(0, 4))
    by_place = st.builds(
        lambda place, window: Origin((place,), window[0], window[0] + window[1]), st.sampled_from(places), windows
    )
    return by_movement | by_place


def is_silent(moves, breaks, origin):
    """Whether the origin is an outside place from which nothing flows at any moment of the window."""
    asked = [at for at in moments(moves, breaks, origin) if origin.since <= at <= origin.until]
    given_off = {one[1] for one in moves for at in asked if flows_at(one, at)}
    return any(place in OUTSIDE and place not in given_off for place in origin.places)


def giving_origins(moves, breaks):
    """Those that have a scope."""
    return origins(moves).filter(lambda origin: not is_silent(moves, breaks, origin))


@given(plants(), st.data())
@few
def test_backward_and_forward_agree_on_what_reaches_what(made, data):
    """A movement is in another's past exactly where that one is in its future."""
    moves, breaks = made
    first, last = (data.draw(st.sampled_from([one[0] for one in moves])) for _ in range(2))
    ahead = scope_forward(moves, breaks, Origin(movements=(first,)), OUTSIDE)
    back = scope_backward(moves, breaks, Origin(movements=(last,)), OUTSIDE)
    assert (last in ahead.movements) == (first in back.movements)


@given(plants(), st.data())
@few
def test_a_lot_of_the_past_reaches_what_was_asked_about(made, data):
    """Each lot of a backward scope has the asked vessel in its own forward scope, from its latest moment on."""
    moves, breaks = made
    places = sorted({place for one in moves for place in one[1:3]} & set(VESSELS))
    if not places:
        return
    place, at = data.draw(st.sampled_from(places)), float(data.draw(st.integers(0, 9)))
    back = scope_backward(moves, breaks, Origin((place,), at, at), OUTSIDE)
    wanted = (place, fill_at(breaks, place, at))
    for (vessel, _fill), latest in back.lots.items():
        ahead = scope_forward(moves, breaks, Origin((vessel,), latest, latest), OUTSIDE)
        assert ahead.lots[wanted] <= at


@given(plants(), st.data())
@few
def test_an_unknown_quantity_never_shrinks_the_scope(made, data):
    """Worst case: whatever the quantities, known or not, the scope is the same."""
    moves, breaks = made
    origin = data.draw(giving_origins(moves, breaks))
    unknown = [one._replace(quantity=None) for one in moves]
    assert scope_forward(moves, breaks, origin, OUTSIDE) == scope_forward(unknown, breaks, origin, OUTSIDE)


@given(plants(), st.data())
@few
def test_a_clean_break_more_never_widens_what_is_held(made, data):
    """One break more: no vessel holds any of it at a moment at which it did not before."""
    moves, breaks = made
    origin = data.draw(giving_origins(moves, breaks))
    more = [*breaks, data.draw(st.tuples(st.sampled_from(VESSELS), st.integers(0, 9).map(float)))]
    before = scope_forward(moves, breaks, origin, OUTSIDE)
    after = scope_forward(moves, more, origin, OUTSIDE)
    assert set(after.movements) <= set(before.movements)
    assert all(before.movements[ident] <= at for ident, at in after.movements.items())


@given(plants(), st.data())
@few
def test_a_wider_origin_never_shrinks_the_scope(made, data):
    """Two movements as the origin reach what each of them reaches, no more and no less, at the earlier moment."""
    moves, breaks = made
    one, two = (data.draw(st.sampled_from([move[0] for move in moves])) for _ in range(2))
    both = scope_forward(moves, breaks, Origin(movements=(one, two)), OUTSIDE)
    parts = [scope_forward(moves, breaks, Origin(movements=(each,)), OUTSIDE) for each in (one, two)]
    least = {lot: min(part.lots[lot] for part in parts if lot in part.lots) for part in parts for lot in part.lots}
    assert both.lots == least


@given(plants(), st.randoms(use_true_random=False), st.data())
@few
def test_the_order_of_recording_does_not_matter(made, chance, data):
    """A fact entered late counts like one entered at once."""
    moves, breaks = made
    origin = data.draw(giving_origins(moves, breaks))
    mixed_moves, mixed_breaks = chance.sample(moves, len(moves)), chance.sample(breaks, len(breaks))
    assert scope_forward(moves, breaks, origin, OUTSIDE) == scope_forward(mixed_moves, mixed_breaks, origin, OUTSIDE)


def test_a_movement_that_had_ended_is_not_reached():
    """What left the vat before the suspect milk came is clean; what was still going on is not."""
    moves = [("in", None, "Vat", 10, 20, 5.0), ("before", "Vat", "X", 0, 10, 5.0), ("during", "Vat", "Y", 5, 12, 5.0)]
    found = scope_forward(moves, [], Origin(movements=("in",)))
    assert found.movements == {"in": 10, "during": 10}


def test_rework_that_comes_back_is_followed_in_time():
    """Rework into a vat reaches what left the vat after it, and not what left before."""
    moves = [
        (1, "Vat", "Filler", 0, 10, 5.0),
        (2, "Filler", "Rework", 10, 20, 1.0),
        (3, "Rework", "Vat", 20, 30, 1.0),
        (4, "Vat", "Filler", 30, 40, 5.0),
    ]
    assert scope_forward(moves, [], Origin(movements=(2,))).movements == {2: 10, 3: 20, 4: 30}
    assert scope_forward(moves, [], Origin(("Vat",), 0, 0)).lots == {
        ("Vat", 0): 0, ("Filler", 0): 0, ("Rework", 0): 10,
    }  # fmt: skip


def test_a_clean_break_ends_it_and_emptying_alone_does_not():
    """After the wash a new lot begins; a vessel that was only drawn empty still counts."""
    moves = [(1, "Farm", "Silo", 0, 5, 10.0), (2, "Silo", None, 6, 8, 10.0), (3, "Silo", "Vat", 20, 30, 10.0)]
    assert 3 in scope_forward(moves, [], Origin(movements=(1,)), OUTSIDE).movements
    washed = scope_forward(moves, [("Silo", 20)], Origin(movements=(1,)), OUTSIDE)
    assert (washed.lots, washed.movements) == ({("Silo", 0): 0}, {1: 0, 2: 6})


def test_a_movement_across_a_break_touches_both_fills():
    """Where the record has a wash in the middle of a filling, both lots could hold some."""
    found = scope_forward([(1, "Farm", "Silo", 0, 10, 5.0)], [("Silo", 4.0)], Origin(movements=(1,)), OUTSIDE)
    assert found.lots == {("Silo", 0): 0, ("Silo", 1): 4.0}


def test_a_window_on_a_vessel_takes_every_fill_in_it():
    """From before a wash until after it: both fills, the second from its beginning on."""
    moves = [(1, "Farm", "Silo", 0, 1, 5.0)]
    found = scope_forward(moves, [("Silo", 4.0), ("Silo", 9.0)], Origin(("Silo",), 3, 5), OUTSIDE)
    assert found.lots == {("Silo", 0): 3, ("Silo", 1): 4.0}


def test_an_outside_place_counts_in_its_window_only():
    """Milk of the farm received before or after the window is not meant."""
    moves = [(one, "Farm", "Silo", 10 * one, 10 * one + 5, 5.0) for one in range(4)]
    breaks = [("Silo", 10.0 * one + 7) for one in range(4)]
    assert list(scope_forward(moves, breaks, Origin(("Farm",), 15, 20), OUTSIDE).movements) == [2]
    assert list(scope_forward(moves, breaks, Origin(("Farm",), 14, 19), OUTSIDE).movements) == [1]


@pytest.mark.parametrize(
    ("scope", "asked", "said"),
    [
        (scope_forward, Origin(("Farm",), 50, 60), "nothing came from Farm"),
        (scope_forward, Origin(("Farm",), 10, 60), "nothing came from Farm"),
        (scope_forward, Origin(("Drain",)), "nothing came from Drain"),
        (scope_forward, Origin(("Silo", "Farm"), 50, 60, (1,)), "nothing came from Farm"),
        (scope_backward, Origin(("Drain",), 0, 11), "nothing went to Drain"),
        (scope_backward, Origin(("Farm",)), "nothing went to Farm"),
    ],
)
def test_an_outside_place_that_nothing_came_from_in_the_window_is_refused(scope, asked, said):
    """The wrong day, or a drain taken for a farm: an empty list would say that nothing is touched."""
    moves = [(1, "Farm", "Silo", 0, 10, 5.0), (2, "Silo", "Drain", 12, 13, 5.0)]
    with pytest.raises(CalculationError, match=said):
        scope(moves, [], asked, OUTSIDE)


def test_what_was_sent_to_a_customer_is_followed_back():
    """Backward from an outside place in a window."""
    moves = [
        (1, "Farm", "Silo", 0, 5, 9.0),
        (2, "Silo", "Drain", 6, 8, 4.0),
        (3, "Farm", "Silo", 8, 9, 9.0),
        (4, "Silo", "Drain", 10, 12, 4.0),
    ]
    assert sorted(scope_backward(moves, [], Origin(("Drain",), 0, 8), OUTSIDE).movements) == [1, 2]
    assert sorted(scope_backward(moves, [], Origin(("Drain",), 10, 10), OUTSIDE).movements) == [1, 3, 4]


def test_movements_that_take_no_time_chain_at_one_moment():
    """Two at the same moment follow each other, whichever was recorded first."""
    moves = [("b", "B", "C", 5, 5, 1.0), ("a", "A", "B", 5, 5, 1.0)]
    assert scope_forward(moves, [], Origin(("A",), 0, 0)).movements == {"a": 5, "b": 5}


def test_a_movement_without_an_end_goes_on():
    """What has no end recorded may still be carrying."""
    moves = [(1, "A", "B", 0, None, None), (2, "Farm", "A", 100, 110, 1.0)]
    assert scope_forward(moves, [], Origin(movements=(2,)), OUTSIDE).lots == {("A", 0): 100, ("B", 0): 100}


@pytest.mark.parametrize("origin", [Origin(("Silo Z",)), Origin(movements=(99,)), Origin(("Silo", "Silo Z"))])
@pytest.mark.parametrize("scope", [scope_forward, scope_backward])
def test_a_name_that_is_nowhere_in_the_record_is_refused(origin, scope):
    """A slip of the pen must not give a short list."""
    with pytest.raises(CalculationError, match="no movement"):
        scope([(1, None, "Silo", 0, 1, 1.0)], [], origin)


@pytest.mark.parametrize("times", [(5, 4), (math.nan, 4), (1, math.nan)])
@pytest.mark.parametrize("scope", [scope_forward, scope_backward])
def test_a_movement_that_ends_before_it_starts_is_refused(times, scope):
    """So are moments that are no numbers."""
    with pytest.raises(CalculationError, match="movement 1"):
        scope([(1, None, "Silo", *times, 1.0)], [], Origin(movements=(1,)))


def test_an_origin_that_names_nothing_is_refused():
    """A scope needs a beginning, and a window that ends after it begins."""
    with pytest.raises(CalculationError, match="where it begins"):
        Origin()
    with pytest.raises(CalculationError, match="window"):
        Origin(("Silo",), 5, 4)


@pytest.mark.parametrize("at", [math.nan, math.inf])
def test_a_break_without_a_moment_is_refused(at):
    """A break must have happened at a moment."""
    with pytest.raises(CalculationError, match="clean break"):
        scope_forward([(1, None, "Silo", 0, 1, 1.0)], [("Silo", at)], Origin(movements=(1,)))


def test_fill_counts_the_breaks_up_to_and_with_the_moment():
    """Just before, at and after a break."""
    breaks = [("A", 5.0), ("B", 1.0), ("A", 9.0)]
    assert [fill_at(breaks, "A", at) for at in (4.999, 5.0, 8.0, 9.0)] == [0, 1, 1, 2]
    with pytest.raises(CalculationError):
        fill_at(breaks, "A", math.nan)


@pytest.mark.parametrize("module", [records, reach])
def test_examples_of_the_docstrings_run(module):
    """Each docstring's example gives what it shows."""
    found = doctest.testmod(module)
    assert found.attempted > 0
    assert found.failed == 0


def test_every_public_name_says_its_source():
    """Each public function's docstring has a line with its range and one with its source."""
    functions = [getattr(lots, name) for name in lots.__all__ if name[0].islower()]
    assert len(functions) == 10
    assert [one.__name__ for one in functions if "Source:" not in one.__doc__ or "Range:" not in one.__doc__] == []
