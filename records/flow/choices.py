"""What the forms may choose from: the vessels, lines, products and events of the plan in force."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from plant.hazard_plan.content import Plan, ProductDef, VesselDef
from records.flow.exits import EXITS
from records.flow.words import in_words
from records.people.plans import InForce

# No code can look like this: a choice of its own, so that nothing chosen is not taken for it.
OUTSIDE = "(outside)"
# Events that movements, washes, outages and calendars give by themselves, and those that every plant has.
FROM_MOVEMENTS = frozenset({"tanker", "outage end"})
WASHED, SANITIZED = "washed", "sanitized"
# A wash said to begin; and that one so said (the reference is its number) did not happen.
WASH_BEGUN, WASH_NOT_DONE = "wash begun", "wash did not happen"
EVERYWHERE = ("batch", "label roll", "chart change", "delivery", "visitor", "breakage")
# Other equipment that product can run through.
LINE_EQUIPMENT = frozenset({"separator", "filler", "homogenizer", "clarifier", "pump"})
RAW = "raw milk"
# What else of milk may come in raw, bought: cream, skim, and condensed, which the plan has among "other".
BOUGHT_RAW = ("cream", "skim", "other")


def in_flow_order(plan: Plan) -> list[VesselDef]:
    """Vessels and lines in the order in which product goes through the plant."""
    return sorted(plan.vessels, key=lambda one: (one.flow_order, one.name))


def vessel_of(in_force: InForce | None, code: str) -> VesselDef | None:
    """The vessel (or line) of a code as the plan in force states it."""
    if in_force is None:
        return None
    return next((one for one in in_force.plan.vessels if one.code == code), None)


def product_of(in_force: InForce | None, code: str) -> ProductDef | None:
    """The product of a code as the plan in force states it."""
    if in_force is None:
        return None
    return next((one for one in in_force.plan.products if one.code == code), None)


def may_be_raw(product: ProductDef) -> bool:
    """Whether a product can come in raw: raw milk, or cream, skim or another product of milk."""
    return product.family == RAW or (product.family in BOUGHT_RAW and "milk" in product.allergens)


def is_raw(product: ProductDef | None, into: VesselDef | None) -> bool:
    """Whether a product from outside is raw by the plan's data, never by its name.

    Raw milk always is. Cream, skim and another product of milk are where they go into a vessel of raw product. Cream
    and skim are everywhere where the plan does not sell them as they are, for raw product is never sold.
    """
    if product is None or not may_be_raw(product):
        return False
    never_sold = product.family != "other" and not product.is_sold
    return product.family == RAW or never_sold or (into is not None and into.stage == "raw")


def holders(plan: Plan) -> list[tuple[str, str]]:
    """(code, name) of what holds product."""
    return [(one.code, one.name) for one in in_flow_order(plan) if one.holds_product]


def places(plan: Plan) -> list[tuple[str, Any]]:
    """Where product may come from or go to."""
    return [("", "—"), (OUTSIDE, _("outside: say where")), *holders(plan)]


def targets(plan: Plan) -> list[tuple[str, Any]]:
    """Where product may go: a vessel, an exit by its name, or anywhere else in words."""
    exits = [(f"({key})", words) for key, words in EXITS.items()]
    return [("", "—"), *holders(plan), *exits, (OUTSIDE, _("outside: say where"))]


def exit_chosen(choice: str | None) -> str:
    """The exit that a choice of `targets` is; empty for any other."""
    key = (choice or "")[1:-1]
    return key if choice == f"({key})" and key in EXITS else ""


def is_line(plan: Plan, code: str) -> bool:
    """Whether product can run through this place without staying."""
    return code in {one for one, _name in lines(plan)}


def lines(plan: Plan) -> list[tuple[str, str]]:
    """(code, name) of what product runs through: vessels that hold none, and equipment of the line."""
    passing = [(one.code, one.name) for one in in_flow_order(plan) if not one.holds_product]
    other = sorted(plan.equipment, key=lambda one: (one.walk_order, one.name))
    return passing + [(one.code, one.name) for one in other if one.kind.lower() in LINE_EQUIPMENT]


def washable(plan: Plan) -> list[tuple[str, str]]:
    """(code, name) of what is washed: vessels and lines, and parts and other equipment that a program washes."""
    vessels = [(one.code, one.name) for one in in_flow_order(plan)]
    found = vessels + [one for one in lines(plan) if one[0] not in dict(vessels)]
    named = parts(plan)
    return found + [(one.code, one.name) for one in plan.equipment if one.code in named and one.code not in dict(found)]


def parts(plan: Plan) -> set[str]:
    """What a wash program washes and no product runs through by itself: parts washed by hand or out of place."""
    passed = {one.code for one in plan.vessels} | {code for code, _name in lines(plan)}
    return {place for one in plan.wash_steps for place in one.places} - passed


def products(plan: Plan) -> list[tuple[str, str]]:
    """(code, name) of every product of the plan."""
    return [(one.code, one.name) for one in plan.products]


def events(plan: Plan) -> list[tuple[str, str]]:
    """The events that a person can record: those the plan asks checks for, and those that every plant has."""
    asked = {one.frequency.event for one in plan.monitoring if one.frequency.event}
    names = sorted((asked | set(EVERYWHERE)) - FROM_MOVEMENTS - {WASH_BEGUN, WASH_NOT_DONE})
    return [(one, in_words(one)) for one in names]


def event_places(plan: Plan) -> list[tuple[str, Any]]:
    """Where an event may have been: any vessel or equipment, or the whole plant."""
    equipment = sorted(plan.equipment, key=lambda one: (one.walk_order, one.name))
    vessels = [(one.code, one.name) for one in in_flow_order(plan)]
    return [("", _("the whole plant")), *vessels, *((one.code, one.name) for one in equipment)]
