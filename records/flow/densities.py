"""The density of the product at hand: by its tested fat and solids where a record has them, else that of its kind.

Tests and additions are records of a later feature, found by their kinds. The book reads them only where a quantity has
to go between mass and volume.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING, Any

from plant.hazard_plan.content import Plan, ProductDef
from plant.process.properties import UsualDensity, crosses, usual_density
from plant.process.properties.usual import CREAM, IN_A_BLEND, MILK, MIX, SWEETENED
from records.ledger.registry import kinds

if TYPE_CHECKING:
    from records.flow.history import History, Told
    from records.flow.models import Movement

# Cream begins where the formula for milk ends [% fat].
CREAM_FROM = 7.0
# What a vessel holds is followed back through so many vessels that each had one fill.
VESSELS_BACK = 3
PARTS = ("fat", "snf", "sugar", "other")


def kind_of(product: ProductDef | None) -> str:
    """The kind of density of a product of the plan; milk where nobody says what it is."""
    if product is None:
        return MILK
    fat = float(product.fat_percent or 0)
    if product.family in ("mix", "ice cream"):
        return MIX
    if product.family == "cream" or (product.family == "raw milk" and fat > CREAM_FROM):
        return CREAM
    if product.family == "other":  # condensed, or whatever else the plan has no kind for: known by its tests alone
        return IN_A_BLEND
    return SWEETENED if product.family == "milk" and product.product_class == "raised" else MILK


def nominal(product: ProductDef | None) -> UsualDensity:
    """The density of a product that nobody tested, with the doubt of that."""
    fat = float(product.fat_percent) if product is not None and product.fat_percent else None
    return usual_density(kind_of(product), fat)


def nominal_of(plan: Plan, code: str) -> UsualDensity:
    """The same by the product's code."""
    return nominal(next((one for one in plan.products if one.code == code), None))


@dataclass(slots=True)
class Densities:
    """Of the movements and vessels of one history."""

    history: History
    back: int = VESSELS_BACK
    _tests: list[Any] | None = None
    _lines: dict[int, UsualDensity] | None = None
    _found: dict[int, UsualDensity] = field(default_factory=dict)

    def of_move(self, told: Told) -> UsualDensity:
        """Of what moved."""
        number = told.row.number
        if number not in self._found:
            self._found[number] = self._of_move(told)
        return self._found[number]

    def of_vessel(self, code: str, moment: datetime) -> UsualDensity:
        """Of what a vessel holds at a moment: as tested there, else as what came in last, else as what left."""
        if (tested := self._tested(code, moment, self.back)) is not None:
            return tested
        fills = [one for one in self.history.into(code) if one.row.started_at <= moment]
        out = [one for one in self.history.out_of(code) if one.row.started_at >= moment]
        one = fills[-1] if fills else next(iter(out), None)
        return nominal(None) if one is None else nominal_of(self.history.plan, one.row.product)

    def _of_move(self, told: Told) -> UsualDensity:
        row = told.row
        if _may_be_line(row) and row.number in self._of_lines():
            return self._of_lines()[row.number]
        tested = self._tested(row.source, told.ended_at or row.started_at, self.back) if row.source else None
        return tested or nominal_of(self.history.plan, row.product)

    def _tested(self, code: str, moment: datetime, back: int) -> UsualDensity | None:
        """By the last test of the vessel since the last of its fills; through a vessel of one fill from the one before.

        A fill that runs on counts: a test while it ran says what was in.
        """
        fills = [one for one in self.history.into(code) if one.row.started_at < moment]
        if not fills:
            return None
        last = fills[-1]
        after = last.row.started_at if last.ended_at is None or last.ended_at > moment else last.ended_at
        found = [one for one in self._of_tests() if one.place == code and after <= one.observed_at <= moment]
        if found:
            product = next((one for one in self.history.plan.products if one.code == last.row.product), None)
            return by_contents(kind_of(product), float(found[-1].fat), float(found[-1].solids))
        washes = [one.ended_at for one in self.history.washes_of(code, "washed") if one.ended_at <= moment]
        since = max(washes, default=None)
        only = [one for one in fills if since is None or one.row.started_at >= since]
        if back and len(only) == 1 and last.row.source:
            return self._tested(last.row.source, last.ended_at or moment, back - 1)
        return None

    def _of_tests(self) -> list[Any]:
        if self._tests is None:
            moves = self.history.moves
            model: Any = kinds()["blend test"]
            since = min((one.row.started_at for one in moves), default=self.history.until)
            rows = model._default_manager.filter(observed_at__gte=since, observed_at__lte=self.history.until)
            replaced = model._default_manager.exclude(amends=None).values("amends")
            self._tests = list(rows.filter(void=False).exclude(number__in=replaced).order_by("observed_at", "number"))
        return self._tests

    def _of_lines(self) -> dict[int, UsualDensity]:
        """Of each line weighed into a batch, by its movement and by the contents that its sheet has."""
        if self._lines is None:
            weighed = [one.row.number for one in self.history.moves if _may_be_line(one.row)]
            self._lines = dict(_lines(weighed)) if weighed else {}
        return self._lines


