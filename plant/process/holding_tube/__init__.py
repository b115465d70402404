"""The holding tube: how long its fastest particle stays, how long it must be, what a test with water says of product.

Everything is for a full round tube of one bore. The time of record is the one measured by the regulator's test; what is
computed here sizes a tube or doubts a record. SI units, named in each parameter; `plant.process.units` converts.
"""

from plant.process.holding_tube.fittings import (
    LEAST_SLOPE,
    Bend,
    Slope,
    bend_length_m,
    centerline_length_m,
    slope_of,
)
from plant.process.holding_tube.flow import (
    Lengths,
    Residence,
    bore_area_m2,
    bulk_velocity_m_per_s,
    hold_against_rate,
    largest_flow_m3_per_s,
    lengths_for,
    pmo_length_in,
    residence,
    reynolds_number,
    volume_m3,
)
from plant.process.holding_tube.guides import GUIDES, Guide, fastest_ratio, velocity_profile
from plant.process.holding_tube.timing import (
    SALT_TESTS,
    GoverningFlow,
    PumpReading,
    SaltEstimate,
    SaltTest,
    governing_flow,
    hold_at_rate_s,
    product_hold_by_volume_s,
    product_hold_by_weight_s,
    salt_test_estimate,
)

__all__ = [
    "GUIDES",
    "LEAST_SLOPE",
    "SALT_TESTS",
    "Bend",
    "GoverningFlow",
    "Guide",
    "Lengths",
    "PumpReading",
    "Residence",
    "SaltEstimate",
    "SaltTest",
    "Slope",
    "bend_length_m",
    "bore_area_m2",
    "bulk_velocity_m_per_s",
    "centerline_length_m",
    "fastest_ratio",
    "governing_flow",
    "hold_against_rate",
    "hold_at_rate_s",
    "largest_flow_m3_per_s",
    "lengths_for",
    "pmo_length_in",
    "product_hold_by_volume_s",
    "product_hold_by_weight_s",
    "residence",
    "reynolds_number",
    "salt_test_estimate",
    "slope_of",
    "velocity_profile",
    "volume_m3",
]
