"""Imports run one way: plant.process → nothing of ours; plant → plant.process; records → plant, feature by feature."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

pytestmark = pytest.mark.once

ROOT = Path(__file__).resolve().parents[1]
# Each feature of records may use those before it; judging compares, reports only render, review joins.
ORDER = (
    "ledger", "people", "judging", "deviations", "flow", "lots", "checks", "washes", "ingredients", "batches",
    "foreign_matter", "labels", "workshop", "runs", "run_rows", "freezer_runs", "rework", "vat_runs",
    "receiving", "traces", "charts", "live", "recall", "laboratory", "training", "reports", "review",
)  # fmt: skip
# Flow makes the lots that its movements begin, and the lot page reads the flow: one feature in two folders so far.
TOGETHER = {("flow", "lots")}
# These stand above all features.
ABOVE = {"demo", "templatetags", "management", "tasks", "embedded", "urls", "models", "apps", "migrations"}
PURE = ("plant/process", "plant/pictures", "plant/signing")
NOT_IN_PURE = ("django", "records", "psycopg", "celery")


def imports(path: Path) -> Iterator[str]:
    """The full names of all modules that a file imports, wherever in it, type checking included."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (one.name for one in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            yield node.module
            yield from (f"{node.module}.{one.name}" for one in node.names)


def files(folder: str) -> list[Path]:
    """The Python files of a folder."""
    return sorted((ROOT / folder).rglob("*.py"))


@pytest.mark.parametrize("folder", PURE)
def test_pure_computation_imports_no_framework(folder: str) -> None:
    """plant/process, plant/pictures and plant/signing know nothing of Django or of our records."""
    found = [
        f"{path.relative_to(ROOT)}: {name}"
        for path in files(folder)
        for name in imports(path)
        if name.split(".")[0] in NOT_IN_PURE
    ]
    assert files(folder) and found == []


def test_process_imports_nothing_else_of_ours() -> None:
    """plant.process uses only itself."""
    found = [
        f"{path.relative_to(ROOT)}: {name}"
        for path in files("plant/process")
        for name in imports(path)
        if name.startswith("plant.") and not name.startswith("plant.process")
    ]
    assert found == []


def test_plant_never_imports_records() -> None:
    """Only settings and routes name records, as text."""
    found = [
        f"{path.relative_to(ROOT)}: {name}"
        for path in files("plant")
        for name in imports(path)
        if name.split(".")[0] == "records"
    ]
    assert found == []


def test_each_feature_of_records_uses_only_those_before_it() -> None:
    """A step the other way is named with file and import."""
    found = []
    for path in files("records"):
        feature = path.relative_to(ROOT / "records").parts[0].removesuffix(".py")
        if feature in ABOVE or feature == "__init__":
            continue
        assert feature in ORDER, f"records/{feature} has no place in the order"
        for name in imports(path):
            parts = name.split(".")
            if parts[0] != "records" or len(parts) < 2 or parts[1] == feature:
                continue
            used = parts[1]
            allowed = used in ORDER and ORDER.index(used) < ORDER.index(feature)
            if not allowed and (feature, used) not in TOGETHER:
                found.append(f"{path.relative_to(ROOT)}: {name}")
    assert found == []


def test_only_actions_write_records() -> None:
    """Nothing outside the ledger's writer saves a record row: no create, bulk_create, update or delete on one."""
    kinds = _record_names()
    found = []
    for path in [*files("records"), *files("plant")]:
        if "migrations" in path.parts:
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
                text = ast.unparse(node.func)
                name = text.split(".")[0]
                if name in kinds and node.func.attr in (
                    "create", "bulk_create", "update", "delete", "get_or_create", "update_or_create", "save",
                ):  # fmt: skip
                    found.append(f"{path.relative_to(ROOT)}:{node.lineno}: {text}")
    assert kinds and found == []


def _record_names() -> set[str]:
    names = set()
    for path in files("records"):
        if path.name != "models.py":
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ClassDef) and any(ast.unparse(base) == "Record" for base in node.bases):
                names.add(node.name)
    return names
