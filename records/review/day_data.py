"""What the pages of days say: each day's state in words, its shifts, and what a hand-over should mention."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.utils.translation import gettext as _

from records.checks import queries as checks
from records.checks.models import Reading
from records.deviations import queries as deviations
from records.flow.queries import contents_at
from records.judging import queries as verdicts
from records.people.models import PlanApproval
from records.people.plans import InForce, plan_in_force
from records.reports import troubles
from records.reports.day import completeness
from records.review import actions, queries
from records.review.models import DayClosing, HandOver, InCharge, SheetSignature, SheetState

SIDES = ("leaving", "taking")  # of a hand-over
LONGEST_SAID = 3500  # characters of a hand-over's first words; its notes hold somewhat more


@dataclass(frozen=True, slots=True)
class DayRow:
    """One plant day in the list: its state in words."""

    day: date
    words: str
    waits: bool
    closing: DayClosing | None
    states: tuple[SheetState, ...]


def first_day(in_force: InForce) -> date:
    """The plant day on which the first plan came into force: before it nothing was due."""
    first = PlanApproval.objects.order_by("in_force_from").values_list("in_force_from", flat=True).first()
    return in_force.calendar.plant_day(first or in_force.in_force_from)


def listed(in_force: InForce, now: datetime) -> list[date]:
    """Every plant day so far, today first."""
    today, first = in_force.calendar.plant_day(now), first_day(in_force)
    return [today - timedelta(days=back) for back in range((today - first).days + 1)]


def rows(days: list[date], in_force: InForce, now: datetime) -> list[DayRow]:
    """The days with their states, oldest records first."""
    found = []
    for day in days:
        closing = queries.closing(day)
        signed = queries.signatures(day, closing.revision) if closing else {}
        changed = bool(closing and queries.changed_since(closing, now))
        words = state_words(day, closing, signed, changed, in_force, now)
        done = bool(closing) and actions.SUPERVISOR in signed and not changed
        found.append(DayRow(day, words, not done, closing, tuple(queries.states(day))))
    return found


def state_words(
    day: date,
    closing: DayClosing | None,
    signed: dict[str, SheetSignature],
    changed: bool,
    in_force: InForce,
    now: datetime,
) -> str:
    """How far a day's sheet is, in words."""
    if closing is None:
        over = in_force.calendar.day_bounds(day)[1] <= now
        return _("not closed yet: a draft, unreviewed") if over else _("running: unreviewed")
    said = _("revision %(number)d") % {"number": closing.revision}
    if changed:
        return said + ": " + _("records were added since; it has to be closed again")
    if actions.SUPERVISOR in signed:
        words = _("closed, signed and reviewed")
        own = _(", by the person who made the record") if signed[actions.SUPERVISOR].own_work else ""
        return f"{said}: {words}{own}"
    if actions.OPERATOR_IN_CHARGE in signed:
        return said + ": " + _("closed and signed by the operator in charge; unreviewed")
    return said + ": " + _("closed; not signed yet")


@dataclass(frozen=True, slots=True)
class ShiftRow:
    """One shift of a day: who is in charge, and its hand-over."""

    key: str
    name: str
    start_at: datetime
    end_at: datetime
    closed: bool
    in_charge: InCharge | None
    hand_overs: tuple[HandOver, ...]
    last: bool

    def signed(self, side: str) -> HandOver | None:
        """Who signed one side of its hand-over."""
        return next((one for one in self.hand_overs if one.side == side), None)

    @property
    def to_sign(self) -> tuple[str, ...]:
        """The sides that nobody has signed yet."""
        return tuple(side for side in SIDES if self.signed(side) is None)


def shifts(day: date, in_force: InForce, now: datetime) -> list[ShiftRow]:
    """The day's shifts in order."""
    charged, handed = queries.in_charge(day), queries.hand_overs(day)
    last = queries.last_shift(day, now)
    return [
        ShiftRow(
            one.key,
            one.shift.name,
            one.start_at,
            one.end_at,
            one.closed,
            charged.get(one.key),
            tuple(each for each in handed if each.shift == one.key),
            one.key == last,
        )
        for one in in_force.calendar.day_shifts(day)
    ]


def summary(day: date, in_force: InForce, now: datetime) -> dict[str, Any]:
    """The day in short: the sentence that proves completeness, and what is open."""
    start, end = in_force.calendar.day_bounds(day)
    due = checks.due_between(start, end, now)
    answered = [one.reading.number for one in due if one.reading]
    opened = troubles.of_the_day(start, end)
    return {
        "sentence": completeness(due, verdicts.all_verdicts(Reading.KIND, answered))["sentence"],
        "deviations": opened,
        "unsigned": queries.unsigned_rounds(day, now),
        "missed": [one for one in due if one.state in ("missed", "answered after missed")],
    }


def what_to_say(in_force: InForce, now: datetime) -> str:
    """What a hand-over should mention, by the book: what runs, is held, late or open. One line each."""
    said = []
    seen: set[int] = set()
    for one in contents_at(now).values():
        for told in one.running:
            if told.row.number not in seen:
                seen.add(told.row.number)
                words = {"what": told.row.product_name, "from": told.row.source_name, "to": told.row.target_name}
                said.append(_("running: %(what)s, %(from)s to %(to)s") % words)
        if one.washing_since:
            said.append(_("being washed: %(vessel)s") % {"vessel": one.name})
        if one.out_of_service:
            said.append(_("out of service: %(vessel)s") % {"vessel": one.name})
    for hold in deviations.open_holds():
        said.append(_("on hold: %(lot)s (%(why)s)") % {"lot": hold.lot_label, "why": hold.reason})
    late = [one for one in checks.round_at(now) if one.state == "late"]
    said += [_("late: %(where)s, %(what)s") % {"where": one.subject_name, "what": one.monitoring.what} for one in late]
    for row in deviations.open_deviations():
        said.append(_("deviation %(number)d open: %(sentence)s") % {"number": row.number, "sentence": row.sentence})
    text = "\n".join(" ".join(one.split()) for one in said)
    if len(text) <= LONGEST_SAID:
        return text
    return text[:LONGEST_SAID].rsplit("\n", 1)[0] + "\n" + _("and more: see the pages of the book")


def present_shift(in_force: InForce, now: datetime) -> tuple[date, str]:
    """The plant day and shift of this moment: the one at work, else the last that was."""
    day = in_force.calendar.plant_day(now)
    begun = [one for one in in_force.calendar.day_shifts(day) if one.start_at <= now and not one.closed]
    if begun:
        return day, max(begun, key=lambda one: one.start_at).key
    every = in_force.calendar.day_shifts(day)
    return day, every[0].key if every else ""


def plan_at(day: date, now: datetime) -> InForce | None:
    """The plan whose calendar a day's page goes by."""
    return queries.plan_of_day(day, now) or plan_in_force(now)
