"""Shares in mixed vessels against textbook tanks and against general solvers.

The textbooks' salt is a source here: brine is what comes from outside as "salt" at a share of its flow. Quantities in
gallons, times in minutes as printed; only ratios matter. All textbook cases are from memory, and their closed forms are
checked against the differential equation by the independent tests beside them.
"""

import math

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.linalg import expm
from scipy.stats import gamma

from plant.process.lots import Movement, Origin, lot_shares, origin_shares, washed_out

pytestmark = pytest.mark.once


@pytest.mark.proves(
    "lots.washed_out", by="published", source="Boyce and DiPrima, Differential Equations, 2.3, example 1 (from memory)"
)
def test_time_until_within_two_percent():
    """100 gal, 3 gal/min in and out, twice the final salt at first: within 2 % of it after 130.4 min."""
    left, _gone = washed_out(100, 3, 3, 130.4)
    assert left == pytest.approx(0.02, abs=1e-5)  # 130.4 is printed to a tenth


@pytest.mark.proves(
    "lots.washed_out", by="published", source="Zill, Differential Equations, 3.1, mixtures, 300 gal tank (from memory)"
)
def test_equal_flows_empty_a_tank_exponentially():
    """300 gal, 3 gal/min in and out: the first contents fall as exp(-t/100)."""
    assert washed_out(300, 3, 3, 100)[0] == pytest.approx(math.exp(-1))


@pytest.mark.proves(
    "lots.lot_shares", by="published", source="Zill, Differential Equations, 3.1, mixtures, 300 gal tank (from memory)"
)
@pytest.mark.parametrize("minutes", [10, 60, 240])
def test_a_filling_tank_follows_a_power_of_its_volume(minutes):
    """Brine of 2 lb/gal at 3 in, 2 out, 50 lb at first: A = 2 (300 + t) - 4.95e7 (300 + t)^-2 lb."""
    day = [
        (1, None, "Tank", 0, 0, 300.0),
        (2, None, "Tank", 0, minutes, 3.0 * minutes),
        (3, "Tank", None, 0, minutes, 2.0 * minutes),
    ]
    held = lot_shares(day, []).held["Tank", 0]
    salt = held.quantity * (held.low[0] * 50 / 300 + held.low[1] * 2)
    assert salt == pytest.approx(2 * (300 + minutes) - 4.95e7 * (300 + minutes) ** -2, rel=1e-9)


@pytest.mark.proves(
    "lots.origin_shares", by="published", source="Zill, Differential Equations, 3.3, two connected tanks (from memory)"
)
@pytest.mark.parametrize("minutes", [1.0, 10.0, 30.0, 100.0])
def test_two_tanks_that_feed_each_other(minutes):
    """50 gal each, water 3 into A, A to B 4, B to A 1, B out 3; 25 lb in A: 12.5 and 25 (exp(-t/25) +- exp(-3t/25))."""
    day = [
        ("salt", None, "A", 0, 0, 25.0),
        ("water", None, "A", 0, 0, 25.0),
        ("b", None, "B", 0, 0, 50.0),
        (1, None, "A", 0, minutes, 3 * minutes),
        (2, "A", "B", 0, minutes, 4 * minutes),
        (3, "B", "A", 0, minutes, 1 * minutes),
        (4, "B", None, 0, minutes, 3 * minutes),
    ]
    held = origin_shares(day, [], Origin(movements=("salt",))).held
    slow, fast = math.exp(-minutes / 25), math.exp(-3 * minutes / 25)
    assert 50 * held["A", 0].low[0] == pytest.approx(12.5 * (slow + fast), rel=1e-9)
    assert 50 * held["B", 0].low[0] == pytest.approx(25 * (slow - fast), rel=1e-9)


def row_of_three(minutes):
    """20, 40 and 50 gal, water 10 gal/min through all, 15 lb of salt in the first."""
    names = ("T1", "T2", "T3")
    fills = [("salt", None, "T1", 0, 0, 15.0), ("rest", None, "T1", 0, 0, 5.0)]
    fills += [(name, None, name, 0, 0, size) for name, size in (("T2", 40.0), ("T3", 50.0))]
    hops = zip((None, *names), (*names, None), strict=True)
    flows = [(number, one, two, 0, minutes, 10 * minutes) for number, (one, two) in enumerate(hops)]
    held = origin_shares([*fills, *flows], [], Origin(movements=("salt",))).held
    return [held[name, 0].quantity * float(held[name, 0].low[0]) for name in names]


