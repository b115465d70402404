"""Overrun against the worked examples of the ice-cream courses.

University of Guelph, ice cream overrun (http://cbact.org/page/ice-cream-overrun-calculation-73753394.html prints the
answer of the first; weights at
https://www.uoguelph.ca/foodscience/book-page/figuring-package-overrun-weight-no-particulates); a course text at
https://www.scribd.com/document/495662971/Overrun-calculations. What is marked so is from memory of the Guelph text.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

from plant.process import overrun, properties
from plant.process.overrun import Inclusion

pytestmark = pytest.mark.once


@pytest.mark.proves(
    "overrun.overrun_by_volume",
    by="published",
    source="University of Guelph, overrun by volume (96 % at cbact.org; volumes and the other two from memory)",
)
@pytest.mark.parametrize(
    ("mix", "product", "inclusions", "printed", "digits"),
    [
        (500, 980, 0, 96, 0.5),
        (80 + 10, 170, 0, 88.8, 0.1),  # chocolate syrup goes through the freezer; prints 88.8, cut from 88.89
        (40, 110, 28, 105, 0.5),  # pecans added after it
    ],
)
def test_overrun_by_volume(mix, product, inclusions, printed, digits):
    """Liters of mix, of product, of particulates."""
    assert overrun.overrun_by_volume(mix, product, inclusions) == pytest.approx(printed, abs=digits)


@pytest.mark.proves(
    "overrun.overrun_by_mass",
    by="published",
    source="University of Guelph, figuring package overrun by weight: 1090 and 560 g a liter, 94.6 %",
)
def test_overrun_by_weight():
    """94.6 % printed, 94.643 worked out."""
    assert overrun.overrun_by_mass(1090, 560) == pytest.approx(94.643, abs=0.0005)


@pytest.mark.proves(
    "overrun.product_density_kg_m3",
    by="published",
    source="Overrun calculations (scribd.com/document/495662971): 1100 g/L at 100 % is 550 g/L",
)
def test_density_at_full_overrun():
    """Half."""
    assert overrun.product_density_kg_m3(1100, 100) == 550


@pytest.mark.proves(
    "overrun.cup_weights",
    by="published",
    source="Overrun calculations (scribd.com/document/495662971): cup of 30 g with 110 g of mix",
)
@pytest.mark.proves(
    "overrun.overrun_by_cup",
    by="published",
    source="Overrun calculations (scribd.com/document/495662971): cup of 30 g with 110 g of mix",
)
@pytest.mark.parametrize(("percent", "gross"), [(0, 140), (5, 134.8), (10, 130), (150, 74)])
def test_fixed_cup_table(percent, gross):
    """Gross weights to the gram or tenth printed, and the overrun that they mean."""
    (row,) = overrun.cup_weights(110, 30, [percent])
    assert row.gross == pytest.approx(gross, abs=0.05)
    # A tenth of a gram is half a percent of overrun where the cup is light.
    assert overrun.overrun_by_cup(140, gross, 30) == pytest.approx(percent, abs=0.3)


def test_net_weight_printed_beside_the_table():
    """104.76 g at 5 %."""
    assert overrun.cup_weights(110, 30, [5])[0].net == pytest.approx(104.76, abs=0.005)


@pytest.mark.proves(
    "overrun.package",
    by="published",
    source="University of Guelph, overrun with particulates: 9 % of candy of 0.748 kg/L, 563 g a liter (from memory)",
)
def test_liter_of_ice_cream_with_candy():
    """91 kg of ice cream at 100 % of a mix of 1.1 kg/L take 165.5 L, 9 kg of candy 12.0 L: 563 g a liter."""
    made = overrun.package(1100, 100, Inclusion(9, 748))
    assert made.density_kg_m3 == pytest.approx(563, abs=0.5)
    assert made.inclusion_volume_percent == pytest.approx(100 * 12.0 / 177.5, abs=0.05)


@pytest.mark.proves(
    "overrun.mix_overrun_in_package",
    by="independent",
    source="scipy.optimize.brentq on the volumes of 100 kg of product, part by part",
)
@pytest.mark.parametrize(("weight", "share", "pieces"), [(563.42, 9, 748), (600, 20, 1050), (520, 5, 400)])
def test_overrun_behind_a_package_weight(weight, share, pieces):
    """Look for the overrun at which 100 kg take the room that they take."""

    def surplus(percent):
        return (100 - share) / 1100 * (1 + percent / 100) + share / pieces - 100 / weight

    found = overrun.mix_overrun_in_package(1100, weight, Inclusion(share, pieces))
    assert found == pytest.approx(brentq(surplus, -99, 500), abs=1e-6)


@pytest.mark.proves(
    "overrun.package", by="independent", source="a linear system of the volumes of mix, pieces and air (numpy.linalg)"
)
def test_package_by_simultaneous_equations():
    """Volumes of mix, pieces and air in one liter: they fill it, air follows the mix, pieces follow the mass."""
    percent, share, mix, pieces = 92.0, 0.15, 1100.0, 640.0
    equations = np.array([[1, 1, 1], [percent / 100, 0, -1], [mix * share, -pieces * (1 - share), 0]])
    of_mix, of_pieces, of_air = np.linalg.solve(equations, [1, 0, 0])
    made = overrun.package(mix, percent, Inclusion(100 * share, pieces))
    assert made.density_kg_m3 == pytest.approx(of_mix * mix + of_pieces * pieces)
    assert made.air_percent == pytest.approx(100 * of_air)
    assert made.package_overrun_percent == pytest.approx(100 * of_air / (of_mix + of_pieces))


@pytest.mark.proves(
    "overrun.air_percent", by="published", source="Goff and Hartel, Ice Cream: 100 % overrun is half air (from memory)"
)
def test_half_of_it_is_air_at_full_overrun():
    """And none at none."""
    assert (overrun.air_percent(100), overrun.air_percent(0)) == (50, 0)


def test_density_of_mix_that_the_examples_start_from():
    """12 % fat, 38.3 % solids: 1.0969 kg/L; the text prints 1.096, cut. With its other coefficients 1.0959."""
    assert properties.mix_density_kg_m3(12, 38.3) == pytest.approx(1096.9, abs=0.05)
    other = 1 / (0.12 * 1.07527 + (0.383 - 0.12) * 0.6329 + 0.617)
    assert other == pytest.approx(1.0959, abs=0.00005)  # Guelph text, from memory
