"""The widths of type against the font files themselves."""

from pathlib import Path

import pytest
from fontTools.ttLib import TTFont

from plant.pictures.type_width import in_lines, shortened, text_width

FONTS = Path(__file__).resolve().parents[3] / "static" / "fonts"


@pytest.mark.parametrize("weight", [400, 700])
def test_widths_are_those_of_the_font(weight: int) -> None:
    """Each printable ASCII character is as wide as the shipped font file says (its hmtx table)."""
    font = TTFont(FONTS / f"atkinson-hyperlegible-next-{weight}-normal.woff2")
    names, widths, em = font.getBestCmap(), font["hmtx"], font["head"].unitsPerEm
    for code in range(32, 127):
        assert text_width(chr(code), em, weight) == pytest.approx(widths[names[code]][0])


def test_text_that_is_too_long_ends_in_an_ellipsis_within_the_room() -> None:
    """A long name is cut to its room."""
    short = shortened("Continuous freezer", 13, 60)
    assert short.endswith("…")
    assert text_width(short, 13) <= 60


def test_text_that_fits_is_left_alone() -> None:
    """A short name is not touched."""
    assert shortened("Silo A", 13, 200) == "Silo A"


def test_a_name_breaks_at_spaces_into_lines_that_fit() -> None:
    """A long name takes as many lines as it may and each fits."""
    lines = in_lines("Continuous freezer at the north wall", 13, 80, 2)
    assert len(lines) == 2
    assert all(text_width(line, 13) <= 80 for line in lines)
