"""What later features find wrong with a movement: each registers a function, as flow itself may not import them."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from records.flow.history import History
from records.flow.models import Movement
from records.people.plans import InForce

if TYPE_CHECKING:
    from records.flow.findings import Finding

Ask = Callable[[Movement, History, InForce], "list[Finding]"]
_asked: list[Ask] = []


def register(ask: Ask) -> None:
    """Ask this of every movement too, before it begins and once it has happened. It writes nothing."""
    if ask not in _asked:
        _asked.append(ask)


def found(row: Movement, before: History, in_force: InForce) -> list[Finding]:
    """What the registered functions find, in the order in which they were registered."""
    return [one for ask in _asked for one in ask(row, before, in_force)]
