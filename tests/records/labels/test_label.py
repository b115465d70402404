"""The label of a pack: its words, its symbol, and none where the product does not declare what is in it."""

from __future__ import annotations

import uuid

import pytest

from plant.process.gs1 import elements
from records.flow.actions import MovementData, record_movement
from records.labels.sheet import label_of_pack
from records.labels.symbols import modules
from records.lots.models import Lot
from tests.conftest import Plant
from tests.records.labels.made import GTIN, at, made_clear, packed, ready_plant


@pytest.mark.once
def test_the_symbol_is_a_data_matrix() -> None:
    """ISO/IEC 16022: solid left and bottom borders, alternating top and right ones; 20 × 20 takes 22 codewords.

    The string has 16 + 8 + 2 digits and 'WM260302': FNC1, 13 pairs, two letters and three pairs are 19 codewords.
    """
    rows = modules(elements(GTIN, "WM 260302", None))
    assert len(rows) == len(rows[0]) and all(row[0] for row in rows) and all(rows[-1])
    assert rows[0] == [1, 0] * (len(rows) // 2) and [row[-1] for row in rows] == [0, 1] * (len(rows) // 2)


@pytest.mark.django_db
def test_the_label_of_a_code(plant: Plant) -> None:
    """Name, dates, allergens in words, cold, net contents, GS1 string from the plan; without a GTIN it says so."""
    ready_plant(plant)
    ines = plant.actor("ines")
    made_clear(plant, "oat-milk")
    row = packed(ines, "finished-1", "oat-milk", minutes=60, lasting=0, code="OM 260303")
    label = label_of_pack(Lot.objects.get(id=row.target_lot))
    assert label is not None and label.left == ()
    assert (label.contains, label.keep, label.net_contents) == (
        "Contains: milk", "Keep refrigerated", "1 pint (473 mL)",
    )  # fmt: skip
    assert label.best_before is not None and (label.best_before - label.packed_on).days == 14
    assert label.printed == f"(01) 0{GTIN} (15) {label.best_before:%y%m%d} (10) OM260303" and label.spaces_left_out
    assert "<svg" in label.symbol and label.missing == ("plant number",)
    plain = packed(ines, minutes=60, lasting=0, code="WM 260303")
    other = label_of_pack(Lot.objects.get(id=plain.target_lot))
    assert other is not None and other.printed == "" and "no GTIN" in other.without and "<svg" in other.symbol


@pytest.mark.django_db
def test_no_label_for_what_is_not_declared(plant: Plant) -> None:
    """Rework with hazelnuts went in: the allergen is named, no symbol is drawn."""
    ready_plant(plant)
    ines = plant.actor("ines")
    record_movement(ines, MovementData(uuid.uuid4(), "vat", "finished-1", "whole-milk", at(50), ended_at=at(55)))
    row = packed(ines, minutes=58, lasting=1)
    label = label_of_pack(Lot.objects.get(id=row.target_lot))
    assert label is not None and label.symbol == ""
    assert [(one.allergen, one.brought_by) for one in label.left] == [("tree nuts", ("Hazelnut milk",))]
