"""The cup against figures that others published: overrun, and the least weight of a gallon of ice cream."""

from __future__ import annotations

from decimal import Decimal

import pytest

from plant.process.overrun.gallon import LEAST_WEIGHT_LB_GAL
from plant.rules import rule_set
from records.freezer_runs.cup import LEAST_LB_GAL, weighed

D = Decimal


def test_a_cup_gives_the_overrun_of_the_published_examples() -> None:
    """Guelph, package overrun by weight: 1090 and 560 g/L give 94.6 %; a cup of 140, 134.8 and 30 g gives 5 %."""
    # University of Guelph, figuring package overrun by weight (no particulates).
    assert round(weighed(D(1090), D(560), D(0)).overrun, 1) == D("94.6")
    # https://www.scribd.com/document/495662971/Overrun-calculations, table of cups: 104.8 g net at 5 %.
    assert round(weighed(D(140), D("134.8"), D(30)).overrun, 0) == 5


def test_the_least_weight_is_that_of_the_standard_of_identity() -> None:
    """21 CFR 135.110(a)(2): not less than 4.5 pounds to the gallon; a 9.15 lb mix reaches it at 103.3 %."""
    assert LEAST_LB_GAL == D("4.5") == D(str(LEAST_WEIGHT_LB_GAL))
    assert D(rule_set("us").rows["ice-cream-weight"].low) == LEAST_LB_GAL
    # Computed from the standard: 9.15/4.5 - 1 = 103.33 %; just below it is met, just above it is not.
    met, missed = weighed(D(2033), D(1000), D(0), D("9.15")), weighed(D("2034"), D(1000), D(0), D("9.15"))
    assert met.lb_gal is not None and missed.lb_gal is not None
    assert met.lb_gal >= LEAST_LB_GAL > missed.lb_gal


def test_no_rounding_brings_a_cup_into_its_limits() -> None:
    """100.001 % is above 100; 69.999 % is below 70; 4.4999 lb/gal is below 4.5; and exactly 100 % stays 100."""
    assert weighed(D("200.001"), D(100), D(0)).overrun > 100
    assert weighed(D("169.999"), D(100), D(0), low=D(70)).overrun < 70
    light = weighed(D("200.005"), D(100), D(0), D(9)).lb_gal
    assert light is not None and light < D("4.5")
    assert weighed(D(200), D(100), D(0), D(9)).overrun == 100
    assert weighed(D(200), D(100), D(0), D(9)).lb_gal == D("4.5")


@pytest.mark.parametrize("product", ["0", "30"])
def test_an_empty_cup_is_no_cup(product: str) -> None:
    """Nothing in it: refused, never a number."""
    with pytest.raises(ValueError, match="mass|outside|range"):
        weighed(D(140), D(product), D(30))
