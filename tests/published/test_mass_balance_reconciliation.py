"""Data reconciliation against worked examples, textbook balances, tables, and general least-squares solvers.

Addresses: method, Bagajewicz and Rollins, chapter 22, https://archive.org ; course notes
https://fdocument.org/document/chapter-8-errt-get-gt-gvgt-basic-concepts-in-data-reconciliation.html ; standardizing
https://www.uoguelph.ca/foodscience/book-page/standardization-problems . "Recomputed" marks what follows from stated
inputs by the stated formula: it tests the formula, not nature.
"""

import networkx as nx
import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from scipy.linalg import lstsq, null_space, pinv
from scipy.optimize import lsq_linear, minimize
from statsmodels.stats.multitest import multipletests

from plant.process import mass_balance as balance
from plant.process.mass_balance import Stream, reconcile, reconcile_fat, reconcile_streams

pytestmark = pytest.mark.once

NETWORK = [
    Stream("1", None, "Splitter", 101.91, 1),
    Stream("2", "Splitter", "Exchanger", 64.45, 1),
    Stream("3", "Splitter", "Bypass", 34.65, 1),
    Stream("4", "Exchanger", "Mixer", 64.20, 1),
    Stream("5", "Bypass", "Mixer", 36.44, 1),
    Stream("6", "Mixer", None, 98.88, 1),
]
BALANCES = [[1, -1, -1, 0, 0, 0], [0, 1, 0, -1, 0, 0], [0, 0, 1, 0, -1, 0], [0, 0, 0, 1, 1, -1]]
READ = [101.91, 64.45, 34.65, 64.20, 36.44, 98.88]


# Six meters, variance 1 each; residuals of the balances 2.81, 0.25, -1.79, 1.76 (recomputed).
@pytest.mark.proves(
    "mass_balance.reconcile",
    by="published",
    source="Narasimhan and Jordache, Data Reconciliation, 2000, ch. 1 (data from memory, recomputed)",
)
def test_exchanger_with_bypass():
    """Reconciled flows, chi-square and normalized adjustments to the printed digits."""
    found = reconcile(BALANCES, READ, [1] * 6)
    assert np.array(BALANCES) @ READ == pytest.approx([2.81, 0.25, -1.79, 1.76], abs=0.005)
    assert found.values == pytest.approx([100.22, 64.50, 35.72, 64.50, 35.72, 100.22], abs=0.005)
    assert found.statistic == pytest.approx(6.41, abs=0.005)
    assert (found.degrees, found.limit) == (4, pytest.approx(9.488, abs=5e-4))
    assert found.z == pytest.approx([2.07, -0.06, -1.31, -0.37, 0.88, -1.64], abs=0.005)
    assert (found.fits, found.finding.kind) == (True, "fits")


# 2.631: level 1 - 0.95^(1/6) = 0.0085 on six tests (recomputed with scipy.stats.norm below).
@pytest.mark.proves(
    "mass_balance.reconcile_streams",
    by="published",
    source="Narasimhan and Jordache, Data Reconciliation, 2000, ch. 1 (data from memory, recomputed)",
)
@pytest.mark.proves(
    "mass_balance.balances_of",
    by="published",
    source="Narasimhan and Jordache, Data Reconciliation, 2000, ch. 1 (data from memory, recomputed)",
)
def test_exchanger_as_a_network():
    """The same by vessels and streams: the four balances are those of the text, in another order."""
    nodes, table = balance.balances_of(NETWORK)
    assert nodes == ("Bypass", "Exchanger", "Mixer", "Splitter")
    assert sorted(table.tolist()) == sorted(map(list, np.array(BALANCES, dtype=float).tolist()))
    found = reconcile_streams(NETWORK)
    assert found.values == pytest.approx([100.22, 64.50, 35.72, 64.50, 35.72, 100.22], abs=0.005)
    assert (found.tests, found.z_limit) == (6, pytest.approx(2.631, abs=5e-4))


