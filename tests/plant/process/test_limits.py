"""Judging one answer: bounds, pairs, answers, places, and what makes a reading prove nothing."""

from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.process.limits import (
    SEVERITY,
    Limit,
    Outcome,
    judge_count,
    judge_number,
    judge_pair,
    judge_places,
    judge_text,
    judge_wanted,
    not_proven,
    recorded,
    with_instrument,
    without_mixing,
    worst,
)
from plant.process.units import UnitError

pytestmark = pytest.mark.once

COLD = Limit("raw-cold", "temperature", "°F", high=Decimal("45"), act_high=Decimal("40"))
HOT = Limit("hot", "temperature", "°F", low=Decimal("161"), act_low=Decimal("163"))
BETWEEN = Limit("vat", "temperature", "°F", low=Decimal("145"), high=Decimal("150"))
YES = Limit("sealed", "seal", wanted=("yes",))
NO_DROPS = Limit("drops", "drops", high=Decimal(0))


def outcome(value, limit=COLD, unit="°F", correction=None):
    return judge_number(Decimal(value), unit, None if correction is None else Decimal(correction), [limit]).outcome


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        ("39.9", Outcome.MET),
        ("40.0", Outcome.MET),
        ("40.1", Outcome.OPERATING),
        ("44.9", Outcome.OPERATING),
        ("45.0", Outcome.OPERATING),
        ("45.1", Outcome.NOT_MET),
        ("45.0001", Outcome.NOT_MET),
    ],
)
def test_upper_bounds_below_at_and_above(value, expected):
    """The operating limit is met at 40.0 °F and passed above.

    The critical limit is met at 45.0 °F and no warmer.
    """
    assert outcome(value) is expected


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        ("160.9", Outcome.NOT_MET),
        ("160.9999", Outcome.NOT_MET),
        ("161", Outcome.OPERATING),
        ("162.9", Outcome.OPERATING),
        ("163", Outcome.MET),
    ],
)
def test_lower_bounds_below_at_and_above(value, expected):
    """161 °F is met at 161 and not a hair below."""
    assert outcome(value, HOT) is expected


@pytest.mark.parametrize(
    ("value", "expected"),
    [("144.9", Outcome.NOT_MET), ("145", Outcome.MET), ("150", Outcome.MET), ("150.1", Outcome.NOT_MET)],
)
def test_two_sided_limit_includes_both_bounds(value, expected):
    """A range is met at both its ends."""
    assert outcome(value, BETWEEN) is expected


@pytest.mark.parametrize("bound", ["NaN", "sNaN", "Infinity", "-Infinity"])
@pytest.mark.parametrize("side", ["low", "high", "act_low", "act_high"])
def test_a_bound_that_is_no_number_is_refused(side, bound):
    """Else everything would lie within it, or nothing."""
    with pytest.raises(ValueError, match="the limit k has the bound"):
        Limit("k", "temperature", **{side: Decimal(bound)})


def test_without_operating_limit_the_bound_itself_is_met():
    """45 °F or colder is met at 45.0 °F."""
    assert outcome("45.0", Limit("cold", "temperature", "°F", high=Decimal("45"))) is Outcome.MET


@pytest.mark.parametrize(
    ("celsius", "expected"),
    [("71.6", Outcome.NOT_MET), ("71.66", Outcome.NOT_MET), ("71.67", Outcome.MET), ("71.7", Outcome.MET)],
)
def test_other_unit_is_compared_exactly_in_the_governing_one(celsius, expected):
    """71.66 °C is 160.988 °F and fails 161 °F, although both print as 71.7 °C."""
    assert outcome(celsius, Limit("hot", "temperature", "°F", low=Decimal("161")), "°C") is expected


def test_printed_celsius_of_a_limit_does_not_govern():
    """161 °F is printed 72 °C; 71.7 °C is below what is printed and still meets the limit, by 0.06 °F."""
    judged = judge_number(Decimal("71.7"), "°C", None, [Limit("hot", "temperature", "°F", low=Decimal("161"))])
    assert (judged.outcome, judged.as_read, judged.margin) == (
        Outcome.MET,
        Fraction("161.06"),
        Fraction("0.06"),
    )


