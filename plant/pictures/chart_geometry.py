"""Where a recorder's pen was on the paper, in the coordinates of a photo of its chart; and back again.

Coordinates: x to the right and y down, both in thousandths of the photo's width, so that lengths are the same in both
directions. Angles grow clockwise as seen, from the direction of x. The photo has to be taken from straight above: a
chart seen at a slant is an ellipse, which no fit of this kind follows.

Circular chart. The paper turns once in `turn_ms`. Printed circles are evenly spaced between two that are marked: with
radii r1, r2 at the values v1, v2, r(v) = r1 + (v - v1) (r2 - r1) / (v2 - v1).

The pen swings on an arm of length a about a pivot at a distance d from the center, so that its tip, and the printed
time lines, run along arcs. At a tip's radius r the angle at the center between pivot and tip is, by the law of cosines,
s(r) = arccos((d^2 + r^2 - a^2) / (2 d r)), and the tip stands at the pivot's direction plus or minus s(r). On the paper
the pivot goes round evenly, p(t) = p(t0) +- 2 pi (t - t0) / turn, with t0 the time of the marked point. Without an arm
the time lines are straight rays.

Strip chart. Time runs along one edge of the photo, values along the other; two corners of known time and value give
both scales.

Source: plane trigonometry, by definition; that printed circles are evenly spaced: common practice, no source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plant.process.arrays import FloatArray
from plant.process.said import Said
from plant.process.said import say as _

Places = tuple[FloatArray, FloatArray]
Moments = NDArray[np.int64]
ACROSS, DOWN = "across", "down"
# Marks nearer to each other than this cannot be told apart by a finger; in thousandths of the photo's width.
LEAST = 5.0


class NoFit(ValueError):
    """Marks that give no drawing: `mark` names the one to look at again, `sentence` says what is wrong with it."""

    def __init__(self, mark: str, sentence: Said) -> None:
        super().__init__(f"{mark}: {sentence}")
        self.mark, self.sentence = mark, sentence


@dataclass(frozen=True, slots=True)
class PenArm:
    """A pen's arm: its `length`, the distance of its `pivot` from the chart's center (both in thousandths of the
    photo's width), and the `side` of the pivot that the tip stands on: +1 clockwise of it, -1 the other.
    """

    length: float
    pivot: float
    side: int

    def swing(self, radius: FloatArray) -> FloatArray:
        """The angle at the center from pivot to tip [rad]; nan where the arm does not reach."""
        with np.errstate(divide="ignore", invalid="ignore"):
            cosine = (self.pivot**2 + radius**2 - self.length**2) / (2 * self.pivot * radius)
            angle: FloatArray = self.side * np.arccos(np.where(np.abs(cosine) <= 1, cosine, np.nan))
        return angle


def pen_arm(length: float, pivot: float, bends_clockwise: bool, inner: float, outer: float) -> PenArm:
    """The arm whose time lines, followed from the inner to the outer marked circle, go clockwise (or the other way).

    Lengths in thousandths of the photo's width. Raises NoFit for an arm that does not reach both circles, or whose time
    lines do not bend between them.
    """
    free = PenArm(length, pivot, 1)
    first, last = free.swing(np.array([inner, outer])).tolist() if length > 0 and pivot > 0 else (math.nan, math.nan)
    if math.isnan(first) or math.isnan(last):
        raise NoFit("arm_length", _("With this pivot the arm does not reach both marked circles."))
    if abs(last - first) < 1e-9:
        raise NoFit("arm_bend", _("With this arm the time lines do not bend between the two circles."))
    return PenArm(length, pivot, 1 if (last > first) == bends_clockwise else -1)


@dataclass(frozen=True, slots=True)
class CircularFit:
    """A circular chart on a photo. Radii `inner` and `outer` at values `inner_value` and `outer_value`; the point
    `mark_x`, `mark_y` was written at `mark_ms` [ms since 1970 UTC]. `clockwise`: printed hours grow clockwise.

    Raises NoFit for circles or a mark that cannot be told apart, and for a turn without time.
    """

    center_x: float
    center_y: float
    inner: float
    inner_value: float
    outer: float
    outer_value: float
    mark_x: float
    mark_y: float
    mark_ms: int
    turn_ms: int
    clockwise: bool
    arm: PenArm | None = None

    def __post_init__(self) -> None:
        """Refuse what gives no drawing."""
        if self.inner < 0 or self.outer - self.inner < LEAST:
            raise NoFit("outer_x", _("The outer circle has to lie outside of the inner one."))
        if self.inner_value == self.outer_value:
            raise NoFit("outer_value", _("The two circles have to stand for different values."))
        if self.turn_ms <= 0:
            raise NoFit("mark_x", _("A chart takes some time to turn."))
        away = math.hypot(self.mark_x - self.center_x, self.mark_y - self.center_y)
        if away < LEAST:
            raise NoFit("mark_x", _("The time mark is too near to the center to say a direction."))
        if math.isnan(self._swing(np.array([away]))[0]):
            raise NoFit("mark_x", _("The pen's arm does not reach the time mark."))

    def _swing(self, radius: FloatArray) -> FloatArray:
        return self.arm.swing(radius) if self.arm else np.zeros_like(radius)

    def _pivot_at_mark(self) -> float:
        x, y = self.mark_x - self.center_x, self.mark_y - self.center_y
        return math.atan2(y, x) - float(self._swing(np.array([math.hypot(x, y)]))[0])

    def radius(self, values: FloatArray) -> FloatArray:
        """The radius at which a value is written; nan where it would lie beyond the center."""
        slope = (self.outer - self.inner) / (self.outer_value - self.inner_value)
        found: FloatArray = self.inner + (values - self.inner_value) * slope
        return np.where(found > 0, found, np.nan)

    def place(self, times_ms: Moments | FloatArray, values: FloatArray) -> Places:
        """Where the pen wrote these values at these times: x and y, nan where it cannot have."""
        radius = self.radius(values)
        turned = 2 * math.pi * (np.asarray(times_ms, np.float64) - self.mark_ms) / self.turn_ms
        angle = self._pivot_at_mark() + (turned if self.clockwise else -turned) + self._swing(radius)
        return self.center_x + radius * np.cos(angle), self.center_y + radius * np.sin(angle)

    def read(self, x: float, y: float, since_ms: int) -> tuple[int, float]:
        """The time [ms] and value written at a point: the first such time from `since_ms` on, within one turn.

        Raises NoFit for the center itself, and where the arm does not reach.
        """
        across, down = x - self.center_x, y - self.center_y
        radius = math.hypot(across, down)
        swing = float(self._swing(np.array([radius]))[0]) if radius > 0 else math.nan
        if math.isnan(swing):
            raise NoFit("point_x", _("No pen writes there."))
        turned = math.atan2(down, across) - swing - self._pivot_at_mark()
        at = self.mark_ms + (turned if self.clockwise else -turned) / (2 * math.pi) * self.turn_ms
        at += math.ceil((since_ms - at) / self.turn_ms) * self.turn_ms
        slope = (self.outer_value - self.inner_value) / (self.outer - self.inner)
        return round(at), self.inner_value + (radius - self.inner) * slope


@dataclass(frozen=True, slots=True)
class StripFit:
    """A strip chart on a photo, by two corners of known time [ms since 1970 UTC] and value.

    `runs`: time runs ACROSS the photo (along x) or DOWN it (along y), either way round. Raises NoFit for corners that
    cannot be told apart, or that share their time or value.
    """

    first_x: float
    first_y: float
    first_ms: int
    first_value: float
    second_x: float
    second_y: float
    second_ms: int
    second_value: float
    runs: str = ACROSS

    def __post_init__(self) -> None:
        """Refuse what gives no drawing."""
        if abs(self.second_x - self.first_x) < LEAST or abs(self.second_y - self.first_y) < LEAST:
            raise NoFit("second_x", _("The two corners have to lie apart in both directions."))
        if self.first_ms == self.second_ms:
            raise NoFit("second_at", _("The two corners have to stand for different times."))
        if self.first_value == self.second_value:
            raise NoFit("second_value", _("The two corners have to stand for different values."))

    def place(self, times_ms: Moments | FloatArray, values: FloatArray) -> Places:
        """Where the pen wrote these values at these times: x and y."""
        along = (np.asarray(times_ms, np.float64) - self.first_ms) / (self.second_ms - self.first_ms)
        up = (values - self.first_value) / (self.second_value - self.first_value)
        if self.runs == DOWN:
            along, up = up, along
        return (
            self.first_x + along * (self.second_x - self.first_x),
            self.first_y + up * (self.second_y - self.first_y),
        )

    def read(self, x: float, y: float, since_ms: int) -> tuple[int, float]:
        """The time [ms] and value written at a point; `since_ms` says nothing on a strip, which does not come round."""
        along = (x - self.first_x) / (self.second_x - self.first_x)
        up = (y - self.first_y) / (self.second_y - self.first_y)
        if self.runs == DOWN:
            along, up = up, along
        at = self.first_ms + along * (self.second_ms - self.first_ms)
        return round(at), self.first_value + up * (self.second_value - self.first_value)


Fit = CircularFit | StripFit
