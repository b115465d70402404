"""Where the findings of a judgement are gathered, with the lots that were flowing; and the verdict of each moment."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

import numpy as np

from plant.process.limits import Outcome
from plant.process.said import Said
from plant.process.trace_judging.faults import ClockState
from plant.process.trace_judging.findings import Finding, in_seconds
from plant.process.trace_judging.flow import Windows
from plant.process.trace_judging.values import Band, Cause, Cited, Kind

Pair = tuple[int, int]


class Notes:
    """Findings as they come, and what they make of the verdict on temperature and time."""

    def __init__(self, bands: Sequence[Band], clock: ClockState | None) -> None:
        """`bands` give the lots; what the clock was off widens the time in which they may have been flowing."""
        self.findings: list[Finding] = []
        self.painted: dict[Outcome, list[Pair]] = {Outcome.NOT_MET: [], Outcome.NOT_PROVEN: []}
        self._bands = [one for one in bands if one.lot]
        # It may have been right at some time too.
        self._ahead = (0, 0) if clock is None else (min(clock.least_ms or 0, 0), max(clock.most_ms or 0, 0))

    def add(
        self,
        kind: Kind,
        cause: Cause,
        outcome: Outcome,
        windows: Sequence[Pair],
        sentence: Said,
        cited: Cited,
        *,
        channel: str = "",
        extreme: Fraction | None = None,
        unit: str = "",
        contradicting: int = 0,
        side: int = 0,
        legal: bool = False,
    ) -> None:
        """A finding over windows [keys], the first to the last. `legal`: it counts in the verdict of these moments."""
        if legal:
            self.painted[outcome] += windows
        times = [(start >> 1, end >> 1) for start, end in windows]
        self.findings.append(
            Finding(
                kind=kind,
                cause=cause,
                outcome=outcome,
                start_ms=times[0][0],
                end_ms=times[-1][1],
                seconds=in_seconds(sum(end - start for start, end in times)),
                channel=channel,
                extreme=extreme,
                unit=unit,
                rule=cited.rule,
                clause=cited.clause,
                basis=cited.basis,
                sentence=sentence,
                lots=self._lots(times),
                contradicting=contradicting,
                side=side,
            )
        )

    def in_order(self) -> tuple[Finding, ...]:
        """All findings in order of time, then of what they are about."""
        kinds, causes = list(Kind), list(Cause)
        return tuple(
            sorted(
                self.findings,
                key=lambda one: (one.start_ms, one.end_ms, kinds.index(one.kind), causes.index(one.cause), one.channel),
            )
        )

    def _lots(self, times: Iterable[Pair]) -> tuple[str, ...]:
        """The lots in the line in any of these times. A moment between two lots counts for both."""
        least, most = self._ahead
        found: dict[str, None] = {}
        for start, end in times:
            start, end = start - most, end - least
            for one in self._bands:
                within = one.start_ms < end and one.end_ms > start
                if within or (start == end and one.start_ms <= start <= one.end_ms):
                    found[one.lot] = None
        return tuple(found)


def verdicts(
    windows: Windows, painted: dict[Outcome, list[Pair]], cuts: Sequence[int]
) -> list[tuple[Outcome, int, int]]:
    """Each moment of `windows` with the worst that was painted over it, MET where nothing was; cut at `cuts` [keys]."""
    if not len(windows):
        return []
    every = [windows.starts, windows.ends, np.asarray(cuts, np.int64)]
    every += [np.asarray(pairs, np.int64).ravel() for pairs in painted.values() if pairs]
    edges = np.unique(np.concatenate(every))
    severity = np.zeros(len(edges), np.int8)
    for rank, outcome in ((1, Outcome.NOT_PROVEN), (2, Outcome.NOT_MET)):
        if painted[outcome]:
            pairs = np.asarray(painted[outcome], np.int64)
            depth = np.zeros(len(edges), np.int64)
            np.add.at(depth, np.searchsorted(edges, pairs[:, 0]), 1)
            np.add.at(depth, np.searchsorted(edges, pairs[:, 1]), -1)
            severity[np.cumsum(depth) > 0] = rank
    judged = np.where(windows.holds(edges), severity, -1)
    changed = np.append(True, judged[1:] != judged[:-1]) | np.isin(edges, every[2])
    places = np.flatnonzero(changed)
    ends = np.append(edges[places[1:]], edges[-1])
    names = (Outcome.MET, Outcome.NOT_PROVEN, Outcome.NOT_MET)
    return [
        (names[judged[place]], int(edges[place]), int(end))
        for place, end in zip(places.tolist(), ends.tolist(), strict=True)
        if judged[place] >= 0
    ]
