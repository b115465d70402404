"""The watch over farms' milk that may stand warm because it is processed soon: what was not is a deviation."""

from __future__ import annotations

from datetime import timedelta

from plant import clock
from records.flow.common import plan_at
from records.ledger.actions import WATCH, act
from records.people.plans import plan_in_force
from records.receiving import consequences, farms, pickups
from records.receiving.models import LoadEvent
from records.run_rows import acts
from records.run_rows.queries import runs_between

LOOKS_BACK = timedelta(days=2)  # as far as the watch over checks


def look() -> int:
    """How many loads came to a deviation, or to a hold of more, because their time is over. Twice does it once."""
    now = clock.now()
    in_force = plan_in_force(now)
    if in_force is None or not farms.asks_collection(in_force):
        return 0
    done = 0
    for load in runs_between(LoadEvent, now - LOOKS_BACK, now):
        known = plan_at(load.first.happened_at)
        if not any(by <= now for _farm, by in farms.process_by(load.first, known)):
            continue
        with known.speaking():  # as the deviations name it
            told = pickups.out_of_limits(load, known, now)
        if not told or pickups.is_decided(load, now):
            continue
        if not pickups.untold(load, farms.point_of(known), told):
            continue
        with act(WATCH) as a:
            consequences.follow_farms(a, acts.found(LoadEvent, load.number), known)
        done += 1
    return done
