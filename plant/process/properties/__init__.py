"""Physical properties of milk, cream, mix and water, each from one published source and inside its range only."""

from __future__ import annotations

from plant.process.properties.composition import (
    COMPONENTS,
    Composition,
    component_conductivity_w_mk,
    component_density_kg_m3,
    component_specific_heat_kj_kgk,
    food_density_kg_m3,
    specific_heat_kj_kgk,
    thermal_conductivity_w_mk,
    thermal_diffusivity_m2_s,
)
from plant.process.properties.milk import (
    TABLE_C,
    TABULATED,
    TabulatedDensity,
    cold_cream_density_kg_m3,
    cold_milk_density_kg_m3,
    density_20c_kg_m3,
    density_of_pounds_per_gallon_kg_m3,
    milk_viscosity_mpas,
    mix_density_kg_m3,
    pounds_per_gallon,
    tabulated_density_kg_m3,
)
from plant.process.properties.usual import MILK_LB_PER_GAL, UsualDensity, between, crosses, usual_density
from plant.process.properties.water import (
    boiling_point_c,
    vapor_pressure_kpa,
    water_conductivity_w_mk,
    water_density_kg_m3,
    water_specific_heat_kj_kgk,
    water_viscosity_mpas,
)

__all__ = [
    "COMPONENTS",
    "Composition",
    "MILK_LB_PER_GAL",
    "TABLE_C",
    "TABULATED",
    "TabulatedDensity",
    "UsualDensity",
    "between",
    "boiling_point_c",
    "cold_cream_density_kg_m3",
    "cold_milk_density_kg_m3",
    "component_conductivity_w_mk",
    "component_density_kg_m3",
    "component_specific_heat_kj_kgk",
    "crosses",
    "density_20c_kg_m3",
    "density_of_pounds_per_gallon_kg_m3",
    "food_density_kg_m3",
    "milk_viscosity_mpas",
    "mix_density_kg_m3",
    "pounds_per_gallon",
    "specific_heat_kj_kgk",
    "tabulated_density_kg_m3",
    "thermal_conductivity_w_mk",
    "thermal_diffusivity_m2_s",
    "usual_density",
    "vapor_pressure_kpa",
    "water_conductivity_w_mk",
    "water_density_kg_m3",
    "water_specific_heat_kj_kgk",
    "water_viscosity_mpas",
]
