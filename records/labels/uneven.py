"""A roll or sleeve whose count does not come out within the plan's bound, and what follows.

What is not accounted for may be on packs that it does not belong to. Of another declaration of allergens than what ran
while the roll was on the line, that is a matter of safety, and what ran is held; else of quality, and holds nothing.
How large a difference is too large no rule says: the bound is the plan's own (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from django.utils.translation import gettext as _

from plant.process.units import plain
from records.deviations.actions import Cause, open_or_extend
from records.deviations.holds import place_on_hold
from records.deviations.models import Deviation, DeviationCause, Hold
from records.deviations.queries import is_closed
from records.flow.common import label, lot_by_id, plan_at
from records.flow.consequences import foreseen
from records.flow.models import Movement
from records.flow.packing import is_packing
from records.labels import queries
from records.labels.findings import LABEL, point_of
from records.labels.models import PackagingCounted, PackagingOpened
from records.labels.sequence import declared_by
from records.labels.words import kind_words
from records.ledger.actions import Act
from records.people.plans import InForce


@dataclass(frozen=True, slots=True)
class Uneven:
    """A count beyond the bound, or one that cannot be held against it; `percent` of what was issued, None for that.

    `others`: what ran through the line while the roll was on it and declares other allergens than what is printed.
    """

    row: PackagingCounted
    opened: PackagingOpened
    percent: Fraction | None
    others: tuple[Movement, ...]
    other_declared: bool


def uneven(row: PackagingCounted, opened: PackagingOpened, in_force: InForce) -> Uneven | None:
    """Whether a count is beyond the plan's bound; None where it is not, or where the plan has none. A few queries."""
    bound = in_force.plan.settings.label_difference
    if not bound or row.void:
        return None
    percent = None
    if opened.issued and row.difference is not None:
        percent = share(row.difference, opened.issued)
        if percent <= Fraction(bound):
            return None
    plan = in_force.plan
    printed = set(declared_by(plan, opened.printed))
    ran = {one.number: one for _opened, one in queries.packing_with([opened])}
    others = tuple(one for one in ran.values() if set(declared_by(plan, one.product)) != printed)
    return Uneven(row, opened, percent, others, bool(others) or set(declared_by(plan, opened.product)) != printed)


def share(difference: int, issued: int) -> Fraction:
    """What is missing or too much of a roll, of what was issued of it [%], by definition; exact."""
    return Fraction(abs(difference) * 100, issued)


def follow(a: Act, row: PackagingCounted, opened: PackagingOpened, in_force: InForce) -> Deviation | None:
    """The deviation of a count beyond the bound, and the hold of what may have the wrong label. Inside `act`.

    What was told already opens nothing again. Where it was of quality, and what ran declares other allergens by what
    the book says now, a deviation of safety opens; what ran besides is held under the one that is open.
    """
    with in_force.speaking():
        found = uneven(row, opened, in_force)
        if found is None:
            return None
        sentence = sentence_of(found, in_force)
        deviation = _told(row)
        grown = deviation is not None and bool(_not_held(found, deviation))
        if (
            deviation is None
            or (found.other_declared and deviation.weight != "safety")
            or (grown and is_closed(deviation.number))
        ):
            deviation = _opened(a, found, sentence, in_force)
        for one in _not_held(found, deviation):
            lot = lot_by_id(one.target_lot)
            if lot is not None:  # nobody knows which of its packs: the whole code, from its first pack
                place_on_hold(
                    a,
                    lot=lot.id,
                    lot_label=label(lot, in_force),
                    vessel=one.target,
                    since_at=one.started_at,
                    reason=sentence,
                    deviation=deviation.number,
                )
    return deviation


def after_packing(a: Act, row: Movement, _old: Movement | None) -> None:
    """What was packed may be written, or amended, after the rolls of its time were counted: they are asked again.

    As records.flow.further asks. An amendment that takes something away closes nothing and lifts nothing.
    """
    if row.void or not row.via or row.target_lot is None or not is_packing(row.target, row.target_name):
        return
    for opened, counted in queries.beside(row):
        if counted is not None:
            follow(a, counted, opened, plan_at(counted.observed_at))


def _opened(a: Act, found: Uneven, sentence: str, in_force: InForce) -> Deviation:
    row = found.row
    point, subject = point_of(in_force.plan, LABEL, row.place), row.roll_code[:40]
    latest = Deviation.objects.filter(control_point=point, subject=subject).order_by("-number").first()
    apart = latest is not None and latest.weight != "safety" and found.other_declared
    deviation, _new = open_or_extend(
        a,
        in_force=in_force,
        control_point=point,
        subject=subject,
        cause="not proven" if found.percent is None else "not met",
        found=Cause(row.KIND, row.number, row.observed_at, sentence),
        since_at=found.opened.observed_at,
        weight="safety" if found.other_declared else "quality",
        foreseen=foreseen(in_force, point),
        same_excursion=() if apart else None,  # what is of safety joins no deviation of quality
    )
    return deviation


def _told(row: PackagingCounted) -> Deviation | None:
    """The deviation that this count, or one of the same difference that it amends, led to; of safety before others."""
    numbers, old = [row.number], row
    while old.amends is not None:
        old = PackagingCounted.objects.get(number=old.amends)
        if old.void or old.difference != row.difference:
            break
        numbers.append(old.number)
    causes = DeviationCause.objects.filter(cause_kind=row.KIND, cause_number__in=numbers)
    mine = Deviation.objects.filter(number__in=causes.values("deviation"), subject=row.roll_code[:40])
    every = list(mine.order_by("-number"))  # not those of the line, which an amended count joins too
    return next((one for one in every if one.weight == "safety"), next(iter(every), None))


def _not_held(found: Uneven, deviation: Deviation) -> list[Movement]:
    """Of what declares other allergens, what no hold of the deviation covers, or covered, from its start on.

    What two people released is not held again because another movement was written.
    """
    holds = Hold.objects.filter(deviation=deviation.number).values_list("lot", "since_at")
    since = dict(holds.order_by("-since_at"))
    return [one for one in found.others if one.target_lot not in since or since[one.target_lot] > one.started_at]


def sentence_of(found: Uneven, in_force: InForce) -> str:
    """What is uneven, with the numbers and the bound; and whose declaration differs."""
    row, opened = found.row, found.opened
    words = {
        "line": row.place_name, "kind": kind_words(opened.kind), "code": row.roll_code, "issued": opened.issued_typed,
        "count": abs(row.difference or 0), "percent": plain(found.percent or Fraction(0), 2),
        "bound": in_force.plan.settings.label_difference, "printed": opened.printed_name,
    }  # fmt: skip
    if found.percent is None:
        said = _(
            "%(line)s: %(kind)s %(code)s: nobody counted what was issued, so nothing says that the difference is within"
            " the plan's %(bound)s %%"
        )
    elif (row.difference or 0) > 0:
        said = _(
            "%(line)s: %(kind)s %(code)s: %(count)s of %(issued)s are missing, %(percent)s %%; the plan allows"
            " %(bound)s %%"
        )
    else:
        said = _(
            "%(line)s: %(kind)s %(code)s: %(count)s more than the %(issued)s issued were counted, %(percent)s %%; the"
            " plan allows %(bound)s %%"
        )
    if not found.other_declared:
        return said % words
    ran = ", ".join(dict.fromkeys(one.product_name for one in found.others)) or row.product_name
    other = _("%(what)s. Printed for %(printed)s, which declares other allergens than what ran with it: %(ran)s")
    return other % {"what": said % words, "printed": opened.printed_name, "ran": ran}
