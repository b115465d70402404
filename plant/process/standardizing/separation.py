"""The separator's balance: milk in, cream and skim out, and what is lost on the way."""

from __future__ import annotations

from dataclasses import dataclass

from plant.process.errors import CalculationError, Infeasible, within
from plant.process.said import say as _
from plant.process.standardizing.streams import GREATEST_KG
from plant.process.standardizing.words import digits


@dataclass(frozen=True, slots=True)
class Separation:
    """What a separator gives. Masses and fat masses in kg, shares in % of the fat that came in.

    `cream_snf` and `skim_snf` [% by mass] are None where the milk's was not given.
    """

    cream_kg: float
    skim_kg: float
    cream_fat_kg: float
    skim_fat_kg: float
    loss_fat_kg: float
    recovery_percent: float
    skim_share_percent: float
    loss_share_percent: float
    cream_snf: float | None = None
    skim_snf: float | None = None


@dataclass(frozen=True, slots=True)
class Unaccounted:
    """What weighed and tested streams leave unexplained: in less out. Negative: more came out than went in.

    `mass_kg` [kg] and `mass_percent` [% of the milk]; `fat_kg` [kg] and `fat_percent` [% of its fat];
    `recovery_percent` [% of the milk's fat that is in the cream].
    """

    mass_kg: float
    mass_percent: float
    fat_kg: float
    fat_percent: float
    recovery_percent: float


@dataclass(frozen=True, slots=True)
class Skimmed:
    """Milk brought down to a lower fat content by taking cream out. Masses in kg.

    All the milk separated: `cream_kg` and `skim_kg`, of which all skim and `returned_kg` of the cream make
    `product_kg`; `surplus_kg` of cream is left. The same is had by separating only `separated_kg` of the milk,
    returning its skim and none of its cream.
    """

    cream_kg: float
    skim_kg: float
    returned_kg: float
    product_kg: float
    surplus_kg: float
    separated_kg: float


def separate(
    milk_kg: float,
    milk_fat: float,
    cream_fat: float,
    skim_fat: float,
    *,
    loss_kg: float = 0.0,
    loss_fat: float = 0.0,
    milk_snf: float | None = None,
) -> Separation:
    """Cream and skim from milk, by the balance of mass and of fat.

    cream = (F - (M - L) s) / (c - s), F = M m - L l: M milk and L loss (sludge, rinse) [kg]; m, c, s, l fat of milk,
    cream, skim and loss [% by mass as fractions]. With `milk_snf` [% by mass] the solids-not-fat follow the fat-free
    part of the milk evenly.

    Range: fats 0 to 100 %, skim below cream; milk above 0 kg, to 1e9 kg, with fat in it; loss from 0 to below the milk.
    Raises: OutsideRange; Infeasible when the fat left after the loss is not between skim and cream.
    Source: conservation of mass, by definition.

    >>> found = separate(1000, 3.8, 40, 0.05)
    >>> round(found.cream_kg, 2), round(found.skim_kg, 2), round(found.recovery_percent, 2)
    (93.87, 906.13, 98.81)
    """
    _percents(milk_fat, cream_fat, skim_fat)
    within(_("fat of the loss"), loss_fat, 0, 100, "%")
    within(_("loss"), loss_kg, 0, _some(milk_kg), "kg")
    fat_kg, left_kg = milk_kg * milk_fat / 100, milk_kg - loss_kg
    if fat_kg <= 0 or left_kg <= 0:
        raise CalculationError(_("There is no fat to separate."))
    lost_kg = loss_kg * loss_fat / 100
    _between((fat_kg - lost_kg) / left_kg * 100, cream_fat, skim_fat)
    cream_kg = (100 * (fat_kg - lost_kg) - left_kg * skim_fat) / (cream_fat - skim_fat)
    skim_kg = left_kg - cream_kg
    cream_fat_kg, skim_fat_kg = cream_kg * cream_fat / 100, skim_kg * skim_fat / 100
    return Separation(
        cream_kg,
        skim_kg,
        cream_fat_kg,
        skim_fat_kg,
        lost_kg,
        100 * cream_fat_kg / fat_kg,
        100 * skim_fat_kg / fat_kg,
        100 * lost_kg / fat_kg,
        *_serum(milk_fat, milk_snf, (cream_fat, skim_fat)),
    )


