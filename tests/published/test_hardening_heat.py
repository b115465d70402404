"""Heat and conductivity of ice cream: components by Choi and Okos, ice by Schwartzberg, air by Maxwell and Eucken.

ASHRAE Handbook Refrigeration, thermal properties of foods: from memory.
"""

from __future__ import annotations

import numpy as np
import pytest
from iapws._iapws import _Ice
from scipy.integrate import quad

from plant.process import hardening
from plant.process.freezing import Mix, freezing_point
from plant.process.hardening import Body, Conduction, Shape
from plant.process.hardening.product import LATENT_KJ_KG
from plant.process.properties import (
    Composition,
    component_specific_heat_kj_kgk,
    specific_heat_kj_kgk,
    thermal_conductivity_w_mk,
)

pytestmark = pytest.mark.once

MIX = Mix(60, msnf=10, whey_solids=2, sucrose=12, corn_syrup_solids=4)
FOOD = hardening.mix_composition(MIX, 12)
TABLE = hardening.ice_cream_table(MIX, FOOD, 1097, 100)


@pytest.mark.proves(
    "hardening.ice_cream_table",
    by="independent",
    source="IAPWS R10-06, enthalpy of ice at 0 °C (library iapws): 333.4 kJ/kg below water",
)
def test_latent_heat_is_that_of_the_formulation():
    """Ice at 0 °C and atmospheric pressure lies 333.4 kJ/kg under water at 0 °C (which is -0.04 there)."""
    assert -_Ice(273.15, 0.101325)["h"] == pytest.approx(LATENT_KJ_KG, abs=0.1)


@pytest.mark.proves(
    "hardening.ice_cream_table",
    by="published",
    source="ASHRAE Handbook Refrigeration: unfrozen vanilla ice cream, 61 % water, 3.22 kJ/(kg K) (from memory)",
)
def test_unfrozen_specific_heat():
    """Within 3 %, between 5 and 15 °C, and the same as the properties say."""
    heat = (TABLE.heat_at(15) - TABLE.heat_at(5)) / 10
    assert heat == pytest.approx(3.22, rel=0.03)
    assert heat == pytest.approx(specific_heat_kj_kgk(FOOD, 10), rel=1e-3)


@pytest.mark.proves(
    "hardening.ice_cream_table",
    by="independent",
    source="apparent specific heat integrated with scipy.integrate.quad: sensible heat and that of each bit of ice",
)
@pytest.mark.parametrize(("warm", "cold"), [(-2.7, -5), (-5, -15), (-17, -25), (4, -18)])
def test_heat_by_the_apparent_specific_heat(warm, cold):
    """c = sensible + L(T) dx/dT over temperature, L by Kirchhoff's law, gives the table's difference."""
    solids = {name: share for name, share in FOOD.fractions().items() if name != "water"}
    water = FOOD.fractions()["water"]

    def heat(name, at):
        return component_specific_heat_kj_kgk(name, at)

    def latent(at):
        step = quad(lambda t: heat("water", t) - heat("ice", t), at, -1e-9)[0]
        return LATENT_KJ_KG - step

    def apparent(at):
        ice = hardening.ice_fraction(MIX, at)
        more = (hardening.ice_fraction(MIX, at - 1e-5) - hardening.ice_fraction(MIX, at + 1e-5)) / 2e-5
        sensible = sum(share * heat(name, at) for name, share in solids.items())
        sensible += water * ((1 - ice) * heat("water", at) + (ice * heat("ice", at) if ice else 0))
        return sensible + water * more * (latent(at) if more else 0)

    start = freezing_point(MIX).temperature_c
    parts = sorted({cold, *(one for one in (0.0, start, -16.16) if cold < one < warm), warm})
    total = sum(
        quad(apparent, low + 1e-6, high - 1e-6, limit=400, epsabs=1e-3, epsrel=1e-5)[0]
        for low, high in zip(parts, parts[1:], strict=False)
    )
    assert TABLE.heat_at(warm) - TABLE.heat_at(cold) == pytest.approx(total, rel=2e-3)


@pytest.mark.proves(
    "hardening.ice_fraction",
    by="published",
    source="ASHRAE Handbook Refrigeration: x = (water - 0.4 protein)(1 - Tf/T) (Schwartzberg 1976; from memory)",
)
@pytest.mark.parametrize("temperature", [-4, -5, -7, -10, -13, -16, -18, -22, -30])
def test_ice_by_another_model(temperature):
    """Within 3 % of the water from the draw to the store."""
    start = freezing_point(MIX).temperature_c
    theirs = (FOOD.water - 0.4 * FOOD.protein) / FOOD.water * (1 - start / temperature)
    assert hardening.ice_fraction(MIX, temperature) == pytest.approx(theirs, abs=0.03)


@pytest.mark.proves(
    "hardening.ice_fraction",
    by="published",
    source="Guelph freezing curve calculation, worked out for its mix: 45.7 % at -5, 70.0 % at -10 °C",
)
def test_ice_is_the_freezing_curve_where_that_goes():
    """Within 0.3 % of the water."""
    assert hardening.ice_fraction(MIX, -5) == pytest.approx(0.457, abs=0.003)
    assert hardening.ice_fraction(MIX, -10) == pytest.approx(0.700, abs=0.003)
    assert hardening.ice_fraction(MIX, 4) == 0


