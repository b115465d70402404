"""The most probable number from the tubes of a dilution series."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from django.utils.translation import gettext_lazy as _

from plant.calculators.working import BY_DEFINITION, Ask, Calculator, Step, Table, Values, Working, number
from plant.process.errors import CalculationError
from plant.process.said import Said, say
from plant.process.sampling_plans import Dilution, ProbableNumber, most_probable_number

BAM = "maximum likelihood; FDA BAM, appendix 2 (from memory)"
INTERVALS = {
    "exact": "Clopper and Pearson 1934, over the outcomes in order of their estimate (from memory)",
    "likelihood ratio": "Wilks 1938 (from memory)",
    "log-normal": "Jarvis, Wilrich and Wilrich, J. Appl. Microbiol. 109:1660, 2010 (from memory)",
}
JARVIS = INTERVALS["log-normal"]
CAUTIONS = (
    say("It is an estimate with a wide interval: compare the interval with a limit, not only the number."),
    say("It holds when organisms are spread at random in the sample and one of them is enough to turn a tube."),
    say("The table of the official method governs a reported result."),
)
RARE = say(
    "This outcome is unlikely at any concentration: look for a mistake in the dilutions, the tubes or the reading."
)
_POWER = re.compile(r"(?:1e|10\^)-([0-9]{1,2})")


def _work(values: Values) -> Working:
    unit = values["unit"]
    dilutions = [_dilution(row, place) for place, row in enumerate(values["tubes"], 1)]
    method = None if values["method"] == "best" else values["method"]
    found = most_probable_number(dilutions, float(values["confidence"].value) / 100, method)
    cautions = (*CAUTIONS, RARE) if found.rarity < 0.05 else CAUTIONS
    return Working(
        answer=_answer(found, unit),
        steps=_steps(found, dilutions, unit),
        cautions=cautions,
        tables=(_expected(found, dilutions),),
    )


def _answer(found: ProbableNumber, unit: str) -> Said:
    words = {
        "number": found.text,
        "unit": unit,
        "low": _short(found.low),
        "high": _short(found.high),
        "level": f"{100 * found.confidence:g}",
        "method": found.method_words,
    }
    if found.mpn == 0:
        return say("%(number)s per %(unit)s; at most %(high)s (%(level)s %%, %(method)s).", **words)
    if math.isinf(found.mpn):
        return say("%(number)s per %(unit)s; at least %(low)s (%(level)s %%, %(method)s).", **words)
    return say("%(number)s per %(unit)s; %(low)s to %(high)s (%(level)s %%, %(method)s).", **words)


def _steps(found: ProbableNumber, dilutions: Sequence[Dilution], unit: str) -> tuple[Step, ...]:
    total = sum(one.tubes * one.portion for one in dilutions)
    terms = " + ".join(
        f"{one.positive} x {one.portion:g}/(1 - exp(-{one.portion:g} x MPN))" for one in dilutions if one.positive
    )
    if found.mpn == 0:
        how, result = say("no tube is positive"), found.text
    elif math.isinf(found.mpn):
        how, result = say("every tube is positive"), found.text
    else:
        how, result = say("%(equation)s", equation=f"{terms} = {total:g}"), f"{found.mpn:.4g}"
    return (
        Step(say("Sample in all tubes"), "+ ".join(f"{one.tubes} x {one.portion:g} " for one in dilutions).strip(),
             f"{total:g} {unit}", BY_DEFINITION),
        Step(say("Most probable number, per %(unit)s", unit=unit), how, result, BAM),
        Step(
            say("Interval, %(level)s %%", level=f"{100 * found.confidence:g}"),
            found.method_words,
            say("%(low)s to %(high)s", low=_short(found.low), high=_short(found.high)),
            INTERVALS[found.method],
        ),
        Step(
            say("How likely this outcome is beside the likeliest one"),
            say("below 0.05 unlikely, below 0.01 very unlikely"),
            f"{found.rarity:.3g}",
            JARVIS,
        ),
    )  # fmt: skip


def _expected(found: ProbableNumber, dilutions: Sequence[Dilution]) -> Table:
    rows = []
    for one in dilutions:
        share = 1.0 if math.isinf(found.mpn) else -math.expm1(-one.portion * found.mpn)
        rows.append((f"{one.portion:g}", str(one.tubes), str(one.positive), f"{one.tubes * share:.2f}"))
    head = (say("sample in a tube"), say("tubes"), say("positive tubes"), say("positive expected at this number"))
    return Table(say("Tubes"), head, tuple(rows))


def _dilution(row: tuple[str, ...], place: int) -> Dilution:
    portion, tubes, positive = row
    counts = [number(text, say("Line %(line)s", line=str(place))) for text in (tubes, positive)]
    if any(one != int(one) for one in counts):
        raise CalculationError(say("Line %(line)s: tubes are counted in whole numbers.", line=str(place)))
    return Dilution(_portion(portion, place), int(counts[0]), int(counts[1]))


def _portion(text: str, place: int) -> float:
    """A number, or a power of ten for the far dilutions: 0.001, 1e-5, 10^-5."""
    power = _POWER.fullmatch(text.strip().casefold().replace("\N{MINUS SIGN}", "-"))
    if power:
        return float(f"1e-{power[1]}")
    return number(text, say("Line %(line)s", line=str(place)))


def _short(value: float) -> str:
    if value == 0:
        return "0"
    return "∞" if math.isinf(value) else f"{float(f'{value:.2g}'):.10g}"


CALCULATOR = Calculator(
    key="mpn",
    title=_("Most probable number"),
    purpose=_("The concentration that makes the positive tubes of a dilution series most likely, with its interval."),
    asks=(
        Ask(
            name="tubes",
            label=_("Dilutions, one a line"),
            kind="rows",
            columns=(_("sample in a tube (g or mL)"), _("tubes"), _("positive tubes")),
            example="0.1; 3; 3\n0.01; 3; 1\n0.001; 3; 0",
            help=_("The original sample that one tube holds: 0.1, or 1e-5 for a far dilution."),
        ),
        Ask(
            name="unit",
            label=_("Per"),
            kind="choice",
            choices=(("g", "g"), ("mL", "mL")),
            example="g",
        ),
        Ask(name="confidence", label=_("Interval"), units=("%",), low=50, high=99.9, example="95 %"),
        Ask(
            name="method",
            label=_("Method of the interval"),
            kind="choice",
            choices=(
                ("best", _("exact where possible, else likelihood ratio")),
                ("exact", _("exact")),
                ("likelihood ratio", _("likelihood ratio")),
                ("log-normal", _("log-normal approximation")),
            ),
            example="best",
        ),
    ),
    work=_work,
)
