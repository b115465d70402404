"""What the pages of rework show of each portion, in words."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.urls import reverse
from django.utils.translation import gettext as _

from plant.process.units import plain
from records.flow.models import Movement
from records.flow.queries import not_free_at
from records.freezer_runs.words import allergen_words
from records.people.plans import InForce
from records.rework.findings import left_words
from records.rework.state import Portion, is_thrown_away, portions
from records.rework.watch import past, sentence


@dataclass(frozen=True, slots=True)
class Shown:
    """A portion as a page shows it. `took`: each movement out of it with its words; `held`: the reasons of holds."""

    portion: Portion
    name: str
    product: str
    amount: str
    left: str
    allergens: str
    until: datetime
    hours: str
    is_past: bool
    held: tuple[str, ...]
    took: tuple[tuple[Movement, str], ...]


def shown(one: Portion, now: datetime, in_force: InForce, held: Mapping[UUID, Collection[str]]) -> Shown:
    """A portion in words."""
    until = one.until(in_force)
    return Shown(
        portion=one,
        name=in_force.names.get(one.code, one.code) or one.code,
        product=one.row.product_name,
        amount=amount_words(one),
        left=left_of_words(one),
        allergens=allergen_words(one.row.allergens) or _("none"),
        until=until,
        hours=left_words(until, now) if one.is_kept else "",
        is_past=one.is_past(now, in_force),
        held=tuple(dict.fromkeys(held.get(one.lot, ()))) if one.lot is not None else (),
        took=tuple((each, took_words(each)) for each in one.out),
    )


def amount_words(one: Portion) -> str:
    """'4 tubs, 3 lb', as it was said when it was set aside."""
    row = one.row
    parts = [_("%(count)d tubs") % {"count": row.tubs}] if row.tubs is not None else []
    parts += [f"{row.amount_typed} {row.unit}"] if row.amount_typed else []
    return ", ".join(parts) or _("quantity not known")


def left_of_words(one: Portion) -> str:
    """What is left of it by the book."""
    if not one.is_kept:
        return _("nothing")
    if one.left is None:
        return _("not known") if one.out else amount_words(one)
    return f"{plain(one.left, 2)} {one.row.unit}"


def took_words(row: Movement) -> str:
    """'3 gal into Flavor vat 1, for Salted hazelnut', or '3 gal thrown away, drain: its reason'."""
    words = {
        "quantity": f"{row.quantity_typed} {row.unit}".strip() or _("quantity not known"), "where": row.target_name,
        "product": row.product_name, "why": row.note,
    }  # fmt: skip
    if is_thrown_away(row):
        return _("%(quantity)s thrown away, %(where)s: %(why)s") % words
    return _("%(quantity)s into %(where)s, for %(product)s") % words


def all_shown(found: Iterable[Portion], now: datetime, in_force: InForce) -> list[Shown]:
    """These portions in words; the holds are asked for once."""
    rows = list(found)
    held = not_free_at(now) if rows else {}
    return [shown(one, now, in_force, held) for one in rows]


def floor_lines(now: datetime, in_force: InForce) -> list[tuple[str, str]]:
    """What the Floor and Ready say: each portion past its hours in a sentence, with its page."""
    return [
        (sentence(one, in_force), reverse("records:rework-portion", args=[one.number])) for one in past(now, in_force)
    ]


__all__ = ["all_shown", "floor_lines", "portions", "shown", "took_words"]
