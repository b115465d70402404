"""Published heat resistance of organisms in milk: D, z, their spread, the temperatures measured, how far it was read.

All were read as abstracts; the values that nobody found there say "from memory". They describe the strains and media of
their trials, not the worst that may be in a tank.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import product
from types import MappingProxyType

from plant.process.errors import CalculationError, OutsideRange, within
from plant.process.lethality.arithmetic import d_at_s
from plant.process.said import Said
from plant.process.said import say as _

EXTRAPOLATION_C = 5.0  # how far beyond the measured temperatures an answer is given, in °C; this project's bound


@dataclass(frozen=True, slots=True)
class Organism:
    """One published set: D from `d_low_s` to `d_high_s` [s] at `reference_c` [°C], z from `z_low_c` to `z_high_c` [°C]
    (None: not published), measured from `measured_low_c` to `measured_high_c` [°C]."""

    key: str
    name: Said
    reference_c: float
    d_low_s: float
    d_high_s: float
    z_low_c: float | None
    z_high_c: float | None
    measured_low_c: float
    measured_high_c: float
    source: str
    basis: str
    note: Said

    @property
    def coldest_c(self) -> float:
        """The lowest temperature for which an answer is given [°C]."""
        return self.measured_low_c - (EXTRAPOLATION_C if self.z_low_c is not None else 0.0)

    @property
    def hottest_c(self) -> float:
        """The highest temperature for which an answer is given [°C]."""
        return self.measured_high_c + (EXTRAPOLATION_C if self.z_low_c is not None else 0.0)


@dataclass(frozen=True, slots=True)
class DRange:
    """D at one temperature [s], over the published spread of D and z."""

    low_s: float
    high_s: float


_BRADSHAW_1987 = "Bradshaw and others, J. Food Prot. 50:543, 1987 (https://doi.org/10.4315/0362-028X-50.7.543)"

ORGANISMS: Mapping[str, Organism] = MappingProxyType(
    {
        one.key: one
        for one in (
            Organism(
                "listeria",
                _("Listeria monocytogenes in whole milk"),
                71.7, 0.9, 0.9, 6.3, 6.3, 52.2, 74.4,
                "Bradshaw and others, J. Food Prot. 48:743, 1985 (https://meridian.allenpress.com/jfp/article/48/9/743/"
                "166162/Thermal-Resistance-of-Listeria-monocytogenes-in)",
                "text consulted (abstract)",
                _("The line is short of what was measured at its ends: 1683.7 s at 52.2 °C, where it says 1121 s, and "
                  "0.7 s at 74.4 °C, where it says 0.34 s."),
            ),
            Organism(
                "listeria-scott-a",
                _("Listeria monocytogenes Scott A in milks and cream"),
                71.7, 0.9, 2.7, 5.8, 7.1, 71.7, 71.7,
                _BRADSHAW_1987,
                "text consulted (abstract); that D is at 71.7 °C from memory",
                _("The temperatures of these trials were not read; 71.7 °C alone counts as measured."),
            ),
            Organism(
                "listeria-mix",
                _("Listeria monocytogenes Scott A in ice cream mix"),
                79.4, 0.5, 0.5, 7.0, 7.0, 79.4, 79.4,
                _BRADSHAW_1987,
                "text consulted (abstract; one copy prints 7.94 for 79.4)",
                _("The lower temperatures of these trials were not read; 79.4 °C alone counts as measured."),
            ),
            Organism(
                "listeria-heat-shocked",
                _("Listeria monocytogenes, heat shocked (the longer D) and not"),
                71.7, 3.0, 4.6, None, None, 71.7, 71.7,
                "Bunning and others, Appl. Environ. Microbiol. 58:2096, 1992 "
                "(https://doi.org/10.1128/aem.58.6.2096-2098.1992)",
                "text consulted (abstract)",
                _("No z was read for it, so nothing is said at another temperature."),
            ),
            Organism(
                "salmonella",
                _("Salmonella in milk, six ordinary strains"),
                68.3, 0.28, 0.52, 4.96, 5.29, 62.8, 68.3,
                "Read and others, Appl. Microbiol. 16:998, 1968 (https://doi.org/10.1128/am.16.7.998-1001.1968)",
                "text consulted (abstract); z computed from its D values",
                _("One unusually heat resistant strain is not among them."),
            ),
            Organism(
                "coxiella",
                _("Coxiella burnetii in bovine milk"),
                71.7, 1.78, 2.20, 4.34, 4.34, 61.7, 71.7,
                "meeting abstract, IAFP 2016 (https://iafp.confex.com/iafp/2016/webprogram/Paper11323.html)",
                "text consulted (abstract): D 1.99 +/- 0.21 s; z of the trials of 1957, at 143 to 161 °F, from memory",
                _("D and z come from different trials."),
            ),
            Organism(
                "mycobacterium-bovis",
                _("Mycobacterium bovis and caprae in milk"),
                65.0, 6.8, 7.8, 6.84, 7.60, 62.5, 65.0,
                "Hammer and others, abstract (https://kiphub.com/paper/61e50700fc474ffc23f62402)",
                "text consulted (abstract); z computed from its pairs",
                _("z follows from two temperatures only."),
            ),
        )
    }
)  # fmt: skip


def organism_of(key: str) -> Organism:
    """The organism of that key. Raises CalculationError for one that is not known."""
    if key not in ORGANISMS:
        raise CalculationError(
            _("%(key)s is not a known organism; known are %(known)s", key=key[:40], known=", ".join(ORGANISMS))
        )
    return ORGANISMS[key]


def zs_of(organism: Organism) -> tuple[float, float]:
    """Its z, low and high [°C]. Raises CalculationError when none was published."""
    if organism.z_low_c is None or organism.z_high_c is None:
        raise CalculationError(
            _(
                "no z is published here for %(organism)s, so a trace cannot be weighed for it",
                organism=organism.name,
            )
        )
    return organism.z_low_c, organism.z_high_c


def d_range_s(organism: str, temperature_c: float) -> DRange:
    """D of an organism at a temperature [s], over the spread that was published.

    `organism` a key of ORGANISMS, `temperature_c` [°C].

    Range: the organism's measured temperatures and EXTRAPOLATION_C beyond them; without a z only those measured.
    Raises: OutsideRange outside it, CalculationError for an unknown organism.
    Source: each organism names its own; D(T) = D0 10^((T0 - T)/z) by definition.

    >>> round(d_range_s("listeria", 63).low_s, 2), round(d_range_s("salmonella", 68.3).high_s, 2)
    (21.64, 0.52)
    """
    known = organism_of(organism)
    within(_("temperature"), temperature_c)
    if not known.coldest_c <= temperature_c <= known.hottest_c:
        raise OutsideRange(
            _("temperature for %(organism)s", organism=known.name),
            float(temperature_c), known.coldest_c, known.hottest_c, "°C",
        )  # fmt: skip
    if known.z_low_c is None or known.z_high_c is None:
        return DRange(known.d_low_s, known.d_high_s)
    pairs = product((known.d_low_s, known.d_high_s), (known.z_low_c, known.z_high_c))
    found = [d_at_s(temperature_c, d, known.reference_c, z) for d, z in pairs]
    return DRange(min(found), max(found))
