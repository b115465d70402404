"""What later features find wrong with a movement and with washes that still count, and what follows from a movement.

Each registers its functions, as flow itself may not import them.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from records.flow.history import History
from records.flow.models import Movement
from records.ledger.actions import Act
from records.people.plans import InForce

if TYPE_CHECKING:
    from records.flow.finding import Finding

# By place: the number of each wash or sanitizing that proves nothing, with a sentence.
Unproven = dict[str, list[tuple[int, str]]]
AskWashes = Callable[[Collection[str], History, datetime, InForce], Unproven]
# (act, movement, the one that it amends or None): writes what follows, in the same act.
Then = Callable[[Act, Movement, "Movement | None"], None]
# (sentence, address) of each thing that the Floor and Ready say of the whole plant.
AskFloor = Callable[[datetime, InForce], list[tuple[str, str]]]
Ask = Callable[[Movement, History, InForce], "list[Finding]"]
_asked: list[Ask] = []
_asked_of_washes: list[AskWashes] = []
_asked_of_floor: list[AskFloor] = []
_then: list[Then] = []


@dataclass(frozen=True, slots=True)
class Outside:
    """What a later feature asks of product that comes from outside; `load`: of which load, by its ledger number.

    `bars` says what refuses a movement that has not begun; `then` writes what follows from one, in the same act:
    (act, movement, the one that it amends or None, its load or None).
    """

    bars: Callable[[Movement, int | None], list[str]]
    then: Callable[[Act, Movement, Movement | None, int | None], None]


_outside: list[Outside] = []


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


def register_floor(ask: AskFloor) -> None:
    """Ask this for the Floor and Ready. It writes nothing, in few queries."""
    if ask not in _asked_of_floor:
        _asked_of_floor.append(ask)


def of_the_floor(now: datetime, in_force: InForce) -> list[tuple[str, str]]:
    """What the registered functions say of the whole plant at a moment."""
    return [one for ask in _asked_of_floor for one in ask(now, in_force)]


def register_outside(one: Outside) -> None:
    """Ask this of every movement from outside into a vessel."""
    if one not in _outside:
        _outside.append(one)


def barred(row: Movement, load: int | None) -> list[str]:
    """What refuses this movement from outside before it begins."""
    return [] if row.source else [sentence for one in _outside for sentence in one.bars(row, load)]


def register_then(one: Then) -> None:
    """Do this after every movement that was kept, amended or did not happen."""
    if one not in _then:
        _then.append(one)


def then(a: Act, row: Movement, old: Movement | None, load: int | None) -> None:
    """Write what follows from a movement that was kept, or amended."""
    if not row.source or (old is not None and not old.source):
        for one in _outside:
            one.then(a, row, old, load)
    for each in _then:
        each(a, row, old)
