"""The correction of a thermometer from its readings in ice and in boiling water (or at any two known points)."""

from __future__ import annotations

from dataclasses import dataclass

from plant.process.errors import CalculationError, within
from plant.process.said import say as _

# A thermometer further off than this is broken, not to be corrected (common practice, no source).
MOST_ERROR = 10.0


@dataclass(frozen=True, slots=True)
class TwoPoint:
    """A straight line through two known points: true = `true_low` + `slope` (reading - `read_low`).

    Temperatures in the unit of the two points. `error_low` and `error_high`: reading minus true at each point.
    """

    read_low: float
    true_low: float
    read_high: float
    true_high: float

    @property
    def slope(self) -> float:
        """Change of the true value for each degree of the reading."""
        return (self.true_high - self.true_low) / (self.read_high - self.read_low)

    @property
    def error_low(self) -> float:
        """Reading minus true at the lower point."""
        return self.read_low - self.true_low

    @property
    def error_high(self) -> float:
        """Reading minus true at the upper point."""
        return self.read_high - self.true_high

    def corrected(self, reading: float) -> float:
        """The true value for a reading between the two points. Raises OutsideRange beyond them."""
        inside = within(_("reading"), reading, self.read_low, self.read_high)
        return self.true_low + self.slope * (inside - self.read_low)

    def error(self, reading: float) -> float:
        """Reading minus true at a reading between the two points. Raises OutsideRange beyond them."""
        return reading - self.corrected(reading)

    def indicated(self, true: float) -> float:
        """What the thermometer shows at a true value between the two points. Raises OutsideRange beyond them."""
        inside = within(_("temperature"), true, self.true_low, self.true_high)
        return self.read_low + (inside - self.true_low) / self.slope


def two_point(read_low: float, true_low: float, read_high: float, true_high: float) -> TwoPoint:
    """The correction through two known points, usually ice and boiling water; `true_high` from the day's pressure.

    All four in one unit [°C or °F]. The line says nothing about a thermometer that is not straight between the
    points, so check one point near the limit as well.

    Range: the lower point below the upper one, each error within 10 degrees; corrected only between the two.
    Raises: OutsideRange; CalculationError when the points do not rise.
    Source: by definition (straight line through two points).

    >>> check = two_point(0.4, 0.0, 98.9, 98.30)
    >>> round(check.slope, 5), round(check.corrected(71.5), 2), round(check.error(71.5), 2)
    (0.99797, 70.96, 0.54)
    """
    points = TwoPoint(float(read_low), float(true_low), float(read_high), float(true_high))
    for low, high in ((points.read_low, points.read_high), (points.true_low, points.true_high)):
        within(_("temperature"), low)
        within(_("temperature"), high)
        if not low < high:
            raise CalculationError(_("The lower point must lie below the upper one."))
    within(_("error at the lower point"), points.error_low, -MOST_ERROR, MOST_ERROR)
    within(_("error at the upper point"), points.error_high, -MOST_ERROR, MOST_ERROR)
    return points
