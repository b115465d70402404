"""What ran through a line, and what state that leaves it in."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from datetime import datetime

from plant.process import facts
from plant.process.contents import Condition
from records.flow.choices import SANITIZED, WASHED
from records.flow.history import History, Told


def runs_of(history: History) -> list[facts.Run]:
    """Each run of a line: movements through it at one time (cream and skim off one separator) are one run.

    Its id is the smallest first number of its movements, which a later movement or an amendment does not change.
    """
    by_line: dict[str, list[Told]] = defaultdict(list)
    for one in history.moves:
        if one.row.via:
            by_line[one.row.via].append(replace(one, ended_at=history.end_of(one)))
    return sorted(
        (_run(line, group) for line, moves in by_line.items() for group in _together(moves)),
        key=lambda run: (run.started_at, run.subject, run.id),
    )


def _together(moves: list[Told]) -> list[list[Told]]:
    groups: list[list[Told]] = []
    until: datetime | None = None
    for one in sorted(moves, key=lambda one: (one.row.started_at, one.row.number)):
        if groups and (until is None or one.row.started_at < until):
            groups[-1].append(one)
            until = None if until is None or one.ended_at is None else max(until, one.ended_at)
        else:
            groups.append([one])
            until = one.ended_at
    return groups


def _run(line: str, group: list[Told]) -> facts.Run:
    ends = [one.ended_at for one in group]
    last = None if None in ends else max(one for one in ends if one is not None)
    first = min(one.row.started_at for one in group)
    return facts.Run(line, str(min(one.first for one in group)), first, last)


def first_run_since(history: History, line: str, since: datetime | None) -> datetime | None:
    """When product first went through a line after its last wash."""
    starts = [one.row.started_at for one in history.through(line)]
    return min((at for at in starts if since is None or at >= since), default=None)


def line_condition(
    history: History, line: str, moment: datetime, washing: datetime | None, out_of_service: bool
) -> str:
    """A line's state in the words of vessels: it holds product while something runs through it."""
    if any(one.row.via == line for one in history.running(moment)):
        return str(Condition.HOLDS)
    if out_of_service:
        return str(Condition.OUT)
    if washing:
        return str(Condition.WASHING)
    washed = [one.ended_at for one in history.washes_of(line, WASHED) if one.ended_at <= moment]
    begun = [one for one in history.through(line) if one.row.started_at <= moment]
    used = [history.end_of(one) or one.row.started_at for one in begun]
    if not washed or (used and max(used) > max(washed)):
        return str(Condition.DIRTY)
    sanitized = [one.ended_at for one in history.washes_of(line, SANITIZED) if one.ended_at <= moment]
    return str(Condition.SANITIZED if sanitized and max(sanitized) >= max(washed) else Condition.CLEAN)
