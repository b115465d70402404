"""Random days of a plant, written straight into the tables of movements and washes, and two other ways to its scope."""

from __future__ import annotations

import random
import uuid
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import networkx as nx

from records.flow.models import Movement, Wash
from tests.conftest import NOW

VESSELS = ("silo-a", "finished-1", "vat", "tank")
START = NOW - timedelta(days=2)
STEP = timedelta(minutes=10)
LAST_STEP = 40


@dataclass(frozen=True, slots=True)
class Moved:
    """A movement in steps of time; no target is packs of a lot, no end is never ended."""

    number: int
    source: str
    target: str
    start: int
    end: int | None
    lot: uuid.UUID
    quantity: int | None


@dataclass(frozen=True, slots=True)
class Plant:
    """Movements that overlap, and washes (vessel, step)."""

    moves: tuple[Moved, ...]
    washes: tuple[tuple[str, int], ...]

    def fill(self, vessel: str, step: float) -> int:
        """The number of a vessel's fill at a step."""
        return sum(1 for name, at in self.washes if name == vessel and at <= step)

    def end(self, move: Moved) -> float:
        """When a movement had ended: as recorded, or when a vessel of it was washed."""
        washed = [at for name, at in self.washes if name in (move.source, move.target) and at > move.start]
        return min([LAST_STEP + 1 if move.end is None else move.end, *washed])


def made(seed: int) -> Plant:
    """A plant of up to 25 movements on few moments, so that edges meet; cycles and rework too."""
    chance = random.Random(seed)
    moves = []
    for _one in range(chance.randint(2, 25)):
        source, target = chance.choice(["", *VESSELS]), chance.choice(["", *VESSELS, *VESSELS])
        if source == target:
            continue
        start = chance.randint(0, 30)
        end = chance.choice([start, start + 1, start + 2, start + 5, None])
        quantity = chance.choice([None, 10, 50, 200])
        moves.append((source, target, start, end, quantity))
    washes = tuple(sorted({(chance.choice(VESSELS), chance.randint(0, 32)) for _one in range(chance.randint(0, 8))}))
    lots: dict[tuple[str, int], uuid.UUID] = {}
    plant = Plant((), washes)
    rows = []
    for number, (source, target, start, end, quantity) in enumerate(moves, 1_000_000):
        key = (target, plant.fill(target, start)) if target else ("", number)
        lot = lots.setdefault(key, uuid.uuid5(uuid.NAMESPACE_OID, f"{seed} {key}"))
        rows.append(Moved(number, source, target, start, end, lot, quantity))
    return Plant(tuple(rows), washes)


def at(step: float) -> datetime:
    """A step as a moment."""
    return START + step * STEP


def written(plant: Plant) -> None:
    """Rows without ledger entries: the scope reads the tables alone."""
    Movement.objects.bulk_create(
        Movement(
            **_stamp(one.number, at(one.start)), form_id=uuid.uuid4(), source=one.source,
            source_name=one.source or "Nettle Farm", target=one.target, target_name=one.target or "packed",
            started_at=at(one.start), ended_at=None if one.end is None else at(one.end),
            quantity=one.quantity, unit="gal" if one.quantity is not None else "", measured_by="meter",
            product="whole-milk", product_name="Whole milk", family="milk", target_lot=one.lot,
        )
        for one in plant.moves
    )  # fmt: skip
    Wash.objects.bulk_create(
        Wash(
            **_stamp(2_000_000 + place, at(step)), form_id=uuid.uuid4(), what="washed", vessel=vessel,
            vessel_name=vessel, started_at=at(step), ended_at=at(step), method="circuit 2",
        )
        for place, (vessel, step) in enumerate(plant.washes)
    )  # fmt: skip


def _stamp(number: int, moment: datetime) -> dict[str, Any]:
    return {"number": number, "act": uuid.uuid4(), "observed_at": moment, "received_at": moment}


def _steps() -> list[float]:
    return [half / 2 for half in range(2 * LAST_STEP + 1)]


def _flows(plant: Plant, move: Moved, step: float) -> bool:
    end = plant.end(move)
    return move.start <= step < end or step == move.start == end


def brute_force(plant: Plant, origin: Moved) -> tuple[set[tuple[str, int]], set[int]]:
    """Step by step, each flow carried on until nothing changes: fills and movements reached from a movement."""
    reached: set[tuple[str, int]] = set()
    carried: set[int] = set()
    for step in _steps():
        changed = True
        while changed:
            before = (len(reached), len(carried))
            for move in plant.moves:
                if not _flows(plant, move, step):
                    continue
                given = (move.source, plant.fill(move.source, step))
                if move is origin or (move.source and given in reached):
                    carried.add(move.number)
                    if move.target:
                        reached.add((move.target, plant.fill(move.target, step)))
            changed = before != (len(reached), len(carried))
    return reached, carried


def by_networkx(plant: Plant, origin: Moved) -> tuple[set[tuple[str, int]], set[int]]:
    """The same as the descendants in a graph whose nodes are fills and movements at each step of time."""
    graph: Any = nx.DiGraph()
    steps = _steps()
    for vessel in VESSELS:
        for one, two in zip(steps, steps[1:], strict=False):
            if plant.fill(vessel, one) == plant.fill(vessel, two):
                graph.add_edge((vessel, one), (vessel, two))
    graph.add_node(origin.number)
    for move in plant.moves:
        for step in steps:
            if _flows(plant, move, step):
                flow = (move.number, step)
                if move.source:
                    graph.add_edge((move.source, step), flow)
                if move is origin:
                    graph.add_edge(origin.number, flow)
                if move.target:
                    graph.add_edge(flow, (move.target, step))
    found = nx.descendants(graph, origin.number)
    fills = {(name, plant.fill(name, step)) for name, step in found if isinstance(name, str)}
    return fills, {name for name, _step in found if isinstance(name, int)}
