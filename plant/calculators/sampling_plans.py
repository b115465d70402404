"""A sampling plan: what it accepts, what results say against it, how many samples a protection needs, running rules."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from django.utils.translation import gettext_lazy as _

from plant.calculators.sampling_plans_asks import ASKS, samples_of
from plant.calculators.working import BY_DEFINITION, Calculator, Given, Step, Table, Values, Working, joined
from plant.pictures.oc_curve import oc_curve_svg
from plant.process.errors import CalculationError
from plant.process.limits import Outcome
from plant.process.said import Said, say
from plant.process.sampling_plans import (
    Plan,
    accept_lognormal,
    accept_two_class,
    defective_at,
    judge_samples,
    oc_curve,
    protection_c0,
    read_count,
    running_rule,
    sample_size_c0,
)

ICMSF = "ICMSF, Microorganisms in Foods 7 (from memory)"
EU = "Commission Regulation (EC) 2073/2005, annex I (from memory)"
PMO = 'Grade "A" PMO, Section 6; 2 of 4: Okla. Stat. 2-7-409(B) (state mirror); 3 of 5: from memory'
SHARES = (0.01, 0.02, 0.05, 0.10, 0.20, 0.30, 0.50)
CHANCES = (0.95, 0.5, 0.05)
CAUTIONS = (
    say(
        "No plan proves a lot free of anything: a lot that is bad in a few units passes nearly every plan. "
        "A met result releases nothing."
    ),
    say("The probabilities hold for samples drawn at random from the whole lot, and for a method without error."),
    say("The regulator's own count of samples and notices governs, not this one."),
)


@dataclass(frozen=True, slots=True)
class _Part:
    """What one part adds: steps, a sentence, an outcome where something is judged, tables."""

    steps: tuple[Step, ...]
    said: Said | None = None
    outcome: Outcome | None = None
    margin: str = ""
    tables: tuple[Table, ...] = ()


def _work(values: Values) -> Working:
    plan, sd = _plan(values), float(values["sd"].value)
    accepted, picture = _accepted(plan, sd)
    parts = [accepted, _judged(plan, values), _needed(values), _running(values)]
    judged = [one.outcome for one in parts if one.outcome is not None]
    said = [one.said for one in parts if one.said is not None]
    verdict = ""
    if judged:
        verdict = "met" if all(one is Outcome.MET for one in judged) else "not met"
    return Working(
        answer=joined(said),
        steps=tuple(step for one in parts for step in one.steps),
        cautions=CAUTIONS,
        verdict=verdict,
        margin=next((one.margin for one in parts if one.margin), ""),
        tables=tuple(table for one in parts for table in one.tables),
        picture=picture,
    )


def _plan(values: Values) -> Plan:
    n, c = _whole(values["n"], "n"), _whole(values["c"], "c")
    if c >= n:
        raise CalculationError(say("c must be below n."))
    m, big_m = values["m"].value, None if values["big_m"] is None else values["big_m"].value
    if big_m is not None and big_m < m:
        raise CalculationError(say("M cannot lie below m."))
    return Plan(n, c, m, big_m)


def _whole(given: Given, name: str) -> int:
    if given.value != int(given.value):
        raise CalculationError(say("%(name)s must be a whole number.", name=name))
    return int(given.value)


def _accepted(plan: Plan, sd: float) -> tuple[_Part, str]:
    """The operating characteristic: against the share above m in two classes, against the mean log count in three."""
    if plan.big_m is None or plan.m == 0:
        return _two_class(plan)
    low, high = math.log10(plan.m), math.log10(plan.big_m)
    means = np.linspace(low - 3 * sd, high + 2 * sd, 161)
    curve = [(float(mean), accept_lognormal(plan.n, plan.c, low, high, float(mean), sd)) for mean in means]
    at_m = accept_lognormal(plan.n, plan.c, low, high, low, sd)
    step = Step(
        say("Probability of passing when the mean lies at m"),
        f"sum of C(n, i) pm^i (1 - pm - pd)^(n - i), n = {plan.n}, c = {plan.c}, sd = {sd:g}",
        f"{at_m:.3f}",
        ICMSF,
    )
    rows = [
        (f"{10**mean:.3g}", f"{mean:.2f}", f"{accept_lognormal(plan.n, plan.c, low, high, mean, sd):.3f}")
        for mean in (low - 2 * sd, low - sd, low, (low + high) / 2, high, high + sd)
    ]
    table = Table(
        say("How often a lot passes, counts log-normal"),
        (say("geometric mean"), say("its log10"), say("probability of passing")),
        tuple(rows),
    )
    said = say(
        "A lot whose counts have their geometric mean at m passes with probability %(chance)s.", chance=f"{at_m:.2f}"
    )
    marks = [min(curve, key=lambda one: abs(one[1] - chance)) for chance in CHANCES]
    words = {**_words(), "across": str(_("log10 of the geometric mean"))}
    return _Part((step,), said, tables=(table,)), oc_curve_svg(curve, marks, words)


def _two_class(plan: Plan) -> tuple[_Part, str]:
    n, c = plan.n, plan.c
    often, even, seldom = (defective_at(n, c, chance) for chance in CHANCES)
    steps = tuple(
        Step(
            say("Share above m of a lot that passes with probability %(chance)s", chance=f"{chance:g}"),
            f"sum of C({n}, i) p^i (1 - p)^({n} - i), i = 0 to {c}, = {chance:g}",
            f"{100 * share:.2f} %",
            ICMSF,
        )
        for chance, share in zip(CHANCES, (often, even, seldom), strict=True)
    )
    table = Table(
        say("How often a lot passes"),
        (say("share above m"), say("probability of passing")),
        tuple((f"{100 * share:g} %", f"{accept_two_class(n, c, share):.3f}") for share in SHARES),
    )
    said = say(
        "A lot with %(share)s %% of its units above m still passes with probability 0.05.", share=f"{100 * seldom:.1f}"
    )
    across = np.linspace(0.0, min(1.0, 1.25 * seldom), 161)
    curve = list(zip((100 * across).tolist(), oc_curve(n, c, across).tolist(), strict=True))
    marks = [(100 * share, chance) for chance, share in zip(CHANCES, (often, even, seldom), strict=True)]
    return _Part(steps, said, tables=(table,)), oc_curve_svg(curve, marks, _words())


def _judged(plan: Plan, values: Values) -> _Part:
    rows = values["results"]
    if not rows:
        return _Part(())
    verdict = judge_samples(plan, [read_count(text) for (text,) in rows])
    why = joined(verdict.reasons)
    limits = f"n = {plan.n}, c = {plan.c}, m = {plan.m:f}" + ("" if plan.big_m is None else f", M = {plan.big_m:f}")
    step = Step(say("The results against the plan"), limits, why, EU)
    said = say("Results: %(outcome)s. %(why)s", outcome=say(verdict.outcome.value), why=why)
    margin = (
        say("%(spare)s more above m would be within the plan", spare=str(verdict.spare))
        if verdict.spare >= 0
        else say("%(over)s too many above m, unclear ones counted", over=str(-verdict.spare))
    )
    return _Part((step,), said, verdict.outcome, margin)


def _needed(values: Values) -> _Part:
    """How many samples with c = 0 find a share of bad units, and what the plan's own n would find."""
    share, confidence = float(values["share"].value) / 100, float(values["confidence"].value) / 100
    lot = None if values["lot"] is None else _whole(values["lot"], "lot")
    needed = sample_size_c0(share, confidence, lot)
    found = protection_c0(_whole(values["n"], "n"), confidence)
    how = "(1 - p)^n <= 1 - confidence" if lot is None else "C(N - D, n)/C(N, n) <= 1 - confidence"
    return _Part(
        (
            Step(
                say(
                    "Samples, none of them bad, that reject %(share)s %% bad with %(confidence)s %% confidence",
                    share=f"{100 * share:g}",
                    confidence=f"{100 * confidence:g}",
                ),
                how,
                str(needed),
                BY_DEFINITION,
            ),
            Step(
                say("Share that this plan's n would find so, with c = 0"),
                f"1 - (1 - {confidence:g})^(1/{values['n'].value:f})",
                f"{100 * found:.1f} %",
                BY_DEFINITION,
            ),
        )
    )


