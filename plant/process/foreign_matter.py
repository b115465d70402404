"""Foreign matter: parts that are missing at a count, and where a hard or sharp object stands by its length."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Final

from plant.process.errors import within

__all__ = ["FROM_MM", "TO_MM", "missing_parts", "span_of"]

# FDA Compliance Policy Guide Sec. 555.425, foods with hard or sharp foreign objects (from memory).
FROM_MM: Final = Decimal(7)
TO_MM: Final = Decimal(25)
_LONGEST_MM: Final = 10_000


def span_of(length_mm: Decimal) -> str:
    """Where the longest dimension of a hard or sharp object stands: "below", "within" (both ends in) or "above".

    length_mm: [mm]. None of the three says that product may be used: a shorter object can harm infants, the aged and
    the ill, and a longer one can harm anybody.

    Range: above 0 to 10,000 mm.
    Raises: OutsideRange.
    Source: FDA CPG Sec. 555.425: 7 mm to 25 mm in length (from memory).

    >>> span_of(Decimal("6.9")), span_of(Decimal(7)), span_of(Decimal(25)), span_of(Decimal("25.1"))
    ('below', 'within', 'within', 'above')
    """
    within("length", float(length_mm), 1e-9, _LONGEST_MM, "mm")
    if length_mm < FROM_MM:
        return "below"
    return "within" if length_mm <= TO_MM else "above"


def missing_parts(listed: Mapping[str, int], counted: Mapping[str, int]) -> dict[str, int]:
    """How many of each part are missing against the count list; a part that was not counted is missing altogether.

    listed, counted: pieces by the name of the part [-], 0 or more. A surplus of one part makes up for no other.

    Range: 0 to 100,000 pieces. Raises: OutsideRange. Source: by definition.

    >>> missing_parts({"blade": 6, "seal": 2}, {"blade": 5, "seal": 3})
    {'blade': 1}
    """
    for name, pieces in [*listed.items(), *counted.items()]:
        within(name, pieces, 0, 100_000)
    short = {name: pieces - counted.get(name, 0) for name, pieces in listed.items()}
    return {name: pieces for name, pieces in short.items() if pieces > 0}