def account(
    milk_kg: float,
    milk_fat: float,
    cream_kg: float,
    cream_fat: float,
    skim_kg: float,
    skim_fat: float,
    *,
    loss_kg: float = 0.0,
    loss_fat: float = 0.0,
) -> Unaccounted:
    """What is not accounted for when milk, cream, skim and a known loss were all weighed and tested.

    Parameters: masses [kg], fats [% by mass]. What is unaccounted holds the errors of scales and tests too.

    Range: fats 0 to 100 %, masses 0 to 1e9 kg; milk above 0 kg with fat in it.
    Raises: OutsideRange; CalculationError for milk without fat.
    Source: conservation of mass, by definition.

    >>> round(account(10_000, 3.8, 940, 40, 9050, 0.05).mass_kg, 3)
    10.0
    """
    for name, percent in ((_("fat of the milk"), milk_fat), (_("fat of the cream"), cream_fat)):
        within(name, percent, 0, 100, "%")
    within(_("fat of the skim"), skim_fat, 0, 100, "%")
    within(_("fat of the loss"), loss_fat, 0, 100, "%")
    for name, kg in ((_("cream"), cream_kg), (_("skim"), skim_kg), (_("loss"), loss_kg)):
        within(name, kg, 0, GREATEST_KG, "kg")
    fat_kg = _some(milk_kg) * milk_fat / 100
    if fat_kg <= 0:
        raise CalculationError(_("There is no fat to separate."))
    mass = milk_kg - cream_kg - skim_kg - loss_kg
    fat = fat_kg - (cream_kg * cream_fat + skim_kg * skim_fat + loss_kg * loss_fat) / 100
    return Unaccounted(mass, 100 * mass / milk_kg, fat, 100 * fat / fat_kg, cream_kg * cream_fat / fat_kg)


def skim_to(milk_kg: float, milk_fat: float, cream_fat: float, skim_fat: float, wanted_fat: float) -> Skimmed:
    """Milk standardized to a lower fat by separating it and returning part of the cream.

    surplus = M (m - w) / (c - w): M milk [kg]; m, c, w fat of milk, cream and product [% by mass].

    Range: fats 0 to 100 % with skim < milk < cream; wanted from skim to milk; milk above 0 kg.
    Raises: OutsideRange; Infeasible for a wanted fat above the milk's (cream must be added then) or below the skim's.
    Source: conservation of mass, by definition.

    >>> found = skim_to(100, 4.0, 40, 0.05, 3.0)
    >>> round(found.product_kg, 1), round(found.surplus_kg, 1)
    (97.3, 2.7)
    """
    made = separate(milk_kg, milk_fat, cream_fat, skim_fat)
    within(_("wanted fat"), wanted_fat, 0, 100, "%")
    if not skim_fat <= wanted_fat <= milk_fat:
        if wanted_fat > milk_fat:
            sentence = _(
                "Taking cream out does not raise the fat: the milk has %(milk)s %%. Add cream.", milk=digits(milk_fat)
            )
        else:
            sentence = _(
                "%(wanted)s %% cannot be reached: the skim has %(skim)s %%.",
                wanted=digits(wanted_fat),
                skim=digits(skim_fat),
            )
        raise Infeasible(sentence, _("fat"), wanted_fat, skim_fat, milk_fat, "%")
    if not skim_fat < milk_fat < cream_fat:
        raise Infeasible(_("Nothing separates: fat must rise from skim to milk to cream."), _("fat"), unit="%")
    surplus = milk_kg * (milk_fat - wanted_fat) / (cream_fat - wanted_fat)
    separated = surplus * (cream_fat - skim_fat) / (milk_fat - skim_fat)
    return Skimmed(
        made.cream_kg, made.skim_kg, made.cream_kg - surplus, milk_kg - surplus, surplus, min(separated, milk_kg)
    )


def _percents(milk_fat: float, cream_fat: float, skim_fat: float) -> None:
    within(_("fat of the milk"), milk_fat, 0, 100, "%")
    within(_("fat of the cream"), cream_fat, 0, 100, "%")
    within(_("fat of the skim"), skim_fat, 0, 100, "%")
    if not skim_fat < cream_fat:
        raise CalculationError(_("The cream must hold more fat than the skim."))


def _some(milk_kg: float) -> float:
    return within(_("milk"), milk_kg, 0, GREATEST_KG, "kg")


def _between(left_fat: float, cream_fat: float, skim_fat: float) -> None:
    room = 1e-12 * cream_fat
    if not skim_fat - room <= left_fat <= cream_fat + room:
        raise Infeasible(
            _(
                "What is separated has %(fat)s %% fat, which is not between skim with %(skim)s %% and cream with "
                "%(cream)s %%.",
                fat=digits(left_fat),
                skim=digits(skim_fat),
                cream=digits(cream_fat),
            ),
            _("fat"),
            left_fat,
            skim_fat,
            cream_fat,
            "%",
        )


def _serum(milk_fat: float, milk_snf: float | None, fats: tuple[float, float]) -> tuple[float | None, float | None]:
    if milk_snf is None or milk_fat >= 100:
        return None, None
    within(_("solids-not-fat of the milk"), milk_snf, 0, 100 - milk_fat, "%")
    share = milk_snf / (100 - milk_fat)
    return share * (100 - fats[0]), share * (100 - fats[1])
