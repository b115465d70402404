"""Freezing of a mix: where it begins, how much of the water is ice at the draw, and the whole curve."""

from __future__ import annotations

from dataclasses import replace

from django.utils.translation import gettext_lazy as _

from plant.calculators.asks import CELSIUS_FIRST, percent_ask
from plant.calculators.mix_asks import MIX_ASKS, degrees, mix_of
from plant.calculators.working import BY_DEFINITION, Ask, Calculator, Step, Table, Values, Working, in_unit
from plant.pictures.freezing_curve import freezing_curve_svg
from plant.process.freezing import (
    CornSyrup,
    Draw,
    FreezingPoint,
    Mix,
    corn_syrup_factor,
    draw,
    freezing_curve,
    freezing_point,
    frozen_limit,
    temperature_at,
)
from plant.process.said import Said, say
from plant.process.units import CELSIUS

LEIGHTON = say("Leighton, J. Dairy Sci. 10:300, 1927, as taught at Guelph")
TABLE = say("Pickering and Leighton, as in Goff and Hartel, Ice Cream, 7th edition (from memory)")
CAUTIONS = (
    say(
        "An estimate for a mix at rest, from a coarse table: about 0.05 °C at the start of freezing, a few percent of "
        "the water later. For plain milk it reads 0.02 °C too cold. A measured freezing point is better."
    ),
    say("Freezing kills no pathogen: the share of ice says how well the freezer works, nothing about safety."),
    say("State the convention for corn syrup solids beside every result: the two differ."),
)


def _work(values: Values) -> Working:
    mix, temperature = mix_of(values), values["draw"].to(CELSIUS)
    low, high = (in_unit(values[one], "%") for one in ("wanted_low", "wanted_high"))
    start = freezing_point(mix)
    found = draw(mix, temperature, low, high)
    curve, frozen = freezing_curve(mix, 120)
    return Working(
        answer=say(
            "The mix begins to freeze at %(start)s; at %(draw)s %(frozen)s %% of its water is ice.",
            start=degrees(start.temperature_c),
            draw=degrees(temperature),
            frozen=f"{found.frozen_percent:.1f}",
        ),
        verdict="" if found.met is None else "met" if found.met else "not met",
        margin=_margin(found),
        steps=(*_start_steps(mix, start), *_draw_steps(mix, start, found)),
        cautions=CAUTIONS,
        tables=(_curve_table(mix), _conventions(mix)),
        picture=freezing_curve_svg(
            list(zip(curve.tolist(), frozen.tolist(), strict=True)),
            (temperature, found.frozen_percent),
            (low, high),
            _words(),
            out=found.met is False,
        ),
    )


def _margin(found: Draw) -> str:
    if found.margin is None:
        return ""
    if found.margin < 0:
        return say("%(margin)s %% of the water outside the wanted range", margin=f"{-found.margin:.1f}")
    return say("%(margin)s %% of the water inside the wanted range", margin=f"{found.margin:.1f}")


def _start_steps(mix: Mix, start: FreezingPoint) -> list[Step]:
    factor = corn_syrup_factor(mix.dextrose_equivalent, mix.corn_syrup)
    terms = (
        f"0.545 x {mix.msnf:g} + 0.765 x {mix.whey_solids:g} + {mix.sucrose:g} + {factor:.4g} x "
        f"{mix.corn_syrup_solids:g} + 1.8 x {mix.hfcs:g} + 1.9 x {mix.monosaccharides:g}"
    )
    by_de = mix.corn_syrup is CornSyrup.DE
    how = f"{mix.dextrose_equivalent:g}/100" if by_de else f"342.3 x {mix.dextrose_equivalent:g}/18016"
    convention = say("convention DE/100") if by_de else say("convention molecular weight")
    return [
        Step(say("Corn syrup solids as sucrose"), how, f"{factor:.4g} g/g", convention),
        Step(say("Sucrose equivalents in 100 g of mix"), terms, f"{start.equivalents:.3f} g", LEIGHTON),
        Step(
            say("Sucrose equivalents in 100 g of water"),
            f"100 x {start.equivalents:.3f}/{mix.water:g}",
            f"{start.equivalents_in_water:.2f} g",
            BY_DEFINITION,
        ),
        Step(
            say("Depression by the sugars, from the table"),
            say("%(grams)s g, on a line between two rows", grams=f"{start.equivalents_in_water:.2f}"),
            f"{start.sugars_c:.3f} °C",
            TABLE,
        ),
        Step(
            say("Depression by the milk salts"),
            f"2.37 x ({mix.msnf:g} + {mix.whey_solids:g})/{mix.water:g}",
            f"{start.salts_c:.3f} °C",
            LEIGHTON,
        ),
        Step(
            say("Start of freezing"),
            f"-({start.sugars_c:.3f} + {start.salts_c:.3f})",
            degrees(start.temperature_c),
            LEIGHTON,
        ),
    ]


