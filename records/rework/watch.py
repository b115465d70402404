"""The watch of rework: what is past its hours, neither used up nor thrown away, is told of once."""

from __future__ import annotations

from datetime import datetime

from django.utils.translation import gettext as _

from plant import clock
from records.checks.told_once import answers_from, put_notice, told_of, write_told
from records.ledger.actions import WATCH, act
from records.people.plans import InForce, plan_in_force
from records.rework.state import Portion, hours_allowed, portion_of, portions


def past(now: datetime, in_force: InForce) -> list[Portion]:
    """Kept past its hours, in order of time."""
    return [one for one in portions(now, in_force) if one.is_past(now, in_force)]


def sentence(portion: Portion, in_force: InForce) -> str:
    """That it is past its hours, with the numbers, in the language that is spoken."""
    words = {
        "name": in_force.names.get(portion.code, portion.code), "product": portion.row.product_name,
        "hours": hours_allowed(portion.row, in_force), "version": in_force.number,
        "when": f"{in_force.calendar.local(portion.until(in_force)):%Y-%m-%d %H:%M}",
    }  # fmt: skip
    return _(
        "%(name)s, %(product)s: its %(hours)d h were over at %(when)s (plan version %(version)d), and it is neither"
        " used nor thrown away"
    ) % words


def look() -> int:
    """One pass over what is kept; counts what this pass, and no other, told of."""
    now = clock.now()
    in_force = plan_in_force(now)
    if in_force is None:
        return 0
    since = answers_from()
    wanted = [one for one in past(now, in_force) if since is None or one.until(in_force) >= since]
    known = told_of(_key(one) for one in wanted)
    with in_force.speaking():
        return sum(_tell(one, now, in_force) for one in wanted if _key(one) not in known)


def _key(portion: Portion) -> str:
    return f"told|rework past its hours|{portion.number}"


def _tell(portion: Portion, now: datetime, in_force: InForce) -> bool:
    key, told = _key(portion), sentence(portion, in_force)
    with act(WATCH) as a:
        # Used, amended, or told of by another pass, since it was read.
        again = portion_of(portion.number, in_force)
        if again is None or not again.is_past(now, in_force) or told_of([key]):
            return False
        write_told(
            a, in_force, key, told, subject=portion.code[:40],
            subject_name=str(in_force.names.get(portion.code, portion.code)), due_at=portion.until(in_force),
        )  # fmt: skip
        put_notice(a, in_force, key, told)
    return True
