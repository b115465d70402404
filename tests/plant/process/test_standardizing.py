"""Standardizing: blends, their proof, refusals that say why, the separator."""

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from plant.process.errors import CalculationError, Infeasible, OutsideRange
from plant.process.standardizing import (
    CannotBlend,
    Stream,
    Target,
    account,
    attainable,
    blend,
    msnf_by_rule,
    pearson_square,
    prove,
    separate,
    skim_to,
    with_fat,
)

pytestmark = pytest.mark.once

CREAM = Stream("cream", {"fat": 40, "SNF": 5.4})
MILK = Stream("milk", {"fat": 3.5, "SNF": 8.685})
SKIM = Stream("skim", {"fat": 0.05, "SNF": 9.0})
FAT_10 = Target.exactly("fat", 10)
MASSES = st.lists(st.floats(0, 1e5), min_size=3, max_size=3).filter(lambda masses: sum(masses) > 1)
FAT = st.floats(0.1, 39.9)


def refusal(*asked, **named):
    with pytest.raises(CannotBlend) as refused:
        blend(*asked, **named)
    return refused.value


# Laws


@settings(max_examples=50, deadline=None)
@given(MASSES)
def test_mass_and_components_are_conserved(masses):
    """What the proof sums up is what went in, and its percents times the whole are its sums."""
    proof = prove([CREAM, MILK, SKIM], masses)
    assert proof.total_kg == pytest.approx(sum(masses))
    for component, summed, percent in zip(proof.components, proof.sums_kg, proof.percents, strict=True):
        went_in = sum(mass * one.percent(component) for mass, one in zip(masses, (CREAM, MILK, SKIM), strict=True))
        assert (100 * summed, percent * proof.total_kg) == pytest.approx((went_in, went_in))


@settings(max_examples=50, deadline=None)
@given(FAT, st.floats(0.001, 1e6), st.floats(0.001, 1000))
def test_masses_follow_the_unit(fat, total, factor):
    """A batch in another unit of mass has the same shares."""
    assume(1e-5 < total * factor < 1e8)
    wanted = [Target.exactly("fat", fat)]
    one, other = blend([CREAM, SKIM], wanted, total), blend([CREAM, SKIM], wanted, total * factor)
    assert other.masses_kg == pytest.approx([mass * factor for mass in one.masses_kg], rel=1e-6, abs=1e-9)


@settings(max_examples=50, deadline=None)
@given(FAT, FAT)
def test_richer_target_takes_more_cream(one, other):
    """The cream rises with the wanted fat."""
    low, high = sorted((one, other))
    creams = [blend([CREAM, SKIM], [Target.exactly("fat", fat)], 100).masses_kg[0] for fat in (low, high)]
    assert creams[0] <= creams[1] + 1e-6


@settings(max_examples=30, deadline=None)
@given(FAT, st.permutations([0, 1, 2]))
def test_order_of_the_streams_does_not_change_the_cost(fat, order):
    """The cheapest blend costs the same however the streams are listed."""
    streams = [
        Stream("cream", CREAM.composition, 3.0),
        Stream("milk", MILK.composition, 0.5),
        Stream("skim", SKIM.composition, 0.3),
    ]
    wanted = [Target("fat", fat, min(fat + 1, 40))]
    cost = blend(streams, wanted, 100).cost
    assert blend([streams[place] for place in order], wanted, 100).cost == pytest.approx(cost, abs=1e-6)


@settings(max_examples=30, deadline=None)
@given(FAT, st.floats(0, 60), st.floats(0.1, 3))
def test_another_stream_never_makes_the_blend_dearer(fat, other_fat, price):
    """More choice costs no more."""
    streams = [Stream("cream", {"fat": 40}, 3.0), Stream("skim", {"fat": 0.05}, 0.3)]
    wanted = [Target.exactly("fat", fat)]
    more = [*streams, Stream("other", {"fat": other_fat}, price)]
    assert blend(more, wanted, 100).cost <= blend(streams, wanted, 100).cost + 1e-5


@settings(max_examples=50, deadline=None)
@given(FAT, st.floats(1, 1e5))
def test_square_and_blend_agree(fat, total):
    """Two streams to one content: the Pearson square is the blend."""
    square = pearson_square(40, 0.05, max(fat, 0.05), total_kg=total)
    found = blend([CREAM, SKIM], [Target.exactly("fat", max(fat, 0.05))], total)
    assert found.masses_kg == pytest.approx((square.rich_kg, square.lean_kg), rel=1e-6, abs=1e-6 * total)


