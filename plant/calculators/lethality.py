"""Lethality of a recorded heat treatment: F, how sure it is, and what it does to a named organism."""

from __future__ import annotations

import numpy as np
from django.utils.translation import gettext_lazy as _

from plant.calculators.asks import CELSIUS_FIRST, FAHRENHEIT_FIRST, degrees_ask, optional_ask
from plant.calculators.trace_rows import READINGS_UNIT, readings_ask, trace_of
from plant.calculators.working import BY_DEFINITION, Ask, Calculator, Given, Step, Table, Values, Working, in_unit
from plant.pictures.lethal_trace import lethal_trace_svg
from plant.process.arrays import FloatArray
from plant.process.errors import CalculationError
from plant.process.lethality import FValue, Reduction, f_value, lethal_rate, reduction
from plant.process.limits import Limit
from plant.process.said import Said, say
from plant.process.trace import below_limit
from plant.process.units import CELSIUS

NONE = "none"
GENERAL_METHOD = say("general method, e.g. Toledo, Fundamentals of Food Process Engineering, ch. 9 (from memory)")
CAUTIONS = (
    say("Give the coldest place: the indicating thermometer at the tube's end, or the coldest of the vat."),
    say(
        "Rows of the legal table are not on one line of equal lethality: 191 °F for 1 s is not on the line of 161 °F "
        "for 15 s. No F makes up for a legal temperature or time that was missed."
    ),
    say("F of one reference temperature and z says nothing about another: name both with it."),
)


def _work(values: Values) -> Working:
    times, levels = _trace(values)
    reference, z = float(values["reference"].exactly(CELSIUS)), _difference(values["z"])
    bias, scatter, step = _difference(values["bias"]), _difference(values["scatter"]), _step(values)
    found = f_value(times, levels, reference, z, bias_c=bias, random_c=scatter, step_s=step)
    killed: Reduction | None = None
    refused: tuple[Said, ...] = ()
    if values["organism"] not in (None, NONE):
        try:
            killed = reduction(times, levels, values["organism"], bias_c=bias, random_c=scatter, step_s=step)
        except CalculationError as error:
            refused = (say("No log reductions are given: %(why)s.", why=error.sentence),)
    organism_words = () if killed is None else killed.sentences
    return Working(
        answer=_answer(found, killed),
        steps=(*_f_steps(found, len(times)), *_organism_steps(killed, refused), *_legal_steps(values, times, levels)),
        cautions=(found.notice, *found.sentences, *organism_words, *refused, *CAUTIONS),
        tables=(_table(times, levels, found),),
        picture=_picture(values, times, levels, found),
    )


def _trace(values: Values) -> tuple[list[float], list[float]]:
    """Times [s] and temperatures [°C]."""
    moments, levels = trace_of(values["readings"], values["unit"], CELSIUS, values["time_unit"])
    seconds = 60 if values["time_unit"] == "min" else 1
    return [float(one * seconds) for one in moments], [float(one) for one in levels]


def _difference(given: Given | None) -> float:
    """A difference of temperatures [°C]; none is 0."""
    return 0.0 if given is None else given.difference(CELSIUS)


def _step(values: Values) -> float | None:
    """The longest step that counts as unbroken [s]; None takes the trace's own."""
    return in_unit(values["step"], "s")


def _answer(found: FValue, killed: Reduction | None) -> Said:
    said = say(
        "F is %(f)s at %(reference)s °C for a z of %(z)s °C, %(low)s to %(high)s with the sensor's doubt.",
        f=_time(found.exact_s),
        reference=f"{found.reference_c:.5g}",
        z=f"{found.z_c:.4g}",
        low=_time(found.low_s),
        high=_time(found.high_s),
    )
    if killed is None:
        return say("%(f)s This supports an evaluation; the legal verdict is another.", f=said)
    return say(
        "%(f)s %(organism)s This supports an evaluation; the legal verdict is another.",
        f=said,
        organism=killed.words(),
    )


