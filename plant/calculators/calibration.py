"""A thermometer check: fixed points, the error found with its uncertainty, what it puts in doubt, a Pt100 beside it."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext_lazy as _

from plant.calculators.calibration_asks import ASKS, moment, stored_readings
from plant.calculators.working import (
    BY_DEFINITION,
    Calculator,
    Given,
    Step,
    Table,
    Values,
    Working,
    as_decimal,
    joined,
    number,
)
from plant.process.calibration import (
    AsFound,
    Conformity,
    InDoubt,
    as_found_error,
    boiling_point_c,
    doubtful_readings,
    judge_tolerance,
    lead_error_c,
    pt100_sensitivity_ohm_per_c,
    pt100_temperature_c,
    pt100_tolerance_c,
    standard_pressure_kpa,
    two_point,
)
from plant.process.errors import CalculationError
from plant.process.limits import Limit, Outcome
from plant.process.said import Said, say
from plant.process.units import CELSIUS, exact

GUM = "JCGM 100:2008 (from memory)"
IF97 = "IAPWS-IF97, region 4, equation 31 (from memory)"
IEC = "IEC 60751:2008 (from memory)"
ISO_2533 = "ISO 2533:1975 (from memory)"
CAUTIONS = (
    say("A correction never makes a reading that missed its limit count as met."),
    say(
        "Nobody knows when a thermometer went off: everything since the last good calibration is judged again, by the "
        "whole error."
    ),
    say("The regulator's own test and tolerance govern; a seal broken for a check is reported as the rule says."),
)
ALTITUDE = say("Weather moves the boiling point by about 1 °C: read a barometer at the place where you can.")
SEA_LEVEL = say("Take the pressure at the place itself, not the one a weather report reduces to sea level.")


@dataclass(frozen=True, slots=True)
class _Part:
    """What one part of the check adds to the working."""

    steps: tuple[Step, ...]
    said: Said | None = None
    cautions: tuple[Said, ...] = ()
    tables: tuple[Table, ...] = ()


def _work(values: Values) -> Working:
    unit = values["unit"]
    points, sensor = _points(values, unit), _sensor(values)
    found, checked, conformity = _found(values, unit)
    doubted = _doubt(values, unit, found)
    parts = [one for one in (points, checked, doubted, sensor) if one is not None]
    if not parts:
        raise CalculationError(say("Give the readings in ice and boiling water, or those beside a reference."))
    said = [one.said for one in parts if one.said is not None]
    verdict = margin = ""
    if conformity is not None:
        verdict = "met" if conformity.outcome is Outcome.MET else "not met"
        words = {"margin": f"{abs(conformity.margin):.3f}", "unit": unit}
        margin = (
            say("the error alone lies %(margin)s %(unit)s inside the tolerance", **words)
            if conformity.simple
            else say("the error alone lies %(margin)s %(unit)s outside the tolerance", **words)
        )
    return Working(
        answer=joined(said),
        steps=tuple(step for one in parts for step in one.steps),
        cautions=(*CAUTIONS, *(caution for one in parts for caution in one.cautions)),
        verdict=verdict,
        margin=margin,
        tables=tuple(table for one in parts for table in one.tables),
    )


def _points(values: Values, unit: str) -> _Part | None:
    ice, boiling = values["ice"], values["boiling"]
    if ice is None and boiling is None:
        return None
    if ice is None or boiling is None:
        raise CalculationError(say("A two-point correction needs both the reading in ice and that in boiling water."))
    steps, true_high, cautions = _boiling(values, unit)
    true_low = float(exact(Decimal(0), CELSIUS, unit))
    line = two_point(ice.to(unit), true_low, boiling.to(unit), true_high)
    steps += [
        Step(
            say("Error in ice and in boiling water"),
            f"{line.read_low:g} - {true_low:g}; {line.read_high:g} - {true_high:.2f}",
            f"{line.error_low:+.2f} {unit}; {line.error_high:+.2f} {unit}",
            BY_DEFINITION,
        ),
        Step(
            say("True degrees for each degree read"),
            f"({true_high:.2f} - {true_low:g})/({line.read_high:g} - {line.read_low:g})",
            f"{line.slope:.5f}",
            BY_DEFINITION,
        ),
    ]
    if values["reading"] is None:
        return _Part(tuple(steps), say("The two-point correction is worked out below."), cautions)
    reading = values["reading"].to(unit)
    true = line.corrected(reading)
    steps.append(
        Step(
            say("The reading, corrected"),
            f"{true_low:g} + {line.slope:.5f} x ({reading:g} - {line.read_low:g})",
            f"{true:.2f} {unit}",
            BY_DEFINITION,
        )
    )
    off = line.error(reading)
    words = {"reading": f"{reading:g}", "true": f"{true:.2f}", "error": f"{abs(off):.2f}", "unit": unit}
    said = (
        say("A reading of %(reading)s %(unit)s means %(true)s %(unit)s: %(error)s %(unit)s too high.", **words)
        if off >= 0
        else say("A reading of %(reading)s %(unit)s means %(true)s %(unit)s: %(error)s %(unit)s too low.", **words)
    )
    return _Part(tuple(steps), said, cautions)


def _boiling(values: Values, unit: str) -> tuple[list[Step], float, tuple[Said, ...]]:
    pressure, altitude = values["pressure"], values["altitude"]
    steps, cautions = [], (SEA_LEVEL,)
    if pressure is not None:
        kpa = pressure.to("kPa")
    elif altitude is not None:
        height = altitude.to("m")
        kpa, cautions = standard_pressure_kpa(height), (ALTITUDE,)
        how = f"101.325 x (1 - 2.25577e-5 x {height:.0f})^5.25588"
        steps.append(Step(say("Pressure of the standard atmosphere"), how, f"{kpa:.3f} kPa", ISO_2533))
    else:
        raise CalculationError(say("The boiling point needs the pressure at the place, or its altitude."))
    celsius = boiling_point_c(kpa)
    true = celsius if unit == CELSIUS else celsius * 9 / 5 + 32
    result = f"{true:.2f} {unit}" + ("" if unit == CELSIUS else f" ({celsius:.2f} °C)")
    steps.append(
        Step(say("Boiling point of water at %(kpa)s kPa", kpa=f"{kpa:.3f}"), say("saturation line"), result, IF97)
    )
    return steps, true, cautions


def _found(values: Values, unit: str) -> tuple[AsFound | None, _Part | None, Conformity | None]:
    rows = values["readings"]
    if not rows:
        return None, None, None
    needed = [values[name] for name in ("reference", "reference_u", "resolution", "tolerance")]
    if None in needed:
        raise CalculationError(
            say("The error found needs the reference, its uncertainty, the resolution and the tolerance.")
        )
    reference, resolution = needed[0].to(unit), needed[2].difference(unit)
    repeatability: Given | None = values["repeatability"]
    found = as_found_error(
        [number(one, say("reading")) for (one,) in rows],
        reference,
        reference_expanded=needed[1].difference(unit),
        resolution=resolution,
        repeatability=None if repeatability is None else repeatability.difference(unit),
    )
    tolerance = needed[3].difference(unit)
    conformity = judge_tolerance(found, tolerance)
    table = Table(
        say("Standard uncertainties"),
        (say("from"), say("how"), unit),
        (
            (say("reference"), "U/k, k = 2", f"{found.reference_u:.4f}"),
            (say("resolution"), f"{resolution:g}/sqrt(12)", f"{found.resolution_u:.4f}"),
            (say("repeatability of the mean"), f"s/sqrt({len(rows)})", f"{found.repeatability_u:.4f}"),
            (say("combined"), say("root of the sum of squares"), f"{found.combined_u:.4f}"),
        ),
    )
    mean = found.error + reference
    steps = (
        Step(say("Error found"), f"{mean:.3f} - {reference:g}", f"{found.error:+.3f} {unit}", GUM),
        Step(
            say("Expanded uncertainty, coverage factor k = 2"),
            f"2 x {found.combined_u:.4f}",
            say("%(u)s %(unit)s, about %(level)s %%", u=f"{found.expanded:.3f}", unit=unit,
                level=f"{100 * found.confidence:.1f}"),
            GUM,
        ),
        Step(
            say("Against the tolerance, with the uncertainty"),
            f"|{found.error:.3f}| +/- {found.expanded:.3f}; {tolerance:g}",
            say(conformity.outcome.value),
            "JCGM 106:2012 (from memory)",
        ),
        Step(
            say("Against the tolerance, the error alone"),
            f"|{found.error:.3f}|; {tolerance:g}",
            say("met") if conformity.simple else say("not met"),
            say("as the rule on the instrument is usually read; common practice, no source"),
        ),
    )  # fmt: skip
    said = say(
        "The error found is %(error)s ± %(u)s %(unit)s (k = 2).",
        error=f"{found.error:+.2f}",
        u=f"{found.expanded:.2f}",
        unit=unit,
    )
    return found, _Part(steps, said, tables=(table,)), conformity


def _doubt(values: Values, unit: str, found: AsFound | None) -> _Part | None:
    if not values["earlier"]:
        return None
    if found is None:
        raise CalculationError(say("What is in doubt needs the error found: give the readings beside the reference."))
    low, high = values["low"], values["high"]
    if low is None and high is None:
        raise CalculationError(say("What is in doubt needs the limit that the readings were judged by."))
    governing = (low or high).unit
    limit = Limit(
        "limit",
        "temperature",
        governing,
        low=None if low is None else low.value,
        high=None if high is None else as_decimal(high.exactly(governing)),
    )
    error, spread = (Decimal(f"{one:.4f}") for one in (found.error, found.expanded))
    last_good = None if values["last_good"] is None else moment(values["last_good"])
    if values["found_on"] is None:
        raise CalculationError(say("What is in doubt needs the day of the failed calibration."))
    doubt = doubtful_readings(
        stored_readings(values["earlier"], unit, limit), error, last_good, moment(values["found_on"], end=True), spread
    )
    how = say("judged again as read - (%(error)s), give or take %(spread)s", error=f"{error:+}", spread=str(spread))
    turned, counted = len(doubt.now_not_met), len(doubt.now_not_met) + len(doubt.now_met) + len(doubt.unchanged)
    said = say("%(turned)s of %(counted)s earlier readings are in doubt.", turned=str(turned), counted=str(counted))
    step = Step(say("Readings since the last good calibration"), how, said, BY_DEFINITION)
    return _Part((step,), said, tables=(_doubt_table(doubt, unit),))


def _doubt_table(doubt: InDoubt, unit: str) -> Table:
    groups = (
        (doubt.now_not_met, say("no longer met")),
        (doubt.now_met, say("stays not met")),
        (doubt.unchanged, say("unchanged")),
    )
    rows = [
        (
            one.stored.at.strftime("%Y-%m-%d %H:%M"),
            one.stored.key,
            f"{one.stored.value:f}",
            f"{float(one.corrected):.2f}",
            words,
        )
        for group, words in groups
        for one in group
    ]
    head = (say("when"), say("what"), say("read, %(unit)s", unit=unit), say("corrected, the worst"), say("verdict"))
    return Table(say("Earlier readings, judged again"), head, tuple(rows))


def _sensor(values: Values) -> _Part | None:
    if values["resistance"] is None:
        return None
    ohm, lead = float(values["resistance"].value), values["lead"]
    celsius = pt100_temperature_c(ohm)
    steps = [
        Step(
            say("Pt100: temperature from resistance"),
            f"R = 100 (1 + 3.9083e-3 t - 5.775e-7 t^2) = {ohm:g}",
            f"{celsius:.3f} °C = {celsius * 9 / 5 + 32:.2f} °F",
            IEC,
        ),
        Step(
            say("Pt100: ohms for each degree"),
            "dR/dt",
            f"{pt100_sensitivity_ohm_per_c(celsius):.4f} ohm/°C",
            IEC,
        ),
    ]
    for name in ("A", "B"):
        try:
            steps.append(_tolerance_step(celsius, name))
        except CalculationError:
            continue  # the class does not reach this far
    if lead is not None:
        off = lead_error_c(celsius, float(lead.value))
        steps.append(
            Step(say("Pt100: %(lead)s ohm of leads, two wires", lead=f"{float(lead.value):g}"), "t(R + lead) - t",
                 f"{off:+.3f} °C", IEC)
        )  # fmt: skip
    return _Part(tuple(steps), say("The sensor shows %(celsius)s °C.", celsius=f"{celsius:.2f}"))


def _tolerance_step(celsius: float, name: str) -> Step:
    allowed = pt100_tolerance_c(celsius, name)
    return Step(say("Pt100: tolerance of class %(name)s", name=name), say("table 3"), f"± {allowed:.3f} °C", IEC)


CALCULATOR = Calculator(
    key="calibration",
    title=_("Check of a thermometer"),
    purpose=_(
        "The correction from ice and boiling water, the error beside a reference with its uncertainty, which earlier "
        "readings a failed check puts in doubt, and the temperature of a Pt100."
    ),
    asks=ASKS,
    work=_work,
)
