"""The public calculations of plant.process, and the checks that prove each: read from the sources of the tests."""

from __future__ import annotations

import ast
import importlib
import inspect
import re
from collections import Counter
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
# The modules whose functions are calculations, in the order of the work.
MODULES = (
    "pasteurization", "trace", "trace_judging", "holding_tube", "lethality", "cooling", "storage", "growth",
    "standardizing", "mix", "overrun", "freezing", "hardening", "washing", "calibration", "mass_balance", "lots",
    "control_charts", "sampling_plans", "properties", "vitamins", "pickup", "training",
)  # fmt: skip
WAYS = ("published", "independent")


@cache
def functions() -> dict[str, Callable[..., Any]]:
    """`module.name` of every public function."""
    found: dict[str, Callable[..., Any]] = {}
    for name in MODULES:
        module = importlib.import_module(f"plant.process.{name}")
        for public in module.__all__:
            value = getattr(module, public)
            if inspect.isfunction(value):
                found[f"{name}.{public}"] = value
    return found


@cache
def proofs() -> dict[tuple[str, str], int]:
    """How many test functions prove each (function, way)."""
    return Counter((function, by) for function, by, _source in _marks())


def _marks() -> Iterator[tuple[str, str, str]]:
    for path in sorted((ROOT / "tests").rglob("test_*.py")):
        text = path.read_text(encoding="utf-8")
        if "mark.proves" not in text:
            continue
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.FunctionDef):
                for mark in node.decorator_list:
                    if isinstance(mark, ast.Call) and ast.unparse(mark.func).endswith("mark.proves"):
                        yield _read(mark, path)


def _read(mark: ast.Call, path: Path) -> tuple[str, str, str]:
    # A source that several checks share is a name of the file.
    given = {one.arg: ast.unparse(one.value).strip("'\"") for one in mark.keywords}
    function = ast.literal_eval(mark.args[0])
    assert given.keys() == {"by", "source"} and given["by"] in WAYS and given["source"], f"{path.name}: {function}"
    return function, given["by"], given["source"]


def source_of(function: Callable[..., Any]) -> str:
    """The source that a docstring names, as one line."""
    found = re.search(r"^ *Source: (.+?)(?=\n *\n|\n *(?:>>>|Range:|Raises:)|\Z)", function.__doc__ or "", re.M | re.S)
    return " ".join(found[1].split()) if found else ""


def table() -> str:
    """The table of DEVELOPERS.md: function, what it gives, source, how many checks prove it."""
    lines = ["| calculation | what it gives | source | published | independent |", "|---|---|---|---|---|"]
    counts = proofs()
    for name, function in functions().items():
        first = " ".join((function.__doc__ or "").strip().split("\n\n")[0].split())
        cells = [first, source_of(function)]
        said = [cell.replace("|", "\\|").replace("<", "&lt;") for cell in cells]
        numbers = [str(counts.get((name, way), 0)) for way in WAYS]
        lines.append(f"| `{name}` | {said[0]} | {said[1]} | {' | '.join(numbers)} |")
    total = [str(sum(count for (_name, by), count in counts.items() if by == way)) for way in WAYS]
    return "\n".join([*lines, f"| all | | | {' | '.join(total)} |"])
