"""A value that dithers round its limit: its many short times out of it as one finding, with how often and how long.

The verdict of each second is not touched; only the list of findings is shorter than the times that it names.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from decimal import Decimal

from plant.process.errors import within
from plant.process.said import say as _
from plant.process.trace_judging import words
from plant.process.trace_judging.findings import Finding
from plant.process.trace_judging.values import Cause

NEAR_MS = 60_000  # nearer than this to the time before it: this project's choice
MANY = 5  # fewer are each listed: this project's choice


def grouped(findings: Iterable[Finding], near_ms: int = NEAR_MS, many: int = MANY) -> tuple[Finding, ...]:
    """Findings in order of time, those that repeat in short order as one.

    `many` or more of one channel, rule, cause and lots, each within `near_ms` [ms] of the end of the one before it,
    become one finding from the first to the last, with the seconds of all of them, the worst value of all, and how
    often. Nothing else is joined.

    Range: near_ms 0 and more; many 2 and more.
    Raises: OutsideRange otherwise.
    Source: one cause, one deviation: common practice, no source; the minute and the five are this project's.

    >>> from plant.process.limits import Outcome
    >>> from plant.process.trace_judging.values import Kind
    >>> dip = Finding(Kind.STORAGE, Cause.PROCESS, Outcome.NOT_MET, 0, 2000, Decimal(2), "silo", None, "", "", "", "",
    ...     _("warm"), ("A",), side=-1)
    >>> dips = [replace(dip, start_ms=at, end_ms=at + 2000) for at in range(0, 50_000, 10_000)]
    >>> [(one.start_ms, one.end_ms, str(one.seconds)) for one in grouped(dips)]
    [(0, 42000, '10')]
    """
    within(_("time between two findings"), near_ms, 0, unit="ms")
    within(_("number of findings"), many, 2)
    open_runs: dict[tuple[object, ...], list[Finding]] = {}
    done: list[list[Finding]] = []
    for one in sorted(findings, key=lambda each: (each.start_ms, each.end_ms)):
        key = _key(one)
        run = open_runs.get(key)
        if key and run is not None and one.start_ms - run[-1].end_ms <= near_ms:
            run.append(one)
        else:
            open_runs[key] = [one]
            done.append(open_runs[key])
    found = [each for run in done for each in ([_joined(run)] if len(run) >= many else run)]
    return tuple(sorted(found, key=lambda each: (each.start_ms, each.end_ms)))


def _key(one: Finding) -> tuple[object, ...]:
    """What findings that may be joined have in common; empty for one that never is."""
    if not one.side or one.cause not in (Cause.PROCESS, Cause.TOO_FAST):
        return ()
    return one.kind, one.cause, one.outcome, one.channel, one.rule, one.clause, one.unit, one.side, one.lots


def _joined(run: Sequence[Finding]) -> Finding:
    first, last = run[0], run[-1]
    numbers = [one for one in run if one.extreme is not None]
    worst = min(numbers, key=lambda one: first.side * (one.extreme or 0), default=first)
    seconds = sum((one.seconds for one in run), Decimal(0))
    return replace(
        worst,
        start_ms=first.start_ms,
        end_ms=last.end_ms,
        seconds=seconds,
        contradicting=sum(one.contradicting for one in run),
        sentence=_(
            "%(sentence)s It was out %(count)s times within %(time)s, %(out)s in all.",
            sentence=worst.sentence,
            count=str(len(run)),
            time=words.time(last.end_ms - first.start_ms),
            out=words.time(int(seconds * 1000)),
        ),
    )
