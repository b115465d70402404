"""A day's balance made to fit: its laws, its tests, its refusals, its edges."""

import doctest
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import plant.process.mass_balance as balance
from plant.process.errors import CalculationError, Infeasible, OutsideRange
from plant.process.mass_balance import (
    Stream,
    fat,
    linear,
    reconcile,
    reconcile_fat,
    reconcile_streams,
    streams,
    suspects,
)

pytestmark = pytest.mark.once

few = settings(max_examples=50, deadline=None)
EXCHANGER = [[1, -1, -1, 0, 0, 0], [0, 1, 0, -1, 0, 0], [0, 0, 1, 0, -1, 0], [0, 0, 0, 1, 1, -1]]
TRUE = np.array([100.0, 64.0, 36.0, 64.0, 36.0, 100.0])
noise = st.lists(st.floats(-3, 3), min_size=6, max_size=6)
doubts = st.lists(st.floats(0.2, 5), min_size=6, max_size=6)
unmeasured = st.sets(st.integers(0, 5), max_size=5)


def day(noise, sd, missing=()):
    """Six meters round the exchanger, some of them missing."""
    values = TRUE + np.array(noise)
    values[list(missing)] = np.nan
    return reconcile(EXCHANGER, values, sd)


def separator(milk=10_000.0, skim=9_020.0, cream=1_060.0, fat_of_milk=3.8):
    """A separator day with masses and fat."""
    return [
        Stream("milk", None, "Separator", milk, 50, fat_of_milk, 0.03),
        Stream("skim", "Separator", None, skim, 45, 0.06, 0.02),
        Stream("cream", "Separator", None, cream, 10, 36.0, 0.3),
    ]


@given(noise, doubts, unmeasured)
@few
def test_reconciled_values_meet_every_balance_they_can_be_put_in(noise, sd, missing):
    """A balance whose streams are all known is closed."""
    found = day(noise, sd, missing)
    for row in np.array(EXCHANGER):
        if not np.isnan(found.values[row != 0]).any():
            assert row @ np.nan_to_num(found.values) == pytest.approx(0, abs=1e-9)


@given(noise, doubts, unmeasured)
@few
def test_redundancies_sum_to_the_degrees_of_freedom(noise, sd, missing):
    """Each measurement is controlled by a share from 0 to 1, together as many as there are degrees of freedom."""
    found = day(noise, sd, missing)
    shares = found.redundancy[~np.isnan(found.redundancy)]
    assert shares.sum() == pytest.approx(found.degrees)
    assert ((shares >= -1e-12) & (shares <= 1 + 1e-12)).all()


@given(noise, doubts, unmeasured)
@few
def test_reconciling_never_makes_a_value_less_certain(noise, sd, missing):
    """New standard deviations are at most the measured ones; equal where nothing checks the measurement."""
    found = day(noise, sd, missing)
    measured = ~np.isnan(found.measured)
    assert (found.values_sd[measured] <= found.sd[measured] * (1 + 1e-9)).all()
    for name in found.those("unchecked"):
        place = found.place(name)
        assert found.values_sd[place] == pytest.approx(found.sd[place])
        assert found.adjustments[place] == pytest.approx(0, abs=1e-9)


@given(noise, doubts, unmeasured)
@few
def test_reconciling_again_changes_nothing(noise, sd, missing):
    """Reconciled values are their own best fit."""
    found = day(noise, sd, missing)
    again = reconcile(EXCHANGER, np.where(np.isnan(found.measured), np.nan, found.values), sd)
    assert again.values == pytest.approx(found.values, nan_ok=True)
    assert again.statistic == pytest.approx(0, abs=1e-9)


@given(noise, doubts, unmeasured)
@few
def test_leaving_a_measurement_out_takes_its_test_from_the_statistic(noise, sd, missing):
    """Without measurement i chi-square falls by z_i squared, and the others' value for it is what then is computed."""
    found = day(noise, sd, missing)
    for name in found.those("checked"):
        place = found.place(name)
        rest = day(noise, sd, {*missing, place})
        assert rest.statistic == pytest.approx(found.statistic - found.z[place] ** 2, abs=1e-7)
        assert rest.degrees == found.degrees - 1
        assert rest.values[place] == pytest.approx(found.by_others[place])
        spread = math.hypot(rest.values_sd[place], found.sd[place])
        assert found.error_sd[place] == pytest.approx(spread)


