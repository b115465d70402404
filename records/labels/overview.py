"""What the page of filling shows: each line as it stands, and what was recorded lately, struck through or not."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from records.flow.models import Movement
from records.labels import queries
from records.labels.keeping import KINDS, why_not
from records.labels.models import (
    ClearanceCheck,
    LineClearance,
    OfLine,
    PackagingCounted,
    PackagingOpened,
)
from records.labels.sequence import verification_owed, verified_by, wash_owed
from records.labels.words import difference_words, kind_words, things_words
from records.ledger.actions import Actor
from records.people.plans import InForce

MOST = 30


@dataclass(frozen=True, slots=True)
class Line:
    """A filling line: what runs or ran, its latest clearance with the second look, the packaging on it."""

    code: str
    name: str
    running: Movement | None
    last: Movement | None
    clearance: LineClearance | None
    check: ClearanceCheck | None
    packaging: tuple[tuple[PackagingOpened, str], ...]
    owed: tuple[str, ...]  # why a product without those allergens waits for a wash
    verified_by: tuple[str, ...]  # and what has to be good after that wash, by the plan
    unverified: tuple[str, ...]  # washed since, and not shown good

    @property
    def waits_for_check(self) -> bool:
        """Whether a second person has still to look."""
        return self.clearance is not None and self.clearance.clear and self.check is None


@dataclass(frozen=True, slots=True)
class Told:
    """One entry in words. `warns`: it says that something is wrong."""

    row: OfLine
    what: str
    details: str
    struck: bool
    warns: bool
    may_void: bool
    opened: bool


def lines_at(now: datetime, in_force: InForce) -> list[Line]:
    """Every filling line of the plan. A few queries for each."""
    found = []
    for code, name in queries.filling_lines(in_force.plan):
        rows = queries.standing(LineClearance.objects.filter(place=code, observed_at__lte=now))
        cleared = rows.order_by("-observed_at", "-number").first()
        on = tuple((one, kind_words(one.kind)) for one in queries.on_the_line(code, now))
        check = queries.last_check(cleared) if cleared is not None else None
        running = queries.filling_at(code, now)
        owed = tuple(wash_owed(code, now, in_force))
        last = queries.last_through(code, now)
        then = tuple(verified_by(in_force.plan)) if owed else ()
        unverified = tuple(verification_owed(code, now, in_force))
        found.append(Line(code, name, running, last, cleared, check, on, owed, then, unverified))
    return found


def lately(by: Actor, may_say: bool) -> list[Told]:
    """What was recorded last, the newest first."""
    rows: list[OfLine] = []
    for model in KINDS:
        rows += list(model._default_manager.order_by("-number")[:MOST])
    rows = sorted(rows, key=lambda one: -one.number)[:MOST]
    replaced = {one.amends for one in rows if one.amends}
    return [told(one, replaced, by, may_say) for one in rows]


def told(row: OfLine, replaced: set[Any], by: Actor, may_say: bool) -> Told:
    """One entry in words."""
    struck = row.void or row.number in replaced
    what, details, warns = in_words(row)
    opened = isinstance(row, PackagingOpened) and not struck
    may_void = may_say and not struck and not why_not(by, row)
    return Told(row, what, details, struck, warns and not struck, may_void, opened)


def in_words(row: OfLine) -> tuple[str, str, bool]:
    """What an entry is, what it says, and whether it says that something is wrong."""
    if isinstance(row, LineClearance):
        words = {"before": row.before_name or "—", "product": row.product_name}
        change = _("%(before)s to %(product)s") % words
        return _("line cleared"), f"{change}; {things_words(row.things)}", not row.clear
    if isinstance(row, ClearanceCheck):
        said = _("found clear") if row.agrees else _("not clear: %(what)s") % {"what": row.note}
        number = _("clearance %(number)d") % {"number": row.clearance}
        return _("second person's check"), f"{number}; {said}", not row.agrees
    if isinstance(row, PackagingOpened):
        return kind_words(row.kind), opened_words(row), not row.matches
    assert isinstance(row, PackagingCounted)
    words = {
        "code": row.roll_code, "used": row.used_typed, "returned": row.returned_typed, "damaged": row.damaged_typed,
    }  # fmt: skip
    said = _("%(code)s: used %(used)s, returned %(returned)s, damaged %(damaged)s") % words
    because = f"; {row.because}" if row.because else ""
    return _("packaging counted"), f"{said}; {difference_words(row)}{because}", row.difference not in (0, None)


def opened_words(row: PackagingOpened) -> str:
    """An opening on one line: its code, what it is printed for, what became of it."""
    words = {"code": row.roll_code, "printed": row.printed_name, "product": row.product_name}
    issued = "; " + _("%(count)s issued") % {"count": row.issued_typed} if row.issued_typed else ""
    if row.matches:
        return _("%(code)s, printed for %(printed)s") % words + issued
    if row.used:
        return _("%(code)s, printed for %(printed)s, not %(product)s: packs had it") % words + issued
    return _("%(code)s, printed for %(printed)s, not %(product)s: caught, not used") % words + issued
