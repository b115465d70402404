"""What is wrong with rework that goes into something: its hours, its flavor, its allergens, no heat after it.

Asked of every movement out of a container of rework, whichever form it came by. It writes nothing.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from datetime import datetime, timedelta
from uuid import UUID

from django.utils.translation import gettext as _

from plant.hazard_plan.content import ProductDef
from plant.process.allergens import undeclared
from plant.rework_places import number_of
from records.batches.added import FLAVOR_POINT
from records.flow.choices import product_of, vessel_of
from records.flow.finding import STORAGE, Finding
from records.flow.history import History
from records.flow.models import Movement
from records.labels.contents import contents_of
from records.labels.findings import LABEL, point_of
from records.labels.sequence import in_words
from records.people.plans import InForce
from records.rework.state import Portion, hours_allowed, is_thrown_away, like_only, portion_of

REWORK_QUANTITY = "rework"


def about(row: Movement, before: History, in_force: InForce) -> list[Finding]:
    """As records.flow.further asks; of rework that is thrown away nothing is asked."""
    number = number_of(row.source)
    portion = portion_of(number, in_force) if number is not None and not is_thrown_away(row) else None
    if portion is None:
        return []
    found = _not_declared(portion, row, before, in_force)  # first: one deviation keeps the first sentence of a movement
    found += _past_its_hours(portion, row, in_force)
    found += _other_flavor(portion, row, before, in_force)
    return found + _unheated(portion, row, in_force)


def point_of_rework(in_force: InForce, place: str) -> str:
    """The plan's control point of its check of rework; else that of labels and allergens."""
    keys = {one.key for one in in_force.plan.limits if one.quantity == REWORK_QUANTITY}
    found = next((one.control_point for one in in_force.plan.monitoring if keys & set(one.limits)), "")
    return found or point_of(in_force.plan, LABEL, place)


def _past_its_hours(portion: Portion, row: Movement, in_force: InForce) -> list[Finding]:
    """Safety, and held: the hours bound what grows in product that stands open, and no heat undoes a toxin."""
    if row.started_at <= portion.until(in_force):
        return []
    words = {
        "name": in_force.names.get(portion.code, portion.code), "product": portion.row.product_name,
        "after": lasting(row.started_at - portion.row.happened_at), "most": hours_allowed(portion.row, in_force),
        "own": portion.row.use_within_h or 0, "entry": portion.row.number, "version": in_force.number,
        "plan": in_force.plan.settings.rework_h,
    }  # fmt: skip
    sentence = _(
        "%(name)s, %(product)s: used %(after)s after it was set aside; within %(most)d h is allowed"
        " (%(own)d h by entry %(entry)d; setting rework_h %(plan)d h, plan version %(version)d)"
    )
    return [Finding(STORAGE, row.target or row.source, sentence % words, "not met", bars=True, holds=True)]


def lasting(time: timedelta) -> str:
    """'26 h 20 min', rounded up to the minute."""
    minutes = math.ceil(time.total_seconds() / 60)
    return _("%(hours)d h %(minutes)02d min") % {"hours": minutes // 60, "minutes": minutes % 60}


def goes_into(row: Movement, before: History, in_force: InForce) -> list[ProductDef]:
    """The products that rework goes into: the one named, and what the vessel holds where that is sold as it is."""
    codes = [row.product]
    if row.target and before.book.contents(row.target, row.started_at).holds:
        fills = [one.row.product for one in before.into(row.target) if one.row.started_at <= row.started_at]
        codes += fills[-1:]
    found = [product_of(in_force, one) for one in dict.fromkeys(codes)]
    return [one for one in found if one is not None and (one.code == row.product or one.is_sold)]


def other_flavors(portion: Portion, products: Iterable[ProductDef]) -> list[str]:
    """The names of those that are not the flavor of a portion."""
    return [one.name for one in products if one.code != portion.row.product]


def _other_flavor(portion: Portion, row: Movement, before: History, in_force: InForce) -> list[Finding]:
    """By the plan's rule alone; without one the form asks once more."""
    clause = like_only(in_force.plan)
    names = other_flavors(portion, goes_into(row, before, in_force)) if clause else []
    if not names:
        return []
    words = {
        "name": in_force.names.get(portion.code, portion.code), "product": portion.row.product_name,
        "other": ", ".join(names), "clause": clause, "version": in_force.number,
    }  # fmt: skip
    sentence = _(
        "%(name)s is %(product)s, it goes into %(other)s: rework goes like into like (%(clause)s; plan version"
        " %(version)d)"
    )
    point = point_of_rework(in_force, row.target)
    return [Finding(point, row.target or row.source, sentence % words, "not met", bars=True, holds=True)]


def _not_declared(portion: Portion, row: Movement, before: History, in_force: InForce) -> list[Finding]:
    """An allergen in the rework, however far back it came in, that the label of what it goes into does not declare."""
    lot: UUID | None = before.lot_at(row.source, row.started_at) or portion.lot
    contents = contents_of(row.source, lot, portion.row.product, row.started_at, in_force)
    found = []
    for product in goes_into(row, before, in_force):
        for left in undeclared(product.allergens, contents):
            words = {
                "product": product.name, "allergen": in_words([left.allergen]), "names": ", ".join(left.brought_by),
                "portion": in_force.names.get(portion.code, portion.code),
            }  # fmt: skip
            sentence = _("%(product)s does not declare %(allergen)s, which %(portion)s brings: %(names)s") % words
            point = point_of(in_force.plan, LABEL, row.target)
            found.append(Finding(point, row.target or row.source, sentence, "legal rule", bars=True, holds=True))
    return found


def _unheated(portion: Portion, row: Movement, in_force: InForce) -> list[Finding]:
    """After pasteurization nothing kills what an opened portion brings: as for a flavor, it needs its reason."""
    target = vessel_of(in_force, row.target)
    if (target is not None and target.stage == "raw") or row.note.strip():
        return []
    words = {
        "name": in_force.names.get(portion.code, portion.code), "product": portion.row.product_name,
        "place": row.target_name,
    }  # fmt: skip
    sentence = _(
        "%(name)s, %(product)s, into %(place)s: it is not pasteurized again, and no reason is given why it may go in so"
        " (common practice, no source; the plan)"
    )
    return [Finding(FLAVOR_POINT, row.target or row.source, sentence % words, "not met", bars=True, holds=True)]


def left_words(until: datetime, now: datetime) -> str:
    """'5 h 20 min left', or since when it is past."""
    if now <= until:
        whole = int((until - now).total_seconds() // 60)
        return _("%(hours)d h %(minutes)02d min left") % {"hours": whole // 60, "minutes": whole % 60}
    return _("past by %(time)s") % {"time": lasting(now - until)}
