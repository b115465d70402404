"""Messages on disk while the database is away: one line each, synced before they are acknowledged, then handed over."""

from __future__ import annotations

import base64
import json
import os
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

PIECE = 500  # messages handed over at once


@dataclass(frozen=True, slots=True)
class Message:
    """What came: its name (an MQTT topic), its bytes, when. `waited`: it may be older, or have come before."""

    name: str
    payload: bytes
    received_at: datetime
    waited: bool = False


class Buffer:
    """An append-only file. A line that was cut off as the machine died was never acknowledged, and comes again."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def __bool__(self) -> bool:
        return self.path.exists() and self.path.stat().st_size > 0

    def add(self, messages: Iterable[Message]) -> None:
        """On disk when this returns."""
        self.path.parent.mkdir(mode=0o750, parents=True, exist_ok=True)
        with self.path.open("ab") as file:
            if file.tell() and not self._ends_whole():
                file.write(b"\n")
            for one in messages:
                file.write(_line(one))
            file.flush()
            os.fsync(file.fileno())

    def hand_over(self, take: Callable[[list[Message]], None]) -> int:
        """Give everything to `take`, in order, in pieces; the file goes once all is taken. Raises what `take` raises.

        A piece taken twice adds nothing: the staging knows what it has.
        """
        if not self:
            return 0
        found = list(self._read())
        for start in range(0, len(found), PIECE):
            take(found[start : start + PIECE])
        self.path.unlink()
        return len(found)

    def _read(self) -> Iterable[Message]:
        for line in self.path.read_bytes().splitlines():
            try:
                plain = json.loads(line)
                yield Message(
                    plain["name"], base64.b64decode(plain["payload"]), datetime.fromisoformat(plain["received_at"]),
                    plain.get("waited", False),
                )  # fmt: skip
            except (ValueError, KeyError, TypeError):
                continue  # cut off while it was written: never acknowledged

    def _ends_whole(self) -> bool:
        with self.path.open("rb") as file:
            file.seek(-1, os.SEEK_END)
            return file.read(1) == b"\n"


def _line(one: Message) -> bytes:
    plain: dict[str, object] = {
        "name": one.name,
        "payload": base64.b64encode(one.payload).decode(),
        "received_at": one.received_at.astimezone(UTC).isoformat(),
    }
    if one.waited:
        plain["waited"] = True
    return json.dumps(plain).encode() + b"\n"
