"""What later features find wrong with a movement, and with washes that still count: each registers a function, as flow
itself may not import them."""

from __future__ import annotations

from collections.abc import Callable, Collection
from datetime import datetime
from typing import TYPE_CHECKING

from records.flow.history import History
from records.flow.models import Movement
from records.people.plans import InForce

if TYPE_CHECKING:
    from records.flow.findings import Finding

# By place: the number of each wash or sanitizing that proves nothing, with a sentence.
Unproven = dict[str, list[tuple[int, str]]]
AskWashes = Callable[[Collection[str], History, datetime, InForce], Unproven]
Ask = Callable[[Movement, History, InForce], "list[Finding]"]
_asked: list[Ask] = []
_asked_of_washes: list[AskWashes] = []


def register(ask: Ask) -> None:
    """Ask this of every movement too, before it begins and once it has happened. It writes nothing."""
    if ask not in _asked:
        _asked.append(ask)


def found(row: Movement, before: History, in_force: InForce) -> list[Finding]:
    """What the registered functions find, in the order in which they were registered."""
    return [one for ask in _asked for one in ask(row, before, in_force)]


def register_washes(ask: AskWashes) -> None:
    """Ask this of the washes that count at a moment. It writes nothing, in few queries for all places together."""
    if ask not in _asked_of_washes:
        _asked_of_washes.append(ask)


def unproven_washes(codes: Collection[str], history: History, moment: datetime, in_force: InForce) -> Unproven:
    """The last washes and sanitizings of places that prove nothing; a place without any is left out."""
    found: Unproven = {}
    for ask in _asked_of_washes if codes else ():
        for code, told in ask(codes, history, moment, in_force).items():
            found.setdefault(code, []).extend(told)
    return found
