"""What a person is asked once more before it is kept: a quantity that looks like another unit's, a movement twice.

A doubt refuses nothing: who says that it is right as typed keeps it as typed. It writes nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from fractions import Fraction

from django.utils.translation import gettext as _

from plant.hazard_plan.content import VesselDef
from plant.process.properties import between
from plant.process.units import NumberError, UnitError, parse_number, plain
from records.flow.choices import is_raw, product_of, vessel_of
from records.flow.data import UNITS, MovementData
from records.flow.densities import nominal_of
from records.flow.effective import standing
from records.flow.errors import Refused
from records.flow.models import Movement
from records.people.plans import InForce

# Two people who write down one movement rarely differ by more than this in its start: common practice, no source.
SAME_START = timedelta(minutes=15)
# Another unit is named only where the same number would be a sensible part of the vessel: this project's choice.
FILLS_SOME = Fraction(1, 50)


@dataclass(frozen=True, slots=True)
class Doubt:
    """A question beside a field."""

    field: str
    sentence: str
    to_load: bool = False  # the page offers the load's paper instead


def about(data: MovementData, in_force: InForce, started_at: datetime) -> list[Doubt]:
    """What is asked of a movement before it is kept. One query."""
    found = about_quantity(data.quantity_typed, data.unit, (data.target, data.source), in_force, data.product)
    return [*_without_a_load(data, in_force), *found, *_twice(data, in_force, started_at)]


def raw_from_outside(data: MovementData, in_force: InForce) -> bool:
    """Whether raw milk, or raw product of it, comes in from outside: a load's, with its paper and residue screen."""
    product = product_of(in_force, data.product)
    return not data.source and bool(data.target) and is_raw(product, vessel_of(in_force, data.target))


def _without_a_load(data: MovementData, in_force: InForce) -> list[Doubt]:
    if not raw_from_outside(data, in_force):
        return []
    product = product_of(in_force, data.product)
    sentence = _(
        "%(product)s from outside comes as a load, with its paper and residue screen. Kept as a movement alone it is on"
        " hold, with all that it flows into, until the result of its load."
    )
    words = {"product": product.name if product is not None else data.product}
    return [Doubt("product", sentence % words, to_load=True)]


def about_quantity(
    typed: str, unit: str, places: Sequence[str], in_force: InForce, product: str
) -> list[Doubt]:
    """More than one of its vessels can hold; names the units in which the same number would fit. No query."""
    if not typed or unit not in UNITS:
        return []
    try:
        number = parse_number(typed, in_force.plan.plant.decimal_mark)
    except NumberError:
        return []  # the act says so
    lb_per_gal = nominal_of(in_force.plan, product).lb_per_gal
    for code in places:
        vessel = vessel_of(in_force, code)
        if vessel is None or not vessel.capacity or _share(number, unit, vessel, lb_per_gal) <= 1:
            continue
        fits = [one for one in UNITS if one != unit and FILLS_SOME < _share(number, one, vessel, lb_per_gal) <= 1]
        words = {
            "quantity": f"{typed} {unit}",
            "vessel": vessel.name,
            "capacity": f"{plain(Decimal(vessel.capacity))} {vessel.unit}",
        }
        if fits:
            said = " / ".join(f"{typed} {one}" for one in fits)
            sentence = _("%(vessel)s holds %(capacity)s; %(quantity)s is more. Was it %(others)s?")
            return [Doubt("quantity", sentence % (words | {"others": said}))]
        return [Doubt("quantity", _("%(vessel)s holds %(capacity)s; %(quantity)s is more. Look again.") % words)]
    return []


def too_full(found: Sequence[Doubt], ask: Callable[[], list[str]]) -> list[Doubt]:
    """What `ask` says of a vessel that would hold more than it can, unless its quantity is doubted already."""
    if any(one.field == "quantity" for one in found):
        return []
    try:
        return [Doubt("quantity", sentence) for sentence in ask()]
    except Refused:
        return []  # the act says so, beside its field


def _share(number: Decimal, unit: str, vessel: VesselDef, lb_per_gal: Decimal) -> Fraction:
    """The part of a vessel's capacity that a quantity is."""
    capacity = Fraction(Decimal(vessel.capacity))
    try:
        return between(number, unit, vessel.unit, lb_per_gal) / capacity if capacity else Fraction(0)
    except UnitError:
        return Fraction(0)


def _twice(data: MovementData, in_force: InForce, started_at: datetime) -> list[Doubt]:
    """The same product between the same places at about the same time, under another form."""
    rows = Movement.objects.filter(
        source=data.source, target=data.target, product=data.product, via=data.via,
        started_at__gte=started_at - SAME_START, started_at__lte=started_at + SAME_START,
    ).exclude(form_id=data.form_id)  # fmt: skip
    for row in standing(rows).order_by("-number"):
        outside = [(row.source_name, data.source_name, data.source), (row.target_name, data.target_name, data.target)]
        if any(not code and kept.lower() != said.strip().lower() for kept, said, code in outside):
            continue
        words = {
            "who": row.by_name,
            "when": in_force.calendar.local(row.started_at).strftime("%H:%M"),
            "number": row.number,
        }
        sentence = _("%(who)s recorded the same at %(when)s: movement %(number)d. Is this another one?")
        return [Doubt("started_at", sentence % words)]
    return []
