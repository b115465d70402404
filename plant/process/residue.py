"""What the drug-residue screens of one load of raw milk come to: nothing is released by it, and silence is no result.

A screen counts only when both its controls were right. After an initial positive the same sample is tested twice more,
with controls, by the same analyst: one positive of these is a presumptive positive; the regulator is told, and the
owner may reject the load or have it confirmed by a certified analyst, twice.

Source: a published flow chart of PMO Appendix N (text consulted, R36: https://www.sambuz.com/doc/flow-chart-ppt-presentation-160879);
that the result is wanted before the milk is processed: Ala. 420-3-16 App. N (state mirror, R34). That two negative
confirmations still leave the load to the regulator is this project's, on the side of caution.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

INITIAL, REPEAT, CONFIRM = "initial", "repeat", "confirmation"
FOUND, NOT_FOUND, NOT_VALID = "found", "not found", "not valid"
REPEATS = 2  # of the same sample after an initial positive, and of a confirmation


class Residue(StrEnum):
    """What is known of a load."""

    PENDING = "no result yet"
    NOT_FOUND = "not found"
    INITIAL = "initial positive"
    PRESUMPTIVE = "presumptive positive"
    CONFIRMED = "confirmed positive"
    NOT_CONFIRMED = "not confirmed"


# Nothing of the load can be processed in these; what is pending waits for its result.
POSITIVE = frozenset({Residue.INITIAL, Residue.PRESUMPTIVE, Residue.CONFIRMED, Residue.NOT_CONFIRMED})


@dataclass(frozen=True, slots=True)
class Screen:
    """One test: which of the three stages, its result, whether both controls were right, who did it, what sample.

    `kit_in_date` False: the kit was past its date, so the test proves nothing. `certified`: by a certified analyst.
    """

    stage: str
    result: str
    controls_right: bool
    analyst: str
    sample: str = ""
    kit_in_date: bool = True
    certified: bool = False

    @property
    def counts(self) -> bool:
        """Whether it is a result at all."""
        return self.controls_right and self.kit_in_date and self.result in (FOUND, NOT_FOUND)


def residue_of(screens: Sequence[Screen]) -> Residue:
    """What screens in order of time come to; a screen that does not count changes nothing.

    A later initial screen of the load never takes an earlier positive back: only the two repeats do.
    """
    valid = [one for one in screens if one.counts]
    confirmed = [one for one in valid if one.stage == CONFIRM and one.certified]
    at = max((at for at, one in enumerate(valid) if one.stage == INITIAL and one.result == FOUND), default=None)
    if at is None:
        if any(one.result == FOUND for one in valid):
            return Residue.CONFIRMED if any(one.result == FOUND for one in confirmed) else Residue.PRESUMPTIVE
        return Residue.NOT_FOUND if any(one.stage == INITIAL for one in valid) else Residue.PENDING
    first = valid[at]  # the last of them: each initial positive asks for its own two repeats
    repeats = [
        one
        for one in valid[at + 1 :]
        if one.stage == REPEAT and one.analyst == first.analyst and one.sample == first.sample
    ]
    # A later positive counts whoever made it; a negative repeat only as the rule wants it.
    if not any(one.result == FOUND for one in valid if one.stage != INITIAL):
        return Residue.NOT_FOUND if len(repeats) >= REPEATS else Residue.INITIAL
    if any(one.result == FOUND for one in confirmed):
        return Residue.CONFIRMED
    return Residue.NOT_CONFIRMED if len(confirmed) >= REPEATS else Residue.PRESUMPTIVE
