"""Hardening: how long a package takes until its core is cold, by numerical conduction along the freezing curve."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from django.utils.translation import gettext_lazy as _

from plant.calculators.asks import CELSIUS_FIRST, optional_ask, percent_ask
from plant.calculators.mix_asks import MIX_ASKS, degrees, mix_of
from plant.calculators.working import BY_DEFINITION, Ask, Calculator, Step, Table, Values, Working, in_unit
from plant.pictures.hardening_chart import hardening_svg
from plant.process.errors import CalculationError
from plant.process.freezing import freezing_point, frozen_limit
from plant.process.hardening import (
    Body,
    Conduction,
    Course,
    HardeningTime,
    HeatTable,
    Shape,
    cool,
    hardening_time,
    ice_cream_table,
    ice_fraction,
    mix_composition,
    overall_h_w_m2k,
    plank,
)
from plant.process.properties import mix_density_kg_m3
from plant.process.said import say
from plant.process.units import CELSIUS

LENGTHS = ("mm", "cm", "m", "in")
COEFFICIENT, CONDUCTIVITY = "W/(m2 K)", "W/(m K)"
CELLS = {Shape.TUB: 8}
POINTS = 160
CHOI_OKOS = "Choi and Okos, 1986"
CAUTIONS = (
    say(
        "An estimate. How air moves around the packages decides most: packages that touch, stand on a pallet or in a "
        "wrapped case harden far slower. Put a thermometer in the core of the worst placed package."
    ),
    say(
        "The room is taken to keep its temperature all the time. A full load warms it; then take the warmer "
        "temperature that it really has."
    ),
    say("The heat transfer coefficient is the least certain number. The table shows what half and twice as much do."),
    say("Particulates, fat that hardens and air that shrinks are left out."),
    say("Freezing kills no pathogen. A core temperature reached in time is no proof that a product is fit to eat."),
)


@dataclass(frozen=True, slots=True)
class _Case:
    """What was given, in the units of the calculation."""

    body: Body
    tables: dict[Conduction, HeatTable]
    start: float
    air: float
    core: float
    h: float

    @property
    def cells(self) -> int:
        return CELLS.get(self.body.shape, 12)

    def time(self, model: Conduction) -> HardeningTime:
        return hardening_time(
            self.body, self.tables[model], self.start, self.air, self.h, self.core, cells=self.cells
        )  # fmt: skip

    def rough_hours(self, h: float, air: float) -> float:
        slow = self.tables[Conduction.MAXWELL_EUCKEN]
        found = cool(self.body, slow, self.start, air, h, core_c=self.core, cells=self.cells)
        return (found.reached_s or 0.0) / 3600


def _work(values: Values) -> Working:
    case = _case(values)
    slow, fast = case.time(Conduction.MAXWELL_EUCKEN), case.time(Conduction.PARALLEL)
    longest = slow.hours + slow.error_hours
    within = in_unit(values["within"], "h")
    return Working(
        answer=say(
            "The core is at %(core)s after %(fast)s to %(slow)s hours, by how well the ice conducts; plan with "
            "%(slow)s.",
            core=degrees(case.core, 1),
            fast=f"{fast.hours:.1f}",
            slow=f"{longest:.1f}",
        ),
        verdict="" if within is None else "met" if longest <= within else "not met",
        margin="" if within is None else _margin(within - longest),
        steps=(*_product_steps(values, case), *_time_steps(case, slow, fast)),
        cautions=CAUTIONS,
        tables=(_sensitivity(case, slow.coarse_hours), _course_table(slow.course)),
        picture=_picture(slow.course, case.core),
    )


def _case(values: Values) -> _Case:
    mix, fat, overrun = mix_of(values), values["fat"].to("%"), values["overrun"].to("%")
    other = 100 - fat - mix.water - mix.msnf - mix.whey_solids - mix.sucrose - mix.corn_syrup_solids
    other -= mix.hfcs + mix.monosaccharides
    if other < -1e-6:
        raise CalculationError(say("The parts add to more than 100 %."))
    composition = mix_composition(mix, fat, max(0.0, other))
    density = mix_density_kg_m3(fat, 100 - mix.water)
    tables = {one: ice_cream_table(mix, composition, density, overrun, one) for one in Conduction}
    shape = Shape(values["shape"])
    height = in_unit(values["height"], "m") if shape is Shape.TUB else None
    if shape is Shape.TUB and height is None:
        raise CalculationError(say("A tub needs its height too."))
    return _Case(
        Body(shape, values["size"].to("m"), height),
        tables,
        values["start"].to(CELSIUS),
        values["air"].to(CELSIUS),
        values["core"].to(CELSIUS),
        overall_h_w_m2k(values["h"].to(COEFFICIENT), _layers(values)),
    )


def _layers(values: Values) -> tuple[tuple[float, float], ...]:
    thickness, conductivity = values["wall"], values["wall_conductivity"]
    if (thickness is None) != (conductivity is None):
        raise CalculationError(say("The package wall needs both its thickness and its conductivity."))
    return () if thickness is None else ((thickness.to("m"), conductivity.to(CONDUCTIVITY)),)


def _margin(spare: float) -> str:
    if spare < 0:
        return say("%(hours)s h too long", hours=f"{-spare:.1f}")
    return say("%(hours)s h to spare", hours=f"{spare:.1f}")


def _product_steps(values: Values, case: _Case) -> list[Step]:
    mix, table = mix_of(values), case.tables[Conduction.MAXWELL_EUCKEN]
    overrun, density = values["overrun"].to("%"), table.density_kg_m3
    fat = values["fat"].to("%")
    end = frozen_limit(mix)[1]
    heat = table.heat_at(case.start) - table.heat_at(case.core)
    conductivities = " / ".join(f"{_conductivity(one, case.core):.2f}" for one in case.tables.values())
    wall = f" + {values['wall'].to('m'):g}/{values['wall_conductivity'].to(CONDUCTIVITY):g}" if values["wall"] else ""
    return [
        Step(
            say("Density of the product"),
            f"{mix_density_kg_m3(fat, 100 - mix.water):.1f}/(1 + {overrun:g}/100)",
            f"{density:.1f} kg/m3",
            say("mix density by composition; by definition"),
        ),
        Step(
            say("Start of freezing"),
            say("sucrose equivalents and milk salts; corn syrup by %(convention)s", convention=mix.corn_syrup.value),
            degrees(freezing_point(mix).temperature_c),
            say("Leighton, J. Dairy Sci. 10:300, 1927, as taught at Guelph"),
        ),
        Step(
            say("Water frozen at the start and at the end"),
            say("freezing curve; below %(end)s it grows as 1 - Tf/T", end=degrees(end, 1)),
            f"{100 * ice_fraction(mix, case.start):.1f} % / {100 * ice_fraction(mix, case.core):.1f} %",
            say("sucrose table (from memory); Schwartzberg, J. Food Sci. 41:152, 1976 (from memory)"),
        ),
        Step(
            say("Heat to take out of each kilogram"),
            say("solids, water and ice between the two temperatures"),
            f"{heat:.1f} kJ/kg",
            CHOI_OKOS,
        ),
        Step(
            say("Conductivity when hard: ice by Maxwell-Eucken / in parallel"),
            say("air %(air)s %% of the volume, as bubbles", air=f"{100 * overrun / (100 + overrun):.1f}"),
            f"{conductivities} {CONDUCTIVITY}",
            say("Choi and Okos, 1986; Maxwell and Eucken, as in the ASHRAE Handbook (from memory)"),
        ),
        Step(
            say("From the product to the air"),
            f"1/(1/{values['h'].to(COEFFICIENT):g}{wall})",
            f"{case.h:.2f} {COEFFICIENT}",
            BY_DEFINITION,
        ),
    ]


def _time_steps(case: _Case, slow: HardeningTime, fast: HardeningTime) -> list[Step]:
    method = say("finite volumes on heat content; error by grid refinement (Roache 1994, from memory)")
    steps = [
        Step(
            name,
            say(
                "%(coarse)s h on the coarse grid, %(fine)s h on one twice as fine (%(cells)s cells)",
                coarse=f"{one.coarse_hours:.3f}",
                fine=f"{one.hours:.3f}",
                cells=str(one.course.cells),
            ),
            say("%(hours)s h, grid error about %(error)s h", hours=f"{one.hours:.2f}", error=f"{one.error_hours:.2f}"),
            method,
        )
        for name, one in (
            (say("Time, ice by Maxwell-Eucken (the slowest)"), slow),
            (say("Time, ice in parallel (the fastest)"), fast),
        )
    ]
    lost = float(np.abs(slow.course.removed_kj_kg + slow.course.held_kj_kg - slow.course.held_kj_kg[0]).max())
    steps.append(
        Step(
            say("Heat given off at the surface against heat lost inside"),
            f"{slow.course.removed_kj_kg[-1]:.3f} - {slow.course.held_kj_kg[0] - slow.course.held_kj_kg[-1]:.3f} kJ/kg",
            say("differ by %(lost)s kJ/kg at most", lost=f"{lost:.1e}"),
            say("conservation of heat"),
        )
    )
    return [*steps, _plank_step(case)]


def _plank_step(case: _Case) -> Step:
    table = case.tables[Conduction.MAXWELL_EUCKEN]
    heat, middle = table.heat_at(case.start) - table.heat_at(case.core), (case.start + case.core) / 2
    conductivity = _conductivity(table, middle)
    seconds = plank(case.body, table.density_kg_m3, heat, middle, case.air, case.h, conductivity)
    return Step(
        say("Rough check by Plank's formula"),
        say(
            "all the heat at %(middle)s, halfway; one freezing temperature, no cooling before or after",
            middle=degrees(middle, 1),
        ),
        f"{seconds / 3600:.1f} h",
        say("Plank, 1913, as in the Encyclopaedia of Food Science; an estimate only"),
    )


def _conductivity(table: HeatTable, at: float) -> float:
    return float(np.interp(at, table.temperature_c, table.conductivity_w_mk))


def _sensitivity(case: _Case, usual: float) -> Table:
    rows = [(say("as given"), f"{usual:.1f}")]
    rows += [
        (say("half the heat transfer coefficient"), f"{case.rough_hours(max(0.5, case.h / 2), case.air):.1f}"),
        (say("twice the heat transfer coefficient"), f"{case.rough_hours(case.h * 2, case.air):.1f}"),
    ]
    warmer = case.air + 5
    name = say("air 5 °C warmer")
    rows.append((name, say("never") if warmer >= case.core else f"{case.rough_hours(case.h, warmer):.1f}"))
    return Table(say("What the uncertain numbers do, coarse grid"), (say("case"), say("hours")), tuple(rows))


def _course_table(course: Course) -> Table:
    hours = course.times_s / 3600
    rows = []
    for at in np.linspace(0, hours[-1], 11):
        core, surface, mean = (np.interp(at, hours, one) for one in (course.core_c, course.surface_c, course.mean_c))
        rows.append((f"{at:.1f}", f"{core:.1f}", f"{surface:.1f}", f"{mean:.1f}"))
    head = (say("hours"), say("core, °C"), say("surface, °C"), say("evened out, °C"))
    return Table(say("Course, ice by Maxwell-Eucken"), head, tuple(rows))


def _picture(course: Course, wanted: float) -> str:
    hours = course.times_s / 3600
    places = np.linspace(0, hours[-1], POINTS)
    core, surface = (
        list(zip(places.tolist(), np.interp(places, hours, one).tolist(), strict=True))
        for one in (course.core_c, course.surface_c)
    )
    words = {
        "title": str(_("Core and surface while hardening")),
        "hours": str(_("hours")),
        "core": str(_("core")),
        "surface": str(_("surface")),
        "wanted": str(_("wanted at the core")),
        "reached": str(_("reached after")),
        "h": str(_("h")),
    }
    return hardening_svg(core, surface, wanted, words)


CALCULATOR = Calculator(
    key="hardening",
    title=_("Hardening time"),
    purpose=_("How long a package of ice cream takes until its core is cold enough, and how sure that is."),
    asks=(
        Ask(
            name="shape",
            label=_("Shape"),
            kind="choice",
            choices=(
                (Shape.TUB.value, _("tub (cylinder with its ends)")),
                (Shape.SLAB.value, _("slab, cooled on both faces")),
                (Shape.CYLINDER.value, _("long cylinder")),
                (Shape.SPHERE.value, _("sphere")),
            ),
            example=Shape.TUB.value,
            help=_(
                "A carton: take it as a slab of its smallest side. That is slower than it is, so on the careful side."
            ),
        ),
        Ask(
            name="size",
            label=_("Diameter, or thickness of a slab"),
            units=LENGTHS,
            low=5,
            high=1500,
            example="240 mm",
        ),
        optional_ask("height", _("Height of a tub"), LENGTHS, 5, 1500, "250 mm"),
        percent_ask("fat", _("Fat, % by mass"), "11.7 %", high=25),
        *MIX_ASKS,
        percent_ask("overrun", _("Overrun"), "100 %", high=300),
        Ask(name="start", label=_("Temperature at the draw"), units=CELSIUS_FIRST, low=-30, high=20, example="-5.5 °C"),
        Ask(name="air", label=_("Air of the hardening room"), units=CELSIUS_FIRST, low=-40, high=0, example="-30 °C"),
        Ask(
            name="h",
            label=_("Heat transfer coefficient to the air"),
            units=(COEFFICIENT,),
            low=1,
            high=1000,
            example="15 W/(m2 K)",
            help=_(
                "Still air about 5 to 10, blown air 15 to 35 (common practice, no source). Measure where it counts."
            ),
        ),
        optional_ask("wall", _("Thickness of the package wall"), LENGTHS, 0, 50, "0.8 mm"),
        optional_ask(
            "wall_conductivity",
            _("Conductivity of the package wall"),
            (CONDUCTIVITY,),
            0.01,
            500,
            "0.15 W/(m K)",
            _("Board about 0.06, plastic 0.15 to 0.3 (from memory)."),
        ),
        Ask(
            name="core",
            label=_("Wanted at the core"),
            units=CELSIUS_FIRST,
            low=-39,
            high=0,
            example="-18 °C",
            help=_("-18 °C (0 °F) or colder is usual (common practice, no source)."),
        ),
        optional_ask(
            "within",
            _("Wanted within"),
            ("h", "min", "d"),
            0,
            1440,
            "24 h",
            _("Usually 24 h or less (common practice, no source)."),
        ),
    ),
    work=_work,
)
