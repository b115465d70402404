"""What was asked from, as a record and an address keep it."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from django.utils.dateparse import parse_datetime

from records.recall.origins import Asked


def asked_json(asked: Asked, now: datetime) -> dict[str, Any]:
    """Texts alone; a window without an end ends now."""
    found: dict[str, Any] = {}
    if asked.entry is not None:
        found["entry"] = asked.entry
    for name in ("code", "place", "source", "roll"):
        if text := getattr(asked, name).strip():
            found[name] = text
    if asked.lot is not None:
        found["lot"] = str(asked.lot)
    if asked.since is not None:
        found["since"] = asked.since.isoformat()
        found["until"] = (asked.until or now).isoformat()
    return found


def asked_of(told: dict[str, Any]) -> Asked:
    """The same, back."""
    return Asked(
        entry=told.get("entry"),
        code=told.get("code", ""),
        lot=UUID(told["lot"]) if "lot" in told else None,
        place=told.get("place", ""),
        source=told.get("source", ""),
        since=_moment(told.get("since")),
        until=_moment(told.get("until")),
        roll=told.get("roll", ""),
    )


def _moment(text: str | None) -> datetime | None:
    return parse_datetime(text) if text else None


def address_query(values: dict[str, str]) -> str:
    """The part of an address after '?', of what is not empty."""
    return urlencode({name: text for name, text in values.items() if text})
