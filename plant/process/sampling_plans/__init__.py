"""Sampling plans for microbiology: what they accept, what results say against them, counts by dilution, running rules.

No sampling plan proves a lot free of anything: a lot that is bad in a few units passes nearly every plan.
"""

from plant.process.sampling_plans.acceptance import (
    accept_lognormal,
    accept_three_class,
    accept_two_class,
    defective_at,
    oc_curve,
    protection_c0,
    sample_size_c0,
)
from plant.process.sampling_plans.probable_number import Dilution, ProbableNumber, most_probable_number
from plant.process.sampling_plans.results import Count, Plan, PlanVerdict, judge_samples, read_count
from plant.process.sampling_plans.running import RunningState, running_rule

__all__ = [
    "Count",
    "Dilution",
    "Plan",
    "PlanVerdict",
    "ProbableNumber",
    "RunningState",
    "accept_lognormal",
    "accept_three_class",
    "accept_two_class",
    "defective_at",
    "judge_samples",
    "most_probable_number",
    "oc_curve",
    "protection_c0",
    "read_count",
    "running_rule",
    "sample_size_c0",
]
