"""The calculator of the pasteurization rows, and the rows that it takes from the rule sets."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from functools import partial

import pytest
from hypothesis import given, settings

from plant.calculators.pasteurization_asks import KINDS
from plant.calculators.working import WrongValue
from plant.process.errors import CalculationError
from plant.process.pasteurization import Use
from plant.rules import keys, rule_set
from plant.rules.pasteurization import (
    NO_PAIR,
    USES,
    months_between_tests,
    rows_by_class,
    rows_of,
    vat_rules_of,
)
from tests.plant.calculators import trying
from tests.plant.calculators.trying import odd_values

pytestmark = pytest.mark.once

worked = partial(trying.worked, "pasteurization")


def milk(**changes):
    """The working for milk."""
    return worked(**{"product": "milk", "temperature": "161 F", "time": "15 s", **changes})


def text(found):
    """Everything that a working says."""
    return " ".join(
        [found.answer, found.margin, *found.cautions, *(f"{one.what} {one.how} {one.result}" for one in found.steps)]
    )


# The rows


@pytest.mark.parametrize("key", keys())
def test_every_pair_of_a_rule_set_is_used_or_named_as_no_pair(key):
    """A row on heat that is added to a rule set is not forgotten here."""
    heat = [
        rule.id
        for rule in rule_set(key).rows.values()
        if rule.group.startswith(("Pasteurization", "Heat treatment"))
        or (rule.quantity == "product temperature" and (rule.seconds or rule.minutes))
    ]
    assert sorted(heat) == sorted([*USES[key], *(one for one in NO_PAIR if one in rule_set(key).rows)])


@pytest.mark.parametrize("key", keys())
def test_a_row_keeps_temperature_time_clause_and_basis_of_its_rule(key):
    """Minutes become seconds, nothing else changes."""
    rules = rule_set(key).rows
    for row in rows_of(key):
        if "raised ingredient" in row.classes:
            continue
        rule = rules[row.key]
        held = row.hold_s if rule.seconds else row.hold_s / 60
        assert (str(row.temperature), row.unit) == (rule.low, rule.unit)
        assert str(held) == (rule.seconds or rule.minutes)
        assert (row.clause, row.basis, row.celsius) == (rule.clause, rule.basis, rule.celsius)


def test_an_unknown_rule_set_is_refused():
    """KeyError, as of the rule set itself."""
    with pytest.raises(KeyError):
        rows_of("nowhere")


def test_a_plans_classes_get_their_rows_and_a_word_of_its_own_none():
    """For the plan's page: its product_class is free text."""
    found = rows_by_class("us", ["mix", "milk", "milk", "cheese"])
    assert list(found) == ["cheese", "milk", "mix"] and found["cheese"] == ()
    assert [one.key for one in found["mix"]] == ["mix-vat", "mix-htst"]
    assert rows_by_class("nowhere", ["milk"]) == {"milk": ()}
    assert "ny-mix-180" in {one.key for one in rows_by_class("us", ["mix"], "New York")["mix"]}


def test_vat_rules_and_tests_come_from_the_rule_set():
    """The US set has them; the EU set asks nothing and its tests are taken as half-yearly."""
    us, eu = vat_rules_of("us"), vat_rules_of("eu")
    assert (us.air_space.value, us.air_space.clause) == (5, "3 CCR 584(b)")
    assert (us.spread.value, us.spread.clause) == (1, "1 NYCRR 2.45(b)(1)")
    assert (eu.air_space, eu.spread) == (None, None)
    assert (months_between_tests("us"), months_between_tests("eu")) == (6, 6)


# The working


def test_the_example_is_met_with_nothing_to_spare():
    """Ice cream mix at 175 °F for 25 s: 21 CFR 135.3."""
    found = worked()
    assert (found.verdict, found.margin) == ("met", "0 °F and 0 s over")
    assert any("21 CFR 135.3" in one.source for one in found.steps)
    assert all(one.what and one.how and one.result and one.source for one in found.steps)
    assert len(found.cautions) >= 4 and "regulator" in text(found)


@pytest.mark.parametrize("changes", [{"temperature": "174.9 F"}, {"time": "24.9 s"}])
def test_a_tenth_less_is_not_met(changes):
    """Of the temperature or of the time."""
    assert worked(**changes).verdict == "not met"


