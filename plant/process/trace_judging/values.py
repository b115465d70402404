"""What a trace is judged by, as plain values: channels and signals, products, set-ups, runs, limits, clauses.

Moments are whole milliseconds since 1970 UTC [ms], on the recorder's clock. A value is a whole number of 10^-places of
its channel's unit, so that the last digit decides as it was written.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from plant.process.limits import Limit
from plant.process.pasteurization.numbers import exactly
from plant.process.pasteurization.rows import Method, Row
from plant.process.said import say as _
from plant.process.trace_blocks import Samples

Exact = int | Decimal | Fraction


class FlowState(StrEnum):
    """Where the product goes; UNKNOWN where no signal says it."""

    FORWARD = "forward flow"
    DIVERTED = "diverted"
    STOPPED = "stopped"
    UNKNOWN = "not known"


class Kind(StrEnum):
    """What a finding is about."""

    TEMPERATURE = "temperature"
    HOLDING = "holding time"
    SET_UP = "set-up"
    SIGNAL = "forward-flow signal"
    PRODUCT = "product"
    RECORDER = "recorder"
    CUT_IN = "cut-in"
    CUT_OUT = "cut-out"
    COOLING = "cooling"
    PRESSURE = "pressure difference"
    STORAGE = "storage"
    WASH = "wash"
    CLOCK = "clock"
    LIMIT = "limit"


class Cause(StrEnum):
    """Why: what the process did, what the record lacks, or a fault of the instrument."""

    PROCESS = "process"
    GAP = "nothing recorded"
    TOO_SLOW = "recorded too slowly"
    NO_CHANNEL = "no such channel"
    SENSOR_FAILED = "sensor reported a failure"
    OUT_OF_RANGE = "outside the instrument's range"
    SPIKE = "spike"
    JUMP = "jump"
    FLAT = "flat line"
    CLOCK_OFF = "clock off"
    NOT_CHECKED = "not checked"
    NO_PRODUCT = "no product named"
    NO_FORWARD_FLOW = "no forward flow seen"
    NO_ROW = "no row for the class"
    NO_SET_UP = "no set-up named"
    NOT_COVERED = "class not covered"
    CHANGED_IN_FLOW = "set-up changed in forward flow"
    HOLD_SHORT = "hold too short"
    TOO_FAST = "flow too fast"
    NO_TEST = "no test of record"
    TEST_OVERDUE = "test overdue"
    SEAL_BROKEN = "seal broken"
    PUMP_WORKED_ON = "pump worked on"
    NOT_COMPARED = "not compared"
    READS_HIGHER = "recorder reads higher"
    OUT_OF_TOLERANCE = "out of tolerance"
    TOO_LATE = "too late"
    WASHING = "washing"
    NOT_SHOWN = "not shown by the trace"
    NOT_RECORDED = "not recorded"


@dataclass(frozen=True, slots=True)
class FaultRules:
    """What tells a fault of a sensor from an event of the process; None: not looked for.

    `flat_ms` [ms]: unchanged for so long, a sensor may be stuck. `fastest_per_s` [unit of the channel per second]: no
    faster can what is measured change. `spike_ms` [ms]: the longest from the first to the last sample of a spike, 0 for
    one sample alone; what comes back later, or never, is a jump. `lowest`, `highest` [unit of the channel]: what the
    instrument can measure; a broken wire often reads far beyond it, and that is no pass.
    """

    flat_ms: int | None = None
    fastest_per_s: Exact | None = None
    spike_ms: int = 0
    lowest: Exact | None = None
    highest: Exact | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Channel:
    """What one instrument recorded, in `unit`.

    `slowest_ms` [ms]: the longest step between two samples that the plan allows. `contradicting`: other values for
    moments of `samples`, of which one may come several times; the worst counts. `correction` [unit], added for the
    corrected value; `errors` [unit], reading less reference, that a later calibration found and that may have been
    there then. The worst of as recorded and corrected counts. `vouched_ms` [ms]: when somebody compared it with another
    instrument, which ends the doubt of a jump.
    """

    name: str
    unit: str
    samples: Samples
    slowest_ms: int
    contradicting: Samples | None = None
    faults: FaultRules | None = None
    correction: Exact = 0
    vouched_ms: tuple[int, ...] = ()
    errors: tuple[Exact, ...] = ()

    @property
    def downward(self) -> Fraction:
        """What makes the corrected value least [unit]: for a bound from below."""
        return min(self._corrections())

    @property
    def upward(self) -> Fraction:
        """What makes it greatest [unit]: for a bound from above."""
        return max(self._corrections())

    def _corrections(self) -> list[Fraction]:
        return [exactly(_("value"), self.correction), *(-exactly(_("value"), one) for one in self.errors)]


@dataclass(frozen=True, slots=True, eq=False)
class Signal:
    """A yes or no that was recorded: samples of 1 and 0, no places. A state holds from its sample to the next one.

    `slowest_ms` [ms] as of a Channel. Of contradicting samples the 1 counts: product may have flowed.
    """

    name: str
    samples: Samples
    slowest_ms: int
    contradicting: Samples | None = None


@dataclass(frozen=True, slots=True)
class Band:
    """What was in the line or tank from `start_ms` until `end_ms` [ms]: class of product and lot.

    An empty class says that it was no product (water, a wash, a day without production): nothing is asked then.
    """

    start_ms: int
    end_ms: int
    product_class: str
    lot: str = ""


@dataclass(frozen=True, slots=True)
class SetUpWindow:
    """The approved set-up in use from `start_ms` until `end_ms` [ms].

    `hold_s` [s] of the last test of record, made at `tested_ms` [ms] (None: none), which counts until `counts_until_ms`
    [ms] (None: still); `ended_by` says why it ended: TEST_OVERDUE, SEAL_BROKEN or PUMP_WORKED_ON. `classes` that it
    was approved for. `method` None: rows of any continuous method. `top_rate` in `top_rate_unit` only where a meter
    sets the time: the fastest flow that the test covers; a sealed timing pump has none and is not judged by flow.
    """

    start_ms: int
    end_ms: int
    name: str
    hold_s: Exact
    classes: tuple[str, ...]
    tested_ms: int | None
    counts_until_ms: int | None = None
    ended_by: Cause = Cause.TEST_OVERDUE
    method: Method | None = None
    top_rate: Exact | None = None
    top_rate_unit: str = ""


@dataclass(frozen=True, slots=True)
class Indicated:
    """The indicating thermometer as read at `at_ms` [ms]: `value` in `unit`.

    `recording`: what was read on the recorder at that moment, in `unit`; None takes the trace's own sample. It ends the
    doubt of a jump only where the trace shows no more than that.
    """

    at_ms: int
    value: Exact
    unit: str
    recording: Exact | None = None


@dataclass(frozen=True, slots=True)
class Run:
    """A run from `start_ms` until `end_ms` [ms] with its indicating readings: the worst of them counts throughout."""

    start_ms: int
    end_ms: int
    indicated: tuple[Indicated, ...] = ()


@dataclass(frozen=True, slots=True)
class Watched:
    """A channel held against a limit while flow is in one of the states `during`.

    `classes` of product that it is for, None for all. `strict`: a bound itself does not meet it, as where one pressure
    has to be above another. States other than forward flow are looked at only while a band names a product.
    """

    kind: Kind
    channel: Channel | None
    limit: Limit
    during: tuple[FlowState, ...] = (FlowState.FORWARD,)
    classes: tuple[str, ...] | None = None
    strict: bool = False


@dataclass(frozen=True, slots=True)
class Bound:
    """A size in `unit` that a difference may have."""

    value: Exact
    unit: str


@dataclass(frozen=True, slots=True)
class ClockCheck:
    """The recorder's clock beside a right one: at its `at_ms` [ms] it was `ahead_ms` [ms] ahead (below 0: late)."""

    at_ms: int
    ahead_ms: int