# Streams 3 and 4 not metered. By hand: y1 = y2 + y5 and y1 = y6 are left; least squares of unit variances gives
# 100.494, 64.252, 36.242 (recomputed); the setting is the text's next example (from memory).
@pytest.mark.proves(
    "mass_balance.reconcile",
    by="published",
    source="Narasimhan and Jordache, Data Reconciliation, 2000, ch. 1, in part measured (from memory, recomputed)",
)
def test_exchanger_partly_measured():
    """What is observable is computed: 3 as 5, 4 as 2."""
    read = [one if place not in (2, 3) else np.nan for place, one in enumerate(READ)]
    found = reconcile(BALANCES, read, [1] * 6)
    assert found.values == pytest.approx([100.49, 64.25, 36.24, 64.25, 36.24, 100.49], abs=0.005)
    assert found.those("computed") == ("3", "4")


# Only 1 and 2 metered: neither can be checked; all else follows from them. Only 1 and 6: nothing between is known.
@pytest.mark.proves(
    "mass_balance.reconcile",
    by="published",
    source="Narasimhan and Jordache, Data Reconciliation, 2000, ch. 3, observability and redundancy (from memory)",
)
def test_exchanger_observable_or_redundant():
    """Observable without redundancy, and redundant without observability."""
    found = reconcile(BALANCES, [101.91, 64.45, *[np.nan] * 4], [1] * 6)
    assert (found.those("unchecked"), found.those("computed")) == (("1", "2"), ("3", "4", "5", "6"))
    assert found.values == pytest.approx([101.91, 64.45, 37.46, 64.45, 37.46, 101.91])
    found = reconcile(BALANCES, [101.91, *[np.nan] * 4, 98.88], [1] * 6)
    assert (found.those("checked"), found.those("unobservable")) == (("1", "6"), ("2", "3", "4", "5"))


# Separator day, kg (recomputed): 10,043.2, 8,985.0, 1,058.3; chi-square 1.38 < 3.841; new sd 33.9, 33.7, 9.89.
@pytest.mark.proves(
    "mass_balance.reconcile_streams",
    by="published",
    source="separator day 10,000/9,020/1,060 kg, formula of Bagajewicz and Rollins, ch. 22, recomputed",
)
def test_separator_day():
    """One balance: reconciled masses, new standard deviations, and three equal tests that can name nobody."""
    found = reconcile_streams(
        [
            Stream("milk", None, "Separator", 10_000, 50),
            Stream("skim", "Separator", None, 9_020, 45),
            Stream("cream", "Separator", None, 1_060, 10),
        ]
    )
    assert found.values == pytest.approx([10_043.2, 8_985.0, 1_058.3], abs=0.05)
    assert found.values_sd == pytest.approx([33.9, 33.7, 9.89], abs=0.05)
    assert (found.statistic, found.limit) == (pytest.approx(1.38, abs=0.005), pytest.approx(3.841, abs=5e-4))
    assert np.abs(found.z) == pytest.approx([1.176] * 3, abs=5e-4)
    assert found.alike == (("milk", "skim", "cream"),)


@pytest.mark.proves(
    "mass_balance.reconcile_fat",
    by="published",
    source="University of Guelph, standardization problems, uoguelph.ca/foodscience",
)
def test_cream_thinned_with_skim():
    """160 kg of 40 % cream to 32 %: 40 kg of skim, 200 kg of product."""
    found = reconcile_fat(
        [
            Stream("cream", None, "Vat", 160, 0, 40, 0.1),
            Stream("skim", None, "Vat", None, None, 0, 0),
            Stream("product", "Vat", None, None, None, 32, 0.1),
        ]
    )
    assert found.kg == pytest.approx([160, 40, 200])


@pytest.mark.proves(
    "mass_balance.reconcile_fat",
    by="published",
    source="University of Guelph, standardization problems, uoguelph.ca/foodscience",
)
def test_pearson_square_as_a_balance():
    """35 % cream into 500 kg of 4 % milk to 10 %: 120 kg of cream, 620 kg; fat 62.0 = 42 + 20."""
    found = reconcile_fat(
        [
            Stream("cream", None, "Vat", None, None, 35, 0.1),
            Stream("milk", None, "Vat", 500, 1, 4, 0.02),
            Stream("product", "Vat", None, None, None, 10, 0.05),
        ]
    )
    assert found.kg == pytest.approx([120, 500, 620])
    assert found.fat_kg == pytest.approx([42, 20, 62])


