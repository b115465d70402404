"""The residue kit's controls on the Ready page: wanted before the first load is screened, late or not.

Which checks these are is read from the plan: those of its control point of drug residues that no load brings about.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from django.urls import reverse
from django.utils.translation import gettext as _

from plant.hazard_plan.content import MonitoringDef
from plant.process.schedule import Facts, expand
from records.checks.asking import what_words
from records.checks.queries import DueCheck
from records.people.plans import InForce
from records.receiving.state import residue_point
from records.review.ready_lines import AGAINST, LATE, UNKNOWN, Ready, late_words
from records.runs import starting


def controls(in_force: InForce) -> list[MonitoringDef]:
    """The plan's checks of the residue kit; none where the plan has no such control point."""
    point = residue_point(in_force)
    every = in_force.plan.monitoring if point is not None else ()
    return [one for one in every if point and one.control_point == point.key and one.frequency.kind != "each_event"]


def asked(in_force: InForce) -> set[tuple[str, str]]:
    """(check, place) of each of them: what `add` speaks of, and nobody else has to."""
    return {(one.key, place) for one in controls(in_force) for place in one.subjects}


def add(one: Ready, in_force: InForce, now: datetime, waiting: Iterable[DueCheck], *, may_answer: bool) -> None:
    """A line for each of this plant day that was not answered in limits, and for each that is late now.

    One of a month is asked for on its day. Three queries for a place and the minutes that its checks may be early.
    """
    waiting = sorted(waiting, key=lambda each: (each.state != "late", each.due.due_at))
    today = _of_the_day(in_force, now, waiting)
    together: dict[tuple[str, int], list[MonitoringDef]] = {}
    for check in controls(in_force):
        for place in check.subjects:
            together.setdefault((place, check.early_min), []).append(check)
    for (place, early_min), checks in together.items():
        since = _day(now, in_force)[0] - timedelta(minutes=early_min)
        for item in starting.answered_since(checks, place, since, now, in_force):
            mine = [each for each in waiting if (each.due.key, each.due.subject) == (item.key, place)]
            mine = [each for each in mine if each.state in ("due", "late")]
            late = [each for each in mine if each.state == "late"]
            nothing = item.outcome == starting.NOT_RECORDED
            if not item.is_good and (late or (item.key, place) in today):
                _line(one, item, place, mine[0] if mine else None, in_force, now, may_answer=may_answer)
            for each in late[1:] if nothing else late:
                one.add(LATE, [late_words(each)], _page(each.key, may_answer=may_answer))


def _of_the_day(in_force: InForce, now: datetime, waiting: Iterable[DueCheck]) -> set[tuple[str, str]]:
    """(check, place) wanted on this plant day: due in it, or of each shift or use, on a day without shifts too."""
    start, end = _day(now, in_force)
    every = controls(in_force)
    often = [one for one in every if one.frequency.kind in ("each_shift", "before_use")]
    keys = {one.key for one in every}
    planned = [one for one in in_force.planned if one.key in keys]
    dues = expand(planned, in_force.calendar, Facts(), start, end) + [one.due for one in waiting]
    due = {(one.key, one.subject) for one in dues if start <= one.due_at < end}
    return due | {(one.key, place) for one in often for place in one.subjects}


def _day(now: datetime, in_force: InForce) -> tuple[datetime, datetime]:
    return in_force.calendar.day_bounds(in_force.calendar.plant_day(now))


def _page(due_key: str, *, may_answer: bool) -> str:
    return starting.due_page(due_key, reverse("records:ready")) if may_answer else ""


def _line(
    one: Ready, item: starting.Item, place: str, due: DueCheck | None, in_force: InForce, now: datetime, *,
    may_answer: bool,
) -> None:  # fmt: skip
    check = next(each for each in controls(in_force) if each.key == item.key)
    what = what_words(check).rstrip("?")
    clause = in_force.plan.control_point_by_key(item.control_point).clause
    words = {"what": what, "clause": clause, "sentence": item.sentence}
    if item.outcome != starting.NOT_RECORDED:
        kind = AGAINST
        sentence = _("%(sentence)s; no screen of a load counts until they are right (%(clause)s)") % words
    elif due is not None and due.state == "late":
        at = in_force.calendar.local(due.due.due_at).strftime("%H:%M")
        said = _("%(what)s: nothing recorded today, due %(at)s; wanted before the first load is screened (%(clause)s)")
        kind, sentence = LATE, said % {**words, "at": at}
    else:
        said = _("%(what)s: nothing recorded today; wanted before the first load is screened (%(clause)s)")
        kind, sentence = UNKNOWN, said % words
    address = ""
    if may_answer:
        page = starting.answer_page(item, place, now, reverse("records:ready"))
        address = _page(due.key, may_answer=True) if due is not None else page
    one.add(kind, [sentence], address)
