"""Washing beside product: a wash of a place through which product moved, or that a pipe of the plan joins to product.

Cleaning solution may have met product on both sides, so a deviation is opened on both and what they held is held:
pipelines and equipment that conduct milk are kept effectively apart from what holds cleaning or sanitizing solution
(Grade "A" PMO Item 15p(B), from memory). Whoever washed says whether the plan's way of parting them was seen;
silence is no proof of it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from typing import NamedTuple
from uuid import UUID

from django.utils.translation import gettext as _

from plant.hazard_plan.content import PipeDef, Plan
from records.flow.effective import standing
from records.flow.finding import SANITATION, Finding
from records.flow.history import WASH_LASTS, History, Told
from records.flow.models import Movement, Wash
from records.flow.words import in_words
from records.people.plans import InForce

YES, NO = "yes", "no"
MOMENT = timedelta(microseconds=1)
PARTED = (YES, NO)


class Joined(NamedTuple):
    """The other end of a pipe, and the pipe."""

    place: str
    pipe: PipeDef


@dataclass(frozen=True, slots=True)
class _Product:
    """Product in a vessel, or that ran into it: its lot and the vessel that holds it (empty: packs)."""

    lot: UUID | None
    vessel: str


def joined_to(plan: Plan, place: str) -> list[Joined]:
    """What the plan's pipes join a place to, in the plan's order."""
    return [
        Joined(next(other for other in pipe.places if other != place), pipe)
        for pipe in plan.pipes
        if place in pipe.places
    ]


def places_of(plan: Plan, place: str) -> list[str]:
    """A place and all that pipes join it to."""
    return [place, *dict.fromkeys(one.place for one in joined_to(plan, place))]


def in_words_of(in_force: InForce, place: str) -> str:
    """What a place is joined to and what keeps them apart, in the plan's own words; empty without any pipe."""
    named = [(in_force.names.get(one.place, one.place), one.pipe.parted_by) for one in joined_to(in_force.plan, place)]
    return "; ".join(f"{name} ({how})" for name, how in named)


def of_wash(row: Wash, history: History, in_force: InForce) -> list[Finding]:
    """What is wrong with a wash, by a history of its place and of all that pipes join it to; on both sides of each."""
    with in_force.speaking():
        found = _through(row, history, in_force)
        for one in joined_to(in_force.plan, row.vessel) if row.parted != YES else ():
            product = _product_at(one.place, row.started_at, row.ended_at, history)
            if product:
                found += _both(row, one, product, in_force)
    return found


def why_not_begin(place: str, now: datetime, history: History, in_force: InForce) -> str:
    """Why a wash may not begin before the place is parted from what it is joined to; empty without product."""
    for one in joined_to(in_force.plan, place):
        if _product_at(one.place, now, now + MOMENT, history):
            words = {"vessel": in_force.names.get(one.place, one.place), "how": one.pipe.parted_by}
            return _("%(vessel)s holds product and is joined to it: part them first (%(how)s), and say so.") % words
    return ""


def of_movement(row: Movement, ended_at: datetime | None, before: History, in_force: InForce) -> list[Finding]:
    """What is wrong with a movement because of a wash: of one of its places, or of what a pipe joins these to.

    One query more for a plan with pipes, of the washes since the movement began.
    """
    found = _washed_meanwhile(row, ended_at, before, in_force)
    ends = [code for code in dict.fromkeys((row.source, row.via, row.target)) if code]
    beyond = [(code, one) for code in ends for one in joined_to(in_force.plan, code)]
    if not beyond:
        return found
    found += _being_washed(row, ends, before, in_force)
    neighbors = {one.place for _code, one in beyond}
    since = Wash.objects.filter(vessel__in=neighbors, ended_at__gt=row.started_at, started_at__lte=before.until)
    washes = list(standing(since).exclude(parted=YES).order_by("started_at", "number"))
    if washes:
        told = Told(row, ended_at, row.quantity, row.unit, row.uncertainty or Decimal(0), row.number)
        after = before.with_moves([*before.moves, told])
        for wash in washes:
            if wash.vessel in ends and _overlap(row, ended_at, wash):
                continue  # said above
            for code, one in beyond:
                if one.place == wash.vessel and _touched_by(row, ended_at, code, wash, before, after):
                    product = _product_at(code, wash.started_at, wash.ended_at, after)
                    found += _both(wash, Joined(code, one.pipe), product or [_Product(None, "")], in_force)
    return found


def _touched_by(
    row: Movement, ended_at: datetime | None, code: str, wash: Wash, before: History, after: History
) -> bool:
    """Whether product was at a place during a wash because of this movement."""
    if _overlap(row, ended_at, wash):
        return True
    return bool(
        _product_at(code, wash.started_at, wash.ended_at, after)
        and not _product_at(code, wash.started_at, wash.ended_at, before)
    )


def _overlap(row: Movement, ended_at: datetime | None, wash: Wash) -> bool:
    return row.started_at < wash.ended_at and (ended_at is None or wash.started_at < ended_at)