# 1000 (3.8 - 0.05)/(40 - 0.05) (recomputed).
@pytest.mark.proves(
    "mass_balance.reconcile_fat", by="published", source="separator fat balance 3.8/40/0.05 %, recomputed"
)
def test_separator_by_fat_alone():
    """1000 kg milk: cream 93.87, skim 906.13 kg, 98.81 % of the fat in the cream."""
    found = reconcile_fat(
        [
            Stream("milk", None, "Separator", 1000, 2, 3.8, 0.02),
            Stream("cream", "Separator", None, None, None, 40, 0.2),
            Stream("skim", "Separator", None, None, None, 0.05, 0.01),
        ]
    )
    assert found.kg == pytest.approx([1000, 93.87, 906.13], abs=0.005)
    assert 100 * found.fat_kg[1] / found.fat_kg[0] == pytest.approx(98.81, abs=0.005)


@pytest.mark.proves(
    "mass_balance.chi_square_limit",
    by="published",
    source="NIST/SEMATECH e-Handbook, 1.3.6.7.4, critical values of chi-square (from memory)",
)
@pytest.mark.parametrize(
    ("degrees", "confidence", "printed"),
    [(1, 0.95, 3.841), (2, 0.95, 5.991), (4, 0.95, 9.488), (10, 0.95, 18.307), (30, 0.95, 43.773), (100, 0.95, 124.342),
     (1, 0.99, 6.635), (4, 0.99, 13.277), (10, 0.99, 23.209), (1, 0.90, 2.706), (5, 0.999, 20.515)],
)  # fmt: skip
def test_chi_square_limits_are_the_tables(degrees, confidence, printed):
    """Upper critical values, three decimals as printed."""
    assert balance.chi_square_limit(degrees, confidence) == pytest.approx(printed, abs=5e-4)


@pytest.mark.proves("mass_balance.chi_square_limit", by="independent", source="scipy.stats.chi2.ppf")
@pytest.mark.parametrize("degrees", [1, 3, 17, 450])
def test_chi_square_limits_are_the_librarys(degrees):
    """Inverse of the distribution function."""
    assert balance.chi_square_limit(degrees, 0.975) == pytest.approx(stats.chi2.ppf(0.975, degrees), rel=1e-10)


# Two-sided 95 % and 99 % normal limits; for 5 tests Sidak 1 - 0.95^(1/5) = 0.01021, Bonferroni 0.01 (recomputed).
@pytest.mark.proves(
    "mass_balance.measurement_test_limit",
    by="published",
    source="NIST/SEMATECH e-Handbook, 1.3.6.7.1, standard normal table (from memory)",
)
@pytest.mark.parametrize(
    ("tests", "how", "printed"),
    [(1, "sidak", 1.960), (1, "none", 1.960), (5, "bonferroni", 2.576), (5, "none", 1.960), (10, "bonferroni", 2.807)],
)
def test_measurement_limits_are_the_tables(tests, how, printed):
    """Normal quantiles as printed."""
    assert balance.measurement_test_limit(tests, 0.95, how) == pytest.approx(printed, abs=5e-4)


@pytest.mark.proves(
    "mass_balance.measurement_test_limit", by="independent", source="statsmodels.stats.multitest.multipletests"
)
@pytest.mark.parametrize("how", ["sidak", "bonferroni"])
@pytest.mark.parametrize("tests", [2, 6, 40])
def test_measurement_limits_reject_as_the_library_does(tests, how):
    """A statistic a hair above the limit is rejected among so many, one a hair below is not."""
    limit = balance.measurement_test_limit(tests, 0.95, how)
    for height, rejected in ((limit + 1e-6, True), (limit - 1e-6, False)):
        p = np.r_[2 * stats.norm.sf(height), np.full(tests - 1, 0.9)]
        assert multipletests(p, 0.05, method=how)[0][0] == rejected


