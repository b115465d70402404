"""The mass balance of a day: published examples through its own code path, random days, and the day sheet."""

from __future__ import annotations

import html
import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import given, settings
from hypothesis import strategies as st

from plant import clock
from plant.process.mass_balance import balances_of
from plant.process.mass_balance.plant_day import (
    DayMove,
    DayStock,
    balance_of_day,
    loss_of_day,
    part_amount,
    part_within,
    streams_of_day,
)
from records.flow.actions import LevelData, see_level
from records.ledger import canonical
from records.reports.html import sheet_html
from records.review import queries, sheet
from tests.conftest import NOW, Plant
from tests.records.flow.made import HOUR, made_ready, moved, ran

EMPTY = (0.0, 0.0)


def stocks(*vessels: str, **starts: tuple[float, float]) -> list[DayStock]:
    """Empty at the end, and at the start but for those named."""
    return [DayStock(one, f"{one} before", f"{one} after", starts.get(one, EMPTY), EMPTY) for one in vessels]


@pytest.mark.once
def test_exchanger_with_bypass_as_a_day() -> None:
    """Narasimhan and Jordache, Data Reconciliation, 2000, ch. 1 (data from memory): six meters, four vessels."""
    ways = [
        (None, "A", 101.91), ("A", "B", 64.45), ("A", "C", 34.65), ("B", "D", 64.20), ("C", "D", 36.44),
        ("D", None, 98.88),
    ]  # fmt: skip
    moves = [DayMove(str(at + 1), here, there, amount=(kg, 1)) for at, (here, there, kg) in enumerate(ways)]
    found = balance_of_day(streams_of_day(moves, stocks("A", "B", "C", "D"))).found
    assert found.values[:6] == pytest.approx([100.22, 64.50, 35.72, 64.50, 35.72, 100.22], abs=0.005)
    assert found.statistic == pytest.approx(6.41, abs=0.005) and found.limit == pytest.approx(9.488, abs=5e-4)
    assert found.z[:6] == pytest.approx([2.07, -0.06, -1.31, -0.37, 0.88, -1.64], abs=0.005)


@pytest.mark.once
def test_a_separator_day_names_nobody() -> None:
    """Milk 10,000 ± 50, skim 9,020 ± 45, cream 1,060 ± 10 kg (recomputed): one balance, all |z| 1.176.

    With the skim 300 kg short the day does not fit, and no measurement can be named.
    """

    def day(skim: float) -> Any:
        moves = [
            DayMove("skim", "Silo", None, "Separator", (skim, 45)),
            DayMove("cream", "Silo", None, "Separator", (1060, 10)),
        ]
        return balance_of_day(streams_of_day(moves, stocks("Silo", Silo=(10000, 50)))).found

    found = day(9020)
    there = [found.place(name) for name in ("Silo before", "skim", "cream")]
    assert found.values[there] == pytest.approx([10043.2, 8985.0, 1058.3], abs=0.1)
    assert found.statistic == pytest.approx(1.38, abs=0.01) and abs(found.z[there]) == pytest.approx(1.176, abs=1e-3)
    assert found.finding.kind == "fits"
    short = day(8720).finding
    assert short.kind == "not separable" and set(short.suspects) == {"Silo before", "skim", "cream"}


VESSELS = ("A", "B", "C")
PLACES = st.sampled_from((None, *VESSELS))
AMOUNTS = st.one_of(st.just((None, None)), st.tuples(st.floats(1, 5000), st.floats(0.5, 50)))
MOVES = st.lists(st.tuples(PLACES, PLACES, st.sampled_from(("", "Press")), AMOUNTS), min_size=1, max_size=8)


