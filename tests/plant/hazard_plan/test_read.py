"""Reading a written plan: what is wrong is named with its line."""

import pytest

from plant.hazard_plan.content import PlanError
from plant.hazard_plan.lines import Lines
from plant.hazard_plan.written import read

SMALL = """\
title = "A small plan"  # a remark with [brackets] and "quotes"
shifts = [
  {key = "day", name = "Day", starts = "06:00", ends = "14:00", weekdays = ["MO", "TU"]},
]

[plant]
name = "Two Gates"
time_zone = "America/Chicago"
rule_set = "us"
ordinance = "none, invented"
caution = '''
  [[not a table]]
  key = "not a key"
'''

[[vessels]]
code = "tank"
name = "Tank"
kind = "tank"
stage = "raw"
storage_class = "raw storage"
flow_order = 1
walk_order = 1
capacity = "100.0"

[[control_points]]
key = "cold"
name = "Cold storage"
kind = "prerequisite"

[[monitoring]]
key = "tank-temperature"
control_point = "cold"
subjects = ["tank"]
what = "Temperature"
how = "Read the dial"
role = "operator"
answer = {kind = "number", unit = "F"}
frequency = {kind = "each_shift", at = ["+02:00"]}
"""


def wrong(text: str, instead: str) -> PlanError:
    """The error of the small plan with one text replaced."""
    assert text in SMALL
    with pytest.raises(PlanError) as caught:
        read(SMALL.replace(text, instead))
    return caught.value


def test_a_plan_is_read():
    """Tables become the plan's parts, and a decimal loses its idle zeros."""
    plan = read(SMALL)
    assert plan.plant.name == "Two Gates"
    assert plan.vessels[0].capacity == "100"
    assert plan.monitoring[0].frequency.at == ("+02:00",)


def test_windows_line_ends_and_a_byte_order_mark_change_nothing():
    """The same plan saved by another editor reads the same."""
    assert read("\ufeff" + SMALL.replace("\n", "\r\n")) == read(SMALL)


def test_an_unknown_name_is_named_with_its_line():
    """A misspelt name inside a repeated table is found on its own line."""
    error = wrong('stage = "raw"', 'stge = "raw"')
    assert (error.line, error.path) == (20, "vessels[0].stge")


def test_an_unknown_name_inside_an_inline_table_is_named_with_its_line():
    """The line of an inline table's member is the line it stands on."""
    error = wrong('unit = "F"', 'units = "F"')
    assert (error.line, error.path) == (
        SMALL[: SMALL.index("answer =")].count("\n") + 1,
        "monitoring[0].answer.units",
    )


def test_a_missing_name_is_named_with_its_table():
    """What is missing has no line, so the table it is missing from is named."""
    error = wrong('role = "operator"\n', "")
    assert error.line == SMALL[: SMALL.index("[[monitoring]]")].count("\n") + 1
    assert "monitoring[0].role: is missing" in str(error)


def test_a_number_where_a_text_is_wanted_is_named_with_its_line():
    """A capacity without quotes is refused, so that it stays as written."""
    error = wrong('capacity = "100.0"', "capacity = 100.0")
    assert error.line == SMALL[: SMALL.index("capacity")].count("\n") + 1
    assert "a text in quotes is wanted" in error.sentence


@pytest.mark.parametrize("text", ["12,5", "1e3", "NaN", "2..5", "ten"])
def test_a_capacity_that_is_no_number_is_refused(text):
    """Only a plainly written number is one."""
    assert wrong('"100.0"', f'"{text}"').path == "vessels[0].capacity"


def test_a_wrong_member_of_a_list_of_tables_is_named_with_its_line():
    """A list written over several lines knows the line of each member."""
    assert wrong('starts = "06:00"', "starts = 6").line == 3


def test_broken_toml_is_named_with_its_line():
    """What is not TOML at all is named by the line where reading stopped."""
    assert wrong('name = "Tank"', 'name = "Tank').line == 18


def test_an_unended_text_is_named_with_the_last_line():
    """A text that never ends is named by the end of the file."""
    assert wrong("  key = \"not a key\"\n'''", "").line > 10


def test_a_table_named_twice_is_named_with_its_line():
    """TOML refuses a table given twice; its line is kept."""
    error = wrong("[[vessels]]", "[plant]\n[[vessels]]")
    assert error.line == SMALL[: SMALL.index("[[vessels]]")].count("\n") + 1


def test_lines_inside_long_texts_are_no_names():
    """What looks like a table or a key inside a long text is text."""
    lines = Lines(SMALL)
    assert lines.line_of("plant.caution") == 11
    assert lines.line_of("key") == 0


def test_sub_tables_and_dotted_names_have_their_lines():
    """A table of a repeated table, and a dotted name, are found."""
    lines = Lines('[[a]]\nb.c = 1\n[a.d]\n"e f" = 2\n[[a]]\nb.c = 3\n')
    assert [lines.line_of(path) for path in ("a[0].b.c", "a[0].d.e f", "a[1]", "a[1].b.c")] == [2, 4, 5, 6]
