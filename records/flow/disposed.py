"""Product that two people did not release: its hold is lifted, and still it goes only where they signed that it goes.

Destroyed, sent to another use, reworked or pasteurized again: whatever else would take it is refused beforehand, and a
deviation with its hold once it has happened. What it flowed into is under the same word, by computation, until the way
that was signed has been gone: through a pasteurizer, or into another batch. A lot that the same deviation held by name
has its own word: where two people released it, it is released.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.utils.translation import gettext as _

from plant.hazard_plan.content import VesselDef
from records.deviations.holds import AGAIN, DESTROY, OTHER_USE, REWORK
from records.deviations.models import Disposition, Hold, HoldLift
from records.deviations.words import in_words
from records.flow import lineage
from records.flow.choices import vessel_of
from records.flow.exits import DESTROYED, DRAIN, FOR_PEOPLE, SAMPLES, SLUDGE, exit_of
from records.flow.finding import Finding
from records.flow.history import History
from records.flow.models import Movement
from records.people.plans import InForce, plan_in_force

NOT_RELEASED = (DESTROY, OTHER_USE, REWORK, AGAIN)
# What was signed longer ago is not looked for any more: longer than any of this product is kept.
LOOKED_BACK = timedelta(days=732)
# By these nothing of it reaches anybody: always open, whatever was signed.
AWAY = frozenset({DRAIN, DESTROYED, SLUDGE, SAMPLES})


class NotReleased(str):
    """Why a lot is not free although no hold stands: pages say it as it is, without 'on hold' before it."""

    __slots__ = ()


@dataclass(frozen=True, slots=True)
class Signed:
    """What two people signed for a lot that they did not release. `at`: the second signature."""

    what: str
    at: datetime
    entry: int
    lot_label: str
    bars_release: str
    vessel: str  # that it lay in when it was held

    @property
    def sentence(self) -> str:
        """In the reader's language."""
        words = {"lot": self.lot_label, "what": in_words(self.what), "number": self.entry}
        return NotReleased(_("%(lot)s is not released; signed was: %(what)s (entry %(number)d)") % words)


def signed_for(moment: datetime) -> dict[UUID, list[Signed]]:
    """By lot, what was signed by a moment for it, or for what flowed into it. One query where nothing was."""
    lifts = HoldLift.objects.filter(received_at__lte=moment, received_at__gt=moment - LOOKED_BACK)
    dispositions = {one.number: one for one in Disposition.objects.filter(
        what__in=NOT_RELEASED, number__in=lifts.values("disposition"))}  # fmt: skip
    if not dispositions:
        return {}
    rows = list(lifts.filter(disposition__in=list(dispositions)).order_by("number"))
    holds = {one.number: one for one in Hold.objects.filter(number__in=[one.hold for one in rows])}
    deviations = {one.deviation for one in holds.values()} - {None}
    lifted = HoldLift.objects.filter(received_at__lte=moment).values("hold")
    own = Hold.objects.filter(deviation__in=deviations, number__in=lifted).values_list("lot", "deviation")
    own_word = set(own) if deviations else set()
    found: dict[UUID, list[Signed]] = defaultdict(list)
    for what in NOT_RELEASED:
        mine = [one for one in rows if dispositions[one.disposition].what == what]
        for lot, told in _reached(what, mine, holds, moment, own_word).items():
            found[lot] += [one for one in told if one not in found[lot]]
    return dict(found)


def _reached(
    what: str, lifts: list[HoldLift], holds: Mapping[int, Hold], moment: datetime,
    own_word: Collection[tuple[UUID, int | None]],
) -> dict[UUID, list[Signed]]:  # fmt: skip
    roots: dict[UUID, datetime] = {}
    told: dict[UUID, list[Signed]] = defaultdict(list)
    of: dict[UUID, set[int | None]] = defaultdict(set)
    for one in lifts:
        hold = holds[one.hold]
        of[hold.lot].add(hold.deviation)
        roots[hold.lot] = min(hold.since_at, roots.get(hold.lot, hold.since_at))
        told[hold.lot].append(
            Signed(what, one.received_at, one.number, hold.lot_label, hold.bars_release, hold.vessel)
        )
    if not roots:
        return {}
    in_force = plan_in_force(moment)

    def gone(root: UUID, row: Movement) -> bool:
        """Whether what a movement brought is free of it: it went the way that was signed, or has its own word."""
        if all((row.target_lot, one) in own_word for one in of[root]):
            return True
        return all(row.started_at >= one.at and _frees(one, row, in_force) for one in told[root])

    found: dict[UUID, list[Signed]] = defaultdict(list)
    for root, lot in lineage.reached_from(roots, freed=gone):
        found[lot] += told[root]
    return found


def _is_pasteurizer(vessel: VesselDef | None) -> bool:
    return vessel is not None and (vessel.kind == "pasteurizer" or vessel.stage == "press")


def _frees(signed: Signed, row: Movement, in_force: InForce | None) -> bool:
    """Through a pasteurizer, for what is pasteurized again; into another vessel, for what is reworked.

    A vat that it lay in when it was held has not heated it again: it comes into one anew. What may never be released,
    as by a laboratory's result, is reworked only to be pasteurized: no pump makes another product of it.
    """
    if signed.what == AGAIN:
        out_of = vessel_of(in_force, row.source) if row.source != signed.vessel else None
        return _is_pasteurizer(vessel_of(in_force, row.via)) or _is_pasteurizer(out_of)
    return signed.what == REWORK and bool(row.target) and (not signed.bars_release or _heated_next(row, in_force))


def _heated_next(row: Movement, in_force: InForce | None) -> bool:
    target = vessel_of(in_force, row.target)
    return _is_pasteurizer(target) or (target is not None and target.stage == "raw")


def fits(signed: Signed, row: Movement, in_force: InForce) -> bool:
    """Whether a movement is the way that was signed, or one by which nothing of it reaches anybody."""
    what = signed.what
    leaves_by = exit_of(row.target, row.target_name)
    if not row.target and leaves_by in AWAY:
        return True
    if what == OTHER_USE:
        return not row.target and leaves_by not in FOR_PEOPLE
    return _frees(signed, row, in_force) or (what == AGAIN and _heated_next(row, in_force))


def about(row: Movement, before: History, in_force: InForce) -> list[Finding]:
    """What is wrong with a movement of such product: it goes another way than was signed."""
    lot = before.lot_at(row.source, row.started_at) if row.source else None
    if lot is None:
        return []
    found = []
    for one in signed_for(row.started_at).get(lot, ()):
        if not fits(one, row, in_force):
            words = {"vessel": in_force.names.get(row.source, row.source), "why": one.sentence}
            sentence = _("What %(vessel)s holds may go no other way than was signed: %(why)s") % words
            found.append(
                Finding(
                    "hold", row.source, sentence, "legal rule", bars=True, holds=True, bars_release=one.bars_release
                )
            )
    return found


__all__ = ["NOT_RELEASED", "NotReleased", "Signed", "about", "fits", "signed_for"]
