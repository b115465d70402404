"""Acts on tablets: enrolled once, withdrawn. The tablet keeps a token, the database its hash."""

from __future__ import annotations

import hashlib
import secrets

from django.utils.translation import gettext_lazy as _

from plant import clock
from plant.people.models import Tablet
from records.ledger.actions import Act, Actor, act
from records.people.models import TabletAct
from records.people.refused import Refused


def hashed(token: str) -> str:
    """SHA-256 of the token: it is 256 random bits, so nothing slower is needed."""
    return hashlib.sha256(token.encode()).hexdigest()


def enrol_tablet(by: Actor, name: str, place: str = "") -> tuple[Tablet, str]:
    """A tablet and the token that makes a browser this tablet; the token is shown once. Refused: a name taken."""
    name, place = " ".join(name.split()), " ".join(place.split())
    if not 1 <= len(name) <= 60 or len(place) > 120:
        raise Refused(_("The tablet needs a name of at most 60 characters."), "name")
    token = secrets.token_urlsafe(32)
    tablet = Tablet(name=name, place=place, token_hash=hashed(token), enrolled_at=clock.now())
    with act(by) as a:
        if Tablet.objects.filter(name=name).exists():
            raise Refused(_("There is or was a tablet of this name; give this one another."), "name")
        tablet.save(force_insert=True)
        _write(a, tablet, "enrolled")
    return tablet, token


def withdraw_tablet(by: Actor, tablet: Tablet) -> Tablet:
    """The tablet opens nothing any more; again changes nothing."""
    with act(by) as a:
        tablet = Tablet.objects.get(id=tablet.id)
        if tablet.withdrawn_at is None:
            tablet.withdrawn_at = a.now
            tablet.save(update_fields=["withdrawn_at"])
            _write(a, tablet, "withdrawn")
    return tablet


def tablet_of(token: str) -> Tablet | None:
    """The enrolled tablet that holds this token; None for none, or one withdrawn."""
    if not token or len(token) > 200:
        return None
    return Tablet.objects.filter(token_hash=hashed(token), withdrawn_at=None).first()


def _write(a: Act, tablet: Tablet, what: str) -> None:
    a.write(TabletAct(tablet_id=tablet.id, tablet_name=tablet.name, what=what))
