"""Holds and what becomes of held product: two signatures, within the bounds that no test result can widen."""

from __future__ import annotations

from datetime import datetime, timedelta
from uuid import UUID

from django.utils.translation import gettext as _

from records.deviations import queries
from records.deviations.errors import Refused
from records.deviations.models import Disposition, Hold, HoldLift
from records.deviations.words import in_words
from records.ledger.actions import Act, Actor, act

RELEASE, AGAIN, REWORK = "release", "pasteurize again", "rework"
OTHER_USE, DESTROY, REGULATOR = "sent to another use", "destroy", "as the regulator wrote"
DISPOSITIONS = (RELEASE, AGAIN, REWORK, OTHER_USE, DESTROY, REGULATOR)

# Product that missed the legal pasteurization, or is residue-positive, is never released on results (foundations).
ALLOWED_WHEN_BARRED = {
    "pasteurization": (AGAIN, DESTROY, REGULATOR),
    "residue": (DESTROY, REGULATOR),
    # A result of the laboratory that missed its limit is never made good by another one.
    "laboratory": (AGAIN, REWORK, OTHER_USE, DESTROY, REGULATOR),
    "results pending": (AGAIN, REWORK, OTHER_USE, DESTROY, REGULATOR),
    # It waits for its result: the result itself ends the wait, nobody's signature does.
    "residue pending": (DESTROY, REGULATOR),
}
BY_RESULT = "result found nothing"
NOT_THERE = "it did not come in"


def bars_of(hold: Hold) -> frozenset[str]:
    """What bars a release: of this hold, and of every other hold that its lot is under."""
    others = queries.open_holds_of(hold.lot).values_list("bars_release", flat=True)
    return frozenset({hold.bars_release, *others} - {""})


def allowed_dispositions(hold: Hold) -> tuple[str, ...]:
    """What may become of this hold's product at all. The tool suggests none of them."""
    allowed: tuple[str, ...] = DISPOSITIONS
    for bar in sorted(bars_of(hold)):
        # A bar that this version does not know leaves the regulator's word alone.
        within = ALLOWED_WHEN_BARRED.get(bar, (REGULATOR,))
        allowed = tuple(one for one in allowed if one in within)
    return allowed


def place_on_hold(
    a: Act,
    *,
    lot: UUID,
    lot_label: str,
    vessel: str,
    since_at: datetime,
    reason: str,
    deviation: int | None = None,
    bars_release: str = "",
) -> Hold:
    """Hold a lot from a moment on, once for each deviation (or, without one, reason).

    An earlier moment or a bar of its own is a further hold. What two people have disposed of is not held again for the
    same deviation, but what they released is: from the release on, for what has shown itself since.
    """
    mine = Hold.objects.filter(lot=lot, deviation=deviation).order_by("number")
    if deviation is None:
        mine = mine.filter(reason=reason)
    earlier = [one for one in mine if one.bars_release == bars_release or not bars_release]
    lifts = {one.hold: one for one in HoldLift.objects.filter(hold__in=[one.number for one in earlier])}
    for one in earlier:
        if one.number not in lifts and one.since_at <= since_at:
            return one
    settled = [one for one in earlier if one.number in lifts]
    if settled and len(settled) == len(earlier) and deviation is not None:
        last = settled[-1]
        lift = lifts[last.number]
        if Disposition.objects.get(number=lift.disposition).what != RELEASE:
            return last
        since_at = max(since_at, lift.received_at)
        if since_at in {one.since_at for one in earlier}:  # it was dated ahead, or both are of one moment
            since_at = max(one.since_at for one in earlier) + timedelta(microseconds=1)
    return a.write(
        Hold(
            lot=lot,
            lot_label=lot_label,
            vessel=vessel,
            since_at=since_at,
            reason=reason,
            deviation=deviation,
            bars_release=bars_release,
        ),
        observed_at=since_at,
    )


def hold_by_hand(by: Actor, *, lot: UUID, lot_label: str, vessel: str, since_at: datetime, reason: str) -> Hold:
    """A person holds a lot, for a reason of their own."""
    if not reason.strip():
        raise Refused(_("Write why it is held."), "reason")
    with act(by) as a:
        return place_on_hold(a, lot=lot, lot_label=lot_label, vessel=vessel, since_at=since_at, reason=reason.strip())


def propose_disposition(by: Actor, hold: Hold, what: str, reason: str, letter: str = "") -> Disposition:
    """Say what shall become of held product, with a reason; it takes effect with the second signature."""
    if what not in allowed_dispositions(hold):
        raise Refused(
            _("Not possible for this product. It may only be: %(what)s.")
            % {"what": ", ".join(in_words(one) for one in allowed_dispositions(hold))},
            "what",
        )
    if not reason.strip():
        raise Refused(_("Write the reason."), "reason")
    if what == REGULATOR and not letter:
        raise Refused(_("Attach the regulator's letter."), "letter")
    with act(by) as a:
        if HoldLift.objects.filter(hold=hold.number).exists():
            raise Refused(_("This hold is lifted already."))
        newest = Disposition.objects.filter(hold=hold.number).order_by("-number").first()
        said = (what, reason.strip(), letter, by.person_id)
        if newest and (newest.what, newest.reason, newest.letter, newest.by_id) == said:
            return newest
        return a.write(Disposition(hold=hold.number, what=what, reason=reason.strip(), letter=letter))


def sign_disposition(by: Actor, disposition: Disposition) -> HoldLift:
    """The second signature, by somebody else, who did not take the reading either."""
    with act(by) as a:
        hold = Hold.objects.get(number=disposition.hold)
        lift = HoldLift.objects.filter(hold=hold.number).first()
        if lift and (lift.disposition, lift.by_id) == (disposition.number, by.person_id):
            return lift
        if lift:
            raise Refused(_("This hold is lifted already."))
        if disposition.what not in allowed_dispositions(hold):
            raise Refused(
                _("Not possible for this product any more. It may only be: %(what)s.")
                % {"what": ", ".join(in_words(one) for one in allowed_dispositions(hold))}
            )
        newest = Disposition.objects.filter(hold=hold.number).order_by("-number").first()
        if newest is None or newest.number != disposition.number:
            raise Refused(_("Another disposition was proposed since. Read that one first."))
        if by.person_id == disposition.by_id:
            raise Refused(_("The second signature has to be another person's."))
        if hold.deviation and by.person_id in queries.readers(hold.deviation):
            raise Refused(_("Whoever took the reading cannot sign what becomes of the product."))
        return a.write(HoldLift(hold=hold.number, disposition=disposition.number))


def lift_by_result(a: Act, hold: Hold, reason: str) -> HoldLift:
    """End a hold that only waited for a result: the act that keeps the result writes why, and the lift."""
    said = a.write(Disposition(hold=hold.number, what=BY_RESULT, reason=reason))
    return a.write(HoldLift(hold=hold.number, disposition=said.number))


def lift_by_other(a: Act, hold: Hold, reason: str) -> HoldLift:
    """End a hold that waited for the result of what did not come in: whoever did not say so signs it."""
    said = a.write(Disposition(hold=hold.number, what=NOT_THERE, reason=reason))
    return a.write(HoldLift(hold=hold.number, disposition=said.number))
