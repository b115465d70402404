"""Where an act of the invented days happens: the day before is the last one with production."""

from __future__ import annotations

from datetime import date
from types import SimpleNamespace
from typing import Any

import pytest

from records.demo.building import calendar
from records.demo.doing import Stage


@pytest.mark.parametrize(("ago", "day"), [(0, "2031-03-10"), (1, "2031-03-08"), (2, "2031-03-07")])
def test_a_sunday_is_no_day_before(ago: int, day: str) -> None:
    """A Monday's product of the day before is Saturday's."""
    nothing: Any = None
    in_force: Any = SimpleNamespace(calendar=calendar())
    stage = Stage(nothing, in_force, nothing, date(2031, 3, 10))
    assert stage.worked(ago) == date.fromisoformat(day)
