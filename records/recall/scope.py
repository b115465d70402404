"""A recall's scope: the lots that a fault could be in, how much was made of each, what is in house, who got what.

The worst case decides: any movement carries it, until a wash. Shares in perfect mixing stand beside it and never make
it smaller (plant.process.lots).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from fractions import Fraction
from uuid import UUID

from django.utils.translation import gettext as _

from plant.process.errors import CalculationError
from plant.process.lots import Account, Mix, Movement, account, in_unit, lot_shares, origin_shares
from plant.process.properties import between, crosses
from plant.process.said import again
from plant.process.units import plain
from records.flow import queries as flow
from records.flow.densities import nominal
from records.flow.lineage import LAST
from records.flow.packing import is_packing
from records.lots.models import Lot
from records.people.plans import InForce
from records.recall import reading
from records.recall.dispatched import Sent, sent_of
from records.recall.reading import Start, Walked
from records.recall.returned import Back, back_of, counted
from records.recall.rows import Fill, Row, rows_into_lots

MOST_FOR_SHARES = 4000  # beyond, only the worst case is computed


@dataclass(frozen=True, slots=True)
class Affected:
    """A lot in scope, its `key` as in the links. `since`: the earliest moment from which it could hold any of it.

    `carried`: the movement that brought it first; None for what it began in.
    `low` and `high`: the share of the origin in it [-], None where nothing bounds it. `at_most`: made x high. A lot of
    packs is `packs`; a lot of a vessel holds what is `in_house` only while it is there.
    """

    key: str
    lot: UUID | None
    label: str
    vessel: str
    packs: bool
    since: datetime
    account: Account
    low: float | None
    high: float | None
    carried: Row | None
    sent: tuple[Sent, ...]
    holds: tuple[str, ...]
    fill: Fill | None = None
    back: tuple[Back, ...] = ()  # what came back of packs

    @property
    def at_most(self) -> Fraction | None:
        """What of it the origin can be at most, by its share; all of it where no share is known. Never above made."""
        if self.account.made is None:
            return None
        share = 1.0 if self.high is None else min(max(self.high, 0.0), 1.0)
        return self.account.made * Fraction(share)


@dataclass(frozen=True, slots=True)
class RecallScope:
    """A scope at a moment: its lots, and in `carried` each movement with when it could have carried any."""

    at: datetime
    backward: bool
    lots: tuple[Affected, ...]
    carried: tuple[tuple[Row, datetime], ...]
    links: tuple[tuple[str, str], ...]  # between the keys of lots, for the picture
    why_no_shares: str

    @property
    def packs(self) -> tuple[Affected, ...]:
        """The lots of packs alone."""
        return tuple(one for one in self.lots if one.packs)

    @property
    def sent(self) -> tuple[Sent, ...]:
        """Everything of them that left the plant, in order of time."""
        return tuple(sorted((sent for one in self.lots for sent in one.sent), key=lambda one: (one.at, one.number)))

    @property
    def consignees(self) -> tuple[str, ...]:
        """Everybody who received any of it."""
        return tuple(dict.fromkeys(one.to for one in self.sent if one.is_recipient))


def key_of(lot: UUID | None, vessel: str, since: datetime) -> str:
    """What a lot is called in pictures and tables of a scope."""
    return str(lot) if lot else f"{vessel}@{since.isoformat()}"


def scope(start: Start, in_force: InForce, at: datetime, *, backward: bool = False) -> RecallScope:
    """The scope of a start at a moment. Reads what can be reached, with two or three statements for each step."""
    walked = reading.backward(start) if backward else reading.forward(start)
    reading.both_ways_in(walked.reached, walked.fills)
    shares, why = _shares(walked, start, in_force, backward=backward)
    names = _lots_of_fills(walked)
    packed = _packs(walked)
    pack_rows: dict[UUID, list[Row]] = {}
    for row in rows_into_lots(list(packed)):
        if row.target_lot is not None:
            pack_rows.setdefault(row.target_lot, []).append(row)
    rows = Lot.objects.in_bulk([*{one for one in names.values() if one is not None}, *packed])
    held = flow.not_free_at(at)
    sent, back = sent_of(list(packed)), back_of(list(packed))
    unit = in_force.plan.plant.volume_unit
    found = [
        _fill(fill, moment, names[fill], rows, walked, shares, held, in_force, at, backward)
        for fill, moment in walked.fills.items()
    ]
    found += [
        _pack(lot, first, rows, pack_rows.get(lot, []), shares, held, sent.get(lot, []), in_force, unit,
              back.get(lot, []))
        for lot, first in packed.items()
    ]
    found.sort(key=lambda one: (one.since, one.packs, one.label), reverse=backward)
    carried = sorted(walked.movements.items(), key=lambda one: (one[1], one[0]), reverse=backward)
    return RecallScope(
        at,
        backward,
        tuple(found),
        tuple((walked.reached.rows[number], moment) for number, moment in carried),
        tuple(_links(walked, names)),
        why,
    )


# --- lots


def _lots_of_fills(walked: Walked) -> dict[Fill, UUID | None]:
    """The lot that the book names for each fill: of its first recorded movement in, or met in it unannounced."""
    into: dict[Fill, list[Row]] = {}
    for number, fill in walked.reached.taken.items():
        if walked.reached.rows[number].target_lot is not None:
            into.setdefault(fill, []).append(walked.reached.rows[number])
    found: dict[Fill, UUID | None] = {
        fill: min(into[fill], key=lambda row: row.number).target_lot if fill in into else None for fill in walked.fills
    }
    bare = [fill for fill, lot in found.items() if lot is None]
    if bare:
        met = Lot.objects.filter(vessel__in={one.vessel for one in bare}, movement=None, origin="vessel fill").filter(
            observed_at__gte=min(one.begin for one in bare), observed_at__lt=max(one.end for one in bare)
        )
        for one in met.order_by("-number"):
            for fill in bare:
                if fill.vessel == one.vessel and fill.begin <= one.observed_at < fill.end:
                    found[fill] = one.id
    return found


def _packs(walked: Walked) -> dict[UUID, tuple[Row, datetime]]:
    """Each lot of packs that a carried movement went into, with the first that did."""
    found: dict[UUID, tuple[Row, datetime]] = {}
    for number, moment in sorted(walked.movements.items(), key=lambda one: (one[1], one[0])):
        row = walked.reached.rows[number]
        if not row.target and row.target_lot is not None:
            found.setdefault(row.target_lot, (row, moment))
    return found


def _fill(
    fill: Fill, moment: datetime, lot: UUID | None, rows: Mapping[UUID, Lot], walked: Walked,
    shares: Mapping[object, Mix], held: Mapping[UUID, list[str]], in_force: InForce, at: datetime, backward: bool,
) -> Affected:  # fmt: skip
    reached = walked.reached
    into = [reached.rows[number] for number, one in reached.taken.items() if one == fill]
    out = [reached.rows[number] for number, one in reached.given.items() if one == fill]
    unit = _unit_of(fill.vessel, in_force)
    whole = account([_in(one, unit, in_force) for one in into], [_in(one, unit, in_force) for one in out], unit)
    if fill.end <= at and whole.made is not None:
        # It was washed since, so nothing of it is there, whatever the book's difference.
        whole = Account(whole.made, whole.gone, Fraction(0), whole.more, unit)
    row = rows.get(lot) if lot is not None else None
    vessel = in_force.names.get(fill.vessel, fill.vessel)
    label = flow.label_of(row, in_force) if row is not None else vessel
    mix = shares.get(fill)
    carried = [one for one in (out if backward else into) if one.number in walked.movements]
    first = min(carried, key=lambda one: (walked.movements[one.number], one.number), default=None)
    sent = tuple(
        Sent(None, label, one.target_name, "", "", one.started_at, one.quantity, one.unit, one.number, "movement")
        for one in sorted(out, key=lambda row: row.number)
        if one.number in walked.movements and not one.target and not is_packing(one.target, one.target_name)
    )
    return Affected(
        key_of(lot, fill.vessel, fill.begin), lot, label, fill.vessel, False, moment, whole,
        float(mix.low[0]) if mix is not None and not backward else None,
        float(mix.high[0]) if mix is not None and not backward else None,
        first, () if backward else sent, tuple(dict.fromkeys(held.get(lot, []))) if lot else (),
        fill,
    )  # fmt: skip


def _pack(
    lot: UUID, first: tuple[Row, datetime], rows: Mapping[UUID, Lot], into: Sequence[Row],
    shares: Mapping[object, Mix], held: Mapping[UUID, list[str]], sent: Sequence[Sent], in_force: InForce, unit: str,
    back: Sequence[Back],
) -> Affected:  # fmt: skip
    units = [one.unit for one in into if one.unit]
    own = units[0] if units else unit
    label = flow.label_of(rows[lot], in_force) if lot in rows else str(lot)
    whole = account([(one.quantity, one.unit) for one in into], [(one.quantity, one.unit) for one in sent], own)
    whole = counted(whole, back)
    mixes = [(one, shares.get(one.number)) for one in into]
    low, high = _mixed(mixes)
    return Affected(
        str(lot), lot, label, "", True, first[1], whole, low, high, first[0], tuple(sent),
        tuple(dict.fromkeys(held.get(lot, []))), None, tuple(back),
    )  # fmt: skip


def _mixed(mixes: Sequence[tuple[Row, Mix | None]]) -> tuple[float | None, float | None]:
    """The share in packs that several movements filled: one pack of them may be all of the richest.

    A movement that the scope did not reach carried nothing of it.
    """
    if not mixes:
        return None, None
    lows = [0.0 if mix is None else float(mix.low[0]) for _row, mix in mixes]
    highs = [0.0 if mix is None else float(mix.high[0]) for _row, mix in mixes]
    if all(mix is None for _row, mix in mixes):
        return None, None
    return min(lows), max(highs)


def _unit_of(vessel: str, in_force: InForce) -> str:
    found = next((one for one in in_force.plan.vessels if one.code == vessel), None)
    return found.unit if found is not None and found.unit else in_force.plan.plant.volume_unit


def _in(row: Row, unit: str, in_force: InForce) -> tuple[Decimal | None, str]:
    """A quantity in a vessel's unit: between mass and volume by the usual density of the product that it was."""
    if row.quantity is None or in_unit((row.quantity, row.unit), unit) is not None:
        return row.quantity, row.unit
    if crosses(row.unit, unit):
        product = next((one for one in in_force.plan.products if one.name == row.product_name), None)
        found = between(row.quantity, row.unit, unit, nominal(product).lb_per_gal)
        return Decimal(found.numerator) / Decimal(found.denominator), unit
    return None, unit


