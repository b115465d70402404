"""What the wash asks."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext_lazy as _
from django.utils.translation import gettext_noop

from plant.calculators.asks import FAHRENHEIT_FIRST, YES_NO, optional_ask
from plant.calculators.words import QUANTITIES
from plant.calculators.working import Ask

STEPS = (
    gettext_noop("pre-rinse"), gettext_noop("caustic"), gettext_noop("rinse"), gettext_noop("acid"),
    gettext_noop("final rinse"),
)  # fmt: skip


def _recorded(name: str, label: Any, example: str) -> Ask:
    """A yes or no that the record may leave open."""
    choices = (*YES_NO, ("unknown", _("not recorded")))
    return Ask(name=name, label=label, kind="choice", choices=choices, example=example)


ASKS = (
    Ask(
        name="plan",
        label=_("The plan, one limit a line"),
        kind="rows",
        columns=(_("step"), _("quantity"), _("at least"), _("at most"), _("unit")),
        words={1: QUANTITIES},
        names=STEPS,
        example=(
            "pre-rinse; time; 3; ; min\npre-rinse; temperature; ; 115; °F\n"
            "caustic; time; 10; ; min\ncaustic; temperature; 158; 176; °F\ncaustic; conductivity; 40; ; mS/cm\n"
            "rinse; time; 3; ; min\n"
            "acid; time; 5; ; min\nacid; temperature; 131; 167; °F\nacid; concentration; 0.5; 1; %\n"
            "final rinse; time; 3; ; min"
        ),
        help=_("The quantities are time, temperature, conductivity, concentration and flow."),
    ),
    Ask(
        name="record",
        label=_("What was recorded, in the order of the wash"),
        kind="rows",
        columns=(_("step"), _("quantity"), _("measured"), _("unit")),
        words={1: QUANTITIES},
        names=STEPS,
        example=(
            "pre-rinse; time; 4; min\npre-rinse; temperature; 108; °F\n"
            "caustic; time; 12; min\ncaustic; temperature; 163.5; °F\ncaustic; conductivity; 46; mS/cm\n"
            "rinse; time; 3; min\n"
            "acid; time; 6; min\nacid; temperature; 140; °F\nacid; concentration; 0.7; %\n"
            "final rinse; time; 4; min"
        ),
        help=_("Leave the number empty where nothing was recorded. Take the coldest, weakest and slowest reading."),
    ),
    optional_ask("flow", _("Flow in the line"), ("gal/min", "gal/h", "L/min", "L/h"), 0, 1500, "48 gal/min"),
    optional_ask("bore", _("Inside diameter of the line, at its widest"), ("in", "mm", "cm"), 0.2, 11, "1.87 in"),
    optional_ask(
        "solution", _("Temperature of the solution, for the Reynolds number"), FAHRENHEIT_FIRST, 33, 211, "163.5 °F"
    ),
    Ask(
        name="sanitizer",
        label=_("Sanitized with"),
        kind="choice",
        choices=(("none", _("not asked here")), ("hot water", _("hot water")), ("chlorine", _("chlorine"))),
        example="hot water",
    ),
    optional_ask("contact", _("Time of sanitizing"), ("min", "s"), 0, 1440, "6 min"),
    optional_ask("outlet", _("Hot water: lowest temperature during that time"), FAHRENHEIT_FIRST, 32, 300, "172 °F"),
    _recorded("at_outlet", _("Hot water: measured at the outlet?"), "yes"),
    optional_ask("strength", _("Chlorine: strength at the end, mg/L (ppm)"), ("mg/L",), 0, 100_000),
    optional_ask(
        "label",
        _("Chlorine: least strength on the label, mg/L (ppm)"),
        ("mg/L",),
        1,
        100_000,
        help_=_("The label governs. Without it 100 mg/L is taken (from memory)."),
    ),
    _recorded("fresh", _("Chlorine: solution not used before?"), "unknown"),
    _recorded("wet", _("Chlorine: all surfaces wet and pipes full throughout?"), "unknown"),
)