@pytest.mark.parametrize(("typed", "verdict"), [("71.6 C", "not met"), ("71.7 C", "met"), ("72 C", "met")])
def test_celsius_is_judged_in_fahrenheit(typed, verdict):
    """71.7 °C is 161.06 °F; the conversion is a step and the rounded print a caution."""
    found = milk(temperature=typed)
    assert found.verdict == verdict
    assert any("9/5 + 32" in one.how for one in found.steps)
    assert "rounded up" in text(found)


@pytest.mark.parametrize(
    ("changes", "verdict"),
    [
        ({}, "met"),
        ({"fat": "10 %"}, "not met"),
        ({"sweetener": "yes"}, "not met"),
        ({"solids": "18 %"}, "not met"),
        ({"solids": "17.99 %"}, "met"),
        ({"fat": "9.9 %"}, "not met"),
    ],
)
def test_composition_decides_for_milk(changes, verdict):
    """166 °F where a trigger fires; 9.9 % fat with milk's other solids is 18.15 % of solids."""
    assert milk(**changes).verdict == verdict


def test_what_the_name_says_is_told():
    """A typed value goes before the name's."""
    assert "fat taken as 3.25 %" in text(milk()) and "21 CFR 131.110(a)" in text(milk())
    assert "fat taken as" not in text(milk(fat="2 %"))


def test_a_raise_by_solids_alone_says_that_the_federal_text_has_none():
    """And that it is from memory."""
    found = milk(solids="20 %")
    assert "Raised by the model ordinance alone" in text(found) and "from memory" in text(found)


@pytest.mark.parametrize(
    ("product", "temperature", "time"),
    [
        ("milk", "161 F", "15 s"), ("cream", "166 F", "15 s"), ("half-and-half", "150 F", "30 min"),
        ("sweetened milk", "166 F", "15 s"), ("condensed milk", "166 F", "15 s"), ("ice cream mix", "155 F", "30 min"),
        ("frozen dessert mix", "175 F", "25 s"), ("eggnog", "180 F", "15 s"), ("cream for butter", "185 F", "15 s"),
        ("plastic cream", "170 F", "30 min"),
    ],
)  # fmt: skip
def test_each_kind_needs_no_more_than_its_name(product, temperature, time):
    """Its row is met at the printed pair and not a tenth below."""
    assert worked(product=product, temperature=temperature, time=time).verdict == "met"
    colder = f"{float(temperature.split()[0]) - 0.1:.1f} F"
    assert worked(product=product, temperature=colder, time=time).verdict == "not met"


@pytest.mark.parametrize("product", ["milk product", "dairy ingredient"])
def test_a_kind_known_by_composition_asks_for_it(product):
    """Nothing is taken as below a trigger unseen."""
    with pytest.raises(CalculationError, match="Give the fat"):
        worked(product=product, temperature="161 F", time="15 s")
    known = {"fat": "3 %", "solids": "12 %", "sweetener": "no"}
    assert worked(product=product, temperature="161 F", time="15 s", **known).verdict == "met"


@pytest.mark.parametrize(
    "changes", [{"product": "cream", "fat": "17 %"}, {"product": "half-and-half", "fat": "10 %"},
                {"product": "sweetened milk", "sweetener": "no"}, {"fat": "15 %", "solids": "12 %"}]
)  # fmt: skip
def test_a_name_and_a_composition_that_contradict_are_refused(changes):
    """Cream of 17 % fat is no cream."""
    with pytest.raises(CalculationError):
        worked(**{"product": "milk", "temperature": "161 F", "time": "15 s", **changes})


def test_another_states_row_is_named_but_does_not_count():
    """Mix at 180 °F for 15 s is met in New York alone."""
    found = worked(temperature="180 F", time="15 s")
    assert found.verdict == "not met" and "180 °F for 15 s of 1 NYCRR 2.44" in text(found)
    here = worked(temperature="180 F", time="15 s", area="New York")
    assert here.verdict == "met"
    assert "175 °F for 25 s (21 CFR 135.3) is not met by these numbers: 10 s missing" in here.cautions[0]
    assert "is not met by these numbers" not in text(worked(temperature="180 F", time="25 s", area="New York"))


def test_michigans_raise_of_the_hhst_rows():
    """191 °F for 1 s for cream: met by the federal table with a caution, not met in Michigan."""
    given_values = {"product": "cream", "temperature": "191 F", "time": "1 s"}
    assert worked(**given_values).verdict == "met" and "Michigan raises" in text(worked(**given_values))
    assert worked(**given_values, area="Michigan").verdict == "not met"


