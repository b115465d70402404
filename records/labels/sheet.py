"""What the label of a pack says: from the plan in force when it was packed, and from what went into it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.utils.translation import gettext as _

from plant.hazard_plan.content import ProductDef
from plant.kept_words import kept_word
from plant.process.allergens import BY_RULE_SET, US_BY_KIND, Content, Left, all_of, undeclared
from plant.process.gs1 import Elements, Gs1Error, elements
from records.flow.choices import product_of
from records.flow.common import plan_at
from records.flow.effective import standing
from records.flow.history import load
from records.flow.models import Movement
from records.labels.contents import contents_of
from records.labels.sequence import declared_by
from records.labels.symbols import datamatrix_svg, qr_svg
from records.ledger import registry
from records.lots.models import Lot
from records.people.plans import InForce


@dataclass(frozen=True, slots=True)
class LabelSheet:
    """`printed`: the element string for people, empty without one; `without`: why there is no GS1 symbol.

    `by_kind`: declared allergens that a US label names by kind, such as the nut; the book knows only the group.
    `left`: allergens that are in it and that it does not declare; then `symbol` and the label's text are not given.
    """

    lot: Lot
    plant: str
    plant_number: str
    address: str
    product: str
    packed_on: date
    best_before: date | None
    contains: str
    keep: str
    net_contents: str
    symbol: str
    printed: str
    without: str
    left: tuple[Left, ...]
    missing: tuple[str, ...]
    law: str
    by_kind: tuple[str, ...]
    spaces_left_out: bool


def keep_words(keep: str) -> str:
    """What a label says of cold, in its own language; empty for nothing."""
    return {"refrigerated": _("Keep refrigerated"), "frozen": _("Keep frozen")}.get(keep, "")


def contains(allergens: tuple[str, ...]) -> str:
    """The statement of 21 USC 343(w)(1)(A): 'Contains' and the names of the sources; empty for none."""
    return _("Contains: %(what)s") % {"what": ", ".join(kept_word(one) for one in allergens)} if allergens else ""


@dataclass(frozen=True, slots=True)
class Dates:
    """The day on which packs were packed, and the last day of best before; None where the plan has no days for it."""

    packed_on: date
    best_before: date | None


def dates_of(product: ProductDef | None, packed_at: datetime, in_force: InForce) -> Dates:
    """Of packs whose filling began at `packed_at`, by the plan in force then."""
    packed_on = in_force.calendar.local(packed_at).date()
    days = int(product.shelf_days) if product is not None and product.shelf_days else 0
    return Dates(packed_on, packed_on + timedelta(days=days) if days else None)


def dates_of_pack(lot: Lot) -> Dates | None:
    """The dates on the label of a pack lot; None for one of which no movement stands. Three statements."""
    first = standing(Movement.objects.filter(target_lot=lot.id)).order_by("started_at", "number").first()
    if first is None:
        return None
    in_force = plan_at(first.started_at)
    return dates_of(product_of(in_force, first.product), first.started_at, in_force)


def label_of_pack(lot: Lot) -> LabelSheet | None:
    """The label of a pack lot; None for one of which no movement stands. In the plant's language."""
    rows = standing(Movement.objects.filter(target_lot=lot.id)).order_by("started_at", "number")
    moves = list(rows)
    if not moves:
        return None
    in_force = plan_at(moves[0].started_at)
    with in_force.speaking():
        return _label(lot, moves, in_force)


def _label(lot: Lot, moves: list[Movement], in_force: InForce) -> LabelSheet:
    header, first = in_force.plan.plant, moves[0]
    product = product_of(in_force, first.product)
    dates = dates_of(product, first.started_at, in_force)
    best_before = dates.best_before
    left = undeclared(declared_by(in_force.plan, first.product), in_packs(moves, in_force))
    gtin, keep = (product.gtin, product.keep) if product is not None else ("", "")
    net = product.net_contents if product is not None else ""
    symbol, printed, without = _symbol(gtin, lot.code or "", best_before, first.product_name)
    asked = (
        (_("net contents"), net), (_("how it is kept"), keep), (_("days to best before"), best_before),
        (_("plant number"), header.plant_number), (_("GTIN"), gtin),
    )  # fmt: skip
    declared = product.allergens if product is not None else ()
    return LabelSheet(
        lot=lot,
        plant=header.name,
        plant_number=header.plant_number,
        address=header.address,
        product=first.product_name,
        packed_on=dates.packed_on,
        best_before=best_before,
        contains=contains(all_of([Content("", frozenset(declared))])),
        keep=keep_words(keep),
        net_contents=net,
        symbol="" if left else symbol,
        printed=printed,
        without=without,
        left=tuple(left),
        missing=tuple(words for words, value in asked if not value),
        law=BY_RULE_SET[header.rule_set][0] if header.rule_set in BY_RULE_SET else "",
        by_kind=tuple(one for one in declared if one in US_BY_KIND) if header.rule_set == "us" else (),
        spaces_left_out=bool(printed) and " " in (lot.code or ""),
    )


def _symbol(gtin: str, code: str, best_before: date | None, title: str) -> tuple[str, str, str]:
    """The drawing, its element string for people, and why it is no GS1 symbol where it is none."""
    if not gtin:
        return qr_svg(code, title), "", _("The plan has no GTIN for this product: the QR carries the code alone.")
    try:
        found: Elements = elements(gtin, code, best_before)
    except Gs1Error:
        return qr_svg(code, title), "", _("GS1 has no way to write this code as a lot: the QR carries the code alone.")
    return datamatrix_svg(found, title), found.printed, ""


def in_packs(moves: list[Movement], in_force: InForce) -> list[Content]:
    """What is in packs: what was in the vessels they were filled from, and the feeder's lots of the freezer's runs."""
    found: dict[Content, None] = {}
    for row in moves:
        if not row.source:
            continue
        before = load(in_force.plan, row.started_at, row.started_at, [row.source])
        lot = before.lot_at(row.source, row.started_at)
        found.update(dict.fromkeys(contents_of(row.source, lot, row.product, row.started_at, in_force)))
        found.update(dict.fromkeys(_fed(row)))
    return list(found)


def _fed(row: Movement) -> list[Content]:
    """The feeder's lots in freezer runs that drew this product in the day before it was packed. Found by their kind."""
    model: Any = registry.kinds().get("freezer run event")
    if model is None:
        return []
    since = row.started_at - timedelta(days=1)
    rows = model._default_manager.filter(happened_at__gte=since, happened_at__lte=row.started_at, void=False)
    runs = set(rows.filter(product=row.product, what="draw begun").values_list("run", flat=True))
    replaced = set(rows.exclude(amends=None).values_list("amends", flat=True))
    drawn = sorted(rows.filter(run__in=runs, what="draw begun").values_list("run", "happened_at", "product"))
    found = []
    for one in rows.filter(run__in=runs, what="feeder filled"):
        if one.number in replaced:
            continue
        # What was filled before a draw is in the first draw after it, and in the one that went on.
        after = next((name for run, at, name in drawn if run == one.run and at >= one.happened_at), "")
        going = [name for run, at, name in drawn if run == one.run and at <= one.happened_at][-1:]
        if row.product in (after, *going):
            allergens = frozenset(each for each in one.allergens.split(", ") if each)
            found.append(Content(f"{one.ingredient} {one.lot_code}", allergens))
    return found

