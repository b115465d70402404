"""Whether a movement goes into packs: read by the forms and by the acts alike."""

from __future__ import annotations

from records.flow.data import PACKED
from records.flow.exits import exit_of

RESULTS_BAR = "results pending"  # of a hold that waits for results of the laboratory


def is_packing(target: str | None, target_name: str | None) -> bool:
    """Whether a movement goes into packs: outside, in this word, in any language of the book."""
    return exit_of(target, target_name) == PACKED
