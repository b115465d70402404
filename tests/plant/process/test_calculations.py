"""Every public calculation names its source, has an example that runs, and is proved by a check from outside."""

from __future__ import annotations

import doctest
import importlib
import pkgutil

import pytest

import plant.process
from tests.calculations import functions, proofs, source_of

pytestmark = pytest.mark.once

NAMES = sorted(functions())
ALL = sorted(one.name for one in pkgutil.walk_packages(plant.process.__path__, "plant.process."))


@pytest.mark.parametrize("name", NAMES)
def test_calculation_names_its_source(name: str) -> None:
    """A clause, a paper, 'by definition', 'common practice, no source' or 'from memory'."""
    assert len(source_of(functions()[name])) > 8


@pytest.mark.parametrize("name", NAMES)
def test_calculation_is_proved_from_outside(name: str) -> None:
    """At least one published value or independent second method."""
    assert proofs().get((name, "published"), 0) + proofs().get((name, "independent"), 0) > 0


@pytest.mark.parametrize("name", NAMES)
def test_calculation_shows_an_example(name: str) -> None:
    """One that runs: the doctests below run it."""
    assert ">>>" in (functions()[name].__doc__ or "")


def test_no_check_proves_what_is_not_there() -> None:
    """A renamed function takes its checks along."""
    assert {function for function, _by in proofs()} <= set(NAMES)


@pytest.mark.parametrize("name", ALL)
def test_examples_run(name: str) -> None:
    """Every >>> of plant.process gives what stands under it."""
    assert doctest.testmod(importlib.import_module(name)).failed == 0