@dataclass(frozen=True, slots=True)
class Cited:
    """Where a rule stands: its id in the rule set, its clause, and how far its text was read."""

    rule: str
    clause: str
    basis: str


@dataclass(frozen=True, slots=True)
class Clauses:
    """The rules behind findings that no row or limit brings along; the defaults are those of the US rule set.

    Addresses: ATCP 65.66 and 65.68, https://docs-preview.legis.wisconsin.gov/code/admin_code/atcp/055/65; 1 NYCRR 3.27,
    http://nyrules.elaws.us/nycrr/title1_chapteri_subchaptera_part3_20_1_s3.27; 7 Pa. Code 59.212,
    http://www.pacode.com/secure/data/007/chapter59/s59.212.html.
    """

    trace: Cited = Cited("chart-trace", "ATCP 65.66(3)(c)", "state mirror")
    forward: Cited = Cited("chart-forward", "ATCP 65.66(3)(e); 1 NYCRR 3.27(a)(10)", "state mirror")
    cut: Cited = Cited("chart-cut-in", "ATCP 65.66(3)(f); 1 NYCRR 3.27(a)(11)", "state mirror")
    product: Cited = Cited("chart-product", "ATCP 65.66(3)(h); 1 NYCRR 3.27(a)(6)", "state mirror")
    indicator: Cited = Cited("chart-indicator", "ATCP 65.66(3)(d),(g)", "state mirror")
    # The wording read is that for vats; for continuous flow the same is from memory.
    not_higher: Cited = Cited("recorder-not-higher", "PMO 16p; vat wording in 1 NYCRR 2.45(b)(2)", "from memory")
    tolerance: Cited = Cited("recorder-accuracy", "Ala. 420-3-17-.05", "text consulted")
    test: Cited = Cited("test-holding-time", "La. 51 VII-313; ATCP 65.68(3),(4)", "text consulted")
    seals: Cited = Cited("seals", "ATCP 65.68(1),(5)", "text consulted")
    meter: Cited = Cited("chart-meter", "ATCP 65.66(4)(c),(d)", "text consulted")
    set_up: Cited = Cited("", "a set-up is changed while stopped or diverted", "common practice, no source")
    clock: Cited = Cited("chart-quarter", "1 NYCRR 3.27(a)(4),(5)", "text consulted")
    storage: Cited = Cited("raw-recorder", "7 Pa. 59.212(a)", "state mirror")
    wash: Cited = Cited("cip-record", "7 Pa. 59.212(b)", "state mirror")


