"""The judging of traces against a second one in plain loops, on 500 random traces: same verdicts, same findings."""

import random
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest

from plant.process.limits import Limit
from plant.process.pasteurization import Method, ProductClass, Row
from plant.process.pasteurization import judge as judge_pair
from plant.process.trace_blocks import Samples
from plant.process.trace_judging import (
    Band,
    Cause,
    Channel,
    FlowState,
    Indicated,
    Kind,
    PasteurizerTrace,
    Run,
    SetUpWindow,
    Signal,
    TankTrace,
    TimedLimit,
    Watched,
    flow_segments,
    judge_pasteurizer,
    judge_tank,
)
from tests.trace_loops import Limited, excursions, proving, state, worst

pytestmark = pytest.mark.once

LENGTH, SLOWEST = 60, 3
MILK = Row("a", (ProductClass.MILK,), Method.HTST, Decimal(161), "°F", Decimal(15), "21 CFR 1240.61(b)", "read")
RAISED = Row("b", (ProductClass.RAISED,), Method.HTST, Decimal("161.3"), "°F", Decimal(15), "footnote 1", "read")
ROWS = {"milk": (MILK,), "raised": (RAISED,)}
LIMITS = {"milk": Fraction(161), "raised": Fraction(1613, 10)}
COLD = Limit("cold", "temperature", "°F", high=Decimal(45))


class Case:
    """One random trace, as plain lists and as arrays."""

    def __init__(self, seed: int) -> None:
        self.random = random.Random(seed)
        self.celsius = seed % 2 == 1
        self.places = 2 if self.celsius else 1
        self.valve = self.sampled(lambda: int(self.random.random() < 0.7), sticky=0.8)
        self.pump = self.sampled(lambda: int(self.random.random() < 0.8), sticky=0.8)
        low, high = (7155, 7190) if self.celsius else (1605, 1618)
        self.levels = self.sampled(lambda: self.random.randint(low, high), sticky=0.3)
        self.cold = self.sampled(lambda: self.random.randint(440, 453), sticky=0.5)
        first, second = sorted(self.random.sample(range(5, LENGTH - 5), 2))
        gap = self.random.choice([0, 0, 4])
        self.bands = [(0, first, "milk", "A"), (first, second, "raised", "B"), (second + gap, LENGTH, "milk", "C")]
        if self.random.random() < 0.2:
            self.bands[1] = (first, second, "", "")
        self.until = self.random.choice([None, None, self.random.randint(5, LENGTH)])
        self.apart = Fraction(self.random.choice([-2, -1, 0, 0, 1, 2]), 10)
        self.known: dict[Fraction, str] = {}
        self.loops = None

    def sampled(self, draw, sticky):
        """Samples with gaps and failures: [(moment, whole number or None)]."""
        found, at, value = [], self.random.choice([-2, 0, 0, 0, 3]), draw()
        while at <= LENGTH + 2:
            if self.random.random() > sticky:
                value = draw()
            found.append((at, None if self.random.random() < 0.02 else value))
            at += self.random.choice([1, 1, 1, 1, 2, 3, 4] if self.random.random() < 0.9 else [5, 9])
        return found

    def samples(self, given, places):
        """The same as arrays."""
        return Samples(
            np.array([at for at, _value in given], np.int64),
            np.array([value or 0 for _at, value in given], np.int64),
            np.array([value is None for _at, value in given], np.bool_),
            places,
        )

    def trace(self):
        """All of it as the judging takes it."""
        unit = "°C" if self.celsius else "°F"
        indicated = Indicated(0, Fraction(165), "°F", recording=165 + self.apart)
        cold = Channel("cold", "°F", self.samples(self.cold, 1), SLOWEST)
        return PasteurizerTrace(
            start_ms=0,
            end_ms=LENGTH,
            temperature=Channel("recorder", unit, self.samples(self.levels, self.places), SLOWEST),
            forward=Signal("valve", self.samples(self.valve, 0), SLOWEST),
            running=Signal("pump", self.samples(self.pump, 0), SLOWEST),
            bands=tuple(Band(*one) for one in self.bands),
            set_ups=(SetUpWindow(0, LENGTH, "s", 16, ("milk", "raised"), 0, counts_until_ms=self.until),),
            runs=(Run(0, LENGTH, (indicated,)),),
            rows=ROWS,
            watched=(Watched(Kind.COOLING, cold, COLD),),
        )

    # The same in loops.

    def flow(self, at):
        """The state of flow at a moment."""
        if at not in self.known:
            self.known[at] = self._flow(at)
        return self.known[at]

    def _flow(self, at):
        valve, pump = (state(plain(one, 0), at, SLOWEST) for one in (self.valve, self.pump))
        if valve is None:
            return "not known"
        return "forward flow" if valve else "stopped" if pump == 0 else "diverted"

    def product(self, at):
        """The class at a moment; None where no band is. The last moment of all belongs to what ends there."""
        for start, end, named, _lot in self.bands:
            if start <= at < end or (at == end == LENGTH):
                return named
        return None

    def forward(self, at):
        """Whether at a moment product was, or may have been, in forward flow."""
        return 0 <= at <= LENGTH and self.flow(at) == "forward flow" and self.product(at) != ""

    def corrected(self):
        """The temperatures in °F, the worse of as recorded and corrected."""
        rows = [(at, None if one is None else Fraction(one, 10**self.places)) for at, one in self.levels]
        fahrenheit = [(at, one if one is None or not self.celsius else one * 9 / 5 + 32) for at, one in rows]
        return [(at, None if one is None else min(one, one - self.apart)) for at, one in fahrenheit]

    def hot(self):
        """The temperature in loops."""
        if self.loops is None:
            self.loops = Limited(self.corrected(), SLOWEST, self.below, self.forward)
        return self.loops

    def below(self, value, at):
        """Whether a temperature is below the row of a moment."""
        return self.product(at) in LIMITS and value < LIMITS[self.product(at)]


