"""The Floor told a second time: the ledger's contents read as plain JSON, summed by other means than the book's fold.

Nothing of records/flow or plant/process is used for the second telling: a vessel's quantity is the last level that
somebody saw (a wash is one of nothing) and, since then, what the standing movements brought and took, evenly over time.
"""

from __future__ import annotations

import json
import random
from datetime import datetime, timedelta
from fractions import Fraction
from typing import Any

import pytest
from django.db import transaction

from plant import clock
from records.flow.actions import EndData, amend_movement, amend_wash, end_movement, record_wash
from records.flow.errors import Refused
from records.flow.queries import contents_at
from records.ledger.models import Entry
from tests.conftest import NOW, Plant
from tests.records.flow.made import HOUR, made_ready, moved, movement, pasteurized, ran, seen, wash

MINUTE = timedelta(minutes=1)
VESSELS = ("silo-a", "finished-1")


def contents(kind: str) -> list[dict[str, Any]]:
    """The records of a kind, from the canonical JSON of the ledger alone."""
    rows = Entry.objects.filter(kind=kind).order_by("number").values_list("content", flat=True)
    return [json.loads(one)["record"] for one in rows]


def standing(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Without those that an amendment replaced, and those that did not happen."""
    replaced = {one["amends"] for one in rows}
    return [one for one in rows if one["number"] not in replaced and not one["void"]]


def at(text: str) -> datetime:
    return datetime.fromisoformat(text.replace("Z", "+00:00"))


def told_again(vessel: str, moment: datetime) -> Fraction:
    """Gallons in a vessel at a moment. All quantities of these tests are gallons and known."""
    moves = standing(contents("movement"))
    ends = {one["movement"]: one for one in contents("movement end")}
    all_washes = contents("wash")
    washes = [one for one in standing(all_washes) if one["vessel"] == vessel and one["what"] == "washed"]
    zeros = [at(one["started_at"]) for one in washes]
    # 'It was empty', said with a wash, goes with it.
    gone = {one["act"] for one in all_washes} - {one["act"] for one in standing(all_washes)}
    seen_levels = [
        (at(one["observed_at"]), Fraction(one["quantity"]))
        for one in contents("level seen")
        if one["vessel"] == vessel and one["act"] not in gone
    ]
    levels = [(when, Fraction(0)) for when in zeros] + seen_levels
    since, quantity = max(
        ((when, much) for when, much in levels if when <= moment), default=(None, Fraction(0)), key=lambda one: one[0]
    )
    for one in moves:
        last = ends.get(one["number"], one)
        start, end = at(one["started_at"]), at(last["ended_at"])
        for place, sign in ((one["source"], -1), (one["target"], 1)):
            if place == vessel:
                share = _share(start, end, since, moment)
                quantity += sign * share * Fraction(last["quantity"])
    return quantity


def _share(start: datetime, end: datetime, since: datetime | None, until: datetime) -> Fraction:
    """How much of a movement lies after a level seen and before the moment asked for."""
    first = start if since is None else max(start, since)
    last = min(end, until)
    if last <= first:
        return Fraction(0)
    return Fraction((last - first) // timedelta(microseconds=1), (end - start) // timedelta(microseconds=1))


def happens(plant: Plant, chance: random.Random, start: datetime) -> None:
    """Fills, runs, ends, levels, washes, amendments and voids; some told hours late."""
    ines = plant.actor("ines")
    begin = start - chance.choice((0, 0, 0, 3)) * HOUR
    end = begin + chance.choice((10, 20, 30)) * MINUTE
    much = chance.choice(("40", "99.5", "120", "260.25"))
    what = chance.choice(("fill", "fill", "fill", "run", "run", "level", "wash", "end", "amend", "void", "not washed"))
    if what == "fill":
        moved(ines, started_at=begin, ended_at=end, quantity_typed=chance.choice(("800", "950.5")))
    elif what == "run":
        ran(ines, started_at=begin, ended_at=end, quantity_typed=much)
    elif what == "level":
        seen(ines, chance.choice(VESSELS), chance.choice(("700", "333.25")), end)
    elif what == "wash":
        record_wash(ines, wash(chance.choice(VESSELS), end, was_empty=True))
    elif what == "end":
        row = moved(ines, started_at=begin, ended_at=None, quantity_typed="")
        end_movement(ines, row.number, EndData(end, "410.5", "gal", "", "meter"))
    elif what == "not washed":
        rows = standing(contents("wash"))
        if rows:
            one = chance.choice(rows)
            data = wash(one["vessel"], at(one["ended_at"]), one["what"], started_at=at(one["started_at"]))
            amend_wash(ines, one["number"], data, "another vessel", void=True)
    else:
        rows = standing(contents("movement"))
        if rows:
            one = chance.choice(rows)
            make = movement if one["target"] == "silo-a" else pasteurized
            values = {"started_at": at(one["started_at"]), "ended_at": at(one["started_at"]) + 30 * MINUTE}
            data = make(quantity_typed="150.75", **values)
            amend_movement(ines, one["number"], data, "read again", void=what == "void")


@pytest.mark.django_db
@pytest.mark.parametrize("seed", range(12))
def test_the_floor_agrees_with_a_second_telling(plant: Plant, seed: int) -> None:
    """Every half hour, for each vessel of which nothing recorded contradicts the rest."""
    chance = random.Random(seed)
    compared = 0
    with transaction.atomic():
        made_ready(plant.actor("ines"), NOW - 20 * HOUR)
        start = NOW - 18 * HOUR
        for _step in range(14):
            start += chance.choice((40, 60, 90)) * MINUTE
            plant.at(start + 31 * MINUTE)
            try:
                happens(plant, chance, start)
            except Refused:
                continue
        now = clock.now()
        told = [vessel for vessel in VESSELS if not _contradicted(vessel)]
        for halves in range(2 * 18):
            moment = now - halves * 30 * MINUTE
            shown = contents_at(moment)
            for vessel in told:
                again = told_again(vessel, moment)
                found = shown[vessel].quantity
                assert found is not None and abs(Fraction(found) - again) < Fraction(1, 50), (vessel, moment)
                compared += 1
        transaction.set_rollback(True)
    plant.at(NOW)
    assert compared > 0


def _contradicted(vessel: str) -> bool:
    """Whether the book had to say something that a plain sum cannot: drawn below nothing, moved during a wash."""
    from records.flow.history import load
    from records.people.plans import plan_in_force

    in_force = plan_in_force(clock.now())
    assert in_force is not None
    history = load(in_force.plan, NOW - 30 * HOUR, clock.now())
    book = history.book.vessels.get(vessel)
    kinds = {one.kind for one in book.discrepancies} if book else set()
    moves = [*history.into(vessel), *history.out_of(vessel)]
    during = any(
        one.row.started_at < each.ended_at and (one.ended_at is None or each.started_at < one.ended_at)
        for each in history.washes_of(vessel)
        for one in moves
    )
    return during or bool(kinds & {"below zero", "taken as empty", "washed while holding"})
