"""What the scope of a recall costs over many movements, against a general graph library.

Ours: `scope_forward` from plain lists, sorting and index included. Theirs: the same graph, lots and movements as the
nodes of a networkx DiGraph, each movement between the fills that were in its vessels, and `nx.descendants`. The plant
is made so that a graph without times gives the right answer (a lot is filled before anything that leaves it has ended);
both sides must then name the same lots and the same movements. Processor time, the least of several runs in turns.
"""

from __future__ import annotations

import json
import random
import time
from bisect import bisect_right
from collections.abc import Callable
from typing import Any

import networkx as nx

from plant.process.lots import Lot, Origin, scope_forward

RUNS = 5
PERIODS, EACH, PERIOD_S = 1000, 200, 3600.0
LINES, GROUP = 2, 15  # separate lines of the plant; vessels that fill together
FARMS = tuple(f"Farm {one}" for one in range(12))
Move = tuple[int, str | None, str | None, float, float, float | None]
Answer = tuple[set[Lot], set[int]]


def plant() -> tuple[list[Move], list[tuple[str, float]]]:
    """200,000 movements and 30,000 clean breaks of an invented plant.

    In a period one half of each line's vessels gives to the other half, which also mixes among itself and is packed
    from while it fills; then the givers are washed and the halves change. All movements of a period overlap: they begin
    in its first half and end in its second.
    """
    chance = random.Random(20260303)
    moves: list[Move] = []
    breaks: list[tuple[str, float]] = []
    for period in range(PERIODS):
        start = period * PERIOD_S
        for _place in range(EACH):
            line, kind = chance.randrange(LINES), chance.random()
            givers, takers = _half(line, period), _half(line, period + 1)
            source: str | None = chance.choice(givers)
            target: str | None = chance.choice(takers)
            if kind < 0.1:
                source = chance.choice(FARMS)
            elif kind < 0.2:
                target = None
            elif kind < 0.3:
                source = chance.choice([one for one in takers if one != target])
            quantity = None if kind > 0.97 else round(chance.uniform(5, 400), 1)
            begin, end = start + chance.uniform(1, 1700), start + chance.uniform(1900, 3500)
            moves.append((len(moves) + 1, source, target, begin, end, quantity))
        breaks += [(one, start + PERIOD_S - 1) for line in range(LINES) for one in _half(line, period)]
    return moves, breaks


def _half(line: int, period: int) -> list[str]:
    return [f"Vessel {line}-{period % 2}-{one}" for one in range(GROUP)]


def ours(moves: list[Move], breaks: list[tuple[str, float]], origin: Origin) -> Answer:
    """Lots and movements in the scope."""
    scope = scope_forward(moves, breaks, origin, outside=FARMS)
    return set(scope.lots), set(scope.movements)


def theirs(moves: list[Move], breaks: list[tuple[str, float]], origin: Origin) -> Answer:
    """The same by a graph of lots and movements."""
    washed: dict[str, list[float]] = {}
    for vessel, at in breaks:
        washed.setdefault(vessel, []).append(at)
    for moments in washed.values():
        moments.sort()
    away = {*FARMS, None}
    none: list[float] = []
    graph: Any = nx.DiGraph()
    edges: list[tuple[Any, Any]] = []
    for ident, source, target, start, _end, _quantity in moves:
        if source not in away:
            edges.append(((source, bisect_right(washed.get(source, none), start)), ident))
        if target not in away:
            edges.append((ident, (target, bisect_right(washed.get(target, none), start))))
    graph.add_edges_from(edges)
    found: set[Any] = set(origin.movements)
    for ident in origin.movements:
        found |= nx.descendants(graph, ident)
    return {one for one in found if isinstance(one, tuple)}, {one for one in found if not isinstance(one, tuple)}


def measure() -> dict[str, object]:
    """Seconds of both sides and their ratio; that both sides agree is checked first."""
    moves, breaks = plant()
    tenth = moves[len(moves) // 10 :]
    origin = Origin(movements=(next(one[0] for one in tenth if one[1] == FARMS[0]),))
    mine, other = ours(moves, breaks, origin), theirs(moves, breaks, origin)
    if mine != other:
        raise SystemExit(f"the two sides disagree: {[len(one) for one in mine]}, {[len(one) for one in other]}")
    spent: dict[Callable[..., Answer], list[float]] = {ours: [], theirs: []}
    for turn in range(RUNS):
        for work in (ours, theirs) if turn % 2 else (theirs, ours):
            started = time.process_time()
            work(moves, breaks, origin)
            spent[work].append(time.process_time() - started)
    ours_s, networkx_s = min(spent[ours]), min(spent[theirs])
    return {
        "movements": len(moves),
        "breaks": len(breaks),
        "lots_in_scope": len(mine[0]),
        "movements_in_scope": len(mine[1]),
        "runs": RUNS,
        "ours_s": round(ours_s, 4),
        "networkx_s": round(networkx_s, 4),
        "networkx": nx.__version__,
        "scope_ratio": round(ours_s / networkx_s, 3),
    }


if __name__ == "__main__":
    print(json.dumps(measure()))
