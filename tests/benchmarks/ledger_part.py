"""The measuring parts of the ledger's benchmark, each a process: python -m tests.benchmarks.ledger_part …

append COUNT   one reading each transaction, with the ledger and without it, in pairs
build SIZE     fill the ledger in bulk up to SIZE entries
verify [timed] verify everything: memory; timed: also the time of reading, hashing and building the tree
Each prints one JSON line. The database is DATABASE_URL's; `append` also uses PLAIN_URL, where nothing guards.
"""

from __future__ import annotations

import hashlib
import json
import os
import resource
import statistics
import sys
import time
import uuid
from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from itertools import islice
from typing import Any

START = datetime(2026, 3, 3, 12, tzinfo=UTC)
BATCH = 1024  # a multiple of a stored subtree's leaves


def reading(n: int) -> Any:
    """A tank temperature as a round saves it."""
    from records.checks.models import Reading

    return Reading(
        form_id=uuid.uuid4(),
        monitoring_key="silo-shift",
        what="Temperature",
        subject="silo-a",
        subject_name="Silo A",
        due_at=START + timedelta(minutes=n),
        plan_number=3,
        answer_kind="number",
        typed=f"{36 + n % 70 / 10:.1f}",
        unit="F",
        value=Decimal(360 + n % 70) / 10,
        instrument="T-04",
        instrument_name="Silo A thermometer",
        instrument_role="indicating thermometer",
        instrument_unit="F",
        correction=Decimal("0.2"),
        accuracy=Decimal("1"),
        agitator_ran=True,
        bulb_covered=True,
        book_says="raw milk since 03:10",
        lot=uuid.uuid4(),
    )


def verdict(n: int) -> Any:
    """The verdict of a reading."""
    from records.judging.models import Verdict

    return Verdict(
        subject_kind="reading",
        subject_number=n - 1,
        outcome="met",
        plan_number=3,
        plan_hash="5d" * 32,
        monitoring_key="silo-shift",
        limit_key="cold",
        clause="plant rule, invented for the demo",
        basis="plant rule",
        numbers={"as_read": "38.4", "corrected": "38.6", "limit": "45", "unit": "F", "margin": "6.4"},
        reason="38.4 °F as read, 38.6 °F corrected, at most 45 °F.",
        why="entry",
    )


# --- appending


def append(count: int) -> dict[str, Any]:
    """Pairs of single transactions; the order within a pair alternates."""
    from django.db import connections, transaction

    from records.ledger.actions import act
    from records.ledger.registry import kinds

    by = _actor()
    connections["default"].ensure_connection()
    connections["plain"].ensure_connection()
    now = datetime.now(UTC)

    def with_ledger(row: Any) -> None:
        with act(by) as a:
            a.write(row)

    def without(row: Any) -> None:
        with transaction.atomic(using="plain"):
            row.save(using="plain", force_insert=True)

    def complete(row: Any, n: int) -> Any:
        """What an act sets, set beforehand: the same columns are written on both sides."""
        row.number, row.act, row.observed_at, row.received_at = n, uuid.uuid4(), now, now
        row.by_id, row.by_name, row.by_initials, row.by_role, row.tablet = (
            by.person_id, by.name, by.initials, by.role, by.tablet
        )  # fmt: skip
        return row

    assert kinds()
    for n in range(50):  # warm: statements compiled, pages in memory
        with_ledger(reading(n))
        without(complete(reading(n), n + 1))
    times: dict[Callable[[Any], None], list[float]] = {with_ledger: [], without: []}
    for n in range(count):
        pair = [(with_ledger, reading(n)), (without, complete(reading(n), n + 51))]
        for work, row in pair if n % 2 else pair[::-1]:
            started = time.perf_counter()
            work(row)
            times[work].append(time.perf_counter() - started)
    ledger_s, plain_s = sum(times[with_ledger]), sum(times[without])
    return {
        "ratio": ledger_s / plain_s,
        "transactions": count,
        "with_ledger_ms": _ms(times[with_ledger]),
        "without_ms": _ms(times[without]),
        "with_ledger_median_ms": round(statistics.median(times[with_ledger]) * 1000, 3),
        "without_median_ms": round(statistics.median(times[without]) * 1000, 3),
    }


