"""What follows from something found, missing, broken or not detected: a deviation, and product held for its window.

From the last time that the same thing was good until the next: what was in the place, entered or left it, or ran
through it. Amending releases nothing; two people dispose of what is held.
"""

from __future__ import annotations

from datetime import datetime

from plant.process.limits import Outcome
from records.deviations.actions import Cause, open_or_extend
from records.deviations.holds import place_on_hold
from records.deviations.models import Deviation, DeviationCause
from records.flow.queries import lots_touched
from records.foreign_matter.models import Breakage, Look
from records.foreign_matter.plan_checks import NO_POINT, check_of, kind_of, point_of
from records.foreign_matter.queries import beginning, last_good, next_good
from records.ledger.actions import Act
from records.people.plans import InForce


def suspect_since(row: Look) -> datetime | None:
    """From when on product is in question; None where the row puts none in question.

    A breakage without product nearby puts none in question; without a time last seen whole, all since the beginning.
    """
    if row.good or row.void:
        return None
    if isinstance(row, Breakage):
        return (row.whole_at or beginning()) if row.near else None
    return last_good(row) or beginning()


def follow(a: Act, row: Look, in_force: InForce) -> Deviation | None:
    """The deviation of a row that is not good, and the holds of its window as the book stands now."""
    if row.good or row.void:
        return None
    since = suspect_since(row)
    about = kind_of(row)
    point, check = point_of(about, row.place, in_force), check_of(about, row.place, in_force) if about else None
    deviation = deviation_of(row)
    if deviation is None:
        deviation, _new = open_or_extend(
            a,
            in_force=in_force,
            control_point=point.key if point is not None else NO_POINT,
            subject=row.place,
            cause=Outcome.NOT_MET.value,
            found=Cause(row.KIND, row.number, row.observed_at, f"{row.place_name}: {row.words}"),
            since_at=since or row.observed_at,
            foreseen=bool(check and check.corrective_action),
        )
    if since is None:
        return deviation
    until = row.observed_at if isinstance(row, Breakage) else next_good(row) or a.now
    for lot in lots_touched(row.place, since, until):
        place_on_hold(
            a,
            lot=lot.id,
            lot_label=lot.label,
            vessel=row.place,
            since_at=max(since, lot.since),
            reason=deviation.sentence,
            deviation=deviation.number,
            bars_release=point.bars_release if point is not None else "",
        )
    return deviation


def deviation_of(row: Look) -> Deviation | None:
    """The deviation that a row is a cause of, if any."""
    cause = DeviationCause.objects.filter(cause_kind=row.KIND, cause_number=row.number).first()
    return Deviation.objects.filter(number=cause.deviation).first() if cause is not None else None
