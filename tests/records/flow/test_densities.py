"""Between kilograms and gallons by the product at hand: as tested, as its sheet says, else as its kind usually is."""

from __future__ import annotations

import uuid
from decimal import Decimal
from typing import Any

import pytest

from plant import clock
from plant.hazard_plan.content import ProductDef
from plant.process.properties import usual_density
from records.batches.actions import add, record_test
from records.batches.data import BlendTestData
from records.flow import densities, history
from records.flow.queries import contents_at
from tests.conftest import NOW, Plant
from tests.factories import small_plan
from tests.records.batches.made import MINUTE, addition, plan_of_blends, ready_plant, sheet, sugar
from tests.records.flow.made import moved

pytestmark = pytest.mark.django_db
LB_KG = 0.45359237
CREAM = ProductDef("cream", "Raw cream", "cream", "raised", "40", ("milk",))
MIX = ProductDef("mix", "Ice cream mix", "mix", "mix", "12", ("milk",))


def held(vessel: str) -> float:
    """Gallons that the book says a vessel holds now."""
    return float(contents_at(clock.now(), [vessel])[vessel].quantity or 0)


def into(plant: Plant, product: str, kg: str, minutes: int = 40, **changes: Any) -> Any:
    """So many kilograms of a product into the blend vat."""
    at = clock.now() - minutes * MINUTE
    values = {"target": "blend-vat", "product": product, "quantity_typed": kg, "unit": "kg", "measured_by": "mass"}
    return moved(plant.actor("ines"), **(values | changes), started_at=at, ended_at=at + 5 * MINUTE)


@pytest.mark.parametrize(("product", "lb_per_gal"), [("mix", 9.143), ("cream", 8.390), ("raw-milk", 8.6)])
def test_kilograms_are_gallons_of_their_own_product(plant: Plant, product: str, lb_per_gal: float) -> None:
    """Mix is heavier than milk and cream lighter: 12 % fat at 38 % solids, 40 % cream, the trade's milk."""
    ready_plant(plant, products=(*small_plan().products, MIX, CREAM))
    into(plant, product, "100")
    assert held("blend-vat") == pytest.approx(100 / LB_KG / lb_per_gal, rel=1e-4)


def test_the_density_that_was_tested_replaces_the_usual_one(plant: Plant) -> None:
    """What leaves the vat after its test has the density of the test, and so has what came out at the other end."""
    ready_plant(plant)
    into(plant, "mix", "400")
    ines = plant.actor("ines")
    record_test(
        ines,
        BlendTestData(form_id=uuid.uuid4(), at=clock.now() - 20 * MINUTE, place="blend-vat", sample="1", fat="10",
                      solids="42", method="infrared"),
    )  # fmt: skip
    to = {"source": "blend-vat", "source_name": "", "target": "flavor-vat"}
    into(plant, "mix", "100", 10, **to)
    wanted = usual_density("mix", 10, 42)
    assert held("flavor-vat") == pytest.approx(100 / LB_KG / float(wanted.lb_per_gal), rel=1e-4)
    told = history.load(plan_of_blends(), NOW, clock.now())
    known = densities.of(told)
    assert told.book.contents("flavor-vat", clock.now()).quantity == contents_at(clock.now(), ["flavor-vat"])[
        "flavor-vat"
    ].quantity
    assert [known.of_move(one).tested for one in told.moves if one.row.source == "blend-vat"] == [True]
    assert known.of_vessel("flavor-vat", clock.now()) == wanted
    assert not densities.nominal(MIX).tested and densities.nominal(MIX).doubt > wanted.doubt


def test_what_is_weighed_in_takes_the_room_that_its_contents_take(plant: Plant) -> None:
    """15 kg of sugar are 9.45 L in a blend (0.63 L/kg, the formula of mix density), not 14.5 L as of milk."""
    row = sugar(ready_plant(plant))
    made = sheet(plant.actor("ines"))
    add(plant.actor("ines"), addition(made.number, 2, "15", received=row.number, at=clock.now() - MINUTE))
    assert held("blend-vat") == pytest.approx(15 * 0.63 / 3.785411784, rel=1e-3)


def test_reading_the_tests_costs_nothing_where_no_mass_meets_a_volume(
    plant: Plant, django_assert_num_queries: Any
) -> None:
    """Gallons into a vessel of gallons: the book is folded without a statement more."""
    ready_plant(plant)
    into(plant, "mix", "100", unit="gal")
    told = history.load(plan_of_blends(), NOW, clock.now(), ["blend-vat"])
    with django_assert_num_queries(0):
        assert told.book.contents("blend-vat", clock.now()).quantity == Decimal(100)
