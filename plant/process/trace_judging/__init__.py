"""Traces of recorders judged: a pasteurizer's run, a storage tank; faults of sensors told apart from the process.

Pure: channels as arrays, products, set-ups, runs and limits as plain values; findings out. Compared exactly in the unit
that a rule is written in. Nothing is interpolated, a gap is never a pass, and nothing here approves a product: findings
are facts for people to act on, and the regulator, the sealed controls and the licensed practice keep the last word.
"""

from plant.process.trace_judging.faults import ClockState, Fault, judge_clock, sensor_faults
from plant.process.trace_judging.findings import (
    Comparison,
    CooledFill,
    Crossing,
    Finding,
    Judgement,
    Segment,
    Span,
    TankJudgement,
    Washing,
)
from plant.process.trace_judging.flow import flow_segments
from plant.process.trace_judging.grouping import grouped
from plant.process.trace_judging.pasteurizer import judge_pasteurizer
from plant.process.trace_judging.recorder import compare_recorder
from plant.process.trace_judging.tank import judge_tank
from plant.process.trace_judging.values import (
    Band,
    Bound,
    Cause,
    Channel,
    Cited,
    Clauses,
    ClockCheck,
    CoolingAfter,
    FaultRules,
    Fill,
    FlowState,
    Indicated,
    Kind,
    PasteurizerTrace,
    Run,
    SetUpWindow,
    Signal,
    TankTrace,
    TimedLimit,
    WashSign,
    Watched,
)
from plant.process.trace_judging.washes import washes_shown
from plant.process.trace_judging.whole import greatest_passing, least_passing, samples_of

__all__ = [
    "Band",
    "Bound",
    "Cause",
    "Channel",
    "Cited",
    "Clauses",
    "ClockCheck",
    "ClockState",
    "Comparison",
    "CooledFill",
    "CoolingAfter",
    "Crossing",
    "Fault",
    "FaultRules",
    "Fill",
    "Finding",
    "FlowState",
    "Indicated",
    "Judgement",
    "Kind",
    "PasteurizerTrace",
    "Run",
    "Segment",
    "SetUpWindow",
    "Signal",
    "Span",
    "TankJudgement",
    "TankTrace",
    "TimedLimit",
    "WashSign",
    "Washing",
    "Watched",
    "compare_recorder",
    "flow_segments",
    "greatest_passing",
    "grouped",
    "judge_clock",
    "judge_pasteurizer",
    "judge_tank",
    "least_passing",
    "samples_of",
    "sensor_faults",
    "washes_shown",
]
