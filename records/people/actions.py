"""Every act on people and tablets, under one roof; each lives in the file of its subject."""

from records.people.accounts import add_person, end_role, grant_role, leave, renew_certificate
from records.people.credentials import (
    confirm_person,
    reset_password,
    reset_pin,
    set_password,
    set_pin,
    unlock,
    use_link,
)
from records.people.installation import INSTALLER, begin_installation
from records.people.refused import Refused
from records.people.tablets import enrol_tablet, withdraw_tablet

__all__ = [
    "INSTALLER",
    "Refused",
    "add_person",
    "begin_installation",
    "confirm_person",
    "end_role",
    "enrol_tablet",
    "grant_role",
    "leave",
    "renew_certificate",
    "reset_password",
    "reset_pin",
    "set_password",
    "set_pin",
    "unlock",
    "use_link",
    "withdraw_tablet",
]