@settings(max_examples=50, deadline=None)
@given(st.floats(0.1, 60), st.floats(0.1, 60))
def test_fat_taken_out_and_put_back_changes_nothing(before, after):
    """with_fat there and back gives the first composition."""
    first = {"fat": before, "protein": 3.3, "lactose": 4.7}
    assert with_fat(with_fat(first, after), before) == pytest.approx(first)


# Quantities


def test_quantity_that_must_be_used_up_is_used_up():
    """All 30 kg of milk go in although cream and skim alone would do."""
    milk = Stream("milk", MILK.composition, least_kg=30, most_kg=30)
    found = blend([CREAM, milk, SKIM], [FAT_10], 100)
    assert found.masses_kg[1] == pytest.approx(30)
    assert found.proof.holds()


def test_no_more_is_used_than_there_is():
    """Of the cheap cream only the 10 kg at hand are used, the rest is the dear one."""
    cheap, dear = Stream("cheap", {"fat": 40}, 1.0, most_kg=10), Stream("dear", {"fat": 40}, 3.0)
    found = blend([cheap, dear, Stream("skim", {}, 0.2)], [FAT_10], 100)
    assert found.masses_kg == pytest.approx((10, 15, 75))


def test_range_is_met_where_it_is_cheapest():
    """Between 10 and 12 % fat the lower end is the cheaper one."""
    streams = [Stream("cream", {"fat": 40}, 3.0), Stream("skim", {}, 0.3)]
    assert blend(streams, [Target("fat", 10, 12)], 100).proof.percents[0] == pytest.approx(10)


def test_least_of_a_stream_goes_before_the_price():
    """As little powder as can be, although powder is the cheapest."""
    streams = [Stream("milk", {"SNF": 8.685}, 1.0), Stream("powder", {"SNF": 96}, 0.1), Stream("water", {}, 0.0)]
    cheap = blend(streams, [Target("SNF", 8)], 100)
    spared = blend(streams, [Target("SNF", 8)], 100, least_of="powder")
    assert cheap.masses_kg[1] > 5
    assert spared.masses_kg[1] == pytest.approx(0, abs=1e-9)


def test_of_streams_that_are_alike_the_first_is_used():
    """Two creams of one composition and price: the first listed, and the answer says that it is not the only one."""
    found = blend([Stream("a", {"fat": 40}, 1), Stream("b", {"fat": 40}, 1), Stream("skim", {}, 1)], [FAT_10], 100)
    assert found.masses_kg == pytest.approx((25, 0, 75))
    assert not found.only_answer
    assert found.spread_kg[1] == pytest.approx((0, 25))


def test_without_targets_the_first_stream_fills_the_batch():
    """Nothing wanted, no prices: all of the first stream."""
    assert blend([CREAM, SKIM], [], 50).masses_kg == pytest.approx((50, 0))


def test_redundant_targets_do_no_harm():
    """Fat, SNF and their sum together have the same answer as the first two."""
    streams = [
        Stream(one.name, {**one.composition, "solids": sum(one.composition.values())}) for one in (CREAM, MILK, SKIM)
    ]
    two = blend(streams, [FAT_10, Target("SNF", 8)], 100)
    solids = sum(two.proof.percents[:2])
    three = blend(streams, [FAT_10, Target("SNF", 8), Target.exactly("solids", solids)], 100)
    assert three.proof.holds(1e-5)


@pytest.mark.parametrize("total", [1e-6, 1e9])
def test_smallest_and_greatest_batch_are_worked_out(total):
    """The ends of the range have the shares of any batch."""
    assert blend([CREAM, SKIM], [FAT_10], total).masses_kg[0] / total == pytest.approx(9.95 / 39.95)


# Refusals that say why


def test_too_lean_a_wish_names_the_leanest_stream():
    """Fat 3 % from cream and milk 3.5 %: half a point too much, and the leanest stream is the milk."""
    error = refusal([CREAM, MILK], [Target.exactly("fat", 3)], 100)
    assert "The leanest of the streams has 3.5 % fat (milk)." in str(error)
    assert "0.5 percentage points too much" in str(error)
    assert (error.target, error.wanted, error.unit) == ("fat", 3, "%")
    assert (error.lowest, error.highest) == pytest.approx((3.5, 40))


def test_too_rich_a_wish_names_the_richest_stream():
    """Fat 50 % from cream and milk."""
    assert "The richest of the streams has 40 % fat (cream)." in str(refusal([CREAM, MILK], [Target("fat", 50)], 100))


