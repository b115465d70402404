"""One database of the benchmark of lots: a demo's day, a month and then years before it, and both sides' times."""

from __future__ import annotations

import json
import random
import sys
import time
import uuid
from bisect import bisect_right
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import django

RUNS = 3
TANKS = ("finished-1", "finished-2")
LOADS, RUNS_A_DAY, PACKINGS = 7, 12, 36  # movements of a day: 55
MINUTE = timedelta(minutes=1)


def main(days: int) -> None:
    """Build a database with so many days of history, then answer what is asked on the standard input, line by line."""
    django.setup()
    from django.db import connection

    from plant import clock
    from records.demo import building
    from records.flow.floor import floor_at
    from records.people.plans import plan_in_force

    first = building.build_once(lambda _line: None, how_many=1).days[0]
    start = datetime.combine(first, datetime.min.time(), tzinfo=clock.now().tzinfo)
    now = start + timedelta(hours=26)
    with clock.replaced(lambda: now):
        in_force = plan_in_force(now)
        assert in_force is not None
        movements = _add(start, range(days, 0, -1))
        _settle(connection)
        floor_at(in_force, now)
        print(json.dumps({"movements": movements}), flush=True)
        for line in sys.stdin:
            if line.strip() == "floor":
                print(json.dumps(_seconds(lambda: floor_at(in_force, now))), flush=True)
                continue
            load = _load(start - timedelta(days=min(days // 2, 180)))
            ours, theirs, lots = _scopes(load, in_force, now)
            print(json.dumps({"scope_s": ours, "networkx_s": theirs, "lots_in_scope": lots}), flush=True)


def _add(start: datetime, back: range) -> int:
    """Days of history, straight into the tables: numbers below nothing, in the order of time."""
    from records.flow.models import Movement, Wash
    from records.lots.models import Lot

    rows: dict[type[Any], list[Any]] = {Movement: [], Wash: [], Lot: []}
    count = 0
    for one in back:
        _day(start - timedelta(days=one), -(one * 200) - 1000, random.Random(one), rows)
        if len(rows[Movement]) > 5000 or one == back[-1]:
            for kind, found in rows.items():
                kind.objects.bulk_create(found, batch_size=500)  # type: ignore[attr-defined]
                count += len(found) if kind is Movement else 0
                found.clear()
    return count


def _day(day: datetime, number: int, chance: random.Random, rows: dict[type[Any], list[Any]]) -> None:
    """A day: loads into the silo, runs into two tanks, packs of many codes; the tanks washed, the silo every third."""
    from records.flow.models import Movement, Wash
    from records.lots.models import Lot

    numbers = iter(range(number, number + 200))

    def stamp(moment: datetime) -> dict[str, Any]:
        return {"number": next(numbers), "act": uuid.uuid4(), "observed_at": moment, "received_at": moment}

    def wash(vessel: str, moment: datetime) -> None:
        rows[Wash].append(
            Wash(**stamp(moment), form_id=uuid.uuid4(), what="washed", vessel=vessel, vessel_name=vessel,
                 started_at=moment, ended_at=moment + 20 * MINUTE, method="circuit 2")
        )  # fmt: skip

    def lot(moment: datetime, vessel: str, code: str | None) -> uuid.UUID:
        row = Lot(**stamp(moment), id=uuid.uuid4(), origin="pack" if code else "vessel fill", code=code, vessel=vessel,
                  vessel_name=vessel, product="whole-milk", product_name="Whole milk")  # fmt: skip
        rows[Lot].append(row)
        return row.id

    def move(source: str, target: str, moment: datetime, minutes: int, gallons: int, into: uuid.UUID) -> None:
        rows[Movement].append(
            Movement(
                **stamp(moment), form_id=uuid.uuid4(), source=source, source_name=source or "Nettle Farm",
                target=target, target_name=target or "packed", via="press-1" if source == "silo-a" else "",
                via_name="Press 1" if source == "silo-a" else "", started_at=moment,
                ended_at=moment + minutes * MINUTE, quantity=gallons, unit="gal", measured_by="meter",
                product="whole-milk", product_name="Whole milk", family="milk", target_lot=into,
            )
        )  # fmt: skip

    silo_day = day.toordinal() - day.toordinal() % 3
    if day.toordinal() % 3 == 0:
        wash("silo-a", day)
        _silos[silo_day] = lot(day + 30 * MINUTE, "silo-a", None)
    silo = _silos.get(silo_day) or _silos.setdefault(silo_day, lot(day + 30 * MINUTE, "silo-a", None))
    tanks = {}
    for tank in TANKS:
        wash(tank, day)
        tanks[tank] = lot(day + 60 * MINUTE, tank, None)
    for place in range(LOADS):
        move("", "silo-a", day + (40 + 60 * place) * MINUTE, 30, 300, silo)
    for place in range(RUNS_A_DAY):
        tank = TANKS[place % 2]
        move("silo-a", tank, day + (60 + 40 * place) * MINUTE, 38, 170, tanks[tank])
    for place in range(PACKINGS):
        moment = day + (90 + 25 * place + chance.randrange(5)) * MINUTE
        code = f"{day:%y%m%d}-{place}"
        move(TANKS[place % 2], "", moment, 20, 50, lot(moment, "", code))


_silos: dict[int, uuid.UUID] = {}


def _settle(connection: Any) -> None:
    """PostgreSQL's statistics, which it gathers by itself in time; nothing asks SQLite for any."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")


def _load(day: datetime) -> int:
    from records.flow.models import Movement

    row = Movement.objects.filter(source="", started_at__gte=day, started_at__lt=day + timedelta(days=1)).first()
    assert row is not None
    return row.number


def _scopes(load: int, in_force: Any, now: datetime) -> tuple[float, float, int]:
    from records.recall.reading import Start
    from records.recall.rows import rows_numbered
    from records.recall.scope import scope

    mine: list[set[Any]] = []

    def ours() -> None:
        found = scope(Start(rows=tuple(rows_numbered([load]))), in_force, now)
        mine.append({one.lot for one in found.lots})

    other: list[set[Any]] = []
    times = _timed([ours, lambda: other.append(_networkx(load))])
    # Descendants know no time: they can only be more.
    if not mine[0] or not mine[0] <= other[0]:
        raise SystemExit(f"the two sides disagree: {len(mine[0])} lots, {len(other[0])} by networkx")
    return times[0], times[1], len(mine[0])


def _networkx(load: int) -> set[Any]:
    """Every movement and wash loaded, a graph of fills and movements, its descendants: the lots."""
    import networkx as nx

    from records.flow.effective import standing
    from records.flow.models import Movement, Wash

    washed: dict[str, list[datetime]] = {}
    for vessel, at in standing(Wash.objects.filter(what="washed")).order_by("started_at").values_list(
        "vessel", "started_at"
    ):  # fmt: skip
        washed.setdefault(vessel, []).append(at)
    none: list[datetime] = []
    graph: Any = nx.DiGraph()
    edges: list[tuple[Any, Any]] = []
    lots: dict[Any, Any] = {}
    columns = ("number", "source", "target", "started_at", "target_lot")
    for number, source, target, at, lot in standing(Movement.objects.all()).values_list(*columns):
        if source:
            edges.append(((source, bisect_right(washed.get(source, none), at)), number))
        if target:
            edges.append((number, (target, bisect_right(washed.get(target, none), at))))
        lots[number] = lot
    graph.add_edges_from(edges)
    found = {load, *nx.descendants(graph, load)}
    return {lots[one] for one in found if isinstance(one, int)}


def _timed(works: list[Callable[[], Any]]) -> list[float]:
    """The least time [s] of each, in turns; the first turn warms."""
    least = [float("inf")] * len(works)
    for turn in range(RUNS + 1):
        for place, work in enumerate(works):
            spent = _seconds(work)
            least[place] = min(least[place], spent) if turn else least[place]
    return least


def _seconds(work: Callable[[], Any]) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


if __name__ == "__main__":
    main(int(sys.argv[1]))