def _draw_steps(mix: Mix, start: FreezingPoint, found: Draw) -> list[Step]:
    most, coldest = frozen_limit(mix)
    left = 1 - found.frozen_percent / 100
    if found.frozen_percent > 0:
        how: str = say(
            "water left %(left)s %%: %(grams)s g of equivalents in 100 g of it freeze at %(draw)s",
            left=f"{100 * left:.1f}",
            grams=f"{start.equivalents_in_water / left:.1f}",
            draw=degrees(found.temperature_c),
        )
    else:
        how = say("%(draw)s is not below the start of freezing", draw=degrees(found.temperature_c))
    return [
        Step(say("Water frozen at the draw"), how, f"{found.frozen_percent:.1f} %", LEIGHTON),
        Step(
            say("Ice in the mix at the draw"),
            f"{found.frozen_percent:.1f} x {mix.water:g}/100",
            say("%(ice)s %% by mass", ice=f"{found.ice_percent:.1f}"),
            BY_DEFINITION,
        ),
        Step(
            say("Where this method ends"),
            f"1 - {start.equivalents_in_water:.2f}/180",
            say("%(most)s %% of the water, %(coldest)s", most=f"{most:.1f}", coldest=degrees(coldest, 1)),
            TABLE,
        ),
    ]


def _curve_table(mix: Mix) -> Table:
    most = frozen_limit(mix)[0]
    shares = [float(one) for one in range(0, 100, 10) if one < most] + [most]
    rows = []
    for one in shares:
        at = temperature_at(mix, one)
        rows.append((f"{one:.1f}", f"{at:.2f}", f"{at * 9 / 5 + 32:.2f}"))
    return Table(say("Freezing curve"), (say("% of the water frozen"), "°C", "°F"), tuple(rows))


def _conventions(mix: Mix) -> Table:
    names: dict[CornSyrup, Said] = {
        CornSyrup.DE: say("DE/100"),
        CornSyrup.MOLAR_MASS: say("molecular weight"),
    }
    rows = tuple((names[one], degrees(freezing_point(replace(mix, corn_syrup=one)).temperature_c)) for one in CornSyrup)
    return Table(say("Start of freezing by either convention"), (say("corn syrup solids by"), say("start")), rows)


def _words() -> dict[str, str]:
    return {
        "title": str(_("Freezing curve")),
        "temperature": str(_("temperature, °C")),
        "frozen": str(_("% of the water frozen")),
        "draw": str(_("draw")),
        "from": str(_("wanted from")),
        "up to": str(_("wanted up to")),
    }


CALCULATOR = Calculator(
    key="freezing",
    title=_("Freezing of a mix"),
    purpose=_("Where a mix begins to freeze, and how much of its water is ice at the draw temperature."),
    asks=(
        *MIX_ASKS,
        Ask(
            name="draw",
            label=_("Draw temperature"),
            units=CELSIUS_FIRST,
            low=-40,
            high=60,
            example="-5.5 °C",
            help=_("-5 to -6 °C is usual (common practice, no source)."),
        ),
        percent_ask("wanted_low", _("Ice wanted by the plan: from, % of the water")),
        percent_ask("wanted_high", _("Ice wanted by the plan: up to, % of the water")),
    ),
    work=_work,
)
