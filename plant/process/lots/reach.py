"""Which lots could hold any of it: the worst case, from times alone.

Product that is in a vessel may leave with every movement that is still going on or starts later, until a clean break;
how much there was of it does not matter. So a lot is reached from the earliest moment at which an unbroken chain of
movements could have brought something, each going on when the one before it had arrived (a time-respecting path).
Rework that brings product back is no difficulty, since time only goes on.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Hashable, Iterable, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush
from operator import itemgetter

from plant.process.errors import CalculationError
from plant.process.lots.records import Lot, Origin, breaks_by_vessel, wrong_times
from plant.process.said import say as _

__all__ = ["Scope", "scope_backward", "scope_forward"]

INF = math.inf
Name = str | None
Six = tuple[Hashable, str | None, str | None, float, float | None, float | None]
Ends = dict[Name, list[float]]  # the last moments of each vessel's fills but its last one
# From and to [s, both included], who gives (None: it has it from the beginning), who takes (None: outside), which.
Piece = tuple[float, float, str | None, str | None, Hashable]


@dataclass(frozen=True, slots=True)
class Scope:
    """The lots reached and the movements that carried it, each with its moment [s].

    Forward: the earliest moment from which a lot could hold any of it or a movement could carry it. Backward: the
    latest moment at which it could still have left that lot or gone with that movement (the end of a movement is not in
    it, so the last number before the end).
    """

    lots: dict[Lot, float]
    movements: dict[Hashable, float]


def scope_forward(
    movements: Sequence[Six],
    breaks: Iterable[tuple[str, float]],
    origin: Origin,
    outside: Collection[str] = (),
) -> Scope:
    """Every lot that could hold any of what the origin names, and every movement that could have carried some of it.

    The worst case: an unknown or small quantity reaches as far as a large one, and a vessel that was emptied but not
    washed still holds some. movements: as Movement, in any order. breaks: clean breaks (vessel, at [s]). origin: where
    it begins; its vessels are reached in every fill that overlaps the window. outside: names that are no vessels.

    Range: any number of movements; each must not end before it starts. Every name of the origin is in the record, and
    something came from each of its outside places in the window: an empty scope is never an answer.
    Raises: CalculationError.
    Source: earliest arrival over time-respecting paths: Kempe, Kleinberg and Kumar, J. Comput. Syst. Sci. 64:820, 2002;
    Holme and Saramaki, Physics Reports 519:97, 2012, 2.1 (both from memory). What a recall takes in is decided by the
    plant's recall plan, 21 CFR 117.139.

    >>> day = [(1, "Farm", "Silo A", 0, 600, 30), (2, "Silo A", "Vat", 300, 900, 5), (3, "Silo B", "Vat", 0, 9, 7)]
    >>> scope_forward(day, [("Vat", 800)], Origin(movements=(1,))).lots
    {('Silo A', 0): 0, ('Vat', 0): 300, ('Vat', 1): 800.0}
    """
    first = -INF if origin.movements else origin.since
    pieces = _forward(movements, first, origin, outside)
    check_origin(origin, movements, outside, forward=True)
    ends: Ends = {vessel: [_before(one) for one in moments] for vessel, moments in breaks_by_vessel(breaks).items()}
    reached, carried = _sweep(pieces, ends)
    return Scope(reached, carried)


def _no_text(outside: Collection[str], origin: Origin) -> None:
    """One text in place of several names would be taken letter by letter, and a recall's list come out short."""
    if any(isinstance(one, str) for one in (outside, origin.places)):
        raise CalculationError(_("names are given as a list, not as one text"))


def scope_backward(
    movements: Sequence[Six],
    breaks: Iterable[tuple[str, float]],
    origin: Origin,
    outside: Collection[str] = (),
) -> Scope:
    """Every lot of which some could be in what the origin names, and every movement that could have brought it there.

    The same worst case as scope_forward, backward in time. movements, breaks, outside: as there. origin: what is asked
    about: vessels at any moment of the window, outside places (a customer) that were sent something in it, movements.

    Range: as scope_forward; something went to each outside place in the window.
    Raises: CalculationError.
    Source: latest departure over time-respecting paths, as scope_forward.

    >>> day = [(1, "Farm", "Silo A", 0, 600, 30), (2, "Silo A", "Vat", 300, 900, 5), (3, "Vat", None, 950, 990, 5)]
    >>> list(scope_backward(day, [], Origin(movements=(3,)), outside=("Farm",)).movements)
    [3, 2, 1]
    """
    pieces = _backward(movements, origin, outside)
    check_origin(origin, movements, outside, forward=False)
    moments = breaks_by_vessel(breaks)
    ends: Ends = {vessel: [-one for one in reversed(found)] for vessel, found in moments.items()}
    reached, carried = _sweep(pieces, ends)
    lots = {(vessel, len(moments.get(vessel, ())) - place): -at for (vessel, place), at in reached.items()}
    return Scope(lots, {ident: -at for ident, at in carried.items()})


def check_origin(origin: Origin, movements: Sequence[Six], outside: Collection[str], *, forward: bool) -> None:
    """Refuse an origin of which a name is nowhere in the record, or an outside place that gave or took nothing in time.

    A slip of the pen in a name or a window must not give a short list in a recall, nor an empty one. `forward`: what
    came from the places; else what went to them. Raises CalculationError.
    """
    _no_text(outside, origin)
    names = {move[0] for move in movements}
    absent = [str(one) for one in origin.movements if one not in names]
    absent += [one for one in origin.places if not any(move[1] == one or move[2] == one for move in movements)]
    if absent:
        raise CalculationError(_("no movement is called or goes through: %(names)s", names=", ".join(absent)))
    place = 1 if forward else 2
    met = {move[place] for move in movements if _overlaps(move, origin)}
    silent = ", ".join(one for one in origin.places if one in outside and one not in met)
    if silent and forward:
        raise CalculationError(_("nothing came from %(names)s in the window: are name and window right?", names=silent))
    if silent:
        raise CalculationError(_("nothing went to %(names)s in the window: are name and window right?", names=silent))


