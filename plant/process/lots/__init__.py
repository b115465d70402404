"""Lots: all that a vessel held between two clean breaks; how far a recall reaches, and how much of what is in each.

Everything is computed from movements and clean breaks alone, whatever their order, so that a fact recorded late counts.
"""

from plant.process.lots.accounts import Account, account, found_percent, in_unit, with_returned
from plant.process.lots.mixing import washed_out
from plant.process.lots.reach import Scope, scope_backward, scope_forward
from plant.process.lots.records import Break, Lot, Movement, Origin, fill_at
from plant.process.lots.shares import Mix, Shares, lot_shares, origin_shares

__all__ = [
    "Account",
    "Break",
    "Lot",
    "Mix",
    "Movement",
    "Origin",
    "Scope",
    "Shares",
    "account",
    "fill_at",
    "found_percent",
    "in_unit",
    "lot_shares",
    "origin_shares",
    "scope_backward",
    "scope_forward",
    "washed_out",
    "with_returned",
]
