"""Density, specific heat, conductivity and viscosity of milk, cream and mix, with water beside them."""

from __future__ import annotations

from collections.abc import Callable

from django.utils.translation import gettext_lazy as _

from plant.calculators.asks import CELSIUS_FIRST, optional_ask, percent_ask
from plant.calculators.working import BY_DEFINITION, Ask, Calculator, Step, Table, Values, Working
from plant.process import properties
from plant.process.errors import CalculationError
from plant.process.properties import Composition
from plant.process.said import Said, say
from plant.process.units import CELSIUS

CHOI_OKOS = "Choi and Okos, 1986"
WATSON = "Watson and Tittsler, J. Dairy Sci. 44:416, 1961 (from memory)"
WALSTRA = "Walstra and others, Dairy Science and Technology (from memory)"
CREAM = "57 samples of cream, 9.85 °C"
MIX = "ice-cream course text, no temperature stated"
BAKSHI = "Bakshi and Smith, J. Dairy Sci. 67:1157, 1984"
IAPWS = "IAPWS SR6-08(2011) (from memory)"
MILK_KIND, CREAM_KIND, MIX_KIND = "milk", "cream", "mix"
CAUTIONS = (
    say("Densities by Choi and Okos come out about 6 kg/m3 light for milk: use the others for weight, these for heat."),
    say("Every formula holds in its own range only; outside it no number is given. Where weight counts, weigh."),
)
Density = tuple[Said, str, str, Callable[[], float]]


def _work(values: Values) -> Working:
    kind = values["kind"]
    fat, protein, carbohydrate, ash = (values[name].to("%") for name in ("fat", "protein", "carbohydrate", "ash"))
    temperature = values["temperature"].to(CELSIUS)
    water = 100 - fat - protein - carbohydrate - ash
    if water < 0:
        raise CalculationError(say("The parts add to more than 100 %."))
    food = Composition(water, protein, fat, carbohydrate, ash)
    heat = properties.specific_heat_kj_kgk(food, temperature)
    conductivity = properties.thermal_conductivity_w_mk(food, temperature)
    light = properties.food_density_kg_m3(food, temperature)
    shown = f"{temperature:g} °C"
    steps = [
        Step(
            say("Water, what remains"),
            f"100 - {fat:g} - {protein:g} - {carbohydrate:g} - {ash:g}",
            f"{water:g} %",
            BY_DEFINITION,
        ),
        Step(
            say("Specific heat at %(temperature)s", temperature=shown),
            _sum_of(food, temperature),
            f"{heat:.3f} kJ/(kg K)",
            CHOI_OKOS,
        ),
        Step(
            say("Thermal conductivity at %(temperature)s", temperature=shown),
            say("sum of volume fraction x conductivity"),
            f"{conductivity:.3f} W/(m K)",
            CHOI_OKOS,
        ),
        Step(
            say("Density for heat calculations at %(temperature)s", temperature=shown),
            say("1/(sum of mass fraction/density)"),
            f"{light:.1f} kg/m3",
            CHOI_OKOS,
        ),
        Step(
            say("Thermal diffusivity at %(temperature)s", temperature=shown),
            f"{conductivity:.3f}/({light:.1f} x {heat * 1000:.0f})",
            f"{properties.thermal_diffusivity_m2_s(food, temperature):.3e} m2/s",
            BY_DEFINITION,
        ),
    ]
    if kind != MIX_KIND:
        steps.append(
            Step(
                say("Viscosity at %(temperature)s", temperature=shown),
                f"exp(-8.9 + 0.1 x {fat:g} + 2721.5/{temperature + 273.15:.2f})",
                _or_refusal(lambda: properties.milk_viscosity_mpas(fat, temperature), "{:.2f} mPa s"),
                BAKSHI,
            )
        )
    if values["pressure"] is not None:
        pressure = values["pressure"].to("kPa")
        steps.append(
            Step(
                say("Boiling point of water at %(pressure)s", pressure=f"{pressure:.3f} kPa"),
                say("saturation line of water"),
                f"{properties.boiling_point_c(pressure):.2f} °C",
                "IAPWS-IF97, region 4 (from memory)",
            )
        )
    ways = _densities(kind, (fat, protein, carbohydrate, ash), temperature)
    return Working(
        answer=_answer(ways, light, heat, conductivity, shown),
        steps=tuple(steps),
        cautions=CAUTIONS,
        tables=(_density_table(ways), _water_table(temperature)),
    )