def _ms(times: list[float]) -> float:
    return round(statistics.mean(times) * 1000, 3)


def _actor() -> Any:
    from records.ledger.actions import Actor

    return Actor(uuid.UUID(int=7), "Ines Alder", "IA", "operator", "Tablet 1")


# --- building in bulk


def build(size: int) -> dict[str, Any]:
    """Fill up to `size` entries, readings and verdicts in turn, as acts would have written them.

    In plain SQL, unsynchronized and without triggers: what is built is measured afterwards, not the building.
    """
    from django.db import connection, transaction

    from records.ledger import merkle, triggers
    from records.ledger.actions import STORED_FROM, _store_subtrees
    from records.ledger.models import Entry
    from records.ledger.registry import text_of

    by = _actor()
    first = (Entry.objects.order_by("-number").values_list("number", flat=True).first() or 0) + 1
    started = time.perf_counter()
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA synchronous=OFF")
        for name in triggers.present(connection):
            cursor.execute(f'DROP TRIGGER "{name}"')
    for start in range(first, size + 1, BATCH):
        rows: list[Any] = []
        for n in range(start, min(start + BATCH, size + 1)):
            row = reading(n) if n % 2 else verdict(n)
            row.number, row.act, row.received_at = n, uuid.uuid4(), START + timedelta(seconds=n)
            row.observed_at = row.received_at
            row.by_id, row.by_name, row.by_initials, row.by_role = by.person_id, by.name, by.initials, by.role
            rows.append(row)
        entries = []
        for row in rows:
            text = text_of(row)
            leaf = merkle.leaf_hash(text.encode()).hex()
            entries.append(Entry(row.number, row.act, row.KIND, row.id, text, leaf))
        with transaction.atomic():
            for model in {type(row) for row in rows}:
                _insert([row for row in rows if type(row) is model])
            _insert(entries)
            width = 1 << STORED_FROM
            for end in range(-(-start // width) * width, start + len(rows), width):
                _store_subtrees(end)
    triggers.install(connection)
    return {"entries": size, "seconds": round(time.perf_counter() - started, 1)}


def _insert(rows: list[Any]) -> None:
    from django.db import connection

    columns = rows[0]._meta.concrete_fields
    names, marks = ", ".join(f'"{one.column}"' for one in columns), ", ".join(["%s"] * len(columns))
    values = [[one.get_db_prep_save(getattr(row, one.attname), connection) for one in columns] for row in rows]
    with connection.cursor() as cursor:
        cursor.executemany(f'INSERT INTO "{rows[0]._meta.db_table}" ({names}) VALUES ({marks})', values)


# --- verifying


def verify(timed: bool) -> dict[str, Any]:
    """The peak memory of one verification; when timed, each side's time, the better of two for a small ledger."""
    from records.ledger.models import Entry
    from records.ledger.verify import verify as verify_all

    size = Entry.objects.count()
    started = time.perf_counter()
    report = verify_all()
    first_s = time.perf_counter() - started
    peak_mb = round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, 1)
    if not report.good:
        raise SystemExit(f"the benchmark's ledger does not verify: {next(iter(report.found))}")
    if not timed:
        return {"entries": size, "peak_mb": peak_mb}
    sides: dict[str, tuple[Callable[[int], object], list[float]]] = {
        "hash": (_hash_each, []),
        "tree": (_tree, []),
        "rows": (_read_rows, []),
        "verify": (lambda size: verify_all(), [first_s]),
    }
    for turn in range(2 if size <= 100_000 else 1):
        for work, times in sides.values():
            if len(times) > turn:
                continue  # the first verification was timed as it was measured
            started = time.perf_counter()
            work(size)
            times.append(time.perf_counter() - started)
    assert _tree(size) == report.head
    seconds = {name: min(times) for name, (_, times) in sides.items()}
    return {
        "entries": size,
        "verify_ratio": seconds["tree"] / seconds["hash"],
        "rederive_ratio": seconds["verify"] / seconds["rows"],
        "hash_each_s": round(seconds["hash"], 3),
        "tree_s": round(seconds["tree"], 3),
        "read_rows_s": round(seconds["rows"], 3),
        "verify_s": round(seconds["verify"], 3),
        "peak_mb": peak_mb,
    }


def _contents(size: int) -> Iterator[str]:
    """The stored bytes of every entry, in pieces as the verification reads them."""
    from records.ledger.models import Entry
    from records.ledger.verify_entries import PIECE

    rows = Entry.objects.order_by("number").values_list("content", flat=True)
    for after in range(0, size, PIECE):
        yield from rows.filter(number__gt=after, number__lte=after + PIECE)


def _hash_each(size: int) -> None:
    for content in _contents(size):
        hashlib.sha256(content.encode()).digest()


def _tree(size: int) -> str:
    from records.ledger.actions import STORED_FROM
    from records.ledger.merkle import Growing, leaf_hash, perfect_root

    tree = Growing()
    leaves = (leaf_hash(content.encode()) for content in _contents(size))
    for block in _blocks(leaves, 1 << STORED_FROM):
        if len(block) == 1 << STORED_FROM:
            tree.add_complete(STORED_FROM, perfect_root(block))
        else:
            for leaf in block:
                tree.add(leaf)
    return tree.root().hex()


def _blocks(leaves: Iterable[bytes], width: int) -> Iterator[list[bytes]]:
    rest = iter(leaves)
    while block := list(islice(rest, width)):
        yield block


def _read_rows(size: int) -> None:
    """All columns of the same typed rows, as Django reads them, in pieces of the same size."""
    from records.ledger.content_fields import FIELDS
    from records.ledger.registry import kinds
    from records.ledger.verify_entries import PIECE

    models = [(kind, model) for kind, model in kinds().items() if model._default_manager.exists()]
    queries = [model._default_manager.order_by("number").values_list(*FIELDS[kind][1]) for kind, model in models]
    for after in range(0, size, PIECE):
        for query in queries:
            for _ in query.filter(number__gt=after, number__lte=after + PIECE):
                pass


# --- the process


def main(arguments: list[str]) -> None:
    """Prepare Django and the tables, then measure one thing."""
    os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"
    import django

    django.setup()
    from django.core.management import call_command
    from django.db import connection

    if "records_entry" not in connection.introspection.table_names():
        call_command("migrate", verbosity=0)
    if arguments[0] == "append":
        _prepare_plain()
        result = append(int(arguments[1]))
    elif arguments[0] == "build":
        result = build(int(arguments[1]))
    else:
        result = verify(timed=arguments[1:] == ["timed"])
    print(json.dumps(result))


def _prepare_plain() -> None:
    """The second database: the same tables without any trigger of ours."""
    import dj_database_url
    from django.core.management import call_command
    from django.db import connections

    from records.ledger import triggers

    default = connections.databases["default"]
    plain = {**default, **dj_database_url.parse(os.environ["PLAIN_URL"])}
    connections.databases["plain"] = connections.settings["plain"] = {**plain, "OPTIONS": default["OPTIONS"]}
    call_command("migrate", database="plain", verbosity=0)
    with connections["plain"].cursor() as cursor:
        if connections["plain"].vendor == "sqlite":
            for name in triggers.present(connections["plain"]):
                cursor.execute(f'DROP TRIGGER "{name}"')
        else:
            cursor.execute("DROP FUNCTION daybook_refuse_change(), daybook_refuse_plan_change() CASCADE")


if __name__ == "__main__":
    main(sys.argv[1:])
