"""Calculators for people: each asks, works with the functions of plant.process, and shows every step of its working.

A module of this folder that has CALCULATOR (or CALCULATORS) is found by itself: the command `manage.py explain` and
the pages know it then.
"""

from __future__ import annotations

import importlib
import pkgutil
from functools import cache

from plant.calculators.working import Calculator


@cache
def calculators() -> dict[str, Calculator]:
    """Every calculator by its key, in the order of the keys. Raises ValueError when two have one key."""
    found: dict[str, Calculator] = {}
    for info in pkgutil.iter_modules(__path__):
        module = importlib.import_module(f"{__name__}.{info.name}")
        one = getattr(module, "CALCULATOR", None)
        for calculator in getattr(module, "CALCULATORS", (one,) if one else ()):
            if calculator.key in found:
                raise ValueError(f"two calculators are called {calculator.key}")
            found[calculator.key] = calculator
    return dict(sorted(found.items()))
