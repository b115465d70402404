"""A day's balance of mass and fat: what fits, what does not, and what nobody checks."""

from __future__ import annotations

import math

from django.utils.translation import gettext_lazy as _

from plant.calculators.mass_balance_rows import (
    DOUBT,
    STREAMS,
    UNIT,
    VOLUME,
    Network,
    network_of,
    shown,
    stated,
    with_doubt,
)
from plant.calculators.working import BY_DEFINITION, Ask, Calculator, Step, Table, Values, Working
from plant.pictures.adjustments import adjustments_svg
from plant.process.mass_balance import (
    FatReconciliation,
    Reconciliation,
    reconcile_fat,
    reconcile_streams,
    smallest_noticed,
)
from plant.process.said import say

POWER = 0.9
LEAST_SQUARES = say("Kuehn and Davidson, 1961; Narasimhan and Jordache, Data Reconciliation, 2000 (from memory)")
WHOLE = say("chi-square test; Narasimhan and Jordache, Data Reconciliation, 2000, ch. 7 (from memory)")
EACH = say("Mah and Tamhane, 1982; many tests together by Sidak, 1967 (from memory)")
BILINEAR = say("Knepper and Gorman, 1980; Crowe, 1986 (from memory)")
NOTICED = say("Baarda, 1968 (from memory)")
CAUTIONS = (
    say(
        "A balance that fits says that the records agree within the uncertainties that you gave. It says nothing about "
        "the safety of any product."
    ),
    say(
        "It does not prove that nothing was lost: an error smaller than a test notices passes, and so does any error "
        "of a measurement that no other checks."
    ),
    say(
        "The uncertainties decide. Take them from the calibration of scale, meter and fat test; one made larger to let "
        "the day fit hides what it should show."
    ),
    say("What was measured stays the record. A reconciled value is computed and is never written over it."),
    say("Only masses add up. A volume needs the density at its own temperature."),
)
STATES = {
    "checked": say("checked by the others"),
    "unchecked": say("checked by no other"),
    "exact": say("taken as exact"),
    "computed": say("computed"),
    "unobservable": say("cannot be computed"),
}


def _work(values: Values) -> Working:
    network = network_of(values)
    confidence = float(values["confidence"])
    fat = reconcile_fat(network.streams, confidence) if network.fat else None
    found = fat.both if fat else reconcile_streams(network.streams, confidence)
    verdict, margin = "", say("nothing is checked")
    if found.limit is not None:
        verdict = "met" if found.fits and not _impossible(found, fat, network) else "not met"
        margin = say("chi-square %(found)s, limit %(most)s", found=f"{found.statistic:.3f}", most=f"{found.limit:.3f}")
    return Working(
        answer=found.finding.sentence,
        verdict=verdict,
        margin=margin,
        steps=(*_open_steps(network), *_whole_steps(found, fat), *_each_steps(found, network)),
        cautions=(*_cautions_of(found, fat, network), *CAUTIONS),
        tables=(_masses(network, found), *([_fats(network, fat)] if fat else [])),
        picture=_picture(found, network),
    )


def _open_steps(network: Network) -> list[Step]:
    """The balance of each vessel as it was measured."""
    steps = []
    for node in network.nodes:
        parts, total = [], 0.0
        for one in network.streams:
            if node in (one.source, one.target):
                sign, kg = (1 if one.target == node else -1), math.nan if one.kg is None else one.kg
                total += sign * kg
                parts.append(f"{'+' if sign > 0 else '-'} {shown(kg, network.unit)}")
        what = say("%(vessel)s: what came less what went, as measured", vessel=node)
        result = say("not all is measured") if math.isnan(total) else stated(total, network.unit)
        steps.append(Step(what, " ".join(parts).removeprefix("+ "), result, BY_DEFINITION))
    return steps


def _whole_steps(found: Reconciliation, fat: FatReconciliation | None) -> list[Step]:
    steps = []
    if fat is not None:
        what = say("Mass and fat fitted together: the fat is the mass times its content")
        how = say("the products replaced by straight lines until nothing moves")
        steps.append(Step(what, how, say("%(rounds)s rounds", rounds=str(fat.rounds)), BILINEAR))
    if found.limit is None or found.probability is None:
        what, how = say("Independent balances left to check with"), say("balances less what is not measured")
        return [*steps, Step(what, how, "0", LEAST_SQUARES)]
    terms = [f"({found.adjustments[place]:.4g}/{found.sd[place]:.4g})^2" for place in _checked(found)]
    what = say("Chi-square, sum of (adjustment/uncertainty)^2, in kg and percent")
    sum_of = " + ".join(terms[:8]) + (" + ..." if len(terms) > 8 else "")
    steps.append(Step(what, sum_of, f"{found.statistic:.3f}", LEAST_SQUARES))
    degrees = say("degrees of freedom: %(degrees)s", degrees=str(found.degrees))
    what = say("Limit of chi-square at a confidence of %(confidence)s", confidence=f"{found.confidence:g}")
    steps.append(Step(what, degrees, f"{found.limit:.3f}", WHOLE))
    what = say("Chance of a larger one when nothing is wrong")
    return [*steps, Step(what, degrees, f"{found.probability:.3f}", WHOLE)]


