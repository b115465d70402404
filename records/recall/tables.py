"""A scope in words: a line for each lot, why it is in it, how much, where it went; the same for page, PDF and CSV."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

from django.utils.translation import gettext as _

from plant.process.units import plain
from records.people.plans import InForce
from records.recall.dispatched import Sent
from records.recall.returned import Back
from records.recall.rows import Row
from records.recall.scope import Affected, RecallScope


@dataclass(frozen=True, slots=True)
class Line:
    """A lot of a scope in words."""

    lot: Affected
    made: str
    share: str
    at_most: str
    in_house: str
    gone: str
    more: str
    why: str


@dataclass(frozen=True, slots=True)
class Total:
    """What the packs of a scope come to, for each unit."""

    unit: str
    made: str
    gone: str
    in_house: str


@dataclass(frozen=True, slots=True)
class Told:
    """A scope in words."""

    lines: tuple[Line, ...]
    totals: tuple[Total, ...]
    sent: tuple[tuple[Sent, str], ...]
    carried: tuple[tuple[Row, str, datetime], ...]


def told(found: RecallScope, in_force: InForce) -> Told:
    """Every lot, what left of it, and every movement that carried it."""
    return Told(
        tuple(_line(one) for one in found.lots),
        tuple(_totals(found)),
        tuple((one, amount(one.quantity, one.unit)) for one in found.sent),
        tuple((row, movement(row), moment) for row, moment in found.carried),
    )


def amount(quantity: Fraction | object, unit: str) -> str:
    """'300 gal', or that it is not known."""
    return _("not known") if quantity is None else f"{plain(quantity, 1)} {unit}"  # type: ignore[arg-type]


def share(low: float | None, high: float | None) -> str:
    """'25 %', '0 to 100 %', or nothing."""
    if low is None or high is None:
        return ""
    one, two = 100 * max(low, 0.0), 100 * min(high, 1.0)
    if two - one < 0.05:
        return f"{two:.3g} %"
    # Bounds are rounded outward: a share is never said smaller than it can be.
    return _("%(low)s to %(high)s %%") % {"low": f"{int(one)}", "high": f"{-int(-two // 1)}"}


def movement(row: Row) -> str:
    """'300 gal of whole milk from Silo A through Press 1 into Finished 1'."""
    words = {
        "amount": amount(row.quantity, row.unit), "product": row.product_name, "source": row.source_name,
        "target": row.target_name, "via": row.via_name,
    }  # fmt: skip
    if row.via_name:
        return _("%(product)s, %(amount)s, from %(source)s through %(via)s into %(target)s") % words
    return _("%(product)s, %(amount)s, from %(source)s into %(target)s") % words


def _line(one: Affected) -> Line:
    account = one.account
    why = _("it began in it")
    if one.carried is not None:
        why = _("movement %(number)d: %(words)s") % {"number": one.carried.number, "words": movement(one.carried)}
    more = amount(account.more, account.unit) if account.more else ""
    return Line(
        one, amount(account.made, account.unit), share(one.low, one.high), amount(one.at_most, account.unit),
        amount(account.in_house, account.unit), amount(account.gone, account.unit), more, why,
    )  # fmt: skip


def _totals(found: RecallScope) -> Iterator[Total]:
    for unit in dict.fromkeys(one.account.unit for one in found.packs):
        packs = [one.account for one in found.packs if one.account.unit == unit]
        values = [
            None if any(getattr(one, name) is None for one in packs) else sum(getattr(one, name) for one in packs)
            for name in ("made", "gone", "in_house")
        ]
        yield Total(unit, *(amount(value, unit) for value in values))


# --- CSV


def columns() -> list[str]:
    """The heads of the table's columns."""
    return [
        "lot", "label", "packs", "vessel", "reached", "made", "unit", "share at least %", "share at most %", "in house",
        "gone", "on hold", "carried by movement", "left to", "address", "telephone", "left at", "left quantity",
        "left unit", "entry", "came back",
    ]  # fmt: skip


def rows(found: RecallScope, in_force: InForce) -> Iterator[list[object]]:
    """A line for each lot, and one more for each further part that left."""
    local = in_force.calendar.local
    for one in found.lots:
        first: list[object] = [
            one.lot, one.label, "yes" if one.packs else "no", one.vessel, f"{local(one.since):%Y-%m-%d %H:%M:%S}",
            _number(one.account.made), one.account.unit, _percent(one.low), _percent(one.high),
            _number(one.account.in_house), _number(one.account.gone), "; ".join(one.holds),
            one.carried.number if one.carried else "",
        ]  # fmt: skip
        for sent in one.sent or (None,):
            parts: list[object] = [""] * 7
            if sent is not None:
                parts = [
                    sent.to, sent.address, sent.phone, f"{local(sent.at):%Y-%m-%d %H:%M:%S}", _number(sent.quantity),
                    sent.unit, sent.number,
                ]  # fmt: skip
            yield [*first, *parts, "; ".join(_back(each) for each in one.back)]


def _back(one: Back) -> str:
    return f"{one.row.quantity_typed or '?'} {one.row.unit} {one.row.consignee}{' (on hold)' if one.held else ''}"


def _number(value: object) -> str:
    return "" if value is None else plain(value, 3)  # type: ignore[arg-type]


def _percent(value: float | None) -> str:
    return "" if value is None else f"{100 * value:.4g}"