@pytest.mark.parametrize(
    ("value", "correction", "expected"),
    [
        ("45.5", "-1.0", Outcome.NOT_MET),  # the correction does not rescue
        ("44.5", "+1.0", Outcome.NOT_MET),  # nor is it forgotten
        ("45.0", "0", Outcome.OPERATING),
        ("39.5", "-1.0", Outcome.MET),
        ("39.5", "+1.0", Outcome.OPERATING),
    ],
)
def test_worse_of_as_read_and_corrected_decides(value, correction, expected):
    """As read and as corrected must both be in limits."""
    assert outcome(value, correction=correction) is expected


def test_correction_in_celsius_is_a_difference():
    """A correction of -0.4 °C takes 0.72 °F off, not 31.28 °F on."""
    judged = judge_number(Decimal("72.0"), "°C", Decimal("-0.4"), [HOT])
    assert (judged.as_read, judged.corrected) == (Fraction("161.6"), Fraction("160.88"))
    assert judged.outcome is Outcome.NOT_MET


def test_reason_says_numbers_and_limit():
    """The sentence gives the value, how far it is out and the limit."""
    judged = judge_number(Decimal("46.5"), "°F", None, [COLD])
    assert judged.reason == "Read 46.5 °F: 1.5 °F above the limit of 45 °F."


def test_reason_of_a_met_reading_in_another_unit_shows_both():
    """What was typed stands beside what was compared."""
    judged = judge_number(Decimal("3.5"), "°C", None, [COLD])
    assert judged.reason == "Read 38.3 °F (3.5 °C): meets 45 °F or below."


def test_reason_names_the_corrected_value_when_it_decides():
    """Where the corrected value decides the sentence says so."""
    assert judge_number(Decimal("44.5"), "°F", Decimal("1"), [COLD]).reason.startswith(
        "Corrected, 45.5 °F: 0.5 °F above"
    )


def test_reason_shows_a_difference_that_three_places_would_hide():
    """A miss by a ten-thousandth is shown, not printed as zero."""
    assert "0.0001 °F above" in judge_number(Decimal("45.0001"), "°F", None, [COLD]).reason


def test_numbers_are_kept_as_texts():
    """What goes with a verdict are decimal texts in the limit's unit."""
    assert judge_number(Decimal("44.50"), "°F", Decimal("0.2"), [COLD]).numbers() == {
        "as_read": "44.5",
        "corrected": "44.7",
        "margin": "0.3",
        "limit": "45 °F or below",
        "unit": "°F",
    }


def test_worst_limit_governs():
    """Of several limits the one not met decides and is named."""
    judged = judge_number(Decimal("42"), "°F", None, [COLD, Limit("strict", "temperature", "°F", high=Decimal("41"))])
    assert (judged.outcome, judged.limit_key) == (Outcome.NOT_MET, "strict")


def test_no_limit_at_all_proves_nothing():
    """An empty list of limits fails closed; an answer without limit must be said to be so."""
    assert judge_number(Decimal("42"), "°F", None, []).outcome is Outcome.NOT_PROVEN
    assert recorded().outcome is Outcome.MET


def test_limit_of_another_kind_is_an_error():
    """Pounds cannot be compared with degrees."""
    with pytest.raises(UnitError):
        judge_number(Decimal("42"), "lb", None, [COLD])


@settings(deadline=None)
@given(st.decimals(-50, 250, places=2), st.decimals(-5, 5, places=2))
def test_correction_never_makes_an_outcome_better(value, correction):
    """With a correction the outcome is never better than without."""
    for limit in (COLD, HOT, BETWEEN):
        plain = SEVERITY.index(outcome(value, limit))
        assert SEVERITY.index(outcome(value, limit, correction=correction)) <= plain