def _f_steps(found: FValue, count: int) -> list[Step]:
    steps = [
        Step(
            say("Lethal rate of each reading"),
            f"10^((T - {found.reference_c:.5g}) / {found.z_c:.4g})",
            say("%(count)s rates, in the table", count=str(count)),
            GENERAL_METHOD,
        ),
        Step(
            say("F with straight lines between the readings"),
            say("sum of dt (L2 - L1)/ln(L2/L1), and dt L where both are equal"),
            _time(found.exact_s),
            say("integral of the lethal rate, by definition"),
        ),
        Step(
            say("F by the trapezium rule on the lethal rates"),
            say("sum of dt (L1 + L2)/2"),
            say(
                "%(f)s, %(more)s more than straight lines",
                f=_time(found.trapezium_s),
                more=_time(found.trapezium_s - found.exact_s),
            ),
            GENERAL_METHOD,
        ),
        Step(
            say("Bounds if the temperature moves one way between readings"),
            say("sum of dt times the lower, and the higher, of L1 and L2"),
            say("%(low)s to %(high)s", low=_time(found.lower_ends_s), high=_time(found.higher_ends_s)),
            BY_DEFINITION,
        ),
    ]
    if found.bias_c or found.random_c or found.gaps_s:
        steps.append(
            Step(
                say("F with the sensor's doubt"),
                say(
                    "all readings %(bias)s °C colder to hotter; scatter of %(scatter)s °C gives +/- 2 x %(random)s; "
                    "without gaps at the low end",
                    bias=f"{found.bias_c:.3g}",
                    scatter=f"{found.random_c:.3g}",
                    random=_time(found.random_s),
                ),
                say("%(low)s to %(high)s", low=_time(found.low_s), high=_time(found.high_s)),
                say("bias by definition; scatter by first-order propagation, JCGM 100 (from memory)"),
            )
        )
    return steps


def _organism_steps(killed: Reduction | None, refused: tuple[Said, ...]) -> list[Step]:
    if killed is None:
        return [Step(say("Log reductions"), "", one, "") for one in refused]
    known = killed.organism
    return [
        Step(
            say("Log reductions of %(organism)s", organism=known.name),
            say(
                "sum of dt/D(T), D %(d_low)s to %(d_high)s s at %(at)s °C, z %(z_low)s to %(z_high)s °C, measured at "
                "%(coldest)s to %(hottest)s °C",
                d_low=f"{known.d_low_s:g}",
                d_high=f"{known.d_high_s:g}",
                at=f"{known.reference_c:g}",
                z_low=f"{known.z_low_c:g}",
                z_high=f"{known.z_high_c:g}",
                coldest=f"{known.measured_low_c:g}",
                hottest=f"{known.measured_high_c:g}",
            ),
            say("%(least)s to %(most)s", least=killed.least.words(), most=killed.most.words()),
            f"{known.source}; {known.basis}",
        )
    ]


def _legal_steps(values: Values, times: list[float], levels: list[float]) -> list[Step]:
    """What the legal verdict would look at, without one: that needs the row of the table, the hold and the checks."""
    given = values["limit"]
    if given is None:
        return []
    limit = Limit("legal", "temperature", given.unit, low=given.value)
    beside = below_limit(times, levels, limit, CELSIUS, _step(values))
    return [
        Step(
            say("Beside the legal temperature (no verdict here)"),
            say("time counts when both readings around it are at or above %(limit)s", limit=str(given)),
            beside.words(),
            say("comparison in the unit of the clause"),
        )
    ]


def _table(times: list[float], levels: list[float], found: FValue) -> Table:
    rates = lethal_rate(levels, found.reference_c, found.z_c)
    rows = tuple(
        (f"{time:.6g}", f"{level:.2f}", f"{rate:.4f}")
        for time, level, rate in zip(times, levels, rates.tolist(), strict=True)
    )
    return Table(say("Readings and their lethal rates"), (say("seconds"), "°C", say("lethal rate")), rows)


