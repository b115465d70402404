"""From what was said of a freezer's run to the columns of a row; Refused beside the field of what makes no sense."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from django.utils.translation import gettext as _

from plant.process.errors import OutsideRange
from records.deviations.errors import Refused
from records.flow.common import typed_number
from records.flow.data import UNITS
from records.freezer_runs import state
from records.freezer_runs.cup import weighed
from records.freezer_runs.data import SayData
from records.freezer_runs.models import (
    BECAME,
    CUP,
    DRAW,
    DRAW_BEGUN,
    FED,
    FIRST,
    FIRST_RIGHT,
    HARDENING,
    PURGED,
    REWORK,
    FreezerEvent,
)
from records.people.plans import InForce
from records.run_rows.models import NOTE, UNUSUAL

NEEDS_WORDS = (UNUSUAL, NOTE)
MASSES = ("g", "oz", "lb")
MOST_TUBS = 1_000_000


def tubs_of(typed: str, *, required: bool = False) -> int | None:
    """How many tubs; Refused beside the field."""
    if not typed.strip():
        if required:
            raise Refused(_("Enter how many tubs."), "tubs")
        return None
    if not typed.strip().isascii() or not typed.strip().isdigit() or int(typed) > MOST_TUBS:
        raise Refused(_("Enter a whole number, zero or more."), "tubs")
    return int(typed)


def _hours(typed: str) -> int | None:
    if not typed.strip():
        return None
    if not typed.strip().isascii() or not typed.strip().isdigit() or not 0 < int(typed) <= 10_000:
        raise Refused(_("Enter whole hours, one or more."), "use_within_h")
    return int(typed)


def _bounded(hours: int | None, in_force: InForce) -> int:
    """The hours that the plan allows where nobody typed any. What it is to be used within lies ahead: never more."""
    most = in_force.plan.settings.rework_h
    if hours is None and not most:
        raise Refused(_("Say within how many hours the rework has to be used."), "use_within_h")
    if hours is not None and most and hours > most:
        words = {"hours": most, "number": in_force.number}
        sentence = _("Rework is used within %(hours)d h by the plan (version %(number)d): no more can be allowed here.")
        raise Refused(sentence % words, "use_within_h")
    return hours or most


def fill(row: FreezerEvent, data: SayData, run: state.FreezerRun, in_force: InForce) -> None:
    """The parts of a row that its kind asks for; Refused beside the field of what is missing or makes no sense."""
    row.words = data.words.strip()
    if row.what in NEEDS_WORDS and not row.words:
        raise Refused(_("Write a few words here."), "words")
    draw = _last_draw(run, row.happened_at)
    if draw is not None and row.what in (PURGED, FIRST_RIGHT, DRAW, CUP, HARDENING):
        row.product, row.product_name = draw.product, draw.product_name
    by_kind = {PURGED: _fill_purged, FIRST_RIGHT: _fill_first, DRAW: _fill_draw, CUP: _fill_cup, FED: _fill_fed}
    if row.what == HARDENING:
        _fill_hardening(row, data)
    elif row.what in by_kind:
        by_kind[row.what](row, data, in_force)


def _last_draw(run: state.FreezerRun, at: datetime) -> FreezerEvent | None:
    return next((one for one in reversed(run.by(at)) if one.what == DRAW_BEGUN), None)


def _became(row: FreezerEvent, data: SayData, in_force: InForce) -> None:
    """What became of product set aside or purged: rework carries its allergens and its hours."""
    if data.became not in BECAME:
        raise Refused(_("Say what became of it."), "became")
    row.became, row.use_within_h, row.allergens = data.became, None, ""
    if data.became != REWORK:
        return
    row.use_within_h = _bounded(_hours(data.use_within_h), in_force)
    product = next((one for one in in_force.plan.products if one.code == row.product), None)
    if product is None:
        raise Refused(_("Nothing was drawn before it in this run: there is no flavor to rework it into."), "became")
    row.allergens = ", ".join(sorted(product.allergens))


def _fill_purged(row: FreezerEvent, data: SayData, in_force: InForce) -> None:
    row.amount, row.amount_typed = typed_number(data.amount, in_force, "amount"), data.amount.strip()
    row.unit = data.unit if row.amount is not None else ""
    _in_a_unit(row)
    _became(row, data, in_force)
    _some(row)


def _some(row: FreezerEvent) -> None:
    if row.became == REWORK and row.amount is not None and row.amount <= 0:
        raise Refused(_("Nothing is no rework: write how much it is, or leave it empty."), "amount")


def _in_a_unit(row: FreezerEvent) -> None:
    if row.amount is not None and row.unit not in UNITS:
        raise Refused(_("Choose the unit of the quantity."), "unit")


def _fill_first(row: FreezerEvent, data: SayData, in_force: InForce) -> None:
    if data.about not in FIRST:
        raise Refused(_("Choose one of the list."), "about")
    row.about, row.tubs = data.about, tubs_of(data.tubs, required=True)
    row.amount, row.amount_typed, row.unit = None, "", ""
    row.became, row.use_within_h, row.allergens = "", None, ""
    if row.tubs:
        _became(row, data, in_force)
    if row.became == REWORK:
        row.amount, row.amount_typed = typed_number(data.amount, in_force, "amount"), data.amount.strip()
        row.unit = data.unit if row.amount is not None else ""
        _in_a_unit(row)
        _some(row)


def _fill_draw(row: FreezerEvent, data: SayData, in_force: InForce) -> None:
    row.amount, row.amount_typed = typed_number(data.amount, in_force, "amount", negative=True), data.amount.strip()
    if row.amount is None:
        raise Refused(_("Enter a number."), "amount")
    check = state.check_of(state.DRAW_QUANTITY, row.place, in_force)
    row.unit = check.answer.unit if check is not None else f"°{in_force.plan.plant.temperature_unit}"
    row.instrument = data.instrument


def _fill_cup(row: FreezerEvent, data: SayData, in_force: InForce) -> None:
    if data.mass_unit not in MASSES:
        raise Refused(_("Choose one of the list."), "mass_unit")
    row.mass_unit = data.mass_unit
    values: dict[str, Decimal | None] = {}
    for name in ("cup_empty", "cup_mix", "cup_product", "mix_lb_gal"):
        typed = getattr(data, name).strip()
        setattr(row, name, typed)
        values[name] = typed_number(typed, in_force, name)
        if values[name] is None and name != "mix_lb_gal":
            raise Refused(_("Enter a number."), name)
    mix, product, empty = values["cup_mix"], values["cup_product"], values["cup_empty"]
    assert mix is not None and product is not None and empty is not None  # asked for above
    if product <= empty:
        raise Refused(_("The full cup cannot weigh less than the empty one."), "cup_product")
    if mix < product:
        raise Refused(_("Ice cream cannot weigh more than the mix in the same cup: look at both weights."), "cup_mix")
    per_gallon = values["mix_lb_gal"]
    if per_gallon is not None and not 6 <= per_gallon <= 14:
        raise Refused(_("A gallon of mix weighs between 6 and 14 lb; about 9 is usual."), "mix_lb_gal")
    try:
        cup = weighed(mix, product, empty, per_gallon, _low(row.place, in_force))
    except OutsideRange as error:
        raise Refused(str(error), "cup_product") from error
    row.overrun, row.lb_gal = cup.overrun, cup.lb_gal


def _low(place: str, in_force: InForce) -> Decimal | None:
    check = state.check_of(state.OVERRUN_QUANTITY, place, in_force)
    lows = [in_force.plan.limit_by_key(key).low for key in check.limits] if check is not None else []
    return min((Decimal(one) for one in lows if one), default=None)


def _fill_fed(row: FreezerEvent, data: SayData, in_force: InForce) -> None:
    row.ingredient, row.lot_code = data.ingredient.strip(), data.lot_code.strip()
    if not row.ingredient:
        raise Refused(_("Write what was filled in, as its label says."), "ingredient")
    if not row.lot_code:
        raise Refused(_("Write the lot from the label."), "lot_code")
    row.allergens = ", ".join(sorted(set(data.allergens)))
    row.amount, row.amount_typed = typed_number(data.amount, in_force, "amount"), data.amount.strip()
    row.unit = data.unit if row.amount is not None else ""


def _fill_hardening(row: FreezerEvent, data: SayData) -> None:
    row.tubs = tubs_of(data.tubs, required=True)
    if data.drawn_at is None:
        raise Refused(_("Enter when."), "drawn_at")
    if data.drawn_at > row.happened_at:
        raise Refused(_("They cannot go in before they were drawn."), "drawn_at")
    row.drawn_at = data.drawn_at
    row.minutes = Decimal(round((row.happened_at - data.drawn_at).total_seconds())) / 60
    row.minutes = row.minutes.quantize(Decimal("0.01"))
