"""Two published examples carried through the real pages, from the tanker to the press: their numbers are the pages'.

Sources: University of Guelph, standardization problems (500 kg of milk at 4 % brought to 10 % by cream of 35 %),
https://www.uoguelph.ca/foodscience/book-page/standardization-problems; ice cream mix problem 3,
https://www.uoguelph.ca/foodscience/book/export/html/1712. The separator's balance is worked by hand from its inputs.
Identity: 21 CFR 135.110(a)(2) (10 % fat with 10 % nonfat milk solids, down to 14 with 6) and 131.110(a).
"""

from __future__ import annotations

import html
import uuid
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from plant import clock
from plant.hazard_plan.content import EquipmentDef, ProductDef, VesselDef
from plant.people.models import Person
from records.batches.forms import LINES, PARTS
from records.batches.models import BatchSheet, Separated
from records.deviations.models import Deviation
from records.ingredients.models import IngredientReceived
from records.receiving.models import LoadEvent
from tests.conftest import NOW, Plant
from tests.factories import small_plan
from tests.records.batches.made import HOUR, MINUTE, plan_of_blends, ready_plant
from tests.records.flow.made import washed
from tests.records.flow.test_flow_pages import local, movement_form
from tests.records.receiving.test_pages import arrival, screen

Browser = Callable[[Person], Client]
pytestmark = [pytest.mark.django_db, pytest.mark.once]
MIX = ProductDef("mix", "Ice cream mix", "mix", "mix", "12", ("milk",))
CREAM = ProductDef("raw-cream", "Raw cream", "cream", "raised", "35", ("milk",))
FEW = ProductDef("whole", "Whole milk, standardized", "milk", "milk", "3.25", ("milk",))


def post(browser: Client, name: str, body: dict[str, Any], *args: Any) -> str:
    """The page after a form that has to be taken, its text without HTML's names of characters."""
    values = {"form_id": str(uuid.uuid4()), "note": "", **body}
    answer = browser.post(reverse(f"records:{name}", args=args), values, follow=True)
    page = html.unescape(answer.content.decode())
    assert answer.status_code == 200 and answer.redirect_chain, page
    return page


@pytest.fixture
def dairy(plant: Plant) -> Plant:
    """A separator and a cream tank beside the blend vat; all is clean, it is two hours after NOW."""
    blends = plan_of_blends()
    ready_plant(
        plant,
        vessels=(*blends.vessels, VesselDef("cream-tank", "Cream tank", "tank", "raw", "raw storage", 6, 7,
                                            capacity="800")),
        equipment=(*small_plan().equipment, EquipmentDef("separator", "Separator", "separator", walk_order=8)),
        products=(*small_plan().products, MIX, CREAM, FEW),
    )  # fmt: skip
    for place in ("cream-tank", "separator", "press-1"):
        washed(plant.actor("tomas"), place, NOW + 90 * MINUTE)
    return plant


def sheet_page(browser: Client, product: str, lines: list[dict[str, str]], **wanted: str) -> tuple[str, int]:
    """A sheet typed into its page: the page of the batch and its number."""
    body = {f"{part}_{at}": "" for at in range(LINES) for part in PARTS}
    body |= {f"{part}_{at}": value for at, line in enumerate(lines) for part, value in line.items()}
    body |= {
        "at": local(clock.now()), "batch": "7", "place": "blend-vat", "product": product, "fat": "", "snf": "",
        "sugar": "", "solids": "", "total": "", "tolerance": "1",
    }  # fmt: skip
    page = post(browser, "batch-new", body | wanted)
    return page, BatchSheet.objects.order_by("-number")[:1].get().number


def weigh(browser: Client, batch: int, line: int, kg: str, lot: str = "") -> str:
    """A line weighed in on its page."""
    body = {"at": local(clock.now()), "gross": kg, "tare": "", "scale": "batch scale", "received": lot, "scanned": ""}
    return post(browser, "batch-add", body, batch, line)


