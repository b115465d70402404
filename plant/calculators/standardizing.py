"""Standardizing: several streams blended to wanted contents, with the proof of the answer."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.translation import gettext_lazy as _
from django.utils.translation import gettext_noop

from plant.calculators.asks import optional_ask
from plant.calculators.stream_rows import (
    BEFORE_HEAT,
    BY_MASS,
    CONSERVATION,
    LEAST_OF,
    MASSES,
    TEST_IT,
    UNIT,
    amounts,
    cost_steps,
    folded,
    least_of,
    mass,
    masses,
    named_parts,
    once,
    per_unit,
    picture,
    proof_table,
    refused,
    taken_as_water,
    targets_ask,
    targets_of,
    wanted,
    worst_miss,
)
from plant.calculators.words import CONTENTS
from plant.calculators.working import Ask, Calculator, Step, Values, Working, in_unit, number
from plant.process.errors import CalculationError
from plant.process.said import say
from plant.process.standardizing import Blend, CannotBlend, Proof, Stream, Target, blend, pearson_square

CAUTIONS = (BY_MASS, TEST_IT, BEFORE_HEAT)
SQUARE = "University of Guelph, https://www.uoguelph.ca/foodscience/book-page/standardization-problems"
PROGRAM = say("linear program over the balances of mass (HiGHS)")


def _work(values: Values) -> Working:
    unit = values["unit"]
    names: dict[str, str] = {}
    streams = [_stream(row, unit, names) for row in values["streams"]]
    targets = targets_of(values["targets"], names)
    least = least_of(values["least_of"], streams)
    try:
        found = blend(streams, targets, in_unit(values["total"], "kg"), least)
    except CannotBlend as error:
        caption = say("Proof of the nearest blend, which does not meet the targets")
        miss = say("the nearest blend misses by up to %(miss)s percentage points", miss=worst_miss(error))
        return refused(error, unit, caption, miss, CAUTIONS)
    made = masses(streams, found.masses_kg, unit)
    return Working(
        answer=say("%(streams)s make %(total)s.", streams=made, total=mass(found.total_kg, unit)),
        verdict="met" if targets else "",
        margin=_margin(found.proof),
        steps=(
            *_square_steps(streams, targets, found, unit),
            *_balance_steps(streams, found, unit),
            *_choice_steps(streams, found, least, unit),
        ),
        cautions=(*taken_as_water(streams), *CAUTIONS),
        tables=(proof_table(found.proof, unit, say("Proof")),),
        picture=picture(streams, found.masses_kg, found.proof, unit, "standardizing"),
    )


def _stream(row: tuple[str, ...], unit: str, names: dict[str, str]) -> Stream:
    """One row; `names` gathers components under their folded names, as first written."""
    name, composition, low, high, price = row
    parts = []
    for component, percent in named_parts(composition):
        kept = names.setdefault(folded(component), component)
        parts.append((kept, number(percent, say("%(component)s of %(stream)s", component=kept, stream=name))))
    return Stream(name, once(parts, name), *amounts(price, low, high, unit, name))


def _margin(proof: Proof) -> str:
    room = []
    for target, percent in zip(proof.targets, proof.percents, strict=True):
        if target is not None and not target.exact:
            ends = [abs(percent - end) for end in (target.low, target.high) if end is not None]
            room.append((min(ends), target.component))
    if not room:
        return say("every target to the digit")
    least, component = min(room)
    return say(
        "%(room)s percentage points to the nearest end (%(component)s)", room=f"{least:.3f}", component=component
    )


def _square_steps(streams: Sequence[Stream], targets: Sequence[Target], found: Blend, unit: str) -> list[Step]:
    """The Pearson square, where two streams and one value make one."""
    if len(streams) != 2 or len(targets) != 1 or not targets[0].exact or targets[0].low is None:
        return []
    component, at = targets[0].component, targets[0].low
    rich, lean = sorted(streams, key=lambda one: -one.percent(component))
    if rich.percent(component) == lean.percent(component):
        return []
    square = pearson_square(rich.percent(component), lean.percent(component), at)
    parts = square.rich_parts + square.lean_parts
    what, total = say("Pearson square, parts of %(stream)s", stream=rich.name), mass(found.total_kg, unit)
    return [
        Step(what, f"{at:g} - {lean.percent(component):g}", f"{square.rich_parts:.6g}", SQUARE),
        Step(
            say("Pearson square, parts of %(stream)s", stream=lean.name),
            f"{rich.percent(component):g} - {at:g}",
            f"{square.lean_parts:.6g}",
            SQUARE,
        ),
        *(
            Step(
                say("Mass of %(stream)s", stream=stream.name),
                f"{share:.6g} / {parts:.6g} x {total}",
                mass(found.total_kg * share / parts, unit),
                SQUARE,
            )
            for stream, share in ((rich, square.rich_parts), (lean, square.lean_parts))
        ),
    ]


def _balance_steps(streams: Sequence[Stream], found: Blend, unit: str) -> list[Step]:
    used = [(one, kg) for one, kg in zip(streams, found.masses_kg, strict=True) if kg > 0]
    one_unit = per_unit(unit)
    steps = [
        Step(
            say("Mass of the blend"),
            " + ".join(f"{kg / one_unit:.3f}" for _one, kg in used),
            mass(found.total_kg, unit),
            CONSERVATION,
        )
    ]
    proof = found.proof
    for name, percent, target in zip(proof.components, proof.percents, proof.targets, strict=True):
        if target is None:
            continue
        terms = [f"{kg / one_unit:.3f} x {one.percent(name):g}" for one, kg in used if one.percent(name)]
        steps.append(
            Step(
                say("%(component)s of the blend, %(wanted)s wanted", component=name, wanted=wanted(target)),
                f"({' + '.join(terms) or '0'}) / {found.total_kg / one_unit:.3f}",
                f"{percent:.3f} %",
                CONSERVATION,
            )
        )
    return steps


def _choice_steps(streams: Sequence[Stream], found: Blend, least: str | None, unit: str) -> list[Step]:
    steps = []
    if least is not None:
        place = [one.name for one in streams].index(least)
        steps.append(
            Step(
                say("Least of %(stream)s that meets the targets", stream=least),
                say("no blend with less meets them"),
                mass(found.masses_kg[place], unit),
                PROGRAM,
            )
        )
    steps += cost_steps(streams, found.masses_kg, found.cost, unit, PROGRAM)
    if not found.only_answer:
        rooms = [
            f"{one.name} {low / per_unit(unit):.3f}–{mass(high, unit)}"
            for one, (low, high) in zip(streams, found.spread_kg, strict=True)
            if high - low > 1e-6 * found.total_kg
        ]
        steps.append(
            Step(
                say("Other answers that are as good"),
                say("shown is the one with most of the streams in their order"),
                ", ".join(rooms),
                PROGRAM,
            )
        )
    return steps


def _checked(values: Values) -> Working:
    if not values["targets"] and values["total"] is None:
        raise CalculationError(say("Give a target, or the quantity to be made."))
    return _work(values)


CALCULATOR = Calculator(
    key="standardizing",
    title=_("Standardizing"),
    purpose=_("Blend streams to wanted contents of fat, solids-not-fat or anything else, with the proof."),
    asks=(
        Ask(
            name="streams",
            label=_("Streams, one a line"),
            kind="rows",
            columns=(_("stream"), _("contents, %"), _("use at least"), _("use at most"), _("price")),
            words={1: CONTENTS},
            names=(gettext_noop("whole milk"), gettext_noop("skim powder"), gettext_noop("water")),
            example="whole milk; fat 5.0, SNF 9.0; ; ; \nskim powder; fat 0.5, SNF 96; ; ; \nwater; ; ; ; ",
            help=_(
                "Contents in percent by mass: fat 4, SNF 8.8. At least and at most the same: it is used up. Empty: "
                "as much as is wanted."
            ),
        ),
        targets_ask(
            "targets",
            _("Wanted, one a line"),
            _("component"),
            "fat; 3.0; 3.0\nSNF; 8.5; 8.5",
            _("The same twice for one value; leave one end empty for a bound."),
            required=False,
        ),
        optional_ask(
            "total",
            _("Quantity to be made"),
            MASSES,
            0.001,
            1e7,
            "500 kg",
            _("Leave it empty when what is to be used of a stream sets it."),
        ),
        UNIT,
        LEAST_OF,
    ),
    work=_checked,
)
