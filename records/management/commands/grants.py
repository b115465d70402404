"""manage.py grants ROLE: what the server's PostgreSQL role may do, as statements or carried out."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import connection

from records.ledger.grants import role_exists, statements


class Command(BaseCommand):
    """Prints the GRANTs for the role under which the server and the watch connect, or executes them."""

    help = "Print (or --apply) the PostgreSQL grants for the server's role: records may be read and added, no more."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("role", metavar="ROLE", help="the role that DATABASE_URL of the server names")
        parser.add_argument("--apply", action="store_true", help="execute them instead of printing")

    def handle(self, *args: Any, **options: Any) -> None:
        if connection.vendor != "postgresql":
            raise CommandError("SQLite knows no roles; there the ledger is what notices. This is for PostgreSQL.")
        lines = statements(options["role"])
        if not options["apply"]:
            self.stdout.write("".join(f"{line};\n" for line in lines))
            return
        if not role_exists(options["role"]):
            raise CommandError(f"There is no role {options['role']!r}. Make it first: CREATE ROLE … LOGIN PASSWORD …")
        with connection.cursor() as cursor:
            for line in lines:
                cursor.execute(line)
        self.stdout.write(f"{options['role']} may read and add records, and work on the other tables.")
