"""Pasteurization: the class of a product, the rows that are its own, whether they are met, and by which set-up.

The rows come in as plain values (Row); this code reads no rule and knows no state. Comparisons are exact, in the unit
that a row is written in: 71.7 °C is 161.06 °F and meets 161 °F, though 72 °C is what the table prints. Nothing is
interpolated, and no lethality makes up for a row that is missed. Whether a product may be sold is never decided here.
"""

from plant.process.pasteurization.areas import general_missed
from plant.process.pasteurization.classes import (
    DAIRY_INGREDIENT,
    FEDERAL,
    ORDINANCE,
    Classified,
    Condition,
    Product,
    ProductClass,
    Triggers,
    Use,
    classify,
)
from plant.process.pasteurization.rows import (
    CONTINUOUS,
    Method,
    Row,
    methods_by_time,
    raised,
    rows_elsewhere,
    rows_for,
)
from plant.process.pasteurization.setups import (
    VISCOUS,
    Coverage,
    Homogenizer,
    SetUp,
    covering,
    last_valid_day,
    mean_hold_s,
)
from plant.process.pasteurization.vat import (
    Batch,
    BatchVerdict,
    Bound,
    VatCheck,
    VatRules,
    chart_hold_s,
    judge_batch,
    least_air_space,
)
from plant.process.pasteurization.verdict import Standing, Verdict, judge

__all__ = [
    "CONTINUOUS",
    "DAIRY_INGREDIENT",
    "FEDERAL",
    "ORDINANCE",
    "VISCOUS",
    "Batch",
    "BatchVerdict",
    "Bound",
    "Classified",
    "Condition",
    "Coverage",
    "Homogenizer",
    "Method",
    "Product",
    "ProductClass",
    "Row",
    "SetUp",
    "Standing",
    "Triggers",
    "Use",
    "VatCheck",
    "VatRules",
    "Verdict",
    "chart_hold_s",
    "classify",
    "covering",
    "general_missed",
    "judge",
    "judge_batch",
    "last_valid_day",
    "least_air_space",
    "mean_hold_s",
    "methods_by_time",
    "raised",
    "rows_elsewhere",
    "rows_for",
]
