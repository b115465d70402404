"""A signed-in browser: who, how they showed it, and when they were last seen. Kept in Django's session."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponseBase
from django.middleware.csrf import rotate_token
from django.utils.crypto import constant_time_compare, salted_hmac

from plant import clock
from plant.people.models import Person, Role, Tablet

PERSON, TABLET, TABLET_NAME, SHOWN, SEEN, MARK, LANGUAGE = (
    "person",
    "tablet",
    "tablet_name",
    "shown",
    "seen",
    "mark",
    "language",
)
TABLET_COOKIE = "daybook_tablet"
TABLET_COOKIE_AGE = 400 * 24 * 3600  # browsers keep none longer; each visit renews it
SEEN_STEP = timedelta(seconds=20)  # so often the session is written for being seen, not at every request
SET_BACK = timedelta(minutes=1)  # a clock that is set right by less locks nobody


def begin(session: Any, person: Person, tablet: Tablet | None, shown: str) -> None:
    """Fill a session. `shown`: "PIN" (on a tablet; it opens the operator's pages only) or "password"."""
    session[PERSON] = str(person.id)
    session[TABLET] = str(tablet.id) if tablet else ""
    session[TABLET_NAME] = tablet.name if tablet else ""
    session[SHOWN] = shown
    session[SEEN] = clock.now().timestamp()
    session[MARK] = mark_of(person, shown)
    session[LANGUAGE] = person.language


def sign_in(request: HttpRequest, person: Person, tablet: Tablet | None, shown: str) -> None:
    """Sign a person in on this browser, under a new session key and a new form token."""
    request.session.flush()
    begin(request.session, person, tablet, shown)
    rotate_token(request)


def sign_out(request: HttpRequest) -> None:
    """Forget who is here; the tablet stays enrolled."""
    request.session.flush()


def person_of(session: Any, tablet: Tablet | None) -> Person | None:
    """Who is signed in, if the session still stands.

    It ends with the account, with a new PIN or password, and when its tablet is withdrawn or is another one.
    """
    try:
        key = uuid.UUID(str(session.get(PERSON)))
    except ValueError:
        return None
    person = Person.objects.prefetch_related("held_roles").filter(id=key, is_active=True).first()
    if person is None or (person.expires_at is not None and person.expires_at <= clock.now()):
        return None
    shown = session.get(SHOWN, "")
    if not constant_time_compare(session.get(MARK, ""), mark_of(person, shown)):
        return None
    if session.get(TABLET) and (tablet is None or str(tablet.id) != session[TABLET]):
        return None
    return person


def roles_of(session: Any, person: Person, now: datetime) -> frozenset[str]:
    """The roles that a sign-in opens: a PIN is an operator's component, every other role needs a password."""
    held = person.roles_at(now)
    return held & {Role.OPERATOR.value} if session.get(SHOWN) == "PIN" else held


def is_idle(session: Any, now: datetime) -> bool:
    """Whether nobody was seen for longer than IDLE_LOCK_MINUTES, or the person locked it.

    Seen later than now: the clock was set back since, and nobody knows how long ago that was. It locks too.
    """
    seen = session.get(SEEN)
    if not isinstance(seen, (int, float)):
        return True
    return not -SET_BACK.total_seconds() <= now.timestamp() - seen <= settings.IDLE_LOCK_MINUTES * 60


def touch(session: Any, now: datetime) -> None:
    """Somebody is here."""
    if not 0 <= now.timestamp() - session.get(SEEN, 0) <= SEEN_STEP.total_seconds():
        session[SEEN] = now.timestamp()


def wake(session: Any) -> None:
    """Unlock, after the right PIN or password."""
    session[SEEN] = clock.now().timestamp()


def lock(session: Any) -> None:
    """Lock at once."""
    session[SEEN] = 0


def mark_of(person: Person, shown: str) -> str:
    """Changes when the PIN or password that opened the session does."""
    return salted_hmac("records.people.sessions", person.pin_hash if shown == "PIN" else person.password).hexdigest()


def set_tablet_cookie(response: HttpResponseBase, token: str) -> None:
    """Make the browser that gets this response the tablet."""
    response.set_cookie(
        TABLET_COOKIE,
        token,
        max_age=TABLET_COOKIE_AGE,
        httponly=True,
        samesite="Lax",
        secure=settings.SESSION_COOKIE_SECURE,
    )
