"""Industrial platinum resistance sensors (Pt100): resistance, temperature, tolerance classes, and what leads add."""

from __future__ import annotations

import math

from scipy.optimize import brentq

from plant.process.errors import CalculationError, within
from plant.process.said import say as _

# IEC 60751:2008, 4.2 (text consulted through open-source test suites; C counts below 0 °C only).
_A, _B, _C = 3.9083e-3, -5.775e-7, -4.183e-12
LOWEST_C, HIGHEST_C = -200.0, 850.0

# IEC 60751:2008, 5.1.3, table 3: class -> (constant, per degree, range wire wound, range thin film); A and B by the
# same formulas in the text consulted, the rest from memory.
_CLASSES: dict[str, tuple[float, float, tuple[float, float], tuple[float, float]]] = {
    "AA": (0.1, 0.0017, (-50, 250), (0, 150)),
    "A": (0.15, 0.002, (-100, 450), (-30, 300)),
    "B": (0.3, 0.005, (-196, 600), (-50, 500)),
    "C": (0.6, 0.01, (-196, 600), (-50, 600)),
}


def pt100_resistance_ohm(temperature_c: float, r0_ohm: float = 100.0) -> float:
    """Resistance [ohm] of a platinum sensor at `temperature_c` [°C]; `r0_ohm` at 0 °C [ohm] (100; 1000 for a Pt1000).

    Range: -200 to 850 °C; r0 1 to 10,000 ohm.
    Raises: OutsideRange.
    Source: IEC 60751:2008, 4.2: R0 (1 + At + Bt2 + C(t - 100)t3), the last term below 0 °C only.

    >>> round(pt100_resistance_ohm(72), 4), round(pt100_resistance_ohm(-20), 4)
    (127.8404, 92.1599)
    """
    t = within(_("temperature"), temperature_c, LOWEST_C, HIGHEST_C, "°C")
    return within("R0", r0_ohm, 1, 10_000, "ohm") * _ratio(t)


def pt100_temperature_c(resistance_ohm: float, r0_ohm: float = 100.0) -> float:
    """Temperature [°C] of a platinum sensor from `resistance_ohm` [ohm]; `r0_ohm` at 0 °C [ohm].

    Range: the resistances of -200 to 850 °C (18.520 to 390.481 ohm for a Pt100); r0 1 to 10,000 ohm.
    Raises: OutsideRange.
    Source: IEC 60751:2008, 4.2, solved: the quadratic at and above 0 °C, by bisection (Brent) below.

    >>> round(pt100_temperature_c(127.8404), 3)
    72.0
    """
    r0 = within("R0", r0_ohm, 1, 10_000, "ohm")
    low, high = r0 * _ratio(LOWEST_C), r0 * _ratio(HIGHEST_C)
    ratio = within(_("resistance"), resistance_ohm, low, high, "ohm") / r0
    if ratio >= 1:
        return 2 * (ratio - 1) / (_A + math.sqrt(_A * _A + 4 * _B * (ratio - 1)))
    return float(brentq(lambda t: _ratio(t) - ratio, LOWEST_C - 1, 0.0, xtol=1e-10))


def pt100_sensitivity_ohm_per_c(temperature_c: float, r0_ohm: float = 100.0) -> float:
    """Change of resistance for each degree [ohm/°C] at `temperature_c` [°C]; `r0_ohm` at 0 °C [ohm].

    Range: -200 to 850 °C; r0 1 to 10,000 ohm.
    Raises: OutsideRange.
    Source: derivative of IEC 60751:2008, 4.2.

    >>> round(pt100_sensitivity_ohm_per_c(72), 4)
    0.3825
    """
    t = within(_("temperature"), temperature_c, LOWEST_C, HIGHEST_C, "°C")
    below = _C * (4 * t**3 - 300 * t**2) if t < 0 else 0.0
    return within("R0", r0_ohm, 1, 10_000, "ohm") * (_A + 2 * _B * t + below)


def pt100_tolerance_c(temperature_c: float, tolerance_class: str, element: str = "wire wound") -> float:
    """Tolerance, plus or minus [°C], of a new sensor at `temperature_c` [°C].

    `tolerance_class` "AA", "A", "B" or "C"; `element` "wire wound" or "thin film", whose ranges differ.

    Range: that of the class and element, e.g. A wire wound -100 to 450 °C, A thin film -30 to 300 °C.
    Raises: OutsideRange; CalculationError for a class or element that is not listed.
    Source: IEC 60751:2008, table 3 (A and B checked against text; the rest and the ranges from memory).

    >>> round(pt100_tolerance_c(72, "A"), 3), round(pt100_tolerance_c(72, "B"), 3)
    (0.294, 0.66)
    """
    if tolerance_class not in _CLASSES or element not in ("wire wound", "thin film"):
        raise CalculationError(_("The class is one of AA, A, B, C; the element is wire wound or thin film."))
    constant, per_degree, wound, film = _CLASSES[tolerance_class]
    low, high = wound if element == "wire wound" else film
    return constant + per_degree * abs(within(_("temperature"), temperature_c, low, high, "°C"))


def lead_error_c(temperature_c: float, lead_ohm: float, r0_ohm: float = 100.0) -> float:
    """How much too high [°C] a sensor at `temperature_c` [°C] reads when `lead_ohm` [ohm] of leads add to it.

    For two wires it is the resistance of both; three wires leave the difference between them, four leave nothing.
    Negative when too much is subtracted. `r0_ohm` at 0 °C [ohm].

    Range: -200 to 850 °C with and without the leads; lead -10 to 100 ohm; r0 1 to 10,000 ohm.
    Raises: OutsideRange.
    Source: IEC 60751:2008, 4.2, by definition of the error.

    >>> round(lead_error_c(72, 0.2), 3)
    0.523
    """
    lead = within(_("resistance of the leads"), lead_ohm, -10, 100, "ohm")
    return pt100_temperature_c(pt100_resistance_ohm(temperature_c, r0_ohm) + lead, r0_ohm) - temperature_c


def _ratio(t: float) -> float:
    below = _C * (t - 100) * t**3 if t < 0 else 0.0
    return 1 + _A * t + _B * t * t + below
