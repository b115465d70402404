"""A holding-time test made with water: what it says of product, and the pump's flow that it has to be made at."""

from __future__ import annotations

from django.utils.translation import gettext_lazy as _

from plant.calculators.asks import FLOWS, optional_ask
from plant.calculators.holding_asks import HOLD, hold_margin
from plant.calculators.working import Ask, Calculator, Given, Step, Values, Working
from plant.process.holding_tube import (
    GoverningFlow,
    PumpReading,
    SaltEstimate,
    governing_flow,
    product_hold_by_volume_s,
    product_hold_by_weight_s,
    salt_test_estimate,
)
from plant.process.said import Said, say

OTHER = "other"
TEST = say("PMO Appendix I, test 11 (from memory)")
CAUTIONS = (
    say(
        "The test of record is made by or for your regulator, with water and salt, at the fastest legal flow, in "
        "forward and in diverted flow. This sheet only repeats its arithmetic."
    ),
    say(
        "The correction from water to product is for the pump's rate alone. A viscous product's fastest particle may "
        "be faster still: size its tube by the laminar formula."
    ),
    say("After work on the pump, its drive, its seal or the tube the test is made again before the next forward flow."),
)


def _work(values: Values) -> Working:
    water, wanted = values["water_hold"].to("s"), values["hold"].to("s")
    product_fill, water_fill = values["product_fill"].to("s"), values["water_fill"].to("s")
    gravity = None if values["gravity"] is None else float(values["gravity"].value)
    ratio = f"{product_fill:g} s / {water_fill:g} s"
    if values["by"] == "volume":
        hold, how = product_hold_by_volume_s(water, product_fill, water_fill), f"{water:g} s x {ratio}"
    elif gravity is None:
        hold, how = product_hold_by_weight_s(water, product_fill, water_fill), f"1.032 x {water:g} s x {ratio}"
    else:
        hold = product_hold_by_weight_s(water, product_fill, water_fill, gravity)
        how = f"{gravity:g} x {water:g} s x {ratio}"
    pump = _pump(values["pump"])
    salt = None if values["product"] in (None, OTHER) else salt_test_estimate(hold, values["product"])
    shortest = hold if salt is None else min(hold, salt.estimate_s)
    return Working(
        answer=_answer(hold, wanted, salt),
        verdict="met" if shortest >= wanted else "not met",
        margin=hold_margin(shortest - wanted),
        steps=(Step(say("Holding time of product"), how, f"{hold:.3f} s", TEST), *_salt(salt), *_flow(pump)),
        cautions=(*(() if salt is None else (salt.caution,)), *(() if pump is None else pump.sentences), *CAUTIONS),
    )


def _answer(hold: float, wanted: float, salt: SaltEstimate | None) -> Said:
    if salt is None:
        return say(
            "The test says %(hold)s s for product; %(wanted)s s are wanted.",
            hold=f"{hold:.3f}",
            wanted=f"{wanted:g}",
        )
    return say(
        "The test says %(hold)s s for product; for %(product)s its fastest particle may take only %(estimate)s s. "
        "%(wanted)s s are wanted.",
        hold=f"{hold:.3f}",
        product=salt.test.product,
        estimate=f"{salt.estimate_s:.1f}",
        wanted=f"{wanted:g}",
    )


def _salt(salt: SaltEstimate | None) -> list[Step]:
    if salt is None:
        return []
    return [
        Step(
            say("What it may be worth for %(product)s", product=salt.test.product),
            f"{salt.salt_hold_s:.3f} s x {salt.test.measured_s:g} s / {salt.test.sized_s:g} s",
            f"{salt.estimate_s:.1f} s",
            salt.test.source,
        )
    ]


def _flow(pump: GoverningFlow | None) -> list[Step]:
    if pump is None:
        return []
    per_hour = pump.flow_m3_per_s * 3.6e6
    return [
        Step(
            say("Flow at which the test has to be made"),
            say(
                "the fastest at sealed top speed: at %(pressure)s kPa; the slowest reading is %(fall)s %% lower",
                pressure=f"{pump.pressure_kpa:.5g}",
                fall=f"{100 * pump.fall:.1f}",
            ),
            f"{per_hour:.1f} L/h ({per_hour / 3.785411784:.1f} gal/h)",
            say("common practice, no source"),
        )
    ]


# The parts of a row that carry a unit, under the name of the rows they stand in.
_PRESSURE = Ask(name="pump", label="", units=("psi", "bar", "kPa"), example="0 psi")
_RATE = Ask(name="pump", label="", units=FLOWS, example="1000 gal/h")


def _pump(rows: list[tuple[str, ...]]) -> GoverningFlow | None:
    if not rows:
        return None
    readings: list[tuple[Given, Given]] = [(_PRESSURE.read(pressure), _RATE.read(flow)) for pressure, flow in rows]
    return governing_flow([PumpReading(pressure.to("kPa"), flow.to("L/s") / 1000) for pressure, flow in readings])


CALCULATOR = Calculator(
    key="holding_test",
    title=_("Holding-time test"),
    purpose=_("What a holding-time test made with water says of product, and the flow that it has to be made at."),
    asks=(
        Ask(name="water_hold", label=_("Holding time measured on water"), units=("s",), low=0.005, high=3600,
            example="16.2 s"),
        Ask(
            name="by",
            label=_("The fills are of one equal"),
            kind="choice",
            choices=(("volume", _("volume")), ("weight", _("weight"))),
            example="volume",
        ),
        Ask(name="product_fill", label=_("Time to fill with product"), units=("s", "min"), low=1, high=3600,
            example="62.5 s"),
        Ask(name="water_fill", label=_("Time to fill with water, same setting"), units=("s", "min"), low=1, high=3600,
            example="60.0 s"),
        optional_ask("gravity", _("Specific gravity of the product, for fills by weight"), low=0.9, high=1.4,
                     help_=_("Empty: 1.032, that of milk.")),
        Ask(
            name="product",
            label=_("Product"),
            kind="choice",
            choices=(
                (OTHER, _("another, nothing published here")),
                ("milk", _("milk")),
                ("chocolate-milk", _("chocolate milk")),
                ("cream-40", _("cream, 40 % fat")),
                ("mix-10", _("ice cream mix, 10 % fat")),
                ("mix-16.5", _("ice cream mix, 16.5 % fat")),
                ("condensed-40", _("condensed skim milk, 40 % solids")),
            ),
            example="milk",
        ),
        HOLD,
        Ask(
            name="pump",
            label=_("Flows of a homogenizer as timing pump, at sealed top speed"),
            kind="rows",
            columns=(_("homogenizing pressure"), _("flow")),
            example="0 psi; 1000 gal/h\n1500 psi; 978 gal/h\n2000 psi; 970 gal/h",
            help=_("One of them with no homogenizing pressure. Empty for another pump."),
            required=False,
        ),
    ),
    work=_work,
)  # fmt: skip
