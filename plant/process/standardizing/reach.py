"""Why no blend meets the targets: what each can come to, alone and beside the others, and the blend that comes nearest.

Least total violation: the targets are given slack, and the sum of the slacks [percentage points] is made least.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from plant.process.arrays import FloatArray
from plant.process.errors import Infeasible
from plant.process.said import Said
from plant.process.said import say as _
from plant.process.standardizing import program as lp
from plant.process.standardizing.streams import Proof, Stream, Target, prove
from plant.process.standardizing.words import digits

_CLOSE = 1e-6  # [percentage points]


@dataclass(frozen=True, slots=True)
class Reach:
    """What the streams can give of one target's component.

    `alone`: lowest and highest content [% by mass] with the streams and quantities at hand and no other target;
    `together`: the same while all other targets are met, None where those cannot be met together. `miss`
    [percentage points]: how far the nearest blend lies outside, signed. `short_of`: streams whose greatest quantity
    stands in the way; `forced`: streams whose least quantity does.
    """

    target: Target
    alone: tuple[float, float]
    together: tuple[float, float] | None
    miss: float
    short_of: tuple[str, ...] = ()
    forced: tuple[str, ...] = ()

    @property
    def gap(self) -> float:
        """How far the target lies outside what can be had beside the others, or else alone [percentage points]."""
        return _gap(self.target, self.together or self.alone)


class CannotBlend(Infeasible):
    """No blend of the streams meets the targets.

    `reaches` has one for each target; `nearest` proves the blend of least total violation (None where it would need
    endlessly much). The target that fails is in `target`, `wanted`, `lowest`, `highest` [%].
    """

    def __init__(self, sentence: Said, failed: Reach | None, reaches: tuple[Reach, ...], nearest: Proof | None) -> None:
        if failed is None:
            super().__init__(sentence, unit="%")
        else:
            low, high = failed.together or failed.alone
            too_high = failed.target.low is not None and high < failed.target.low
            wanted = failed.target.low if too_high else failed.target.high
            super().__init__(sentence, failed.target.component, wanted, low, high, "%")
        self.reaches, self.nearest = reaches, nearest


def attainable(
    streams: Sequence[Stream], targets: Sequence[Target], total_kg: float | None = None
) -> tuple[Reach, ...]:
    """What the streams can give of each target, alone and beside the other targets.

    Parameters: as for `blend`. Where the whole is free, an end of a range may only be approached, not met.

    Range: at most 40 streams and 20 targets; a whole of 1e-6 to 1e9 kg, or a stream with a least quantity.
    Raises: OutsideRange; CalculationError; Infeasible when the quantities alone cannot make the whole.
    Source: linear programming over the shares of the streams (Charnes and Cooper 1962, Naval Research Logistics
    Quarterly 9:181, from memory).

    >>> cream, milk = Stream("cream", {"fat": 40, "SNF": 5.4}), Stream("milk", {"fat": 3.5, "SNF": 8.685})
    >>> [one] = attainable([cream, milk], [Target.exactly("fat", 12)], 100)
    >>> [round(end, 6) for end in one.alone]
    [3.5, 40.0]
    """
    lp.check_wishes(streams, targets, total_kg)
    return _reaches(streams, targets, total_kg)[0]


def cannot_blend(streams: Sequence[Stream], targets: Sequence[Target], total_kg: float | None) -> CannotBlend:
    """The refusal, with its reasons, of targets that no blend meets."""
    reaches, nearest = _reaches(streams, targets, total_kg)
    failed = _failed(reaches)
    if failed is not None:
        return CannotBlend(_reason(streams, failed), failed, reaches, nearest)
    misses = [one for one in reaches if abs(one.miss) > _CLOSE]
    if misses:
        listed = ", ".join(f"{one.target.component} {one.miss:+.3f}" for one in misses)
        sentence = _(
            "The targets cannot be met together. The nearest blend misses by (percentage points): %(misses)s.",
            misses=listed,
        )
        return CannotBlend(sentence, max(misses, key=lambda one: abs(one.miss)), reaches, nearest)
    sentence = _("The targets are only approached, however much is added to the quantities to be used.")
    return CannotBlend(sentence, None, reaches, nearest)


def _reaches(
    streams: Sequence[Stream], targets: Sequence[Target], total_kg: float | None
) -> tuple[tuple[Reach, ...], Proof | None]:
    misses, nearest = _nearest(streams, targets, total_kg)
    whole = lp.shares(streams, total_kg)
    found = []
    for place, target in enumerate(targets):
        by_itself = _range(streams, target, whole)
        if by_itself is None:  # the quantities were checked: only the solver's rounding can bring this about
            raise Infeasible(_("The streams cannot be blended in these quantities."))
        others = [one for other, one in enumerate(targets) if other != place]
        beside = _range(streams, target, whole.also_above(*lp.share_rows(streams, others)))
        alone, binding = by_itself
        together = None
        if beside is not None:
            together, binding = beside
        short, forced = _in_the_way(streams, target, together or alone, binding)
        found.append(Reach(target, alone, together, misses[place], short, forced))
    return tuple(found), nearest


def _range(
    streams: Sequence[Stream], target: Target, program: lp.Program
) -> tuple[tuple[float, float], tuple[lp.Solved, lp.Solved]] | None:
    """Lowest and highest content [% by mass] with the points where they are, None where the program has no point."""
    row = np.array([*(stream.percent(target.component) / 100 for stream in streams), 0.0])
    low, high = lp.least(program, row), lp.least(program, -row)
    if low is None or high is None:
        return None
    return (100 * low.value + 0.0, -100 * high.value + 0.0), (low, high)  # no minus nothing


def _in_the_way(
    streams: Sequence[Stream], target: Target, ends: tuple[float, float], at: tuple[lp.Solved, lp.Solved]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    if _gap(target, ends) <= _CLOSE:
        return (), ()
    end = at[1] if target.low is not None and ends[1] < target.low else at[0]
    rows = np.abs(end.above[: 2 * len(streams)]) > lp.NOTHING
    short = tuple(one.name for place, one in enumerate(streams) if one.most_kg is not None and rows[2 * place + 1])
    forced = tuple(one.name for place, one in enumerate(streams) if one.least_kg > 0 and rows[2 * place])
    return short, forced


def _nearest(
    streams: Sequence[Stream], targets: Sequence[Target], total_kg: float | None
) -> tuple[list[float], Proof | None]:
    whole = lp.shares(streams, total_kg)
    rows, limits = lp.share_rows(streams, targets)
    count, slacks = len(streams) + 1, len(rows)

    def widened(matrix: FloatArray, slack: FloatArray) -> FloatArray:
        return np.hstack([matrix, slack])

    relaxed = replace(
        whole,
        lower=np.append(whole.lower, np.zeros(slacks)),
        upper=np.append(whole.upper, np.full(slacks, np.inf)),
        above=np.vstack([widened(whole.above, np.zeros((len(whole.above), slacks))), widened(rows, -np.eye(slacks))]),
        above_of=np.concatenate([whole.above_of, limits]),
        equal=widened(whole.equal, np.zeros((1, slacks))),
    )
    solved = lp.least(relaxed, np.append(np.zeros(count), np.ones(slacks)))
    if solved is None:
        raise Infeasible(_("The streams cannot be blended in these quantities."))
    share, inverse = solved.point[: len(streams)], float(solved.point[len(streams)])
    contents = {
        one.component: float(
            sum(part * stream.percent(one.component) for part, stream in zip(share, streams, strict=True))
        )
        for one in targets
    }
    misses = [one.miss(contents[one.component]) for one in targets]
    if inverse <= lp.NOTHING:
        return misses, None
    masses = [float(part) * lp.scale(streams, total_kg) / inverse for part in share]
    return misses, prove(streams, masses, targets, total_kg)


def _gap(target: Target, ends: tuple[float, float]) -> float:
    return max(
        0.0 if target.low is None else target.low - ends[1],
        0.0 if target.high is None else ends[0] - target.high,
        0.0,
    )


def _failed(reaches: Sequence[Reach]) -> Reach | None:
    """The target to name: the worst that the streams cannot give even alone, else beside the others."""
    alone = [(_gap(one.target, one.alone), one) for one in reaches]
    beside = [(_gap(one.target, one.together), one) for one in reaches if one.together is not None]
    for gaps in (alone, beside):
        gap, worst = max(gaps, key=lambda pair: pair[0], default=(0.0, None))
        if gap > _CLOSE:
            return worst
    return None


def _reason(streams: Sequence[Stream], failed: Reach) -> Said:
    component = failed.target.component
    by_content = sorted(streams, key=lambda one: one.percent(component))
    if by_content[-1].percent(component) == 0:
        return _("None of the streams holds %(component)s.", component=component)
    ends = failed.together or failed.alone
    too_high = failed.target.low is not None and ends[1] < failed.target.low
    end = by_content[-1] if too_high else by_content[0]
    wanted = (failed.target.low if too_high else failed.target.high) or 0.0
    named = {"component": component, "wanted": digits(wanted), "best": digits(ends[1] if too_high else ends[0])}
    edge = {"stream": end.name, "percent": digits(end.percent(component)), "component": component}
    if too_high:
        fact = _("The richest of the streams has %(percent)s %% %(component)s (%(stream)s).", **edge)
    else:
        fact = _("The leanest of the streams has %(percent)s %% %(component)s (%(stream)s).", **edge)
    return _joined([_missed(failed, too_high, named), fact, *_quantities_in_the_way(failed)])


def _missed(failed: Reach, too_high: bool, named: dict[str, str]) -> Said:
    beside = failed.together is not None and abs(failed.gap - _gap(failed.target, failed.alone)) > _CLOSE
    named = {**named, "gap": digits(failed.gap)}
    if beside and too_high:
        return _(
            "%(component)s of %(wanted)s %% cannot be reached: with the other targets met there is at most "
            "%(best)s %%, %(gap)s percentage points too little.",
            **named,
        )
    if beside:
        return _(
            "%(component)s of %(wanted)s %% cannot be reached: with the other targets met there is at least "
            "%(best)s %%, %(gap)s percentage points too much.",
            **named,
        )
    if too_high:
        return _(
            "%(component)s of %(wanted)s %% cannot be reached: there is at most %(best)s %%, %(gap)s percentage points "
            "too little.",
            **named,
        )
    return _(
        "%(component)s of %(wanted)s %% cannot be reached: there is at least %(best)s %%, %(gap)s percentage points "
        "too much.",
        **named,
    )


def _quantities_in_the_way(failed: Reach) -> list[Said]:
    said = []
    if failed.short_of:
        said.append(_("There is too little of: %(streams)s.", streams=", ".join(failed.short_of)))
    if failed.forced:
        said.append(_("In the way is what must be used up of: %(streams)s.", streams=", ".join(failed.forced)))
    return said


def _joined(sentences: Sequence[Said]) -> Said:
    whole = sentences[0]
    for one in sentences[1:]:
        whole = _("%(first)s %(then)s", first=whole, then=one)
    return whole
