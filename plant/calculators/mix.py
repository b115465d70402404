"""Ice cream mix: the masses that meet the targets, in steps of the scales, with density, cost and proof."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.translation import gettext_lazy as _
from django.utils.translation import gettext_noop

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
    kilograms,
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
    worst_miss,
)
from plant.calculators.words import CONTENTS, folded, listed, said_word
from plant.calculators.working import Ask, Calculator, Step, Table, Values, Working, number
from plant.process.errors import CalculationError
from plant.process.mix import (
    DENSITY_FORMS,
    GROUPS,
    PARTS,
    Ingredient,
    Mix,
    Weighable,
    formulate,
    msnf_balance,
    to_steps,
)
from plant.process.said import Said, say
from plant.process.standardizing import CannotBlend, Target, msnf_by_rule

CAUTIONS = (
    BY_MASS,
    TEST_IT,
    BEFORE_HEAT,
    say("Every ingredient brings its allergens. Check the label and the lot of each one before it goes in."),
    say("Whether the product meets its standard of identity is another check, on the finished product."),
)
DENSITY_SOURCE = "https://www.scribd.com/document/495662971/Overrun-calculations"
RULE_SOURCE = say("rule of ice cream makers, https://th4.ilovetranslation.com/lpEmzJCCHZr=d (read in a copy)")
# How people write a part beside the name it has here.
_NAMES = {
    **{folded(name): name for name in (*PARTS, *GROUPS)},
    "milk fat": "fat",
    "milkfat": "fat",
    "snf": "MSNF",
    "nonfat milk solids": "MSNF",
    "milk solids-not-fat": "MSNF",
    "sugar": "sucrose",
    "css": "corn syrup solids",
    "ts": "total solids",
}


def _work(values: Values) -> Working:
    unit = values["unit"]
    ingredients = [_ingredient(row, unit) for row in values["ingredients"]]
    targets = targets_of(values["targets"], _NAMES)
    required = targets_of(values["required"], _NAMES)
    form = values["density"]
    least = least_of(values["least_of"], ingredients)
    try:
        mix = formulate(ingredients, targets, values["total"].to("kg"), least, form)
    except CannotBlend as error:
        caption = say("Proof of the nearest mix, which does not meet the targets")
        miss = say("the nearest mix misses by up to %(miss)s percentage points", miss=worst_miss(error))
        return refused(error, unit, caption, miss, CAUTIONS)
    stepped = to_steps(mix, required, form)
    made = masses(ingredients, stepped.mix.masses_kg, unit)
    return Working(
        answer=say("%(ingredients)s make %(total)s.", ingredients=made, total=mass(stepped.mix.total_kg, unit)),
        verdict=("not met" if stepped.missed else "met") if required else "",
        margin=_margin(stepped, required) if required else "",
        steps=(
            *_solids_steps(stepped.mix),
            *_density_steps(stepped.mix, form),
            *cost_steps(ingredients, stepped.mix.masses_kg, stepped.mix.cost, unit, CONSERVATION),
            *_step_steps(stepped, unit),
        ),
        cautions=(*taken_as_water(ingredients), *CAUTIONS),
        tables=(
            _weighing_table(mix, stepped, unit),
            proof_table(mix.proof, unit, say("Proof of the exact masses")),
            proof_table(stepped.mix.proof, unit, say("Proof of the masses to weigh")),
        ),
        picture=picture(ingredients, stepped.mix.masses_kg, stepped.mix.proof, unit, "mix"),
    )


def _ingredient(row: tuple[str, ...], unit: str) -> Ingredient:
    name, contents, low, high, price, step = row
    written = [(said_word(_NAMES.get(folded(part), part)), percent) for part, percent in named_parts(contents)]
    fat = next((percent for part, percent in written if part == "fat"), "0")
    parts = [
        (part, _by_rule(part, fat, name) if percent == "rule" else number(percent, _of(part, name)))
        for part, percent in written
    ]
    return Ingredient(
        name,
        once(parts, name),
        *amounts(price, low, high, unit, name),
        kilograms(step, unit, say("scale resolution for %(stream)s", stream=name)),
    )


def _by_rule(part: str, fat: str, name: str) -> float:
    if part != "MSNF":
        raise CalculationError(say("%(stream)s: the 9 %% rule gives MSNF only.", stream=name))
    return msnf_by_rule(number(fat, _of("fat", name)))


def _of(part: str, name: str) -> str:
    return say("%(component)s of %(stream)s", component=part, stream=name)


def _margin(stepped: Weighable, required: Sequence[Target]) -> str:
    if stepped.missed:
        missed = listed([_with(one.required.component, f"{one.difference:+.4f}") for one in stepped.missed])
        return say("missed by (percentage points): %(missed)s", missed=missed)
    room = []
    for one in required:
        percent = stepped.mix.composition.get(one.component, 0.0)
        room += [(abs(percent - end), one.component) for end in (one.low, one.high) if end is not None]
    least, component = min(room)
    return say(
        "%(room)s percentage points to the nearest requirement (%(component)s)",
        room=f"{least:.4f}",
        component=said_word(component),
    )


def _with(name: str, value: str) -> Said:
    return Said("%(name)s %(value)s", {"name": said_word(name), "value": value})


def _solids_steps(mix: Mix) -> list[Step]:
    parts = {name: percent for name, percent in mix.composition.items() if name not in GROUPS and percent > 0}
    solids = mix.composition["total solids"]
    steps = [
        Step(
            say("Total solids"),
            listed([_with(name, f"{percent:.3f}") for name, percent in parts.items()], " + ") or "0",
            f"{solids:.3f} %",
            CONSERVATION,
        ),
        Step(say("Water"), f"100 - {solids:.3f}", f"{mix.composition['water']:.3f} %", CONSERVATION),
    ]
    fat, sugars = mix.composition.get("fat", 0.0), mix.composition["sugars"]
    firm = sum(mix.composition.get(name, 0.0) for name in ("stabilizer", "emulsifier"))
    if fat + sugars + firm <= 100:
        steps.append(
            Step(
                say(
                    "MSNF by the balance rule (more may turn sandy); the mix has %(msnf)s %%",
                    msnf=f"{mix.composition.get('MSNF', 0.0):.3f}",
                ),
                f"0.15 x (100 - {fat:.3f} - {sugars:.3f} - {firm:.3f})",
                f"{msnf_balance(fat, sugars, firm):.3f} %",
                RULE_SOURCE,
            )
        )
    return steps


def _density_steps(mix: Mix, form: str) -> list[Step]:
    if mix.density_kg_l is None or mix.lb_per_gal is None:
        return [
            Step(
                say("Density"),
                say("not worked out: fat or total solids lie outside the range of the formula"),
                "-",
                DENSITY_SOURCE,
            )
        ]
    fat = (mix.composition.get("fat", 0.0) + mix.composition.get("other fat", 0.0)) / 100
    solids, (fat_l, solids_l) = mix.composition["total solids"] / 100, DENSITY_FORMS[form]
    return [
        Step(
            say("Density, without air"),
            f"1 / ({fat_l} x {fat:.4f} + {solids_l} x ({solids:.4f} - {fat:.4f}) + {1 - solids:.4f})",
            f"{mix.density_kg_l:.4f} kg/L",
            DENSITY_SOURCE,
        ),
        Step(
            say("Weight of a US gallon"),
            f"{mix.density_kg_l:.4f} x 3.785411784 / 0.45359237",
            f"{mix.lb_per_gal:.3f} lb/gal",
            CONSERVATION,
        ),
    ]


def _step_steps(stepped: Weighable, unit: str) -> list[Step]:
    if not stepped.corrected_with:
        return []
    place = [one.name for one in stepped.mix.ingredients].index(stepped.corrected_with)
    return [
        Step(
            say("Difference of the rounded masses"),
            say("taken up by the largest dairy ingredient, %(name)s", name=stepped.corrected_with),
            mass(stepped.changes_kg[place], unit),
            say("common practice, no source"),
        )
    ]


def _weighing_table(mix: Mix, stepped: Weighable, unit: str) -> Table:
    one_unit = per_unit(unit)
    rows = [
        (
            one.name,
            f"{exact / one_unit:.4f}",
            "" if one.step_kg is None else f"{one.step_kg / one_unit:.6g}",
            f"{kg / one_unit:.4f}",
            f"{change / one_unit:+.4f}",
        )
        for one, exact, kg, change in zip(
            mix.ingredients, mix.masses_kg, stepped.mix.masses_kg, stepped.changes_kg, strict=True
        )
    ]
    return Table(
        say("To weigh, %(unit)s", unit=unit),
        (say("ingredient"), say("exact"), say("scale resolution"), say("weigh"), say("change")),
        tuple(rows),
    )


CALCULATOR = Calculator(
    key="mix",
    title=_("Ice cream mix"),
    purpose=_(
        "Masses of ingredients that make a mix with the wanted fat, MSNF, sugars and stabilizer, with the proof."
    ),
    asks=(
        Ask(
            name="ingredients",
            label=_("Ingredients, one a line"),
            kind="rows",
            columns=(
                _("ingredient"),
                _("contents, %"),
                _("use at least"),
                _("use at most"),
                _("price"),
                _("scale resolution"),
            ),
            words={1: CONTENTS},
            names=(
                gettext_noop("cream"), gettext_noop("whole milk"), gettext_noop("condensed skim"),
                gettext_noop("sucrose"), gettext_noop("corn syrup"), gettext_noop("stabilizer"),
            ),
            example=(
                "cream; fat 40, MSNF rule; ; ; 3.10; 0.5\n"
                "whole milk; fat 3.5, MSNF rule; ; ; 0.48; 0.5\n"
                "condensed skim; MSNF 35; ; ; 1.25; 0.1\n"
                "sucrose; sucrose 100; ; ; 1.05; 0.05\n"
                "corn syrup; corn syrup solids 80; ; ; 0.85; 0.05\n"
                "stabilizer; stabilizer 100; ; ; 11.00; 0.005"
            ),
            help=_(
                "Solids in percent by mass, the rest is water: fat, MSNF, sucrose, corn syrup solids, stabilizer, egg "
                "solids or any other name. MSNF rule: 9 % of what is not fat, for milk and cream."
            ),
        ),
        targets_ask(
            "targets",
            _("Wanted in the mix, one a line"),
            _("part"),
            "fat; 12; 12\nMSNF; 11; 11\nsucrose; 12; 12\ncorn syrup solids; 4; 4\nstabilizer; 0.3; 0.3",
            _("A part, or: sugars, milk solids, total solids, water. The same twice for one value."),
        ),
        Ask(name="total", label=_("Batch"), units=MASSES, low=0.001, high=1e7, example="500 kg"),
        UNIT,
        LEAST_OF,
        targets_ask(
            "required",
            _("Must hold after rounding, one a line"),
            _("part"),
            "fat; 11.9; \nmilk solids; 22.8; ",
            _("The masses in steps of the scales are judged by these."),
            required=False,
        ),
        Ask(
            name="density",
            label=_("Form of the density formula"),
            kind="choice",
            choices=(("short", _("1.075 and 0.63")), ("long", _("1.07527 and 0.6329"))),
            example="short",
        ),
    ),
    work=_work,
)
