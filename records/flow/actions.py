"""The acts of the flow: each keeps what happened, once, with its consequences. See the modules that hold them."""

from records.flow.data import EndData, EventData, LevelData, MovementData, WashData
from records.flow.errors import DifferentContent
from records.flow.moving import (
    amend_movement,
    end_if_running,
    end_movement,
    end_too_full,
    may_amend,
    record_movement,
    too_full,
    what_bars,
)
from records.flow.saying import no_production, record_event, see_level, set_service
from records.flow.washing import amend_wash, begin_wash, record_wash, wash_did_not_happen

__all__ = [
    "DifferentContent",
    "EndData",
    "EventData",
    "LevelData",
    "MovementData",
    "WashData",
    "amend_movement",
    "amend_wash",
    "begin_wash",
    "end_if_running",
    "end_movement",
    "end_too_full",
    "may_amend",
    "no_production",
    "record_event",
    "record_movement",
    "record_wash",
    "see_level",
    "set_service",
    "too_full",
    "wash_did_not_happen",
    "what_bars",
]
