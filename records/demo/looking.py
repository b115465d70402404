"""What the invented days look at against foreign matter, done through the actions of its pages."""

from __future__ import annotations

from datetime import date
from typing import Any

from plant import clock
from records.checks.queries import DueCheck
from records.demo import acts
from records.demo.hand import form_id
from records.foreign_matter import actions
from records.foreign_matter.data import ChallengeData, CountData, Part, Piece, StrainerData
from records.foreign_matter.plan_checks import ABOUT, DETECTOR, LOAD, PARTS
from records.foreign_matter.words import ANSWERS, MAGNET, STRAINER
from records.ledger.actions import Actor
from records.people.plans import InForce

# What is counted at each strip-down: invented for the demo.
COUNT_LISTS = {
    "filler": (("nozzle", 4), ("nozzle seal", 4), ("valve spring", 4)),
    "freezer": (("scraper blade", 6), ("blade pin", 6), ("dasher", 1)),
}
SIZES = (("ferrous", "2.0"), ("non-ferrous", "2.5"), ("stainless", "3.0"))  # mm; invented for the demo


def looked(by: Actor, plant_day: date, one: acts.Challenged | acts.Strained | acts.Counted) -> None:
    """One look, in order."""
    said: dict[str, Any] = {
        "form_id": form_id("foreign matter", plant_day, one),
        "place": one.place,
        "at": clock.now(),
    }
    if isinstance(one, acts.Challenged):
        pieces = tuple(Piece(metal=metal, size=size, seen=True) for metal, size in SIZES)
        actions.record_challenge(by, ChallengeData(**said, when=one.when, pieces=pieces, rejected=True))
    elif isinstance(one, acts.Strained):
        found = ANSWERS[one.device][0]
        actions.record_strainer(by, StrainerData(**said, device=one.device, after=one.after, found=found))
    else:
        parts = tuple(Part(name=name, listed=pieces, counted=pieces) for name, pieces in one.parts)
        actions.record_count(by, CountData(**said, parts=parts))


def look_for(check: DueCheck, in_force: InForce) -> acts.Challenged | acts.Strained | acts.Counted | None:
    """The look that a due check asks for; None where a plain answer does."""
    often, place = check.monitoring.frequency, check.due.subject
    limits = (in_force.plan.limit_by_key(key).quantity for key in check.monitoring.limits)
    about = next((one for one in limits if one in ABOUT), "")
    at = in_force.calendar.local(check.due.due_at).strftime("%H:%M")
    if about == DETECTOR:
        when = "hourly" if often.kind == "during_run" else "start" if often.first else "end"
        return acts.Challenged(at, place, when)
    if about == STRAINER:
        return acts.Strained(at, place, "load" if often.event == LOAD else "run")
    if about == MAGNET:
        return acts.Strained(at, place, "other", MAGNET)
    return acts.Counted(at, place, COUNT_LISTS[place]) if about == PARTS else None
