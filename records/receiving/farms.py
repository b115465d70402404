"""What is known of each farm's milk at pick-up, and what of it is out of the rule set's limits.

A farm of a load may have `temperature` and `unit` as typed, `picked_up` and `milking_ended` (ISO, UTC) beside its name
and pounds. The rows judged are `farm-2h` and `farm-blend`; a rule set without them leaves facts alone. A plan's limit
on such a row counts where it is stricter.
"""

from __future__ import annotations

from datetime import datetime
from fractions import Fraction

from django.utils.translation import gettext as _

from plant.process.pickup import AtPickup, judge_pickup
from plant.process.units import exact, parse_number, plain
from plant.rules import Rule
from plant.rules.intervals import rule_of
from records.people.plans import InForce
from records.receiving.models import LoadEvent

WITHIN_2H, BLEND = "farm-2h", "farm-blend"
RAW_COLD = "raw-cold"  # the check of a tanker's temperature: its control point takes what a farm's milk leads to
HOUR = 3600


def moment(one: dict[str, str], name: str) -> datetime | None:
    """A time of a farm's pick-up."""
    return datetime.fromisoformat(one[name]) if one.get(name) else None


def said(one: dict[str, str], row: LoadEvent, in_force: InForce) -> str:
    """A farm, its pounds and its pick-up on one line."""
    parts = [f"{one['farm']} {one['pounds']} lb" if one["pounds"] else one["farm"]]
    if one.get("temperature"):
        parts.append(f"{one['temperature']} {one['unit']}")
    for name, sentence in (("milking_ended", _("milking ended %(when)s")), ("picked_up", _("picked up %(when)s"))):
        at = moment(one, name)
        if at is not None:
            parts.append(sentence % {"when": in_force.calendar.local(at).strftime("%Y-%m-%d %H:%M")})
            if name == "picked_up":
                hours = Fraction(int((row.happened_at - at).total_seconds()), HOUR)
                parts.append(_("%(hours)s h before arrival") % {"hours": plain(hours, 1)})
    return ", ".join(parts)


def out_of_limits(row: LoadEvent, in_force: InForce) -> list[str]:
    """A sentence for each farm whose milk was, or is not shown not to have been, too warm at pick-up."""
    key = in_force.plan.plant.rule_set
    within, blend = rule_of(key, WITHIN_2H), rule_of(key, BLEND)
    if within is None or blend is None:
        return []
    high, blend_high = _high(within, in_force), _high(blend, in_force)
    found = []
    for one in row.farms:
        if not one.get("temperature"):
            continue
        number = parse_number(one["temperature"], in_force.plan.plant.decimal_mark)
        ended, picked_up = moment(one, "milking_ended"), moment(one, "picked_up")
        since = Fraction(int((picked_up - ended).total_seconds())) if picked_up and ended else None
        temperature = exact(number, one["unit"], within.unit)
        hours = Fraction(within.hours)
        verdict = judge_pickup(
            temperature, since, high=high, within_s=hours * HOUR, blend_high=exact(blend_high, blend.unit, within.unit)
        )
        words = {
            "farm": one["farm"], "typed": f"{one['temperature']} {one['unit']}", "high": f"{plain(high)} {within.unit}",
            "blend": f"{plain(blend_high)} {blend.unit}", "hours": plain(hours), "clause": within.clause,
        }  # fmt: skip
        if verdict == AtPickup.NOT_SHOWN:
            sentence = _(
                "%(farm)s: %(typed)s at pick-up, over %(high)s and not shown to be within %(hours)s h of the end of"
                " milking (%(clause)s)"
            )
        elif verdict == AtPickup.OUT:
            sentence = _(
                "%(farm)s: %(typed)s at pick-up; %(high)s within %(hours)s h of the end of milking, and never a blend"
                " over %(blend)s (%(clause)s)"
            )
        else:
            continue
        found.append(sentence % words)
    return found


def point_of(in_force: InForce) -> str:
    """The control point that a farm's temperature belongs to."""
    plan = in_force.plan
    for rule in (WITHIN_2H, BLEND, RAW_COLD):
        limits = {one.key for one in plan.limits if one.rule == rule}
        for check in plan.monitoring:
            if limits & set(check.limits) and (rule != RAW_COLD or check.frequency.event == "tanker"):
                return check.control_point
    return "receiving"


def _high(rule: Rule, in_force: InForce) -> Fraction:
    stated = [one for one in in_force.plan.limits if one.rule == rule.id and one.high]
    own = [exact(Fraction(one.high), one.unit, rule.unit) for one in stated]
    return min([Fraction(rule.high), *own])
