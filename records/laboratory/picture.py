"""The trend of a test as a picture: counts on a scale of tens, with the limit that judged them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from statistics import median

from django.utils.translation import gettext as _

from plant.pictures.control_chart import control_chart_svg
from plant.process.laboratory import Kind, Test
from records.judging.models import Verdict
from records.laboratory.models import LabResult, Sample


def trend_chart(pairs: list[tuple[Sample, LabResult]], verdicts: Mapping[int, Verdict], test: Test) -> str:
    """The chart, empty without a number. Counts stand as their logarithm; "<10" stands at 10, TNTC has no point.

    The upper line is the limit that each verdict names, the middle one the median of what is shown; no limits of
    control are computed here.
    """
    counts = test.kind is Kind.COUNT
    values = [_height(float(one.value), counts) if one.value is not None else math.nan for _taken, one in pairs]
    there = [value for value in values if math.isfinite(value)]
    if not there:
        return ""
    middle = median(there)
    limits = [_limit(verdicts.get(one.number), counts) for _taken, one in pairs]
    upper = [one if one is not None else math.nan for one in limits]  # what no limit judged has none here
    over = {
        at: _("out of limits") for at, (_taken, one) in enumerate(pairs, 1)
        if one.number in verdicts and verdicts[one.number].outcome == "not met"
    }  # fmt: skip
    words = {
        "title": _("Trend of a test"), "point": _("result"), "center": _("median"),
        "limit": _("limit of the plan"), "upper": _("limit of the plan"), "signal": _("out of limits"),
        "none": _("nothing out of limits"),
    }  # fmt: skip
    unit = _("log10 %(unit)s") % {"unit": test.unit} if counts else test.unit
    none = [math.nan] * len(values)  # a count has no limit below
    return control_chart_svg(values, [middle] * len(values), none, upper, over, unit, words, ident="lab-trend")


def _height(value: float, counts: bool) -> float:
    return math.log10(max(value, 1.0)) if counts else value


def _limit(verdict: Verdict | None, counts: bool) -> float | None:
    high = verdict.numbers.get("high") if verdict is not None else None
    return _height(float(high), counts) if high else None
