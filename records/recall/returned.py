"""What came back, as the records of it stand: still on hold, released, or ended by what two people decided."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from uuid import UUID

from django.db.models import Exists, OuterRef, QuerySet
from django.utils.translation import gettext as _

from plant.process.lots import Account, account, in_unit, with_returned
from plant.process.units import plain
from records.deviations.holds import AGAIN, DESTROY, OTHER_USE, REWORK
from records.deviations.models import Disposition, Hold, HoldLift
from records.deviations.words import in_words
from records.lots.models import Lot
from records.recall.dispatched import sent_of
from records.recall.models import Dispatch, ProductReturned
from records.recall.rows import rows_into_lots

ORIGIN = "returned"  # of the lot that a returned part is held as
ENDED = frozenset({DESTROY, OTHER_USE, REWORK, AGAIN})  # what is no pack of the lot any more


def came_back_of(lot: Lot) -> UUID | None:
    """The lot that a returned part is a part of; None for any other lot."""
    if lot.origin != ORIGIN:
        return None
    return ProductReturned.objects.filter(part=lot.id).values_list("lot", flat=True)[0]


@dataclass(frozen=True, slots=True)
class Back:
    """A part that came back: whether it is on hold still, and what became of it ('' while it is, or released)."""

    row: ProductReturned
    held: bool
    ended: str

    @property
    def amount(self) -> tuple[Decimal | None, str]:
        """Its quantity, for an account."""
        return self.row.quantity, self.row.unit


@dataclass(frozen=True, slots=True)
class HeldAs:
    """A hold on a returned part; once it is lifted, its lift and the disposition that two people signed."""

    hold: Hold
    ended: tuple[HoldLift, Disposition] | None

    @property
    def gone(self) -> str:
        """What it became, where that is no pack of the lot any more."""
        what = self.ended[1].what if self.ended is not None else ""
        return what if what in ENDED else ""


def standing() -> QuerySet[ProductReturned]:
    """Returns that no later row replaces and that did happen."""
    successor = ProductReturned.objects.filter(amends=OuterRef("number"))
    return ProductReturned.objects.filter(~Exists(successor), void=False)


def back_of(lots: Sequence[UUID]) -> dict[UUID, list[Back]]:
    """What came back of each of these lots, in order of time. Four statements for each 500."""
    found: dict[UUID, list[Back]] = {}
    for first in range(0, len(lots), 500):
        rows = list(standing().filter(lot__in=lots[first : first + 500]).order_by("returned_at", "number"))
        if not rows:
            continue
        holds = held_as({one.part for one in rows})
        for row in rows:
            mine = holds.get(row.part, [])
            held = any(one.ended is None for one in mine)
            ended = [one.gone for one in mine if one.gone]
            found.setdefault(row.lot, []).append(Back(row, held, "" if held or not ended else ended[-1]))
    return found


def held_as(parts: Collection[UUID]) -> dict[UUID, list[HeldAs]]:
    """The holds of these parts, oldest first, with what ended each. Three statements."""
    holds = list(Hold.objects.filter(lot__in=parts).order_by("number"))
    lifts = {one.hold: one for one in HoldLift.objects.filter(hold__in=[one.number for one in holds])}
    fates = {
        one.number: one for one in Disposition.objects.filter(number__in=[one.disposition for one in lifts.values()])
    }
    found: dict[UUID, list[HeldAs]] = {}
    for one in holds:
        lift = lifts.get(one.number)
        found.setdefault(one.lot, []).append(HeldAs(one, (lift, fates[lift.disposition]) if lift is not None else None))
    return found


def fate(holds: Iterable[HeldAs]) -> str:
    """In words: on hold until two people have decided of every hold, else what they decided; '' without any hold."""
    rows = list(holds)
    if any(one.ended is None for one in rows):
        return _("on hold")
    return ", ".join(dict.fromkeys(in_words(one.ended[1].what) for one in rows if one.ended is not None))


def counted(whole: Account, back: Iterable[Back]) -> Account:
    """An account of packs with what came back of them."""
    rows = list(back)
    if not rows:
        return whole
    return with_returned(whole, [one.amount for one in rows], [one.amount for one in rows if one.ended])


def against_stock(row: Dispatch) -> str:
    """Why a dispatch would take what came back and is on hold; empty where enough of the code is there beside it.

    `row` itself is not counted, whether it is written or not.
    """
    back = back_of([row.lot]).get(row.lot, [])
    held = [one for one in back if one.held]
    if not held:
        return ""
    into = rows_into_lots([row.lot])
    unit = next((one.unit for one in into if one.unit), row.unit)
    sent = [(one.quantity, one.unit) for one in sent_of([row.lot]).get(row.lot, []) if one.number != row.number]
    whole = counted(account([(one.quantity, one.unit) for one in into], sent, unit), back)
    kept = account([], [one.amount for one in held], unit).gone
    wanted = in_unit((row.quantity, row.unit), unit)
    if whole.in_house is None or kept is None or wanted is None:
        said = _("some of %(code)s came back and is on hold, and not every quantity is known: count what leaves")
        return said % {"code": row.code}
    free = max(whole.in_house - kept, Fraction(0))
    if wanted <= free:
        return ""
    return _("%(free)s %(unit)s of %(code)s are in house beside what came back and is on hold") % {
        "free": plain(free, 1), "unit": unit, "code": row.code,
    }  # fmt: skip
