"""What is known of each farm's milk at pick-up, and what of it is out of the limits of the rule set or the plan.

A farm of a load may have `temperature` and `unit` as typed, `picked_up`, `milking_ended` and `first_milking` (its
beginning; ISO, UTC) and `collected` beside its name and pounds. The rows judged are `farm-2h`, `farm-blend` and
`farm-4h`, or `farm-daily`, `farm` and `farm-processed`; a rule set without them leaves facts alone. A plan's limit on
such a row counts where it is stricter. Hours since pick-up are the plan's own rule (`pickup_h`): no law was found.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from fractions import Fraction

from django.utils.translation import gettext as _

from plant.process.pickup import AtPickup, FirstMilking, judge_collected, judge_pickup
from plant.process.units import exact, parse_number, plain
from plant.rules import Rule
from plant.rules.intervals import rule_of
from records.people.plans import InForce
from records.receiving.models import PARLOR, LoadEvent

WITHIN_2H, BLEND, FIRST_4H = "farm-2h", "farm-blend", "farm-4h"
DAILY, NOT_DAILY, PROCESSED = "farm-daily", "farm", "farm-processed"
# The checks of a tanker's temperature: their control point takes what a farm's milk leads to.
ON_ARRIVAL = ("raw-cold", "arrival")
EACH_DAY, OTHER_DAYS = "daily", "not daily"
COLLECTED = (EACH_DAY, OTHER_DAYS)
HOUR = 3600
# Whether milk still may be, or was, processed by a moment.
InTime = Callable[[datetime], bool]


def never(by: datetime) -> bool:
    """Nothing is known of its having been processed in time."""
    return False


def asks_collection(in_force: InForce) -> bool:
    """Whether the rule set tells milk collected daily from other milk."""
    return rule_of(in_force.plan.plant.rule_set, DAILY) is not None


def asks_first_milking(in_force: InForce) -> bool:
    """Whether the rule set gives a first milking hours of its own."""
    return rule_of(in_force.plan.plant.rule_set, FIRST_4H) is not None


def collected_words(said: str) -> str:
    """How often a farm's milk is collected."""
    return {EACH_DAY: _("collected daily"), OTHER_DAYS: _("not collected daily")}.get(said, said)


def moment(one: dict[str, str], name: str) -> datetime | None:
    """A time of a farm's pick-up."""
    return datetime.fromisoformat(one[name]) if one.get(name) else None


def said(one: dict[str, str], row: LoadEvent, in_force: InForce) -> str:
    """A farm, its pounds and its pick-up on one line."""
    parts = [f"{one['farm']} {one['pounds']} lb" if one["pounds"] else one["farm"]]
    if one.get("temperature"):
        parts.append(f"{one['temperature']} {one['unit']}")
    if one.get("collected"):
        parts.append(collected_words(one["collected"]))
    for name, sentence in (
        ("first_milking", _("first milking begun %(when)s")),
        ("milking_ended", _("milking ended %(when)s")),
        ("picked_up", _("picked up %(when)s")),
    ):
        at = moment(one, name)
        if at is not None:
            parts.append(sentence % {"when": in_force.calendar.local(at).strftime("%Y-%m-%d %H:%M")})
            if name == "picked_up":
                hours = Fraction(int((row.happened_at - at).total_seconds()), HOUR)
                parts.append(_("%(hours)s h before arrival") % {"hours": plain(hours, 1)})
    return ", ".join(parts)


def out_of_limits(row: LoadEvent, in_force: InForce, in_time: InTime = never) -> list[str]:
    """A sentence for each farm whose milk was, or is not shown not to have been, too warm at pick-up."""
    found = [_judged(one, in_force, in_time) for one in row.farms if one.get("temperature")]
    return [one for one in found if one]


def too_long(row: LoadEvent, in_force: InForce, until: datetime) -> list[str]:
    """A sentence for each farm whose milk was picked up longer ago than the plan allows, or nobody says when.

    `until`: when it arrived.
    """
    most = in_force.plan.settings.pickup_h
    if not most or row.means == PARLOR:
        return []
    found = []
    for one in row.farms:
        at = moment(one, "picked_up")
        words = {"farm": one["farm"], "most": most}
        if at is None:
            found.append(
                _("%(farm)s: nobody wrote when it was picked up; the plan allows %(most)d h (the plan's own rule)")
                % words
            )
        elif until - at > timedelta(hours=most):
            words["hours"] = plain(Fraction(int((until - at).total_seconds()), HOUR), 1)
            found.append(
                _("%(farm)s: picked up %(hours)s h before; the plan allows %(most)d h (the plan's own rule)") % words
            )
    return found


def process_by(row: LoadEvent, in_force: InForce) -> list[tuple[str, datetime]]:
    """(farm, moment) of each farm whose milk is too warm unless it is processed by then."""
    found = []
    for one in row.farms:
        by = _processed_by(one, in_force)
        if by is not None and one.get("temperature") and _judged(one, in_force, never):
            found.append((one["farm"], by))
    return found