# --- shares


def _shares(
    walked: Walked, start: Start, in_force: InForce, *, backward: bool
) -> tuple[dict[object, Mix], str]:
    """The share of the origin in each fill and carried movement; and why there is none."""
    reached = walked.reached
    if backward:
        return {}, ""
    if len(reached.rows) > MOST_FOR_SHARES:
        return {}, _("Too many movements for shares: only the worst case was computed.")
    if not reached.rows:
        return {}, _("Nothing moved: there are no shares.")
    origins = reading.origin_of(start)
    if len(origins) != 1:
        return {}, _("It begins in several places: only the worst case was computed.")
    try:
        rows = _apart(walked, in_force, {one.number for one in start.rows})
        found = origin_shares(rows, _breaks(walked, start), origins[0], slack=_slack(in_force))
    except CalculationError as refusal:
        return {}, again(refusal.sentence, _)
    return _by_fill(walked, found.entered) | dict(found.carried), ""


def source_shares(walked: Walked, in_force: InForce) -> tuple[tuple[int, ...], dict[object, Mix]]:
    """For a lot's sources: the movements from outside and the share of each in every fill and movement."""
    rows = _apart(walked, in_force)
    if not rows or len(rows) > MOST_FOR_SHARES:
        return (), {}
    try:
        found = lot_shares(rows, reading.breaks_of(walked.reached), slack=_slack(in_force))
    except CalculationError:
        return (), {}
    return tuple(int(str(one)) for one in found.sources), _by_fill(walked, found.entered) | dict(found.carried)