@pytest.mark.proves(
    "mass_balance.smallest_noticed",
    by="published",
    source="Baarda, Geodetic Networks, 1968: alpha 0.001, power 0.80, noncentrality 4.13 (from memory)",
)
def test_smallest_noticed_error_of_baarda():
    """3.29 + 0.84 = 4.13 standard deviations."""
    limit = balance.measurement_test_limit(1, 0.999)
    assert limit == pytest.approx(3.29, abs=0.005)
    assert balance.smallest_noticed(1.0, limit, 0.80) == pytest.approx(4.13, abs=0.005)


@pytest.mark.proves(
    "mass_balance.smallest_noticed", by="independent", source="scipy.stats.norm: power of the two-sided test"
)
@pytest.mark.parametrize("power", [0.8, 0.9, 0.99])
def test_smallest_noticed_error_has_its_power(power):
    """The chance to exceed the limit with that error, the far tail being nothing."""
    limit = balance.measurement_test_limit(6)
    error = balance.smallest_noticed(7.0, limit, power) / 7.0
    assert stats.norm.sf(limit - error) + stats.norm.cdf(-limit - error) == pytest.approx(power, abs=1e-6)


@pytest.mark.proves("mass_balance.mass_of_volume", by="published", source="1.033 kg/L = 8.621 lb/gal, recomputed")
def test_mass_of_a_gallon_of_milk():
    """1 US gal (3.785411784 L) at 1.033 kg/L is 8.621 lb (0.45359237 kg)."""
    kg, _sd = balance.mass_of_volume(3.785411784, 0, 1.033)
    assert kg / 0.45359237 == pytest.approx(8.621, abs=5e-4)


@pytest.mark.proves("mass_balance.mass_of_volume", by="independent", source="Monte Carlo (JCGM 101), numpy")
def test_uncertainty_of_a_mass_by_simulation():
    """Spread of products of drawn volumes and densities."""
    chance = np.random.default_rng(5)
    drawn = chance.normal(3000, 15, 400_000) * chance.normal(1.033, 0.003, 400_000)
    assert balance.mass_of_volume(3000, 15, 1.033, 0.003)[1] == pytest.approx(drawn.std(), rel=0.01)


@pytest.mark.proves("mass_balance.stock_streams", by="independent", source="scipy.optimize.lsq_linear")
def test_a_stock_by_a_general_solver():
    """Start - end - drawn = 0, eliminated by hand: drawn = start - end."""
    streams = [*balance.stock_streams("Silo", (5000, 20), (1200, 25)), Stream("drawn", "Silo", None, 3750, 15)]
    found = reconcile_streams(streams)
    weights = 1 / np.array([20, 25, 15])
    design = np.array([[1, 0], [0, 1], [1, -1]])
    best = lsq_linear(design * weights[:, None], np.array([5000, 1200, 3750]) * weights, tol=1e-14).x
    assert found.values == pytest.approx(design @ best, rel=1e-9)


sizes = st.lists(st.floats(0.3, 4), min_size=6, max_size=6)
errors = st.lists(st.floats(-4, 4), min_size=6, max_size=6)


@pytest.mark.proves(
    "mass_balance.reconcile", by="independent", source="statsmodels.GLS on the null space of the balances"
)
@given(errors, sizes, st.floats(0, 0.8))
@settings(max_examples=30, deadline=None)
def test_generalized_least_squares_of_the_library(errors, sd, alike):
    """Values, covariance and chi-square for errors that go together."""
    read = np.array([100, 64, 36, 64, 36, 100]) + np.array(errors)
    covariance = np.outer(sd, sd) * (alike + (1 - alike) * np.eye(6))
    found = reconcile(BALANCES, read, [0] * 6, covariance=covariance)
    base = null_space(np.array(BALANCES, dtype=float))
    theirs = sm.GLS(read, base, sigma=covariance).fit(cov_type="fixed scale")
    assert found.values == pytest.approx(theirs.fittedvalues)
    assert found.covariance == pytest.approx(base @ theirs.normalized_cov_params @ base.T, abs=1e-9)
    assert found.statistic == pytest.approx(theirs.ssr, abs=1e-8)


