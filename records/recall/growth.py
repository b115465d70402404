"""Closed scopes that grow: what a late or amended record shows a lifted hold, or an ended recall, to have reached too.

Only what the new rows of the flow can touch is looked at: the lots at their ends, and those that these came from. A
row reaches back into a closed scope only where it began before that was closed; what moved after it moved on purpose.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.utils.translation import gettext as _

from records.deviations.actions import Cause, add_causes, open_or_extend
from records.deviations.holds import BY_RESULT, place_on_hold
from records.deviations.models import Deviation, Disposition, Hold, HoldLift
from records.flow.lineage import lots_at, lots_upstream, reached_from
from records.flow.models import Movement, MovementEnd, Wash
from records.flow.queries import label_of
from records.ledger.actions import WATCH, Act, act
from records.ledger.models import Record
from records.lots.models import Lot
from records.people.plans import InForce
from records.recall.dispatched import Sent, sent_of
from records.recall.models import Dispatch
from records.recall.tables import amount

SCOPE = "hold scope"  # the control point of a deviation of which a lifted hold is the subject


@dataclass(frozen=True, slots=True)
class Touched:
    """What new rows of the flow can bear on: these lots, from this moment on; the newest row that says so."""

    lots: frozenset[UUID]
    earliest: datetime
    newest: Record


def touched_by(after: int, since: datetime) -> Touched | None:
    """What was recorded after an entry (0: since a moment), and which lots it can touch; None when nothing was."""
    new: list[Record] = []
    for model in (Movement, MovementEnd, Wash):
        rows = model._default_manager.filter(number__gt=after)
        new += list(rows if after else rows.filter(received_at__gte=since))
    if not new:
        return None
    moves = [one for one in new if isinstance(one, Movement)]
    washes = [one for one in new if isinstance(one, Wash)]
    older = {one.movement for one in new if isinstance(one, MovementEnd)} | {one.amends for one in moves if one.amends}
    moves += list(Movement.objects.filter(number__in=older))
    washes += list(Wash.objects.filter(number__in=[one.amends for one in washes if one.amends]))
    places = [(one.source, one.started_at) for one in moves if one.source]
    places += [(one.target, one.started_at) for one in moves if one.target]
    places += [(one.vessel, one.started_at) for one in washes] + [(one.vessel, one.ended_at) for one in washes]
    near = {one.target_lot for one in moves} | {UUID(str(one)) for row in moves for one in row.source_lots}
    for first in range(0, len(places), 60):
        near |= set(lots_at(places[first : first + 60]))
    lots = {one for one in near if one is not None}
    for lot in list(lots):
        lots |= lots_upstream(lot)
    earliest = min([one.started_at for one in moves] + [one.started_at for one in washes])
    return Touched(frozenset(lots), earliest, max(new, key=lambda one: one.number))


def lifted_grown(touched: Touched, in_force: InForce) -> int:
    """How many lifted holds grew, each written down by this pass: a deviation, and what is new is held."""
    holds = {one.number: one for one in Hold.objects.filter(lot__in=list(touched.lots)).order_by("number")}
    lifts = HoldLift.objects.filter(hold__in=list(holds), received_at__gt=touched.earliest).order_by("number")
    cleared = Disposition.objects.filter(hold__in=list(holds), what=BY_RESULT).values_list("number", flat=True)
    # What a result cleared is cleared wherever it went.
    chosen = [one for one in lifts if one.disposition not in set(cleared)]
    return sum(_grown(holds[one.hold], one, touched.newest, in_force) for one in chosen)


def _grown(hold: Hold, lift: HoldLift, newest: Record, in_force: InForce) -> int:
    root = {hold.lot: hold.since_at}
    found = {lot: at for (_root, lot), at in reached_from(root).items() if at < lift.received_at}
    known = {lot for _root, lot in reached_from(root, known_by=lift.number)}
    if not found.keys() - known:
        return 0
    with act(WATCH) as a:
        subject = f"hold-{hold.number}"
        mine = Deviation.objects.filter(control_point=SCOPE, subject=subject).values("number")
        told = set(Hold.objects.filter(deviation__in=mine).values_list("lot", flat=True))
        new = {lot: found[lot] for lot in sorted(found.keys() - known - told)}
        if not new:
            return 0
        rows = Lot.objects.in_bulk(list(new))
        sent = sent_of(list(new))
        labels = {lot: label_of(rows[lot], in_force) for lot in new if lot in rows}
        with in_force.speaking():
            named = "; ".join(with_recipients(label, sent.get(lot, ())) for lot, label in labels.items())
            said = _("hold %(number)d was lifted; what was recorded late or amended shows that it reached: %(lots)s")
            words = said % {"number": hold.number, "lots": named}
        deviation, _opened = open_or_extend(
            a,
            in_force=in_force,
            control_point=SCOPE,
            subject=subject,
            cause="legal rule",
            found=Cause(newest.KIND, newest.number, newest.observed_at, words),
            since_at=min(new.values()),
            foreseen=False,
        )
        add_dispatched(a, deviation, [one for lot in new for one in sent.get(lot, ())], words)
        for lot, label in labels.items():
            place_on_hold(
                a, lot=lot, lot_label=label, vessel=rows[lot].vessel, since_at=new[lot], reason=words,
                deviation=deviation.number, bars_release=hold.bars_release,
            )  # fmt: skip
    return 1


def with_recipients(label: str, sent: Sequence[Sent]) -> str:
    """A lot with whom it went to, and how much; or that nothing of it is recorded as having left."""
    who = ", ".join(
        _("%(amount)s to %(who)s") % {"amount": amount(one.quantity, one.unit), "who": one.to}
        for one in sent
        if one.is_recipient
    )
    return f"{label} ({who or _('nothing of it is recorded as having left')})"


def add_dispatched(a: Act, deviation: Deviation, sent: Sequence[Sent], words: str) -> None:
    """What left of the new lots is named by the same deviation: one cause, one deviation."""
    found = [Cause(Dispatch.KIND, one.number, one.at, words) for one in sent if one.kind == Dispatch.KIND]
    add_causes(a, deviation, found)
