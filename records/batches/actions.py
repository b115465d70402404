"""The acts on batches: a sheet computed, a line weighed in, a blend tested, milk separated.

What has happened is kept with its consequence; what has not and may not is refused with every reason.
"""

from __future__ import annotations

import uuid
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from plant import clock
from plant.process.errors import CalculationError
from plant.process.said import again
from records.batches import common, computing
from records.batches.data import AdditionData, BlendTestData, LineData, SeparationData, SheetData, StreamData
from records.batches.models import BatchAddition, BatchSheet, BlendTest, Separated
from records.batches.state import Batch, batch_of, weighed_of
from records.flow.choices import is_line
from records.flow.common import name_of, plan_at, typed_number
from records.flow.data import MovementData
from records.flow.errors import Refused
from records.ingredients import keeping
from records.ingredients.actions import held_for, the_lot, write_use
from records.ingredients.models import USED, IngredientReceived, StockEvent
from records.ledger.actions import Act, Actor, act
from records.people.plans import InForce

BATCH_POINT = "batch sheet"
_BY_BOOK = frozenset({"movement", "stock", "blend", "off", "target", "name", "source", "supplier_lot", "allergen"})
MOST_KG = Decimal(1_000_000)


def write_sheet(by: Actor, data: SheetData) -> BatchSheet:
    """Compute a sheet and keep it. Raises Refused beside the field; what cannot be blended says why."""
    in_force = plan_at(data.at)
    product = common.product_named(data.product, in_force)
    lines = [_line(at, one, in_force) for at, one in enumerate(data.lines)]
    if not lines:
        raise Refused(_("Write at least one line."), "name_0")
    wanted = {name: _percent(getattr(data, name), name, in_force) for name in computing.WANTED}
    total = _kg(data.total, "total", in_force)
    try:
        mix = computing.computed(lines, wanted, total)
    except CalculationError as error:
        raise Refused(again(error.sentence, _)) from error
    for line, mass in zip(lines, mix.masses_kg, strict=True):
        line["target"] = computing.text(mass)
    row = BatchSheet(
        batch=keeping.text(data.batch, "batch", 60),
        place=data.place,
        place_name=common.place_named(data.place, in_force),
        product=product.code,
        product_name=product.name,
        wanted=wanted,
        lines=lines,
        computed=computing.contents(mix),
        total_typed=data.total.strip(),
        total=Decimal(computing.text(mix.total_kg)),
        tolerance=keeping.number(data.tolerance, "tolerance", in_force, above_zero=False),
        **keeping.common(data),
    )
    with act(by) as a:
        return keeping.write(a, by, row)[0]


def _line(at: int, said: LineData, in_force: InForce) -> dict[str, str]:
    name = keeping.text(said.name, f"name_{at}", 120)
    line = {"name": name, "source": said.source, "test": said.test.strip(), "allergen": said.allergen.strip()}
    for part in computing.PARTS:
        line[part] = _percent(getattr(said, part), f"{part}_{at}", in_force)
    fixed = _kg(said.fixed, f"fixed_{at}", in_force)
    line["fixed"] = "" if fixed is None else f"{fixed:f}"
    if said.source:
        common.place_named(said.source, in_force, f"source_{at}")
        for part, sentence in (
            ("fat", _("Enter the fat that was tested, not the nominal one.")),
            ("snf", _("Enter the solids-not-fat that were tested, not the nominal ones.")),
            ("test", _("Write which sample it was, and when.")),
        ):
            if not line[part]:
                raise Refused(sentence, f"{part}_{at}")
    return line


def _percent(typed: str, field: str, in_force: InForce) -> str:
    number = typed_number(typed.strip(), in_force, field)
    if number is not None and number > 100:
        raise Refused(_("This is more than 100 %."), field)
    return "" if number is None else f"{number:f}"


def _kg(typed: str, field: str, in_force: InForce) -> Decimal | None:
    number = typed_number(typed.strip(), in_force, field)
    if number is not None and number > MOST_KG:
        raise Refused(_("That is more than this book takes for one batch."), field)
    return number


# --- weighed in


