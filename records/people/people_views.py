"""Pages of people: the list, one person, and each act on an account. All acts are signed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, cast
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_safe

from plant import clock
from plant.kept_words import kept_word
from plant.people.models import Person, Role, Tablet
from records.ledger.actions import Actor
from records.people import actions, credentials, lockouts, rights
from records.people.components import signature_actor
from records.people.forms import AddPerson, Because, RoleChange, Seen, SignatureFields
from records.people.middleware import Request
from records.people.models import AccountAct
from records.people.refused import Refused

page = require_http_methods(["GET", "HEAD", "POST"])
signed = sensitive_post_parameters("signer_secret")


@require_safe
def people(request: HttpRequest) -> HttpResponse:
    """Everybody, those who left last."""
    now = clock.now()
    everybody = Person.objects.prefetch_related("held_roles").order_by("-is_active", "name")
    rows = [(one, [Role(role).label for role in sorted(one.roles_at(now))]) for one in everybody]
    return render(request, "records/people/people.html", {"rows": rows, "may_add": _may(request, "person-add")})


@require_safe
def person(request: HttpRequest, person_id: UUID) -> HttpResponse:
    """One person: roles, certificate, what is locked, what was done to the account, and the acts open to the reader."""
    who = _get(person_id)
    now = clock.now()
    locked = [tablet for tablet in [None, *Tablet.objects.all()] if lockouts.is_locked(who, tablet, now)]
    place = {
        "who": who,
        "roles": [Role(role).label for role in sorted(who.roles_at(now))],
        "locked": locked,
        "acts": AccountAct.objects.filter(person_id=who.id).order_by("-number")[:100],
        "may": {
            name: _may(request, route)
            for name, route in {
                "grant": "person-role-grant",
                "end": "person-role-end",
                "reset": "person-reset",
                "confirm": "person-confirm",
                "unlock": "person-unlock",
                "leave": "person-leave",
                "training": "training-person",
            }.items()
        },
    }
    return render(request, "records/people/person.html", place)


@never_cache
@signed
@page
def add(request: HttpRequest) -> HttpResponse:
    """Add a person; the next page gives the link with which they choose their PIN or password."""
    asked = cast(Request, request)
    form = AddPerson(request.POST or None, request=asked)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        names = ("sign_in", "name", "initials", "email", "language", "roles", "expires_at")
        try:
            who = actions.add_person(signature_actor(asked, form), **{name: given[name] for name in names})
        except Refused as refused:
            form.refuse(_on_form(refused))
        else:
            return _hand_over(request, who, credentials.first_link(who))
    return _form_page(request, form, _("Add a person"), reverse("records:people"))


def _on_form(refused: Refused) -> Refused:
    return Refused(refused.sentence, "expires_on") if refused.field == "expires_at" else refused


def _hand_over(request: HttpRequest, who: Person, token: str) -> HttpResponse:
    """Mail the link; without an address show it once, to be opened by the person."""
    link = request.build_absolute_uri(reverse("records:new-secret", args=[token]))
    if who.email:
        credentials.mail_link(who, link)
        messages.success(request, _("%(name)s gets a link by e-mail.") % {"name": who.name})
        return redirect("records:person", who.id)
    return render(request, "records/people/link.html", {"who": who, "link": link, "hours": credentials.LINK_HOURS})


@signed
@page
def grant(request: HttpRequest, person_id: UUID) -> HttpResponse:
    """Give a role."""
    who = _get(person_id)
    held = who.roles_at(clock.now())
    form = _role_form(request, [one for one in Role.choices if one[0] not in held])
    title = _("Give %(name)s a role") % {"name": who.name}
    return _act(
        request, who, form, title, lambda by, given: actions.grant_role(by, who, given["role"], given["reason"])
    )


@signed
@page
def end(request: HttpRequest, person_id: UUID) -> HttpResponse:
    """Take a role."""
    who = _get(person_id)
    held = who.roles_at(clock.now())
    form = _role_form(request, [one for one in Role.choices if one[0] in held])
    title = _("End a role of %(name)s") % {"name": who.name}
    return _act(request, who, form, title, lambda by, given: actions.end_role(by, who, given["role"], given["reason"]))


def _role_form(request: HttpRequest, choices: list[tuple[str, Any]]) -> RoleChange:
    return RoleChange(request.POST or None, request=cast(Request, request), choices=choices)


@never_cache
@signed
@page
def reset(request: HttpRequest, person_id: UUID, kind: str) -> HttpResponse:
    """Take a PIN or password away; the person gets a link to choose another."""
    who, asked = _get(person_id), cast(Request, request)
    if kind not in ("PIN", "password"):
        raise Http404
    form = Because(request.POST or None, request=asked)
    if request.method == "POST" and form.is_valid():
        act = actions.reset_pin if kind == "PIN" else actions.reset_password
        try:
            token = act(signature_actor(asked, form), who, form.cleaned_data["reason"])
        except Refused as refused:
            form.refuse(refused)
        else:
            return _hand_over(request, who, token)
    title = _("Reset the %(kind)s of %(name)s") % {"kind": kept_word(kind), "name": who.name}
    return _form_page(request, form, title, reverse("records:person", args=[who.id]))


@signed
@page
def confirm(request: HttpRequest, person_id: UUID) -> HttpResponse:
    """A supervisor confirms who the person is."""
    who = _get(person_id)
    form = Seen(request.POST or None, request=cast(Request, request))
    title = _("Confirm who %(name)s is") % {"name": who.name}
    return _act(request, who, form, title, lambda by, given: actions.confirm_person(by, who, given["seen"]))


@signed
@page
def unlock(request: HttpRequest, person_id: UUID, tablet_id: UUID) -> HttpResponse:
    """Let a locked person try again on a tablet."""
    return _unlock(request, _get(person_id), get_object_or_404(Tablet, id=tablet_id))


@signed
@page
def unlock_away(request: HttpRequest, person_id: UUID) -> HttpResponse:
    """Let a locked person try their password again away from tablets."""
    return _unlock(request, _get(person_id), None)


def _unlock(request: HttpRequest, who: Person, tablet: Tablet | None) -> HttpResponse:
    form = Because(request.POST or None, request=cast(Request, request))
    title = _("Unlock %(name)s") % {"name": who.name}
    return _act(request, who, form, title, lambda by, given: actions.unlock(by, who, tablet, given["reason"]))


@signed
@page
def renew(request: HttpRequest, person_id: UUID) -> HttpResponse:
    """A new certificate, before the old one ends."""
    who = _get(person_id)
    form = Because(request.POST or None, request=cast(Request, request))
    title = _("A new certificate for %(name)s") % {"name": who.name}
    return _act(request, who, form, title, lambda by, given: actions.renew_certificate(by, who, given["reason"]))


@signed
@page
def leave(request: HttpRequest, person_id: UUID) -> HttpResponse:
    """Someone leaves the plant."""
    who = _get(person_id)
    form = Because(request.POST or None, request=cast(Request, request))
    title = _("%(name)s leaves") % {"name": who.name}
    return _act(request, who, form, title, lambda by, given: actions.leave(by, who, given["reason"]))


def _act(
    request: HttpRequest,
    who: Person,
    form: SignatureFields,
    title: str,
    act: Callable[[Actor, dict[str, Any]], object],
) -> HttpResponse:
    """The common shape: form, both components, act, back to the person."""
    back = reverse("records:person", args=[who.id])
    if request.method == "POST" and form.is_valid():
        try:
            act(signature_actor(cast(Request, request), form), form.cleaned_data)
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(request, _("Written and signed."))
            return redirect(back)
    return _form_page(request, form, title, back)


def _form_page(request: HttpRequest, form: SignatureFields, title: str, back: str) -> HttpResponse:
    form.out, form.out_url = _("Leave it"), back
    return render(request, "records/people/form.html", {"form": form, "title": title})


def _get(person_id: UUID) -> Person:
    return get_object_or_404(Person.objects.prefetch_related("held_roles"), id=person_id)


def _may(request: HttpRequest, route: str) -> bool:
    return bool(rights.RIGHTS[f"records:{route}"] & cast(Request, request).roles)
