"""The first entry of every ledger: which plant this is."""

from __future__ import annotations

from pathlib import Path

from django.conf import settings
from django.utils.translation import gettext_lazy as _

from plant import clock
from plant.signing.authority import Authority
from plant.signing.key_files import KeysMissing
from records.ledger.actions import Actor, act
from records.ledger.models import Entry, Installation
from records.people.keys import read_certificate, write_issued
from records.people.refused import Refused

# Who acts before there is anybody: the one who runs the server.
INSTALLER = Actor(name="the installer", role="installation")

_known: Installation | None = None


def installation() -> Installation | None:
    """The plant that this database belongs to; None before `begin_installation`. Read once, for it never changes."""
    global _known
    if _known is None:
        _known = Installation.objects.first()
    return _known


def forget() -> None:
    """Read it anew: for tests, which use one process for many databases."""
    global _known
    _known = None


def begin_installation(plant_name: str, invented: bool) -> Installation:
    """Make the first entry of an empty ledger, the plant's keys if KEYS_DIR has none, and their certificates' records.

    Raises Refused when the ledger has begun already or the plant has no name.
    """
    name = " ".join(plant_name.split())
    if not name:
        raise Refused(_("The plant needs a name."), "plant_name")
    if Entry.objects.exists():
        raise Refused(_("This ledger has begun already; another plant needs a database of its own."))
    keys = _keys(name)
    with act(INSTALLER) as a:
        if Entry.objects.exists():
            raise Refused(_("This ledger has begun already; another plant needs a database of its own."))
        first = a.write(Installation(plant_name=name, invented=invented))
        write_issued(a, read_certificate(keys.root_pem), name=f"{name}: record authority")
        write_issued(a, read_certificate(keys.plant_certificate_pem), name=f"{name}: closing of days")
    return first


def _keys(plant_name: str) -> Authority:
    folder = Path(settings.KEYS_DIR)
    try:
        return Authority.open(folder)
    except KeysMissing:
        return Authority.create(folder, plant_name, clock.now())
