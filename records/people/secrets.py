"""PINs and passwords: what is accepted, and how it is kept. Nothing here writes."""

from __future__ import annotations

import re

from django.contrib.auth.hashers import check_password, make_password
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from plant.people.models import Person
from records.people.refused import Refused

LONGEST_PIN = 12
LONGEST_PASSWORD = 200  # argon2 of a megabyte is work for nothing

_DIGITS = re.compile(r"[0-9]{6,12}")  # ASCII digits only: what a keypad gives


def pin_hash(pin: str) -> str:
    """The PIN as it is kept (argon2). Refused: not six to twelve digits, one digit throughout, a straight run."""
    if not _DIGITS.fullmatch(pin):
        raise Refused(_("A PIN has six to twelve digits."), "pin")
    steps = {(int(after) - int(before)) % 10 for before, after in zip(pin, pin[1:], strict=False)}
    if steps in ({0}, {1}, {9}):
        raise Refused(_("This PIN is too easy to guess: not one digit over and over, nor a run such as 345678."), "pin")
    return make_password(pin)


def password_hash(password: str, person: Person) -> str:
    """The password as it is kept (argon2). Refused when it is too short, too long, common or all digits."""
    if len(password) > LONGEST_PASSWORD:
        raise Refused(_("A password has at most 200 characters."), "password")
    try:
        validate_password(password, person)
    except ValidationError as error:
        raise Refused(" ".join(error.messages), "password") from error
    return make_password(password)


def same(secret: str, kept: str) -> bool:
    """Whether this is the secret that was kept. It takes as long when nothing was kept, or when it is nonsense."""
    if kept and len(secret) <= LONGEST_PASSWORD:
        return check_password(secret, kept)
    make_password("the same work for nobody")
    return False