@settings(deadline=None)
@given(st.decimals(-50, 250, places=2), st.decimals(-50, 250, places=2))
def test_warmer_is_never_better_against_an_upper_limit(first, second):
    """Against an upper limit the outcome only worsens as it gets warmer."""
    cooler, warmer = sorted((first, second))
    assert SEVERITY.index(outcome(warmer)) <= SEVERITY.index(outcome(cooler))


@pytest.mark.parametrize(
    ("indicating", "recorder", "expected"),
    [
        ("163.5", "163.0", Outcome.MET),
        ("163.5", "163.5", Outcome.MET),
        ("163.5", "163.6", Outcome.NOT_MET),
        ("163.5", "160.5", Outcome.NOT_MET),
        ("160.5", "160.0", Outcome.NOT_MET),
        ("163.5", "162.0", Outcome.OPERATING),
    ],
)
def test_pair_compares_both_and_each_other(indicating, recorder, expected):
    """Both thermometers must meet the limit and the recorder must not read higher than the indicating one."""
    assert judge_pair(Decimal(indicating), Decimal(recorder), "°F", None, [HOT]).outcome is expected


def test_pair_says_which_thermometer_was_out():
    """The reason names the thermometer."""
    reason = judge_pair(Decimal("163.5"), Decimal("160.5"), "°F", None, [HOT]).reason
    assert reason.startswith("Recording thermometer: read 160.5 °F: 0.5 °F below the limit of 161 °F")


def test_pair_compares_across_units_exactly():
    """A recorder at 163 °F beside an indicator at 72.8 °C (163.04 °F) does not read higher.

    At 163.1 °F it does.
    """
    assert judge_pair(Decimal("72.8"), Decimal("163"), "°C", None, [HOT], "°F").outcome is Outcome.MET
    assert judge_pair(Decimal("72.8"), Decimal("163.1"), "°C", None, [HOT], "°F").outcome is Outcome.NOT_MET


@pytest.mark.parametrize(
    ("answer", "expected"),
    [("yes", Outcome.MET), ("no", Outcome.NOT_MET), ("", Outcome.NOT_PROVEN), ("Yes", Outcome.NOT_MET)],
)
def test_wanted_answer_meets_and_another_does_not(answer, expected):
    """Only the wanted answer meets; silence proves nothing."""
    assert judge_wanted(answer, [YES]).outcome is expected


def test_any_of_several_wanted_choices_meets():
    """A choice may have more than one wanted answer."""
    limit = Limit("screen", "screen", wanted=("negative", "not needed"))
    assert [judge_wanted(text, [limit]).outcome for text in ("not needed", "positive")] == [
        Outcome.MET,
        Outcome.NOT_MET,
    ]


@pytest.mark.parametrize(("count", "expected"), [(0, Outcome.MET), (1, Outcome.NOT_MET)])
def test_count_is_compared_with_its_bound(count, expected):
    """No drops is met at none and not met at one."""
    assert judge_count(count, [NO_DROPS]).outcome is expected


def test_any_place_not_as_wanted_is_not_met():
    """One trap of three that is not ok makes the list not met, and is named."""
    judged = judge_places({"1": "ok", "2": "mouse", "3": "ok"}, ["1", "2", "3"], [])
    assert (judged.outcome, judged.reason) == (Outcome.NOT_MET, "Not as wanted at 2.")


def test_place_without_answer_is_not_proven():
    """A place that nobody answered for proves nothing; a wrong one still weighs more."""
    assert judge_places({"1": "ok"}, ["1", "2"], []).reason == "Nothing recorded at 2."
    assert judge_places({"1": "ok"}, ["1", "2"], []).outcome is Outcome.NOT_PROVEN
    assert judge_places({"1": "bad"}, ["1", "2"], []).outcome is Outcome.NOT_MET
    assert judge_places({}, [], []).outcome is Outcome.NOT_PROVEN


