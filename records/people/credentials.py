"""Acts on PINs and passwords. Nobody sees another person's secret: a reset gives a link that works once."""

from __future__ import annotations

from django.core import signing
from django.utils.translation import gettext, override
from django.utils.translation import gettext_lazy as _

from plant import clock
from plant.kept_words import kept_word
from plant.people.models import Person, Role, Tablet
from records.ledger.actions import Act, Actor, act
from records.people import lockouts, outbox, secrets
from records.people.accounts import write
from records.people.models import AccountAct
from records.people.queries import holders
from records.people.refused import Refused

LINK_HOURS = 24
_SALT = "a person sets a PIN or password"
_KINDS = {"PIN": "PIN set", "password": "password set"}


def set_pin(person: Person, pin: str, by: Actor | None = None) -> Person:
    """A person sets their PIN; the record says that, never what it is."""
    kept = secrets.pin_hash(pin)
    with act(by or _self(person)) as a:
        person.pin_hash = kept
        person.save(update_fields=["pin_hash"])
        write(a, person, "PIN set")
    return person


def set_password(person: Person, password: str, by: Actor | None = None) -> Person:
    """A person sets their password."""
    kept = secrets.password_hash(password, person)
    with act(by or _self(person)) as a:
        person.password = kept
        person.save(update_fields=["password"])
        write(a, person, "password set")
    return person


def reset_pin(by: Actor, person: Person, reason: str) -> str:
    """Take a person's PIN away; gives the token of the link that lets them set a new one.

    They and the supervisors are told. Signing waits until a supervisor has confirmed who they are (21 CFR 11.100(b)).
    """
    return _reset(by, person, "PIN", reason)


def reset_password(by: Actor, person: Person, reason: str) -> str:
    """As `reset_pin`, for a password."""
    return _reset(by, person, "password", reason)


def first_link(person: Person) -> str:
    """The token for someone just added without PIN or password: valid until they have set one."""
    latest = AccountAct.objects.filter(person_id=person.id, what="added").values_list("number", flat=True).first()
    roles = person.roles_at(clock.now())
    return _token(person, "PIN" if roles == {Role.OPERATOR} else "password", latest or 0)


def _reset(by: Actor, person: Person, kind: str, reason: str) -> str:
    if not reason.strip():
        raise Refused(_("Write why."), "reason")
    with act(by) as a:
        person = Person.objects.get(id=person.id)
        if not person.is_active:
            raise Refused(_("%(name)s has left.") % {"name": person.name})
        if person.id == by.person_id:
            raise Refused(_("Somebody else resets yours."))
        if kind == "PIN":
            person.pin_hash = ""
        else:
            person.set_unusable_password()
        person.must_be_confirmed = True
        person.save(update_fields=["pin_hash", "password", "must_be_confirmed"])
        row = write(a, person, f"{kind} reset", reason=reason)
        _tell(a, person, kind, row)
    return _token(person, kind, row.number)


def mail_link(person: Person, link: str) -> None:
    """Mail the link to the person (and to nobody else)."""
    with override(person.language):
        outbox.put(
            f"link-{person.id}-{clock.now():%Y%m%d%H%M%S%f}",
            person.email,
            gettext("Set your PIN or password"),
            gettext("Open this link within %(hours)s hours, once. Nobody else sees what you choose:\n%(link)s")
            % {"hours": LINK_HOURS, "link": link},
            clock.now(),
        )


def open_link(token: str) -> tuple[Person, str]:
    """Whose link it is and what it sets ("PIN" or "password"). Refused: too old, used, replaced by a newer one."""
    gone = _("This link is too old or was used already. Ask for another one.")
    try:
        said = signing.loads(token, salt=_SALT)
        person = Person.objects.get(id=said["person"], is_active=True)
        kind, number, made_at = str(said["kind"]), int(said["act"]), float(said["at"])
    except (signing.BadSignature, Person.DoesNotExist, KeyError, TypeError, ValueError) as error:
        raise Refused(gone) from error
    if not 0 <= clock.now().timestamp() - made_at <= LINK_HOURS * 3600:
        raise Refused(gone)
    later = AccountAct.objects.filter(person_id=person.id, number__gt=number)
    if kind not in _KINDS or later.filter(what__in=[_KINDS[kind], f"{kind} reset"]).exists():
        raise Refused(gone)
    return person, kind


def use_link(token: str, secret: str) -> Person:
    """Set the PIN or password that the link is for."""
    person, kind = open_link(token)
    kept = secrets.pin_hash(secret) if kind == "PIN" else secrets.password_hash(secret, person)
    with act(_self(person)) as a:
        person, kind = open_link(token)  # again, under the lock: it works once
        if kind == "PIN":
            person.pin_hash = kept
        else:
            person.password = kept
        person.save(update_fields=["pin_hash", "password"])
        write(a, person, _KINDS[kind], detail="through a link")
    return person


def confirm_person(by: Actor, person: Person, seen: str) -> Person:
    """A supervisor confirms who the person is; `seen` says how (known by sight, a document). Then they may sign."""
    if not seen.strip():
        raise Refused(_("Write how you know who this is."), "seen")
    if person.id == by.person_id:
        raise Refused(_("Nobody confirms themselves."))
    with act(by) as a:
        person = Person.objects.get(id=person.id)
        if not person.must_be_confirmed:
            return person
        if not person.pin_hash and not person.has_usable_password():
            raise Refused(_("%(name)s has not set a PIN or password yet.") % {"name": person.name})
        person.must_be_confirmed = False
        person.save(update_fields=["must_be_confirmed"])
        write(a, person, "confirmed", reason=seen)
    return person


def unlock(by: Actor, person: Person, tablet: Tablet | None, reason: str) -> AccountAct | None:
    """A supervisor lets a locked person try again on that tablet (None: away from tablets).

    None, and nothing written, when nothing is locked.
    """
    if not reason.strip():
        raise Refused(_("Write why."), "reason")
    if person.id == by.person_id:
        raise Refused(_("Somebody else unlocks yours."))
    with act(by) as a:
        if not lockouts.is_locked(person, tablet, a.now):
            return None
        return write(a, person, "unlocked", detail=str(tablet.id) if tablet else "", reason=reason)


def _token(person: Person, kind: str, number: int) -> str:
    said = {"person": str(person.id), "kind": kind, "act": number, "at": int(clock.now().timestamp())}
    return signing.dumps(said, salt=_SALT)


def _self(person: Person) -> Actor:
    return Actor(person.id, person.name, person.initials, "account holder")


def _tell(a: Act, person: Person, kind: str, row: AccountAct) -> None:
    told = [one for one in holders(Role.SUPERVISOR, a.now) if one.id != person.id]
    for one in [person, *told]:
        if not one.email:
            continue
        with override(one.language):
            outbox.put(
                f"reset-{row.number}-{one.id}",
                one.email,
                gettext("A PIN or password was reset"),
                gettext(
                    "%(by)s reset the %(kind)s of %(name)s (ledger entry %(number)s). Reason: %(reason)s\n"
                    "%(name)s signs nothing before a supervisor has confirmed who it is. "
                    "If nobody should have done this, tell the owner at once."
                )
                % {
                    "by": row.by_name,
                    "kind": kept_word(kind),
                    "name": person.name,
                    "number": row.number,
                    "reason": row.reason,
                },
                a.now,
            )