def test_the_method_can_be_named():
    """Two minutes of mix at 176 °F: a vat's by the time, with a hint; met when named HTST."""
    found = worked(temperature="176 F", time="2 min")
    assert found.verdict == "not met" and "name the method" in text(found)
    assert worked(temperature="176 F", time="2 min", method="HTST").verdict == "met"
    assert worked(temperature="176 F", time="25 s", method="vat").verdict == "not met"


def test_a_table_without_a_row_for_the_method_is_not_met():
    """Mix has no HHST row; there is nothing to draw either."""
    found = worked(method="HHST")
    assert (found.verdict, found.picture) == ("not met", "")
    assert "No row of this table" in found.answer


def test_the_eu_table_is_in_celsius_and_asks_no_composition():
    """A milk product without composition: one table for all; 161 °F misses 72 °C by a third of a degree."""
    found = worked(product="milk product", temperature="72 C", time="15 s", rules="eu")
    assert found.verdict == "met" and "one class" in text(found)
    assert worked(rules="eu", temperature="161 F", time="15 s").margin == "0.333333 °C missing"


# A vat

VAT = {"temperature": "155 F", "time": "30 min", "air": "160 F", "warmest": "156 F", "fill": "0 min", "empty": "0 min"}


def test_a_batch_at_every_bound_is_met():
    """Row, air space and evenness, with their clauses."""
    found = worked(**VAT)
    assert found.verdict == "met" and "the vat's rules are met" in found.answer
    assert {"3 CCR 584(b) (text consulted)", "1 NYCRR 2.45(b)(1) (state mirror)"} <= {one.source for one in found.steps}


@pytest.mark.parametrize(
    ("changes", "named"),
    [({"air": "159.9 F"}, "air space"), ({"warmest": "156.1 F"}, "warmest to coolest"), ({"fill": "1 min"}, "hold on"),
     ({"empty": "1 min"}, "hold on")],
)  # fmt: skip
def test_a_missed_vat_rule_is_not_met_and_drawn_so(changes, named):
    """Though the row is reached."""
    found = worked(**{**VAT, **changes})
    assert found.verdict == "not met" and named in found.answer
    assert "155 °F, 30 min: not met" in found.picture


def test_what_was_not_read_of_a_vat_is_said_first():
    """The pair is met; the air space is not judged, and the answer says so."""
    found = worked(temperature="155 F", time="30 min")
    assert found.verdict == "met" and "Not given and not judged: air space" in found.answer
    assert "air space" in found.cautions[0]


def test_vat_readings_of_a_tube_are_not_used_and_that_is_said():
    """A tube has no air space."""
    assert "they were not used" in text(worked(air="150 F"))


def test_a_warmest_below_the_coolest_is_refused():
    """A sentence and no crash."""
    with pytest.raises(CalculationError, match="colder"):
        worked(**{**VAT, "warmest": "150 F"})


# What is typed


@pytest.mark.parametrize(
    ("name", "typed"),
    [
        ("product", "cheese"), ("product", ""), ("temperature", ""), ("temperature", "175"), ("temperature", "hot"),
        ("temperature", "175 K"), ("temperature", "31 F"), ("temperature", "393 F"), ("time", "25"), ("time", "-1 s"),
        ("time", "25 h"), ("fat", "101 %"), ("fat", "1,5 %"), ("sweetener", "maybe"), ("method", "sun"),
        ("rules", "mars"), ("area", "Ohio"), ("air", "5 s"), ("fill", "-1 min"),
    ],
)  # fmt: skip
def test_a_wrong_value_gets_a_sentence_at_its_field(name, typed):
    """And never reaches the working."""
    with pytest.raises(WrongValue) as caught:
        worked(**{name: typed})
    assert caught.value.ask == name and len(str(caught.value)) > 15


@settings(max_examples=50, deadline=None)
@given(odd_values("pasteurization"))
def test_every_verdict_has_its_margin_and_the_cautions(changes):
    """Whatever was typed, where it is worked."""
    try:
        found = worked(**changes)
    except CalculationError:
        return
    assert found.margin and len(found.cautions) >= 3


@pytest.mark.parametrize("changes", [{}, {"time": "0 s"}, VAT, {"temperature": "392 F"}, {"product": "milk"}])
def test_the_picture_is_a_drawing_with_a_title(changes):
    """Well formed, whatever stands in it; a time of nothing too."""
    found = worked(**changes)
    root = ET.fromstring(found.picture)
    assert root.find("{http://www.w3.org/2000/svg}title").text == "Temperature and holding time"


def test_each_use_has_a_name():
    """Every use that the classes know can be chosen."""
    assert {one.use for one in KINDS.values()} == set(Use)
