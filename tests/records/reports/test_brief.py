"""Page one in short has room for so many printed lines, gravest first; what is left is counted."""

from __future__ import annotations

from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from records.reports.brief import A_LINE, MOST, lines
from records.reports.said import Clock

pytestmark = pytest.mark.once
CLOCK = Clock(ZoneInfo("America/Chicago"), date(2026, 3, 3))


def a_day(*sentences: str) -> dict[str, Any]:
    """A day with a deviation for each sentence."""
    deviations = [
        {
            "number": at, "where": "Silo A", "since_at": "2026-03-03T15:30:00.000000Z", "closing": None, "missing": [],
            "sentence": sentence, "cause": "not met", "causes": [], "control_point_key": "", "subject": "silo-a",
        }
        for at, sentence in enumerate(sentences)
    ]  # fmt: skip
    return {"deviations": deviations, "holds": [], "checks": [], "corrections": []}


@pytest.mark.parametrize(("long", "shown"), [(10, MOST), (A_LINE, MOST // 2), (2 * A_LINE, MOST // 3)])
def test_long_lines_take_the_room_of_several(long: int, shown: int) -> None:
    found = lines(a_day(*["x" * long] * 30), CLOCK)
    assert (len(found["shown"]), found["more"]) == (shown, 30 - shown)
    assert found["shown"][0]["said"].startswith("Deviation 0,") and found["shown"][0]["said"].endswith("x" * long)


def test_the_gravest_is_told_however_long_it_is() -> None:
    found = lines(a_day("x" * A_LINE * MOST * 2, "y"), CLOCK)
    assert (len(found["shown"]), found["more"]) == (1, 1)


def test_few_are_all_told() -> None:
    assert lines(a_day("one", "two"), CLOCK)["more"] == 0 and lines(a_day(), CLOCK) == {"shown": [], "more": 0}
