"""Which times in a line get the recorder's picture: those in a pasteurizer, whatever lines came before."""

from __future__ import annotations

from datetime import datetime

import pytest

from records.people.plans import plan_in_force
from records.recall import strips
from records.recall.rows import Row
from records.recall.tub import Pressed
from tests.conftest import NOW, Plant
from tests.records.flow.made import HOUR

pytestmark = pytest.mark.django_db


def through(line: str, start: datetime) -> Pressed:
    """Something through a line for an hour."""
    row = Row(1, "", "", "", "", line, start, start + HOUR, None, "", "Whole milk", None)
    return Pressed(row, line, line, start, start + HOUR, "")


def test_lines_before_the_press_take_no_picture_from_it(plant: Plant, monkeypatch: pytest.MonkeyPatch) -> None:
    """Three times through another line, then three in the press: its first two are drawn."""
    monkeypatch.setattr(strips, "_drawn", lambda one, *_more: f"drawn {one.start:%H}")
    in_force = plan_in_force(NOW)
    assert in_force is not None
    ran = [through("silo-a", NOW + place * HOUR) for place in range(3)]
    ran += [through("press-1", NOW + place * HOUR) for place in range(3, 6)]
    found = strips.strips_of(tuple(ran), in_force, NOW)
    assert [one for one, _picture in found] == ran
    assert [bool(picture) for _one, picture in found] == [False, False, False, True, True, False]