def _each_steps(found: Reconciliation, network: Network) -> list[Step]:
    if found.z_limit is None:
        return []
    tests = say("different tests taken together: %(tests)s", tests=str(found.tests))
    steps = [Step(say("Limit of each adjustment over its own standard deviation"), tests, f"{found.z_limit:.3f}", EACH)]
    for place in (found.place(name) for name in found.finding.suspects[:4]):
        unit = network.unit_of(place)
        what = say("%(name)s: what the others say it is", name=network.name_of(place))
        how = f"{shown(found.measured[place], unit)} - ({found.z[place]:.3f} x {shown(found.error_sd[place], unit)})"
        steps.append(Step(what, how, stated(found.by_others[place], unit), EACH))
    place = min(_checked(found), key=lambda one: abs(float(found.z[one])))
    what = say("Error that a test notices 9 times in 10, for example of %(name)s", name=network.name_of(place))
    unit, error_sd = network.unit_of(place), float(found.error_sd[place])
    how = f"({found.z_limit:.3f} + 1.282) x {shown(error_sd, unit)}"
    steps.append(Step(what, how, stated(smallest_noticed(error_sd, found.z_limit, POWER), unit), NOTICED))
    return steps


def _checked(found: Reconciliation) -> list[int]:
    return [place for place, state in enumerate(found.states) if state == "checked"]


def _cautions_of(found: Reconciliation, fat: FatReconciliation | None, network: Network) -> list[str]:
    """What belongs to this day."""
    cautions: list[str] = []
    alone = [place for place, state in enumerate(found.states) if state == "unchecked"]
    if alone:
        cautions.append(say("No other measurement checks: %(names)s.", names=network.names(alone)))
    dark = [place for place, state in enumerate(found.states) if state == "unobservable"]
    if dark:
        cautions.append(say("These measurements do not tell: %(names)s.", names=network.names(dark)))
    for group in found.alike:
        names = network.names([found.place(name) for name in group])
        cautions.append(say("An error in one of these cannot be told from one in another: %(names)s.", names=names))
    return [*cautions, *_impossible(found, fat, network)]


def _impossible(found: Reconciliation, fat: FatReconciliation | None, network: Network) -> list[str]:
    """Values that fit and cannot be: nothing is met by them."""
    said: list[str] = []
    masses = found.values[: len(network.streams)]
    below = [one.name for one, kg in zip(network.streams, masses, strict=True) if kg < 0]
    if below:
        names = ", ".join(below)
        said.append(say("Below zero, so a direction or a measurement must be wrong: %(names)s.", names=names))
    if fat is not None:
        odd = [name for name, content in zip(fat.names, fat.fat_pct, strict=True) if content < 0 or content > 100]
        if odd:
            said.append(say("Fat that cannot be, below 0 or above 100: %(names)s.", names=", ".join(odd)))
    return said


def _masses(network: Network, found: Reconciliation) -> Table:
    rows = []
    for place, one in enumerate(network.streams):
        rows.append(_row(one.name, found, place, network.unit))
    return Table(say("Masses, %(unit)s", unit=network.unit), _HEAD, tuple(rows))


def _row(name: str, found: Reconciliation, place: int, unit: str) -> tuple[str, ...]:
    measured = with_doubt(found.measured[place], found.sd[place], unit)
    return (
        name,
        "" if measured == "?" else measured,
        with_doubt(found.values[place], found.values_sd[place], unit),
        "" if measured == "?" else shown(found.adjustments[place], unit),
        "" if math.isnan(found.z[place]) else f"{found.z[place] + 0.0:.2f}",
        _noticed(found, place, unit),
        STATES[found.states[place]],
    )


def _noticed(found: Reconciliation, place: int, unit: str) -> str:
    if found.z_limit is None or math.isnan(found.error_sd[place]):
        return ""
    return shown(smallest_noticed(float(found.error_sd[place]), found.z_limit, POWER), unit)


_HEAD = (
    say("stream"),
    say("measured"),
    say("fitted"),
    say("measured less fitted"),
    say("in standard deviations"),
    say("error noticed 9 times in 10"),
    say("state"),
)


def _fats(network: Network, fat: FatReconciliation) -> Table:
    rows = []
    for place, one in enumerate(network.streams):
        second = place + len(network.streams)
        row = _row(one.name, fat.both, second, network.unit_of(second))
        if one.fat_pct is None:
            row = (one.name, "", with_doubt(fat.fat_pct[place], fat.fat_pct_sd[place], "%"), "", "", "", row[-1])
        rows.append((*row, with_doubt(fat.fat_kg[place], fat.fat_kg_sd[place], network.unit)))
    head = (*_HEAD, say("fat, %(unit)s", unit=network.unit))
    return Table(say("Fat contents, percent by mass"), head, tuple(rows))


def _picture(found: Reconciliation, network: Network) -> str:
    checked = _checked(found)
    if not checked or found.z_limit is None:
        return ""
    named = {
        "title": str(_("Measurements against the others")),
        "scale": str(_("standard deviations, measured less what fits")),
        "limit": str(_("limit")),
    }
    statistics = [(_drawn(network, place), float(found.z[place])) for place in checked]
    return adjustments_svg(statistics, found.z_limit, named, ident="mass-balance")


def _drawn(network: Network, place: int) -> str:
    if place < len(network.streams):
        return network.streams[place].name
    return str(_("%(stream)s, fat")) % {"stream": network.streams[place - len(network.streams)].name}


CALCULATOR = Calculator(
    key="mass_balance",
    title=_("Mass and fat balance of a day"),
    purpose=_(
        "Whether what came, went and stayed adds up within the uncertainties, in mass and in fat, and which "
        "measurement does not fit."
    ),
    asks=(
        STREAMS,
        UNIT,
        VOLUME,
        DOUBT,
        Ask(
            name="confidence",
            label=_("Confidence of the tests"),
            kind="choice",
            choices=(("0.95", _("95 %")), ("0.99", _("99 %")), ("0.90", _("90 %"))),
            example="0.95",
        ),
    ),
    work=_work,
)