@given(noise, doubts, unmeasured, st.floats(0.01, 1000))
@few
def test_units_do_not_matter(noise, sd, missing, factor):
    """In pounds instead of kilograms everything but the statistics scales."""
    found = day(noise, sd, missing)
    other = reconcile(EXCHANGER, found.measured * factor, np.array(sd) * factor)
    assert other.values == pytest.approx(found.values * factor, nan_ok=True)
    assert other.z == pytest.approx(found.z, abs=1e-7, nan_ok=True)
    assert other.statistic == pytest.approx(found.statistic, abs=1e-7)


@given(noise, doubts, unmeasured, st.permutations(range(6)), st.permutations(range(4)))
@few
def test_the_order_of_streams_and_balances_does_not_matter(noise, sd, missing, order, rows):
    """Columns and rows in any order, and a balance written twice."""
    found = day(noise, sd, missing)
    table = np.array(EXCHANGER)[list(rows)][:, order]
    other = reconcile(np.vstack([table, 2 * table[0]]), found.measured[order], np.array(sd)[order])
    assert other.values == pytest.approx(found.values[order], nan_ok=True)
    assert other.degrees == found.degrees
    assert other.states == tuple(found.states[place] for place in order)


@given(noise, doubts, unmeasured)
@few
def test_a_diagonal_covariance_is_the_same_as_standard_deviations(noise, sd, missing):
    """Both ways of saying how certain a measurement is."""
    found = day(noise, sd, missing)
    other = reconcile(EXCHANGER, found.measured, np.full(6, np.nan), covariance=np.diag(np.square(sd)))
    assert other.values == pytest.approx(found.values, nan_ok=True)
    assert other.z == pytest.approx(found.z, nan_ok=True, abs=1e-9)


def test_an_unobservable_stream_is_named():
    """Two streams side by side without a meter: their sum is known, neither of them is."""
    found = reconcile(
        [[1, -1, -1], [0, 1, 1]], [10, math.nan, math.nan], [1, 1, 1], totals=[0, 10], names=["in", "a", "b"]
    )
    assert found.those("unobservable") == ("a", "b")
    assert found.those("checked") == ("in",)
    assert np.isnan(found.values[1:]).all()


def test_an_unchecked_measurement_is_named():
    """With the cream not metered, neither milk nor skim is checked, and the cream is computed."""
    found = reconcile([[1, -1, -1]], [10_000, 9_020, math.nan], [50, 45, 1])
    assert found.states == ("unchecked", "unchecked", "computed")
    assert (found.values[2], found.values_sd[2]) == (pytest.approx(980), pytest.approx(math.hypot(50, 45)))
    assert (found.degrees, found.limit, found.finding.kind) == (0, None, "not checked")
    assert found.fits


def test_one_meter_far_off_is_named():
    """Stream 3 reads 10 too high: its test is the largest, and without it the rest fits."""
    found = day([0, 0, 10, 0, 0, 0], [1] * 6)
    assert (found.finding.kind, found.finding.suspects, found.finding.resolved) == ("named", ("3",), True)
    assert found.by_others[2] == pytest.approx(36)
    assert not found.fits


def test_a_single_balance_cannot_name_the_culprit():
    """Milk, skim and cream: one balance, one test, whichever is wrong."""
    found = reconcile([[1, -1, -1]], [10_500, 9_020, 1_060], [50, 45, 10], names=["milk", "skim", "cream"])
    assert (found.finding.kind, found.finding.suspects) == ("not separable", ("milk", "skim", "cream"))
    assert found.alike == (("milk", "skim", "cream"),)
    assert found.tests == 1
    assert found.z_limit**2 == pytest.approx(found.limit)


