"""Log reductions of a named organism by a recorded trace, over the published spread and the sensor's doubt."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import minimize_scalar

from plant.process.arrays import FloatArray, trace
from plant.process.errors import OutsideRange
from plant.process.lethality.arithmetic import LogReductions, log_reductions
from plant.process.lethality.organisms import EXTRAPOLATION_C, Organism, organism_of, zs_of
from plant.process.lethality.recorded import doubted, mean_rates, notice, rate_roots, unsaid_step
from plant.process.said import Said
from plant.process.said import say as _
from plant.process.trace import longer_steps


@dataclass(frozen=True, slots=True)
class Reduction:
    """What a trace does to an organism by the published line: from `least` to `most`, over D, z and the sensor's doubt.

    `counted_s` [s] of the trace are counted; `left_out_s` [s] were colder than an answer is given for, or a gap in the
    record, and count as nothing. `hottest_c` [°C] is the hottest reading. `sentences` say how it was got; `notice`
    belongs to every answer.
    """

    organism: Organism
    least: LogReductions
    most: LogReductions
    hottest_c: float
    counted_s: float
    left_out_s: float
    sentences: tuple[Said, ...]
    notice: Said

    def words(self) -> Said:
        """The answer in one sentence."""
        least, most = self.least.words(), self.most.words()
        if least == most:
            return _("%(organism)s: %(logs)s by the published line.", organism=self.organism.name, logs=least)
        return _(
            "%(organism)s: %(least)s at least and %(most)s at most by the published line.",
            organism=self.organism.name,
            least=least,
            most=most,
        )


def reduction(
    times_s: ArrayLike,
    temperatures_c: ArrayLike,
    organism: str,
    *,
    bias_c: float = 0.0,
    random_c: float = 0.0,
    step_s: float | None = None,
) -> Reduction:
    """Decimal reductions of an organism by a trace, with straight lines between its readings.

    `times_s` [s] and `temperatures_c` [°C], shape (n,), n >= 2, times rising; `organism` a key of ORGANISMS; `bias_c`,
    `random_c` [°C] and `step_s` [s] as in f_value. More than MOST_LOGS is said as more. A step with an end colder than
    the organism's coldest answer counts as nothing, and so does a gap in the record: without `step_s` every step longer
    than a minute.

    Range: the hottest reading within the organism's measured temperatures and EXTRAPOLATION_C beyond them; the rest as
    f_value.
    Raises: OutsideRange outside it; CalculationError for what is no trace, an unknown organism, or one without a z.
    Source: each organism names its own; log = integral of dt/D(T) by definition.

    >>> found = reduction([0, 15], [68.0, 68.0], "listeria")
    >>> round(found.most.logs, 2), found.words()
    (4.31, 'Listeria monocytogenes in whole milk: 4.3 log by the published line.')
    """
    known = organism_of(organism)
    times, levels = trace(times_s, temperatures_c)
    z_low, z_high = zs_of(known)
    hottest = float(levels.max())
    if not known.coldest_c <= hottest <= known.hottest_c:
        raise OutsideRange(
            _("hottest reading for %(organism)s", organism=known.name),
            hottest, known.coldest_c, known.hottest_c, "°C",
        )  # fmt: skip
    steps = np.diff(times)
    cold = np.minimum(levels[:-1], levels[1:]) < known.coldest_c
    gaps = longer_steps(steps, step_s)
    counted = np.where(cold | gaps, 0.0, steps)
    shown = np.maximum(levels, known.coldest_c)  # what is colder is not counted, and could not be weighed

    def ends(per_z: float) -> tuple[float, float]:
        return _ends(counted, shown, known.reference_c, per_z, bias_c, random_c)

    # F is convex in 1/z: the most lies at an end of the spread, the least may lie between.
    spread = (1 / z_high, 1 / z_low)
    low, high = min(ends(one)[0] for one in spread), max(ends(one)[1] for one in spread)
    if z_low < z_high:
        inner = minimize_scalar(lambda per_z: ends(float(per_z))[0], bounds=spread, method="bounded")
        low = min(low, float(inner.fun))
    return Reduction(
        organism=known,
        least=log_reductions(low, known.d_high_s),
        most=log_reductions(high, known.d_low_s),
        hottest_c=hottest,
        counted_s=float(counted.sum()),
        left_out_s=float(steps[cold | gaps].sum()),
        sentences=(
            *_sentences(known, hottest, float(steps[cold & ~gaps].sum()), float(steps[gaps].sum())),
            *unsaid_step(steps, step_s),
        ),
        notice=notice(),
    )


def _ends(
    steps: FloatArray, levels: FloatArray, reference_c: float, per_z: float, bias_c: float, random_c: float
) -> tuple[float, float]:
    slope = math.log(10) * per_z
    roots = rate_roots(levels, reference_c, slope)
    exact = float((steps * mean_rates(levels, roots, slope)).sum())
    _random_s, low, high = doubted(steps, roots * roots, (exact, exact), slope, bias_c, random_c)
    return low, high


def _sentences(known: Organism, hottest: float, cold_s: float, gaps_s: float) -> tuple[Said, ...]:
    said = [known.note]
    if hottest > known.measured_high_c:
        said.append(
            _(
                "The trace is up to %(above)s °C hotter than the trials (%(high)s °C); an answer is given up to "
                "%(span)s °C beyond them.",
                above=f"{hottest - known.measured_high_c:.3g}",
                high=f"{known.measured_high_c:g}",
                span=f"{EXTRAPOLATION_C:g}",
            )
        )
    if cold_s:
        said.append(
            _(
                "%(seconds)s s with a reading below %(cold)s °C count as nothing.",
                seconds=f"{cold_s:.6g}",
                cold=f"{known.coldest_c:g}",
            )
        )
    if gaps_s:
        said.append(_("%(seconds)s s of gaps in the record count as nothing.", seconds=f"{gaps_s:.6g}"))
    return tuple(said)
