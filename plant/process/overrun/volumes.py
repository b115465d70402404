"""Overrun from volumes, from weights and from a cup; with particulates added after the freezer.

Overrun is the volume of air over the volume of mix. It is all algebra on volumes and masses that add up.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from plant.process.errors import Infeasible, within
from plant.process.said import say as _

HIGHEST_PERCENT: Final = 300.0
_LEAST, _MOST = 1e-6, 1e9  # what a volume or a mass may be, in any unit
_DENSITY = (100.0, 3000.0)


def overrun_by_volume(mix_volume: float, product_volume: float, inclusion_volume: float = 0.0) -> float:
    """The overrun from what went in and came out [%]: 100 (V product - V inclusions - V mix)/V mix.

    mix_volume: all that went through the freezer, syrup and flavor blended into the mix too [any unit].
    product_volume: what was filled [same unit].
    inclusion_volume: particulates added after the freezer, the room that they take in the product [same unit].

    Range: volumes above 0; overrun 0 to 300 %.
    Raises: OutsideRange.
    Source: University of Guelph, ice cream overrun (http://cbact.org/page/ice-cream-overrun-calculation-73753394.html
        prints the first of its examples); by definition.

    >>> overrun_by_volume(500, 980)
    96.0
    """
    mix = within("volume of mix", mix_volume, _LEAST, _MOST)
    product = within("volume of product", product_volume, _LEAST, _MOST)
    inclusions = within("volume of inclusions", inclusion_volume, 0, _MOST)
    return _overrun(100 * (product - inclusions - mix) / mix)


def overrun_by_mass(mix_mass: float, product_mass: float) -> float:
    """The overrun from the masses of equal volumes [%]: 100 (m mix - m product)/m product. Without particulates.

    mix_mass: mass of a volume of mix without air [any unit].
    product_mass: mass of the same volume of product [same unit].

    Range: masses above 0; overrun 0 to 300 %.
    Raises: OutsideRange.
    Source: University of Guelph, figuring package overrun by weight
        (https://www.uoguelph.ca/foodscience/book-page/figuring-package-overrun-weight-no-particulates).

    >>> round(overrun_by_mass(1090, 560), 1)
    94.6
    """
    mix = within("mass of mix", mix_mass, _LEAST, _MOST)
    product = within("mass of product", product_mass, _LEAST, _MOST)
    return _overrun(100 * (mix - product) / product)


def overrun_by_cup(gross_mix: float, gross_product: float, empty_cup: float) -> float:
    """The overrun from a cup struck level, first with mix and then with product [%].

    gross_mix: cup full of mix without air [any unit of mass].
    gross_product: the same cup full of product [same unit].
    empty_cup: its tare [same unit].

    Range: both gross masses above the tare; overrun 0 to 300 %.
    Raises: OutsideRange.
    Source: by definition; example at https://www.scribd.com/document/495662971/Overrun-calculations.

    >>> round(overrun_by_cup(140, 134.8, 30), 1)
    5.0
    """
    tare = within("mass of the empty cup", empty_cup, 0, _MOST)
    mix, product = within("gross mass of mix", gross_mix, tare), within("gross mass of product", gross_product, tare)
    return overrun_by_mass(mix - tare, product - tare)


@dataclass(frozen=True, slots=True)
class CupWeight:
    """A row of the table beside the scale: overrun [%], net and gross mass of the full cup [unit of the masses]."""

    overrun_percent: float
    net: float
    gross: float


def cup_weights(net_mix: float, empty_cup: float, overruns_percent: Iterable[float]) -> tuple[CupWeight, ...]:
    """What a full cup weighs at each overrun: net = net mix/(1 + overrun/100), gross = net + tare.

    net_mix: mix without air that fills the cup [any unit of mass].
    empty_cup: its tare [same unit].
    overruns_percent: [%].

    Range: masses as overrun_by_mass; overrun 0 to 300 %; at most 1000 rows.
    Raises: OutsideRange.
    Source: by definition; example at https://www.scribd.com/document/495662971/Overrun-calculations.

    >>> [(one.overrun_percent, round(one.gross, 1)) for one in cup_weights(110, 30, [0, 5, 10, 150])]
    [(0.0, 140.0), (5.0, 134.8), (10.0, 130.0), (150.0, 74.0)]
    """
    mix = within("net mass of mix", net_mix, _LEAST, _MOST)
    tare = within("mass of the empty cup", empty_cup, 0, _MOST)
    wanted = [_overrun(one) for one in overruns_percent]
    within("rows", len(wanted), 0, 1000)
    return tuple(CupWeight(one, net := mix / (1 + one / 100), net + tare) for one in wanted)


def product_density_kg_m3(mix_density_kg_m3: float, overrun_percent: float) -> float:
    """The density of whipped product without particulates [kg/m3]: mix/(1 + overrun/100).

    mix_density_kg_m3: mix without air [kg/m3].
    overrun_percent: [%].

    Range: 100 to 3000 kg/m3; overrun 0 to 300 %.
    Raises: OutsideRange.
    Source: by definition; example at https://www.scribd.com/document/495662971/Overrun-calculations.

    >>> product_density_kg_m3(1100, 100)
    550.0
    """
    return within("density of the mix", mix_density_kg_m3, *_DENSITY, "kg/m3") / (1 + _overrun(overrun_percent) / 100)


def air_percent(overrun_percent: float) -> float:
    """The share of the volume that is air [% by volume]: 100 overrun/(100 + overrun).

    overrun_percent: [%].

    Range: 0 to 300 %.
    Raises: OutsideRange.
    Source: by definition.

    >>> air_percent(100)
    50.0
    """
    overrun = _overrun(overrun_percent)
    return 100 * overrun / (100 + overrun)


@dataclass(frozen=True, slots=True)
class Inclusion:
    """Particulates added after the freezer: share of the finished product [% by mass], density as they lie in it
    [kg/m3] (not the heaped one, which has air between the pieces), and their own solids [% by mass].

    Raises OutsideRange for a share outside 0 to 60 %, a density outside 100 to 3000 kg/m3, solids outside 0 to 100 %.
    """

    share_percent: float
    density_kg_m3: float
    solids_percent: float = 100.0

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        within("share of inclusions", self.share_percent, 0, 60, "%")
        within("density of inclusions", self.density_kg_m3, *_DENSITY, "kg/m3")
        within("solids of inclusions", self.solids_percent, 0, 100, "%")


@dataclass(frozen=True, slots=True)
class Package:
    """A product with particulates.

    `density_kg_m3`; `mix_overrun_percent` the air over the volume of mix, as the freezer gave it;
    `package_overrun_percent` the air over the volume of all that is not air; `weighed_as_plain_percent` what weighing
    the package as if it were all mix would say, which is not its overrun; volumes in % of the package.
    """

    density_kg_m3: float
    mix_overrun_percent: float
    package_overrun_percent: float
    weighed_as_plain_percent: float
    inclusion_volume_percent: float
    air_percent: float


def package(mix_density_kg_m3: float, mix_overrun_percent: float, inclusion: Inclusion) -> Package:
    """The product that a mix whipped to its overrun makes with particulates; volumes add.

    mix_density_kg_m3: mix without air [kg/m3].
    mix_overrun_percent: overrun at the freezer [%].
    inclusion: what is added.

    Range: mix 100 to 3000 kg/m3; overrun 0 to 300 %.
    Raises: OutsideRange.
    Source: University of Guelph, overrun with particulates (from memory: 91 kg at 100 % with 9 kg of candy of 748 kg/m3
        gives 563 g a liter); volumes add, by definition.

    >>> round(package(1100, 100, Inclusion(9, 748)).density_kg_m3)
    563
    """
    mix_density = within("density of the mix", mix_density_kg_m3, *_DENSITY, "kg/m3")
    overrun = _overrun(mix_overrun_percent)
    share = inclusion.share_percent / 100
    of_mix, of_inclusions = (1 - share) / mix_density, share / inclusion.density_kg_m3
    air = of_mix * overrun / 100
    volume = of_mix + of_inclusions + air
    return Package(
        density_kg_m3=1 / volume,
        mix_overrun_percent=overrun,
        package_overrun_percent=100 * air / (of_mix + of_inclusions),
        weighed_as_plain_percent=100 * (mix_density * volume - 1),
        inclusion_volume_percent=100 * of_inclusions / volume,
        air_percent=100 * air / volume,
    )


def mix_overrun_in_package(mix_density_kg_m3: float, package_density_kg_m3: float, inclusion: Inclusion) -> float:
    """The overrun that the mix has, or must be given, in a package of this density [%].

    mix_density_kg_m3: mix without air [kg/m3].
    package_density_kg_m3: the whole product, as weighed or as wanted [kg/m3].
    inclusion: what is in it.

    Range: densities 100 to 3000 kg/m3; overrun 0 to 300 %.
    Raises: OutsideRange; Infeasible when mix and inclusions without any air are lighter than the package.
    Source: volumes add, by definition.

    >>> round(mix_overrun_in_package(1100, 563.42, Inclusion(9, 748)), 1)
    100.0
    """
    mix_density = within("density of the mix", mix_density_kg_m3, *_DENSITY, "kg/m3")
    density = within("density of the package", package_density_kg_m3, *_DENSITY, "kg/m3")
    share = inclusion.share_percent / 100
    heaviest = 1 / ((1 - share) / mix_density + share / inclusion.density_kg_m3)
    if density > heaviest * (1 + 1e-9):
        raise Infeasible(
            _(
                "a package of %(wanted)s kg/m3 is heavier than its mix and inclusions without air, %(most)s kg/m3",
                wanted=f"{density:.1f}",
                most=f"{heaviest:.1f}",
            ),
            "density of the package",
            density,
            highest=heaviest,
            unit="kg/m3",
        )
    room = 1 / density - share / inclusion.density_kg_m3
    return _overrun(max(0.0, 100 * (room * mix_density / (1 - share) - 1)))


def _overrun(percent: float) -> float:
    # A product cannot be denser than its mix: below 0 something was read or weighed wrong. What the last digits of a
    # quotient leave below 0 is 0.
    value = float(percent)
    return within("overrun", 0.0 if math.isclose(value, 0.0, abs_tol=1e-9) else value, 0, HIGHEST_PERCENT, "%")
