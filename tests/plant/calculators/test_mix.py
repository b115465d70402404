"""The calculator of the ice cream mix."""

import xml.etree.ElementTree as ET
from functools import partial

import pytest

from tests.plant.calculators import trying
from tests.plant.calculators.trying import examples, refusals, result, row

pytestmark = pytest.mark.once

worked = partial(trying.worked, "mix")
INGREDIENTS = examples("mix")["ingredients"]


def test_example_runs_with_exact_and_stepped_masses():
    """A mix of 12 % fat: what to weigh, its proof, density, cost, and the judged requirement."""
    found = worked()
    assert found.answer.endswith("1.500 kg stabilizer make 500.200 kg.")
    assert (found.verdict, found.margin) == ("met", "0.1122 percentage points to the nearest requirement (fat)")
    weigh, exact, stepped = found.tables
    assert row(weigh, "cream") == ("cream", "133.2837", "0.5", "133.5000", "+0.2163")
    assert row(exact, "difference")[1:4] == ("0.000", "0.0000", "0.0000")
    assert row(stepped, "difference")[1:3] == ("0.200", "0.0122")
    assert result(found, "Weight of a US gallon") == "9.191 lb/gal"
    assert all(one.source and one.result for one in found.steps)


def test_requirement_that_rounding_loses_is_not_met():
    """11 % MSNF required, and steps of 20 kg for the cream: the judged mix is the stepped one."""
    coarse = INGREDIENTS.replace("3.10; 0.5", "3.10; 20")
    found = worked(ingredients=coarse, required="MSNF; 11; ")
    assert found.verdict == "not met"
    assert found.margin.startswith("missed by (percentage points): MSNF -0.")


def test_without_requirements_nothing_is_judged():
    """No verdict, no margin."""
    found = worked(required="")
    assert (found.verdict, found.margin) == ("", "")


def test_mix_that_cannot_be_made_says_why():
    """Without the condensed skim MSNF stays too low, and milk is the richest."""
    lines = INGREDIENTS.splitlines()
    found = worked(ingredients="\n".join(one for one in lines if "condensed" not in one))
    assert found.verdict == "not met"
    assert "The richest of the streams has 8.685 % MSNF (whole milk)." in found.answer
    assert [one.caption for one in found.tables][1].startswith("Proof of the nearest mix")


def test_names_of_parts_are_understood_in_other_words():
    """Milk fat, SNF and sugar are fat, MSNF and sucrose."""
    other = INGREDIENTS.replace("fat 40", "Milk fat 40").replace("sucrose 100", "Sugar 100")
    assert worked(ingredients=other).answer == worked().answer


def test_pounds_give_the_same_masses_in_pounds():
    """A batch of 500 lb with steps in pounds."""
    assert worked(total="500 lb", unit="lb").answer == worked().answer.replace(" kg", " lb")


def test_density_outside_its_formula_is_said():
    """A mix of cream alone has no density by the formula."""
    found = worked(ingredients="cream; fat 40; ; ; ; ", targets="fat; 40; 40", required="")
    assert result(found, "Density") == "-"


test_wrong_input_gets_a_sentence = refusals(
    "mix",
    [
        ({"ingredients": ""}, "Nothing was given"),
        ({"ingredients": "cream; fat 40"}, "Line 1 has 2 parts, not 6"),
        ({"ingredients": "cream; fat rule; ; ; ; "}, "the 9 % rule gives MSNF only"),
        ({"ingredients": "butter; fat 82, MSNF rule; ; ; ; "}, "fat 82 % is outside the range 0 to 80 %"),
        ({"ingredients": "x; sugars 10; ; ; ; "}, "sugars follows from the other parts"),
        ({"ingredients": "x; fat 60, sucrose 50; ; ; ; "}, "come to 110 %"),
        ({"ingredients": "x; fat 60; ; ; ; 0"}, "scale resolution for x"),
        ({"ingredients": INGREDIENTS.replace("0.005", "10")}, "stabilizer cannot be weighed in steps"),
        ({"targets": ""}, "Nothing was given"),
        ({"targets": "fat; ; "}, "has no value"),
        ({"total": ""}, "Nothing was given"),
        ({"required": "fat; x; "}, "least fat"),
        ({"density": "best"}, "not one of"),
        ({"least_of": "oil"}, "oil is not one of the streams"),
    ],
)


def test_picture_is_a_drawing_with_a_title():
    """The first three targets as levels."""
    root = ET.fromstring(worked().picture)
    assert root[0].text == "Streams and their blend"
    assert "MSNF %" in root[1].text