def add(by: Actor, data: AdditionData) -> BatchAddition:
    """A line weighed in: the addition, its movement into the vat, the use of its lot, and what follows from them."""
    at = clock.now() if data.begins_now else data.at
    in_force = plan_at(at)
    row = _addition(data, in_force)
    with act(by) as a:
        if (saved := BatchAddition.objects.filter(form_id=data.form_id).first()) is not None:
            row.observed_at = saved.observed_at if data.begins_now else row.observed_at
            return keeping.write(a, by, row, not_said=_BY_BOOK)[0]
        batch = the_batch(data.sheet)
        row.observed_at = at
        old = _amended(by, row)
        lot, why, moved = _described(row, data, batch, old, in_force)
        if data.begins_now:
            common.refuse(lot, why, moved, at, in_force)
        return _written(a, by, row, old, lot, why, moved, in_force)


def the_batch(number: int) -> Batch:
    """The batch of a sheet's number; Refused where there is none."""
    batch = batch_of(number)
    if batch is None:
        raise Refused(_("There is no such batch sheet."))
    return batch


def _addition(data: AdditionData, in_force: InForce) -> BatchAddition:
    batch = the_batch(data.sheet)
    if data.amends is None and not 0 <= data.line < len(batch.sheet.lines):
        raise Refused(_("That is not a line of this sheet."))
    gross = keeping.number(data.gross, "gross", in_force)
    tare = typed_number(data.tare.strip(), in_force, "tare") or Decimal(0)
    if gross > MOST_KG:
        raise Refused(_("That is more than this book takes for one batch."), "gross")
    if tare >= gross:
        raise Refused(_("The tare is as much as the gross: nothing went in."), "tare")
    return BatchAddition(
        sheet=batch.number,
        place=batch.sheet.place,
        place_name=batch.sheet.place_name,
        line=data.line,
        received=data.received,
        gross_typed=data.gross.strip(),
        gross=gross,
        tare_typed=data.tare.strip(),
        tare=tare,
        net=gross - tare,
        scale=keeping.text(data.scale, "scale", 40),
        scanned=keeping.text(data.scanned, "scanned", 80, needed=False),
        **keeping.common(data),
    )


def _amended(by: Actor, row: BatchAddition) -> BatchAddition | None:
    if row.amends is None:
        return None
    keeping.check_amendment(BatchAddition, by, row.amends, row.amend_reason)
    return BatchAddition.objects.get(number=row.amends)


def _described(
    row: BatchAddition, data: AdditionData, batch: Batch, old: BatchAddition | None, in_force: InForce
) -> tuple[IngredientReceived | None, list[str], MovementData]:
    """Fill in what the sheet and the lot say; the lot, what stands against it, and the movement."""
    line, at = batch.sheet.lines[row.line] if old is None else {}, row.line
    if old is not None:  # it was weighed against the sheet that then stood
        if old.number not in batch.weighed:
            raise Refused(_("It was said not to have happened: record it anew."))
        row.line, known = old.line, batch.weighed[old.number]
        line, at = dict(known.line), -1 if known.at is None else known.at
    row.name, row.source, row.allergen = line["name"], line["source"], line["allergen"]
    weighed = [one for number, one in batch.weighed.items() if old is None or number != old.number]
    if not row.void:
        weighed.append(computing.Weighed(line, row.net, at if at >= 0 else None))
    row.target = Decimal(batch.sheet.lines[at]["target"] if at >= 0 else line["target"])
    row.off = computing.off_percent(weighed_of(weighed).get(at, Decimal(0)), row.target)
    row.blend = computing.blend_is(batch.sheet.lines, weighed)
    lot, why, outside = None, [], ""
    if not row.source:
        if data.received is None:
            raise Refused(_("Say which lot went in."), "received")
        lot = the_lot(data.received)
        if row.scanned and row.scanned != lot.supplier_lot:
            raise Refused(_("The scan reads another lot than the one chosen above."), "scanned")
        row.supplier_lot = lot.supplier_lot
        row.allergen = row.allergen or ", ".join(lot.allergens)[:120]
        outside = f"{lot.item} {lot.supplier_lot}"
        why = common.allergens_against(lot, common.product_named(batch.sheet.product, in_force))
        if lot.item.strip().lower() != row.name.strip().lower():
            why.append(_("The sheet asks for %(name)s; this lot is %(item)s") % {"name": row.name, "item": lot.item})
    moved = common.went_in(
        row.form_id, row.observed_at, row.source, outside, row.place, batch.sheet.product, f"{row.net:f}", "kg"
    )
    return lot, why, moved


