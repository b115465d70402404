"""The watch of dispatch and recall: what a fact that came late, or an amendment, made the scope grow to.

It looks again when anything was recorded of the flow, of lots, of holds or of what left, and at nothing else. Of
what is closed, lifted holds and ended recalls, only what the new rows can touch (growth.py).
"""

from __future__ import annotations

import uuid
from collections import Counter
from datetime import timedelta
from uuid import UUID

from django.utils.translation import gettext as _

from plant import clock
from records.deviations.actions import Cause, open_or_extend
from records.deviations.errors import Refused
from records.deviations.holds import place_on_hold
from records.deviations.models import Hold, HoldLift
from records.flow.models import Movement, MovementEnd, Wash
from records.flow.queries import held_lots_at
from records.ledger.actions import WATCH, Act, act
from records.ledger.models import Entry
from records.people.plans import InForce, plan_in_force
from records.recall import actions, growth, origins, state
from records.recall.models import GROWN, Dispatch, RecallBegun, RecallStep
from records.recall.scope import Affected, scope
from records.recall.told import asked_of

BEARS = (Movement.KIND, MovementEnd.KIND, Wash.KIND, Hold.KIND, HoldLift.KIND, Dispatch.KIND, RecallBegun.KIND)
LOOKS_BACK = timedelta(days=2)  # a process that has looked at nothing yet
_seen: dict[str, tuple[int, str]] = {}  # number and leaf of the newest entry that this process looked at


def look(*, again: bool = False) -> Counter[str]:
    """One pass; counts what this pass, and no other, noticed. `again`: even when nothing new was recorded."""
    done: Counter[str] = Counter()
    now = clock.now()
    in_force = plan_in_force(now)
    newest = Entry.objects.filter(kind__in=BEARS).order_by("-number").values_list("number", "leaf").first() or (0, "")
    if in_force is None or (not again and _seen.get("newest") == newest):
        return done
    last, leaf = _seen.get("newest", (0, ""))
    if again or not Entry.objects.filter(number=last, leaf=leaf).exists():
        last = 0
    for recall in state.still_open():
        done["scope grew"] += _grown(recall, in_force)
    touched = growth.touched_by(last, now - LOOKS_BACK)
    if touched is not None:
        done["scope grew"] += growth.lifted_grown(touched, in_force)
        for recall in state.ended_after(touched.earliest):
            if touched.lots & {UUID(one.lot) for one in recall.lots}:
                done["scope grew"] += _grown(recall, in_force)
    for row, reason in actions.dispatched_and_held(held_lots_at(now)):
        with act(WATCH) as a:
            if any(one.number == row.number for one, _why in actions.dispatched_and_held({row.lot: [reason]})):
                actions.left_while_held(a, row, reason, in_force)
                done["dispatched and held"] += 1
    _seen["newest"] = newest
    return done


def _grown(recall: state.Recall, in_force: InForce) -> int:
    """Whether this pass wrote down what a recall's scope grew by; of an ended one, by what moved before its end."""
    now = clock.now()
    try:
        with in_force.speaking():
            found = scope(origins.begin(asked_of(recall.begun.origin), in_force, now).start, in_force, now)
    except Refused:
        return 0  # what it began from was amended away: its record stands, and a person sees it on its page
    with act(WATCH) as a:
        current = state.recall_of(recall.number)
        if current is None or (current.ended is not None and current.begun.mock):
            return 0
        ended = current.ended.received_at if current.ended is not None else None
        known = {one.lot for one in current.lots}
        new = [one for one in found.lots if one.lot is not None and str(one.lot) not in known]
        new = [one for one in new if ended is None or one.since < ended]
        if not new:
            return 0
        with in_force.speaking():
            named = "; ".join(growth.with_recipients(one.label, one.sent) for one in new)
            words = _("the scope grew by: %(lots)s") % {"lots": named}
        step = a.write(
            RecallStep(
                form_id=uuid.uuid4(), recall=recall.number, what=GROWN, happened_at=a.now, words=words,
                lots=actions.lots_of(new),
            )
        )  # fmt: skip
        if recall.begun.mock:
            return 1
        deviation, _opened = open_or_extend(
            a,
            in_force=in_force,
            control_point="recall scope",
            subject=f"recall-{recall.number}",
            cause="legal rule",
            found=Cause(RecallStep.KIND, step.number, a.now, words),
            since_at=min(one.since for one in new),
            foreseen=False,
        )
        growth.add_dispatched(a, deviation, [sent for one in new for sent in one.sent], words)
        _hold(a, new, deviation.number, words)
    return 1


def _hold(a: Act, new: list[Affected], deviation: int, words: str) -> None:
    for one in new:
        if one.lot is not None:
            place_on_hold(
                a, lot=one.lot, lot_label=one.label, vessel=one.vessel, since_at=one.since, reason=words,
                deviation=deviation,
            )  # fmt: skip