def test_stream_that_runs_out_is_named():
    """Ten kg of cream are too little for 12 % in 100 kg."""
    error = refusal([Stream("cream", {"fat": 40}, most_kg=10), MILK], [Target.exactly("fat", 12)], 100)
    assert "There is too little of: cream." in str(error)
    assert error.reaches[0].short_of == ("cream",)
    assert error.highest == pytest.approx(7.15)


def test_stream_that_must_be_used_up_is_named():
    """All 160 kg of cream in 300 kg cannot come to 10 %."""
    cream = Stream("cream", {"fat": 40}, least_kg=160, most_kg=160)
    error = refusal([cream, SKIM], [Target("fat", high=10)], 300)
    assert "In the way is what must be used up of: cream." in str(error)
    assert error.reaches[0].forced == ("cream",)


def test_component_that_no_stream_holds_is_named():
    """A wish for lactose from streams without it says so."""
    assert str(refusal([CREAM, SKIM], [Target.exactly("lactose", 2)], 100)) == "None of the streams holds lactose."


def test_targets_that_shut_each_other_out_are_listed_with_their_misses():
    """Three wishes of which no two go together: the nearest blend and its misses."""
    streams = [Stream(name, {name: 30}) for name in ("a", "b", "c")]
    error = refusal(streams, [Target.exactly(name, 20) for name in ("a", "b", "c")], 100)
    assert str(error).startswith("The targets cannot be met together.")
    assert sum(abs(one.miss) for one in error.reaches) == pytest.approx(30)
    assert all(one.together is None for one in error.reaches)


def test_nearest_blend_has_the_least_total_violation():
    """Fat 20 and SNF 20 from 30 % each: 10 points are missed in all, and its proof shows it."""
    streams = [Stream("a", {"fat": 30}), Stream("b", {"SNF": 30}), Stream("water")]
    error = refusal(streams, [Target.exactly("fat", 20), Target.exactly("SNF", 20)], 100)
    assert sum(abs(one) for one in error.nearest.differences) == pytest.approx(10)
    assert error.nearest.total_kg == pytest.approx(100)


def test_wish_that_is_only_approached_is_refused():
    """160 kg of cream never come to 0 % however much skim without fat is added."""
    cream = Stream("cream", {"fat": 40}, least_kg=160, most_kg=160)
    error = refusal([cream, Stream("skim")], [Target.exactly("fat", 0)])
    assert "only approached" in str(error)
    assert error.nearest is None


@pytest.mark.parametrize(
    ("streams", "said"),
    [
        ([Stream("cream", {}, least_kg=120)], "The quantities to be used come to 120 kg, more than the 100 kg"),
        ([Stream("cream", {}, most_kg=80)], "All the streams together are 80 kg, less than the 100 kg"),
    ],
)
def test_quantities_that_do_not_make_the_batch_are_refused(streams, said):
    """Too much to be used up, or too little at hand."""
    with pytest.raises(Infeasible, match=said):
        blend(streams, [], 100)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (lambda: blend([], [FAT_10], 100), "at least one stream"),
        (lambda: blend([CREAM, CREAM], [FAT_10], 100), "cream is there twice"),
        (lambda: blend([CREAM], [FAT_10, FAT_10], 100), "fat is there twice"),
        (lambda: blend([CREAM, MILK], [FAT_10]), "how much is to be made"),
        (lambda: blend([CREAM, MILK], [FAT_10], 100, least_of="water"), "water is not one of the streams: cream, milk"),
        (lambda: blend([CREAM, Stream("skim", {}, 0.3)], [FAT_10], 100), "cream has no price"),
        (lambda: blend([Stream(str(n)) for n in range(41)], [], 1), "At most 40 streams"),
        (lambda: Stream(" "), "needs a name"),
        (lambda: Target("fat"), "no value"),
        (lambda: prove([CREAM], [1, 2]), "one mass for each stream"),
        (lambda: prove([CREAM], [0]), "nothing in the blend"),
        (lambda: with_fat({"water": 90}, 3), "how much fat"),
        (lambda: pearson_square(4, 4, 4), "hold more than the lean"),
        (lambda: pearson_square(40, 4, 10, rich_kg=1, lean_kg=1), "Give one quantity"),
        (lambda: pearson_square(40, 4, 10, rich_kg=0), "more than nothing"),
        (lambda: separate(100, 4, 0.05, 0.05), "more fat than the skim"),
        (lambda: separate(100, 0, 40, 0), "no fat to separate"),
        (lambda: account(0, 4, 0, 40, 0, 0.1), "no fat to separate"),
    ],
)
def test_unclear_wish_is_refused_in_a_sentence(asked, said):
    """Each is a CalculationError with its reason."""
    with pytest.raises(CalculationError, match=said):
        asked()


