"""Live samples of the small plant: T-20 at Silo A, T-12 and fd-press-1 at Press 1."""

from __future__ import annotations

import json
from datetime import datetime, timedelta

from plant import clock
from records.live.buffer import Message
from records.live.collecting import stage
from records.live.models import LiveFeed
from records.live.staging import Taken

FEEDS = {"plant/silo-a": ("T-20", "°F"), "plant/hot": ("T-12", "°F"), "plant/forward": ("fd-press-1", "1")}


def fed() -> None:
    """The three feeds."""
    for name, (instrument, unit) in FEEDS.items():
        LiveFeed.objects.get_or_create(name=name, defaults={"instrument": instrument, "unit": unit})


def message(name: str, value: str, at: datetime) -> Message:
    """One sample with its own time."""
    body = json.dumps({"value": value, "at": at.isoformat()})
    return Message(name, body.encode(), clock.now())


def came(name: str, values: list[str], first: datetime, step_s: int = 60) -> Taken:
    """Samples, one each step."""
    return stage([message(name, one, first + timedelta(seconds=step_s * at)) for at, one in enumerate(values)])