def being_washed_beside(place: str, moment: datetime, before: History, in_force: InForce) -> list[str]:
    """What is being washed beside a place, joined to it and not said to be parted: nothing may begin there meanwhile.

    A query only where a wash was said to begin.
    """
    found = []
    for one in joined_to(in_force.plan, place):
        begun = [
            each
            for each in before.washes_begun
            if each.subject == one.place and moment - WASH_LASTS <= each.observed_at <= moment and each.reference != YES
        ]
        last = max((each.observed_at for each in begun), default=None)
        if last is not None and not standing(Wash.objects.filter(vessel=one.place, ended_at__gte=last)).exists():
            words = {
                "washed": in_force.names.get(one.place, one.place),
                "vessel": in_force.names.get(place, place),
                "how": one.pipe.parted_by,
            }
            sentence = _("%(washed)s is being washed and is joined to %(vessel)s: part them first (%(how)s)") % words
            found.append(sentence)
    return found


def _being_washed(row: Movement, ends: Iterable[str], before: History, in_force: InForce) -> list[Finding]:
    """A wash that was said to begin next door and has no end yet: nothing may begin until the two are parted."""
    return [
        Finding(SANITATION, code, sentence, "legal rule", bars=True, records=False)
        for code in ends
        for sentence in being_washed_beside(code, row.started_at, before, in_force)
    ]


def _both(wash: Wash, other: Joined, product: list[_Product], in_force: InForce) -> list[Finding]:
    """A deviation on the washed place and on the other end of its pipe; what product was there is held."""
    words = {
        "washed": in_force.names.get(wash.vessel, wash.vessel),
        "vessel": in_force.names.get(other.place, other.place),
        "how": other.pipe.parted_by,
    }
    if wash.parted == NO:
        sentence = _("%(washed)s was washed while joined to %(vessel)s, where product was: not parted (%(how)s)")
    else:
        sentence = _(
            "%(washed)s was washed while joined to %(vessel)s, where product was:"
            " nothing says that they were parted (%(how)s)"
        )
    said = sentence % words
    return [
        Finding(SANITATION, wash.vessel, said, "legal rule", bars=True),
        *(_held(other.place, said, one) for one in product),
    ]


def _held(subject: str, sentence: str, product: _Product) -> Finding:
    """Without a lot of its own the product is that of the movement or wash at hand."""
    vessel = product.vessel if product.lot is not None else ""
    return Finding(
        SANITATION, subject, sentence, "legal rule", bars=True, holds=True, lot=product.lot, vessel=vessel
    )  # fmt: skip


def _product_at(place: str, start: datetime, end: datetime, history: History) -> list[_Product]:
    """The product that was in a place, or moved through it, in a time; once for each lot."""
    found = []
    if history.book.contents(place, start).holds:
        found.append(_Product(history.lot_at(place, start), place))
    for one in (*history.into(place), *history.out_of(place), *history.through(place)):
        until = history.end_of(one)
        if one.row.started_at < end and (until is None or start < until):
            found += _of_move(one.row, history)
    return list(dict.fromkeys(found))


def _of_move(row: Movement, history: History) -> list[_Product]:
    """Both ends of a movement: what it drew from and what it went into."""
    known = UUID(row.source_lots[0]) if row.source_lots else history.lot_at(row.source, row.started_at)
    drawn = [_Product(known, row.source)] if row.source else []
    return [*drawn, _Product(row.target_lot, row.target)]


def _through(row: Wash, history: History, in_force: InForce) -> list[Finding]:
    """Product that moved through a place while it was washed: on the place, and on the vessels at both ends."""
    found: list[Finding] = []
    for one in (*history.into(row.vessel), *history.out_of(row.vessel), *history.through(row.vessel)):
        if one.ended_at is not None and row.started_at < one.ended_at and one.row.started_at < row.ended_at:
            found += _ends(row, one.row, history, in_force)
    return list(dict.fromkeys(found))


def _washed_meanwhile(row: Movement, ended_at: datetime | None, before: History, in_force: InForce) -> list[Finding]:
    """A wash of a vessel or line while product moved through it."""
    found: list[Finding] = []
    for code in dict.fromkeys((row.source, row.via, row.target)):
        for wash in before.washes_of(code) if code else ():
            if ended_at is not None and wash.started_at < ended_at and row.started_at < wash.ended_at:
                found += _ends(wash, row, before, in_force)
                break
    return list(dict.fromkeys(found))


def _ends(wash: Wash, row: Movement, history: History, in_force: InForce) -> list[Finding]:
    words = {"vessel": in_force.names.get(wash.vessel, wash.vessel), "what": in_words(wash.what)}
    sentence = _("%(vessel)s was %(what)s while product moved") % words
    return [
        Finding(SANITATION, wash.vessel, sentence, "legal rule", bars=True),
        *(_held(one.vessel or wash.vessel, sentence, one) for one in _of_move(row, history)),
    ]
