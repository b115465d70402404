"""Rows of streams and targets that people type, and the proof table that answers them."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from plant.calculators.words import CONTENTS, known, said_word
from plant.calculators.working import Ask, Step, Table, Working, number
from plant.pictures.blend_levels import Level, blend_levels_svg
from plant.process.errors import CalculationError
from plant.process.mix import Ingredient
from plant.process.said import Said, again, say
from plant.process.standardizing import CannotBlend, Proof, Stream, Target
from plant.process.units import exact

Streams = Sequence[Stream | Ingredient]
CONSERVATION = say("conservation of mass, by definition")
MASSES = ("kg", "lb")
UNIT = Ask(
    name="unit",
    label=_("Unit of mass in the rows"),
    kind="choice",
    choices=(("kg", _("kilograms (kg)")), ("lb", _("pounds (lb)"))),
    example="kg",
    help=_("Prices are for one of it."),
)
LEAST_OF = Ask(
    name="least_of",
    label=_("Use as little as can be of"),
    kind="text",
    required=False,
    help=_("The name of a stream. Left empty: least cost where prices are given, else the streams in their order."),
)
BY_MASS = say("Weigh. A blend is a balance of masses: a gallon of cream weighs less than a gallon of milk.")
BEFORE_HEAT = say(
    "Blend before the pasteurizer. Whatever is added after it is not pasteurized; your hazard plan must say how that "
    "is controlled."
)
TEST_IT = say("Test the finished blend. The answer is as good as the tests of the streams that it starts from.")
LONGEST = 80  # of a name with its percentage
_PART = re.compile(r"(.*?\S)\s*[ =]\s*([-+]?[0-9.]+|rule)\s*%?", re.IGNORECASE)


def named_parts(text: str) -> list[tuple[str, str]]:
    """'fat 3.5, SNF 8.6' as names and written contents. Raises CalculationError."""
    found = []
    for part in (one.strip() for one in text.split(",")):
        if not part:
            continue
        match = _PART.fullmatch(part) if len(part) <= LONGEST else None
        if match is None:
            raise CalculationError(say("'%(part)s' is not a name and a percentage, such as: fat 3.5", part=part[:60]))
        found.append((said_word(" ".join(match[1].split())), match[2].casefold()))
    return found


def once(parts: Sequence[tuple[str, float]], stream: str) -> dict[str, float]:
    """Names and contents as a composition. Raises CalculationError for a name that is there twice."""
    names = [name for name, _percent in parts]
    for name in names:
        if names.count(name) > 1:
            raise CalculationError(say("%(stream)s: %(name)s is there twice.", stream=stream, name=name))
    return dict(parts)


def kilograms(text: str, unit: str, what: str) -> float | None:
    """A written mass in `unit` as kg, None where nothing is written. Raises CalculationError."""
    return None if not text else number(text, what) * per_unit(unit)


def amounts(price: str, low: str, high: str, unit: str, stream: str) -> tuple[float | None, float, float | None]:
    """What is written of a stream's price, least and greatest quantity, for a kg and in kg. Raises CalculationError."""
    return (
        price_per_kg(price, unit, stream),
        kilograms(low, unit, say("least quantity of %(stream)s", stream=stream)) or 0.0,
        kilograms(high, unit, say("greatest quantity of %(stream)s", stream=stream)),
    )


def per_unit(unit: str) -> float:
    """Kilograms in one unit of mass."""
    return float(exact(Decimal(1), unit, "kg"))


def price_per_kg(text: str, unit: str, stream: str) -> float | None:
    """A written price for one `unit` as one for a kg. Raises CalculationError."""
    return None if not text else number(text, say("price of %(stream)s", stream=stream)) / per_unit(unit)


def targets_ask(name: str, label: Any, part: Any, example: str, help_: Any, *, required: bool = True) -> Ask:
    """The ask for rows of a component (headed `part`) with its least and most."""
    columns = (part, _("at least, %"), _("at most, %"))
    return Ask(
        name=name, label=label, kind="rows", columns=columns, words={0: CONTENTS}, example=example, help=help_,
        required=required,
    )  # fmt: skip


def targets_of(rows: Sequence[tuple[str, ...]], names: Mapping[str, str]) -> list[Target]:
    """Rows of component, least and most as targets; `names` gives a component's name for its folded one."""
    found = []
    for component, low, high in rows:
        if not component:
            raise CalculationError(say("A target needs the name of a component."))
        name = said_word(names.get(folded(component), " ".join(component.split())))
        found.append(
            Target(
                name,
                number(low, say("least %(component)s", component=name)) if low else None,
                number(high, say("most %(component)s", component=name)) if high else None,
            )
        )
    return found


def least_of(typed: str | None, streams: Streams) -> str | None:
    """The stream to use as little as can be of, by its own name; what is no stream as it was typed."""
    if typed is None:
        return None
    return next((one.name for one in streams if folded(one.name) == folded(typed)), typed[:60])


def folded(name: str) -> str:
    """A name without its case and spare spaces, for comparing."""
    return " ".join(name.split()).casefold()


def taken_as_water(streams: Streams) -> tuple[Said, ...]:
    """A caution that names each stream whose contents nobody gave."""
    contents = {one.name: one.parts if isinstance(one, Ingredient) else one.composition for one in streams}
    blank = [name for name, parts in contents.items() if not any(parts.values()) and not known(name, ("water",))]
    if not blank:
        return ()
    return (say("No contents were given of %(names)s: it counts as water.", names=", ".join(blank)),)


