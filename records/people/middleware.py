"""Who is at the tablet, and may they: settled once, before any view runs."""

from __future__ import annotations

from typing import Any, cast

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils.http import urlencode

from plant import clock
from plant.pages import GetResponse
from plant.people.models import Person, Tablet
from records.ledger.actions import Actor
from records.ledger.models import Installation
from records.people import idle, navigation, rights, sessions
from records.people.installation import installation
from records.people.plans import plan_in_force
from records.people.tablets import tablet_of


class Request(HttpRequest):
    """A request after this middleware: the person (or None) and the actor that records copy.

    `tablet`: the enrolled tablet that this browser is, or None. `zone`: the plant's time zone by the plan in force,
    empty before the first. `nav`: the pages of the person's roles, as (label, address, is this one).
    """

    person: Person | None
    roles: frozenset[str]
    actor: Actor
    tablet: Tablet | None
    installation: Installation | None
    zone: str
    nav: list[tuple[str, str, bool]]


class TabletAndPerson:
    """Puts the tablet, the signed-in person and their roles on the request, and what every page shows."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        asked, now = cast(Request, request), clock.now()
        token = request.COOKIES.get(sessions.TABLET_COOKIE, "")
        asked.tablet = tablet_of(token)
        asked.installation = installation()
        in_force = plan_in_force(now)
        asked.zone = in_force.zone if in_force else ""
        self.put_person(asked, sessions.person_of(request.session, asked.tablet))
        response = self.get_response(request)
        if asked.tablet and sessions.TABLET_COOKIE not in response.cookies:
            sessions.set_tablet_cookie(response, token)
        return response

    @staticmethod
    def put_person(asked: Request, person: Person | None) -> None:
        """Who it is from now on."""
        asked.person, asked.roles, asked.actor, asked.nav = None, frozenset(), Actor(), []
        roles = sessions.roles_of(asked.session, person, clock.now()) if person else frozenset()
        if roles:  # whoever holds none (any more) is let in nowhere, and may sign in with another component
            asked.person, asked.roles = person, roles
            asked.nav = navigation.pages(roles, asked.path)


class RolesTable:
    """Refuses what the table of rights does not allow; a route that the table does not name is refused to all."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(self, request: HttpRequest, view: Any, args: Any, kwargs: Any) -> HttpResponse | None:
        match = request.resolver_match
        assert match is not None  # Django sets it before it calls this
        allowed = rights.RIGHTS.get(match.view_name)
        if allowed == rights.PUBLIC:
            return None
        asked = cast(Request, request)
        if asked.person is None:
            return HttpResponseRedirect(f"{reverse('records:sign-in')}?{urlencode({'next': _back_to(request)})}")
        if match.view_name == "records:lock" and request.method == "POST":
            return None  # locking needs no unlocking first, which would then lock again
        locked = idle.guard(asked)
        if locked is not None:
            return locked
        if allowed is None or not asked.roles & allowed:
            raise PermissionDenied
        only_reads = asked.roles == {rights.INSPECTOR} and match.view_name not in rights.INSPECTOR_POSTS
        if only_reads and request.method not in ("GET", "HEAD"):
            raise PermissionDenied
        role = next(one for one in rights.ORDER if one in asked.roles & allowed)
        person = asked.person
        assert person is not None  # the guard lets nobody through without one
        asked.actor = Actor(person.id, person.name, person.initials, role, asked.tablet.name if asked.tablet else "")
        sessions.touch(request.session, clock.now())
        return None


def _back_to(request: HttpRequest) -> str:
    """Where to go after signing in: a page, never the address of an act."""
    path = request.get_full_path()
    return path if request.method in ("GET", "HEAD") and len(path) <= 1000 else "/"
