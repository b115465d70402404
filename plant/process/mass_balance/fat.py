"""Mass and fat together: the fat of a stream is its mass times its fat content, so the balances are bilinear.

A stream whose fat content is measured has two unknowns, mass and content, and the product stands in the fat balance;
one whose content is not measured has its mass and its fat [kg], and nothing is bilinear. The products are replaced by
straight lines at the last values until nothing changes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from plant.process.arrays import BoolArray, FloatArray
from plant.process.errors import CalculationError
from plant.process.mass_balance.linear import Reconciliation, reconcile
from plant.process.mass_balance.streams import Stream, balances_of, columns_of
from plant.process.said import say as _

__all__ = ["FatReconciliation", "reconcile_fat"]

MOST_ROUNDS: Final = 100
STEP: Final = 1e-10
IMBALANCE: Final = 1e-9
_RUNAWAY: Final = 1e12


@dataclass(frozen=True, slots=True)
class FatReconciliation:
    """Masses, fat contents and fat of n streams made to fit, in the order given. nan: not observable.

    `kg`, `fat_pct`, `fat_kg` with their standard deviations. `both` has the statistics of all quantities together:
    a mass under the name of its stream, a measured fat content under "name, fat %", fat where the content is not
    measured under "name, fat kg". `rounds`: how often the products were replaced; `imbalance_kg`: the largest that is
    left in any balance of mass or fat.
    """

    names: tuple[str, ...]
    kg: FloatArray
    kg_sd: FloatArray
    fat_pct: FloatArray
    fat_pct_sd: FloatArray
    fat_kg: FloatArray
    fat_kg_sd: FloatArray
    both: Reconciliation
    rounds: int
    imbalance_kg: float = field(compare=False)


def reconcile_fat(
    streams: Sequence[Stream], confidence: float = 0.95, multiplicity: str = "sidak"
) -> FatReconciliation:
    """Masses and fat contents nearest to the measurements that meet the balances of mass and of fat at every node.

    streams: as in balances_of, with fat contents where they were measured. Splitting a stream without changing it is no
    node here: what leaves a node may differ in fat. confidence, multiplicity: as in reconcile.

    Successive linearization (Gauss-Newton). It has converged when no value moves by more than 1e-10 of its size, of its
    uncertainty or of a hundredth of the largest mass, and no balance is open by more than 1e-9 of the largest mass; at
    most 100 rounds. Tests and standard deviations are those of the balances linearized at the answer.

    Range: 1 to 1000 streams, a fat content measured in one at least; fat 0 to 100 %.
    Raises: OutsideRange; CalculationError as balances_of, where no fat is measured, and where it does not converge;
    Infeasible where exact values contradict each other.
    Source: Knepper and Gorman, AIChE J. 26:260, 1980; Crowe, AIChE J. 32:616, 1986; Narasimhan and Jordache, Data
    Reconciliation and Gross Error Detection, 2000, ch. 4 and 5 (all from memory).

    >>> cream = Stream("cream", "Separator", None, None, None, 40, 0.2)
    >>> skim = Stream("skim", "Separator", None, None, None, 0.05, 0.01)
    >>> day = reconcile_fat([Stream("milk", None, "Separator", 1000, 2, 3.8, 0.02), cream, skim])
    >>> day.kg.round(2).tolist()
    [1000.0, 93.87, 906.13]
    """
    if len(streams) > 1000:
        raise CalculationError(_("at most 1000 streams are taken with their fat"))
    if all(one.fat_pct is None for one in streams):
        raise CalculationError(_("no fat content was given"))
    _nodes, table = balances_of(streams)
    network = _Network.of(streams, table)
    return _found(network, *_rounds(network, confidence, multiplicity))


@dataclass(frozen=True, slots=True)
class _Network:
    """Variables: the n masses, then for each stream its fat content where that is measured, else its fat."""

    streams: Sequence[Stream]
    table: FloatArray
    measured: FloatArray
    sd: FloatArray
    content: BoolArray  # the second variable of a stream is a content
    names: tuple[str, ...]

    @classmethod
    def of(cls, streams: Sequence[Stream], table: FloatArray) -> _Network:
        masses, mass_sd = columns_of([(one.kg, one.sd_kg) for one in streams])
        fats, fat_sd = columns_of([(one.fat_pct, one.sd_fat_pct) for one in streams])
        content = ~np.isnan(fats)
        second = [f"{one.name}, fat {'%' if known else 'kg'}" for one, known in zip(streams, content, strict=True)]
        names = (*(one.name for one in streams), *second)
        return cls(streams, table, np.r_[masses, fats], np.r_[mass_sd, fat_sd], content, names)

    def halves(self, values: FloatArray) -> tuple[FloatArray, FloatArray]:
        return values[: len(self.content)], values[len(self.content) :]

    def fat_kg(self, values: FloatArray) -> FloatArray:
        masses, second = self.halves(values)
        return np.where(self.content, masses * second / 100, second)

    def open(self, values: FloatArray) -> FloatArray:
        """What is left in each balance, of mass and then of fat [kg]."""
        masses, _second = self.halves(values)
        return np.concatenate([self.table @ masses, self.table @ self.fat_kg(values)])

    def settled(self, before: FloatArray, after: FloatArray) -> bool:
        """Whether nothing moves any more and every balance is closed."""
        masses, _second = self.halves(after)
        largest = max(float(np.abs(masses).max()), 1e-9)
        floor = np.r_[np.full(len(masses), largest / 100), np.where(self.content, 0.0, largest / 100)]
        size = np.maximum(np.maximum(np.abs(after), np.nan_to_num(self.sd)), floor)
        still = bool((np.abs(after - before) <= STEP * size).all())
        return still and float(np.abs(self.open(after)).max()) <= IMBALANCE * largest

    def slopes(self, values: FloatArray) -> FloatArray:
        """The derivative of every balance by every variable."""
        masses, second = self.halves(values)
        by_mass = np.where(self.content, second / 100, 0.0)
        by_second = np.where(self.content, masses / 100, 1.0)
        none = np.zeros_like(self.table)
        return np.block([[self.table, none], [self.table * by_mass, self.table * by_second]])

    def first(self) -> FloatArray:
        """Where to begin: as measured, and what is not measured as it then closes the balances best."""
        masses, fats = self.halves(self.measured)
        by_mass = np.where(self.content, fats / 100, 0.0)
        none = np.zeros_like(self.table)
        slopes = np.block([[self.table, none], [self.table * by_mass, self.table * ~self.content]])
        unknown = np.isnan(self.measured)
        begun = np.nan_to_num(self.measured)
        begun[unknown] = np.linalg.lstsq(slopes[:, unknown], -slopes[:, ~unknown] @ begun[~unknown], rcond=1e-10)[0]
        # A mass that nothing gives still needs a size: the products must not vanish by chance.
        first, second = self.halves(begun)
        usual = float(np.abs(masses[~np.isnan(masses)]).mean()) if (~np.isnan(masses)).any() else 1.0
        return np.concatenate([np.where(np.isnan(masses) & (np.abs(first) < 1e-9 * usual), usual, first), second])


def _rounds(network: _Network, confidence: float, multiplicity: str) -> tuple[Reconciliation, FloatArray, int]:
    values = network.first()
    for count in range(1, MOST_ROUNDS + 1):
        slopes = network.slopes(values)
        totals = slopes @ values - network.open(values)
        if not np.abs(slopes).max() <= _RUNAWAY or not np.abs(totals).max() <= _RUNAWAY:
            break
        found = reconcile(
            slopes,
            network.measured,
            network.sd,
            totals=totals,
            names=network.names,
            confidence=confidence,
            multiplicity=multiplicity,
        )
        after = _completed(found.values, values, slopes, totals)
        if network.settled(values, after):
            return found, after, count
        values = after
    raise CalculationError(
        _(
            "mass and fat could not be made to fit in %(rounds)s rounds: a value must be far off",
            rounds=str(MOST_ROUNDS),
        )
    )


def _completed(found: FloatArray, before: FloatArray, slopes: FloatArray, totals: FloatArray) -> FloatArray:
    """What is not observable moves as little as the balances allow, so that the products have sizes that can be."""
    dark = np.isnan(found)
    if not dark.any():
        return found
    after = np.where(dark, before, found)
    after[dark] += np.linalg.lstsq(slopes[:, dark], totals - slopes @ after, rcond=1e-10)[0]
    return after


def _found(network: _Network, both: Reconciliation, values: FloatArray, rounds: int) -> FatReconciliation:
    masses, second = network.halves(both.values)
    count = len(masses)
    fat = network.fat_kg(both.values)
    with np.errstate(divide="ignore", invalid="ignore"):
        contents = np.where(network.content, second, np.where(masses > 0, 100 * fat / masses, np.nan))
    kg_sd, second_sd = network.halves(both.values_sd)
    other_sd = np.full(count, np.nan)
    for place in range(count):
        if np.isnan(fat[place]) or np.isnan(contents[place]):
            continue
        # First-order propagation: of the product m w/100 where w is measured, of the quotient 100 f/m where f is.
        pair = both.covariance[np.ix_((place, count + place), (place, count + place))]
        by = np.array([contents[place], masses[place]]) / 100
        if not network.content[place]:
            by = np.array([-contents[place], 100.0]) / masses[place]
        other_sd[place] = np.sqrt(max(float(by @ pair @ by), 0.0))
    return FatReconciliation(
        names=tuple(one.name for one in network.streams),
        kg=masses,
        kg_sd=kg_sd,
        fat_pct=contents,
        fat_pct_sd=np.where(network.content, second_sd, other_sd),
        fat_kg=fat,
        fat_kg_sd=np.where(network.content, other_sd, second_sd),
        both=both,
        rounds=rounds,
        imbalance_kg=float(np.abs(network.open(values)).max()),
    )