def to_press(product: str) -> dict[str, str]:
    """The blend through the press, begun now."""
    return movement_form(
        source="blend-vat", source_name="", target="finished-1", via="press-1", product=product,
        started_at=local(clock.now()), ended_at="", quantity="", begins_now="1",
    )  # fmt: skip


def bench_then_press(browser: Client, dairy: Plant, batch: int, product: str, fat: str, solids: str) -> str:
    """Refused at the press without a test; tested on its page; then it begins. The batch's page."""
    dairy.at(clock.now() + 5 * MINUTE)
    refused = browser.post("/movement/new/", to_press(product))
    assert refused.status_code == 422 and "no fat and solids test of the blend" in refused.content.decode()
    body = {"at": local(clock.now()), "place": "blend-vat", "sheet": str(batch), "sample": "B-7", "fat": fat,
            "solids": solids, "method": "infrared"}  # fmt: skip
    page = post(browser, "blend-test", body)
    dairy.at(clock.now() + 5 * MINUTE)
    begun = browser.post("/movement/new/", to_press(product))
    assert begun.status_code == 302, begun.content.decode()
    assert not Deviation.objects.exists()
    return page


def test_milk_standardized_with_cream_from_the_tanker_to_the_press(dairy: Plant, client_for: Browser) -> None:
    """Printed: 120 kg of cream at 35 % to 500 kg of milk at 4 % makes 620 kg at 10 %."""
    ines = client_for(dairy.people.ines)
    post(ines, "load-new", arrival())
    load = LoadEvent.objects.get().number
    post(ines, "load-screen", screen(), load)
    post(ines, "load-unload", {"target": "silo-a", "happened_at": local(clock.now()), "words": ""}, load)
    dairy.at(clock.now() + 30 * MINUTE)
    ends = {"happened_at": local(clock.now()), "quantity": "", "unit": "gal", "words": ""}
    post(ines, "load-unloaded", ends, load)
    dairy.at(clock.now() + 30 * MINUTE)
    now = clock.now()
    form = movement_form(source="silo-a", source_name="", target="cream-tank", via="separator", product="raw-cream",
                         quantity="250", unit="kg", measured_by="mass", started_at=local(now - 20 * MINUTE),
                         ended_at=local(now))  # fmt: skip
    assert ines.post("/movement/new/", form).status_code == 302
    streams = {"milk_mass": "1000", "milk_fat": "3.8", "cream_mass": "94.5", "cream_fat": "40", "skim_mass": "905.5",
               "skim_fat": "0.05"}  # fmt: skip
    streams |= {f"{one}_u": "" for one in list(streams)}
    page = post(ines, "separation", {"at": local(now), "place": "separator", **streams})
    assert "93.8673" in page and Separated.objects.get().computed["cream"] == "93.8673"  # 1000 (3.8 - 0.05)/(40 - 0.05)
    page, batch = sheet_page(
        ines, "mix",
        [{"name": "cream", "source": "cream-tank", "fat": "35", "snf": "5.85", "test": "1"},
         {"name": "milk", "source": "silo-a", "fat": "4", "snf": "8.64", "test": "2", "fixed": "500"}],
        fat="10",
    )  # fmt: skip
    targets = [float(one["target"]) for one in BatchSheet.objects.get().lines]
    assert targets == pytest.approx([120, 500]) and ">120<" in page and "120 kg are not weighed in yet" in page
    weigh(ines, batch, 0, "120")
    page = weigh(ines, batch, 1, "500")
    assert "By what was weighed, the rest at its target: fat 10.00 %" in page
    # 10 % fat asks for 10 % nonfat milk solids: (120 x 5.85 + 500 x 8.64) / 620 is 8.10
    assert "Fat 10 % (by what was weighed), at least 10 %: met (21 CFR 135.110(a)(2))" in page
    assert "Solids-not-fat of milk 8.1 % (by what was weighed), at least 10 %: not met (21 CFR 135.110(a)(2))" in page
    bench_then_press(ines, dairy, batch, "mix", "10.0", "18.1")


