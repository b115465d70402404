"""Standardizing against second methods: exact corners of the set of blends, linear algebra, elimination."""

from fractions import Fraction
from itertools import combinations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from plant.process.standardizing import (
    CannotBlend,
    Stream,
    Target,
    account,
    attainable,
    blend,
    pearson_square,
    prove,
    separate,
    skim_to,
    with_fat,
)

pytestmark = pytest.mark.once

PERCENT = st.integers(0, 600).map(lambda tenths: Fraction(tenths, 10))


def solved(rows, right):
    """The one solution of square equations in exact fractions, None where there is not one."""
    size = len(rows)
    table = [[*map(Fraction, row), Fraction(value)] for row, value in zip(rows, right, strict=True)]
    for place in range(size):
        pivot = next((row for row in range(place, size) if table[row][place]), None)
        if pivot is None:
            return None
        table[place], table[pivot] = table[pivot], table[place]
        table[place] = [value / table[place][place] for value in table[place]]
        for row in range(size):
            if row != place:
                factor = table[row][place]
                table[row] = [one - factor * other for one, other in zip(table[row], table[place], strict=True)]
    return [row[-1] for row in table]


def corners(contents, ranges):
    """All corners of the blends of 1 kg: `contents` one row a component, `ranges` their (low, high), exact."""
    count = len(contents[0])
    faces = [([int(place == other) for other in range(count)], Fraction(0)) for place in range(count)]
    for row, (low, high) in zip(contents, ranges, strict=True):
        faces += [(row, low), (row, high)]
    found = []
    for chosen in combinations(faces, count - 1):
        point = solved([[1] * count, *(row for row, _ in chosen)], [1, *(value for _, value in chosen)])
        if point is None or min(point) < 0:
            continue
        sums = [sum(one * share for one, share in zip(row, point, strict=True)) for row in contents]
        if all(low <= one <= high for one, (low, high) in zip(sums, ranges, strict=True)):
            found.append(point)
    return found


@st.composite
def cases(draw):
    """Four streams, two components with a range each, prices."""
    contents = [draw(st.lists(PERCENT, min_size=4, max_size=4)) for _ in range(2)]
    ranges = []
    for _ in range(2):
        low, high = sorted((draw(PERCENT), draw(PERCENT)))
        ranges.append((low, high))
    prices = draw(st.lists(st.integers(0, 50).map(lambda dimes: Fraction(dimes, 10)), min_size=4, max_size=4))
    return contents, ranges, prices


def asked(contents, ranges, prices=None):
    """The same as streams and targets."""
    streams = [
        Stream(
            f"stream {place}",
            {"fat": float(contents[0][place]), "SNF": float(contents[1][place])},
            None if prices is None else float(prices[place]),
        )
        for place in range(4)
    ]
    targets = [Target(name, float(low), float(high)) for name, (low, high) in zip(("fat", "SNF"), ranges, strict=True)]
    return streams, targets


@pytest.mark.proves(
    "standardizing.blend", by="independent", source="all corners of the set of blends in exact fractions"
)
@settings(max_examples=50, deadline=None)
@given(cases())
def test_cheapest_blend_is_the_cheapest_corner(case):
    """The least cost is that of the cheapest corner, and without a corner the blend is refused."""
    contents, ranges, prices = case
    points = corners(contents, ranges)
    streams, targets = asked(contents, ranges, prices)
    if not points:
        with pytest.raises(CannotBlend):
            blend(streams, targets, 100)
        return
    cheapest = min(sum(price * share for price, share in zip(prices, point, strict=True)) for point in points)
    found = blend(streams, targets, 100)
    assert found.cost == pytest.approx(float(100 * cheapest), abs=1e-5)
    assert found.proof.holds()


@pytest.mark.proves(
    "standardizing.blend", by="independent", source="all corners of the set of blends in exact fractions"
)
@settings(max_examples=40, deadline=None)
@given(cases())
def test_least_of_a_stream_is_the_corner_with_the_least_of_it(case):
    """With a stream named, no corner holds less of it."""
    contents, ranges, _prices = case
    points = corners(contents, ranges)
    assume(points)
    streams, targets = asked(contents, ranges)
    found = blend(streams, targets, 100, least_of="stream 2")
    assert found.masses_kg[2] == pytest.approx(float(100 * min(point[2] for point in points)), abs=1e-5)


@pytest.mark.proves(
    "standardizing.attainable", by="independent", source="all corners of the set of blends in exact fractions"
)
@settings(max_examples=40, deadline=None)
@given(cases())
def test_reach_beside_the_other_target_is_that_of_the_corners(case):
    """Lowest and highest fat while SNF is met are the extremes over the corners of that set."""
    contents, ranges, _prices = case
    points = corners([contents[1]], [ranges[1]])
    streams, targets = asked(contents, ranges)
    fat = attainable(streams, targets, 100)[0]
    assert fat.alone == pytest.approx((float(min(contents[0])), float(max(contents[0]))), abs=1e-6)
    if not points:
        assert fat.together is None
        return
    sums = [sum(one * share for one, share in zip(contents[0], point, strict=True)) for point in points]
    assert fat.together == pytest.approx((float(min(sums)), float(max(sums))), abs=1e-6)


