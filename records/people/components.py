"""The two components of a signature: who it is, and what only they know."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.utils.translation import gettext_lazy as _

from plant import clock
from plant.people.models import Person, Tablet
from records.ledger.actions import Actor, act
from records.people import lockouts, secrets, sessions
from records.people.refused import Refused

if TYPE_CHECKING:
    from records.people.forms import SignatureFields
    from records.people.middleware import Request


def check_pin(person: Person | None, pin: str, tablet: Tablet | None) -> bool:
    """Whether this PIN is the person's, on an enrolled tablet. A wrong one is kept as a record; five lock.

    It takes as long for a name that nobody has, without a tablet, and while locked (then the right PIN fails too).
    """
    return _check(person, pin, person.pin_hash if person and tablet else "", tablet, "PIN")


def check_password(person: Person | None, password: str, tablet: Tablet | None = None) -> bool:
    """Whether this is the person's password. As `check_pin`, away from a tablet too."""
    return _check(person, password, person.password if person else "", tablet, "password")


def check_shown(shown: str, person: Person | None, secret: str, tablet: Tablet | None) -> bool:
    """`check_pin` or `check_password`, by how a session was opened ("PIN" or "password")."""
    return check_pin(person, secret, tablet) if shown == "PIN" else check_password(person, secret, tablet)


def _check(person: Person | None, secret: str, kept: str, tablet: Tablet | None, component: str) -> bool:
    right = secrets.same(secret, kept)
    if person is not None and right:
        # Under the ledger's lock, as the wrong ones are: of guesses sent side by side too, only five are heard.
        with act(Actor(person.id, person.name, person.initials)):
            return may_try(person, tablet)
    lockouts.write_failure(person, tablet, component)
    return False


def may_try(person: Person, tablet: Tablet | None) -> bool:
    """Whether a right answer counts: still here, not expired, not locked on this tablet."""
    now = clock.now()
    ended = person.expires_at is not None and person.expires_at <= now
    return person.is_active and not ended and not lockouts.is_locked(person, tablet, now)


def signature_actor(request: Request, form: SignatureFields) -> Actor:
    """Who signs, after both components were given afresh in a valid form: the actor for the act.

    Raises Refused beside the field: another name than the one signed in, a wrong PIN or password, a person locked or
    not yet confirmed after a reset (21 CFR 11.100(b)). A wrong one is kept as a record.
    """
    person, tablet = request.person, request.tablet
    assert person is not None  # the table of rights lets nobody else reach a form that signs
    if not form.names(person):
        raise Refused(_("%(name)s is signed in here: sign as yourself.") % {"name": person.name}, "signer")
    if person.must_be_confirmed:
        raise Refused(_("A supervisor must first confirm who you are; until then you sign nothing."), "signer")
    shown = request.session.get(sessions.SHOWN, "")
    if not check_shown(shown, person, form.cleaned_data["signer_secret"], tablet):
        raise Refused(wrong_words(shown, person, tablet), "signer_secret")
    sessions.wake(request.session)
    return request.actor


both_components = signature_actor


def wrong_words(shown: str, person: Person | None, tablet: Tablet | None) -> str:
    """What to say after a wrong PIN or password."""
    if person is not None and lockouts.is_locked(person, tablet, clock.now()):
        if tablet is None:
            return str(_("Too many wrong tries. Wait ten minutes, or ask a supervisor to unlock."))
        words = _("Too many wrong tries: %(name)s is locked on this tablet until a supervisor unlocks.")
        return str(words % {"name": person.name})
    return str(_("This is not the right PIN.") if shown == "PIN" else _("This is not the right password."))
