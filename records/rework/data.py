"""What a person says of rework, parsed and not yet recorded. Numbers stand as typed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID


@dataclass(frozen=True, slots=True, kw_only=True)
class UseData:
    """Rework into a vessel, made into a product (its code). `begins_now`: not yet; what stands against refuses it.

    `why`: why it may go in without being pasteurized again. `emptied`: nothing is left of it.
    """

    form_id: UUID
    portion: int
    target: str
    product: str
    at: datetime
    quantity: str
    unit: str
    why: str = ""
    emptied: bool = False
    begins_now: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class AwayData:
    """Rework thrown away: by which exit (its key), and why. No quantity: not measured."""

    form_id: UUID
    portion: int
    leaves_by: str
    why: str
    at: datetime
    quantity: str = ""
    unit: str = ""
    emptied: bool = True
