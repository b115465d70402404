"""The EU rule set against the texts that it stands on; addresses stand in plant/rules/eu.toml under [sources]."""

import pytest

from plant.rules import rule_set

pytestmark = pytest.mark.once


@pytest.mark.parametrize(
    ("key", "low", "high", "unit", "hold", "basis"),
    [
        # 853/2004 Annex III Section IX Chapter II Part II, quoted. R77
        ("pasteurize-htst", "72", "", "°C", "15 s", "text consulted"),
        ("pasteurize-vat", "63", "", "°C", "30 min", "text consulted"),
        ("uht", "135", "", "°C", "", "text consulted"),
        # Chapter I Part III, quoted. R76
        ("raw-bacteria", "", "100000", "per mL", "", "text consulted"),
        ("somatic-cells", "", "400000", "per mL", "", "text consulted"),
        ("raw-bacteria-other", "", "1500000", "per mL", "", "text consulted"),
        # 2073/2005 Annex I 1.3. R79
        ("listeria-no-growth", "", "100", "per g", "", "text consulted"),
        # from memory: nobody read these
        ("raw-plant", "", "6", "°C", "", "from memory"),
        ("farm-daily", "", "8", "°C", "", "from memory"),
        ("farm", "", "6", "°C", "", "from memory"),
        ("arrival", "", "10", "°C", "", "from memory"),
        ("enterobacteriaceae", "", "10", "per mL", "", "from memory"),
        ("before-heat", "", "300000", "per mL", "", "from memory"),
    ],
)
def test_limits_and_their_bases_are_those_of_the_source(key, low, high, unit, hold, basis):
    """Value, unit, hold and how far its text was read."""
    row = rule_set("eu").rows[key]
    held = f"{row.seconds} s" if row.seconds else f"{row.minutes} min" if row.minutes else ""
    assert (row.low, row.high, row.unit, held, row.basis) == (low, high, unit, hold, basis)


def test_us_gates_are_no_numbers_here():
    """Phosphatase in mU/L, the raise and cut-in belong to the US set alone."""
    rows = rule_set("eu").rows.values()
    assert all(row.unit not in ("°F", "mU/L") for row in rows)
    assert all("cut-in" not in row.title for row in rows)