def _picture(values: Values, times: list[float], levels: list[float], found: FValue) -> str:
    unit = values["unit"]
    per = 60.0 if values["time_unit"] == "min" else 1.0
    shown = [float(one) for one in trace_of(values["readings"], unit, unit, values["time_unit"])[1]]
    fine: FloatArray = np.unique(np.concatenate((np.linspace(times[0], times[-1], 600), times)))
    rates = lethal_rate(np.interp(fine, times, levels), found.reference_c, found.z_c)
    limit = values["limit"]
    return lethal_trace_svg(
        list(zip([one / per for one in times], shown, strict=True)),
        list(zip((fine / per).tolist(), rates.tolist(), strict=True)),
        unit=unit,
        time_unit=str(_("minutes")) if per == 60 else str(_("seconds")),
        limit=in_unit(limit, unit),
        reference=float(values["reference"].exactly(unit)),
        area_words=str(_("area: F = %(f)s")) % {"f": _time(found.exact_s)},
        named=_words(),
        ident="lethality",
    )


def _words() -> dict[str, str]:
    return {
        "title": str(_("Temperature and lethal rate")),
        "rate": str(_("lethal rate")),
        "limit": str(_("legal temperature")),
        "reference": str(_("reference")),
    }


def _time(seconds: float) -> str:
    if seconds < 120:
        return f"{seconds:.4g} s"
    return f"{seconds / 60:.4g} min ({seconds:,.0f} s)"


CALCULATOR = Calculator(
    key="lethality",
    title=_("Lethality of a heat treatment"),
    purpose=_(
        "F of a recorded trace and log reductions by published D and z, for an evaluation by a qualified person; never "
        "for a release and never in place of the legal verdict."
    ),
    asks=(
        degrees_ask(READINGS_UNIT, CELSIUS),
        Ask(
            name="time_unit",
            label=_("Times are in"),
            kind="choice",
            choices=(("min", _("minutes")), ("s", _("seconds"))),
            example="min",
        ),
        readings_ask(
            "0; 55\n5; 60\n10; 62.5\n15; 63.2\n20; 63.4\n25; 63.5\n30; 63.3\n35; 63.1\n40; 60\n45; 50",
            _("time"),
            _("Time since the start, then the temperature of the coldest place: 15; 63.2"),
        ),
        Ask(name="reference", label=_("Reference temperature"), units=CELSIUS_FIRST, low=40, high=150, example="63 °C"),
        Ask(
            name="z",
            label=_("z, the degrees for ten times the rate"),
            units=CELSIUS_FIRST,
            example="4.3 °C",
            help=_("A difference: 4.3 °C is 7.74 °F."),
        ),
        Ask(
            name="organism",
            label=_("Organism"),
            kind="choice",
            choices=(
                (NONE, _("none")),
                ("listeria", _("Listeria monocytogenes in whole milk")),
                ("listeria-scott-a", _("Listeria monocytogenes Scott A in milks and cream")),
                ("listeria-mix", _("Listeria monocytogenes Scott A in ice cream mix")),
                ("listeria-heat-shocked", _("Listeria monocytogenes, heat shocked (the longer D) and not")),
                ("salmonella", _("Salmonella in milk, six ordinary strains")),
                ("coxiella", _("Coxiella burnetii in bovine milk")),
                ("mycobacterium-bovis", _("Mycobacterium bovis and caprae in milk")),
            ),
            example="coxiella",
            required=False,
        ),
        optional_ask(
            "bias",
            _("The sensor may be off by"),
            CELSIUS_FIRST,
            example="0.5 °F",
            help_=_("Either way, all the time: its accuracy at the last check. A difference."),
        ),
        optional_ask(
            "scatter",
            _("Scatter of single readings, standard deviation"),
            CELSIUS_FIRST,
            help_=_("A difference; may be left empty."),
        ),
        optional_ask(
            "step",
            _("Readings may lie so far apart"),
            ("s", "min"),
            0.001,
            86_400,
            "5 min",
            _("A longer step is a gap and proves nothing. Empty: one and a half times the usual step, a minute at most."),  # noqa: E501
        ),
        optional_ask(
            "limit",
            _("Legal temperature to show beside it"),
            FAHRENHEIT_FIRST,
            32,
            300,
            "145 °F",
            _("As the clause is written. No verdict is given here."),
        ),
    ),
    work=_work,
)
