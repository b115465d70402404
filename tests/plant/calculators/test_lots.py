"""The calculator of a recall's reach."""

import xml.etree.ElementTree as ET

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.calculators.lots import CALCULATOR
from plant.process.errors import CalculationError

pytestmark = pytest.mark.once

EXAMPLES = {one.name: one.example for one in CALCULATOR.asks}
SMALL = "Farm; Silo; 4:00; 4:30; 300\nFarm; Silo; 5:00; 5:30; 100\nSilo; Vat; 6:00; 7:00; 80\nVat; ; 8:00; 9:00; 60"
PLAIN = {"movements": SMALL, "breaks": "", "outside": "Farm", "since": "", "until": "", "places": "", "slack": ""}
TIME = st.sampled_from(["", "0:00", "1:30", "25:10", "x", "9:99", "99999:00"])
PLACE = st.sampled_from(["", "A", "B", "C", "Farm", "Farm, A"])
LINE = st.tuples(PLACE, PLACE, TIME, TIME, st.sampled_from(["", "0", "5", "1000", "-3"])).map("; ".join)
ODD = {
    "movements": st.one_of(st.text(max_size=12), st.lists(LINE, min_size=1, max_size=8).map("\n".join)),
    "breaks": st.one_of(
        st.text(max_size=8), st.lists(st.tuples(PLACE, TIME).map("; ".join), max_size=3).map("\n".join)
    ),
    "outside": PLACE,
    "direction": st.sampled_from(["forward", "backward", "sideways"]),
    "places": PLACE,
    "since": TIME,
    "until": TIME,
    "lines": st.sampled_from(["", "1", "1, 2", "9", "x", "-1"]),
    "unit": st.sampled_from(["gal", "kg", ""]),
    "slack": st.sampled_from(["", "0", "5", "1e9", "-1"]),
}


def worked(**changes):
    typed = {**EXAMPLES, **changes}
    return CALCULATOR.work({one.name: one.read(typed[one.name]) for one in CALCULATOR.asks})


def column(working, table, place):
    return [row[place] for row in working.tables[table].rows]


def test_example_runs_and_shows_its_working():
    """Milk of one farm: eight lots, twelve movements, and what left the plant."""
    found = worked()
    assert found.answer == ("8 lots and 12 movements could hold some of it; 2 of the movements left the plant.")
    assert found.verdict == ""
    assert column(found, 0, 0)[:3] == ["Silo A", "Blend vat", "Separator"]
    assert all(one.source and one.result for one in found.steps)
    assert all(len(row) == len(one.head) for one in found.tables for row in one.rows)


def test_a_quarter_from_the_second_load():
    """100 of 400 in the silo: a quarter of the vat and of the packs."""
    found = worked(**PLAIN, lines="2")
    assert column(found, 0, 3) == ["25.00 %", "25.00 %"]
    assert column(found, 1, 4) == ["100.0 gal", "20.0 gal", "15.0 gal"]


def test_backward_names_the_loads_with_their_shares():
    """The packs came of both loads, three quarters and one quarter."""
    found = worked(**PLAIN, lines="4", direction="backward")
    assert found.answer.startswith("It could hold something of 2 lots; 2 movements from outside")
    assert sorted(column(found, 0, 3)) == ["25.00 %", "75.00 %"]


def test_backward_from_a_vessel_shows_what_it_took_in():
    """The vat's lot, asked by its name."""
    found = worked(**{**PLAIN, "places": "Vat"}, direction="backward")
    assert found.tables[0].head[3] == "Vat, fill 1"


def test_an_unknown_quantity_has_bounds_and_stays_in_the_scope():
    """The vat got an unknown quantity beside a known one of another farm."""
    moves = SMALL.replace("7:00; 80", "7:00; ") + "\nFarm; Vat; 6:00; 6:30; 50"
    found = worked(**{**PLAIN, "movements": moves}, lines="1")
    assert column(found, 0, 0) == ["Silo", "Vat"]
    assert column(found, 0, 3)[1] == "0.0 - 75.0 %"
    assert any("a quantity is unknown" in one for one in found.cautions)


def test_more_drawn_than_held_is_said():
    """The vat gave 60 of 50."""
    found = worked(**{**PLAIN, "movements": SMALL.replace("7:00; 80", "7:00; 50")}, lines="1")
    assert any("More was drawn than came in" in one and "Vat, 10" in one for one in found.cautions)


def test_a_clean_break_ends_the_reach():
    """The silo washed before the vat was filled."""
    found = worked(**{**PLAIN, "breaks": "Silo; 5:45"}, lines="1")
    assert column(found, 0, 0) == ["Silo"]


def test_a_movement_without_an_end_is_still_going_on():
    """It reaches the vat, with an unknown quantity."""
    found = worked(**{**PLAIN, "movements": SMALL.replace("6:00; 7:00", "6:00; ")}, lines="1")
    assert column(found, 0, 0) == ["Silo", "Vat"]


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"movements": ""}, "Nothing was given"),
        ({"movements": "A; B; six; 7:00; 5"}, "line 1: six is no time"),
        ({"movements": "A; B; ; 7:00; 5"}, "line 1: '' is no time"),
        ({"movements": "A; B; 6:00; 5:00; 5"}, "movement 1 ends before it starts"),
        ({"movements": "A; A; 6:00; 7:00; 5"}, "line 1 goes back into the vessel"),
        ({"movements": "A; B; 6:00; 7:00; much"}, "line 1: quantity: Enter the number"),
        ({"movements": "A; B; 6:00; 7:00; -4", "places": "A", "breaks": ""}, "quantity of movement 1 -4"),
        ({"places": "", "lines": ""}, "say where it begins"),
        ({"places": "Nettel Farm"}, "no movement is called or goes through: Nettel Farm"),
        ({"lines": "99"}, "goes through: 99"),
        ({"lines": "two"}, "not the number of a line"),
        ({"since": "9:00", "until": "8:00"}, "ends before it begins"),
        ({"breaks": "Silo A; soon"}, "soon is no time"),
        ({"slack": "-1"}, "outside what this takes"),
        ({"direction": "up"}, "is not one of"),
    ],
)
def test_wrong_input_gets_a_sentence(changes, said):
    """Each is a CalculationError that says what is wrong."""
    with pytest.raises(CalculationError, match=said):
        worked(**changes)


@pytest.mark.parametrize("direction", ["forward", "backward"])
def test_picture_is_a_family_with_a_title(direction):
    """Every lot of the scope is in it by its name."""
    found = worked(**{**PLAIN, "places": "Vat"}, direction=direction)
    root = ET.fromstring(found.picture)
    assert root[0].text == "A family of lots"
    assert "Vat, fill 1" in root[1].text


def test_nothing_is_called_safe_or_approved():
    """The software never looks as if it approved a product."""
    found = worked()
    said = " ".join([found.answer, *found.cautions, *(one.what for one in found.steps)]).casefold()
    assert " safe " not in said and "approved" not in said


@settings(max_examples=200, deadline=None)
@given(st.fixed_dictionaries({}, optional=ODD))
def test_odd_values_never_crash(changes):
    """Whatever is typed, there is an answer or a sentence."""
    try:
        assert worked(**changes).answer
    except CalculationError as error:
        assert str(error)
