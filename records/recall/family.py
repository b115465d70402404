"""The picture of a scope: its lots in layers, with the share of the origin in each."""

from __future__ import annotations

from django.utils.translation import gettext as _

from plant.pictures.lot_family import Member, lot_family_svg
from plant.pictures.svg import PRINT, SCREEN
from records.recall.scope import RecallScope

MOST_DRAWN = 40


def family_svg(found: RecallScope, root: str, *, on_paper: bool = False, ident: str = "scope") -> str:
    """The lots of a scope as a family; '' where there is none, or more than can be read."""
    if not found.lots or len(found.lots) > MOST_DRAWN:
        return ""
    lots = list(reversed(found.lots)) if found.backward else list(found.lots)
    keys = [one.key for one in lots]
    links = [link for link in found.links if link[0] in keys and link[1] in keys]
    members = [
        Member(key, one.label, one.vessel or _("packs"), one.low, one.high, root=one.carried is None)
        for key, one in dict(zip(keys, lots, strict=True)).items()
    ]
    if not found.backward and all(one.carried is not None for one in lots):
        members.insert(0, Member("origin", root, _("origin"), root=True))
        fed = {two for _one, two in links}
        links = [*(("origin", key) for key in keys if key not in fed), *links]
    named = {"title": _("A family of lots"), "share": _("share"), "unknown": _("unknown"), "to": _("to")}
    return lot_family_svg(members, links, named, ident=ident, inks=PRINT if on_paper else SCREEN)

