"""A second judgement of traces, written apart: plain loops over every millisecond and sample, fractions, no arrays.

Nothing of plant.process.trace_judging is used. A moment is a whole millisecond; what lies between t and t + 1 is called
by t. A state of flow or a temperature is looked for anew at each of them, by walking over all samples.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

Sampled = list[tuple[int, Fraction | None]]  # (moment, value or None for a failed one), in order


def around(samples: Sampled, at: Fraction) -> tuple[int, int]:
    """The places of the last sample at or before a moment and of the first at or after it; -1 and len for none."""
    before = -1
    while before + 1 < len(samples) and samples[before + 1][0] <= at:
        before += 1
    if before >= 0 and samples[before][0] == at:
        return before, before
    return before, before + 1


def proving(samples: Sampled) -> Sampled:
    """Those with a value."""
    return [one for one in samples if one[1] is not None]


def unbroken(samples: Sampled, start: int, end: int, slowest: int) -> bool:
    """Whether nothing is missing between two samples with a value."""
    failed = any(start < moment < end for moment, value in samples if value is None)
    return end - start <= slowest and not failed


def state(samples: Sampled, at: Fraction, slowest: int) -> Fraction | None:
    """What a signal says at a moment; None for not known."""
    good = proving(samples)
    before, after = around(good, at)
    if before == after:
        return good[before][1]
    if before < 0 or after == len(good) or not unbroken(samples, good[before][0], good[after][0], slowest):
        return None
    return good[before][1]


@dataclass
class Limited:
    """A channel in loops: `out` says which values are out, given a moment; `counts` when a sample counts."""

    samples: Sampled
    slowest: int
    out: Callable[[Fraction, Fraction], bool]
    counts: Callable[[Fraction], bool]
    known: dict[int, tuple[bool, bool, list[Fraction]]] = field(default_factory=dict)

    def ends(self, t: int) -> tuple[list[Fraction], bool]:
        """The values that decide between t and t + 1, and whether the step there is unbroken."""
        good = proving(self.samples)
        before, _same = around(good, Fraction(t))
        _same, after = around(good, Fraction(t + 1))
        sides = [good[place] for place in (before, after) if 0 <= place < len(good)]
        whole = len(sides) == 2 and unbroken(self.samples, sides[0][0], sides[1][0], self.slowest)
        chosen = [one for one in sides if self.counts(Fraction(one[0]))] or sides
        return [value for _moment, value in chosen if value is not None], whole

    def at(self, t: int) -> list[Fraction]:
        """The values that are out around a moment without a sample of its own, when they take it with them."""
        good = proving(self.samples)
        before, after = around(good, Fraction(t))
        sides = [good[place] for place in (before, after) if 0 <= place < len(good)]
        whole = len(sides) == 2 and unbroken(self.samples, sides[0][0], sides[1][0], self.slowest)
        chosen = [one for one in sides if self.counts(Fraction(one[0]))] or sides
        bad = [value for _moment, value in chosen if value is not None and self.out(value, Fraction(t))]
        return bad if whole or len(bad) == 2 else []

    def between(self, t: int) -> tuple[bool, bool, list[Fraction]]:
        """Between t and t + 1: (out, not proven, values that are out)."""
        if t not in self.known:
            values, whole = self.ends(t)
            bad = [one for one in values if self.out(one, t + Fraction(1, 2))]
            self.known[t] = (bool(bad) if whole else len(bad) == 2), not whole, bad
        return self.known[t]


def excursions(
    one: Limited, inside: Callable[[int], object], owner: Callable[[Fraction], object], start: int, end: int
) -> list[tuple[int, int, list[Fraction]]]:
    """Unbroken times out (from, until, values out), also of no length: a sample out that touches none of them.

    inside: what the time between t and t + 1 belongs to, None for nothing; owner: the same of a moment.
    """
    found: list[tuple[int, int, list[Fraction]]] = []
    touched: set[tuple[int, object]] = set()
    last: object = None
    for t in range(start, end):
        belongs = inside(t)
        out, _unproven, bad = one.between(t) if belongs is not None else (False, False, [])
        if out:
            touched |= {(t, belongs), (t + 1, belongs)}
            if found and found[-1][1] == t and last == belongs == owner(Fraction(t)):
                found[-1] = (found[-1][0], t + 1, found[-1][2] + bad)
            else:
                found.append((t, t + 1, bad))
            last = belongs
    for moment, value in proving(one.samples):
        belongs = owner(Fraction(moment))
        if value is None or belongs is None or not start <= moment <= end:
            continue
        if one.out(value, Fraction(moment)) and (moment, belongs) not in touched:
            found.append((moment, moment, [value]))
    own = {moment for moment, _value in proving(one.samples)}
    for t in range(start, end + 1):
        # A moment that stands alone, and no sample of its own.
        belongs = owner(Fraction(t))
        if belongs is None or t in own or belongs in (inside(t), inside(t - 1)):
            continue
        if bad := one.at(t):
            found.append((t, t, bad))
    return sorted(found, key=lambda each: each[:2])


def worst(values: Sequence[Fraction], low: bool) -> Fraction:
    """The value that is furthest out."""
    return min(values) if low else max(values)