@pytest.mark.proves(
    "mass_balance.reconcile",
    by="independent",
    source="statsmodels OLSInfluence: leverage, residuals",
)
@given(errors, sizes)
@settings(max_examples=30, deadline=None)
def test_normalized_adjustments_are_studentized_residuals(errors, sd):
    """In the weighed problem with known variance 1: residual over the root of one less the leverage."""
    read = np.array([100, 64, 36, 64, 36, 100]) + np.array(errors)
    found = reconcile(BALANCES, read, sd)
    base = null_space(np.array(BALANCES, dtype=float))
    influence = sm.OLS(read / sd, base / np.array(sd)[:, None]).fit().get_influence()
    assert found.redundancy == pytest.approx(1 - influence.hat_matrix_diag)
    assert found.z == pytest.approx(influence.resid / np.sqrt(1 - influence.hat_matrix_diag), abs=1e-8)


@pytest.mark.proves("mass_balance.reconcile_streams", by="independent", source="scipy.optimize.minimize, SLSQP")
@given(errors, sizes, st.sets(st.integers(0, 5), max_size=2))
@settings(max_examples=20, deadline=None)
def test_constrained_optimum_of_the_library(errors, sd, missing):
    """The least weighed sum of squares under the balances; unmeasured streams are free."""
    read = np.array([100, 64, 36, 64, 36, 100]) + np.array(errors)
    streams = [
        Stream(one.name, one.source, one.target, *((None, None) if place in missing else (read[place], sd[place])))
        for place, one in enumerate(NETWORK)
    ]
    found = reconcile_streams(streams)
    known = [place for place in range(6) if place not in missing]
    weights = 1 / np.array(sd)[known] ** 2
    best = minimize(
        lambda x: float(weights @ (x[known] - read[known]) ** 2),
        read,
        method="SLSQP",
        constraints={"type": "eq", "fun": lambda x: np.array(BALANCES) @ x},
        options={"ftol": 1e-15, "maxiter": 500},
    )
    lit = ~np.isnan(found.values)
    assert found.values[lit] == pytest.approx(best.x[lit], abs=1e-4)


def separator_and_vat(noise):
    """Milk separated, cream and skim standardized: two nodes, six streams with fat."""
    mass = np.array([10_000, 9_000, 1_000, 300, 800, 500]) + np.array(noise[:6]) * [20, 20, 5, 2, 5, 3]
    fat = np.array([3.699, 0.05, 36.54, 0.05, 22.57, 37.0]) + np.array(noise[6:]) * [0.03, 0.01, 0.2, 0.01, 0.2, 0.2]
    ends = [(None, "S"), ("S", None), ("S", "V"), (None, "V"), ("V", None), ("V", None)]
    doubts = [(20, 0.03), (20, 0.01), (5, 0.2), (2, 0.01), (5, 0.2), (3, 0.2)]
    names = ("milk", "skim", "cream", "skim in", "light", "heavy")
    return [
        Stream(name, *end, mass_kg, sd_kg, max(fat_pct, 0.0), sd_fat)
        for name, end, mass_kg, fat_pct, (sd_kg, sd_fat) in zip(names, ends, mass, fat, doubts, strict=True)
    ]