def _by_fill(walked: Walked, entered: Mapping[tuple[str, int], Mix]) -> dict[object, Mix]:
    numbers = reading.fills_by_number(walked.reached, reading.breaks_of(walked.reached), walked.fills)
    return {numbers[lot]: mix for lot, mix in entered.items() if lot in numbers}


def _breaks(walked: Walked, start: Start) -> list[tuple[str, float]]:
    return reading.breaks_of(walked.reached, [fill for fill, _since, _until in start.fills])


def _apart(walked: Walked, in_force: InForce, always: Collection[int] = ()) -> list[Movement]:
    """The rows in one unit; what came from a fill that was not read is, for its share, from outside, and goes there."""
    reached = walked.reached
    quantities: dict[int, float | None] = {}
    for number, row in reached.rows.items():
        quantity, unit = _in(row, "gal", in_force)
        gallons = in_unit((quantity, unit), "gal")
        quantities[number] = None if gallons is None else float(gallons)
    known = set(walked.fills)
    return [
        one._replace(
            source=one.source if reached.given.get(int(str(one.ident))) in known else None,
            target=one.target if reached.taken.get(int(str(one.ident))) in known else None,
        )
        for one in reading.six_of(reached, quantities)
        if one.ident in always
        or reached.given.get(int(str(one.ident))) in known
        or reached.taken.get(int(str(one.ident))) in known
    ]


def _slack(in_force: InForce) -> float:
    """By so much more than the book holds may be drawn: the plan's large difference, of its largest vessel [gal]."""
    most = max((float(one.capacity) for one in in_force.plan.vessels if one.capacity), default=0.0)
    return most * float(in_force.plan.settings.large_book_difference) / 100


def _links(walked: Walked, names: Mapping[Fill, UUID | None]) -> Iterable[tuple[str, str]]:
    reached = walked.reached
    for number in sorted(walked.movements):
        row, given, taken = reached.rows[number], reached.given.get(number), reached.taken.get(number)
        one = key_of(names[given], given.vessel, given.begin) if given in walked.fills and given else ""
        if taken is not None and taken in walked.fills:
            two = key_of(names[taken], taken.vessel, taken.begin)
        else:
            two = str(row.target_lot) if not row.target and row.target_lot else ""
        if one and two and one != two:
            yield one, two


__all__ = ["LAST", "Affected", "RecallScope", "key_of", "plain", "scope", "source_shares"]
