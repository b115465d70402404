"""The separator: cream and skim from milk, the fat recovered, what is lost, and milk skimmed to a lower fat."""

from __future__ import annotations

from django.utils.translation import gettext_lazy as _

from plant.calculators.asks import optional_ask, percent_ask
from plant.calculators.stream_rows import BY_MASS, CONSERVATION, MASSES, mass, proof_table
from plant.calculators.working import Ask, Calculator, Given, Step, Values, Working, in_unit
from plant.pictures.blend_levels import Level, blend_levels_svg
from plant.process.errors import CalculationError
from plant.process.said import say
from plant.process.standardizing import (
    Separation,
    Stream,
    Target,
    account,
    prove,
    separate,
    skim_to,
)

CAUTIONS = (
    BY_MASS,
    say(
        "A small error in a fat test moves the cream by much more: test cream and skim of this run, not of a usual day."
    ),
    say("Raw milk, cream and skim are for pasteurizing. Separating makes nothing safer."),
)


def _work(values: Values) -> Working:
    milk, unit = values["milk"].to("kg"), values["milk"].unit
    fats = tuple(values[name].to("%") for name in ("milk_fat", "cream_fat", "skim_fat"))
    loss, loss_fat = in_unit(values["loss"], "kg"), in_unit(values["loss_fat"], "%")
    if loss is None and loss_fat is not None:
        raise CalculationError(say("Give the quantity of the loss too, or leave its fat empty."))
    lost = {"loss_kg": loss or 0.0, "loss_fat": loss_fat or 0.0}
    found = separate(milk, *fats, **lost, milk_snf=in_unit(values["milk_snf"], "%"))
    streams = [
        Stream(say("cream"), {"fat": fats[1]}),
        Stream(say("skim"), {"fat": fats[2]}),
        *([Stream(say("loss"), {"fat": lost["loss_fat"]})] if loss else []),
    ]
    masses = [found.cream_kg, found.skim_kg, *([loss] if loss else [])]
    proof = prove(streams, masses, [Target.exactly("fat", fats[0])], milk)
    return Working(
        answer=say(
            "%(cream)s cream and %(skim)s skim; %(recovery)s %% of the fat is in the cream.",
            cream=mass(found.cream_kg, unit),
            skim=mass(found.skim_kg, unit),
            recovery=f"{found.recovery_percent:.2f}",
        ),
        steps=(
            *_balance_steps(milk, unit, fats, lost, found),
            *_skimmed_steps(milk, unit, fats, values["wanted_fat"]),
            *_account_steps(milk, unit, fats, lost, values),
        ),
        cautions=CAUTIONS,
        tables=(proof_table(proof, unit, say("Proof: cream and skim together are the milk")),),
        picture=blend_levels_svg(
            [(str(_NAMES[one.name]), kg, mass(kg, unit)) for one, kg in zip(streams, masses, strict=True)],
            [Level(str(_("fat")), [one.percent("fat") for one in streams], fats[0])],
            words=_words(),
            ident="separation",
        ),
    )


_NAMES = {"cream": _("cream"), "skim": _("skim"), "loss": _("loss")}


def _words() -> dict[str, str]:
    return {
        "title": str(_("Milk as cream and skim")),
        "level": str(_("milk")),
        "gives": str(_("above the milk: gathered")),
        "takes": str(_("below it: given up")),
    }


def _mass_step(what: str, how: str, kg: float, unit: str) -> Step:
    return Step(what, how, mass(kg, unit), CONSERVATION)


def _of_the_milk(what: str, part_kg: float, milk_fat_kg: float, percent: float, unit: str) -> Step:
    """A share of the milk's fat."""
    return Step(what, f"{mass(part_kg, unit)} / {mass(milk_fat_kg, unit)}", f"{percent:.2f} %", CONSERVATION)


def _balance_steps(
    milk: float, unit: str, fats: tuple[float, ...], lost: dict[str, float], found: Separation
) -> list[Step]:
    m, c, s = fats
    left, fat_left = milk - lost["loss_kg"], milk * m - lost["loss_kg"] * lost["loss_fat"]
    rest = fat_left / left
    steps = []
    if lost["loss_kg"]:
        steps.append(
            Step(
                say("Fat of what is not lost"),
                f"({mass(milk, unit)} x {m:g} - {mass(lost['loss_kg'], unit)} x {lost['loss_fat']:g}) / "
                f"{mass(left, unit)}",
                f"{rest:.4f} %",
                CONSERVATION,
            )
        )
    steps += [
        _mass_step(say("Cream"), f"{mass(left, unit)} x ({rest:.6g} - {s:g}) / ({c:g} - {s:g})", found.cream_kg, unit),
        _mass_step(say("Skim"), f"{mass(left, unit)} - {mass(found.cream_kg, unit)}", found.skim_kg, unit),
        _of_the_milk(
            say("Fat in the cream, of the milk's"), found.cream_fat_kg, milk * m / 100, found.recovery_percent, unit
        ),
        _of_the_milk(
            say("Fat in the skim, of the milk's"), found.skim_fat_kg, milk * m / 100, found.skim_share_percent, unit
        ),
    ]
    if lost["loss_kg"]:
        steps.append(
            _of_the_milk(
                say("Fat lost, of the milk's"), found.loss_fat_kg, milk * m / 100, found.loss_share_percent, unit
            )
        )
    if found.cream_snf is not None and found.skim_snf is not None:
        for what, snf, fat in ((say("Cream"), found.cream_snf, c), (say("Skim"), found.skim_snf, s)):
            steps.append(
                Step(
                    say("Solids-not-fat of: %(stream)s", stream=what),
                    say("the milk's x (100 - %(fat)s) / (100 - %(milk)s)", fat=f"{fat:g}", milk=f"{m:g}"),
                    f"{snf:.3f} %",
                    say("solids-not-fat follow the fat-free part, by definition"),
                )
            )
    return steps


