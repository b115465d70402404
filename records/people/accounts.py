"""Acts on people's accounts: added, roles granted and ended, left. Each is one transaction with its entries."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from datetime import datetime, timedelta

from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from plant import clock
from plant.people.models import Person, PersonRole, Role
from records.ledger.actions import Act, Actor, act
from records.people import secrets
from records.people.keys import authority, write_issued, write_revoked
from records.people.models import AccountAct, Certificate
from records.people.refused import Refused


def add_person(
    by: Actor,
    sign_in: str,
    name: str,
    initials: str,
    email: str = "",
    language: str = "en",
    roles: Iterable[str] = (),
    password: str | None = None,
    pin: str | None = None,
    expires_at: datetime | None = None,
) -> Person:
    """A new person with a certificate, their roles and, when given, a first password and PIN.

    Without either the person sets one through a link, and signs nothing before a supervisor has confirmed who they
    are (21 CFR 11.100(b)). Raises Refused, with the field: a name taken, an unknown role, a weak PIN or password, an
    inspector without an end.
    """
    roles = list(dict.fromkeys(roles))
    now = clock.now()
    _refuse_roles(roles, expires_at, now)
    person = Person(
        id=uuid.uuid4(),
        sign_in=sign_in.strip(),
        name=" ".join(name.split()),
        initials=initials.strip(),
        email=email.strip(),
        language=language,
        expires_at=expires_at,
        must_be_confirmed=password is None and pin is None,
    )
    _refuse_unclean(person)
    if password is not None:
        person.password = secrets.password_hash(password, person)
    if pin is not None:
        person.pin_hash = secrets.pin_hash(pin)
    # A key takes a moment to make: before the ledger's lock, not under it.
    issued = authority().issue_person(str(person.id), person.name, ", ".join(roles) or "no role", now)
    person.certificate_serial = issued.serial
    with act(by) as a:
        _refuse_unclean(person)  # again: somebody else may have taken the name since
        person.save(force_insert=True)
        write(a, person, "added", detail=f"sign-in name {person.sign_in}, initials {person.initials}")
        write_issued(a, issued, person.id, person.name)
        for role in roles:
            _grant(a, person, role)
        if password is not None:
            write(a, person, "password set")
        if pin is not None:
            write(a, person, "PIN set")
    return person


def grant_role(by: Actor, person: Person, role: str, reason: str = "") -> PersonRole:
    """Give a role from now on; a role held already is given back as it is, and nothing is written.

    Nobody gives themselves one: else an administrator would have power over records after all, confirmed by nobody.
    """
    if person.id == by.person_id:
        raise Refused(_("Somebody else gives you a role."), "role")
    with act(by) as a:
        person = Person.objects.get(id=person.id)
        held = _held(person, role, a.now)
        if held is not None:
            return held
        if not person.is_active:
            raise Refused(_("%(name)s has left.") % {"name": person.name})
        _refuse_roles([*person.roles_at(a.now), role], person.expires_at, a.now)
        return _grant(a, person, role, reason)


def end_role(by: Actor, person: Person, role: str, reason: str) -> PersonRole | None:
    """Take a role from now on; None when it is not held.

    The last administrator stays one, else nobody could add people.
    """
    if not reason.strip():
        raise Refused(_("Write why the role ends."), "reason")
    with act(by) as a:
        held = _held(person, role, a.now)
        if held is None:
            return None
        if role == Role.ADMINISTRATOR:
            _refuse_last_administrator(person, a.now)
        _end(a, person, held, reason)
        return held


def leave(by: Actor, person: Person, reason: str) -> Person:
    """Someone leaves: signs in no more, roles end, the certificate is revoked. Everything they recorded stays."""
    if not reason.strip():
        raise Refused(_("Write why and when the person leaves."), "reason")
    with act(by) as a:
        person = Person.objects.get(id=person.id)
        if not person.is_active:
            return person
        if person.id == by.person_id:
            raise Refused(_("Somebody else closes your account."))
        if _held(person, Role.ADMINISTRATOR, a.now):
            _refuse_last_administrator(person, a.now)
        person.is_active = False
        person.save(update_fields=["is_active"])
        write(a, person, "left", reason=reason)
        for held in person.held_roles.filter(until=None):
            _end(a, person, held, reason)
        for serial in Certificate.objects.filter(person_id=person.id, what="issued").values_list("serial", flat=True):
            write_revoked(a, serial)
    return person


def renew_certificate(by: Actor, person: Person, reason: str) -> Person:
    """A new key and certificate; the old one is kept, so that what it signed stays checkable."""
    now = clock.now()
    if not person.is_active:
        raise Refused(_("%(name)s has left.") % {"name": person.name})
    roles = ", ".join(sorted(person.roles_at(now))) or "no role"
    issued = authority().renew(str(person.id), person.name, roles, now)
    with act(by) as a:
        person.certificate_serial = issued.serial
        person.save(update_fields=["certificate_serial"])
        write(a, person, "certificate renewed", reason=reason)
        write_issued(a, issued, person.id, person.name)
    return person


def write(a: Act, person: Person, what: str, *, role: str = "", detail: str = "", reason: str = "") -> AccountAct:
    """The record of something done to an account."""
    row = AccountAct(
        person_id=person.id, person_name=person.name, what=what, role=role, detail=detail, reason=reason.strip()
    )
    return a.write(row)


def _grant(a: Act, person: Person, role: str, reason: str = "") -> PersonRole:
    held = PersonRole(person=person, role=role, since=a.now)
    held.save(force_insert=True)
    write(a, person, "role granted", role=role, reason=reason)
    return held


def _end(a: Act, person: Person, held: PersonRole, reason: str) -> None:
    held.until = max(a.now, held.since + timedelta(microseconds=1))
    held.save(update_fields=["until"])
    write(a, person, "role ended", role=held.role, reason=reason)


def _held(person: Person, role: str, now: datetime) -> PersonRole | None:
    held = person.held_roles.filter(role=role, since__lte=now)
    return next((one for one in held if one.until is None or now < one.until), None)


def _refuse_roles(roles: Iterable[str], expires_at: datetime | None, now: datetime) -> None:
    wanted = set(roles)
    if not wanted <= set(Role.values):
        raise Refused(_("There is no such role."), "roles")
    if Role.INSPECTOR in wanted:
        if len(wanted) > 1:
            raise Refused(_("An inspector only reads: no other role goes with it."), "roles")
        if expires_at is None:
            raise Refused(_("An inspector's account needs a day on which it ends."), "expires_at")
    if expires_at is not None and expires_at <= now:
        raise Refused(_("The account would have ended already."), "expires_at")


def _refuse_unclean(person: Person) -> None:
    for field in ("sign_in", "name", "initials"):
        if "\0" in getattr(person, field):
            raise Refused(_("There is a character in it that cannot be kept."), field)
    try:
        person.full_clean(exclude=["password"])
    except ValidationError as error:
        field, sentences = next(iter(error.message_dict.items()))
        raise Refused(sentences[0], field) from error


def _refuse_last_administrator(person: Person, now: datetime) -> None:
    others = PersonRole.objects.filter(role=Role.ADMINISTRATOR, person__is_active=True, since__lte=now)
    others = others.exclude(person=person)
    if not any(one.until is None or now < one.until for one in others):
        raise Refused(_("%(name)s is the last administrator: name another one first.") % {"name": person.name})
