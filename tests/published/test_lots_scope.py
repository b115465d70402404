"""The scope of a recall against a general graph library: networkx on the plant expanded in time.

A node is a vessel between two neighboring moments; edges lead on in time, where no clean break lies between, and from
vessel to vessel where a movement is going on. What a moment reaches is then plain reachability.
"""

from bisect import bisect_left

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.process.lots import Movement, Origin, fill_at, scope_backward, scope_forward

pytestmark = pytest.mark.once

VESSELS = tuple("ABCDEF")
EXPANDED = "networkx.descendants and ancestors on the plant expanded in time"
some = settings(max_examples=40, deadline=None)


@st.composite
def plants(draw):
    """Six vessels, up to 25 movements with whole times, some of no length, some endless, some of unknown quantity."""
    chance = draw(st.randoms(use_true_random=False))
    moves = []
    for ident in range(draw(st.integers(1, 25))):
        source, target = chance.choice((*VESSELS, None)), chance.choice((*VESSELS, None))
        start = chance.randint(0, 30)
        end = chance.choice((start, start + chance.randint(1, 15), None if chance.random() < 0.1 else start + 2))
        moves.append(Movement(ident, source, target, start, end, chance.choice((None, 3.0))))
    breaks = [(chance.choice(VESSELS), float(chance.randint(1, 40))) for _ in range(chance.randint(0, 8))]
    return moves, breaks


def expanded(moves, breaks):
    """The graph, and the moments: each event itself (even places) and the time up to the next (odd places)."""
    times = sorted({at for one in moves for at in one[3:5] if at is not None} | {at for _vessel, at in breaks})
    count = 2 * len(times)
    graph = nx.DiGraph()
    washed = {(vessel, 2 * bisect_left(times, at)) for vessel, at in breaks}
    for vessel in VESSELS:
        graph.add_nodes_from((vessel, slot) for slot in range(count))
        graph.add_edges_from(
            ((vessel, slot), (vessel, slot + 1)) for slot in range(count - 1) if (vessel, slot + 1) not in washed
        )
    for move in moves:
        first = 2 * bisect_left(times, move[3])
        last = count if move[4] is None else max(2 * bisect_left(times, move[4]), first + (move[4] == move[3]))
        for slot in range(first, last):
            # The movement is a node of its own at each moment, so that it is reached where its source is.
            if move[1] is not None:
                graph.add_edge((move[1], slot), (move[0], slot))
            graph.add_node((move[0], slot))
            if move[2] is not None:
                graph.add_edge((move[0], slot), (move[2], slot))
    return graph, times


def named(nodes, moves, breaks, times):
    """The lots and the movements among the nodes."""
    moment = {slot: times[slot // 2] + (0.25 if slot % 2 else 0.0) for _name, slot in nodes}
    idents = {one[0] for one in moves}
    lots = {(name, fill_at(breaks, name, moment[slot])) for name, slot in nodes if name not in idents}
    return lots, {name for name, _slot in nodes if name in idents}


@pytest.mark.proves("lots.scope_forward", by="independent", source=EXPANDED)
@given(plants(), st.data())
@some
def test_forward_scope_is_what_the_library_reaches(made, data):
    """From one movement: the same lots, the same movements."""
    moves, breaks = made
    graph, times = expanded(moves, breaks)
    origin = data.draw(st.sampled_from([one[0] for one in moves]))
    nodes = {node for node in graph if node[0] == origin}
    reached = nodes.union(*(nx.descendants(graph, node) for node in nodes))
    found = scope_forward(moves, breaks, Origin(movements=(origin,)))
    assert (set(found.lots), set(found.movements)) == named(reached, moves, breaks, times)


@pytest.mark.proves("lots.scope_backward", by="independent", source=EXPANDED)
@given(plants(), st.data())
@some
def test_backward_scope_is_what_the_library_comes_from(made, data):
    """To one movement: the same lots, the same movements."""
    moves, breaks = made
    graph, times = expanded(moves, breaks)
    asked = data.draw(st.sampled_from([one[0] for one in moves]))
    nodes = {node for node in graph if node[0] == asked}
    reached = nodes.union(*(nx.ancestors(graph, node) for node in nodes))
    found = scope_backward(moves, breaks, Origin(movements=(asked,)))
    assert (set(found.lots), set(found.movements)) == named(reached, moves, breaks, times)


@pytest.mark.proves("lots.scope_forward", by="independent", source="networkx.single_source_dijkstra_path_length")
@given(plants(), st.data())
@some
def test_earliest_moments_are_the_librarys_shortest_times(made, data):
    """The earliest moment of every lot, as a shortest path over the same graph with time as its length."""
    moves, breaks = made
    graph, times = expanded(moves, breaks)
    origin = data.draw(st.sampled_from([one[0] for one in moves]))
    for node, after in graph.edges:
        graph.edges[node, after]["weight"] = after[1] - node[1]
    graph.add_weighted_edges_from(("root", node, node[1]) for node in list(graph) if node[0] == origin)
    earliest = {}
    for node, slot in nx.single_source_dijkstra_path_length(graph, "root").items():
        if node[0] in VESSELS:
            lot = (node[0], fill_at(breaks, node[0], times[slot // 2] + (0.25 if slot % 2 else 0.0)))
            earliest[lot] = min(earliest.get(lot, slot), slot)
    found = scope_forward(moves, breaks, Origin(movements=(origin,)))
    assert {lot: times[slot // 2] for lot, slot in earliest.items()} == found.lots


@pytest.mark.proves("lots.fill_at", by="independent", source="numpy.searchsorted, side right")
@given(st.lists(st.integers(0, 20).map(float), max_size=10), st.integers(-1, 21))
@some
def test_fill_is_the_place_among_the_breaks(breaks, moment):
    """How many breaks there were up to and with the moment."""
    assert fill_at([("A", at) for at in breaks], "A", moment) == np.searchsorted(sorted(breaks), moment, "right")
