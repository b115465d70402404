"""What a judgement gives: segments of flow, the verdict of each second, crossings of the valve, findings."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from plant.process.limits import SEVERITY, Outcome
from plant.process.said import Said
from plant.process.trace_judging.values import Cause, FlowState, Kind


def in_seconds(milliseconds: int) -> Decimal:
    """Milliseconds as seconds, exactly."""
    return Decimal(milliseconds).scaleb(-3)


@dataclass(frozen=True, slots=True)
class Segment:
    """Flow in one state from `start_ms` until `end_ms` [ms]; of length 0 for a state seen at one moment alone."""

    state: FlowState
    start_ms: int
    end_ms: int

    @property
    def seconds(self) -> Decimal:
        """How long [s]."""
        return in_seconds(self.end_ms - self.start_ms)


@dataclass(frozen=True, slots=True)
class Span:
    """The verdict on temperature and time from `start_ms` until `end_ms` [ms]: `row` of `product_class`, its id."""

    outcome: Outcome
    start_ms: int
    end_ms: int
    product_class: str
    row: str

    @property
    def seconds(self) -> Decimal:
        """How long [s]."""
        return in_seconds(self.end_ms - self.start_ms)


@dataclass(frozen=True, slots=True)
class Comparison:
    """The recorder beside the indicating thermometer at `at_ms` [ms]; `difference`: recording less indicating."""

    at_ms: int
    indicating: Fraction
    recording: Fraction
    difference: Fraction
    unit: str


@dataclass(frozen=True, slots=True)
class Crossing:
    """The valve going to forward (CUT_IN) or leaving it (CUT_OUT) at `at_ms` [ms].

    `temperature`: the first, or last, in forward flow, the worse of as recorded and corrected; `beside`: the recorded
    neighbor on the other side of the moment. Both in `unit`, the row's, None where there is none; `row` its id.
    """

    kind: Kind
    at_ms: int
    outcome: Outcome
    temperature: Fraction | None
    beside: Fraction | None
    unit: str
    row: str


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that is not met, not proven or past an operating limit.

    From `start_ms` until `end_ms` [ms]: the last sample in limits before and the first after, or where flow began or
    ended. `seconds` [s] of it that count (forward flow, where only that does). `extreme` exact in `unit`, the
    governing unit; None where there is no number. `lots` that were flowing. `contradicting`: how many of its samples
    have a second value; the worse was taken. `side`: 1 out of a bound from below, -1 from above, 0 neither.
    """

    kind: Kind
    cause: Cause
    outcome: Outcome
    start_ms: int
    end_ms: int
    seconds: Decimal
    channel: str
    extreme: Fraction | None
    unit: str
    rule: str
    clause: str
    basis: str
    sentence: Said
    lots: tuple[str, ...]
    contradicting: int = 0
    side: int = 0

    @property
    def proven(self) -> bool:
        """Whether the trace proves it; False: nothing proves that it was in limits."""
        return self.outcome is not Outcome.NOT_PROVEN


def worst_of(outcomes: Iterable[Outcome]) -> Outcome:
    """The worst of one or more."""
    return min(outcomes, key=SEVERITY.index)


@dataclass(frozen=True, slots=True)
class Judgement:
    """All that a pasteurizer's trace comes to, in order of time.

    `segments` touch and cover the span. `spans` cover every moment of forward flow, and every one at which nobody knows
    whether there was any, unless a band says that there was no product.
    """

    segments: tuple[Segment, ...]
    spans: tuple[Span, ...]
    crossings: tuple[Crossing, ...]
    comparisons: tuple[Comparison, ...]
    findings: tuple[Finding, ...]

    def seconds(self, outcome: Outcome) -> Decimal:
        """Time with this verdict on temperature and time [s]."""
        return sum((one.seconds for one in self.spans if one.outcome is outcome), Decimal(0))

    @property
    def outcome(self) -> Outcome:
        """The worst of all; without any forward flow nothing is proven."""
        flowed = [one.outcome for one in self.spans] or [Outcome.NOT_PROVEN]
        return worst_of([*flowed, *(one.outcome for one in self.findings)])


@dataclass(frozen=True, slots=True)
class Washing:
    """Heat of a wash that shows in a trace, from `start_ms` to `end_ms` [ms]; `hottest` exact in `unit`."""

    start_ms: int
    end_ms: int
    hottest: Fraction
    unit: str

    @property
    def seconds(self) -> Decimal:
        """How long [s]."""
        return in_seconds(self.end_ms - self.start_ms)


@dataclass(frozen=True, slots=True)
class CooledFill:
    """A fill and its cooling: `cooled_ms` [ms] the first sample in limits for good, None where none was in time."""

    at_ms: int
    deadline_ms: int
    outcome: Outcome
    cooled_ms: int | None


@dataclass(frozen=True, slots=True)
class TankJudgement:
    """All that a tank's trace comes to, in order of time.

    `held_s` [s]: time with product; `met_s` [s] of it in limits (past an operating limit, and waiting for the time of a
    cooling, included), and proven.
    """

    findings: tuple[Finding, ...]
    cooled: tuple[CooledFill, ...]
    washings: tuple[Washing, ...]
    held_s: Decimal
    met_s: Decimal

    @property
    def outcome(self) -> Outcome:
        """The worst of all; where no product was held, nothing is proven."""
        held = Outcome.MET if self.held_s else Outcome.NOT_PROVEN
        return worst_of([held, *(one.outcome for one in self.findings), *(one.outcome for one in self.cooled)])