@pytest.mark.proves(
    "mass_balance.reconcile_fat", by="independent", source="scipy.optimize.minimize, SLSQP, bilinear balances"
)
@given(st.lists(st.floats(-2, 2), min_size=12, max_size=12))
@settings(max_examples=15, deadline=None)
def test_bilinear_optimum_of_the_library(noise):
    """Masses and contents of the least weighed sum of squares under the balances of mass and of fat."""
    streams = separator_and_vat(noise)
    found = reconcile_fat(streams)
    _nodes, table = balance.balances_of(streams)
    read = np.array([one.kg for one in streams] + [one.fat_pct for one in streams])
    sd = np.array([one.sd_kg for one in streams] + [one.sd_fat_pct for one in streams])

    def balances(a):
        masses, contents = (read + sd * a).reshape(2, 6)
        return np.r_[table @ masses, table @ (masses * contents)] / 100

    def slopes(a):
        masses, contents = (read + sd * a).reshape(2, 6)
        return np.block([[table, 0 * table], [table * contents, table * masses]]) * sd / 100

    best = minimize(
        lambda a: float(a @ a),
        np.zeros(12),
        jac=lambda a: 2 * a,
        method="SLSQP",
        constraints={"type": "eq", "fun": balances, "jac": slopes},
        options={"ftol": 1e-12, "maxiter": 500},
    )
    assert best.success
    assert found.both.statistic == pytest.approx(best.fun, rel=1e-5)
    assert np.r_[found.kg, found.fat_pct] == pytest.approx(read + sd * best.x, abs=1e-2)


@pytest.mark.proves(
    "mass_balance.reconcile_fat", by="independent", source="Monte Carlo (JCGM 101), numpy: the separator by fat alone"
)
def test_uncertainty_of_a_computed_mass_by_simulation():
    """Cream computed from fat tests: its spread when the measurements are drawn again and again."""
    chance = np.random.default_rng(7)
    milk, rich = chance.normal(1000, 2, 400_000), chance.normal(3.8, 0.02, 400_000)
    cream, skim = chance.normal(40, 0.2, 400_000), chance.normal(0.05, 0.01, 400_000)
    drawn = milk * (rich - skim) / (cream - skim)
    found = reconcile_fat(
        [
            Stream("milk", None, "Separator", 1000, 2, 3.8, 0.02),
            Stream("cream", "Separator", None, None, None, 40, 0.2),
            Stream("skim", "Separator", None, None, None, 0.05, 0.01),
        ]
    )
    assert found.kg_sd[1] == pytest.approx(drawn.std(), rel=0.01)
    assert found.fat_kg_sd[1] == pytest.approx((drawn * cream / 100).std(), rel=0.01)


@pytest.mark.proves("mass_balance.balances_of", by="independent", source="networkx.incidence_matrix, oriented")
def test_balances_are_the_incidence_matrix():
    """Rows are vessels, columns streams; the outside is left out."""
    graph = nx.MultiDiGraph()
    for one in NETWORK:
        graph.add_edge(one.source or "outside", one.target or "outside", key=one.name)
    nodes, table = balance.balances_of(NETWORK)
    edges = [(one.source or "outside", one.target or "outside", one.name) for one in NETWORK]
    theirs = nx.incidence_matrix(graph, nodelist=[*nodes, "outside"], edgelist=edges, oriented=True).toarray()
    assert table.tolist() == theirs[:-1].tolist()


@st.composite
def networks(draw):
    """Up to five vessels and twelve streams, each metered or not, with at least one in and one out everywhere."""
    count = draw(st.integers(2, 5))
    places = [f"N{one}" for one in range(count)]
    ends = [(None, places[0]), *zip(places, [*places[1:], None], strict=True)]
    for _extra in range(draw(st.integers(0, 12 - len(ends)))):
        source, target = draw(st.sampled_from((*places, None))), draw(st.sampled_from((*places, None)))
        if source != target:
            ends.append((source, target))
    metered = draw(st.lists(st.booleans(), min_size=len(ends), max_size=len(ends)))
    return [
        Stream(str(number), *pair, *((100.0 + number, 1.0) if known else (None, None)))
        for number, (pair, known) in enumerate(zip(ends, metered, strict=True))
    ]