@pytest.mark.proves(
    "hardening.parallel_w_mk", by="independent", source="thermal_conductivity_w_mk of a composition with ice in it"
)
@pytest.mark.proves(
    "hardening.ice_cream_table", by="independent", source="thermal_conductivity_w_mk of a composition with ice in it"
)
@pytest.mark.parametrize("temperature", [-3, -5, -10, -18, -30])
def test_parallel_conductivity_without_air(temperature):
    """The mix with its ice as a composition of its own."""
    table = hardening.ice_cream_table(MIX, FOOD, 1097, 0, Conduction.PARALLEL)
    ice = FOOD.water * hardening.ice_fraction(MIX, temperature)
    frozen = Composition(
        water=FOOD.water - ice,
        protein=FOOD.protein,
        fat=FOOD.fat,
        carbohydrate=FOOD.carbohydrate,
        ash=FOOD.ash,
        ice=ice,
    )
    ours = np.interp(temperature, table.temperature_c, table.conductivity_w_mk)
    assert ours == pytest.approx(thermal_conductivity_w_mk(frozen, temperature), rel=1e-3)


@pytest.mark.proves(
    "hardening.maxwell_eucken_w_mk",
    by="independent",
    source="coated sphere that leaves a uniform gradient undisturbed (Hashin and Shtrikman, 1962), by a linear system",
)
@pytest.mark.parametrize(("around", "pieces", "share"), [(0.35, 2.3, 0.55), (1.1, 0.024, 0.5), (0.5, 0.5, 0.3)])
def test_maxwell_by_a_coated_sphere(around, pieces, share):
    """A core in a shell: temperature and flow agree at both faces, and outside nothing is disturbed.

    Core A r, shell B r + C/r2, outside r, conducting k: three conditions for A, B, C from temperature and flow inside,
    temperature outside; the flow outside gives k.
    """
    core = share ** (1 / 3)
    equations = np.array(
        [
            [core, -core, -1 / core**2],
            [pieces, -around, 2 * around / core**3],
            [0, 1, 1],
        ]
    )
    _core, shell, bent = np.linalg.solve(equations, [0, 0, 1])
    outside = around * (shell - 2 * bent)
    assert hardening.maxwell_eucken_w_mk(around, pieces, share) == pytest.approx(outside)


@pytest.mark.proves(
    "hardening.mix_composition",
    by="published",
    source="skim milk: 3.5 protein, 5.1 carbohydrate, 0.8 ash of 9.4 (Earle, Unit Operations; bissoy.com/mcq/419127)",
)
def test_shares_of_milk_solids():
    """Within a tenth of a kilogram in 100 kg of skim."""
    skim = hardening.mix_composition(Mix(90.5, msnf=9.4), 0.1)
    assert (skim.protein, skim.carbohydrate, skim.ash) == pytest.approx((3.5, 5.1, 0.8), abs=0.1)
    assert skim.water + skim.protein + skim.fat + skim.carbohydrate + skim.ash == pytest.approx(100)


@pytest.mark.proves(
    "hardening.with_conductivity",
    by="independent",
    source="a body that conducts so many times as well, from its series",
)
def test_twice_the_conductivity():
    """At a surface that is cold at once, half the time."""
    plain = hardening.constant_table(1000, 4.0, 0.5)
    one, other = (
        hardening.cool(Body(Shape.SPHERE, 0.05), table, 20, 0, 1e7, core_c=5).reached_s
        for table in (plain, hardening.with_conductivity(plain, 2))
    )
    assert other == pytest.approx(one / 2, rel=1e-3)


@pytest.mark.proves(
    "hardening.overall_h_w_m2k", by="independent", source="steady flow through the layers, node by node (numpy.linalg)"
)
def test_layers_in_series():
    """Product at 1, air at 0, two layers between: the flow from the nodes' balances."""
    board, gap, h = (0.0012, 0.06), (0.002, 0.025), 18.0
    first, second = board[1] / board[0], gap[1] / gap[0]
    between, outer = np.linalg.solve([[first + second, -second], [-second, second + h]], [first, 0])
    assert hardening.overall_h_w_m2k(h, (board, gap)) == pytest.approx(first * (1 - between))
    assert outer < between < 1


@pytest.mark.proves(
    "hardening.hardening_time",
    by="independent",
    source="explicit steps in time on the temperatures of a slab, apparent specific heat",
)
def test_hardening_by_another_scheme():
    """Small explicit steps on temperature with an apparent specific heat, its own grid: within 1 %."""
    size, start, air, h, core, cells = 0.05, -5.5, -30.0, 15.0, -18.0, 20
    step = size / 2 / cells
    grid = np.linspace(-39.9, 0, 4000)
    heat = np.interp(grid, TABLE.temperature_c, TABLE.enthalpy_kj_kg) * 1000
    specific = np.gradient(heat, grid)
    temperature, time, pace = np.full(cells, start), 0.0, 1.0
    while (9 * temperature[0] - temperature[1]) / 8 > core:
        k = np.interp(temperature, TABLE.temperature_c, TABLE.conductivity_w_mk)
        between = (k[1:] + k[:-1]) / 2 * np.diff(temperature) / step
        out = (temperature[-1] - air) / (1 / h + step / 2 / k[-1])
        gain = np.concatenate((between, [-out])) - np.concatenate(([0.0], between))
        temperature = temperature + pace * gain / (
            step * TABLE.density_kg_m3 * np.interp(temperature, grid, specific)
        )  # fmt: skip
        time += pace
    found = hardening.hardening_time(Body(Shape.SLAB, size), TABLE, start, air, h, core)
    assert found.hours == pytest.approx(time / 3600, rel=0.01)