@dataclass(frozen=True, slots=True, eq=False)
class PasteurizerTrace:
    """All of a continuous pasteurizer's trace from `start_ms` to `end_ms` [ms], and what it is judged by.

    `temperature` at the holding tube's end; `forward` 1 for a diversion device in forward flow; `running` 1 for a
    timing pump that turns (None: stopped is not told from diverted); `flow` of a meter. `rows` of each product class.
    `tolerance`: how far below the indicating thermometer the recorder may read. `clock_ms` [ms]: how far off the clock
    may be (None: not judged). Give the arrays a step more than the span on both sides.
    """

    start_ms: int
    end_ms: int
    temperature: Channel | None
    forward: Signal | None
    bands: tuple[Band, ...]
    set_ups: tuple[SetUpWindow, ...]
    runs: tuple[Run, ...]
    rows: Mapping[str, tuple[Row, ...]]
    running: Signal | None = None
    flow: Channel | None = None
    watched: tuple[Watched, ...] = ()
    tolerance: Bound | None = None
    clock_ms: int | None = None
    clock_checks: tuple[ClockCheck, ...] = ()
    clauses: Clauses = field(default_factory=Clauses)


@dataclass(frozen=True, slots=True)
class TimedLimit:
    """A limit of a tank's product. `total_s` [s]: time out of it that the plan allows altogether; 0: none.

    `at_once_s` [s] without a break; None: not limited by itself. `waits`: its bounds from above wait while a fill's
    cooling has its time.
    """

    limit: Limit
    total_s: Exact = 0
    at_once_s: Exact | None = None
    classes: tuple[str, ...] | None = None
    waits: bool = True


@dataclass(frozen=True, slots=True)
class CoolingAfter:
    """Cooling after filling: at `high` or below within `within_s` [s]; `never_above`: the warmest a blend may get.

    Both in `unit`, the unit that the rule is written in.
    """

    high: Exact
    unit: str
    within_s: Exact
    never_above: Exact | None = None
    cited: Cited = Cited("", "", "plant rule")


@dataclass(frozen=True, slots=True)
class Fill:
    """A fill whose cooling has a time: it begins at `at_ms` [ms] (end of milking or of filling, as the rule says).

    `from_ms` [ms]: when it began to flow in, warm; None: at once.
    """

    at_ms: int
    cooling: CoolingAfter
    from_ms: int | None = None

    @property
    def start_ms(self) -> int:
        """Since when what is in the tank may be warm [ms]."""
        return self.at_ms if self.from_ms is None else min(self.from_ms, self.at_ms)


@dataclass(frozen=True, slots=True)
class WashSign:
    """How a wash shows in a trace: at `low` in `unit` or above for `seconds` [s] on end. The plant's own values."""

    low: Exact
    unit: str
    seconds: Exact


@dataclass(frozen=True, slots=True, eq=False)
class TankTrace:
    """A tank's trace from `start_ms` to `end_ms` [ms], and what it is judged by.

    `bands`: when it held product. `washes`: (start, end) [ms] of the washes that were recorded.
    """

    start_ms: int
    end_ms: int
    temperature: Channel | None
    bands: tuple[Band, ...]
    limits: tuple[TimedLimit, ...]
    fills: tuple[Fill, ...] = ()
    washes: tuple[tuple[int, int], ...] = ()
    wash: WashSign | None = None
    clock_ms: int | None = None
    clock_checks: tuple[ClockCheck, ...] = ()
    clauses: Clauses = field(default_factory=Clauses)
