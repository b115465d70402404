"""Keeping labels apart: boxes already taken, and marks moved as little as it needs."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle by its edges."""

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: "Box") -> bool:
        """Say whether the two share some area."""
        return (
            self.left < other.right and other.left < self.right and self.top < other.bottom and other.top < self.bottom
        )


@dataclass(slots=True)
class Taken:
    """The boxes that labels must keep clear of, and the frame that they must stay in."""

    frame: Box
    boxes: list[Box] = field(default_factory=list)

    def free(self, box: Box) -> bool:
        """Say whether the box lies within the frame and meets nothing."""
        inside = (
            self.frame.left <= box.left
            and box.right <= self.frame.right
            and self.frame.top <= box.top
            and box.bottom <= self.frame.bottom
        )
        return inside and not any(box.meets(other) for other in self.boxes)

    def take(self, *boxes: Box) -> None:
        """Keep the boxes clear from now on."""
        self.boxes.extend(boxes)

    def first_free(self, candidates: Iterable[Box]) -> Box | None:
        """Take and return the first candidate that is free, or None."""
        for box in candidates:
            if self.free(box):
                self.take(box)
                return box
        return None


def spread(wanted: Sequence[float], apart: float, low: float, high: float) -> list[float]:
    """Return the places, in the same order, at least ``apart`` from each other and within low and high, each
    close to where it was wanted; wanted must ascend. Where they do not all fit, they stand evenly over the
    whole width."""
    if not wanted:
        return []
    if (len(wanted) - 1) * apart > high - low:
        step = (high - low) / max(1, len(wanted) - 1)
        return [low + i * step for i in range(len(wanted))]
    groups: list[list[float]] = []  # each: sum of (wanted minus own offset), count
    for place in wanted:
        groups.append([place, 1])
        while len(groups) > 1:
            (sum_a, n_a), (sum_b, n_b) = groups[-2], groups[-1]
            if sum_a / n_a + n_a * apart <= sum_b / n_b:
                break
            groups[-2:] = [[sum_a + sum_b - n_b * n_a * apart, n_a + n_b]]
    out: list[float] = []
    for total, count in groups:
        out += [total / count + i * apart for i in range(int(count))]
    out[0] = max(out[0], low)
    for i in range(1, len(out)):
        out[i] = max(out[i], out[i - 1] + apart)
    out[-1] = min(out[-1], high)
    for i in range(len(out) - 2, -1, -1):
        out[i] = min(out[i], out[i + 1] - apart)
    return out
