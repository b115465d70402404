"""Plank's formula for the time of freezing: quick, rough, and with limits that count.

It knows one freezing temperature and the heat given off there: no cooling before, none after. For hardening, whose
heat comes off over a range of temperatures, it is an estimate only; hardening_time follows the freezing curve.
"""

from __future__ import annotations

import math

from plant.process.errors import CalculationError, Infeasible, within
from plant.process.hardening.conduction import Body, Shape
from plant.process.said import say as _

_FACTORS = {Shape.SLAB: (1 / 2, 1 / 8), Shape.CYLINDER: (1 / 4, 1 / 16), Shape.SPHERE: (1 / 6, 1 / 24)}


def plank(
    body: Body,
    density_kg_m3: float,
    heat_kj_kg: float,
    freezing_c: float,
    ambient_c: float,
    h_w_m2k: float,
    conductivity_w_mk: float,
) -> float:
    """The time in which a body at its freezing temperature gives off so much heat [s].

    t = rho L/(Tf - Tm) (P a/h + R a2/k); P and R: slab 1/2 and 1/8, long cylinder 1/4 and 1/16, sphere 1/6 and 1/24; a
    the thickness or diameter. For a tub the times of the long cylinder and of the slab between its ends are joined as
    1/t = 1/t1 + 1/t2, which gives 1/6 and 1/24 for a tub as high as wide.

    body: shape and size.
    density_kg_m3: rho [kg/m3].
    heat_kj_kg: L, the heat given off while it freezes [kJ/kg].
    freezing_c: Tf [°C].
    ambient_c: Tm, of the air [°C].
    h_w_m2k: h, to the air [W/(m2 K)].
    conductivity_w_mk: k, of the frozen product [W/(m K)].

    Range: density 1 to 5000 kg/m3, heat 0.1 to 1000 kJ/kg, h 0.5 to 10,000,000 W/(m2 K), k 0.001 to 500 W/(m K). No
        cooling before freezing and none after it is in the time.
    Raises: OutsideRange; Infeasible when the air is not colder than the freezing temperature.
    Source: R. Plank, 1913 and 1941, as in Caballero (ed.), Encyclopaedia of Food Science, Food Technology and Nutrition
        (https://www.studmed.ru/view/caballero-b-ed-encyclopaedia-of-food-science-food-technology-and-nutrition-
        ten-volume-set_b8374cec3ea.html?page=272); the tub by Cleland and Earle's equivalent shapes (from memory).

    >>> round(plank(Body(Shape.SPHERE, 0.07), 1000, 250, -1.25, -40, 50, 1.2))
    2603
    """
    heat_j = within("heat", heat_kj_kg, 0.1, 1000, "kJ/kg") * 1000 * within("density", density_kg_m3, 1, 5000, "kg/m3")
    drive = _drive(freezing_c, ambient_c)
    h = within("heat transfer coefficient", h_w_m2k, 0.5, 1e7, "W/(m2 K)")
    k = within("conductivity", conductivity_w_mk, 0.001, 500, "W/(m K)")

    def alone(shape: Shape, size: float) -> float:
        outer, inner = _FACTORS[shape]
        return heat_j / drive * (outer * size / h + inner * size**2 / k)

    if body.height_m is None:
        return alone(body.shape, body.size_m)
    return 1 / (1 / alone(Shape.CYLINDER, body.size_m) + 1 / alone(Shape.SLAB, body.height_m))


def brick_factors(middle_ratio: float, longest_ratio: float) -> tuple[float, float]:
    """Plank's P and R for a brick, a its shortest side: t = rho L/(Tf - Tm) (P a/h + R a2/k).

    middle_ratio: middle side over shortest [-].
    longest_ratio: longest side over shortest [-].

    Range: middle_ratio 1 to 1000, longest_ratio from middle_ratio to 1000.
    Raises: OutsideRange.
    Source: Plank, 1941; Ede, 1949, as in Singh and Heldman, Introduction to Food Engineering, chapter 7 (from memory).

    >>> tuple(round(one, 3) for one in brick_factors(2.4, 4.0))
    (0.3, 0.085)
    """
    first = within("middle side over shortest", middle_ratio, 1, 1000)
    second = within("longest side over shortest", longest_ratio, first, 1000)
    outer = first * second / (2 * (first * second + first + second))
    root = math.sqrt((first - second) * (first - 1) + (second - 1) ** 2)
    if root < 1e-4:  # a cube: both logarithms stand over nothing; the limit is the sphere's 1/24
        return outer, 1 / 24
    upper, lower = (first + second + 1 + root) / 3, (first + second + 1 - root) / 3
    inner = (
        _term(upper, first, second, math.log(upper / (upper - 1))) - _term(lower, first, second, _log_low(lower))
    ) / (8 * root)
    return outer, inner + (2 * first + 2 * second - 1) / 72


def plank_brick(
    sides_m: tuple[float, float, float],
    density_kg_m3: float,
    heat_kj_kg: float,
    freezing_c: float,
    ambient_c: float,
    h_w_m2k: float,
    conductivity_w_mk: float,
) -> float:
    """The time in which a brick, a carton for instance, gives off so much heat [s].

    sides_m: its three sides, in any order [m].
    density_kg_m3, heat_kj_kg, freezing_c, ambient_c, h_w_m2k, conductivity_w_mk: as plank.

    Range: as plank; sides 1 mm to 5 m, the longest at most 1000 times the shortest.
    Raises: as plank.
    Source: as brick_factors.

    >>> round(plank_brick((1.0, 0.25, 0.6), 1050, 248.25, -1.75, -30, 30, 1.108) / 3600, 1)
    18.6
    """
    if len(sides_m) != 3:
        raise CalculationError(_("a brick has three sides"))
    short, middle, long_ = sorted(within("side", one, 0.001, 5, "m") for one in sides_m)
    outer, inner = brick_factors(middle / short, long_ / short)
    heat_j = within("heat", heat_kj_kg, 0.1, 1000, "kJ/kg") * 1000 * within("density", density_kg_m3, 1, 5000, "kg/m3")
    h = within("heat transfer coefficient", h_w_m2k, 0.5, 1e7, "W/(m2 K)")
    k = within("conductivity", conductivity_w_mk, 0.001, 500, "W/(m K)")
    return heat_j / _drive(freezing_c, ambient_c) * (outer * short / h + inner * short**2 / k)


def _drive(freezing_c: float, ambient_c: float) -> float:
    freezing = within("freezing temperature", freezing_c, -100, 100, "°C")
    air = within("temperature of the air", ambient_c, -200, 100, "°C")
    if air >= freezing:
        raise Infeasible(
            _("air of %(air)s °C freezes nothing at %(freezing)s °C", air=f"{air:g}", freezing=f"{freezing:g}"),
            "freezing temperature",
            freezing,
            lowest=air,
            unit="°C",
        )
    return freezing - air


def _term(root: float, first: float, second: float, log: float) -> float:
    return (root - 1) * (first - root) * (second - root) * log


def _log_low(root: float) -> float:
    # At a flat brick the lower root is 1 and its term nothing.
    return math.log(root / (root - 1)) if root > 1 + 1e-12 else 0.0
