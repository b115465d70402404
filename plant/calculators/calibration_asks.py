"""What the check of a thermometer asks, and its rows of earlier readings as values."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

from django.utils.translation import gettext_lazy as _

from plant.calculators.asks import FAHRENHEIT_FIRST, degrees_ask, optional_ask
from plant.calculators.working import Ask, decimal_of
from plant.process.calibration import Stored
from plant.process.errors import CalculationError
from plant.process.limits import Limit
from plant.process.said import say


def moment(text: str, *, end: bool = False) -> datetime:
    """A day, or a day with a time, in the plant's own clock; `end`: a day alone means its last moment."""
    written = text.strip()
    try:
        found = datetime.fromisoformat(written)
    except ValueError as error:
        raise CalculationError(say("Write a day as 2026-03-14, or a day and a time as 2026-03-14 06:30.")) from error
    if found.tzinfo is not None or not 1990 <= found.year <= 2200:
        raise CalculationError(say("Write a day as 2026-03-14, or a day and a time as 2026-03-14 06:30."))
    # One clock for all moments compared here: which one does not matter.
    whole = found.replace(tzinfo=UTC)
    return whole + timedelta(days=1) - timedelta(microseconds=1) if end and len(written) == 10 else whole


def stored_readings(rows: Sequence[tuple[str, ...]], unit: str, limit: Limit) -> list[Stored]:
    """Rows of moment, name, reading [unit]. Raises CalculationError."""
    return [
        Stored(
            name,
            moment(when),
            decimal_of(value, lambda fault: say("reading: %(fault)s", fault=fault)),
            unit,
            (limit,),
        )
        for when, name, value in rows
    ]


ASKS = (
    degrees_ask(_("Unit of the thermometer")),
    optional_ask("ice", _("Read in melting ice"), FAHRENHEIT_FIRST, 14, 50, "32.5 °F"),
    optional_ask("boiling", _("Read in boiling water"), FAHRENHEIT_FIRST, 150, 240, "209.4 °F"),
    optional_ask(
        "pressure",
        _("Pressure at the place (station pressure)"),
        ("kPa", "bar", "psi"),
        40,
        120,
        "95 kPa",
        _("A weather report gives the pressure reduced to sea level: that is not the one wanted."),
    ),
    optional_ask("altitude", _("Altitude, where no barometer is at hand"), ("ft", "m"), -1600, 16_000),
    optional_ask("reading", _("A reading to correct"), FAHRENHEIT_FIRST, 0, 260, "161.4 °F"),
    Ask(
        name="readings",
        label=_("Readings beside the reference, one a line"),
        kind="rows",
        columns=(_("reading"),),
        example="161.9\n161.8\n161.9",
        required=False,
    ),
    optional_ask("reference", _("Reference, by its certificate"), FAHRENHEIT_FIRST, -60, 500, "161.3 °F"),
    optional_ask(
        "reference_u",
        _("Uncertainty of the reference (expanded, k = 2), bath included"),
        FAHRENHEIT_FIRST,
        example="0.1 °F",
        help_=_("A difference: 0.1 °C is 0.18 °F."),
    ),
    optional_ask("resolution", _("Smallest step of the thermometer"), FAHRENHEIT_FIRST, example="0.1 °F"),
    optional_ask(
        "repeatability",
        _("Repeatability known from before (standard deviation of one reading)"),
        FAHRENHEIT_FIRST,
        help_=_("Needed where the thermometer was read only once."),
    ),
    optional_ask("tolerance", _("Tolerance, plus or minus"), FAHRENHEIT_FIRST, example="0.5 °F"),
    Ask(
        name="earlier",
        label=_("Earlier readings to judge again"),
        kind="rows",
        columns=(_("day, or day and time"), _("what"), _("reading")),
        example=(
            "2026-01-12 06:10; run 1; 162.4\n2026-01-19 06:05; run 2; 161.5\n2026-02-02 06:20; run 3; 161.9\n"
            "2026-02-09 06:15; run 4; 163.0"
        ),
        required=False,
    ),
    optional_ask("low", _("Lower limit of those readings"), FAHRENHEIT_FIRST, -60, 500, "161 °F"),
    optional_ask("high", _("Upper limit of those readings"), FAHRENHEIT_FIRST, -60, 500),
    Ask(
        name="last_good",
        label=_("Last good calibration"),
        kind="text",
        example="2026-01-15",
        required=False,
        help=_("Leave empty where none is known: then all earlier readings count."),
    ),
    Ask(name="found_on", label=_("Failed calibration"), kind="text", example="2026-02-16", required=False),
    optional_ask("resistance", _("Pt100: resistance"), ("ohm",), 18.52, 390.48, "127.84 ohm"),
    optional_ask("lead", _("Pt100: resistance of two leads"), ("ohm",), -10, 100, "0.2 ohm"),
)