# An unmetered stream is observable where it is a bridge of the graph of unmetered streams, a metered one is redundant
# where its ends are still different after the unmetered streams are contracted; the outside is one node.
@pytest.mark.proves(
    "mass_balance.reconcile_streams",
    by="published",
    source="Mah, Stanley and Downing, Ind. Eng. Chem. Proc. Des. Dev. 15:175, 1976, by networkx.bridges (from memory)",
)
@given(networks())
@settings(max_examples=60, deadline=None)
def test_states_are_those_of_the_graph(streams):
    """Computed, unobservable, checked and unchecked, by graph theory instead of algebra."""
    dark = nx.MultiGraph()
    ends = {one.name: (one.source or "outside", one.target or "outside") for one in streams}
    dark.add_nodes_from(node for pair in ends.values() for node in pair)
    dark.add_edges_from((*ends[one.name], one.name) for one in streams if one.kg is None)
    thinned = nx.Graph(dark)
    bridges = {frozenset(edge) for edge in nx.bridges(thinned)}
    bridges -= {frozenset(edge[:2]) for edge in dark.edges if dark.number_of_edges(*edge[:2]) > 1}
    group = {node: number for number, part in enumerate(nx.connected_components(dark)) for node in part}
    found = reconcile_streams(streams)
    for one, state in zip(streams, found.states, strict=True):
        if one.kg is None:
            assert state == ("computed" if frozenset(ends[one.name]) in bridges else "unobservable")
        else:
            source, target = ends[one.name]
            assert state == ("unchecked" if group[source] == group[target] else "checked")


@pytest.mark.proves("mass_balance.reconcile_streams", by="independent", source="scipy.linalg.lstsq")
@given(networks(), st.data())
@settings(max_examples=80, deadline=None)
def test_any_network_by_ordinary_least_squares(streams, data):
    """What meets the balances is a combination of their null space: the measured rows of it, weighed, by lstsq.

    Values, chi-square and standard deviations; what lstsq leaves open is what is said to be unobservable.
    """
    many = {"min_size": len(streams), "max_size": len(streams)}
    read = np.array(data.draw(st.lists(st.floats(0, 500), **many)))
    sd = np.array(data.draw(st.lists(st.floats(0.2, 20), **many)))
    lit = [place for place, one in enumerate(streams) if one.kg is not None]
    measured = [
        Stream(one.name, one.source, one.target, *((read[place], sd[place]) if place in lit else (None, None)))
        for place, one in enumerate(streams)
    ]
    found = reconcile_streams(measured)
    base = null_space(balance.balances_of(measured)[1])
    design = base[lit] / sd[lit, None]
    parts, _rest, rank, _sizes = lstsq(design, read[lit] / sd[lit], cond=1e-12)
    theirs = base @ parts
    dark = null_space(design, rcond=1e-10) if lit else np.eye(base.shape[1])
    hidden = np.abs(base @ dark).max(axis=1, initial=0) > 1e-8
    assert np.isnan(found.values).tolist() == hidden.tolist()
    assert found.values[~hidden] == pytest.approx(theirs[~hidden], abs=1e-6)
    assert found.statistic == pytest.approx(float((((theirs - read) / sd)[lit] ** 2).sum()), rel=1e-6, abs=1e-6)
    assert found.degrees == len(lit) - rank
    spread = np.sqrt(np.clip(np.diag(base @ pinv(design.T @ design) @ base.T), 0, None))
    assert found.values_sd[~hidden] == pytest.approx(spread[~hidden], abs=1e-6)


@pytest.mark.proves("mass_balance.reconcile", by="independent", source="numpy.linalg.matrix_rank")
@given(networks())
@settings(max_examples=60, deadline=None)
def test_degrees_of_freedom_by_ranks(streams):
    """Independent balances, less those used up by what is not metered; an observable column lowers the rank alone."""
    _nodes, table = balance.balances_of(streams)
    dark = np.array([one.kg is None for one in streams])
    found = reconcile_streams(streams)
    rank = np.linalg.matrix_rank
    hidden = rank(table[:, dark]) if dark.any() else 0
    assert found.degrees == rank(table) - hidden
    for place in np.flatnonzero(dark):
        others = table[:, [one for one in np.flatnonzero(dark) if one != place]]
        lower = (rank(others) if others.size else 0) < hidden
        assert (found.states[place] == "computed") == lower
