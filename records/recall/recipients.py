"""What each recipient of a recall's packs got, sent back and destroyed, and what is still out. Nothing is stored."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from uuid import UUID

from plant.process.lots import in_unit
from records.recall import linked
from records.recall.dispatched import sent_of
from records.recall.models import DESTROYED, RETURNED
from records.recall.returned import Back, back_of
from records.recall.state import Recall, key

Amount = tuple[Decimal | None, str]


@dataclass(frozen=True, slots=True)
class Recipient:
    """One recipient of one code, in `unit`; None where a quantity is not known or cannot be compared.

    `outstanding`: what left to them and neither came back in this recall nor was destroyed with them; never below
    nothing, `more` is what came back or was destroyed beyond what left.
    """

    to: str
    code: str
    label: str
    unit: str
    sent: Fraction | None
    returned: Fraction | None
    destroyed: Fraction | None

    @property
    def _rest(self) -> Fraction | None:
        if self.sent is None or self.returned is None or self.destroyed is None:
            return None
        return self.sent - self.returned - self.destroyed

    @property
    def outstanding(self) -> Fraction | None:
        return None if self._rest is None else max(self._rest, Fraction(0))

    @property
    def more(self) -> Fraction:
        return max(-self._rest, Fraction(0)) if self._rest is not None else Fraction(0)


def recipients(recall: Recall) -> list[Recipient]:
    """By the book now, for each code and recipient. One statement for each 500 lots."""
    lots = {UUID(one.lot): one for one in recall.packs}
    left = sent_of(list(lots))
    found = []
    for lot, pack in lots.items():
        rows = left.get(lot, [])
        names: dict[str, str] = {}
        told = [*(one.to for one in rows), *(to for to, _quantity, _unit in pack.sent)]
        steps = [one for one in recall.of(RETURNED, DESTROYED) if one.code == pack.code and one.consignee.strip()]
        for name in (*told, *(one.consignee for one in steps)):
            names.setdefault(key(name), name.strip())
        unit = pack.unit or next((one.unit for one in rows if one.unit), "")
        for who, name in names.items():
            mine = [one for one in steps if key(one.consignee) == who]
            found.append(
                Recipient(
                    name, pack.code, pack.label, unit,
                    total([(one.quantity, one.unit) for one in rows if key(one.to) == who], unit),
                    total([(one.quantity, one.unit) for one in mine if one.what == RETURNED], unit),
                    total([(one.quantity, one.unit) for one in mine if one.what == DESTROYED], unit),
                )
            )  # fmt: skip
    return found


def total(amounts: Iterable[Amount], unit: str) -> Fraction | None:
    """The sum in a unit; None where one is not known or cannot be compared."""
    known = [in_unit(one, unit) for one in amounts]
    return None if any(one is None for one in known) else sum((one for one in known if one is not None), Fraction(0))


def apart(recall: Recall) -> list[Back]:
    """What came back of its packs and is recorded as belonging to no recall: it is not counted in this one."""
    back = [one for rows in back_of([UUID(one.lot) for one in recall.packs]).values() for one in rows]
    steps = linked.steps_of([one.row.part for one in back])
    return [one for one in back if one.row.part not in steps]