@pytest.mark.proves(
    "standardizing.pearson_square", by="independent", source="two equations solved with numpy.linalg.solve"
)
@settings(max_examples=50, deadline=None)
@given(st.floats(0, 20), st.floats(21, 80), st.floats(0, 1), st.floats(1, 1e5))
def test_square_solves_the_two_balances(lean, rich, share, total):
    """Masses of rich and lean are the solution of the balances of mass and of the component."""
    wanted = lean + share * (rich - lean)
    square = pearson_square(rich, lean, min(max(wanted, lean), rich), total_kg=total)
    masses = np.linalg.solve([[1, 1], [rich, lean]], [total, total * wanted])
    assert (square.rich_kg, square.lean_kg) == pytest.approx(tuple(masses), abs=1e-8 * total)


@pytest.mark.proves("standardizing.separate", by="independent", source="balances solved with numpy.linalg.solve")
@pytest.mark.proves("standardizing.account", by="independent", source="balances solved with numpy.linalg.solve")
@settings(max_examples=50, deadline=None)
@given(st.floats(10, 1e5), st.floats(3, 9), st.floats(20, 60), st.floats(0, 0.2), st.floats(0, 0.02), st.floats(0, 9))
def test_separation_solves_its_balances_and_accounts_for_everything(milk, fat, cream_fat, skim_fat, lost, lost_fat):
    """Cream and skim solve mass and fat less the loss; weighed like that, nothing is unaccounted."""
    loss = milk * lost
    left = (milk * fat - loss * lost_fat) / (milk - loss)
    assume(skim_fat < left < cream_fat)
    found = separate(milk, fat, cream_fat, skim_fat, loss_kg=loss, loss_fat=lost_fat)
    cream, skim = np.linalg.solve([[1, 1], [cream_fat, skim_fat]], [milk - loss, milk * fat - loss * lost_fat])
    assert (found.cream_kg, found.skim_kg) == pytest.approx((cream, skim), abs=1e-9 * milk)
    assert found.recovery_percent + found.skim_share_percent + found.loss_share_percent == pytest.approx(100)
    left_over = account(milk, fat, cream, cream_fat, skim, skim_fat, loss_kg=loss, loss_fat=lost_fat)
    assert (left_over.mass_kg, left_over.fat_kg) == pytest.approx((0, 0), abs=1e-8 * milk)


@pytest.mark.proves("standardizing.skim_to", by="independent", source="the skim and the returned cream blended anew")
@settings(max_examples=50, deadline=None)
@given(st.floats(3, 6), st.floats(20, 50), st.floats(0, 0.1), st.floats(0.5, 2.9))
def test_skimmed_milk_has_the_wanted_fat_either_way(fat, cream_fat, skim_fat, wanted):
    """Skim with returned cream, and milk with the skim of its separated part, both have the wanted fat."""
    found = skim_to(1000, fat, cream_fat, skim_fat, wanted)
    skim, cream = Stream("skim", {"fat": skim_fat}), Stream("cream", {"fat": cream_fat})
    assert prove([skim, cream], [found.skim_kg, found.returned_kg]).percents[0] == pytest.approx(wanted)
    part = separate(found.separated_kg, fat, cream_fat, skim_fat)
    assert part.cream_kg == pytest.approx(found.surplus_kg)
    rest = prove([Stream("milk", {"fat": fat}), skim], [1000 - found.separated_kg, part.skim_kg])
    assert rest.percents[0] == pytest.approx(wanted)


@pytest.mark.proves("standardizing.prove", by="independent", source="numpy matrix product")
@settings(max_examples=50, deadline=None)
@given(cases(), st.lists(st.floats(0.1, 1e4), min_size=4, max_size=4))
def test_proof_is_the_matrix_product(case, masses):
    """Sums of the proof are contents times masses."""
    contents, ranges, _prices = case
    streams, targets = asked(contents, ranges)
    proof = prove(streams, masses, targets)
    assert np.array(proof.sums_kg) == pytest.approx(np.array(contents, dtype=float) @ masses / 100)


@pytest.mark.proves("standardizing.with_fat", by="independent", source="blend of the milk with pure fat, by prove")
@settings(max_examples=50, deadline=None)
@given(st.floats(0.05, 10), st.floats(10.5, 60), st.floats(5, 12))
def test_fat_added_is_a_blend_with_pure_fat(before, after, snf):
    """The composition after fat was added is that of the milk blended with fat to the same content."""
    added = pearson_square(100, before, after, lean_kg=100)
    milk, fat = Stream("milk", {"fat": before, "SNF": snf}), Stream("fat", {"fat": 100})
    proof = prove([milk, fat], [100, added.rich_kg])
    assert with_fat(milk.composition, after) == pytest.approx(dict(zip(proof.components, proof.percents, strict=True)))
