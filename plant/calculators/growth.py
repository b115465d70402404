"""What an excursion allows to grow: the square-root model over a trace."""

from __future__ import annotations

from django.utils.translation import gettext_lazy as _

from plant.calculators.asks import optional_ask
from plant.calculators.trace_rows import UNIT, gap_ask, hours, readings_ask, seconds, trace_of
from plant.calculators.working import BY_DEFINITION, Ask, Calculator, Step, Table, Values, Working, in_unit
from plant.pictures.growth_chart import growth_svg
from plant.process.growth import (
    Growth,
    SquareRootModel,
    generation_time_h,
    growth_over,
    growth_rate,
    q10,
    square_root_model,
)
from plant.process.said import Said, say
from plant.process.units import CELSIUS

REFERENCE_C = 5.0
# Milk freezes at about -0.5 °C: a reading below this is ice or a fault. Above 20 °C the line was not checked here.
LOW_C, HIGH_C = -1.5, 20.0
COMPARED_TMIN_C = (-1.18, 0.6)
RATKOWSKY = "Ratkowsky and others, J. Bacteriol. 149:1, 1982 (from memory)"
CAUTIONS = (
    say("It supports an evaluation by a qualified person, with counts and history. It never releases a product."),
    say("No lag is assumed. Cells from a cold tank may start later, never count on it."),
    say(
        "The rate is a mean of published trials in pasteurized milk: strains, other products and raw milk differ, some "
        "grow faster."
    ),
    say("Q10 is no constant near the temperature where growth stops; do not carry one from another range."),
)


def _work(values: Values) -> Working:
    rate, tmin = values["rate"].to("log/d"), values["tmin"].to(CELSIUS)
    start, maximum = in_unit(values["start"], "log/mL"), in_unit(values["maximum"], "log/mL")
    gap_s = values["gap"].to("s")
    model = square_root_model(rate, REFERENCE_C, tmin, LOW_C, HIGH_C)
    minutes, levels = trace_of(values["readings"], values["unit"], CELSIUS)
    times, temperatures = seconds(minutes), [float(one) for one in levels]
    found = growth_over(times, temperatures, model, longest_gap_s=gap_s, start_log=start, maximum_log=maximum)
    room = None if start is None or maximum is None else maximum - start
    course = list(zip(hours(found.times_s.tolist()), found.cumulative_log.tolist(), strict=True))
    return Working(
        answer=_answer(found),
        steps=tuple(_steps(found, model, rate, temperatures, start)),
        cautions=CAUTIONS,
        tables=(_other_tmin(rate, times, temperatures, gap_s, start, maximum, tmin),),
        picture=growth_svg(course, found.lowest, found.highest, room, _words()),
    )


def _answer(found: Growth) -> Said:
    if found.capped:
        return say(
            "The readings allow growth up to the stated maximum: %(increase)s log10.",
            increase=f"{found.log_increase:.2f}",
        )
    return say(
        "The readings allow about %(increase)s log10 of growth (%(lowest)s to %(highest)s), %(doublings)s doublings.",
        increase=f"{found.log_increase:.2f}",
        lowest=f"{found.lowest:.2f}",
        highest=f"{found.highest:.2f}",
        doublings=f"{found.doublings:.1f}",
    )


