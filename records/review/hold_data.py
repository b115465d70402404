"""What the pages of held product say: what is held, where it is now, and what waits for a second signature."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.utils.translation import gettext as _

from records.deviations import holds, queries
from records.deviations.models import Disposition, Hold
from records.deviations.words import in_words
from records.flow.lineage import downstream_lots
from records.flow.packing import RESULTS_BAR
from records.flow.queries import contents_at
from records.lots.models import Lot


@dataclass(frozen=True, slots=True)
class Waiting:
    """A disposition that lacks its second signature."""

    hold: Hold
    disposition: Disposition
    what: str


def waiting() -> list[Waiting]:
    """What waits for a second signature, oldest first."""
    return [Waiting(hold, one, in_words(one.what)) for hold, one in queries.dispositions_waiting()]


def open_count() -> int:
    """How many holds are open."""
    return queries.open_holds().count()


def where_now(hold: Hold, now: datetime) -> list[str]:
    """The vessels that hold its lot, or a lot that it flowed into, by the book."""
    lots: set[UUID] = downstream_lots(hold.lot, hold.since_at) | {hold.lot}
    found = []
    for one in contents_at(now).values():
        if one.holds and one.lot in lots:
            own = "" if one.lot == hold.lot else " " + _("(flowed on)")
            found.append(f"{one.name}: {one.words}{own}")
    packed = Lot.objects.filter(id__in=list(lots), origin="pack").order_by("number")
    found += [_("packed: %(what)s") % {"what": f"{one.product_name} {one.code}".strip()} for one in packed]
    return found


def bar_words(hold: Hold) -> str:
    """What can become of product that missed a legal step: the caution of its page, or nothing."""
    bars = holds.bars_of(hold)
    if "residue" in bars:
        return _(
            "Residue-positive product can only be destroyed, or go as the regulator wrote. "
            "No heating and no further result changes that."
        )
    if "pasteurization" in bars:
        return _(
            "Product that missed the legal pasteurization can only be pasteurized again before it leaves, destroyed, "
            "or go as the regulator wrote. No laboratory result changes that."
        )
    if "laboratory" in bars:
        return _(
            "A result of the laboratory was out of limits. No later result and no amendment makes that good; what may "
            "become of the product stands below."
        )
    if RESULTS_BAR in bars:
        return _(
            "It waits for the results that the plan asks for before release. Once all are in and in limits the wait "
            "ends by itself; that is no permission."
        )
    if "residue pending" in bars:
        return _(
            "It waits for the drug-residue result of its load. A result that counts and finds nothing ends the wait by "
            "itself; until then nothing of it can be processed."
        )
    return _("What bars its release is not known to this version: only the regulator's word counts.") if bars else ""


def lots_in_plant(now: datetime) -> list[tuple[str, str, str, Lot]]:
    """(id, words, vessel code, lot) of every lot that a vessel holds now, and of packs made lately."""
    contents = [one for one in contents_at(now).values() if one.holds and one.lot is not None]
    rows = {one.id: one for one in Lot.objects.filter(id__in=[one.lot for one in contents if one.lot])}
    found = [
        (str(one.lot), f"{one.name}: {one.words}", one.vessel, rows[one.lot])
        for one in contents
        if one.lot is not None and one.lot in rows
    ]
    packs = Lot.objects.filter(origin="pack").order_by("-number")[:40]
    packed = _("packed: %(what)s")
    found += [(str(one.id), packed % {"what": f"{one.product_name} {one.code}"}, "", one) for one in packs]
    return found
