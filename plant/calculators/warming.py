"""When a warming tank reaches its limit."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from decimal import Decimal

from django.utils.translation import gettext_lazy as _

from plant.calculators.asks import FAHRENHEIT_FIRST, optional_ask
from plant.calculators.trace_rows import UNIT, readings_ask, trace_of
from plant.calculators.working import Ask, Calculator, Step, Values, Working, as_decimal
from plant.pictures.tank_chart import Reached, warming_svg
from plant.process.errors import within
from plant.process.said import Said, say
from plant.process.storage import (
    HOUR,
    Line,
    NoForecast,
    Warming,
    confidence_band,
    fit_line,
    t_quantile,
    time_to_limit,
    warming_stretch,
)
from plant.process.units import exact_difference, plain

START = datetime(2000, 1, 1, tzinfo=UTC)
REASONS = {
    NoForecast.TOO_FEW: say("No forecast: fewer than three readings since the coldest one."),
    NoForecast.TOO_SHORT: say("No forecast: the readings lie too close together."),
    NoForecast.REACHED: say("The limit is already reached."),
    NoForecast.NOT_WARMING: say("No forecast: the tank is not warming beyond the scatter of its readings."),
    NoForecast.TOO_FAR: say("No forecast: the limit is not reached within a day at this rate."),
}
CAUTIONS = (
    say("An estimate from past readings: a tank may warm faster. Keep reading it, and judge by the readings."),
    say("It supports an evaluation by a qualified person and never releases a product. The limit is the regulator's."),
)


def _work(values: Values) -> Working:
    limit, unit = values["limit"].value, values["limit"].unit
    confidence = int(values["confidence"]) / 100
    step = _step(values, unit)
    minutes, levels = trace_of(values["readings"], values["unit"], unit)
    readings = [
        (START + timedelta(minutes=float(at)), as_decimal(value)) for at, value in zip(minutes, levels, strict=True)
    ]
    used = warming_stretch(readings)
    found = time_to_limit(used, limit, confidence, step)
    shown = [((at - START) / HOUR, float(value)) for at, value in sorted(readings)]
    steps = [
        Step(
            say("Readings that speak for the warming"),
            say("since the coldest one, the last of equals"),
            say("%(used)s of %(all)s readings", used=str(len(used)), all=str(len(readings))),
            say("common practice, no source"),
        )
    ]
    if isinstance(found, NoForecast):
        picture = warming_svg(shown, float(limit), unit, (), None, _words()) if shown else ""
        return Working(REASONS[found], tuple(steps), CAUTIONS, picture=picture)
    line = fit_line(
        [(at - used[-1][0]) / HOUR for at, _value in used],
        [float(value) for _at, value in used],
        float(step) / math.sqrt(12),
    )
    steps += _steps(line, found, float(limit), unit, confidence)
    return Working(
        answer=_answer(found, plain(limit), unit),
        steps=tuple(steps),
        cautions=CAUTIONS,
        picture=_picture(
            shown, line, [(used[place][0] - START) / HOUR for place in (0, -1)], found, float(limit), unit
        ),
    )


def _steps(line: Line, found: Warming, limit: float, unit: str, confidence: float) -> list[Step]:
    last = line.mean_y - line.slope * line.mean_x
    factor = t_quantile(confidence, line.points - 2)
    percent = f"{confidence:.0%}"
    return [
        Step(
            say("Warming, line by least squares"),
            f"T = {last:.2f} {unit} + {line.slope:.3f} {unit}/h x t",
            say(
                "%(rate)s %(unit)s an hour (%(low)s to %(high)s)",
                rate=f"{line.slope:.2f}",
                unit=unit,
                low=f"{found.per_hour_low:.2f}",
                high=f"{found.per_hour_high:.2f}",
            ),
            "NIST/SEMATECH e-Handbook, 4.1.4.1 (from memory)",
        ),
        Step(
            say("Scatter about the line"),
            f"s = sqrt(sum of squares/({line.points} - 2))",
            f"{line.residual_sd:.3f} {unit}",
            "JCGM 100:2008, F.2.2.1 (from memory)",
        ),
        Step(
            say("Student factor"),
            f"t({percent}, {line.points - 2})",
            f"{factor:.3f}",
            "NIST/SEMATECH e-Handbook, 1.3.6.7.2 (from memory)",
        ),
        Step(
            say("Limit reached, hours after the last reading"),
            f"({limit:.2f} - {last:.2f})/{line.slope:.3f}",
            f"{(limit - last) / line.slope:.2f} h",
            "Fieller, 1954 (from memory)",
        ),
    ]


def _answer(found: Warming, limit: str, unit: str) -> Said:
    return say(
        "If it goes on like this, %(limit)s %(unit)s is reached %(expected)s h after the start; at %(percent)s "
        "confidence between %(earliest)s h and %(latest)s h.",
        limit=limit,
        unit=unit,
        expected=f"{(found.expected - START) / HOUR:.1f}",
        earliest=f"{(found.earliest - START) / HOUR:.1f}",
        latest=f"{(found.latest - START) / HOUR:.1f}",
        percent=f"{found.confidence:.0%}",
    )


def _picture(
    shown: list[tuple[float, float]], line: Line, used_h: list[float], found: Warming, limit: float, unit: str
) -> str:
    reached = Reached(*((at - START) / HOUR for at in (found.earliest, found.expected, found.latest)))
    start, last = used_h
    # Far out the interval says little: the drawing goes half as far again as the limit is expected.
    end = max(last, min(reached.latest, start + 1.5 * (reached.expected - start))) + 0.1
    band = []
    for place in range(41):
        at = start + (end - start) * place / 40
        band.append((at, *confidence_band(line, at - last, found.confidence)))
    return warming_svg(shown, limit, unit, band, reached, _words())


def _words() -> dict[str, str]:
    return {
        "hours": str(_("hours since the start")),
        "limit": str(_("limit")),
        "warming": str(_("Warming tank")),
        "expected": str(_("limit reached after")),
        "out of limits": str(_("out of limits")),
        "to": str(_("to")),
    }


def _step(values: Values, unit: str) -> Decimal:
    given = values["resolution"]
    if given is None:
        return Decimal(0)
    within("resolution", float(given.value), 0)
    return as_decimal(exact_difference(given.value, values["unit"], unit))


CALCULATOR = Calculator(
    key="warming",
    title=_("Warming tank"),
    purpose=_("When a warming tank reaches its limit if it goes on at the rate of its readings, and how sure that is."),
    asks=(
        Ask(
            name="limit",
            label=_("Upper limit"),
            units=FAHRENHEIT_FIRST,
            low=-40,
            high=250,
            example="45 °F",
        ),
        UNIT,
        readings_ask("0; 38.0\n30; 38.7\n60; 39.6\n90; 40.1\n120; 40.9\n150; 41.7"),
        optional_ask(
            "resolution",
            _("Smallest step of the thermometer, in the unit of the readings"),
            low=0,
            high=10,
            example="0.1",
        ),
        Ask(
            name="confidence",
            label=_("Confidence of the interval"),
            kind="choice",
            choices=(("90", "90 %"), ("95", "95 %"), ("99", "99 %")),
            example="95",
        ),
    ),
    work=_work,
)
