"""A holding tube: how long the fastest particle stays in it, and how long it would have to be."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from django.utils.translation import gettext_lazy as _

from plant.calculators.asks import FLOWS
from plant.calculators.holding_asks import HOLD, hold_margin
from plant.calculators.working import BY_DEFINITION, Ask, Calculator, Given, Step, Table, Values, Working, number
from plant.pictures.tube import tube_svg
from plant.process.errors import CalculationError, Infeasible
from plant.process.holding_tube import (
    GUIDES,
    Bend,
    Lengths,
    Residence,
    Slope,
    bend_length_m,
    bore_area_m2,
    centerline_length_m,
    largest_flow_m3_per_s,
    lengths_for,
    pmo_length_in,
    residence,
    slope_of,
    velocity_profile,
)
from plant.process.said import say

LENGTHS = ("ft", "in", "m", "cm", "mm")
SHARES = (0.5, 0.75, 0.9, 1.0, 1.1, 1.25)
CAUTIONS = (
    say(
        "The holding time of record is the one measured by your regulator's test, at the fastest legal flow, in "
        "forward and in diverted flow. What is computed here sizes a tube or doubts a record; it never replaces that "
        "test."
    ),
    say("Enter the fastest flow the timing pump can make at its sealed setting, not the flow of a usual day."),
    say(
        "Density and viscosity count at the temperature of the hold. For a product that thins with shear take the "
        "highest viscosity it may have, or the laminar guide."
    ),
    say("The guides differ: take the one your regulator goes by. Below Reynolds number 4000 all of them take 2.0."),
    say("Nothing may short-circuit the tube, and no part between its inlet and the diversion device may be heated."),
)


@dataclass(frozen=True, slots=True)
class _Tube:
    flow: float
    bore: float
    length: float
    density: float
    viscosity: float
    hold: float
    guide: str

    @property
    def liquid(self) -> tuple[float, float, str]:
        return self.density, self.viscosity, self.guide


def _work(values: Values) -> Working:
    bends = _bends(values["bends"])
    length = centerline_length_m([values["length"].to("m")], bends)
    tube = _Tube(
        values["flow"].to("L/s") / 1000,
        values["bore"].to("m"),
        length,
        values["density"].to("kg/m3"),
        values["viscosity"].to("Pa s"),
        values["hold"].to("s"),
        values["guide"],
    )
    stay = residence(length, tube.bore, tube.flow, *tube.liquid)
    wanted = lengths_for(tube.hold, tube.bore, tube.flow, *tube.liquid)
    slopes = _slopes(values["sections"])
    held, risen = stay.fastest_s >= tube.hold, all(one.met for _words, one in slopes)
    return Working(
        answer=say(
            "The fastest particle leaves after %(fastest)s s; %(hold)s s are wanted.",
            fastest=f"{stay.fastest_s:.2f}",
            hold=f"{tube.hold:g}",
        ),
        verdict="met" if held and risen else "not met",
        margin=_margin(stay, tube, slopes),
        steps=(
            *_length_steps(values, bends, length),
            *_flow_steps(tube, stay),
            *_wanted_steps(tube, wanted, values["flow"], values["bore"]),
            *_slope_steps(slopes),
        ),
        cautions=CAUTIONS if risen else (say("A part of the tube rises too little."), *CAUTIONS),
        tables=(_rates(tube, values["flow"]),),
        picture=_picture(tube, stay, values),
    )


def _margin(stay: Residence, tube: _Tube, slopes: list[tuple[str, Slope]]) -> str:
    said = hold_margin(stay.fastest_s - tube.hold)
    low = [one for _words, one in slopes if not one.met]
    if not low:
        return said
    return say("%(hold)s; parts that rise too little: %(count)s", hold=said, count=str(len(low)))


def _length_steps(values: Values, bends: list[Bend], length: float) -> list[Step]:
    if not bends:
        return []
    turned = [f"{one.count} x {one.radius_m:.4g} m x {one.angle_deg:g}° x π/180" for one in bends]
    return [
        Step(
            say("Length along the center line"),
            " + ".join([str(values["length"]), *turned]),
            f"{length:.3f} m",
            BY_DEFINITION,
        )
    ]


def _flow_steps(tube: _Tube, stay: Residence) -> list[Step]:
    guide = GUIDES[tube.guide]
    basis = f"{guide.source}; {guide.basis}"
    area = bore_area_m2(tube.bore)
    return [
        Step(say("Cross-section"), f"π/4 x ({tube.bore:.5g} m)^2", f"{area:.4e} m2", BY_DEFINITION),
        Step(
            say("Volume of the tube"),
            f"{area:.4e} m2 x {tube.length:.3f} m",
            f"{stay.volume_m3 * 1000:.2f} L",
            BY_DEFINITION,
        ),
        Step(
            say("Mean velocity"),
            f"{tube.flow:.4e} m3/s / {area:.4e} m2",
            f"{stay.velocity_m_per_s:.4f} m/s",
            BY_DEFINITION,
        ),
        Step(
            say("Reynolds number"),
            f"{tube.density:.5g} kg/m3 x {stay.velocity_m_per_s:.4f} m/s x {tube.bore:.5g} m / "
            f"{tube.viscosity:.3g} Pa s",
            f"{stay.reynolds:,.0f}",
            BY_DEFINITION,
        ),
        Step(say("Fastest over mean velocity"), guide.name, f"{stay.ratio:.4g}", basis),
        Step(
            say("Mean time in the tube"),
            f"{stay.volume_m3 * 1000:.3f} L / {tube.flow * 1000:.4f} L/s",
            f"{stay.mean_s:.2f} s",
            BY_DEFINITION,
        ),
        Step(
            say("Time of the fastest particle"),
            f"{stay.mean_s:.2f} s / {stay.ratio:.4g}",
            f"{stay.fastest_s:.2f} s",
            basis,
        ),
    ]


def _wanted_steps(tube: _Tube, wanted: Lengths, flow: Given, bore: Given) -> list[Step]:
    mean = f"{tube.hold:g} s x {wanted.velocity_m_per_s:.4f} m/s"
    inches = pmo_length_in(flow.to("gal/s"), tube.hold, bore.to("in"))
    steps = [
        Step(
            say("Length for the wanted time"),
            f"{mean} x {wanted.ratio:.4g}",
            _in_both(wanted.guide_m),
            GUIDES[tube.guide].source,
        ),
        Step(
            say("Length if the flow is laminar"),
            f"588 x {flow.to('gal/s'):.4f} gal/s x {tube.hold:g} s / ({bore.to('in'):.4g} in)^2",
            f"{inches:.1f} in ({_in_both(wanted.laminar_m)})",
            say("PMO Appendix I, HHST tubes (from memory); the exact constant is 588.24"),
        ),
    ]
    try:
        largest = largest_flow_m3_per_s(tube.hold, tube.length, tube.bore, *tube.liquid)
        per_hour = largest * 3.6e6
        shown = f"{math.floor(per_hour)} L/h ({math.floor(per_hour / 3.785411784)} gal/h)"
    except Infeasible as error:
        shown = error.sentence
    what = say("Largest flow for the wanted time, at it and at every slower one")
    return [*steps, Step(what, say("inverse of the above"), shown, GUIDES[tube.guide].source)]


def _slope_steps(slopes: list[tuple[str, Slope]]) -> list[Step]:
    return [
        Step(
            say("Slope of part %(part)s, upward, at least 0.25 in/ft", part=str(place)),
            words,
            say(
                "%(slope)s in/ft, %(met)s",
                slope=f"{one.inches_per_foot:.4g}",
                met=say("met") if one.met else say("not met"),
            ),
            say("PMO item 16p(B) (from memory)"),
        )
        for place, (words, one) in enumerate(slopes, start=1)
    ]


def _rates(tube: _Tube, flow: Given) -> Table:
    rows = []
    for share in SHARES:
        try:
            stay = residence(tube.length, tube.bore, tube.flow * share, *tube.liquid)
        except CalculationError:
            continue  # the guide ends below this rate
        met = say("met") if stay.fastest_s >= tube.hold else say("not met")
        shown = f"{float(flow.value) * share:.6g} {flow.unit}"
        rows.append((shown, f"{stay.reynolds:,.0f}", f"{stay.fastest_s:.2f} s", met))
    return Table(
        say("The hold at other rates of the pump"),
        (say("flow"), say("Reynolds number"), say("fastest particle"), say("wanted time")),
        tuple(rows),
    )


def _picture(tube: _Tube, stay: Residence, values: Values) -> str:
    places = np.linspace(0.0, 1.0, 49)
    ratio = max(stay.ratio, 1.05)
    speeds = velocity_profile(ratio, np.minimum(np.abs(2 * places - 1), 1.0))
    return tube_svg(
        list(zip(places.tolist(), speeds.tolist(), strict=True)),
        ratio,
        stay.fastest_s,
        stay.mean_s,
        tube.hold,
        tube_words=f"{_in_both(tube.length)}, {values['bore']}",
        flow_words=str(values["flow"]),
        ratio_words=str(_("fastest %(ratio)s times the mean")) % {"ratio": f"{stay.ratio:.3g}"},
        named=_words(),
        ident="holding-tube",
    )


def _words() -> dict[str, str]:
    return {
        "title": str(_("Holding tube")),
        "fastest": str(_("fastest particle")),
        "mean": str(_("mean")),
        "wanted": str(_("wanted")),
        "seconds": str(_("seconds in the tube")),
    }


def _in_both(metres: float) -> str:
    return f"{metres:.2f} m, {metres / 0.3048:.1f} ft"


# The parts of a row that carry a unit, under the names of the rows they stand in.
_RADIUS = Ask(name="bends", label="", units=LENGTHS, example="6 in")
_RISE = Ask(name="sections", label="", units=LENGTHS, example="5 in")


def _bends(rows: list[tuple[str, ...]]) -> list[Bend]:
    bends = []
    for radius, angle, count in rows:
        many = number(count, _AS_COUNT)
        if many != int(many):
            raise CalculationError(say("%(count)s is no whole number of bends.", count=count[:20]))
        bends.append(Bend(_RADIUS.read(radius).to("m"), number(angle, _AS_ANGLE), int(many)))
        bend_length_m(bends[-1].radius_m, bends[-1].angle_deg)
    return bends


def _slopes(rows: list[tuple[str, ...]]) -> list[tuple[str, Slope]]:
    found = []
    for rise, length in rows:
        up, along = _RISE.read(rise), _RISE.read(length)
        found.append((f"{up} / {along}", slope_of(up.exactly("m"), along.exactly("m"))))
    return found


_AS_COUNT, _AS_ANGLE = say("the number of bends"), say("the angle in degrees")

CALCULATOR = Calculator(
    key="holding_tube",
    title=_("Holding tube"),
    purpose=_("How long the fastest particle stays in a holding tube, and the tube or the flow for a wanted time."),
    asks=(
        Ask(
            name="flow",
            label=_("Fastest flow of the timing pump"),
            units=FLOWS,
            low=0.1,
            high=90_000,
            example="1000 gal/h",
            help=_("At its sealed setting; for a homogenizer with no homogenizing pressure."),
        ),
        Ask(name="bore", label=_("Inner diameter of the tube"), units=("in", "mm", "cm"), low=0.12, high=11.8,
            example="1.870 in"),
        Ask(name="length", label=_("Straight parts together, or the whole length"), units=LENGTHS, low=0.04, high=3200,
            example="36 ft"),
        Ask(
            name="bends",
            label=_("Bends, one kind a line"),
            kind="rows",
            columns=(_("radius of the center line"), _("degrees"), _("how many")),
            example="6 in; 180; 2",
            help=_("Leave it empty when the length is that of the whole center line."),
            required=False,
        ),
        Ask(
            name="sections",
            label=_("Rise of each part in the direction of flow"),
            kind="rows",
            columns=(_("rise"), _("length")),
            example="5 in; 18 ft\n5 in; 18 ft",
            help=_("For the check of at least a quarter of an inch in each foot; may be left empty."),
            required=False,
        ),
        Ask(name="density", label=_("Density at the temperature of the hold"), units=("kg/m3", "kg/L", "lb/gal"),
            low=700, high=1500, example="1010 kg/m3"),
        Ask(name="viscosity", label=_("Viscosity at the temperature of the hold"), units=("mPa s", "cP", "Pa s"),
            low=0.1, high=10_000, example="0.5 mPa s"),
        HOLD,
        Ask(
            name="guide",
            label=_("Guide for the fastest particle"),
            kind="choice",
            choices=(
                ("laminar", _("fully laminar: 2.0 at every flow")),
                ("toledo", _("correlation 1/(0.0336 log Re + 0.662), Toledo")),
                ("uk", _("United Kingdom guide: 1.33, and 1.25 above Re 20,000")),
                ("flat-1.2", _("flat 1.2, common practice, the least cautious")),
            ),
            example="uk",
        ),
    ),
    work=_work,
)  # fmt: skip