@pytest.mark.proves(
    "lots.origin_shares",
    by="published",
    source="Edwards and Penney, Differential Equations, three brine tanks in a row (from memory)",
)
@pytest.mark.parametrize("minutes", [0.5, 4.0, 11.0])
def test_three_tanks_in_a_row(minutes):
    """15 e^(-t/2); 30 (e^(-t/4) - e^(-t/2)); 25 e^(-t/2) - 150 e^(-t/4) + 125 e^(-t/5)."""
    one, two, three = (math.exp(-minutes / size) for size in (2, 4, 5))
    assert row_of_three(minutes) == pytest.approx([15 * one, 30 * (two - one), 25 * one - 150 * two + 125 * three])


@pytest.mark.proves("lots.origin_shares", by="independent", source="scipy.linalg.expm on the tanks' matrix")
@pytest.mark.parametrize("minutes", [0.5, 4.0, 11.0])
def test_three_tanks_in_a_row_by_the_matrix_exponential(minutes):
    """The same three tanks, solved as one system."""
    matrix = np.array([[-0.5, 0, 0], [0.5, -0.25, 0], [0, 0.25, -0.2]])
    assert row_of_three(minutes) == pytest.approx(expm(matrix * minutes) @ [15, 0, 0])


@pytest.mark.proves(
    "lots.lot_shares",
    by="published",
    source="Levenspiel, Chemical Reaction Engineering, 3rd ed., ch. 14, tanks in series (from memory)",
)
@pytest.mark.parametrize("count", [1, 2, 3, 5])
def test_what_is_left_in_tanks_in_series(count):
    """After theta mean times the first contents that are left are a gamma (Erlang) tail: sum of (N theta)^k/k!."""
    theta = 1.3
    names = [f"T{one}" for one in range(count)]
    day = [(name, None, name, 0, 0, 1.0) for name in names]
    hops = zip((None, *names), (*names, None), strict=True)
    day += [(number, one, two, 0, 1, theta * count) for number, (one, two) in enumerate(hops)]
    found = lot_shares(day, [])
    last = found.held[names[-1], 0]
    assert 1 - last.low[found.sources.index(0)] == pytest.approx(gamma.sf(theta * count, count), rel=1e-9)
    terms = [(count * theta) ** k / math.factorial(k) for k in range(count)]
    assert 1 - last.low[found.sources.index(0)] == pytest.approx(math.exp(-count * theta) * sum(terms), rel=1e-9)


@pytest.mark.proves("lots.washed_out", by="independent", source="scipy.integrate.solve_ivp (DOP853)")
@pytest.mark.parametrize(
    ("quantity", "inflow", "outflow", "seconds"),
    [(300, 3, 2, 60), (100, 1, 1, 250), (50, 0.5, 1.2, 70), (10, 7, 0.001, 30), (10, 0, 0.3, 30), (40, 2, 0, 10)],
)
def test_a_mixed_tank_by_numerical_integration(quantity, inflow, outflow, seconds):
    """What is left of the first contents, and what left of them, as the integrator finds it."""

    def rates(moment, state):
        share = state[0] / (quantity + (inflow - outflow) * moment)
        return [-outflow * share, share]

    run = solve_ivp(rates, (0, seconds), [quantity, 0.0], "DOP853", rtol=1e-12, atol=1e-12)
    left, gone = washed_out(quantity, inflow, outflow, seconds)
    assert left == pytest.approx(run.y[0, -1] / (quantity + (inflow - outflow) * seconds), rel=1e-8)
    assert gone == pytest.approx(run.y[1, -1] / seconds, rel=1e-8)


VESSELS = ("A", "B", "C", "D")


