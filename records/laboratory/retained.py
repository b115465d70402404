"""Retained samples, those to be kept still and those whose keeping has ended: listed, the ended ones told of once.

Nothing here says that one may go: what its lot is held for, or a recall, may still need it. A person decides.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.utils.translation import gettext as _

from plant import clock
from records.checks.told_once import first_day, put_notice, told_of, write_told
from records.flow.queries import held_lots_at
from records.laboratory.models import RETAINED, Sample
from records.laboratory.queries import root_of, standing
from records.ledger.actions import WATCH, act
from records.people.plans import InForce, plan_in_force

LISTED = timedelta(days=30)
MOST = 300  # of those to be kept, on one page


@dataclass(frozen=True, slots=True)
class Kept:
    """A retained sample; `held`: its lot is on hold now."""

    sample: Sample
    held: bool


def kept(now: datetime, in_force: InForce) -> tuple[list[Kept], bool]:
    """Those that are to be kept today, the first to end first, and whether there are more. Few queries."""
    today = in_force.calendar.local(now).date()
    there = standing(Sample.objects.filter(kind=RETAINED, kept_until__gte=today))
    rows = list(there.order_by("kept_until", "number")[: MOST + 1])
    return _with_holds(rows[:MOST], now), len(rows) > MOST


def ended(now: datetime, in_force: InForce) -> list[Kept]:
    """Those whose last day of keeping is over, of the last 30 days, the longest over first. Few queries."""
    today = in_force.calendar.local(now).date()
    there = Sample.objects.filter(kind=RETAINED, kept_until__lt=today, kept_until__gte=today - LISTED)
    return _with_holds(list(standing(there).order_by("kept_until", "number")), now)


def _with_holds(rows: list[Sample], now: datetime) -> list[Kept]:
    held = held_lots_at(now) if any(one.lot for one in rows) else {}
    return [Kept(one, one.lot in held) for one in rows]


def look() -> int:
    """Put a notice for each that the watch answers for; counts what this pass, and no other, told of."""
    now = clock.now()
    in_force = plan_in_force(now)
    if in_force is None:
        return 0
    began = first_day(in_force)
    wanted = [one for one in ended(now, in_force) if began is None or _last_day(one) >= began]
    known = told_of(_key(one) for one in wanted)
    with in_force.speaking():
        return sum(_tell(one, in_force) for one in wanted if _key(one) not in known)


def words(one: Kept) -> str:
    """What is told, in the language that is spoken."""
    said = {
        "code": one.sample.code, "of": one.sample.lot_label or one.sample.product_name or one.sample.place_name,
        "day": _last_day(one).isoformat(), "where": one.sample.kept_where,
    }  # fmt: skip
    sentence = _("Retained sample %(code)s, %(of)s: to be kept until %(day)s, now over. Kept at: %(where)s.") % said
    return f"{sentence} {_('Its lot is on hold: keep the sample until that is decided.')}" if one.held else sentence


def _last_day(one: Kept) -> date:
    assert one.sample.kept_until is not None  # they are found by it
    return one.sample.kept_until


def _key(one: Kept) -> str:
    return f"told|retained sample|{root_of(one.sample)}|{_last_day(one).isoformat()}"


def _tell(one: Kept, in_force: InForce) -> bool:
    key, sentence = _key(one), words(one)
    with act(WATCH) as a:
        # Amended, or told of by another pass, since it was read.
        stands = standing(Sample.objects.filter(number=one.sample.number)).exists()
        if not stands or told_of([key]):
            return False
        write_told(
            a, in_force, key, sentence, subject=one.sample.place[:40], subject_name=one.sample.place_name,
            due_at=in_force.calendar.utc(_last_day(one) + timedelta(days=1), time()),
        )  # fmt: skip
        put_notice(a, in_force, key, sentence)
    return True