def test_all_places_as_wanted_are_met():
    """Every listed place with a wanted answer is met; the plan's own words may be wanted."""
    assert judge_places({"1": "ok", "2": "ok"}, ["1", "2"], []).outcome is Outcome.MET
    assert judge_places({"1": "intact"}, ["1"], [Limit("glass", "glass", wanted=("intact",))]).outcome is Outcome.MET


@pytest.mark.parametrize(
    ("text", "expected"), [("S-1041", Outcome.MET), ("", Outcome.NOT_PROVEN), ("  ", Outcome.NOT_PROVEN)]
)
def test_text_is_met_when_present(text, expected):
    """A seal number that was written down is met, nothing proves nothing."""
    assert judge_text(text).outcome is expected


def test_text_with_a_wanted_value_must_be_it():
    """Where the plan wants a certain text another one is not met."""
    limit = Limit("label", "label", wanted=("QC-12",))
    assert [judge_text(text, [limit]).outcome for text in ("QC-12", "QC-13")] == [
        Outcome.MET,
        Outcome.NOT_MET,
    ]


@pytest.mark.parametrize(
    ("agitator", "bulb", "expected"),
    [
        (True, True, Outcome.MET),
        (False, True, Outcome.NOT_PROVEN),
        (True, False, Outcome.NOT_PROVEN),
        (None, True, Outcome.NOT_PROVEN),
        (True, None, Outcome.NOT_PROVEN),
    ],
)
def test_tank_reading_needs_agitator_and_bulb(agitator, bulb, expected):
    """A reading in limits proves nothing unless both are answered yes."""
    judged = without_mixing(judge_number(Decimal("38"), "°F", None, [COLD]), agitator, bulb, 5)
    assert judged.outcome is expected


def test_tank_reading_out_of_limits_stays_so_without_agitator():
    """A number that is out by itself is not softened to not proven; the doubt is added to its reasons."""
    judged = without_mixing(judge_number(Decimal("47"), "°F", None, [COLD]), False, True, 5)
    assert judged.outcome is Outcome.NOT_MET
    assert "agitator did not run for 5 minutes" in judged.reasons[1]


TODAY = date(2026, 6, 8)


@pytest.mark.parametrize(
    ("due", "error", "expected"),
    [
        (date(2026, 6, 9), "0.2", Outcome.MET),
        (date(2026, 6, 8), "0.5", Outcome.MET),
        (date(2026, 6, 7), "0.2", Outcome.NOT_PROVEN),
        (date(2026, 6, 9), "0.6", Outcome.NOT_PROVEN),
        (date(2026, 6, 9), "-0.6", Outcome.NOT_PROVEN),
        (None, None, Outcome.MET),
    ],
)
def test_instrument_out_of_tolerance_or_overdue_proves_nothing(due, error, expected):
    """The day of calibration and the tolerance itself are still in order, beyond them nothing is proven."""
    judged = judge_number(Decimal("38"), "°F", None, [COLD])
    off = None if error is None else Decimal(error)
    assert with_instrument(judged, TODAY, due, off, Decimal("0.5"), "°F").outcome is expected


def test_overdue_instrument_does_not_soften_a_reading_out_of_limits():
    """Out of limits on a doubtful thermometer is out of limits."""
    judged = with_instrument(judge_number(Decimal("47"), "°F", None, [COLD]), TODAY, date(2026, 1, 1))
    assert judged.outcome is Outcome.NOT_MET
    assert "due on 2026-01-01" in judged.reason


def test_not_proven_keeps_its_reason():
    """'I could not take it' is an answer with a reason."""
    assert (not_proven("Thermometer broken.").outcome, not_proven("Thermometer broken.").reason) == (
        Outcome.NOT_PROVEN,
        "Thermometer broken.",
    )


def test_not_met_outweighs_not_proven():
    """Of a judgement not met and one not proven the first decides."""
    assert worst([not_proven("Nothing."), judge_count(1, [NO_DROPS])]).outcome is Outcome.NOT_MET
    assert worst([not_proven("Nothing."), judge_count(0, [NO_DROPS])]).outcome is Outcome.NOT_PROVEN
