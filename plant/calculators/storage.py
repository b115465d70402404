"""Cooling in time and cold storage: a trace judged by a rule, with the time out of limits."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext_lazy as _

from plant.calculators.asks import FAHRENHEIT_FIRST, TIMES, optional_ask
from plant.calculators.trace_rows import UNIT, gap_ask, hours, in_minutes, readings_ask, seconds, trace_of
from plant.calculators.working import BY_DEFINITION, Ask, Calculator, Step, Values, Working, in_unit
from plant.pictures.tank_chart import Trace, trace_svg
from plant.process.cooling import Cooled, CoolingRule, Span, TimeOut, judge_cooling, judge_time_out, time_out_of_limits
from plant.process.errors import CalculationError
from plant.process.limits import Outcome
from plant.process.said import Said, say
from plant.process.units import plain
from plant.rules import rule_set

OWN = "own"
PLANT_RULE = "plant rule"
# The row that holds once the milk of another row is cold.
ONCE_COLD = {"farm-2h": "farm-blend"}
CAUTIONS = (
    say("It supports an evaluation by a qualified person and never releases a product."),
    say("Which rule applies, the regulator, the state's own rule and the adopted edition of the ordinance decide."),
    say("Between readings nobody looked: the verdict counts each interval with an end out of limits as out."),
)


@dataclass(frozen=True, slots=True)
class _Rule:
    """The rule as it was chosen: limit with its unit, time to cool, limit afterwards, what may be out, where from."""

    high: Decimal
    unit: str
    within_s: float | None
    then_high: float | None
    allowed_s: float
    source: str


def _work(values: Values) -> Working:
    rule = _chosen(values)
    gap_s = values["gap"].to("s")
    minutes, levels = trace_of(values["readings"], values["unit"], rule.unit)
    times, temperatures = seconds(minutes), [float(one) for one in levels]
    work = _held if rule.within_s is None else _cooled
    return work(times, temperatures, rule, gap_s)


def _held(times: list[float], temperatures: list[float], rule: _Rule, gap_s: float) -> Working:
    """A product that is cold and must stay so."""
    high = float(rule.high)
    found = time_out_of_limits(times, temperatures, high=high, longest_gap_s=gap_s)
    outcome = judge_time_out(found, rule.allowed_s)
    left = high - max(temperatures)
    margin = _minutes_left(rule.allowed_s - found.most_s) if rule.allowed_s else _degrees_left(left, rule.unit)
    bad = [one > high for one in temperatures]
    trace = Trace(_points(times, temperatures), bad, {str(_("limit")): high}, _hours(found.spans), _hours(found.gaps))
    return Working(
        answer=_stored(outcome, found),
        steps=tuple(_time_steps(found, f"{plain(rule.high)} {rule.unit}", rule.source)),
        cautions=CAUTIONS,
        verdict=_verdict(outcome),
        margin=margin,
        picture=trace_svg(trace, rule.unit, _words()),
    )


def _cooled(times: list[float], temperatures: list[float], rule: _Rule, gap_s: float) -> Working:
    """A warm product that must be cold in time, and must stay so where the rule says so."""
    high = float(rule.high)
    cooling = CoolingRule(high, rule.within_s or 0.0, rule.then_high, rule.source)
    cooled = judge_cooling(times, temperatures, cooling, longest_gap_s=gap_s)
    steps, limits = _cooling_steps(cooled, rule), {str(_("limit")): high}
    cold = cooled.first.seen_s
    out: list[Span] = []
    gaps: list[Span] = []
    after = cooled.deadline_s if cold is None else min(cold, cooled.deadline_s)
    then = high if cold is None or rule.then_high is None else rule.then_high
    later = [place for place, at in enumerate(times) if cold is not None and at >= cold]
    if rule.then_high is not None and len(later) > 1:
        kept = [times[place] for place in later], [temperatures[place] for place in later]
        found = time_out_of_limits(*kept, high=rule.then_high, longest_gap_s=gap_s)
        steps += _time_steps(found, f"{rule.then_high:g} {rule.unit}", rule.source)
        out, gaps = _hours(found.spans), _hours(found.gaps)
        if rule.then_high != high:
            limits[str(_("limit afterwards"))] = rule.then_high
    bad = [value > then and at >= after for at, value in zip(times, temperatures, strict=True)]
    trace = Trace(_points(times, temperatures), bad, limits, out, gaps, cooled.deadline_s / 3600)
    return Working(
        answer=cooled.reason,
        steps=tuple(steps),
        cautions=CAUTIONS,
        verdict=_verdict(cooled.outcome),
        margin="" if cooled.margin_s is None else _minutes_left(cooled.margin_s),
        picture=trace_svg(trace, rule.unit, _words()),
    )


def _chosen(values: Values) -> _Rule:
    """The rule from the row of the rule set, or from what was typed for a rule of the plant's own."""
    key, limit, within, allowed = (values[name] for name in ("rule", "limit", "within", "allowed"))
    if key == OWN:
        if limit is None:
            raise CalculationError(say("A rule of the plant's own needs its limit."))
        within_s = in_unit(within, "s")
        then = float(limit.value) if within is not None else None
        return _Rule(limit.value, limit.unit, within_s, then, in_unit(allowed, "s") or 0.0, PLANT_RULE)
    if limit is not None or within is not None or allowed is not None:
        raise CalculationError(
            say("Limit, time to cool and time allowed belong to a rule of the plant's own: leave them empty here.")
        )
    rows = rule_set("us").rows
    row = rows[key]
    within_s, after = float(row.hours) * 3600 if row.hours else None, ONCE_COLD.get(key, "")
    source = f"{row.clause} ({row.basis})"
    return _Rule(Decimal(row.high), row.unit, within_s, float(rows[after].high) if after else None, 0.0, source)


