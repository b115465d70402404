"""What a person is asked once more before a return is kept: more of it than left to them. It refuses nothing."""

from __future__ import annotations

from uuid import UUID

from django.utils.translation import gettext as _

from plant import clock
from plant.process.units import NumberError, parse_number, plain
from records.flow.data import UNITS
from records.flow.doubts import Doubt
from records.flow.errors import Refused
from records.people.plans import InForce
from records.recall.codes import lot_of
from records.recall.data import ReturnData
from records.recall.dispatched import sent_of
from records.recall.recipients import total
from records.recall.returned import standing
from records.recall.state import key


def about(data: ReturnData, in_force: InForce, part: UUID | None = None) -> list[Doubt]:
    """More than the book says left to them, less what came back before; `part`: the return that is amended.

    Nothing is asked where a quantity is not known. Some three statements.
    """
    if not data.quantity_typed or data.unit not in UNITS:
        return []
    try:
        wanted = parse_number(data.quantity_typed, in_force.plan.plant.decimal_mark)
        lot = lot_of(data.code, clock.now().year)
    except (NumberError, Refused):  # the act says so
        return []
    if lot is None:
        return []
    who = key(data.consignee)
    left = [(one.quantity, one.unit) for one in sent_of([lot.id]).get(lot.id, []) if key(one.to) == who]
    others = standing().filter(lot=lot.id).exclude(part=part) if part is not None else standing().filter(lot=lot.id)
    back = [(one.quantity, one.unit) for one in others if key(one.consignee) == who]
    sent, before = total(left, data.unit), total(back, data.unit)
    if sent is None or before is None or wanted <= sent - before:
        return []
    words = {"back": data.quantity_typed, "left": plain(sent, 1), "unit": data.unit, "before": plain(before, 1)}
    if before:
        sentence = _(
            "More than the book says left to them: %(back)s of %(left)s %(unit)s, of which %(before)s came back before."
            " Is it right?"
        )
    else:
        sentence = _("More than the book says left to them: %(back)s of %(left)s %(unit)s. Is it right?")
    return [Doubt("quantity", sentence % words)]