def _written(
    a: Act, by: Actor, row: BatchAddition, old: BatchAddition | None, lot: IngredientReceived | None, why: list[str],
    moved: MovementData, in_force: InForce,
) -> BatchAddition:  # fmt: skip
    movement = common.keep_movement(by, moved, old.movement if old else None, row.amend_reason, void=row.void)
    row.movement = movement.number
    reached, label = common.lot_reached(movement, in_force)
    if lot is not None:
        row.stock = used(a, by, row, lot, f"{row.net:f}", "kg", old.stock if old else None, in_force, reached, label)
    a.write(row, observed_at=row.observed_at)
    if not row.void:
        held_for(
            a, row, in_force, why, reached, label, row.place, topic=point_of_batches(in_force), subject=row.place
        )
    return row


def used(
    a: Act, by: Actor, row: Any, lot: IngredientReceived, amount: str, unit: str, before: int | None,
    in_force: InForce, reached: uuid.UUID | None, label: str,
) -> int:  # fmt: skip
    """The use of a lot that went into a vessel, with its consequence; its number."""
    amends = common.latest_stock(before)
    stock = StockEvent(
        form_id=uuid.uuid5(row.form_id, "stock"), received=keeping.first_of(lot).number, item=lot.item,
        supplier_lot=lot.supplier_lot, what=USED, amount_typed=amount, amount=Decimal(amount), unit=unit,
        into=row.place_name, amends=amends, amend_reason=row.amend_reason if amends else "",
        void=row.void and amends is not None, observed_at=row.observed_at,
    )  # fmt: skip
    return write_use(a, by, stock, lot, in_force, reached, label, row.place).number


def point_of_batches(in_force: InForce) -> str:
    """The plan's control point of its batch sheets: that of a check which it asks of every batch."""
    found = [one.control_point for one in in_force.plan.monitoring if one.frequency.event == "batch"]
    return next(iter(found), BATCH_POINT)


# --- tested, separated


def record_test(by: Actor, data: BlendTestData) -> BlendTest:
    """Fat and total solids of what is in a vat. Raises Refused, DifferentContent."""
    in_force = plan_at(data.at)
    fat, solids = (keeping.number(getattr(data, one), one, in_force) for one in ("fat", "solids"))
    if solids > 100:
        raise Refused(_("This is more than 100 %."), "solids")
    if fat > solids:
        raise Refused(_("The fat is part of the total solids: it cannot be more."), "fat")
    row = BlendTest(
        place=data.place,
        place_name=common.place_named(data.place, in_force),
        sheet=data.sheet,
        sample=keeping.text(data.sample, "sample", 60),
        fat_typed=data.fat.strip(),
        fat=fat,
        solids_typed=data.solids.strip(),
        solids=solids,
        method=keeping.text(data.method, "method", 120),
        **keeping.common(data),
    )
    with act(by) as a:
        return keeping.write(a, by, row)[0]


def separated(by: Actor, data: SeparationData) -> Separated:
    """Milk separated, weighed and tested; what the balance says of it. Raises Refused, DifferentContent."""
    in_force = plan_at(data.at)
    if not is_line(in_force.plan, data.place):
        raise Refused(_("Product cannot run through that."), "place")
    streams = {name: _stream(getattr(data, name), name, in_force) for name in ("milk", "cream", "skim")}
    try:
        computed = computing.separation(streams)
    except CalculationError as error:
        raise Refused(again(error.sentence, _)) from error
    row = Separated(
        place=data.place, place_name=name_of(in_force, data.place), streams=streams, computed=computed,
        **keeping.common(data),
    )  # fmt: skip
    with act(by) as a:
        return keeping.write(a, by, row)[0]


def _stream(said: StreamData, name: str, in_force: InForce) -> dict[str, str]:
    found = {}
    for what in ("mass", "fat"):
        number = keeping.number(getattr(said, what), f"{name}_{what}", in_force, above_zero=False)
        found[what] = f"{number:f}"
        doubt = typed_number(getattr(said, f"{what}_u").strip(), in_force, f"{name}_{what}_u")
        found[f"{what}_u"] = "" if doubt is None else f"{doubt:f}"
    return found


def moment_of(begins_now: bool, at: datetime) -> datetime:
    """The moment of an act that begins now, or of one that has happened."""
    return clock.now() if begins_now else at