def plain(given, places):
    """Whole numbers as fractions."""
    return [(at, None if value is None else Fraction(value, 10**places)) for at, value in given]


SEEDS = [range(start, start + 50) for start in range(0, 500, 50)]


@pytest.mark.proves("trace_judging.judge_pasteurizer", by="independent", source="plain loops, fractions, written apart")
@pytest.mark.proves("trace_judging.flow_segments", by="independent", source="plain loops, written apart")
@pytest.mark.parametrize("seeds", SEEDS, ids=str)
def test_plain_loops_come_to_the_same(seeds):
    """Flow, the verdict of each millisecond, excursions to the last digit, cooling, cut-in and cut-out, lots."""
    for seed in seeds:
        case = Case(seed)
        found = judge_pasteurizer(case.trace())
        _same_flow(case, found, seed)
        _same_verdicts(case, found, seed)
        _same_excursions(case, found, seed)
        _same_crossings(case, found, seed)


def _same_flow(case, found, seed):
    assert found.segments == flow_segments(case.trace().forward, case.trace().running, 0, LENGTH)
    for t in range(LENGTH):
        mine = [one for one in found.segments if one.start_ms <= t < one.end_ms]
        assert [one.state.value for one in mine] == [case.flow(t + Fraction(1, 2))], (seed, t)


def _same_verdicts(case, found, seed):
    hot = case.hot()
    for t in range(LENGTH):
        at = t + Fraction(1, 2)
        flow, named = case.flow(at), case.product(at)
        wanted = None
        if flow in ("forward flow", "not known") and named != "":
            out, unproven, _bad = hot.between(t)
            overdue = case.until is not None and t >= case.until
            wanted = "not proven" if flow == "not known" or named is None or unproven or overdue else "met"
            if flow == "forward flow" and named is not None and out:
                wanted = "not met"
        mine = [one.outcome.value for one in found.spans if one.start_ms <= t < one.end_ms]
        assert mine == ([wanted] if wanted else []), (seed, t)
    assert sum(one.seconds for one in found.spans) == sum(
        found.seconds(one) for one in {one.outcome for one in found.spans}
    )


def _same_excursions(case, found, seed):
    def inside(t):
        at = t + Fraction(1, 2)
        return owner(at) if case.flow(at) == "forward flow" else None

    def owner(at):
        if not case.forward(at) or case.product(at) is None:
            return None
        # Bands that touch and have one class are one; and a test that ends parts what it is judged by.
        overdue = case.until is not None and at >= case.until
        return (case.product(at), [one[2] for one in case.bands if one[0] <= at].count("milk"), overdue)

    every = excursions(case.hot(), inside, owner, 0, LENGTH)
    mine = [one for one in found.findings if (one.kind, one.cause) == (Kind.TEMPERATURE, Cause.PROCESS)]
    assert [(one.start_ms, one.end_ms, one.extreme, one.lots) for one in mine] == [
        (start, end, worst(values, True), tuple(_lots(case, start, end))) for start, end, values in every
    ], seed
    assert all(one.seconds == Decimal(one.end_ms - one.start_ms) / 1000 for one in mine)
    cold = Limited(plain(case.cold, 1), SLOWEST, lambda value, _at: value > 45, case.forward)
    flowing = [t for t in range(LENGTH) if case.flow(t + Fraction(1, 2)) == "forward flow"]
    wanted = excursions(
        cold,
        lambda t: True if t in flowing and case.product(t + Fraction(1, 2)) != "" else None,
        lambda at: True if case.forward(at) else None,
        0,
        LENGTH,
    )
    mine = [one for one in found.findings if (one.kind, one.cause) == (Kind.COOLING, Cause.PROCESS)]
    assert [(one.start_ms, one.end_ms, one.extreme) for one in mine] == [
        (start, end, worst(values, False)) for start, end, values in wanted
    ], seed


def _lots(case, start, end):
    for since, until, _class, lot in case.bands:
        if lot and ((since < end and start < until) or (start == end and since <= start <= until)):
            yield lot


