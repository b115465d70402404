"""The tests of the laboratory that a plan asks for: that each can be made, judged and ever is due. Pure."""

from __future__ import annotations

from decimal import Decimal

from dateutil.rrule import rrulestr

from plant.hazard_plan.content import Plan, PlanError, SampledDef
from plant.hazard_plan.problem import Findings
from plant.hazard_plan.tidy import number
from plant.process.laboratory import TESTS, Kind
from plant.rules import keys, rule_set

WEIGHTS = ("safety", "legal", "quality")


def check_samples(plan: Plan, found: Findings) -> None:
    """Refuse a test that refers to nothing or cannot be judged."""
    for at, one in enumerate(plan.sampled):
        _sampled(plan, one, f"sampled[{at}]", found)


def _sampled(plan: Plan, one: SampledDef, path: str, found: Findings) -> None:
    if not found.one_of(f"{path}.test", one.test, tuple(TESTS), "test of a laboratory"):
        return
    test = TESTS[one.test]
    found.one_of(f"{path}.weight", one.weight, WEIGHTS, "weight")
    if one.control_point not in {point.key for point in plan.control_points}:
        found.refuse(f"{path}.control_point", f"{one.control_point!r} is no control point of this plan")
    for code in one.products:
        if code not in {product.code for product in plan.products}:
            found.refuse(f"{path}.products", f"{code!r} is no product of this plan")
    places = {vessel.code for vessel in plan.vessels} | {tool.code for tool in plan.equipment}
    if one.place and one.place not in places:
        found.refuse(f"{path}.place", f"{one.place!r} is no vessel or equipment of this plan")
    if not one.place and not one.products:
        found.refuse(f"{path}.products", "names neither a product nor a place: nothing would be sampled")
    limits = {limit.key: limit for limit in plan.limits}
    for key in one.limits:
        if key not in limits:
            found.refuse(f"{path}.limits", f"{key!r} is no limit of this plan")
        elif (test.kind is Kind.SIGN) is not bool(limits[key].wanted):
            wants = "a wanted answer" if test.kind is Kind.SIGN else "a number"
            found.refuse(f"{path}.limits", f"{one.test} needs a limit with {wants}, and {key} has none")
    if one.required and not one.limits:
        found.refuse(f"{path}.limits", "a result that product waits for needs a limit")
    _criteria(plan, one, path, found)
    _how_often(one, path, found)
    if not 0 <= one.zone <= 4 or (one.zone and not one.place):
        found.refuse(f"{path}.zone", "is 1 to 4, of a place; 0 for no environmental site")
    if not 0 <= one.clean_days <= 100 or (one.clean_days and not one.zone):
        found.refuse(f"{path}.clean_days", "is a number of days, of an environmental site; 0 for none")
    if one.farms and (one.place or one.zone or one.required or not one.products):
        found.refuse(f"{path}.farms", "a farm's own milk is a product, of no place or zone; no packed lot waits for it")
    if not 1 <= one.samples <= 100 or not 0 <= one.may_exceed < one.samples:
        found.refuse(f"{path}.samples", "at least 1, and more than may be above the limit")
    if one.never_above:
        try:
            number(one.never_above, f"{path}.never_above")
        except PlanError as error:
            found.refuse(error.path, error.sentence)


def _criteria(plan: Plan, one: SampledDef, path: str, found: Findings) -> None:
    """Refuse, or have confirmed, fewer samples or more misses than a criterion of the rule set allows."""
    if plan.plant.rule_set not in keys():
        return
    rows = rule_set(plan.plant.rule_set).rows
    confirmed = {each.get("limit", "") for each in plan.confirmations if each.get("reason", "").strip()}
    for limit in plan.limits:
        row = rows.get(limit.rule)
        if limit.key not in one.limits or row is None or not row.samples:
            continue
        laxer = one.samples < row.samples or one.may_exceed > row.may_exceed
        if row.m:
            laxer = laxer or _above(limit.high, row.m)
            laxer = laxer or (one.may_exceed > 0 and (not one.never_above or _above(one.never_above, row.never_above)))
        if not laxer:
            continue
        asked = f"n {row.samples}, c {row.may_exceed}" + (f", m {row.m}, M {row.never_above}" if row.m else "")
        said = f"{one.key} is laxer than {row.clause} ({row.id}): it asks for {asked}"
        if row.was_read:
            found.refuse(f"{path}.samples", said)
        elif limit.key in confirmed:
            found.warn(f"{path}.samples", f"{said}. That row stands on {row.basis!r}; the plan confirms it.")
        else:
            found.ask(f"{path}.samples", f"{said}. That row stands on {row.basis!r}: the qualified individual must "
                      "confirm this with a reason.", limit.key)  # fmt: skip


def _above(value: str, bound: str) -> bool:
    """Whether a plan's number is missing or higher; what is no number is refused elsewhere."""
    try:
        return not value or number(value, "") > Decimal(bound)
    except PlanError:
        return False


def _how_often(one: SampledDef, path: str, found: Findings) -> None:
    if one.every_lots < 0:
        found.refuse(f"{path}.every_lots", "is a whole number, 0 for no such rule")
    if one.calendar:
        try:
            rrulestr(one.calendar)
        except (ValueError, TypeError, AttributeError):
            found.refuse(f"{path}.calendar", f"{one.calendar!r} is no calendar rule; write it as FREQ=MONTHLY")
    elif not one.every_lots:
        found.warn(f"{path}.every_lots", f"{one.key} is never due by itself: it says neither lots nor calendar")