@pytest.mark.once
@given(MOVES, st.lists(AMOUNTS, min_size=6, max_size=6))
@settings(max_examples=60, deadline=None)
def test_reconciled_amounts_satisfy_every_balance(ways: Any, stood: Any) -> None:
    """On random days: what is known of each vessel and line adds up, and a balanced day has no adjustments."""
    moves = [
        DayMove(f"m{at}", here, there, via, amount)
        for at, (here, there, via, amount) in enumerate(ways)
        if here != there
    ]
    if not moves:
        return
    held = [
        DayStock(one, f"{one} 0", f"{one} 1", stood[2 * at], stood[2 * at + 1]) for at, one in enumerate(VESSELS)
    ]
    streams = streams_of_day(moves, held)
    found = balance_of_day(streams).found
    nodes, table = balances_of(streams)
    for node, row in zip(nodes, table, strict=True):
        within = [at for at, sign in enumerate(row) if sign]
        left = sum(row[at] * found.values[at] for at in within)
        if left == left:  # nan: something of it cannot be observed
            assert abs(left) < 1e-6 * max(1.0, max(abs(float(found.values[at])) for at in within)), node


@pytest.mark.once
def test_loss_is_what_was_measured() -> None:
    """100 came and 10 were there; 90 left as product, 5 to the drain, 8 stayed: 12 are no product, by definition."""
    moves = [
        DayMove("in", None, "A", amount=(100, 3)),
        DayMove("out", "A", None, amount=(90, 4)),
        DayMove("drain", "A", None, amount=(5, 1), loss=True),
    ]
    held = [DayStock("A", "0", "1", (10, 0), (8, 0))]
    found = loss_of_day(moves, held)
    assert found is not None and (found.lost, found.lost_known, found.lost_sd) == (12, 5, 5)
    assert found.yield_pct == pytest.approx(100 * 90 / 102) and found.loss_pct == pytest.approx(100 * 12 / 102)
    assert loss_of_day([*moves, DayMove("more", "A", None)], held) is None


def seen(by: Any, vessel: str, gallons: str, **changes: Any) -> None:
    """A level seen now."""
    values = {"form_id": uuid.uuid4(), "vessel": vessel, "quantity_typed": gallons, "unit": "gal", **changes}
    see_level(by, LevelData(**values))


@pytest.mark.django_db
def test_the_sheet_has_the_balance_for_one_query(plant: Plant) -> None:
    """500 gal came, 300 went through the press, 120 were seen left: the sheet says so and asks once more for it."""
    ines = plant.actor("ines")
    made_ready(ines, NOW - timedelta(hours=3))
    moved(ines, started_at=NOW - 2 * HOUR)
    ran(ines, started_at=NOW - HOUR)
    plant.at(NOW + HOUR / 6)
    seen(ines, "silo-a", "120", seen_at=clock.now())
    day = queries.plant_day_at(NOW)
    data = sheet.sheet_data(day, 0, clock.now())
    canonical.check(data)
    told = data["balance"]
    rows = {one["name"].split(": ")[-1]: one for one in told["streams"]}
    assert told["unit"] == "gal" and rows["Nettle Farm to Silo A"]["measured"] == "500.0"
    assert rows["Silo A to Finished 1"]["measured"] == "300.0" and rows["Silo A at the end"]["measured"] == "120.0"
    assert told["kind"] == "not separable" and len(told["suspects"]) == 3 and told["why_not"] == ""
    assert told["loss"] is None  # nobody looked what Finished 1 holds
    assert "Mass balance of the day" in sheet_html(data, "", for_pdf=False)
    with CaptureQueriesContext(connection) as with_it:
        sheet.sheet_data(day, 0, clock.now())
    whole, sheet.balance = sheet.balance, None  # type: ignore[assignment]
    try:
        with CaptureQueriesContext(connection) as without:
            assert "balance" not in sheet.sheet_data(day, 0, clock.now())
    finally:
        sheet.balance = whole
    assert len(with_it) == len(without) + 1  # the tests of blends, for their densities


