"""A day's balance: what came, went and stayed, made to fit by weighted least squares, and what does not fit.

Every vessel or machine is a node, every measured or unmeasured quantity a stream between two nodes or to and from the
outside; a stock is a stream too. Quantities are masses [kg], for volumes do not add up; fat is the second component.
A balance that fits says that the records agree with each other within their uncertainties, and nothing about safety.
"""

from plant.process.mass_balance.fat import FatReconciliation, reconcile_fat
from plant.process.mass_balance.linear import Reconciliation, reconcile
from plant.process.mass_balance.streams import (
    Stream,
    balances_of,
    mass_of_volume,
    reconcile_streams,
    stock_streams,
)
from plant.process.mass_balance.suspects import (
    Finding,
    chi_square_limit,
    measurement_test_limit,
    smallest_noticed,
)

__all__ = [
    "FatReconciliation",
    "Finding",
    "Reconciliation",
    "Stream",
    "balances_of",
    "chi_square_limit",
    "mass_of_volume",
    "measurement_test_limit",
    "reconcile",
    "reconcile_fat",
    "reconcile_streams",
    "smallest_noticed",
    "stock_streams",
]