def test_a_mix_of_six_ingredients_from_the_shelf_to_the_press(dairy: Plant, client_for: Browser) -> None:
    """Printed: 4.08 kg of skim powder (cut), 79.52 kg of cream and milk, 15 of sugar in 100 kg at 18 % fat."""
    ines, odile = client_for(dairy.people.ines), client_for(dairy.people.odile)
    mix = [
        {"name": "cream", "fat": "30", "snf": "6.3"},
        {"name": "milk", "fat": "3.5", "snf": "8.685"},
        {"name": "skim powder", "snf": "97"},
        {"name": "sucrose", "sugar": "100"},
        {"name": "stabilizer", "other": "100", "fixed": "0.4"},
        {"name": "egg yolk", "other": "50", "fixed": "1"},
    ]
    lots = []
    for one in mix:
        approval = {"at": local(NOW), "supplier": "Harrow Mill", "item": one["name"], "hazard": "Salmonella",
                    "grounds": "Audit", "until": "2026-12-31"}  # fmt: skip
        post(odile, "supplier-approve", approval)
        lot = {"at": local(NOW + HOUR), "what": "ingredient", "item": one["name"], "supplier": "Harrow Mill",
               "supplier_lot": f"L-{len(lots)}", "quantity": "100", "unit": "kg", "best_by": "2026-12-31",
               "allergens": "", "condition": "whole", "answer": "accepted", "refused_why": ""}  # fmt: skip
        post(ines, "ingredient-received", lot)
        lots.append(str(IngredientReceived.objects.order_by("-number")[:1].get().number))
    page, batch = sheet_page(ines, "mix", mix, fat="18", snf="9.5", sugar="15", total="100")
    targets = [float(one["target"]) for one in BatchSheet.objects.get().lines]
    assert targets[2] == pytest.approx(4.08, abs=0.01) and targets[0] + targets[1] == pytest.approx(79.52, abs=0.02)
    assert targets[3] == pytest.approx(15) and f">{BatchSheet.objects.get().lines[0]['target']}<" in page
    for at, one in enumerate(BatchSheet.objects.get().lines):
        page = weigh(ines, batch, at, one["target"], lots[at])
        dairy.at(clock.now() + MINUTE)
    assert "fat 18.00 %, solids-not-fat of milk 9.50 %, sugar 15.00 %" in page
    # 14 % fat and more go with 6 % nonfat milk solids
    assert "Solids-not-fat of milk 9.5 % (by what was weighed), at least 6 %: met (21 CFR 135.110(a)(2))" in page
    page = bench_then_press(ines, dairy, batch, "mix", "18.1", "43.4")
    assert "Fat 18.1 % (tested), at least 10 %: met (21 CFR 135.110(a)(2))" in page
    assert "no fat and solids test" not in page


@pytest.mark.parametrize(
    ("fat", "solids", "lines"),
    [
        ("3.25", "11.5", ("Fat 3.25 % (tested), at least 3.25 %: met", "milk 8.25 % (tested), at least 8.25 %: met")),
        ("3.24", "11.4", ("Fat 3.24 % (tested), at least 3.25 %: not met", "8.16 % (tested), at least 8.25 %: not")),
    ],
)
def test_milk_beside_its_standard(
    dairy: Plant, client_for: Browser, fat: str, solids: str, lines: tuple[str, ...]
) -> None:
    """21 CFR 131.110(a): not less than 3.25 % fat and 8.25 % solids-not-fat, each compared as written."""
    ines = client_for(dairy.people.ines)
    _page, batch = sheet_page(ines, "whole", [{"name": "milk", "fat": "3.3", "snf": "8.5"}], total="100")
    dairy.at(clock.now() + timedelta(minutes=1))
    body = {"at": local(clock.now()), "place": "blend-vat", "sheet": str(batch), "sample": "B", "fat": fat,
            "solids": solids, "method": "infrared"}  # fmt: skip
    page = post(ines, "blend-test", body)
    assert all(one in page for one in lines) and page.count("(21 CFR 131.110(a))") == 2
