"""Every calculator: its example is worked, and whatever is typed gives a whole working or a sentence."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest
from hypothesis import given, settings

from plant.calculators import calculators
from plant.calculators.typed import in_words
from plant.calculators.working import Working
from plant.process.errors import CalculationError
from plant.process.said import Said
from tests.plant.calculators.trying import MORE, odd_values, texts, worked

pytestmark = pytest.mark.once

KEYS = sorted(calculators())
TITLE = "{http://www.w3.org/2000/svg}title"
RELEASING = re.compile(r"\b(?:safe|approved|released)\b")
# How many odd cases each gets; those that take long get fewer.
CASES, FEWER = 60, {"hardening": 25, "mass_balance": 25, "lots": 40}
# Typed otherwise in every odd case: a slab is worked much sooner than the tub of the example.
SOONER = {"hardening": {"shape": "slab", "size": "60 mm", "height": "", "wall": "", "wall_conductivity": ""}}
# Those that always judge, and those that never do; the others judge where there is something to judge by.
ALWAYS = {
    "holding_test", "holding_tube", "overrun", "pasteurization", "pasteurizer_setups", "washing",
}  # fmt: skip
NEVER = {"control_charts", "growth", "lethality", "lots", "mpn", "properties", "separation", "warming"}


def is_whole(key: str, found: Working) -> None:
    """Everything that a working says is text, its picture is a drawing, and nothing in it releases a product."""
    said = texts(found)
    assert all(isinstance(one, str) for one in said)
    assert found.answer and found.cautions and all(found.cautions)
    assert found.steps or found.verdict == "not met"
    assert all(one.what and one.result for one in found.steps)
    assert all(len(line) == len(one.head) for one in found.tables for line in one.rows)
    assert found.verdict in ("", "met", "not met")
    assert bool(found.verdict) or key not in ALWAYS
    assert not found.verdict or key not in NEVER
    assert not any(RELEASING.search(one.casefold()) for one in said)
    if found.picture:
        title = ET.fromstring(found.picture).find(TITLE)
        assert title is not None and title.text


@pytest.mark.parametrize("key", KEYS)
def test_example_is_worked_with_every_step(key: str) -> None:
    """What a page begins with shows steps and cautions."""
    found = worked(key)
    is_whole(key, found)
    assert found.steps


@pytest.mark.parametrize("key", KEYS)
def test_whatever_is_typed_gives_a_working_or_a_sentence(key: str) -> None:
    """Nothing but a CalculationError comes out, and its sentence can be said again."""

    @settings(max_examples=FEWER.get(key, CASES), deadline=None)
    @given(odd_values(key))
    def tried(changes: dict[str, str]) -> None:
        try:
            found = worked(key, **{**SOONER.get(key, {}), **changes})
        except CalculationError as refused:
            assert isinstance(refused.sentence, Said) and in_words(refused.sentence)
            return
        is_whole(key, found)

    tried()


def test_what_is_said_of_a_calculator_is_of_one_that_there_is() -> None:
    """A renamed calculator or ask takes along what is said of it here."""
    assert all(calculators()[key].ask(name) for key, asks in MORE.items() for name in asks)
    assert (ALWAYS | NEVER | FEWER.keys() | SOONER.keys()) <= set(KEYS)