def test_meters_in_one_pipe_cannot_be_told_apart_by_it_alone():
    """Where the middle of the line is not metered, streams 2 and 5 are one test."""
    found = day([0, 9, 0, 0, 0, 0], [1] * 6, missing=(2, 3))
    assert found.alike == (("2", "5"),)
    assert (found.finding.kind, found.finding.suspects) == ("not separable", ("2", "5"))


def test_equal_statistics_name_nobody():
    """Two meters, each off by as much in balances of their own."""
    table = [[1, -1, 0, 0, 0], [1, 0, -1, 0, 0], [1, 0, 0, -1, 0], [1, 0, 0, 0, -1]]
    found = reconcile(table, [100, 108, 92, 100, 100], [1, 1, 1, 1, 1])
    assert (found.finding.kind, found.finding.suspects, found.finding.resolved) == ("equal", ("2", "3"), False)
    assert "more is wrong" in found.finding.sentence


def test_several_small_errors_name_nobody():
    """The whole does not fit, no single one is far off."""
    found = day([1.9, -1.2, -1.9, 1.9, 1.9, -1.9], [1] * 6)
    assert (found.fits, found.finding.kind) == (False, "none stands out")


def test_a_rival_is_named_beside_the_suspect():
    """With a second meter whose removal would also let the rest fit, both are said."""
    found = day([0, 0, 0, 0, 0, 4.4], [1, 1, 1, 1, 1, 1])
    assert found.finding.suspects == ("6",)
    other = reconcile([[1, -1, 0], [0, 1, -1]], [102.2, 100.0, 98.0], [1, 1, 1])
    assert other.finding.suspects == ("1",)
    assert other.finding.rivals == ("3",)
    assert "also explain" in other.finding.sentence


def test_exact_values_are_kept():
    """A weight that counts as exact is not adjusted, and checks the others."""
    found = reconcile([[1, -1, -1]], [10_000, 9_020, 1_060], [0, 45, 10], names=["milk", "skim", "cream"])
    assert (found.values[0], found.states[0]) == (10_000, "exact")
    assert found.values.tolist()[1:] == pytest.approx([9_020 - 80 * 2025 / 2125, 1_060 - 80 * 100 / 2125])


def test_exact_values_that_contradict_each_other_are_infeasible():
    """No values meet the balance."""
    with pytest.raises(Infeasible, match="contradict"):
        reconcile([[1, -1]], [10, 11], [0, 0])
    assert reconcile([[1, -1]], [10, 10], [0, 0]).degrees == 0


def test_standard_deviations_of_very_different_size_are_handled():
    """A belt scale of 1 t and a bench scale of 1 mg: the balance closes and the better one hardly moves."""
    found = reconcile([[1, -1, 0], [0, 1, -1]], [10_000, 9_000, 9_500], [1e-6, 1e3, 1e3])
    assert found.values == pytest.approx([10_000] * 3, abs=1e-5)
    assert found.degrees == 2
    assert found.states == ("checked",) * 3


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"balances": [1, 2]}, "table"),
        ({"balances": [[1, -1], [1, -1]], "totals": [1]}, "total"),
        ({"measured": [1, 2, 3]}, "one measurement"),
        ({"names": ["a", "a"]}, "same name"),
        ({"names": ["a"]}, "one name"),
        ({"names": "ab"}, "as a list"),
        ({"balances": [["in", "out"]]}, "are numbers"),
        ({"balances": [[1, -1], [1]]}, "are numbers"),
        ({"measured": ["much", 2]}, "are numbers"),
        ({"sd": [1, "little"]}, "are numbers"),
        ({"totals": ["none"]}, "are numbers"),
        ({"covariance": [["a", "b"], ["c", "d"]]}, "are numbers"),
        ({"sd": [-1, 1]}, "uncertainty of 1"),
        ({"measured": [math.inf, 1]}, "1 inf"),
        ({"balances": [[math.nan, 1]]}, "coefficient"),
        ({"covariance": [[1, 2], [0, 1]]}, "symmetric"),
        ({"covariance": [[1, 2], [2, 1]]}, "positive definite"),
        ({"covariance": [[0, 1], [1, 1]]}, "cannot be"),
        ({"covariance": [[1]]}, "row and a column"),
        ({"confidence": 1.0}, "confidence"),
        ({"multiplicity": "holm"}, "sidak, bonferroni, none"),
    ],
)
def test_wrong_input_is_refused_by_name(change, message):
    """Each refusal says what is wrong."""
    given = {"balances": [[1, -1]], "measured": [1, 2], "sd": [1, 1], **change}
    with pytest.raises(CalculationError, match=message):
        reconcile(given.pop("balances"), given.pop("measured"), given.pop("sd"), **given)