@pytest.mark.parametrize(
    "asked",
    [
        lambda: Stream("cream", {"fat": 101}),
        lambda: Stream("cream", {"fat": math.nan}),
        lambda: Stream("cream", price=-1),
        lambda: Stream("cream", least_kg=-1),
        lambda: Stream("cream", least_kg=5, most_kg=4),
        lambda: Stream("cream", most_kg=math.inf),
        lambda: Target("fat", 5, 4),
        lambda: Target("fat", -1),
        lambda: blend([CREAM], [], 0),
        lambda: blend([CREAM], [], math.inf),
        lambda: prove([CREAM], [-1]),
        lambda: msnf_by_rule(81),
        lambda: msnf_by_rule(-0.1),
        lambda: with_fat({"fat": 100}, 3),
        lambda: pearson_square(101, 0, 10),
        lambda: separate(-1, 4, 40, 0.05),
        lambda: separate(100, 4, 40, 0.05, loss_kg=101),
        lambda: separate(100, 4, 40, 0.05, milk_snf=97),
        lambda: account(100, 4, -1, 40, 90, 0.05),
        lambda: skim_to(100, 4, 40, 0.05, 101),
    ],
)
def test_value_outside_its_range_is_refused(asked):
    """Nothing is extrapolated."""
    with pytest.raises(OutsideRange):
        asked()


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (lambda: pearson_square(40, 4, 41), "the richest of the streams has 40 %"),
        (lambda: pearson_square(40, 4, 3), "the leanest of the streams has 4 %"),
        (lambda: pearson_square(40, 4, 4, rich_kg=5), "needs none of that stream"),
        (lambda: separate(100, 41, 40, 0.05), "not between skim with 0.05 % and cream with 40 %"),
        (lambda: separate(100, 0.04, 40, 0.05), "not between skim"),
        (lambda: skim_to(100, 4, 40, 0.05, 4.5), "Add cream"),
        (lambda: skim_to(100, 4, 40, 0.05, 0.01), "the skim has 0.05 %"),
    ],
)
def test_wish_that_cannot_be_met_says_why(asked, said):
    """Each is Infeasible with the numbers that stand in the way."""
    with pytest.raises(Infeasible, match=said):
        asked()


# The rest


def test_square_at_either_stream_needs_none_of_the_other():
    """At the rich content all is rich, at the lean content all is lean."""
    assert pearson_square(40, 4, 40, total_kg=10).lean_kg == 0
    assert pearson_square(40, 4, 4, total_kg=10).rich_kg == 0


@pytest.mark.parametrize("off", [-0.001, 0.001])
def test_proof_does_not_hold_when_a_target_or_the_mass_is_off(off):
    """A thousandth of a kilogram in 100 is found."""
    masses = [10.0 + off, 90.0]
    targets = [Target.exactly("fat", 4.0)]
    assert not prove([Stream("cream", {"fat": 40}), Stream("skim")], masses, targets).holds()
    assert not prove([Stream("cream", {"fat": 40}), Stream("skim")], masses, (), 100).holds()
    assert prove([Stream("cream", {"fat": 40}), Stream("skim")], [10, 90], targets, 100).holds()


def test_loss_takes_fat_from_the_cream():
    """10 kg of sludge with 5 % fat leave less cream, and its fat is counted."""
    without, lossy = separate(1000, 4, 40, 0.05), separate(1000, 4, 40, 0.05, loss_kg=10, loss_fat=5)
    assert lossy.cream_kg < without.cream_kg
    assert lossy.loss_fat_kg == pytest.approx(0.5)
    assert lossy.cream_kg + lossy.skim_kg == pytest.approx(990)


def test_solids_not_fat_follow_the_serum():
    """By the 9 % rule in the milk, cream and skim keep the rule."""
    found = separate(1000, 4, 40, 0.05, milk_snf=msnf_by_rule(4))
    assert (found.cream_snf, found.skim_snf) == pytest.approx((msnf_by_rule(40), msnf_by_rule(0.05)))


def test_reach_of_a_free_whole_goes_up_to_the_richest_stream():
    """With 10 kg of milk to be used and any amount of cream, fat is only bounded by the cream's."""
    milk = Stream("milk", {"fat": 4}, least_kg=10, most_kg=10)
    [fat] = attainable([milk, Stream("cream", {"fat": 40})], [FAT_10])
    assert fat.alone == pytest.approx((4, 40))
    assert fat.gap == 0
