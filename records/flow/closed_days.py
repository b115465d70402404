"""Whether a plant day is closed. Closing is a later feature's record, found by its kind."""

from __future__ import annotations

from datetime import date
from typing import Any

from records.ledger.registry import kinds


def is_closed(plant_day: date) -> bool:
    """Whether a closing of that day exists."""
    closings: Any = kinds()["day closing"]._default_manager
    return bool(closings.filter(plant_day=plant_day).exists())
