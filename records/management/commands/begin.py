"""Begin a plant's book: the first entry, the plant's keys, and the first person, who adds the others on the pages."""

from __future__ import annotations

import getpass
import sys
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

from plant.people.models import Role
from records.people.accounts import add_person
from records.people.installation import INSTALLER, begin_installation
from records.people.refused import Refused
from records.people.secrets import LONGEST_PASSWORD

# The administrator adds people; the owner confirms who the first supervisor is. One person may be both.
FIRST_ROLES = [Role.ADMINISTRATOR.value, Role.OWNER.value]


class Command(BaseCommand):
    """`manage.py begin --plant NAME --sign-in NAME --name NAME --initials XX [--email ADDRESS]`."""

    help = "Begin the book of a plant, with its first person (administrator and owner). Works once in a database."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """The plant and its first person; the password is asked for, or is the first line of the standard input."""
        parser.add_argument("--plant", required=True, help="the plant's name, as records print it")
        parser.add_argument("--sign-in", required=True, help="the first person's sign-in name")
        parser.add_argument("--name", required=True, help="the first person's printed name")
        parser.add_argument("--initials", required=True, help="their initials")
        parser.add_argument("--email", default="", help="their e-mail address")
        parser.add_argument("--language", default="en", choices=["en", "es"], help="their language")

    def handle(self, *, plant: str, sign_in: str, name: str, initials: str, **options: Any) -> None:
        """All of it in one transaction: a refused password leaves an empty ledger."""
        password = _password()
        try:
            with transaction.atomic():
                begin_installation(plant, invented=False)
                person = add_person(
                    INSTALLER,
                    sign_in,
                    name,
                    initials,
                    options["email"],
                    options["language"],
                    FIRST_ROLES,
                    password=password,
                )
        except Refused as refused:
            where = f"{refused.field}: " if refused.field else ""
            raise CommandError(f"{where}{refused.sentence} Nothing was written.") from refused
        self.stdout.write(
            f"The book of {plant} has begun. {person.name} signs in as {person.sign_in}, adds the others under People, "
            "and enrols the tablets. Back up KEYS_DIR with the database."
        )


def _password() -> str:
    if not sys.stdin.isatty():
        return sys.stdin.readline(LONGEST_PASSWORD + 2).rstrip("\n")
    first, again = getpass.getpass("Password: "), getpass.getpass("Again: ")
    if first != again:
        raise CommandError("The two are not the same. Nothing was written.")
    return first
