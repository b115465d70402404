"""Published examples of standardizing and of a mix, typed into the real pages of batch sheets; vitamins by their rule.

Sources: University of Guelph, standardization problems, https://www.uoguelph.ca/foodscience/book-page/standardization-problems,
and ice cream mix calculations, problem 3, https://www.uoguelph.ca/foodscience/book/export/html/1712. 21 CFR 131.110(b).
"""

from __future__ import annotations

import uuid
from collections.abc import Callable
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from plant.process.vitamins import ROWS, fault, iu_per_quart
from records.batches.forms import LINES, PARTS
from records.batches.models import BatchSheet
from tests.conftest import Plant
from tests.records.batches.made import ready_plant

RULE = "21 CFR 131.110(b): vitamin A not less than 2000 IU, vitamin D 400 IU per quart (from memory)"


def computed(client: Client, lines: list[dict[str, str]], **wanted: str) -> dict[str, float]:
    """The targets [kg] of a sheet that was typed into its page, by name."""
    body = {f"{part}_{at}": "" for at in range(LINES) for part in PARTS}
    body |= {f"{part}_{at}": value for at, line in enumerate(lines) for part, value in line.items()}
    body |= {
        "form_id": str(uuid.uuid4()), "at": "11:00", "batch": "1", "place": "blend-vat", "product": "mix", "fat": "",
        "snf": "", "sugar": "", "solids": "", "total": "", "tolerance": "1", "note": "",
    }  # fmt: skip
    answer = client.post(reverse("records:batch-new"), body | wanted, follow=True)
    page = answer.content.decode()
    made = BatchSheet.objects.order_by("number").last()
    assert made is not None, page
    assert all(one["target"] in page for one in made.lines)
    return {one["name"]: float(one["target"]) for one in made.lines}


@pytest.mark.django_db
def test_standardizing_and_a_mix_give_the_printed_amounts(plant: Plant, client_for: Callable[..., Client]) -> None:
    """Guelph: 120 kg cream to 500 kg milk; 40 kg skim to 160 kg cream; a mix with 4.08 powder, 79.52 cream and milk."""
    ready_plant(plant)
    ines = client_for(plant.people.ines)
    found = computed(ines, [{"name": "cream", "fat": "35"}, {"name": "milk", "fat": "4", "fixed": "500"}], fat="10")
    assert found == pytest.approx({"cream": 120, "milk": 500})
    found = computed(ines, [{"name": "cream", "fat": "40", "fixed": "160"}, {"name": "skim", "fat": "0"}], fat="32")
    assert found == pytest.approx({"cream": 160, "skim": 40})
    mix = [
        {"name": "cream", "fat": "30", "snf": "6.3"},  # 9 % of what is not fat
        {"name": "milk", "fat": "3.5", "snf": "8.685"},
        {"name": "skim powder", "snf": "97"},
        {"name": "sucrose", "sugar": "100"},
        {"name": "stabilizer", "other": "100", "fixed": "0.4"},
        {"name": "egg yolk", "other": "50", "fixed": "1"},  # counted as no milk solids
    ]
    found = computed(ines, mix, fat="18", snf="9.5", sugar="15", total="100")
    assert found["skim powder"] == pytest.approx(4.08, abs=0.01)
    assert found["cream"] + found["milk"] == pytest.approx(79.52, abs=0.02)
    assert (found["cream"], found["milk"], found["sucrose"]) == pytest.approx((57.4227, 22.0909, 15), abs=1e-3)


@pytest.mark.proves("vitamins.fault", by="published", source=RULE)
@pytest.mark.proves("vitamins.iu_per_quart", by="published", source=RULE)
def test_the_least_vitamins_of_a_quart() -> None:
    """A gallon, four quarts, needs 8000 IU of A and 1600 IU of D: 1 mL of that strength is just enough, less is not."""
    for vitamin, quart in (("A", 2000), ("D", 400)):
        row = ROWS[vitamin]
        assert row.low == quart and "131.110(b)" in row.clause
        enough = iu_per_quart(Decimal(4 * quart), Decimal(1), Decimal(1), "gal")
        assert enough == quart and fault(enough, row.low, row.high) == ""
        assert fault(iu_per_quart(Decimal(4 * quart), Decimal("0.999"), Decimal(1), "gal"), row.low, row.high) == "low"
        assert fault(iu_per_quart(Decimal(4 * quart), Decimal("1.51"), Decimal(1), "gal"), row.low, row.high) == "high"


@pytest.mark.proves("vitamins.iu_per_quart", by="independent", source="a quart is 0.946352946 L (NIST, from memory)")
def test_liters_are_quarts_of_their_own_size() -> None:
    """946.352946 L are 1000 quarts."""
    assert iu_per_quart(Decimal(10_000), Decimal(200), Decimal("946.352946"), "L") == 2000