def _same_crossings(case, found, seed):
    """By moments of change of the state, looked for at each half of a millisecond."""
    halves = [Fraction(half, 2) for half in range(2 * LENGTH + 1)]
    wanted = []
    for before, at in zip(halves, halves[1:], strict=False):
        was, becomes = case.flow(before), case.flow(at)
        if was == becomes or "not known" in (was, becomes) or "forward flow" not in (was, becomes):
            continue
        into = becomes == "forward flow"
        inside = at if into else before
        if case.product(inside) == "":
            continue
        wanted.append(("cut-in" if into else "cut-out", int(at)))
    assert [(one.kind.value, one.at_ms) for one in found.crossings] == wanted, seed
    hot = case.hot()
    for one in found.crossings:
        good = proving(hot.samples)
        moment = Fraction(one.at_ms)
        first = one.kind is Kind.CUT_IN
        near = [each for each in good if (each[0] >= moment if first else each[0] < moment)]
        if not near or one.temperature is None:
            continue
        taken = near[0] if first else near[-1]
        part = halves[halves.index(min(taken[0], moment) * Fraction(1)) :] if taken[0] >= 0 else []
        steady = all(
            case.flow(half) == "forward flow" for half in part if min(taken[0], moment) <= half < moment
        ) and all(case.flow(half) == "forward flow" for half in halves if moment <= half <= taken[0])
        if steady and 0 <= taken[0] <= LENGTH:
            assert one.temperature == taken[1], seed
            if hot.out(taken[1], moment if first else moment - Fraction(1, 2)):
                assert one.outcome.value == "not met", seed
            else:
                assert one.outcome.value in ("met", "not proven"), seed


@pytest.mark.proves("trace_judging.judge_tank", by="independent", source="plain loops, fractions, written apart")
@pytest.mark.parametrize("seeds", SEEDS[:4], ids=str)
def test_tank_in_plain_loops_comes_to_the_same(seeds):
    """Each excursion above 45 °F while it held product, and the time in limits."""
    for seed in seeds:
        case = Case(seed)
        channel = Channel("silo", "°F", case.samples(case.cold, 1), SLOWEST)
        bands = tuple(Band(*one) for one in case.bands)
        found = judge_tank(TankTrace(0, LENGTH, channel, bands, (TimedLimit(COLD),)))

        def held(at, case=case):
            return True if 0 <= at <= LENGTH and case.product(at) else None

        loops = Limited(
            plain(case.cold, 1), SLOWEST, lambda value, _at: value > 45, lambda at, held=held: bool(held(at))
        )
        wanted = excursions(loops, lambda t, held=held: held(t + Fraction(1, 2)), held, 0, LENGTH)
        mine = [one for one in found.findings if one.cause is Cause.PROCESS]
        assert [(one.start_ms, one.end_ms, one.extreme) for one in mine] == [
            (start, end, worst(values, False)) for start, end, values in wanted
        ], seed
        good = [t for t in range(LENGTH) if held(t + Fraction(1, 2)) and loops.between(t)[:2] == (False, False)]
        assert found.met_s == Decimal(len(good)) / 1000, seed
        assert found.held_s == Decimal(sum(1 for t in range(LENGTH) if held(t + Fraction(1, 2)))) / 1000


@pytest.mark.proves("trace_judging.least_passing", by="independent", source="pasteurization.judge, one pair at a time")
@pytest.mark.parametrize("unit", ["°F", "°C"])
def test_each_value_alone_is_judged_as_the_table_judges_a_pair(unit):
    """A trace of two equal samples is met exactly where the pair of temperature and hold is."""
    around = range(1600, 1620) if unit == "°F" else range(7160, 7180)
    places = 1 if unit == "°F" else 2
    for value in around:
        for hold_s in (Decimal("14.9"), Decimal(15)):
            samples = Samples(np.array([0, 1]), np.array([value, value]), np.zeros(2, np.bool_), places)
            valve = Samples(np.array([0, 1]), np.array([1, 1]), np.zeros(2, np.bool_), 0)
            trace = PasteurizerTrace(
                0, 1, Channel("r", unit, samples, 1), Signal("v", valve, 1), (Band(0, 1, "milk", "A"),),
                (SetUpWindow(0, 1, "s", hold_s, ("milk",), 0),), (Run(0, 1, (Indicated(0, 1, "°F", recording=1),)),),
                ROWS,
            )  # fmt: skip
            pair = judge_pair(Fraction(value, 10**places), unit, hold_s, [MILK], Method.HTST)
            assert (judge_pasteurizer(trace).outcome.value == "met") == pair.met, (value, hold_s)


def test_the_random_traces_show_everything():
    """Else their agreement would say little: each state, outcome and kind of crossing is among them."""
    every = [judge_pasteurizer(Case(seed).trace()) for seed in range(60)]
    assert {one.state for each in every for one in each.segments} == set(FlowState)
    assert {one.outcome.value for each in every for one in each.spans} == {"met", "not met", "not proven"}
    assert {one.outcome.value for each in every for one in each.crossings} == {"met", "not met", "not proven"}
    assert any(one.start_ms == one.end_ms for each in every for one in each.findings if one.cause is Cause.PROCESS)
