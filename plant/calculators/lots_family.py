"""The picture of a recall's reach: its lots in layers, with the share of the origin in each."""

from __future__ import annotations

from collections.abc import Mapping

from django.utils.translation import gettext_lazy as _

from plant.calculators.lots_rows import Record, clock
from plant.calculators.typed import in_words
from plant.pictures.lot_family import Member, lot_family_svg
from plant.process.lots import Lot, Origin, Scope, Shares, fill_at

MOST_DRAWN = 40


def family_picture(record: Record, scope: Scope, shares: Shares, origin: Origin, forward: bool) -> str:
    """The lots of a scope in layers; '' where there is none."""
    lots = list(scope.lots)[:MOST_DRAWN]
    if not forward:
        lots.reverse()
    root, out = str(_("origin")), str(_("out of the plant"))
    members: list[Member] = []
    links: list[tuple[str, str]] = []
    keys = {lot: f"lot {place}" for place, lot in enumerate(lots)}
    for ident, at in scope.movements.items():
        move = next(one for one in record.movements if one.ident == ident)
        giver = _place_of(record, move.source, at, keys)
        taker = _place_of(record, move.target, at, keys)
        if forward and giver is None:
            giver = "root"
        if not forward and giver is None and move.source is not None:
            giver = f"from {move.source}"
        if taker is None and record.leaves(ident):
            taker = "out"
        if giver is not None and taker is not None:
            links.append((giver, taker))
    used = {key for link in links for key in link}
    starts = [key for key in dict.fromkeys(one for one, _two in links) if key == "root" or key.startswith("from ")]
    for key in starts:
        name = ", ".join([*origin.places, *map(str, origin.movements)]) if key == "root" else key.removeprefix("from ")
        members.append(Member(key, name, root if forward else "", root=forward))
    for lot in lots:
        mix = shares.entered.get(lot)
        low, high = (float(mix.low[0]), float(mix.high[0])) if mix is not None and forward else (None, None)
        begins = forward and "root" not in used and lot[0] in origin.places
        note = str(_note(forward)) % {"fill": lot[1] + 1, "time": _clock(scope.lots[lot])}
        members.append(Member(keys[lot], lot[0], note, low, high, root=begins))
    if "out" in used:
        members.append(Member("out", out))
    if not members:
        return ""
    return lot_family_svg(members, links, _words(), ident="lots")


def _note(forward: bool) -> str:
    return str(_("fill %(fill)s, from %(time)s") if forward else _("fill %(fill)s, until %(time)s"))


def _clock(at: float) -> str:
    return in_words(clock(at))


def _place_of(record: Record, vessel: str | None, at: float, keys: Mapping[Lot, str]) -> str | None:
    return None if vessel is None else keys.get((vessel, fill_at(record.breaks, vessel, at)))


def _words() -> dict[str, str]:
    return {
        "title": str(_("A family of lots")),
        "share": str(_("share")),
        "unknown": str(_("unknown")),
        "to": str(_("to")),
    }
