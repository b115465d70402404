"""The idle lock. What is sent while the page is locked is carried through the PIN page and sent on afterwards.

The PIN page answers at the address that was asked for, so the form that comes back goes there too: after the right PIN
of the same person the request goes on with the carried values, as if it had not been locked.
"""

from __future__ import annotations

import re
import uuid
from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.core import signing
from django.http import HttpResponse, HttpResponseRedirect, QueryDict
from django.shortcuts import render
from django.utils.translation import gettext as _

from plant import clock
from plant.people.models import Person
from records.people import components, sessions
from records.people.forms import Unlock

if TYPE_CHECKING:
    from records.people.middleware import Request

CARRIED_FOR_S = 30 * 60
_SALT = "sent while locked"
_SECRET = re.compile(r"(^|_)(pin|password|secret|again)$")
_SHOWN_AT_MOST = 200


def guard(request: Request) -> HttpResponse | None:
    """The page to show instead, or None when the request may go on (perhaps with carried values)."""
    if not sessions.is_idle(request.session, clock.now()):
        return _taken_over(request) if request.method == "POST" and "take_over" in request.POST else None
    if request.method == "POST" and "unlock_secret" in request.POST:
        return _unlock(request)
    carried = _carry(request) if request.method == "POST" else ""
    return _page(request, Unlock(initial={"carried": carried}, request=request), carried)


def _unlock(request: Request) -> HttpResponse | None:
    form = Unlock(request.POST, request=request)
    carried = request.POST.get("carried", "")
    if not form.is_valid():
        return _page(request, form, carried)
    person = _who(request, form.cleaned_data)
    shown = request.session.get(sessions.SHOWN, "")
    if not components.check_shown(shown, person, form.cleaned_data["unlock_secret"], request.tablet):
        form.add_error("unlock_secret", components.wrong_words(shown, person, request.tablet))
        return _page(request, form, carried)
    assert person is not None and request.person is not None  # a check without a person fails
    before = request.person
    if person.id == before.id:
        sessions.wake(request.session)
        return _go_on(request, carried)
    _change_person(request, person, shown)
    said = _opened(request, carried)
    return HttpResponseRedirect(request.get_full_path()) if said is None else _ask(request, before, carried, said)


def _who(request: Request, data: dict[str, Any]) -> Person | None:
    if "unlock_who" not in data:
        return request.person
    return Person.objects.filter(id=uuid.UUID(data["unlock_who"])).first()  # the form has checked the choice


def _change_person(request: Request, person: Person, shown: str) -> None:
    from records.people.middleware import TabletAndPerson

    sessions.sign_in(request, person, request.tablet, shown)
    TabletAndPerson.put_person(request, person)


def _go_on(request: Request, carried: str) -> HttpResponse | None:
    said = _opened(request, carried)
    if said is None:
        if carried:
            said_so = _("What you sent before the lock is too old: nothing was written. Enter it again.")
            messages.warning(request, said_so)
        return HttpResponseRedirect(request.get_full_path())
    _send_on(request, said)
    return None


def _taken_over(request: Request) -> HttpResponse | None:
    return _go_on(request, request.POST.get("carried", ""))


def _send_on(request: Request, said: dict[str, Any]) -> None:
    values = QueryDict(mutable=True)
    for name, given in said["values"]:
        values.setlist(name, given)
    values._mutable = False
    request.POST = values  # type: ignore[assignment]  # immutable as the one it replaces


def _carry(request: Request) -> str:
    """What was sent, signed: fields but for PINs and passwords; files are not carried."""
    values = [
        [name, given]
        for name, given in request.POST.lists()
        if name != "csrfmiddlewaretoken" and not _SECRET.search(name)
    ]
    said = {"path": request.get_full_path(), "values": values, "at": int(clock.now().timestamp())}
    return signing.dumps(said, salt=_SALT, compress=True)


def _opened(request: Request, carried: str) -> dict[str, Any] | None:
    """What was carried, if it is ours, for this address and not too old."""
    if not carried:
        return None
    try:
        said: dict[str, Any] = signing.loads(carried, salt=_SALT)
    except signing.BadSignature:
        return None
    age = clock.now().timestamp() - said["at"]
    # Below zero the clock was set back meanwhile: what was typed is not lost for that.
    return said if said["path"] == request.get_full_path() and abs(age) <= CARRIED_FOR_S else None


def _page(request: Request, form: Unlock, carried: str) -> HttpResponse:
    return render(request, "records/people/locked.html", {"form": form, "waiting": bool(carried)})


def _ask(request: Request, before: Person, carried: str, said: dict[str, Any]) -> HttpResponse:
    """Somebody else is here: what the first one typed is theirs only if they say so."""
    shown = [text[:_SHOWN_AT_MOST] for _name, given in said["values"] for text in given if _readable(text)]
    place = {"before": before, "carried": carried, "shown": shown, "leave": request.get_full_path()}
    return render(request, "records/people/take_over.html", place)


def _readable(text: str) -> bool:
    try:
        uuid.UUID(text)
    except ValueError:
        return bool(text.strip())
    return False