def _steps(
    found: Growth, model: SquareRootModel, rate: float, temperatures: list[float], start: float | None
) -> list[Step]:
    warmest = max(temperatures)
    fastest = growth_rate(model, warmest)
    steps = [
        Step(
            say("Slope of the square-root model"),
            f"b = sqrt({rate:g})/(5 - ({model.tmin_c:g}))",
            f"{model.slope:.5f}",
            RATKOWSKY,
        ),
        Step(
            say("Rate at the warmest reading"),
            f"({model.slope:.5f} x ({warmest:.2f} - ({model.tmin_c:g})))^2",
            f"{fastest:.4f} log10/d",
            RATKOWSKY,
        ),
        Step(
            say("Growth over the readings, a straight line between two"),
            say("sum of b^2 dt (u0^2 + u0 u1 + u1^2)/3, u = T - Tmin, above Tmin only"),
            f"{found.log_increase:.3f} log10",
            say("integral of the model, exact for straight lines"),
        ),
        Step(
            say("Lowest and highest"),
            say("each interval at its colder, at its warmer reading"),
            say("%(low)s to %(high)s log10", low=f"{found.lowest:.3f}", high=f"{found.highest:.3f}"),
            BY_DEFINITION,
        ),
        Step(say("Doublings"), f"{found.log_increase:.3f}/log10(2)", f"{found.doublings:.2f}", BY_DEFINITION),
    ]
    if fastest >= 1e-6:
        steps.insert(
            2,
            Step(
                say("Doubling time at the warmest reading"),
                f"24 x log10(2)/{fastest:.4f}",
                f"{generation_time_h(fastest):.1f} h",
                BY_DEFINITION,
            ),
        )
    at_four = growth_rate(model, 4.0)
    if at_four > 0:
        steps.append(
            Step(
                say("The same growth at a steady 4 °C takes"),
                f"{found.log_increase:.3f}/{at_four:.4f}",
                say("%(days)s days", days=f"{found.log_increase / at_four:.2f}"),
                RATKOWSKY,
            )
        )
    coldest = min(temperatures)
    if coldest > model.tmin_c + 0.1 and warmest > coldest + 0.1:
        steps.append(
            Step(
                say("Q10 of the model between coldest and warmest reading"),
                f"(r({warmest:.2f})/r({coldest:.2f}))^(10/{warmest - coldest:.2f})",
                f"{q10(coldest, warmest, model.tmin_c):.3g}",
                BY_DEFINITION,
            )
        )
    if found.final_log is not None and start is not None:
        steps.append(
            Step(
                say("Level at the end"),
                f"{start:g} + {found.log_increase:.3f}",
                f"{found.final_log:.2f} log10/mL",
                BY_DEFINITION,
            )
        )
    return steps


def _other_tmin(
    rate: float,
    times: list[float],
    temperatures: list[float],
    gap_s: float,
    start: float | None,
    maximum: float | None,
    tmin: float,
) -> Table:
    """The same trace and rate with the Tmin of both publications: they are contested."""
    rows = []
    for one in dict.fromkeys((tmin, *COMPARED_TMIN_C)):
        model = square_root_model(rate, REFERENCE_C, one, LOW_C, HIGH_C)
        found = growth_over(times, temperatures, model, longest_gap_s=gap_s, start_log=start, maximum_log=maximum)
        rows.append((f"{one:g} °C", f"{found.log_increase:.3f}", f"{found.highest:.3f}"))
    return Table(
        say(
            "The same readings with another Tmin: FDA/FSIS 2003 has -1.18 °C (from memory), a milk study of 2021 0.6 °C"
        ),
        ("Tmin", say("growth, log10"), say("highest, log10")),
        tuple(rows),
    )


def _words() -> dict[str, str]:
    return {
        "hours": str(_("hours since the start")),
        "unit": str(_("log10 increase")),
        "title": str(_("Growth over time")),
        "maximum": str(_("maximum")),
        "end": str(_("at the end")),
        "to": str(_("to")),
    }


CALCULATOR = Calculator(
    key="growth",
    title=_("Growth during an excursion"),
    purpose=_(
        "How much a temperature trace allows Listeria monocytogenes to grow in pasteurized milk, for an evaluation; "
        "never for a release."
    ),
    asks=(
        UNIT,
        readings_ask("0; 39\n60; 42\n120; 48\n180; 51\n240; 46\n300; 40"),
        gap_ask("60 min", _("Over a longer gap nothing is worked out: nobody knows what the temperature was.")),
        Ask(
            name="rate",
            label=_("Growth rate at 5 °C"),
            units=("log/d",),
            low=0.001,
            high=10,
            example="0.257 log/d",
            help=_("The mean for pasteurized milk in the FDA/FSIS risk assessment of 2003 is 0.257 (from memory)."),
        ),
        Ask(
            name="tmin",
            label=_("Tmin, where growth stops in the model"),
            units=(CELSIUS,),
            low=-12,
            high=4,
            example="-1.18 °C",
        ),
        optional_ask("start", _("Level at the start"), ("log/mL",), -3, 12, "0 log/mL"),
        optional_ask(
            "maximum",
            _("Highest level that growth reaches"),
            ("log/mL",),
            -3,
            12,
            "7.8 log/mL",
            _("7.8 log10 per mL was found in milk (J. Dairy Sci., 2021). Needs a level at the start."),
        ),
    ),
    work=_work,
)