def _skimmed_steps(milk: float, unit: str, fats: tuple[float, ...], wanted: Given | None) -> list[Step]:
    if wanted is None:
        return []
    m, c, s = fats
    w = wanted.to("%")
    found = skim_to(milk, m, c, s, w)
    return [
        _mass_step(
            say("Surplus cream at %(fat)s %% in the milk", fat=f"{w:g}"),
            f"{mass(milk, unit)} x ({m:g} - {w:g}) / ({c:g} - {w:g})",
            found.surplus_kg,
            unit,
        ),
        _mass_step(
            say("Standardized milk"), f"{mass(milk, unit)} - {mass(found.surplus_kg, unit)}", found.product_kg, unit
        ),
        _mass_step(
            say("Cream returned when all the milk is separated"),
            f"{mass(found.cream_kg, unit)} - {mass(found.surplus_kg, unit)}",
            found.returned_kg,
            unit,
        ),
        _mass_step(
            say("Milk to separate when none of its cream is returned"),
            f"{mass(found.surplus_kg, unit)} x ({c:g} - {s:g}) / ({m:g} - {s:g})",
            found.separated_kg,
            unit,
        ),
    ]


def _account_steps(
    milk: float, unit: str, fats: tuple[float, ...], lost: dict[str, float], values: Values
) -> list[Step]:
    cream, skim = in_unit(values["cream"], "kg"), in_unit(values["skim"], "kg")
    if cream is None and skim is None:
        return []
    if cream is None or skim is None:
        raise CalculationError(say("Give the weighed cream and the weighed skim, or neither."))
    found = account(milk, fats[0], cream, fats[1], skim, fats[2], **lost)
    known = f" - {mass(lost['loss_kg'], unit)}" if lost["loss_kg"] else ""
    return [
        Step(
            say("Mass not accounted for (negative: more came out than went in)"),
            f"{mass(milk, unit)} - {mass(cream, unit)} - {mass(skim, unit)}{known}",
            f"{mass(found.mass_kg, unit)} ({found.mass_percent:.2f} %)",
            CONSERVATION,
        ),
        Step(
            say("Fat not accounted for, as weighed and tested"),
            say("fat of the milk less the fat of what came out"),
            f"{mass(found.fat_kg, unit)} ({found.fat_percent:.2f} %)",
            CONSERVATION,
        ),
        Step(
            say("Fat in the weighed cream, of the milk's"),
            f"{mass(cream, unit)} x {fats[1]:g} / ({mass(milk, unit)} x {fats[0]:g})",
            f"{found.recovery_percent:.2f} %",
            CONSERVATION,
        ),
    ]


CALCULATOR = Calculator(
    key="separation",
    title=_("Separation"),
    purpose=_("What a separator makes of milk: cream, skim, the share of the fat recovered, and what is lost."),
    asks=(
        Ask(name="milk", label=_("Milk"), units=MASSES, low=0.001, high=1e7, example="1000 kg"),
        percent_ask("milk_fat", _("Fat of the milk"), "3.8 %"),
        percent_ask("cream_fat", _("Fat of the cream"), "40 %"),
        percent_ask("skim_fat", _("Fat of the skim"), "0.05 %"),
        optional_ask(
            "loss",
            _("Loss: sludge and rinse"),
            MASSES,
            0,
            1e7,
            help_=_("Leave it empty when nothing is lost that counts."),
        ),
        percent_ask("loss_fat", _("Fat of the loss")),
        percent_ask("milk_snf", _("Solids-not-fat of the milk"), "8.8 %", optional=True),
        percent_ask(
            "wanted_fat",
            _("Fat wanted in standardized milk"),
            "3.25 %",
            _("For milk brought down to it by taking cream out."),
            optional=True,
        ),
        optional_ask(
            "cream",
            _("Cream as weighed"),
            MASSES,
            0,
            1e7,
            help_=_("With the weighed skim: what is not accounted for."),
        ),
        optional_ask("skim", _("Skim as weighed"), MASSES, 0, 1e7),
    ),
    work=_work,
)
