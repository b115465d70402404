"""From a row of judged readings to the excursions out of limits that they show."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from plant.process.limits import Outcome

IN_LIMITS = frozenset({Outcome.MET, Outcome.OPERATING})


@dataclass(frozen=True, slots=True)
class Excursion:
    """One time out of limits, as the readings show it.

    What was in the vessel between `from_at` and `until` is touched. `from_at` is the last reading in limits
    before it (None: there was none), `until` the first of two in a row in limits (None: still open).
    `numbers` are those of the readings out of limits or not proven.
    """

    first_bad: datetime
    last_bad: datetime
    from_at: datetime | None
    until: datetime | None
    numbers: tuple[int, ...]

    def covers(self, moment: datetime) -> bool:
        """Whether a moment lies in the window that the excursion touches, its ends included."""
        return (self.from_at is None or self.from_at <= moment) and (self.until is None or moment <= self.until)


def excursion(readings: Iterable[tuple[datetime, Outcome, int]]) -> list[Excursion]:
    """The excursions in readings given as (observed, outcome, ledger number), in order of time.

    A reading not met or not proven begins one; the first of two readings in a row that are met ends it. One
    met reading alone ends nothing, whatever comes of it later.
    """
    found: list[Excursion] = []
    last_good: datetime | None = None
    from_at: datetime | None = None
    bad: list[tuple[datetime, int]] = []
    good_in_a_row: list[datetime] = []
    for observed, outcome, number in sorted(readings, key=lambda one: (one[0], one[2])):
        if outcome not in IN_LIMITS:
            if not bad:
                from_at = last_good
            bad.append((observed, number))
            good_in_a_row = []
            continue
        last_good = observed
        good_in_a_row.append(observed)
        if bad and len(good_in_a_row) == 2:
            found.append(_excursion(bad, from_at, good_in_a_row[0]))
            bad = []
    if bad:
        found.append(_excursion(bad, from_at, None))
    return found


def rechecks(readings: Iterable[tuple[datetime, Outcome, int]], minutes: int) -> list[tuple[datetime, int]]:
    """When to look again: (due, number of the reading that asks for it), so many minutes after each.

    Every reading while an excursion is open asks for another, the first met one too, until two in a row are
    met.
    """
    found: list[tuple[datetime, int]] = []
    met_in_a_row = 2
    for observed, outcome, number in sorted(readings, key=lambda one: (one[0], one[2])):
        met_in_a_row = met_in_a_row + 1 if outcome in IN_LIMITS else 0
        if met_in_a_row < 2:
            found.append((observed + timedelta(minutes=minutes), number))
    return found


def _excursion(bad: list[tuple[datetime, int]], from_at: datetime | None, until: datetime | None) -> Excursion:
    return Excursion(bad[0][0], bad[-1][0], from_at, until, tuple(number for _, number in bad))
