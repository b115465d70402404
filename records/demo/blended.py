"""The blends of the invented days: ingredients with their papers, sheets, what was weighed, tested, and added."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from plant import clock
from records.batches import second
from records.batches.actions import add, record_test, write_sheet
from records.batches.added import add_flavor, add_vitamin
from records.batches.data import AdditionData, BlendTestData, FlavorData, LineData, SheetData, VitaminData
from records.batches.models import BatchSheet
from records.demo import acts
from records.demo.hand import form_id
from records.ingredients.actions import approve_supplier, receive
from records.ingredients.data import ApprovalData, Certificate, ReceivedData
from records.ingredients.models import IngredientReceived
from records.ledger import files

if TYPE_CHECKING:
    from records.demo.doing import Stage

# Fat and total solids of each product as the bench of the invented plant finds them [% by mass].
FOUND = {"Two-percent milk": ("2.0", "10.9"), "Ice cream mix": ("12.1", "38.2")}
HALF_A_YEAR = timedelta(days=182)
SECONDS_A_LOOK = 25.0


def tested(stage: Stage, one: acts.Happened) -> None:
    """The sample of a batch, by the words of its event: 'product, batch sheet number'."""
    product, _sheet, number = one.reference.partition(", batch sheet ")
    fat, solids = FOUND[product]
    record_test(
        stage.by,
        BlendTestData(
            form_id=form_id("blend test", stage.plant_day, one), at=clock.now(), place=one.place,
            sample=f"batch {number}", fat=fat, solids=solids, method="infrared analyzer", sheet=_sheet_of(number),
        ),
    )  # fmt: skip


def _sheet_of(number: str) -> int | None:
    row = BatchSheet.objects.filter(batch=number).order_by("-number").first()
    return row.number if row is not None else None


def _lot(code: str) -> int:
    return IngredientReceived.objects.filter(supplier_lot=code).order_by("-number")[:1].get().number


def approved(stage: Stage, one: acts.Approved) -> None:
    """A supplier approved."""
    until = stage.plant_day + HALF_A_YEAR
    approve_supplier(
        stage.crew.actor("odile"),
        ApprovalData(
            form_id=form_id("approval", one), at=clock.now(), supplier=one.supplier, item=one.item, hazard=one.hazard,
            grounds=one.grounds, until=until,
        ),
    )  # fmt: skip


def supplied(stage: Stage, one: acts.Supplied) -> None:
    """A lot received with its certificate."""
    data = _certificate(one)
    paper = Certificate(sha256=files.put(data), name=f"certificate-{one.lot}.pdf", mime="application/pdf")
    receive(
        stage.by,
        ReceivedData(
            form_id=form_id("received", one), at=clock.now(), what="ingredient", item=one.item, supplier=one.supplier,
            supplier_lot=one.lot, quantity=one.quantity, unit=one.unit, condition="dry, whole, seals unbroken",
            accepted=True, best_by=stage.plant_day + HALF_A_YEAR, allergens=one.allergens, certificate=paper,
        ),
    )  # fmt: skip


def _certificate(one: acts.Supplied) -> bytes:
    """A page of PDF that says what it is: invented, as everything here."""
    said = f"{one.supplier}: {one.item}, lot {one.lot}. Invented certificate of an invented plant."
    text = f"BT /F1 11 Tf 60 740 Td ({said}) Tj ET".encode("ascii")
    parts = (
        b"<</Type/Catalog/Pages 2 0 R>>",
        b"<</Type/Pages/Kids[3 0 R]/Count 1>>",
        b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 612 792]/Contents 4 0 R/Resources<</Font<</F1 5 0 R>>>>>>",
        b"<</Length %d>>stream\n%b\nendstream" % (len(text), text),
        b"<</Type/Font/Subtype/Type1/BaseFont/Helvetica>>",
    )
    out, places = b"%PDF-1.4\n", []
    for number, part in enumerate(parts, 1):
        places.append(len(out))
        out += b"%d 0 obj%b endobj\n" % (number, part)
    table = b"".join(b"%010d 00000 n \n" % place for place in places)
    end = b"trailer<</Size 6/Root 1 0 R>>\nstartxref\n%d\n%%%%EOF\n" % len(out)
    return out + b"xref\n0 6\n0000000000 65535 f \n" + table + end


def computed(stage: Stage, one: acts.Computed) -> None:
    """A batch sheet computed."""
    lines = tuple(
        LineData(
            name=each.name, source=each.source, fat=each.fat, snf=each.snf, sugar=each.sugar, other=each.other,
            test=each.test, fixed=each.fixed,
        )
        for each in one.lines
    )  # fmt: skip
    write_sheet(
        stage.by,
        SheetData(
            form_id=form_id("sheet", stage.plant_day, one.number), at=clock.now(), batch=one.number, place=one.place,
            product=one.product, lines=lines, fat=one.fat, snf=one.snf, sugar=one.sugar, total=one.total,
        ),
    )  # fmt: skip


def weighed_in(stage: Stage, one: acts.WeighedIn) -> None:
    """A line weighed in."""
    sheet = BatchSheet.objects.filter(batch=one.number).order_by("-number")[:1].get()
    line = [each["name"] for each in sheet.lines].index(one.what)
    meter = bool(sheet.lines[line]["source"])
    add(
        stage.by,
        AdditionData(
            form_id=form_id("weighed", stage.plant_day, one), at=clock.now(), sheet=sheet.number, line=line,
            gross=one.gross, tare=one.tare, scale="mass meter of the vat" if meter else "batch scale",
            received=_lot(one.lot) if one.lot else None, scanned=one.lot if one.scanned else "",
        ),
    )  # fmt: skip


def enriched(stage: Stage, one: acts.Enriched) -> None:
    """A vitamin into milk."""
    add_vitamin(
        stage.by,
        VitaminData(
            form_id=form_id("vitamin", stage.plant_day, one), at=clock.now(), vitamin=one.vitamin, place=one.place,
            product=one.product, received=_lot(one.lot), strength=one.strength, amount=one.amount, milk=one.gallons,
            milk_unit="gal",
        ),
    )  # fmt: skip


def flavored(stage: Stage, one: acts.Flavored) -> None:
    """A flavor into pasteurized product."""
    add_flavor(
        stage.by,
        FlavorData(
            form_id=form_id("flavor", stage.plant_day, one), at=clock.now(), place=one.place, product=one.product,
            received=_lot(one.lot), amount=one.amount, unit=one.unit, why=one.why, why_words=one.shown_by,
        ),
    )  # fmt: skip


def looked_at(stage: Stage, one: acts.LookedAt) -> None:
    """A second person at each addition that waits for one."""
    for row in second.without_a_look([(one.place, stage.moment("05:00"), clock.now())], clock.now()):
        second.confirm(stage.crew.actor(one.by), row.number, form_id("look", row.number))
        stage.hand.on(SECONDS_A_LOOK)
