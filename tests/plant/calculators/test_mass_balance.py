"""The calculator of a day's balance."""

import xml.etree.ElementTree as ET

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.calculators.mass_balance import CALCULATOR
from plant.process.errors import CalculationError

pytestmark = pytest.mark.once

EXAMPLES = {one.name: one.example for one in CALCULATOR.asks}
SEPARATOR = "milk; ; Separator; 10000; 50; ; ;\nskim; Separator; ; 9020; 45; ; ;\ncream; Separator; ; 1060; 10; ; ;"
PART = st.sampled_from(["", "A", "B", "0", "1", "1000", "-5", "nan", "1.033", "99999999", "x"])
LINE = st.lists(PART, min_size=8, max_size=8).map("; ".join)
ODD = st.one_of(st.text(max_size=12), st.lists(LINE, max_size=5).map("\n".join))


def worked(**changes):
    typed = {**EXAMPLES, **changes}
    return CALCULATOR.work({one.name: one.read(typed[one.name]) for one in CALCULATOR.asks})


def result(working, part):
    return next(one.result for one in working.steps if part in one.what)


def test_example_runs_and_shows_its_working():
    """Each vessel's open balance, chi-square with its limit, a table of masses and one of fat."""
    found = worked()
    assert (found.answer, found.verdict) == ("The measurements agree within their uncertainties.", "met")
    assert result(found, "Skim tank: what came less what went") == "51.9 lb"
    assert result(found, "Limit of chi-square") == "12.592"
    assert [len(one.rows) for one in found.tables] == [8, 8]
    assert all(one.source and one.result for one in found.steps)
    assert all(len(row) == len(one.head) for one in found.tables for row in one.rows)


def test_separator_day_is_the_worked_example():
    """10,043.2, 8,985.0 and 1,058.3 kg; chi-square 1.38 below 3.841."""
    found = worked(streams=SEPARATOR, unit="kg")
    assert [row[2].split(" ")[0] for row in found.tables[0].rows] == ["10043.2", "8985.0", "1058.3"]
    assert found.margin == "chi-square 1.384, limit 3.841"
    assert any("cannot be told" in one and "milk, skim, cream" in one for one in found.cautions)
    assert len(found.tables) == 1


def test_a_wrong_meter_is_named_with_what_the_others_say():
    """The cream read 300 lb too low: both the cream tank and the fat contradict it."""
    found = worked(streams=EXAMPLES["streams"].replace("2190; 12", "1890; 12"))
    assert (found.verdict, found.answer) == ("not met", "cream does not fit the others.")
    assert result(found, "cream: what the others say").startswith("219")


def test_what_nothing_checks_is_said():
    """Cream not metered: milk and skim are checked by nobody, and there is no verdict."""
    found = worked(streams=SEPARATOR.replace("1060; 10", ";"))
    assert found.verdict == ""
    assert any("No other measurement checks: milk, skim" in one for one in found.cautions)
    assert found.picture == ""


def test_what_cannot_be_known_is_said():
    """Two streams side by side without a meter."""
    found = worked(streams=SEPARATOR.replace("1060; 10", ";").replace("9020; 45", ";"))
    assert any("do not tell: skim, cream" in one for one in found.cautions)


def test_a_stream_below_zero_is_said():
    """More skim than milk: the cream would run backward."""
    found = worked(streams=SEPARATOR.replace("1060; 10", ";").replace("9020; 45", "10100; 45"))
    assert any("Below zero" in one and "cream" in one for one in found.cautions)


def test_expanded_uncertainties_are_halved():
    """Twice the standard deviation gives the same as the standard deviation."""
    double = SEPARATOR.replace("; 50", "; 100").replace("; 45", "; 90").replace("; 10; ;", "; 20; ;")
    assert worked(streams=double, doubt="expanded").margin == worked(streams=SEPARATOR).margin


def test_a_volume_is_weighed_by_its_density():
    """1000 L at 1.03 kg/L is 1030 kg."""
    found = worked(streams="in; ; V; 1000; 5; 1.03; ;\nout; V; ; 1030; 5; ; ;", unit="kg", volume="L")
    assert result(found, "V: what came") == "0.0 kg"


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"streams": ""}, "Nothing was given"),
        ({"streams": "a; b"}, "Line 1 has 2 parts"),
        ({"streams": "a; ; V; ten; 1; ; ;"}, "line 1: quantity: Enter the number"),
        ({"streams": "a; ; V; 10; ; ; ;"}, "line 1: quantity: give the value and its uncertainty"),
        ({"streams": "a; ; V; 10; 1; ; 3.5;"}, "line 1: fat: give the value and its uncertainty"),
        ({"streams": "a; ; V; 10; -1; ; ;"}, "line 1: uncertainty of a -"),
        ({"streams": "a; ; V; 10; 1; 5; ;"}, "line 1: density 5 kg/L is outside"),
        ({"streams": "a; V; V; 10; 1; ; ;"}, "line 1: a stream has a name and goes from one place to another"),
        ({"streams": "a; ; V; 10; 1; ; 120; 1"}, "line 1: fat of a 120 %"),
        ({"streams": "a; ; V; 10; 1; ; ;"}, "nothing leaves V"),
        ({"streams": "a; ; V; 10; 1; ; ;\na; V; ; 10; 1; ; ;"}, "same name"),
        ({"streams": "a; ; V; 10; 0; ; ;\nb; V; ; 11; 0; ; ;"}, "contradict"),
        ({"unit": "stone"}, "is not one of"),
        ({"confidence": "1"}, "is not one of"),
    ],
)
def test_wrong_input_gets_a_sentence(changes, said):
    """Each is a CalculationError that says what is wrong."""
    with pytest.raises(CalculationError, match=said):
        worked(**changes)


def test_picture_has_a_line_for_each_checked_measurement():
    """In the order of the table, masses and then fat."""
    root = ET.fromstring(worked().picture)
    assert root[0].text == "Measurements against the others"
    assert root[1].text.startswith("received −0.27; Silo A at the start")


def test_nothing_is_called_safe_or_approved():
    """The software never looks as if it approved a product."""
    found = worked()
    said = " ".join([found.answer, *found.cautions, *(one.what for one in found.steps)]).casefold()
    assert " safe " not in said and "approved" not in said


@settings(max_examples=150, deadline=None)
@given(st.fixed_dictionaries({}, optional=dict.fromkeys(EXAMPLES, ODD)))
def test_odd_values_never_crash(changes):
    """Whatever is typed, there is an answer or a sentence."""
    try:
        assert worked(**changes).answer
    except CalculationError as error:
        assert str(error)


@settings(max_examples=100, deadline=None)
@given(st.lists(st.sampled_from(range(8)), max_size=6), st.integers(0, 7), st.sampled_from(["0", "0.0001", "90000"]))
def test_parts_left_out_never_crash(emptied, place, value):
    """The example with values taken out or made absurd."""
    rows = [line.split(";") for line in EXAMPLES["streams"].splitlines()]
    for line in emptied:
        rows[line][3] = rows[line][4] = rows[line][5] = ""
    if rows[place][3].strip():
        rows[place][3] = value
    try:
        assert worked(streams="\n".join(";".join(row) for row in rows)).answer
    except CalculationError as error:
        assert str(error)