def test_a_name_that_is_not_there_is_refused():
    """Asking for a stream that was not given."""
    with pytest.raises(CalculationError, match="no quantity called 9"):
        day([0] * 6, [1] * 6).place("9")


@given(st.floats(-30, 30), st.floats(-30, 30), st.floats(-10, 10), st.floats(-0.2, 0.2))
@few
def test_mass_and_fat_close_together(milk, skim, cream, rich):
    """Both balances are closed, and fat is mass times content."""
    found = reconcile_fat(separator(10_000 + milk, 9_000 + skim, 1_000 + cream, 3.654 + rich))
    assert found.kg[0] == pytest.approx(found.kg[1] + found.kg[2])
    assert found.fat_kg == pytest.approx(found.kg * found.fat_pct / 100)
    assert found.fat_kg[0] == pytest.approx(found.fat_kg[1] + found.fat_kg[2])
    assert found.imbalance_kg < 1e-5
    assert found.both.degrees == 2


def test_without_fat_of_the_cream_it_is_computed():
    """The fat of the one stream that was not tested follows from the others."""
    milk, skim, _cream = separator()
    found = reconcile_fat([milk, skim, Stream("cream", "Separator", None, 1_060, 10)])
    assert found.both.names[5] == "cream, fat kg"
    assert found.fat_pct[2] == pytest.approx(100 * found.fat_kg[2] / found.kg[2])
    assert 0 < found.fat_pct_sd[2] < 1


def test_a_wrong_fat_test_is_named():
    """The laboratory's milk test is far off: with masses all metered, its own test is the largest."""
    table = [
        Stream("milk", None, "Tank", 10_000, 20, 3.8, 0.03),
        Stream("to separator", "Tank", "Separator", 10_000, 20, 4.4, 0.03),
        Stream("skim", "Separator", None, 9_000, 20, 0.05, 0.02),
        Stream("cream", "Separator", None, 1_000, 5, 37.55, 0.3),
    ]
    found = reconcile_fat(table).both.finding
    assert (found.kind, found.suspects) == ("named", ("to separator, fat %",))


def test_two_untold_masses_of_equal_fat_are_unobservable():
    """Where contents are alike, only the sum of two unmetered streams is known; it still balances."""
    found = reconcile_fat(
        [
            Stream("in", None, "V", 1000, 5, 4.0, 0.05),
            Stream("a", "V", None, None, None, 4.0, 0.05),
            Stream("b", "V", None, None, None, 4.0, 0.05),
        ]
    )
    assert set(found.both.those("unobservable")) == {"a", "b"}
    assert np.isnan(found.fat_kg[1:]).all()


def test_two_unmetered_masses_follow_from_their_fat():
    """Milk metered, three fat tests: cream and skim are computed from both balances."""
    found = reconcile_fat(
        [
            Stream("milk", None, "Separator", 1000, 2, 3.8, 0.02),
            Stream("cream", "Separator", None, None, None, 40, 0.2),
            Stream("skim", "Separator", None, None, None, 0.05, 0.01),
        ]
    )
    assert found.both.those("computed") == ("cream", "skim")
    assert found.kg.sum() == pytest.approx(2000)


def test_mass_and_fat_that_cannot_fit_do_not_converge():
    """Exact contents that no masses of the right sign meet are refused, in words."""
    with pytest.raises(CalculationError):
        reconcile_fat(
            [
                Stream("milk", None, "S", 1000, 0, 3.8, 0),
                Stream("cream", "S", None, 100, 0, 40, 0),
                Stream("skim", "S", None, 900, 0, 0.05, 0),
            ]
        )


