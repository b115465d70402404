"""The scope that is read step by step from the database is that of two other ways, on random plants."""

from __future__ import annotations

import pytest
from django.db import transaction

from records.people.plans import plan_in_force
from records.recall import reading
from records.recall.reading import Start
from records.recall.rows import rows_numbered
from records.recall.scope import scope
from tests.conftest import NOW
from tests.records.recall.random_plants import Plant, at, brute_force, by_networkx, made, written

SEEDS = range(0, 40, 5)


def _ours(plant: Plant, number: int, *, backward: bool = False) -> tuple[set[tuple[str, int]], set[int]]:
    walk = reading.backward if backward else reading.forward
    walked = walk(Start(rows=tuple(rows_numbered([number]))))
    fills = {(one.vessel, sum(1 for name, step in plant.washes if name == one.vessel and at(step) <= one.begin))
             for one in walked.fills}  # fmt: skip
    return fills, set(walked.movements)


@pytest.mark.usefixtures("plant")
@pytest.mark.parametrize("first", SEEDS)
def test_scope_equals_brute_force_and_networkx_and_backward_agrees(first: int) -> None:
    """Fills and movements from the first, middle and last movement; what it reaches, reaches back to it."""
    for seed in range(first, first + 5):
        _compared(made(seed))


def _compared(plant: Plant) -> None:
    assert plant.moves
    with transaction.atomic():
        written(plant)
        origins = {plant.moves[0], plant.moves[len(plant.moves) // 2], plant.moves[-1]}
        for origin in origins:
            ours = _ours(plant, origin.number)
            assert ours == brute_force(plant, origin)
            assert ours == by_networkx(plant, origin)
            for number in sorted(ours[1])[-2:]:
                assert origin.number in _ours(plant, number, backward=True)[1]
        transaction.set_rollback(True)


@pytest.mark.usefixtures("plant")
def test_a_scope_never_holds_more_than_was_made() -> None:
    """Shares lie between nothing and all, the low below the high; what is in house and gone is what was made."""
    for seed in range(12):
        _within_what_was_made(made(seed))


def _within_what_was_made(day: Plant) -> None:
    in_force = plan_in_force(NOW)
    assert in_force is not None
    with transaction.atomic():
        written(day)
        for origin in {day.moves[0], day.moves[-1]}:
            for one in scope(Start(rows=tuple(rows_numbered([origin.number]))), in_force, NOW).lots:
                account = one.account
                if account.made is not None:
                    assert one.at_most is not None and 0 <= one.at_most <= account.made
                if account.in_house is not None and account.made is not None and one.packs:
                    assert account.in_house + (account.gone or 0) - account.more == account.made
                if one.low is not None and one.high is not None:
                    assert -1e-9 <= one.low <= one.high + 1e-9 and one.high <= 1 + 1e-9
        transaction.set_rollback(True)
