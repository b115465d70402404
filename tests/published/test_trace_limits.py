"""A trace beside a legal limit, against the law's printed degrees and a slow second method."""

from decimal import Decimal
from fractions import Fraction

import numpy as np
import pytest

from plant.process.limits import Limit
from plant.process.trace import below_limit, least_reading, longer_steps

pytestmark = pytest.mark.once

# 21 CFR 1240.61(b): °F governs, °C as printed (https://lexbuild.dev/ecfr/title-21/chapter-I/part-1240/section-1240.61).
PRINTED = [("145", 63), ("161", 72), ("191", 89), ("194", 90), ("201", 94), ("204", 96), ("212", 100)]


def limit(fahrenheit):
    return Limit("row", "temperature", "°F", low=Decimal(fahrenheit))


@pytest.mark.proves("trace.least_reading", by="published", source="21 CFR 1240.61(b), table")
@pytest.mark.proves("trace.below_limit", by="published", source="21 CFR 1240.61(b), table")
@pytest.mark.parametrize(("fahrenheit", "celsius"), PRINTED)
def test_printed_celsius_meets_the_governing_fahrenheit(fahrenheit, celsius):
    """The law prints °C rounded up: the printed degree meets, one degree less does not."""
    least = least_reading(limit(fahrenheit), "°C")
    assert celsius - 1 < least <= celsius
    assert below_limit([0, 1], [celsius, celsius], limit(fahrenheit)).samples_below == 0
    assert below_limit([0, 1], [celsius, celsius - 1], limit(fahrenheit)).samples_below == 1


@pytest.mark.proves("trace.below_limit", by="published", source="5 C vat record with the 145 F row, counted by hand")
def test_vat_record_is_counted_by_hand():
    """Readings each 5 min, 63.2 to 63.1 °C from minute 15 to 35: 20 min on end, nothing credited to the ramps."""
    minutes = np.arange(0, 50, 5)
    levels = [55, 60, 62.5, 63.2, 63.4, 63.5, 63.3, 63.1, 60, 50]
    found = below_limit(minutes * 60, levels, limit("145"), step_s=300)
    assert (found.longest_met_s, found.seconds_below, found.seconds_not_proven) == (1200, 1500, 0)


@pytest.mark.proves("trace.below_limit", by="independent", source="loop over exact fractions, written out")
@pytest.mark.proves("trace.longer_steps", by="independent", source="loop over exact fractions, written out")
@pytest.mark.parametrize("seed", range(4))
def test_loop_over_exact_fractions_comes_to_the_same(seed):
    """Each reading as the exact decimal it prints, converted to °F, compared one by one; gaps by their length."""
    random = np.random.default_rng(seed)
    steps = random.choice([1.0, 1.0, 1.0, 1.0, 2.0, 7.0], 400)
    times = np.concatenate(([0.0], np.cumsum(steps)))
    levels = (71.7 + random.normal(0, 0.15, 401)).round(2)
    met = [Fraction(repr(one)) * Fraction(9, 5) + 32 >= 161 for one in levels.tolist()]
    wanted = {"met": 0.0, "below": 0.0, "gap": 0.0}
    longest = run = 0.0
    for place, step in enumerate(steps.tolist()):
        state = "gap" if step > 1 else "met" if met[place] and met[place + 1] else "below"
        wanted[state] += step
        run = run + step if state == "met" else 0.0
        longest = max(longest, run)
    found = below_limit(times, levels, limit("161"), step_s=1)
    assert (found.seconds_met, found.seconds_below, found.seconds_not_proven) == tuple(wanted.values())
    assert (found.longest_met_s, found.samples_below) == (longest, met.count(False))
    assert longer_steps(steps, 1).sum() == sum(step > 1 for step in steps.tolist())
