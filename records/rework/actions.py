"""The acts on rework: used, thrown away. Each is a movement of the flow, with all that follows from one."""

from __future__ import annotations

from django.utils.translation import gettext as _

from plant import clock
from plant.process.units import plain
from records.flow.actions import MovementData, record_movement
from records.flow.common import not_ahead, plan_at, typed_number
from records.flow.doubts import Doubt, about_quantity
from records.flow.errors import Refused, Several
from records.flow.exits import EXITS, FOR_PEOPLE
from records.flow.models import Movement
from records.flow.moving import what_bars
from records.ledger.actions import Actor, act
from records.people.plans import InForce
from records.rework import findings
from records.rework.data import AwayData, UseData
from records.rework.state import Portion, in_unit, like_only, portion_of

AWAY_BY = tuple(one for one in reversed(EXITS) if one not in FOR_PEOPLE and one != "separator sludge")


def use(by: Actor, data: UseData) -> Movement:
    """Rework used: its movement into a vessel. With `begins_now` all that stands against it refuses it (Several).

    What happened is kept with its deviation and hold. Raises Refused beside the field, DifferentContent.
    """
    saved = Movement.objects.filter(form_id=data.form_id).first()
    at = (saved.started_at if saved is not None else clock.now()) if data.begins_now else data.at
    not_ahead(at, "at")
    in_force = plan_at(at)
    portion = the_portion(data.portion, in_force)
    _after_it_was_set_aside(portion, at, in_force)
    number = typed_number(data.quantity.strip(), in_force, "quantity")
    if number is None or number <= 0:
        raise Refused(_("Enter how much of it went in."), "quantity")
    moved = MovementData(
        form_id=data.form_id, source=portion.code, target=data.target, product=data.product, started_at=at,
        ended_at=at, quantity_typed=data.quantity.strip(), unit=data.unit, measured_by=_how(data.unit),
        emptied=data.emptied or _takes_all(portion, number, data.unit, in_force), note=data.why.strip(),
    )  # fmt: skip
    with act(by):
        if data.begins_now and saved is None:
            gone = [] if the_portion(data.portion, in_force).is_kept else [nothing_left(portion, in_force)]
            if why := [*gone, *what_bars(moved)]:
                raise Several(why)
        return record_movement(by, moved)


def throw_away(by: Actor, data: AwayData) -> Movement:
    """Rework thrown away: its movement to a named exit, with the reason. Raises as `use`."""
    not_ahead(data.at, "at")
    in_force = plan_at(data.at)
    portion = the_portion(data.portion, in_force)
    _after_it_was_set_aside(portion, data.at, in_force)
    if data.leaves_by not in AWAY_BY:
        raise Refused(_("Choose one of the list."), "leaves_by")
    if not data.why.strip():
        raise Refused(_("Write why it is thrown away."), "why")
    number = typed_number(data.quantity.strip(), in_force, "quantity")
    with in_force.speaking():
        leaves_by = str(EXITS[data.leaves_by])
    moved = MovementData(
        form_id=data.form_id, source=portion.code, target="", target_name=leaves_by, product=portion.row.product,
        started_at=data.at, ended_at=data.at, quantity_typed=data.quantity.strip(), unit=data.unit if number else "",
        measured_by=_how(data.unit) if number else "unknown", note=data.why.strip(),
        emptied=data.emptied or (number is not None and _takes_all(portion, number, data.unit, in_force)),
    )  # fmt: skip
    return record_movement(by, moved)


def the_portion(number: int, in_force: InForce) -> Portion:
    """The portion of a number; Refused where there is none."""
    found = portion_of(number, in_force)
    if found is None:
        raise Refused(_("There is no such rework."))
    return found


def _how(unit: str) -> str:
    return "mass" if unit in ("lb", "kg") else "level"


def _takes_all(portion: Portion, number: object, unit: str, in_force: InForce) -> bool:
    taken = in_unit(number, unit, portion.row, in_force)  # type: ignore[arg-type]
    return portion.left is not None and taken is not None and taken == portion.left


def _after_it_was_set_aside(portion: Portion, at: object, in_force: InForce) -> None:
    began = portion.row.happened_at
    if at < began:  # type: ignore[operator]
        words = {"when": f"{in_force.calendar.local(began):%Y-%m-%d %H:%M}"}
        raise Refused(_("It was set aside only at %(when)s.") % words, "at")


# --- asked once more


def doubts(portion: Portion, data: UseData | AwayData, in_force: InForce) -> list[Doubt]:
    """What is asked before it is kept: more than is left, nothing left, and where the plan has no rule, the flavor."""
    found = _about_what_is_left(portion, data, in_force)
    if isinstance(data, UseData):
        found += about_quantity(data.quantity, data.unit, (data.target,), in_force, data.product)
        if not like_only(in_force.plan):
            products = [one for one in in_force.plan.products if one.code == data.product]
            for name in findings.other_flavors(portion, products):
                words = {"product": portion.row.product_name, "other": name}
                found.append(Doubt("product", _("It is %(product)s. Does it go into %(other)s?") % words))
    return found


def _about_what_is_left(portion: Portion, data: UseData | AwayData, in_force: InForce) -> list[Doubt]:
    if not portion.is_kept:
        return [Doubt("quantity", nothing_left(portion, in_force))]
    number = typed_number(data.quantity.strip(), in_force, "quantity")
    taken = in_unit(number, data.unit, portion.row, in_force)
    if portion.left is None or taken is None or taken <= portion.left:
        return []
    words = {"left": f"{plain(portion.left, 2)} {portion.row.unit}"}
    return [Doubt("quantity", _("That is more than is left of it by the book: %(left)s.") % words)]


def nothing_left(portion: Portion, in_force: InForce) -> str:
    """That the book knows of nothing left, in a sentence."""
    assert portion.emptied_at is not None  # asked of one that is gone
    words = {"when": f"{in_force.calendar.local(portion.emptied_at):%Y-%m-%d %H:%M}"}
    return _("By the book nothing is left of it since %(when)s.") % words


__all__ = ["AWAY_BY", "doubts", "the_portion", "throw_away", "use"]
