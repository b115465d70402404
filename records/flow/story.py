"""A vessel's day as lines to read, and a movement with its amendments."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Q
from django.utils.translation import gettext as _

from records.flow.consequences import sentences_of
from records.flow.floor import answer_words, shown
from records.flow.models import LevelSeen, Movement, MovementEnd, PlantEvent, ServiceState, Wash
from records.flow.words import in_words
from records.judging import queries as verdicts
from records.ledger.registry import kinds
from records.people.plans import InForce

DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Line:
    """One thing that happened. `struck`: an amendment replaced it; `amended`: it replaced another, `why` says why."""

    at: datetime
    what: str
    words: str
    by: str
    number: int
    mark: str = ""
    verdict: str = ""
    struck: bool = False
    amended: bool = False
    why: str = ""
    late: bool = False
    movement: int | None = None
    note: str = ""


# Recorded later than this after it was so, a line says when.
LATE = timedelta(minutes=30)


def day_before(day: date) -> date:
    """The day before."""
    return day - DAY


def day_after(day: date) -> date:
    """The day after."""
    return day + DAY


def of_day(code: str, day: date, in_force: InForce) -> list[Line]:
    """All that happened at a place on a plant day, the latest first; amended rows stand struck among them."""
    begin, end = in_force.calendar.day_bounds(day)
    lines = [
        *_movements(code, begin, end),
        *_washes(code, begin, end),
        *_levels(code, begin, end),
        *_others(code, begin, end),
        *_readings(code, begin, end),
    ]
    return sorted(lines, key=lambda one: (one.at, one.number), reverse=True)


def quantity_words(typed: str, unit: str) -> str:
    """A quantity as typed."""
    return f"{typed} {unit}" if typed else _("quantity not known")


def movement_words(row: Movement, end: MovementEnd | None) -> str:
    """'raw milk, 500 gal, from Nettle Farm into Silo A'."""
    last = end or row
    words = {
        "product": row.product_name,
        "quantity": quantity_words(last.quantity_typed, last.unit),
        "source": row.source_name,
        "target": row.target_name,
        "via": row.via_name,
    }
    if row.via:
        return _("%(product)s, %(quantity)s, from %(source)s through %(via)s into %(target)s") % words
    return _("%(product)s, %(quantity)s, from %(source)s into %(target)s") % words


def _movements(code: str, begin: datetime, end: datetime) -> list[Line]:
    rows = list(
        Movement.objects.filter(Q(source=code) | Q(target=code) | Q(via=code), started_at__lt=end)
        .filter(Q(started_at__gte=begin) | Q(ended_at__gte=begin, ended_at__lt=end))
        .order_by("number")
    )
    numbers = [one.number for one in rows]
    ends = {one.movement: one for one in MovementEnd.objects.filter(movement__in=numbers)}
    gone = set(Movement.objects.filter(amends__in=numbers).values_list("amends", flat=True))
    return [_movement(row, ends.get(row.number), row.number in gone) for row in rows]


def _movement(row: Movement, end: MovementEnd | None, struck: bool) -> Line:
    ended = end.ended_at if end else row.ended_at
    what = _("movement") if ended else _("movement, still running")
    return Line(
        at=row.started_at,
        what=_("did not happen") if row.void else what,
        words=movement_words(row, end),
        by=row.by_initials,
        number=row.number,
        struck=struck or row.void,
        amended=row.amends is not None,
        why=row.amend_reason,
        late=row.received_at - row.observed_at > LATE,
        movement=row.number,
        note=row.note,
    )


def _washes(code: str, begin: datetime, end: datetime) -> list[Line]:
    rows = list(Wash.objects.filter(vessel=code, ended_at__gte=begin, ended_at__lt=end))
    gone = set(Wash.objects.filter(amends__in=[one.number for one in rows]).values_list("amends", flat=True))
    lines = []
    for one in rows:
        parts = [one.method]
        if one.temperature_typed:
            parts.append(f"{one.temperature_typed} {one.temperature_unit}")
        if one.strength:
            parts.append(one.strength)
        if one.contact_min is not None:
            parts.append(_("%(minutes)d min contact") % {"minutes": one.contact_min})
        lines.append(
            Line(
                at=one.started_at,
                what=_("did not happen") if one.void else in_words(one.what),
                words=", ".join(parts),
                by=one.by_initials,
                number=one.number,
                struck=one.void or one.number in gone,
                amended=one.amends is not None,
                why=one.amend_reason,
                late=one.received_at - one.observed_at > LATE,
                note=one.note,
            )
        )
    return lines


def _levels(code: str, begin: datetime, end: datetime) -> list[Line]:
    lines = []
    for one in LevelSeen.objects.filter(vessel=code, observed_at__gte=begin, observed_at__lt=end):
        words = f"{one.quantity_typed} {one.unit}"
        if one.difference:
            said = {"gain": f"{one.difference.normalize():+f} {one.unit}"}
            words += " · " + (_("gain %(gain)s") if one.difference > 0 else _("loss %(gain)s")) % said
        lines.append(Line(one.observed_at, _("level seen"), words, one.by_initials, one.number, note=one.note))
    return lines


def _others(code: str, begin: datetime, end: datetime) -> list[Line]:
    events = PlantEvent.objects.filter(subject=code, observed_at__gte=begin, observed_at__lt=end)
    states = ServiceState.objects.filter(vessel=code, observed_at__gte=begin, observed_at__lt=end)
    lines = [
        Line(one.observed_at, in_words(one.event), one.reference, one.by_initials, one.number, note=one.note)
        for one in events
    ]
    for state in states:
        what = _("out of service") if state.out else _("back in service")
        lines.append(Line(state.observed_at, what, state.reason, state.by_initials, state.number))
    return lines


def _readings(code: str, begin: datetime, end: datetime) -> list[Line]:
    manager: Any = kinds()["reading"]._default_manager
    rows = list(manager.filter(subject=code, observed_at__gte=begin, observed_at__lt=end).order_by("number"))
    numbers = [one.number for one in rows]
    governing = verdicts.governing("reading", numbers)
    gone = set(manager.filter(amends__in=numbers).values_list("amends", flat=True))
    lines = []
    for one in rows:
        seen = shown(one, governing.get(one.number))
        lines.append(
            Line(
                at=one.observed_at,
                what=one.what,
                words=answer_words(one),
                by=one.by_initials,
                number=one.number,
                mark=seen.mark,
                verdict=seen.verdict,
                struck=one.number in gone,
                amended=one.amends is not None,
                why=one.amend_reason,
                late=one.received_at - one.observed_at > LATE,
                note=one.note,
            )
        )
    return lines


@dataclass(frozen=True, slots=True)
class Version:
    """A movement in its line of amendments, with its end and what followed from it."""

    row: Movement
    end: MovementEnd | None
    words: str
    struck: bool
    followed: tuple[str, ...]

    @property
    def ended_at(self) -> datetime | None:
        """Its own end, or the end recorded later."""
        return self.end.ended_at if self.end else self.row.ended_at

    @property
    def runs(self) -> bool:
        """Whether the book has no end of it, and it stands."""
        return self.ended_at is None and not self.struck and not self.row.void


def chain_of(row: Movement) -> list[Version]:
    """A movement's line of amendments, the first first."""
    rows = [row]
    while rows[0].amends is not None and (older := Movement.objects.filter(number=rows[0].amends).first()):
        rows.insert(0, older)
    while newer := Movement.objects.filter(amends=rows[-1].number).first():
        rows.append(newer)
    ends = {one.movement: one for one in MovementEnd.objects.filter(movement__in=[one.number for one in rows])}
    versions = []
    for one in rows:
        end = ends.get(one.number)
        followed = sentences_of(one.number) + (sentences_of(end.number) if end else [])
        versions.append(Version(one, end, movement_words(one, end), one is not rows[-1], tuple(followed)))
    return versions
