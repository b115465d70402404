"""Levels seen: what the book said, and the gain or loss that the difference is. Inside the act that saw them."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from fractions import Fraction
from uuid import UUID

from django.utils.translation import gettext as _

from plant.process.units import UnitError, exact, plain, rounded
from records.flow.choices import vessel_of
from records.flow.common import name_of
from records.flow.finding import BOOK, Finding
from records.flow.history import History
from records.flow.models import LevelSeen
from records.ledger.actions import Act
from records.people.plans import InForce

# What a record's decimal column keeps.
PLACES = 4


def level_of(
    in_force: InForce, vessel: str, at: datetime, form_id: UUID, typed: str, quantity: Decimal, unit: str, told: History
) -> LevelSeen:
    """A level with what the book said then and the difference, seen less book, all in the unit of the level."""
    contents = told.book.vessels.get(vessel)
    exact_book = contents.quantity_at(at) if contents else Fraction(0)
    own = vessel_of(in_force, vessel)
    book = _in_unit(exact_book, contents.unit if contents and contents.unit else own.unit if own else unit, unit)
    return LevelSeen(
        form_id=form_id,
        vessel=vessel,
        vessel_name=name_of(in_force, vessel),
        quantity_typed=typed,
        quantity=quantity,
        unit=unit,
        book=book,
        difference=None if book is None else quantity - book,
    )


def _in_unit(value: Fraction | None, unit: str, to: str) -> Decimal | None:
    if value is None:
        return None
    try:
        return rounded(exact(value, unit, to), PLACES)
    except UnitError:
        return None


def about_level(level: LevelSeen, in_force: InForce) -> list[Finding]:
    """A difference larger than the plan's share of the capacity is a deviation; a smaller one is gain or loss."""
    vessel = vessel_of(in_force, level.vessel)
    if vessel is None or not vessel.capacity or not level.difference:
        return []
    allowed = Fraction(Decimal(vessel.capacity)) * Fraction(Decimal(in_force.plan.settings.large_book_difference)) / 100
    try:
        large = abs(exact(level.difference, level.unit, vessel.unit)) > allowed
    except UnitError:
        large = False
    if not large:
        return []
    words = {
        "vessel": vessel.name,
        "seen": plain(level.quantity, 1),
        "book": plain(level.book or Decimal(0), 1),
        "unit": level.unit,
        "percent": in_force.plan.settings.large_book_difference,
    }
    with in_force.speaking():
        sentence = _(
            "%(vessel)s: seen %(seen)s %(unit)s, the book says %(book)s %(unit)s: "
            "a difference of more than %(percent)s percent of its capacity"
        )
    return [Finding(BOOK, level.vessel, sentence % words, "book", "quality")]


def seen_empty(
    a: Act, in_force: InForce, vessel: str, at: datetime, form_id: UUID, told: History
) -> list[Finding]:
    """A person says that a vessel is empty: a level of nothing is kept. Gives what is wrong with it."""
    own, book = vessel_of(in_force, vessel), told.book.vessels.get(vessel)
    unit = own.unit if own else (book.unit if book else "") or in_force.plan.plant.volume_unit
    level = level_of(in_force, vessel, at, form_id, "0", Decimal(0), unit, told)
    a.write(level, observed_at=at)
    return about_level(level, in_force)