def _overlaps(move: Six, origin: Origin) -> bool:
    """Whether a movement goes on in the window: from its start until before its end, or at its one moment."""
    start, ended = move[3], INF if move[4] is None else move[4]
    return start <= origin.until and (ended > origin.since or ended == start == origin.since)


def _before(moment: float) -> float:
    """The last number before a moment: up to it and without it."""
    return math.nextafter(moment, -INF)


def _forward(movements: Sequence[Six], first: float, origin: Origin, outside: Collection[str]) -> list[Piece]:
    nextafter, chosen = math.nextafter, frozenset(origin.movements)
    since, until = origin.since, origin.until
    began = frozenset(origin.places)
    away = frozenset(outside) | {None}
    pieces: list[Piece] = [(since, until, None, place, _ROOT) for place in origin.places if place not in away]
    add = pieces.append
    for ident, source, target, start, ended, _quantity in movements:
        end = INF if ended is None else ended
        if not end >= start:
            raise wrong_times(ident)
        if end < first:
            continue
        if end > start:
            end = nextafter(end, -INF)
        if target in away:
            target = None
        if ident in chosen:
            add((start, end, None, target, ident))
        elif source not in away:
            add((start, end, source, target, ident))
        elif source in began and end >= since and start <= until:
            add((max(start, since), min(end, until), None, target, ident))
    return sorted(pieces, key=_START)


def _backward(movements: Sequence[Six], origin: Origin, outside: Collection[str]) -> list[Piece]:
    since, until, chosen = origin.since, origin.until, frozenset(origin.movements)
    began, away = frozenset(origin.places), frozenset(outside) | {None}
    pieces: list[Piece] = [(-until, -since, None, place, _ROOT) for place in origin.places if place not in away]
    for ident, source, target, start, ended, _quantity in movements:
        end = INF if ended is None else ended
        if not end >= start:
            raise wrong_times(ident)
        if end > start:
            end = _before(end)
        giver = None if source in away else source
        if ident in chosen:
            pieces.append((-end, -start, None, giver, ident))
        elif target not in away:
            pieces.append((-end, -start, target, giver, ident))
        elif target in began and end >= since and start <= until:
            pieces.append((-min(end, until), -max(start, since), None, giver, ident))
    return sorted(pieces, key=_START)


_ROOT: Hashable = object()  # a window over a vessel, which is no movement
_START = itemgetter(0)


def _sweep(pieces: Sequence[Piece], ends: Ends) -> tuple[dict[Lot, float], dict[Hashable, float]]:
    """One pass in order of time: a lot is reached at the present moment or never earlier.

    `ends` are the last moments of each vessel's fills but its last one. A piece that outlasts a fill of its giver or
    taker is cut there, and the rest comes again later. What leaves a vessel not yet reached waits with it.
    """
    reached: dict[Lot, float] = {}
    carried: dict[Hashable, float] = {}
    touched: set[Name] = set()  # vessels whose present fill is reached
    waiting: defaultdict[Name, list[tuple[float, str | None, Hashable]]] = defaultdict(list)
    place: dict[Name, int] = dict.fromkeys(ends, 0)
    last: dict[Name, float] = {vessel: moments[0] for vessel, moments in ends.items()}
    later: list[tuple[float, int, Piece]] = []
    cuts = 0

    def advance(vessel: Name, moment: float) -> float:
        """The vessel's fill at the moment is a new one; return its end."""
        moments, number = ends[vessel], place[vessel] + 1
        while number < len(moments) and moments[number] < moment:
            number += 1
        place[vessel] = number
        last[vessel] = moments[number] if number < len(moments) else INF
        touched.discard(vessel)
        waiting.pop(vessel, None)
        return last[vessel]

    def reach(vessel: str, moment: float) -> None:
        """The vessel's fill has it from the moment on, and whatever is flowing out of it takes it along."""
        stack = [vessel]
        while stack:
            name = stack.pop()
            if name in touched:
                continue
            touched.add(name)
            reached[name, place.get(name, 0)] = moment
            for end, taker, ident in waiting.pop(name, ()):
                if end >= moment:
                    carried.setdefault(ident, moment)
                    if taker is not None and taker not in touched:
                        stack.append(taker)

    position, count = 0, len(pieces)
    while position < count or later:
        if later and (position >= count or later[0][0] <= pieces[position][0]):
            start, end, giver, taker, ident = heappop(later)[2]
        else:
            start, end, giver, taker, ident = pieces[position]
            position += 1
        cut = INF
        if giver in last:
            cut = last[giver]
            if start > cut:
                cut = advance(giver, start)
        if taker in last:
            other = last[taker]
            if start > other:
                other = advance(taker, start)
            if other < cut:
                cut = other
        if end > cut:
            cuts += 1
            again = math.nextafter(cut, INF)
            heappush(later, (again, cuts, (again, end, giver, taker, ident)))
            end = cut
        if giver is not None and giver not in touched:
            waiting[giver].append((end, taker, ident))
            continue
        if ident not in carried:
            carried[ident] = start
        if taker is not None and taker not in touched:
            reach(taker, start)
    carried.pop(_ROOT, None)
    return reached, carried