def test_fat_needs_a_content():
    """Without any fat test there is no fat balance."""
    with pytest.raises(CalculationError, match="no fat content"):
        reconcile_fat([Stream("milk", None, "S", 1, 1), Stream("skim", "S", None, 1, 1)])


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ([Stream("a", None, "V", 1, 1), Stream("a", "V", None, 1, 1)], "same name: a"),
        ([Stream("a", None, "V", 1, 1), Stream("b", None, "V", 1, 1)], "nothing leaves V"),
        ([Stream("a", "V", None, 1, 1)], "nothing comes into V"),
        ([], "number of streams"),
    ],
)
def test_networks_that_cannot_be_balanced_are_refused(given, message):
    """A vessel that only takes or only gives needs its stock."""
    with pytest.raises(CalculationError, match=message):
        reconcile_streams(given)


@pytest.mark.parametrize(
    "wrong",
    [
        ("", None, "V"),
        ("a", "V", "V"),
        ("a", None, None),
        ("a", None, ""),
        ("a", None, "V", 1.0),
        ("a", None, "V", 1.0, -1.0),
        ("a", None, "V", -1.0, 1.0),
        ("a", None, "V", math.nan, 1.0),
        ("a", None, "V", None, None, 101.0, 1.0),
        ("a", None, "V", None, None, 3.0),
    ],
)
def test_streams_that_cannot_be_are_refused(wrong):
    """Nowhere from and to, or a value without a right uncertainty."""
    with pytest.raises(CalculationError):
        Stream(*wrong)


def test_a_stock_is_two_streams():
    """A silo drawn down: what it held, less what it holds, went to the vat."""
    stock = balance.stock_streams("Silo A", (5000, 20), (1200, 20))
    found = reconcile_streams([*stock, Stream("to vat", "Silo A", None, 3790, 15)])
    assert found.values[0] - found.values[1] == pytest.approx(found.values[2])
    assert found.names[:2] == ("Silo A at the start", "Silo A at the end")


@given(st.floats(0, 1e6), st.floats(0.9, 1.2))
@few
def test_mass_of_a_volume_carries_both_doubts(volume, density):
    """With no doubt in one, the relative doubt of the mass is that of the other."""
    kg, sd = balance.mass_of_volume(volume, volume / 100, density)
    assert (kg, sd) == (pytest.approx(volume * density), pytest.approx(volume * density / 100))
    assert balance.mass_of_volume(volume, 0, density, density / 100)[1] == pytest.approx(sd)


def test_limits_refuse_what_is_no_test():
    """No degrees of freedom, no tests, a power below one half."""
    for call in (
        lambda: balance.chi_square_limit(0),
        lambda: balance.measurement_test_limit(0),
        lambda: balance.smallest_noticed(1, 2, 0.4),
        lambda: balance.smallest_noticed(0, 2),
    ):
        with pytest.raises(OutsideRange):
            call()


@given(st.integers(1, 200), st.floats(0.5, 0.999))
@few
def test_bonferroni_is_never_laxer_than_sidak(tests, confidence):
    """And both are at least the limit of a single test."""
    sidak, bonferroni, single = (
        balance.measurement_test_limit(tests, confidence, one) for one in ("sidak", "bonferroni", "none")
    )
    assert single <= sidak * (1 + 1e-12) <= bonferroni * (1 + 1e-9)


@pytest.mark.parametrize("module", [linear, streams, suspects, fat])
def test_examples_of_the_docstrings_run(module):
    """Each docstring's example gives what it shows."""
    found = doctest.testmod(module)
    assert found.attempted > 0
    assert found.failed == 0


def test_every_public_name_says_its_source():
    """Each public function's docstring has a line with its range and one with its source."""
    functions = [getattr(balance, name) for name in balance.__all__ if name[0].islower()]
    assert len(functions) == 9
    assert [one.__name__ for one in functions if "Source:" not in one.__doc__ or "Range:" not in one.__doc__] == []
