"""The sheet's marks are those of the drawings."""

from pathlib import Path

import pytest

from plant.pictures.marks import mark_svg
from plant.pictures.svg import PRINT
from records.reports.said import OUTCOMES

IMAGES = Path(__file__).parents[3] / "static" / "img"


@pytest.mark.parametrize("outcome", list(OUTCOMES))
def test_each_file_is_the_drawn_mark(outcome: str) -> None:
    """Change the mark, and its file has to be written again."""
    kept = (IMAGES / f"mark-{OUTCOMES[outcome][1]}.svg").read_text(encoding="utf-8")
    assert kept.strip() == mark_svg(outcome, 16, inks=PRINT)