def mass(kg: float, unit: str) -> str:
    """A mass in `unit`, to a thousandth."""
    return f"{kg / per_unit(unit) + 0.0:.3f} {unit}"


def masses(streams: Streams, masses_kg: Sequence[float], unit: str) -> str:
    """The streams that are used with their masses."""
    return ", ".join(f"{mass(kg, unit)} {one.name}" for one, kg in zip(streams, masses_kg, strict=True) if kg > 0)


def cost_steps(streams: Streams, masses_kg: Sequence[float], cost: float | None, unit: str, source: str) -> list[Step]:
    """The cost with its terms, prices for one `unit`; nothing where no price was given."""
    if cost is None:
        return []
    one_unit = per_unit(unit)
    terms = [
        f"{kg / one_unit:.3f} x {(one.price or 0.0) * one_unit:.6g}"
        for one, kg in zip(streams, masses_kg, strict=True)
        if kg > 0
    ]
    return [Step(say("Cost"), " + ".join(terms), f"{cost:.2f}", source)]


def wanted(target: Target) -> str:
    """A target in short: one value, a range, or one end."""
    if target.exact:
        return f"{target.low:g}"
    if target.low is None:
        return f"≤ {target.high:g}"
    return f"≥ {target.low:g}" if target.high is None else f"{target.low:g}–{target.high:g}"


def proof_table(proof: Proof, unit: str, caption: str) -> Table:
    """Each stream's mass and its components' masses, the sums, the contents, the targets and the differences."""
    one = per_unit(unit)

    def shown(kg: float) -> str:
        return f"{kg / one + 0.0:.3f}"

    def percents(values: Sequence[float | None]) -> list[str]:
        return ["" if value is None else f"{round(value, 4) + 0.0:.4f}" for value in values]

    targets = [None if one is None else wanted(one) for one in proof.targets]
    off = "" if proof.wanted_kg is None else shown(round(proof.total_kg - proof.wanted_kg, 9))
    return Table(
        caption,
        (say("stream"), say("mass, %(unit)s", unit=unit), *(_headed(name, unit) for name in proof.components)),
        (
            *((row.name, shown(row.mass_kg), *(shown(part) for part in row.parts_kg)) for row in proof.rows),
            (say("sum"), shown(proof.total_kg), *(shown(part) for part in proof.sums_kg)),
            (say("percent"), "100", *percents(proof.percents)),
            (
                say("wanted"),
                "" if proof.wanted_kg is None else shown(proof.wanted_kg),
                *(one or "" for one in targets),
            ),
            (say("difference"), off, *percents(proof.differences)),
        ),
    )


def _headed(name: str, unit: str) -> Said:
    return Said("%(name)s, %(unit)s", {"name": said_word(name), "unit": unit})


def reach_table(error: CannotBlend) -> Table:
    """For each target what can be had, alone and beside the others, and by how much the nearest blend misses."""
    rows = [
        (
            said_word(one.target.component),
            wanted(one.target),
            _ends(one.alone),
            say("the others cannot be met together") if one.together is None else _ends(one.together),
            f"{round(one.miss, 4) + 0.0:.4f}",
        )
        for one in error.reaches
    ]
    return Table(
        say("What the streams can give, percent by mass"),
        (
            say("component"),
            say("wanted"),
            say("alone"),
            say("with the other targets met"),
            say("nearest blend misses by"),
        ),
        tuple(rows),
    )


def _ends(ends: tuple[float, float]) -> str:
    return f"{ends[0]:.4g}–{ends[1]:.4g}"


def worst_miss(error: CannotBlend) -> str:
    """By how many percentage points the nearest blend misses at the most."""
    return f"{max((abs(one.miss) for one in error.reaches), default=0.0):.3f}"


def refused(error: CannotBlend, unit: str, caption: str, margin: str, cautions: tuple[str, ...]) -> Working:
    """The working of targets that cannot be met: why, what can be had, and the nearest blend under `caption`."""
    tables = [reach_table(error)]
    if error.nearest is not None:
        tables.append(proof_table(error.nearest, unit, caption))
    return Working(
        answer=error.sentence, verdict="not met", margin=margin, steps=(), cautions=cautions, tables=tuple(tables)
    )


def picture(streams: Streams, masses_kg: Sequence[float], proof: Proof, unit: str, ident: str, most: int = 3) -> str:
    """The streams as bars, leveled for the first targets of the proof; '' where nothing was asked for."""
    levels = [
        Level(again(said_word(name), gettext), [one.percent(name) for one in streams], percent, target.low, target.high)
        for name, percent, target in zip(proof.components, proof.percents, proof.targets, strict=True)
        if target is not None
    ][:most]
    if not levels:
        return ""
    bars = [(one.name, kg, mass(kg, unit)) for one, kg in zip(streams, masses_kg, strict=True)]
    return blend_levels_svg(bars, levels, words=_words(), ident=ident)


def _words() -> dict[str, str]:
    return {
        "title": str(_("Streams and their blend")),
        "level": str(_("blend")),
        "wanted": str(_("wanted")),
        "gives": str(_("above the level: given")),
        "takes": str(_("below it: taken up")),
    }
