"""What the pages and the day sheet say of loads: the latest, and a month's loads beside their residue results."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from plant.process.residue import Residue
from records.deviations.models import Deviation, DeviationCause
from records.people.plans import InForce
from records.receiving.models import LoadEvent
from records.receiving.state import Load, missing, residue_at, screens
from records.run_rows.queries import runs_between


@dataclass(frozen=True, slots=True)
class MonthLine:
    """One load of a month: its result, how many of its tests count, and what its record lacks."""

    load: Load
    residue: Residue
    tests: int
    counting: int
    missing: tuple[str, ...]

    @property
    def is_whole(self) -> bool:
        """Whether exactly this load has a result."""
        return self.residue != Residue.PENDING


def month(start: datetime, end: datetime, in_force: InForce) -> list[MonthLine]:
    """Every load that arrived in [start, end) with its residue result, one to one. Two queries."""
    loads = [one for one in runs_between(LoadEvent, start, end) if start <= one.first.happened_at < end]
    found = []
    for load in loads:
        tests = screens(load.events, in_force)
        residue = residue_at(load, max(row.happened_at for row in load.events), in_force)
        found.append(
            MonthLine(load, residue, len(tests), sum(one.counts for one in tests), tuple(missing(load, in_force)))
        )
    return found


def of_the_day(start: datetime, end: datetime) -> list[Load]:
    """The loads to which anything happened in [start, end)."""
    return runs_between(LoadEvent, start, end)


def deviations_of(load: Load) -> list[Deviation]:
    """The deviations that rows of a load, or its movements, led to."""
    numbers = [one.number for one in load.events] + [one.movement for one in load.events if one.movement]
    causes = DeviationCause.objects.filter(cause_number__in=numbers).values("deviation")
    return list(Deviation.objects.filter(number__in=causes).order_by("number"))


