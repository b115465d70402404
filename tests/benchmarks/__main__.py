"""python -m tests.benchmarks NAME [options]: runs tests/benchmarks/NAME.py. The last line printed is JSON."""

from __future__ import annotations

import importlib
import sys
from pathlib import Path

# A benchmark is a module here with main(arguments) -> exit status; names with _ belong to one of them.
NAMES = sorted(one.stem for one in Path(__file__).parent.glob("[a-z]*.py") if not one.stem.endswith("_part"))


def main(arguments: list[str]) -> int:
    """Dispatch to the benchmark named first."""
    if not arguments or arguments[0] not in NAMES:
        print(f"usage: python -m tests.benchmarks {{{','.join(NAMES)}}} [options]", file=sys.stderr)
        return 2
    module = importlib.import_module(f"tests.benchmarks.{arguments[0]}")
    return int(module.main(arguments[1:]))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