def _stored(outcome: Outcome, found: TimeOut) -> Said:
    if outcome is Outcome.MET and not found.most_s:
        return say("All readings are in limits, and none lies too far from the next.")
    if outcome is Outcome.NOT_PROVEN:
        return say(
            "Not proven: readings lie too far apart for %(unproven)s, and nothing shows what happened between.",
            unproven=in_minutes(found.unproven_s),
        )
    return say(
        "Out of limits for about %(estimate)s altogether: %(least)s at least, %(most)s at most.",
        estimate=in_minutes(found.total_s),
        least=in_minutes(found.least_s),
        most=in_minutes(found.most_s),
    )


def _time_steps(found: TimeOut, limit: str, source: str) -> list[Step]:
    return [
        Step(
            say("Limit"),
            say("%(limit)s or below", limit=limit),
            say("%(out)s readings out", out=str(found.readings_out)),
            source,
        ),
        Step(
            say("Time out of limits, estimate"),
            say("a straight line between readings"),
            in_minutes(found.total_s),
            BY_DEFINITION,
        ),
        Step(say("At least"), say("intervals with both ends out"), in_minutes(found.least_s), BY_DEFINITION),
        Step(
            say("At most: what the verdict takes"),
            say("intervals with an end out"),
            in_minutes(found.most_s),
            BY_DEFINITION,
        ),
        Step(
            say("Longest without a break"),
            say("estimate; at most"),
            f"{in_minutes(found.longest_s)}; {in_minutes(found.longest_most_s)}",
            BY_DEFINITION,
        ),
        Step(
            say("Not proven"),
            say("both ends in limits, but readings too far apart"),
            in_minutes(found.unproven_s),
            BY_DEFINITION,
        ),
    ]


def _cooling_steps(cooled: Cooled, rule: _Rule) -> list[Step]:
    never = say("never")
    first = cooled.first
    steps = [
        Step(
            say("Time to cool"),
            say("%(limit)s or below within this time", limit=f"{plain(rule.high)} {rule.unit}"),
            in_minutes(cooled.deadline_s),
            rule.source,
        ),
        Step(
            say("First reading in limits: what the verdict takes"),
            say("a crossing between two readings is no proof"),
            never if first.seen_s is None else in_minutes(first.seen_s),
            BY_DEFINITION,
        ),
        Step(
            say("Crossing, estimate"),
            say("a straight line to the first reading in limits"),
            never if first.estimate_s is None else in_minutes(first.estimate_s),
            BY_DEFINITION,
        ),
    ]
    if rule.then_high is not None and cooled.warmest_after is not None:
        steps.append(
            Step(
                say("Warmest reading afterwards"),
                say("%(limit)s or below", limit=f"{rule.then_high:g} {rule.unit}"),
                f"{cooled.warmest_after:.1f} {rule.unit}",
                rule.source,
            )
        )
    return steps


def _minutes_left(left_s: float) -> Said:
    if left_s < 0:
        return say("%(minutes)s too much", minutes=in_minutes(-left_s))
    return say("%(minutes)s left", minutes=in_minutes(left_s))


def _degrees_left(left: float, unit: str) -> Said:
    degrees = f"{abs(left):.1f} {unit}"
    if left < 0:
        return say("warmest reading %(degrees)s above the limit", degrees=degrees)
    return say("warmest reading %(degrees)s below the limit", degrees=degrees)


def _verdict(outcome: Outcome) -> str:
    return "met" if outcome is Outcome.MET else "not met"


def _points(times: list[float], temperatures: list[float]) -> list[tuple[float, float]]:
    return list(zip(hours(times), temperatures, strict=True))


def _hours(spans: tuple[Span, ...]) -> list[Span]:
    return [(start / 3600, end / 3600) for start, end in spans]


def _words() -> dict[str, str]:
    return {
        "hours": str(_("hours since the start")),
        "trace": str(_("Temperature over time")),
        "out": str(_("counts as out")),
        "gap": str(_("not proven")),
        "deadline": str(_("by")),
        "out of limits": str(_("out of limits")),
        "to": str(_("to")),
    }


CALCULATOR = Calculator(
    key="storage",
    title=_("Cooling and cold storage"),
    purpose=_("Whether a product was cooled in time and stayed cold, and how long a trace was out of limits."),
    asks=(
        Ask(
            name="rule",
            label=_("Rule"),
            kind="choice",
            choices=(
                ("farm-2h", _("raw milk on the farm: 45 °F within 2 h of the end of milking, blends 50 °F")),
                ("farm-4h", _("raw milk on the farm: 50 °F within 4 h of the start of the first milking")),
                ("raw-cold", _("raw milk in the plant: 45 °F or below until processed")),
                ("pasteurized-cold", _("pasteurized product: held at 45 °F or below")),
                ("mix-cold", _("mix: 45 °F or below until frozen")),
                (OWN, _("a rule of the plant's own")),
            ),
            example="farm-2h",
        ),
        UNIT,
        readings_ask("0; 92\n30; 68\n60; 54\n90; 46\n105; 44\n120; 41\n135; 40\n150; 47\n165; 42\n180; 39"),
        gap_ask("30 min", _("Over a longer gap nothing is proven.")),
        optional_ask("limit", _("Own rule: upper limit"), FAHRENHEIT_FIRST, -40, 250),
        optional_ask("within", _("Own rule: cooled within"), TIMES, 1, 60 * 24 * 7),
        optional_ask(
            "allowed",
            _("Own rule: may be out of limits altogether"),
            TIMES,
            0,
            60 * 24 * 7,
            help_=_("Only for storage without a time to cool. It relaxes no rule of the law."),
        ),
    ),
    work=_work,
)
