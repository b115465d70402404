"""What the calculators of freezing and of hardening ask about a mix, and the mix that the answers make."""

from __future__ import annotations

from django.utils.translation import gettext_lazy as _

from plant.calculators.asks import percent_ask
from plant.calculators.working import Ask, Values, in_unit
from plant.process.freezing import CornSyrup, Mix

MIX_ASKS = (
    percent_ask("water", _("Water, % by mass"), "60 %"),
    percent_ask(
        "msnf",
        _("Milk solids-not-fat, % by mass"),
        "10 %",
        _("Without the dried whey, which is asked below."),
    ),
    percent_ask("whey", _("Whey solids, % by mass"), "2 %"),
    percent_ask("sucrose", _("Sucrose, % by mass"), "12 %"),
    percent_ask("corn_syrup", _("Corn syrup solids, % by mass"), "4 %"),
    Ask(
        name="de",
        label=_("Dextrose equivalent of the corn syrup solids"),
        units=("DE",),
        low=5,
        high=100,
        example="42 DE",
    ),
    Ask(
        name="convention",
        label=_("Corn syrup solids count as sucrose by"),
        kind="choice",
        choices=((CornSyrup.DE.value, _("DE/100")), (CornSyrup.MOLAR_MASS.value, _("molecular weight"))),
        example=CornSyrup.DE.value,
        help=_("Two conventions are in use; by molecular weight the mix is reckoned to freeze colder."),
    ),
    percent_ask("hfcs", _("Solids of high-fructose syrup, % by mass")),
    percent_ask("monosaccharides", _("Dextrose and fructose, % by mass")),
)


def mix_of(values: Values) -> Mix:
    """The mix that was given. Raises CalculationError."""
    return Mix(
        water=values["water"].to("%"),
        msnf=values["msnf"].to("%"),
        whey_solids=values["whey"].to("%"),
        sucrose=values["sucrose"].to("%"),
        corn_syrup_solids=values["corn_syrup"].to("%"),
        dextrose_equivalent=values["de"].to("DE"),
        hfcs=amount(values, "hfcs"),
        monosaccharides=amount(values, "monosaccharides"),
        corn_syrup=CornSyrup(values["convention"]),
    )


def amount(values: Values, name: str, unit: str = "%") -> float:
    """What was given, or 0 where nothing was."""
    return in_unit(values[name], unit) or 0.0


def degrees(temperature_c: float, places: int = 2) -> str:
    """A temperature in both degrees: "-5.50 °C (22.10 °F)"."""
    return f"{temperature_c:.{places}f} °C ({temperature_c * 9 / 5 + 32:.{places}f} °F)"