@pytest.mark.once
@given(
    st.integers(0, 72 * 60), st.integers(0, 48 * 60), st.floats(0, 1e5), st.floats(0, 50),
    st.lists(st.integers(1, 119 * 60), max_size=5),
)  # fmt: skip
@settings(max_examples=200, deadline=None)
def test_the_parts_of_consecutive_days_add_up_to_the_whole(
    begins: int, lasts: int, kg: float, sd: float, cuts: list[int]
) -> None:
    """However days are cut: the masses add up, no part is negative, and a cut adds doubt."""
    zero, minute = NOW, timedelta(minutes=1)
    bounds = sorted({0, 120 * 60 + 1, *cuts})
    started = zero + begins * minute
    ended = started + lasts * minute
    parts = [
        part_within(started, ended, zero + first * minute, zero + last * minute)
        for first, last in zip(bounds, bounds[1:], strict=False)
    ]
    assert sum(parts) == pytest.approx(1, abs=1e-9) and min(parts) >= 0
    amounts = [part_amount((kg, sd), one) for one in parts]
    assert sum(one[0] or 0 for one in amounts) == pytest.approx(kg, abs=1e-6)
    for part, (_kg, doubt) in zip(parts, amounts, strict=True):
        assert doubt == pytest.approx(((sd * part) ** 2 + (kg * part * (1 - part)) ** 2) ** 0.5)


@pytest.mark.django_db
def test_a_movement_over_midnight_is_in_both_days_by_time(plant: Plant) -> None:
    """400 gal in four hours, three of them before the day's end: 300 and 100, each with the doubt of the cut."""
    ines = plant.actor("ines")
    day = queries.plant_day_at(NOW)
    _begin, bound = queries.bounds(day, NOW)
    made_ready(ines, NOW - timedelta(hours=3))
    plant.at(bound + 2 * HOUR)
    moved(ines, started_at=bound - 3 * HOUR, ended_at=bound + HOUR, quantity_typed="400", measured_by="meter")
    found = []
    for one in (day, day + timedelta(days=1)):
        told = sheet.sheet_data(one, 0, clock.now())["balance"]
        row = next(each for each in told["streams"] if each["name"].startswith("entry "))
        assert "this day's part by time" in row["name"]
        found.append((float(row["measured"]), float(row["give_or_take"])))
    assert [one for one, _doubt in found] == [300.0, 100.0]
    # two standard deviations of 400 x 3/4 x 1/4, and what the meter and the density add
    assert [doubt for _one, doubt in found] == pytest.approx([150, 150], abs=1.0)


@pytest.mark.django_db
def test_the_page_names_what_does_not_fit_or_says_that_it_cannot(plant: Plant, client_for: Any) -> None:
    """200 gal were typed for a transfer of 300 whose two vessels and tanker agree: the page of the day names it.

    Without a look at the tank that was filled nothing tells the transfer from the levels: the page says that too.
    """
    ines = plant.actor("ines")
    made_ready(ines, NOW - timedelta(hours=3))
    moved(ines, started_at=NOW - 2 * HOUR, measured_by="mass")
    run = ran(ines, started_at=NOW - HOUR, quantity_typed="200")
    plant.at(NOW + HOUR / 6)
    seen(ines, "silo-a", "200", seen_at=clock.now())
    page = f"/days/{queries.plant_day_at(NOW).isoformat()}/sheet/"
    browser = client_for(plant.people.wren)
    before = browser.get(page).content.decode()
    assert "Mass balance of the day" in before
    told = sheet.sheet_data(queries.plant_day_at(NOW), 0, clock.now())["balance"]
    assert told["kind"] == "not separable" and told["sentence"] in html.unescape(before)
    seen(ines, "finished-1", "300", seen_at=clock.now())
    told = sheet.sheet_data(queries.plant_day_at(NOW), 0, clock.now())["balance"]
    after = html.unescape(browser.get(page).content.decode())
    assert told["sentence"] in after and f"entry {run.number}" in told["sentence"], told["sentence"]
    assert [one["name"] for one in told["suspects"]] == [f"entry {run.number}: Silo A to Finished 1"]
