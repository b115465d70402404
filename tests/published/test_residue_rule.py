"""The path of a positive drug-residue screen, as a published flow chart of PMO Appendix N has it.

https://www.sambuz.com/doc/flow-chart-ppt-presentation-160879 (text consulted for shared figures): an initial positive;
the same sample twice more, with controls, by the same analyst; either positive is a presumptive positive: the regulator
is told, the owner may reject the load or confirm it; a confirmation by a certified analyst, twice.
"""

from __future__ import annotations

import pytest

from plant.process.residue import CONFIRM, FOUND, INITIAL, NOT_FOUND, POSITIVE, REPEAT, Residue, Screen, residue_of

pytestmark = pytest.mark.once

FIRST = Screen(INITIAL, FOUND, True, "analyst a", "sample 1")
AGAIN = Screen(REPEAT, NOT_FOUND, True, "analyst a", "sample 1")
AGAIN_FOUND = Screen(REPEAT, FOUND, True, "analyst a", "sample 1")
CERTIFIED_FOUND = Screen(CONFIRM, FOUND, True, "analyst c", "sample 1", certified=True)
CERTIFIED = Screen(CONFIRM, NOT_FOUND, True, "analyst c", "sample 1", certified=True)


@pytest.mark.parametrize(
    ("story", "expected"),
    [
        ([FIRST], Residue.INITIAL),
        ([FIRST, AGAIN], Residue.INITIAL),
        ([FIRST, AGAIN, AGAIN], Residue.NOT_FOUND),
        ([FIRST, AGAIN, AGAIN_FOUND], Residue.PRESUMPTIVE),
        ([FIRST, AGAIN_FOUND, AGAIN], Residue.PRESUMPTIVE),
        ([FIRST, AGAIN_FOUND, AGAIN_FOUND, CERTIFIED_FOUND], Residue.CONFIRMED),
        ([FIRST, AGAIN_FOUND, AGAIN, CERTIFIED, CERTIFIED_FOUND], Residue.CONFIRMED),
        ([FIRST, AGAIN_FOUND, AGAIN, CERTIFIED], Residue.PRESUMPTIVE),
        # The chart lets the regulator decide here; nothing of ours frees the load (this project's caution).
        ([FIRST, AGAIN_FOUND, AGAIN, CERTIFIED, CERTIFIED], Residue.NOT_CONFIRMED),
    ],
)
def test_each_branch_of_the_flow_chart(story: list[Screen], expected: Residue) -> None:
    assert residue_of(story) is expected
    assert (expected in POSITIVE) == (expected is not Residue.NOT_FOUND)
