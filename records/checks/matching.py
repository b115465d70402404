"""Which due check a reading answers, when its form did not say or the plan says otherwise."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.utils.translation import gettext as _

from records.checks import queries
from records.checks.entry import Nonsense, ReadingData
from records.checks.models import Reading
from records.people.plans import InForce, plan_in_force

# A due time farther off than this is no form of ours. No frequency looks further back or ahead.
FARTHEST = timedelta(days=500)


def refuse_foreign(data: ReadingData, in_force: InForce, now: datetime) -> None:
    """Refuse a check or a place that no version of the plan around this reading knows. A stale form is not foreign."""
    if data.due_at is not None and abs(data.due_at - now) > FARTHEST:
        raise Nonsense("", _("There is no such check."))
    asked = plan_in_force(data.due_at) if data.due_at is not None else None
    versions = [one for one in (in_force, asked) if one is not None]
    if data.monitoring_key:
        found = [one for version in versions if (one := version.plan.monitoring_by_key(data.monitoring_key))]
        if not found:
            raise Nonsense("", _("There is no such check."))
        anywhere = any(not one.subjects for one in found) and _known(data.subject, versions)
        if not anywhere and not any(data.subject in one.subjects for one in found):
            raise Nonsense("", _("This check is not made at this place."))
    elif not data.subject or not _known(data.subject, versions):
        raise Nonsense("subject", _("There is no such place in the plan."))


def _known(subject: str, versions: list[InForce]) -> bool:
    # A check of an event without a place of its own belongs to the whole plant.
    return not subject or any(subject in one.names for one in versions)


def place_in_time(reading: Reading, in_force: InForce, now: datetime) -> None:
    """Set the reading's due time to that of a check it answers, or clear it when the plan made no such check due.

    A form for a check that this version never asked for keeps its reading, as unplanned. A time before the check opens
    is accepted with a reason: it is then a reading of its own.
    """
    if not reading.monitoring_key:
        return
    if reading.due_at is not None:
        _confirm(reading, now)
        return
    reach = max((queries.reach_of(one) for one in in_force.planned if one.key == reading.monitoring_key), default=None)
    if reach is None:
        return
    for one in _checks(reading, reading.observed_at - reach, reading.observed_at + queries.ORDINARY_REACH, now):
        if one.reading is None and one.due.opens_at <= reading.observed_at < one.due.missed_at:
            reading.due_at, reading.event = one.due.due_at, one.due.event
            return


def _confirm(reading: Reading, now: datetime) -> None:
    due_at, event = reading.due_at, reading.event
    assert due_at is not None  # the caller has looked
    reading.due_at, reading.event = None, ""
    for one in _checks(reading, due_at, due_at + timedelta(microseconds=1), now):
        if one.due.event != event:
            continue
        if reading.observed_at >= one.due.opens_at:
            reading.due_at, reading.event = due_at, event
        elif not reading.late_reason:
            raise Nonsense("late_reason", _("This is earlier than the check opens. Say why, and it is kept as it is."))
        return


def _checks(reading: Reading, start: datetime, end: datetime, now: datetime) -> list[queries.DueCheck]:
    found = queries.due_between(start, end, now, keys=[reading.monitoring_key])
    return [one for one in found if one.due.subject == reading.subject]