def _densities(kind: str, parts: tuple[float, float, float, float], temperature: float) -> list[Density]:
    """The ways to the density of such a product for its weight: the best first."""
    fat, protein, carbohydrate, ash = parts
    snf = protein + carbohydrate + ash
    at_20: Density = (
        say("components"), "20 °C", WALSTRA, lambda: properties.density_20c_kg_m3(fat, protein, carbohydrate, ash),
    )  # fmt: skip
    if kind == MILK_KIND:
        cold: Density = (
            say("fat and solids-not-fat"), f"{temperature:g} °C", WATSON,
            lambda: properties.cold_milk_density_kg_m3(fat, snf, temperature),
        )  # fmt: skip
        return [cold, at_20]
    if kind == CREAM_KIND:
        return [at_20, (say("fat of cream"), "9.85 °C", CREAM, lambda: properties.cold_cream_density_kg_m3(fat))]
    return [(say("fat and total solids"), "-", MIX, lambda: properties.mix_density_kg_m3(fat, fat + snf))]


def _density_table(ways: list[Density]) -> Table:
    rows = []
    for way, at, source, density in ways:
        pounds = _or_refusal(lambda get=density: properties.pounds_per_gallon(get()), "{:.3f}")  # type: ignore[misc]
        rows.append((way, at, _or_refusal(density, "{:.1f}"), pounds, source))
    return Table(
        say("Density for weight and volume, without air"),
        (say("from"), say("at"), "kg/m3", "lb/gal", say("source")),
        tuple(rows),
    )


def _water_table(temperature: float) -> Table:
    rows = (
        (say("density"), "kg/m3", lambda: properties.water_density_kg_m3(temperature), "{:.3f}"),
        (say("viscosity"), "mPa s", lambda: properties.water_viscosity_mpas(temperature), "{:.4f}"),
        (say("specific heat"), "kJ/(kg K)", lambda: properties.water_specific_heat_kj_kgk(temperature), "{:.4f}"),
        (say("conductivity"), "W/(m K)", lambda: properties.water_conductivity_w_mk(temperature), "{:.4f}"),
    )
    return Table(
        say("Water at %(temperature)s and atmospheric pressure", temperature=f"{temperature:g} °C"),
        (say("property"), say("value"), say("unit"), say("source")),
        tuple((name, _or_refusal(get, form), unit, IAPWS) for name, unit, get, form in rows),
    )


def _answer(ways: list[Density], light: float, heat: float, conductivity: float, shown: str) -> Said:
    named = {"heat": f"{heat:.3f}", "conductivity": f"{conductivity:.3f}", "temperature": shown}
    for way, at, _source, density in ways:
        try:
            found = density()
        except CalculationError:
            continue
        return say(
            "Density %(density)s kg/m3, %(pounds)s lb/gal (from %(way)s, at %(at)s); at %(temperature)s specific heat "
            "%(heat)s kJ/(kg K), conductivity %(conductivity)s W/(m K).",
            density=f"{found:.1f}",
            pounds=f"{properties.pounds_per_gallon(found):.3f}",
            way=way,
            at=at,
            **named,
        )
    return say(
        "No density formula for weight holds for this; for heat alone: %(density)s kg/m3, specific heat %(heat)s "
        "kJ/(kg K), conductivity %(conductivity)s W/(m K) at %(temperature)s.",
        density=f"{light:.1f}",
        **named,
    )


def _sum_of(food: Composition, temperature: float) -> str:
    return " + ".join(
        f"{share:.4f} x {properties.component_specific_heat_kj_kgk(name, temperature):.4f}"
        for name, share in food.fractions().items()
    )


def _or_refusal(get: Callable[[], float], form: str) -> str:
    """The number, or the sentence that says why there is none."""
    try:
        return form.format(get())
    except CalculationError as error:
        return say("no answer: %(reason)s", reason=error.sentence)


CALCULATOR = Calculator(
    key="properties",
    title=_("Properties of milk, cream and mix"),
    purpose=_(
        "Density, specific heat, conductivity and viscosity from composition and temperature, each in its range."
    ),
    asks=(
        Ask(
            name="kind",
            label=_("Product"),
            kind="choice",
            choices=((MILK_KIND, _("milk")), (CREAM_KIND, _("cream")), (MIX_KIND, _("ice-cream mix"))),
            example=MILK_KIND,
        ),
        percent_ask("fat", _("Fat, % by mass"), "3.5 %"),
        percent_ask("protein", _("Protein, % by mass"), "3.3 %"),
        percent_ask("carbohydrate", _("Lactose and sugars, % by mass"), "4.8 %"),
        percent_ask("ash", _("Ash and other solids, % by mass"), "0.7 %"),
        Ask(
            name="temperature",
            label=_("Temperature"),
            units=CELSIUS_FIRST,
            low=-40,
            high=150,
            example="4 °C",
        ),
        optional_ask(
            "pressure",
            _("Station pressure, for the boiling point of water"),
            ("kPa", "bar", "psi"),
            1,
            1000,
            "101.325 kPa",
        ),
    ),
    work=_work,
)