def _judged(one: dict[str, str], in_force: InForce, in_time: InTime) -> str:
    """What is wrong with one farm's temperature at pick-up; empty where nothing is."""
    key = in_force.plan.plant.rule_set
    within, blend, first = (rule_of(key, name) for name in (WITHIN_2H, BLEND, FIRST_4H))
    if within is not None and blend is not None:
        return _cooled(one, in_force, within, blend, first)
    daily, other = rule_of(key, DAILY), rule_of(key, NOT_DAILY)
    if daily is not None and other is not None:
        by = _processed_by(one, in_force)
        return "" if by is not None and in_time(by) else _collected(one, in_force, daily, other)
    return ""


def _cooled(one: dict[str, str], in_force: InForce, within: Rule, blend: Rule, first: Rule | None) -> str:
    """By hours since milking, a first milking by its own."""
    high, blend_high = _high(within, in_force), exact(_high(blend, in_force), blend.unit, within.unit)
    ended, began, picked_up = (moment(one, name) for name in ("milking_ended", "first_milking", "picked_up"))
    granted = None
    if first is not None and began is not None:
        granted = FirstMilking(
            _seconds(began, picked_up), exact(_high(first, in_force), first.unit, within.unit),
            Fraction(first.hours) * HOUR,
        )  # fmt: skip
    hours = Fraction(within.hours)
    verdict = judge_pickup(
        _temperature(one, in_force, within.unit), _seconds(ended, picked_up),
        high=high, within_s=hours * HOUR, blend_high=blend_high, first=granted,
    )  # fmt: skip
    if verdict == AtPickup.WITHIN:
        return ""
    words = {
        "farm": one["farm"], "typed": f"{one['temperature']} {one['unit']}", "high": f"{plain(high)} {within.unit}",
        "blend": f"{plain(blend_high)} {within.unit}", "hours": plain(hours), "clause": within.clause,
    }  # fmt: skip
    if granted is not None and first is not None:
        words |= {"first": f"{plain(granted.high)} {within.unit}", "within": plain(Fraction(first.hours))}
        sentence = _(
            "%(farm)s: %(typed)s at pick-up of a first milking; %(first)s within %(within)s h of its start and"
            " %(high)s within %(hours)s h of its end, and that is not so or not shown (%(clause)s)"
        )
    elif verdict == AtPickup.NOT_SHOWN:
        sentence = _(
            "%(farm)s: %(typed)s at pick-up, over %(high)s and not shown to be within %(hours)s h of the end of"
            " milking (%(clause)s)"
        )
    else:
        sentence = _(
            "%(farm)s: %(typed)s at pick-up; %(high)s within %(hours)s h of the end of milking, and never a blend"
            " over %(blend)s (%(clause)s)"
        )
    return sentence % words


def _collected(one: dict[str, str], in_force: InForce, daily: Rule, other: Rule) -> str:
    """By how often it is collected."""
    daily_high, high = _high(daily, in_force), exact(_high(other, in_force), other.unit, daily.unit)
    often = {EACH_DAY: True, OTHER_DAYS: False}.get(one.get("collected", ""))
    verdict = judge_collected(_temperature(one, in_force, daily.unit), daily=often, daily_high=daily_high, high=high)
    if verdict == AtPickup.WITHIN:
        return ""
    words = {
        "farm": one["farm"], "typed": f"{one['temperature']} {one['unit']}", "high": f"{plain(high)} {daily.unit}",
        "daily": f"{plain(daily_high)} {daily.unit}", "clause": daily.clause,
    }  # fmt: skip
    if verdict == AtPickup.NOT_SHOWN:
        sentence = _(
            "%(farm)s: %(typed)s at pick-up, over %(high)s, and nobody says that it is collected daily (%(daily)s)"
            " (%(clause)s)"
        )
    else:
        sentence = _("%(farm)s: %(typed)s at pick-up; %(daily)s collected daily, %(high)s otherwise (%(clause)s)")
    return sentence % words


def _processed_by(one: dict[str, str], in_force: InForce) -> datetime | None:
    """Until when milk that was not cooled may be processed, where the rule set says so and the end is known."""
    rule, ended = rule_of(in_force.plan.plant.rule_set, PROCESSED), moment(one, "milking_ended")
    return ended + timedelta(hours=float(rule.hours)) if rule is not None and ended is not None else None


def _temperature(one: dict[str, str], in_force: InForce, unit: str) -> Fraction:
    return exact(parse_number(one["temperature"], in_force.plan.plant.decimal_mark), one["unit"], unit)


def _seconds(since: datetime | None, until: datetime | None) -> Fraction | None:
    return Fraction(int((until - since).total_seconds())) if since and until else None


def point_of(in_force: InForce) -> str:
    """The control point that a farm's temperature belongs to."""
    plan = in_force.plan
    for rule in (WITHIN_2H, BLEND, FIRST_4H, DAILY, NOT_DAILY, *ON_ARRIVAL):
        limits = {one.key for one in plan.limits if one.rule == rule}
        for check in plan.monitoring:
            if limits & set(check.limits) and (rule not in ON_ARRIVAL or check.frequency.event == "tanker"):
                return check.control_point
    return "receiving"


def _high(rule: Rule, in_force: InForce) -> Fraction:
    stated = [one for one in in_force.plan.limits if one.rule == rule.id and one.high]
    own = [exact(Fraction(one.high), one.unit, rule.unit) for one in stated]
    return min([Fraction(rule.high), *own])
