"""The residue kit's controls on the Ready page: wanted before the first load is screened, late or not.

Which checks these are is read from the plan: those of its control point of drug residues that no load brings about.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from django.urls import reverse
from django.utils.translation import gettext as _

from plant.hazard_plan.content import MonitoringDef
from records.checks.asking import what_words
from records.checks.queries import DueCheck
from records.people.plans import InForce
from records.receiving.state import residue_point
from records.review.ready_lines import AGAINST, LATE, UNKNOWN, Ready
from records.runs import starting


def controls(in_force: InForce) -> list[MonitoringDef]:
    """The plan's checks of the residue kit; none where the plan has no such control point."""
    point = residue_point(in_force)
    every = in_force.plan.monitoring if point is not None else ()
    return [one for one in every if point and one.control_point == point.key and one.frequency.kind != "each_event"]


def add(one: Ready, in_force: InForce, now: datetime, waiting: Iterable[DueCheck], *, may_answer: bool) -> None:
    """A line for each that was not answered in limits on this plant day. Three queries for a place of them."""
    by_place: dict[str, list[MonitoringDef]] = {}
    for check in controls(in_force):
        for place in check.subjects:
            by_place.setdefault(place, []).append(check)
    open_now = {(each.due.key, each.due.subject): each for each in waiting if each.state in ("due", "late")}
    for place, checks in by_place.items():
        for item in starting.answered_since(checks, place, _since(checks, now, in_force), now, in_force):
            if not item.is_good:
                _line(one, item, place, open_now.get((item.key, place)), in_force, now, may_answer=may_answer)


def _since(checks: list[MonitoringDef], now: datetime, in_force: InForce) -> datetime:
    """The plant day's start, less the minutes that a check may be early."""
    start, _end = in_force.calendar.day_bounds(in_force.calendar.plant_day(now))
    return start - timedelta(minutes=max(one.early_min for one in checks))


def _line(
    one: Ready, item: starting.Item, place: str, due: DueCheck | None, in_force: InForce, now: datetime, *,
    may_answer: bool,
) -> None:  # fmt: skip
    check = next(each for each in controls(in_force) if each.key == item.key)
    what = what_words(check).rstrip("?")
    clause = in_force.plan.control_point_by_key(item.control_point).clause
    words = {"what": what, "clause": clause, "sentence": item.sentence}
    if due is not None and due.state == "late":
        at = in_force.calendar.local(due.due.due_at).strftime("%H:%M")
        said = _("%(what)s: nothing recorded today, due %(at)s; wanted before the first load is screened (%(clause)s)")
        kind, sentence = LATE, said % {**words, "at": at}
    elif item.outcome == starting.NOT_RECORDED:
        said = _("%(what)s: nothing recorded today; wanted before the first load is screened (%(clause)s)")
        kind, sentence = UNKNOWN, said % words
    else:
        kind = AGAINST
        sentence = _("%(sentence)s; no screen of a load counts until they are right (%(clause)s)") % words
    address = ""
    if may_answer:
        back = reverse("records:ready")
        page = starting.answer_page(item, place, now, back)
        address = starting.due_page(due.key, back) if due is not None else page
    one.add(kind, [sentence], address)
