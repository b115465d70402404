"""What a verification found, in words that name the entry."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

SHOWN = 200  # findings kept in full; the rest is counted


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that differs.

    `kind`: trigger, foreign, column, form, database, gap, leaf, content, row, orphan, subtree, day, file, keys, plan,
    outside.
    """

    kind: str
    entry: int | None
    sentence: str


@dataclass(slots=True)
class Findings:
    """All that differs; at most SHOWN are kept, every one is counted."""

    kept: list[Finding] = field(default_factory=list)
    count: int = 0

    def add(self, kind: str, entry: int | None, sentence: str) -> None:
        """Note one."""
        self.count += 1
        if len(self.kept) < SHOWN:
            self.kept.append(Finding(kind, entry, sentence))

    def __iter__(self) -> Iterator[Finding]:
        return iter(self.kept)

    def __bool__(self) -> bool:
        return self.count > 0
