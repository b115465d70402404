"""Foreign matter against the published guide: FDA Compliance Policy Guide Sec. 555.425."""

from decimal import Decimal

import pytest

from plant.process.errors import OutsideRange
from plant.process.foreign_matter import missing_parts, span_of

pytestmark = pytest.mark.once


# CPG Sec. 555.425, foods, adulteration involving hard or sharp foreign objects: 7 mm to 25 mm in length (from memory).
@pytest.mark.parametrize(
    ("length", "span"),
    [("0.1", "below"), ("6.99", "below"), ("7", "within"), ("7.0", "within"), ("25", "within"), ("25.01", "above")],
)
def test_lengths_of_the_guide(length, span):
    """Both ends belong to the guide's lengths."""
    assert span_of(Decimal(length)) == span


def test_no_length_at_all_and_none_so_long():
    """Nonsense is refused, not put below."""
    for length in ("0", "-3", "10001"):
        with pytest.raises(OutsideRange):
            span_of(Decimal(length))


def test_a_surplus_of_one_part_makes_up_for_no_other():
    """By definition; a part that was not counted is missing altogether."""
    assert missing_parts({"blade": 6, "screw": 4, "seal": 1}, {"blade": 6, "screw": 5}) == {"seal": 1}