@st.composite
def busy_plants(draw):
    """Four vessels with stock, up to eight overlapping movements between them and the outside, on half minutes."""
    moves = []
    for ident in range(draw(st.integers(2, 8))):
        source = draw(st.sampled_from((*VESSELS, None)))
        target = draw(st.sampled_from([one for one in (*VESSELS, None) if one != source]))
        start = draw(st.integers(0, 10)) / 2
        quantity = draw(st.floats(0.1, 40))
        moves.append(Movement(ident, source, target, start, start + draw(st.integers(1, 12)) / 2, quantity))
    stock = [sum(one[5] for one in moves if one[1] == name) + draw(st.floats(0.5, 20)) for name in VESSELS]
    return [Movement(name, None, name, 0, 0, size) for name, size in zip(VESSELS, stock, strict=True)], moves


def integrated(fills, moves):
    """Masses of each source in each vessel at the end, by solve_ivp from event to event; sources in order."""
    sources = [one[0] for one in (*fills, *moves) if one[1] is None]
    state = np.zeros((4, len(sources)))
    for one in fills:
        state[VESSELS.index(one[2]), sources.index(one[0])] = one[5]
    times = sorted({0.0, *(at for one in moves for at in one[3:5])})

    def rates(_moment, flat, going):
        masses = flat.reshape(4, -1)
        change = np.zeros_like(masses)
        for one in going:
            rate = one[5] / (one[4] - one[3])
            if one[1] is None:
                carried = np.eye(len(sources))[sources.index(one[0])]
            else:
                place = VESSELS.index(one[1])
                carried = masses[place] / masses[place].sum()
                change[place] -= rate * carried
            if one[2] is not None:
                change[VESSELS.index(one[2])] += rate * carried
        return change.ravel()

    for begin, end in zip(times, times[1:], strict=False):
        going = [one for one in moves if one[3] <= begin and end <= one[4]]
        run = solve_ivp(rates, (begin, end), state.ravel(), "DOP853", args=(going,), rtol=1e-11, atol=1e-11)
        state = run.y[:, -1].reshape(4, -1)
    return sources, state


@pytest.mark.proves(
    "lots.lot_shares", by="independent", source="scipy.integrate.solve_ivp (DOP853) from event to event"
)
@given(busy_plants())
@settings(max_examples=40, deadline=None)
def test_random_plants_by_numerical_integration(made):
    """Rings, chains and tanks filled while drawn: every source in every vessel as the integrator finds it."""
    fills, moves = made
    sources, masses = integrated(fills, moves)
    found = lot_shares([*fills, *moves], [])
    assert list(found.sources) == sources
    for place, name in enumerate(VESSELS):
        held = found.held[name, 0]
        assert held.quantity * held.low == pytest.approx(masses[place], rel=1e-7, abs=1e-7)


@pytest.mark.proves(
    "lots.lot_shares", by="independent", source="networkx: products of shares along all paths of a tree of blends"
)
@pytest.mark.proves(
    "lots.origin_shares", by="independent", source="networkx: products of shares along all paths of a tree of blends"
)
def test_blends_without_overlap_are_products_along_paths():
    """Where nothing overlaps, the share of a source is the sum over all paths of the products of the blends' shares."""
    blends = {
        "S1": {"f1": 300.0, "f2": 100.0},
        "S2": {"f2b": 50.0, "f3": 150.0},
        "V1": {"S1": 80.0, "S2": 20.0},
        "V2": {"S2": 30.0, "f4": 10.0},
        "P": {"V1": 40.0, "V2": 24.0},
    }
    day, at = [], 0
    graph = nx.DiGraph()
    for target, parts in blends.items():
        for source, quantity in parts.items():
            outside = source.startswith("f")
            day.append(
                (source if outside else (source, target), None if outside else source, target, at, at + 1, quantity)
            )
            graph.add_edge(source, target, share=quantity / sum(parts.values()))
            at += 1
    found = lot_shares(day, [])
    for place, source in enumerate(found.sources):
        expected = sum(
            math.prod(graph.edges[hop]["share"] for hop in zip(path, path[1:], strict=False))
            for path in nx.all_simple_paths(graph, source, "P")
        )
        assert found.held["P", 0].low[place] == pytest.approx(expected)
        followed = origin_shares(day, [], Origin(movements=(source,)))
        assert followed.held["P", 0].low[0] == pytest.approx(expected)
