"""The blends of the invented days: a sample of each batch is tested for fat and solids before it goes to the press."""

from __future__ import annotations

from typing import TYPE_CHECKING

from plant import clock
from records.batches.actions import record_test
from records.batches.data import BlendTestData
from records.demo import acts
from records.demo.hand import form_id

if TYPE_CHECKING:
    from records.demo.doing import Stage

# Fat and total solids of each product as the bench of the invented plant finds them [% by mass].
FOUND = {"Two-percent milk": ("2.0", "10.9"), "Ice cream mix": ("12.1", "38.2")}


def tested(stage: Stage, one: acts.Happened) -> None:
    """The sample of a batch, by the words of its event: 'product, batch sheet number'."""
    product, _sheet, number = one.reference.partition(", batch sheet ")
    fat, solids = FOUND[product]
    record_test(
        stage.by,
        BlendTestData(
            form_id=form_id("blend test", stage.plant_day, one), at=clock.now(), place=one.place,
            sample=f"batch {number}", fat=fat, solids=solids, method="infrared analyzer",
        ),
    )  # fmt: skip
