"""A wash beside its plan: every step, their order, the velocity in the line, and how it was sanitized."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from django.utils.translation import gettext_lazy as _

from plant.calculators.washing_asks import ASKS
from plant.calculators.washing_rows import plan_of, record_of
from plant.calculators.working import BY_DEFINITION, Calculator, Given, Step, Table, Values, Working, joined
from plant.process.errors import CalculationError
from plant.process.holding_tube import reynolds_number
from plant.process.limits import SEVERITY, Judged, Limit, Outcome, judge_number
from plant.process.properties import water_density_kg_m3, water_viscosity_mpas
from plant.process.said import Said, say
from plant.process.units import CELSIUS, FAHRENHEIT, exact, exact_difference, plain
from plant.process.washing import (
    Measured,
    WashResult,
    flow_for_velocity_l_per_h,
    judge_chlorine,
    judge_hot_water,
    judge_wash,
    line_velocity_m_s,
)
from plant.rules import Rule, rule_set

CAUTIONS = (
    say(
        "Times, temperatures and strengths belong to each circuit and are validated with the supplier of the "
        "detergent; no statute fixes them."
    ),
    say("A wash as planned is not proof of a clean surface: look, and swab or test rinses as your plan says."),
    say("The label of a sanitizer governs its strength and contact time; mix no chlorine with acid."),
)


def _weak(values: Values) -> tuple[Said, ...]:
    """100 mg/L or as labelled: 21 CFR 178.1010, 40 CFR 180.940 (from memory). Looking twice: common practice."""
    least, label = _rule("sanitize-chlorine").low, values["label"]
    if values["sanitizer"] != "chlorine" or label is None or label.value >= Decimal(least):
        return ()
    text = say(
        "The label strength given is below the rule's %(least)s mg/L: it stands only where the label of this very "
        "sanitizer says so for this use.",
        least=least,
    )
    return (text,)


def _work(values: Values) -> Working:
    wash = judge_wash(plan_of(values["plan"]), record_of(values["record"]))
    velocity, steps = _velocity(values)
    sanitized = _sanitized(values)
    steps += _sanitizing_steps(sanitized)
    parts = [wash.outcome, *(one.outcome for one in (velocity, sanitized) if one is not None)]
    outcome = min(parts, key=SEVERITY.index)
    open_ones = [name for name, one in _named(wash, velocity, sanitized) if one is not Outcome.MET]
    return Working(
        answer=_answer(outcome, open_ones),
        steps=(_order_step(wash), *steps),
        cautions=(*_weak(values), *CAUTIONS),
        verdict="met" if outcome is Outcome.MET else "not met",
        margin=_margin(wash),
        tables=(_table(wash),),
    )


def _answer(outcome: Outcome, open_ones: Sequence[str]) -> Said:
    if outcome is Outcome.MET:
        return say("Everything that was recorded is as the plan wants it.")
    words = {"parts": ", ".join(dict.fromkeys(open_ones))}
    if outcome is Outcome.NOT_MET:
        return say("Not as the plan wants it: %(parts)s.", **words)
    return say("Not proven, because the record does not show it: %(parts)s.", **words)


def _named(wash: WashResult, velocity: Judged | None, sanitized: Judged | None) -> list[tuple[str, Outcome]]:
    named: list[tuple[str, Outcome]] = [(one.name, one.outcome) for one in wash.steps]
    named.append((say("order of the steps"), wash.order.outcome))
    for name, one in ((say("velocity"), velocity), (say("sanitizing"), sanitized)):
        if one is not None:
            named.append((name, one.outcome))
    return named


def _margin(wash: WashResult) -> str:
    """The tightest time and the tightest temperature."""
    said = []
    for quantity, unit in (("time", "min"), ("temperature", FAHRENHEIT)):
        tight = [
            (exact_difference(one.judged.margin, one.judged.limit.unit, unit), step.name)
            for step in wash.steps
            for one in step.findings
            if one.quantity == quantity and one.judged.margin is not None and one.judged.limit is not None
        ]
        if tight:
            margin, name = min(tight)
            words = {"quantity": say(quantity), "margin": plain(margin, 3), "unit": unit, "step": name}
            said.append(say("Least margin in %(quantity)s: %(margin)s %(unit)s (%(step)s).", **words))
    return joined(said)


def _order_step(wash: WashResult) -> Step:
    return Step(
        say("Order of the steps"), wash.order.reasons[0], say(wash.order.outcome.value), _source(_rule("cip-regimen"))
    )


def _table(wash: WashResult) -> Table:
    rows = [
        (
            step.name,
            say(one.quantity) if one.quantity else "",
            say(one.judged.outcome.value),
            joined(one.judged.reasons),
        )
        for step in wash.steps
        for one in step.findings
    ]
    return Table(
        say("Each step against the plan"),
        (say("step"), say("quantity"), say("result"), say("why")),
        tuple(rows),
    )


def _velocity(values: Values) -> tuple[Judged | None, list[Step]]:
    if values["flow"] is None and values["bore"] is None:
        return None, []
    if values["flow"] is None or values["bore"] is None:
        raise CalculationError(say("The velocity needs both the flow and the bore."))
    flow, bore = values["flow"].to("L/h"), values["bore"].to("mm")
    rule = _rule("cip-velocity")
    limit = Limit(rule.id, rule.quantity, rule.unit, low=Decimal(rule.low), clause=rule.clause)
    velocity = line_velocity_m_s(flow, bore)
    judged = judge_number(Decimal(f"{velocity:.6f}"), limit.unit, None, [limit])
    needed = flow_for_velocity_l_per_h(float(rule.low), bore)
    steps = [
        Step(
            say("Velocity in the line: %(limit)s is wanted", limit=limit.words()),
            f"v = Q/A = {flow / 3.6e6:.4g}/(pi/4 x {bore / 1000:.4g}^2)",
            f"{velocity:.3f} m/s",
            _source(rule),
        ),
        Step(
            say("Flow that this line needs"),
            f"{rule.low} x pi/4 x {bore / 1000:.4g}^2 x 3.6e6",
            f"{needed:.0f} L/h = {float(exact(Decimal(repr(needed)), 'L/h', 'gal/min')):.1f} gal/min",
            BY_DEFINITION,
        ),
    ]
    if flow > 0:
        warm = 20.0 if values["solution"] is None else values["solution"].to(CELSIUS)
        density, viscosity = water_density_kg_m3(warm), water_viscosity_mpas(warm)
        reynolds = reynolds_number(flow / 3.6e6, bore / 1000, density, viscosity / 1000)
        steps.append(
            Step(
                say("Reynolds number, as water of %(warm)s °C", warm=f"{warm:g}"),
                f"Re = rho v D/mu = {density:.1f} x {velocity:.3f} x {bore / 1000:.4g}/{viscosity / 1000:.4g}",
                f"{reynolds:.0f}",
                say("by definition; turbulent above about 4000 (from memory)"),
            )
        )
    return judged, steps


def _sanitized(values: Values) -> Judged | None:
    """Hot water and chlorine have one row or two of the rule set each."""
    how = values["sanitizer"]
    if how == "none":
        return None
    minutes = _measured(values["contact"])
    if how == "hot water":
        hot = _rule("sanitize-hot")
        row = (
            Limit(hot.id, "temperature", hot.unit, low=Decimal(hot.low), clause=hot.clause),
            Limit(hot.id, "time", "min", low=Decimal(hot.minutes), clause=hot.clause),
        )
        return judge_hot_water([row], _measured(values["outlet"]), minutes, _said(values["at_outlet"]))
    strength, contact = _rule("sanitize-chlorine"), _rule("sanitize-chemical")
    least = values["label"].value if values["label"] is not None else Decimal(strength.low)
    limits = [
        Limit(strength.id, "strength", strength.unit, low=least, clause=strength.clause),
        Limit(contact.id, "time", contact.unit, low=Decimal(contact.low), clause=contact.clause),
    ]
    given = _measured(values["strength"])
    return judge_chlorine(limits, given, minutes, _said(values["fresh"]), _said(values["wet"]))


def _sanitizing_steps(sanitized: Judged | None) -> list[Step]:
    if sanitized is None:
        return []
    clauses = dict.fromkeys(one.limit.clause for one in (sanitized, *sanitized.others) if one.limit is not None)
    source = "; ".join(clauses)
    return [Step(say("Sanitizing"), joined(sanitized.reasons), say(sanitized.outcome.value), source)]


def _measured(given: Given | None) -> Measured | None:
    return None if given is None else Measured(given.value, given.unit)


def _said(answer: str) -> bool | None:
    return {"yes": True, "no": False}.get(answer)


def _rule(key: str) -> Rule:
    return rule_set("us").rows[key]


def _source(rule: Rule) -> str:
    return f"{rule.clause} ({rule.basis})"


CALCULATOR = Calculator(
    key="washing",
    title=_("A wash against its plan"),
    purpose=_(
        "Whether the record of a wash (CIP) shows what the plan wants: each step's time, temperature, strength and "
        "flow, the order, the velocity in the line and how it was sanitized. What is missing is not proven."
    ),
    asks=ASKS,
    work=_work,
)
