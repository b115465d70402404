"""Control charts: is a process as steady as it was, told apart from its ordinary scatter.

A chart says whether a process changed. It never says that product meets a limit: control limits come from the process,
critical limits from the plan.
"""

from plant.process.control_charts.factors import Factors, c4, d2, d3, factors
from plant.process.control_charts.rules import RULE_SETS, Rule, Signal, run_rules
from plant.process.control_charts.shewhart import Chart, Shewhart, individuals, xbar_r, xbar_s
from plant.process.control_charts.small_shifts import Cusum, Ewma, cusum, ewma

__all__ = [
    "RULE_SETS",
    "Chart",
    "Cusum",
    "Ewma",
    "Factors",
    "Rule",
    "Shewhart",
    "Signal",
    "c4",
    "cusum",
    "d2",
    "d3",
    "ewma",
    "factors",
    "individuals",
    "run_rules",
    "xbar_r",
    "xbar_s",
]
