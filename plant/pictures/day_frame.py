"""Where one lane of the Day chart stands, and the measures that its parts share."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from plant.pictures.hours import Axis
from plant.pictures.placing import Box, Taken
from plant.pictures.svg import Inks

MARGIN = 16.0
ROW = 13.0  # a row of words
TIGHT = 60.0  # a lane lower than this has smaller marks and margins
SMALL = 10.5  # type size of words within a lane


@dataclass(slots=True)
class Frame:
    """Where a lane stands and what it is drawn with."""

    axis: Axis
    top: float
    height: float
    rows: int  # rows of words between the marks and the shape
    inks: Inks
    ident: str
    named: Mapping[str, str]
    taken: Taken = field(init=False)

    def __post_init__(self) -> None:
        """Start with nothing taken."""
        self.taken = Taken(Box(self.axis.left + 2, self.top + 1, self.axis.right - 2, self.bottom + 2))

    @property
    def tight(self) -> bool:
        """Say whether height is scarce."""
        return self.height - self.rows * ROW < TIGHT

    @property
    def mark(self) -> float:
        """Return the height of a mark."""
        return 11.0 if self.tight else 13.0

    @property
    def bottom(self) -> float:
        """Return the line that the vessel's contents stand on."""
        return self.top + self.height - (5.5 if self.tight else 7.0)

    @property
    def plot_top(self) -> float:
        """Return the top of the shape and the temperature line."""
        return self.sentence_top + self.rows * ROW

    @property
    def sentence_top(self) -> float:
        """Return the top of the first row of sentences, under the marks."""
        return self.top + self.mark + (3.0 if self.tight else 5.0)

    @property
    def mark_y(self) -> float:
        """Return the middle of the row of marks."""
        return self.top + (2 if self.tight else 3) + self.mark / 2
