"""What the sampling plan asks, and its rows of dated samples as values."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from django.utils.translation import gettext_lazy as _

from plant.calculators.asks import optional_ask
from plant.calculators.words import RESULTS
from plant.calculators.working import Ask, decimal_of
from plant.process.errors import CalculationError
from plant.process.said import say


def samples_of(rows: Sequence[tuple[str, ...]]) -> list[tuple[date, Decimal]]:
    """Rows of day and value. Raises CalculationError."""
    return [(_day(when), decimal_of(value, lambda fault: say("value: %(fault)s", fault=fault))) for when, value in rows]


def _day(text: str) -> date:
    try:
        found = date.fromisoformat(text)
    except ValueError as error:
        raise CalculationError(say("Write a day as 2026-03-14.")) from error
    if not 1990 <= found.year <= 2200:
        raise CalculationError(say("Write a day as 2026-03-14."))
    return found


ASKS = (
    Ask(name="n", label=_("n, samples"), low=1, high=1000, example="5"),
    Ask(name="c", label=_("c, how many may lie above m"), low=0, high=999, example="2"),
    Ask(
        name="m",
        label=_("m"),
        low=0,
        high=10_000_000_000,
        example="10",
        help=_("The count that good practice keeps below; 0 where a test only says absent or present."),
    ),
    optional_ask(
        "big_m",
        _("M, which no sample may exceed"),
        low=0,
        high=10_000_000_000,
        example="100",
        help_=_("Leave empty for a plan of two classes."),
    ),
    Ask(
        name="sd",
        label=_("Standard deviation of log10 counts within a lot"),
        low=0.05,
        high=3,
        example="0.8",
        help=_("0.8 stands in many examples (from memory); a plant takes its own."),
    ),
    Ask(
        name="results",
        label=_("Results, one a line"),
        kind="rows",
        columns=(_("result"),),
        words={0: RESULTS},
        example="<10\n<10\n40\n<10\n90",
        required=False,
        help=_("A number, <10, >300, absent or present."),
    ),
    Ask(name="share", label=_("Share of bad units to be found"), units=("%",), low=0.001, high=100, example="5 %"),
    Ask(name="confidence", label=_("With confidence"), units=("%",), low=50, high=99.9, example="95 %"),
    optional_ask(
        "lot",
        _("Units in the lot, where it is small"),
        low=1,
        high=1_000_000,
        help_=_("Leave empty for a large lot."),
    ),
    Ask(
        name="samples",
        label=_("Running rule: samples by day"),
        kind="rows",
        columns=(_("day"), _("value")),
        example="2026-01-06; 12000\n2026-02-03; 31000\n2026-03-03; 9000\n2026-04-07; 15000\n2026-05-05; 8000",
        required=False,
    ),
    optional_ask(
        "limit",
        _("Running rule: limit"),
        low=0,
        high=10_000_000_000,
        example="20000",
        help_=_("Bacteria in pasteurized milk: 20,000 per mL; the row of your rule set governs."),
    ),
)
