"""The tube as it is built: its length along the center line, and its rise."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from plant.process.errors import CalculationError, OutsideRange, within
from plant.process.said import say as _

LEAST_SLOPE = Fraction(1, 48)  # a quarter of an inch in each foot


@dataclass(frozen=True, slots=True)
class Bend:
    """So many equal bends: `radius_m` of the center line [m], `angle_deg` turned by each [degrees]."""

    radius_m: float
    angle_deg: float
    count: int = 1


@dataclass(frozen=True, slots=True)
class Slope:
    """Rise over length of a tube [-], exactly, and whether it is at least a quarter of an inch in each foot."""

    rise_over_length: Fraction
    met: bool

    @property
    def inches_per_foot(self) -> float:
        """The slope [in/ft]."""
        return float(self.rise_over_length * 12)


def bend_length_m(radius_m: float, angle_deg: float) -> float:
    """Length of a bend along its center line [m]: radius x angle.

    `radius_m` of the center line [m], `angle_deg` [degrees].

    Range: 0.003 <= radius_m <= 5, 0 < angle_deg <= 360.
    Raises: OutsideRange outside it.
    Source: by definition.

    >>> round(bend_length_m(0.1, 180), 4)
    0.3142
    """
    within(_("radius of a bend"), radius_m, 0.003, 5, "m")
    if not 0 < angle_deg <= 360:
        raise OutsideRange(_("angle of a bend"), float(angle_deg), 0, 360, "degrees")
    return radius_m * math.radians(angle_deg)


def centerline_length_m(straights_m: Iterable[float], bends: Iterable[Bend] = ()) -> float:
    """Length of a tube along its center line [m]: its straight parts [m] and its bends.

    The shortest way round a bend's inside is shorter still, by half a bore times the angle; measured by the center
    line all the same (common practice, no source).

    Range: straights 0 to 1000 m each; bends as bend_length_m, 0 to 1000 of each, whole ones.
    Raises: OutsideRange outside it; CalculationError for a part of a bend, which has an angle of its own.
    Source: by definition.

    >>> round(centerline_length_m([3.0, 3.0], [Bend(0.1, 180)]), 3)
    6.314
    """
    straight = math.fsum(within(_("straight part"), one, 0, 1000, "m") for one in straights_m)
    turned = [
        bend_length_m(one.radius_m, one.angle_deg) * _counted(one.count) for one in bends
    ]
    return straight + math.fsum(turned)


def _counted(count: int) -> int:
    if within(_("number of bends"), count, 0, 1000) != int(count):
        raise CalculationError(_("bends are counted in whole numbers: give what is less than one its own angle"))
    return int(count)


def slope_of(rise: float | Decimal | Fraction, length: float | Decimal | Fraction) -> Slope:
    """Slope of a part of the tube in the direction of flow, compared exactly with 1/4 inch a foot (1 in 48).

    `rise` of the part's end above its beginning and its `length` along the tube, both in one unit (any). Every part has
    to rise: judge each by itself, not the tube as a whole. A float counts as the decimal that it prints.

    Range: length > 0, rise no more than the length and no less than its negative.
    Raises: OutsideRange outside it.
    Source: PMO item 16p(B), steady upward, at least 0.25 in/ft or 2.1 cm/m (from memory; that the slope is upward, on
    fixed supports: 3 CCR 585, text consulted). Computed with 0.25 in/ft, 2.083 cm/m.

    >>> slope_of(5, 240).met, slope_of(Decimal("4.9"), 240).met
    (True, False)
    """
    up, along = _exact(_("rise"), rise), _exact(_("length"), length)
    if along <= 0:
        raise OutsideRange(_("length"), float(along), math.ulp(0.0), None)
    if abs(up) > along:
        raise OutsideRange(_("rise"), float(up), -float(along), float(along))
    return Slope(up / along, up / along >= LEAST_SLOPE)


def _exact(quantity: str, value: float | Decimal | Fraction) -> Fraction:
    within(quantity, float(value))
    # A number of numpy as the decimal that it prints, like a float.
    return Fraction(value) if isinstance(value, Decimal | Fraction) else Fraction(str(value))