def _running(values: Values) -> _Part:
    if not values["samples"]:
        return _Part(())
    if values["limit"] is None:
        raise CalculationError(say("The running rule needs the limit of those samples."))
    states = running_rule(samples_of(values["samples"]), values["limit"].value)
    now = states[-1]
    counted = say(
        "above the limit: %(over_notice)s of the last %(of_notice)s, %(over_action)s of the last %(of_action)s",
        over_notice=str(now.over_notice),
        of_notice=str(now.of_notice),
        over_action=str(now.over_action),
        of_action=str(now.of_action),
    )
    if now.action:
        result = say("three of the last five above the limit: action on the permit")
    elif now.notice:
        result = say(
            "two of the last four above the limit: written notice; next sample after %(after)s, by %(by)s",
            after=str(now.resample_after),
            by=str(now.resample_by),
        )
    else:
        result = say("neither rule is reached")
    step = Step(say("Running rule"), counted, result, PMO)
    rows = [
        (
            one.day.isoformat(),
            f"{one.value:f}",
            say("above") if one.over else "",
            say("action") if one.action else say("notice") if one.notice else "",
        )
        for one in states
    ]
    table = Table(
        say("Samples by day"), (say("day"), say("value"), say("limit"), say("after this sample")), tuple(rows)
    )
    said = say("Running rule: %(result)s.", result=result)
    # A rule that is not reached makes nothing met: one sample above the limit is above it.
    missed = now.notice or now.action or now.over
    return _Part((step,), said, Outcome.NOT_MET if missed else None, tables=(table,))


def _words() -> dict[str, str]:
    return {
        "title": str(_("Operating characteristic")),
        "across": str(_("share above m, %")),
        "upward": str(_("probability of passing")),
        "mark": str(_("passes with probability")),
        "at": str(_("at")),
    }


CALCULATOR = Calculator(
    key="sampling_plans",
    title=_("Sampling plan"),
    purpose=_(
        "How often lots pass a two- or three-class plan, what results say against it, how many samples a protection "
        "needs, and where the running rule of the milk rules stands."
    ),
    asks=ASKS,
    work=_work,
)
