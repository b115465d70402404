"""What the calculations cost: python -m tests.benchmarks process

trace_ratio   24 hours at 1 Hz beside the legal limit plus the exact lethality, against a count below the limit plus the
              rectangle lethality in numpy                                                                  wanted: 6
scope_ratio   the scope of a recall over 200,000 movements from plain lists, index building included, against building
              the same graph in networkx and taking descendants                                                    0.3
"""

from __future__ import annotations

import argparse
import json
import time
from typing import Any

from tests.benchmarks import process_scope_part, process_trace_part
from tests.benchmarks.machine_part import machine

WANTED = {"trace_ratio": 6.0, "scope_ratio": 0.3}


def main(arguments: list[str]) -> int:
    """Measure, print the JSON line; 1 when a ratio is above its bound."""
    argparse.ArgumentParser(prog="python -m tests.benchmarks process", description=__doc__).parse_args(arguments)
    began = time.monotonic()
    result: dict[str, Any] = {"benchmark": "process"}
    parts = {"trace": process_trace_part.measure(), "scope": process_scope_part.measure()}
    result |= {f"{name}_ratio": part.pop(f"{name}_ratio") for name, part in parts.items()}
    result["met"] = all(float(result[name]) <= most for name, most in WANTED.items())
    result |= {**parts, "seconds": round(time.monotonic() - began, 1), "machine": machine()}
    print(json.dumps(result))
    return 0 if result["met"] else 1
