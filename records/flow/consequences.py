"""What follows from a movement, wash or level with something wrong about it: deviations and holds, in the same act."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from uuid import UUID

from django.utils.translation import gettext as _

from records.deviations.actions import Cause, open_or_extend
from records.deviations.holds import place_on_hold
from records.deviations.models import Deviation, DeviationCause, Hold, HoldLift
from records.flow.common import label, lot_by_id
from records.flow.finding import Finding
from records.flow.findings import control_point
from records.flow.models import Movement
from records.flow.packing import RESULTS_BAR
from records.ledger.actions import Act
from records.ledger.models import Record
from records.people.plans import InForce


def follow(
    a: Act,
    findings: Iterable[Finding],
    record: Record,
    in_force: InForce,
    *,
    since_at: datetime,
    lot: UUID | None = None,
    lot_label: str = "",
    vessel: str = "",
) -> list[Deviation]:
    """Open or extend the deviation of each finding that asks for one; hold the lot that the product went into."""
    opened = []
    for one in findings:
        if not one.records:
            continue
        key = control_point(in_force.plan, one.topic, one.subject)
        deviation, _new = open_or_extend(
            a,
            in_force=in_force,
            control_point=key,
            subject=one.subject,
            cause=one.cause,
            found=Cause(record.KIND, record.number, since_at, one.sentence),
            since_at=since_at,
            weight=one.weight,
            foreseen=foreseen(in_force, key),
        )
        opened.append(deviation)
        held = one.lot or lot
        if one.holds and held is not None:
            place_on_hold(
                a,
                lot=held,
                lot_label=label(lot_by_id(held), in_force) if one.lot else lot_label,
                vessel=one.vessel if one.lot else vessel,
                since_at=since_at,
                reason=one.sentence,
                deviation=deviation.number,
                bars_release=one.bars_release,
            )
    return opened


def follow_product(
    a: Act, findings: Sequence[Finding], record: Record, in_force: InForce, products: Sequence[Movement]
) -> list[Deviation]:
    """As follow, of product: `products` in order of their start, the first with the findings; each one's lot is held.

    `record` is the cause. More than one: what else went the same way since, as through an unclean line.
    """
    opened: list[Deviation] = []
    lots: set[UUID | None] = set()
    for row in products:
        if opened and row.target_lot in lots:
            continue
        lots.add(row.target_lot)
        found = follow(
            a,
            findings,
            record,
            in_force,
            since_at=row.started_at,
            lot=row.target_lot,
            lot_label=label(lot_by_id(row.target_lot), in_force),
            vessel=row.target,
        )
        opened = opened or found
    return opened


def foreseen(in_force: InForce, key: str) -> bool:
    """Whether the plan has a written corrective action at that control point."""
    return any(one.corrective_action for one in in_force.plan.monitoring if one.control_point == key)


def sentences_of(number: int) -> list[str]:
    """What a record led to, in words: each deviation that it opened or joined."""
    causes = DeviationCause.objects.filter(cause_number=number).order_by("number")
    return [
        _("Deviation %(number)d: %(sentence)s") % {"number": one.deviation, "sentence": one.sentence} for one in causes
    ]


def _waited_before(lot: UUID, amends: int) -> bool:
    """Whether the packing that is amended filled this lot, and results ended its wait."""
    if not Movement.objects.filter(number=amends, target_lot=lot).exists():
        return False
    waited = list(Hold.objects.filter(lot=lot, bars_release=RESULTS_BAR).values_list("number", flat=True))
    lifted = HoldLift.objects.filter(hold__in=waited).count()
    return bool(waited) and lifted == len(waited)


def wait_for_results(a: Act, lot: UUID, row: Movement, in_force: InForce) -> None:
    """Hold what was packed of a product whose plan wants results before it goes; the results themselves end it.

    A packing amended after its results came in waits no more: they are of this lot, and no others would come.
    """
    wanted = [one.name for one in in_force.plan.sampled if one.required and row.product in one.products]
    if not wanted or (row.amends is not None and _waited_before(lot, row.amends)):
        return
    with in_force.speaking():
        reason = _("Waits for the laboratory: %(which)s") % {"which": ", ".join(wanted)}
    place_on_hold(
        a,
        lot=lot,
        lot_label=label(lot_by_id(lot), in_force),
        vessel="",
        since_at=row.started_at,
        reason=reason,
        bars_release=RESULTS_BAR,
    )