def of(history: History) -> Densities:
    """The densities of a history, worked out once."""
    if "densities" not in history._cache:
        history._cache["densities"] = Densities(history)
    found: Densities = history._cache["densities"]
    return found


def for_book(history: History, units: dict[str, str]) -> dict[int, UsualDensity]:
    """Of each movement whose quantity goes between mass and volume at one of its ends, by its number.

    It has to be the same whatever part of the book is folded, so the vessels that it came from are read by themselves,
    from the first such movement on, and followed no further back.
    """
    moves = [one for one in history.moves if _needed(one, units)]
    if not moves:
        return {}
    lines = dict(_lines([one.row.number for one in moves if _may_be_line(one.row)]))
    sourced = [one for one in moves if one.row.source and one.row.number not in lines]
    sources = sorted({one.row.source for one in sourced})
    tests: Any = kinds()["blend test"]
    upstream = Densities(history, back=0)
    if sources and tests._default_manager.filter(place__in=sources, observed_at__lte=history.until).exists():
        since = min(one.row.started_at for one in sourced)
        upstream = Densities(history_of(history.plan, since, history.until, sources), back=0)
    else:
        upstream._tests = []
    upstream._lines = lines
    return {one.row.number: upstream.of_move(one) for one in moves}


def history_of(plan: Plan, since: datetime, until: datetime, codes: Iterable[str]) -> History:
    """The history of some vessels; the module that loads it uses this one."""
    from records.flow.history import load

    return load(plan, since, until, codes)


def _needed(told: Told, units: dict[str, str]) -> bool:
    ends = [units.get(code, "") for code in (told.row.source, told.row.target) if code]
    return told.quantity is not None and any(crosses(told.unit, unit) for unit in ends)


def _may_be_line(row: Movement) -> bool:
    """A line weighed into a batch is in kilograms and takes no time."""
    return row.unit == "kg" and row.ended_at == row.started_at


def _lines(movements: list[int]) -> Iterable[tuple[int, UsualDensity]]:
    if not movements:
        return
    additions: Any = kinds()["batch addition"]
    names = ("number", "amends", "movement", "sheet", "line")
    rows = list(additions._default_manager.filter(movement__in=movements).values_list(*names))
    first = {number: amends for number, amends, *_rest in rows}
    while missing := [one for one in first.values() if one is not None and one not in first]:
        first |= dict(additions._default_manager.filter(number__in=missing).values_list("number", "amends"))
    sheets = _sheets({one[3] for one in rows})
    for number, _amends, movement, sheet, line in rows:
        while (earlier := first.get(number)) is not None:  # it was weighed when the first of its line was
            number = earlier
        of_batch = sheets.get(sheet, [])
        against = [lines for at, lines in of_batch if at < number] or [lines for _at, lines in of_batch[:1]]
        if against and line < len(against[-1]):
            yield movement, _by_line(against[-1][line])


def _sheets(numbers: set[int]) -> dict[int, list[tuple[int, list[dict[str, Any]]]]]:
    """Of each batch, by its first sheet's number: (number, lines) of its sheets, each computed after the one before.

    A query for each time that one of them was computed again.
    """
    model: Any = kinds()["batch sheet"]
    names = ("number", "amends", "lines")
    rows = list(model._default_manager.filter(number__in=numbers).values_list(*names)) if numbers else []
    found = {number: [(number, lines)] for number, _amends, lines in rows}
    batch_of = {number: number for number in found}
    while rows:
        rows = list(model._default_manager.filter(amends__in=[one[0] for one in rows]).values_list(*names))
        for number, amends, lines in rows:
            batch_of[number] = batch_of[amends]
            found[batch_of[number]].append((number, lines))
    return found


def _by_line(line: dict[str, Any]) -> UsualDensity:
    fat, snf, sugar, other = (float(line[one] or 0) if one in line else 0.0 for one in PARTS)
    solids = fat + snf + sugar + other
    if solids == 0:
        return usual_density(IN_A_BLEND)
    dairy = not sugar and not other and snf <= 15
    kind = (CREAM if fat > CREAM_FROM else MILK) if dairy else IN_A_BLEND
    return by_contents(kind, fat, solids)


def by_contents(kind: str, fat: float, solids: float) -> UsualDensity:
    """By contents, whatever the product is called: cream in a vessel of milk is cream."""
    if kind == MILK and fat > CREAM_FROM:
        kind = CREAM
    return usual_density(kind, fat, min(max(solids, fat), 100.0))
