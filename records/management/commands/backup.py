"""manage.py backup DIR: database, keys and kept files, with the ledger's head."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from records.ledger.backup import CannotBackUp, back_up


class Command(BaseCommand):
    """Copies everything into a new folder while the plant goes on working."""

    help = "Copy database, keys and kept files into a new folder. Keep it where only you can read it."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", type=Path, metavar="DIR", help="a new or empty folder")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            kept = back_up(options["folder"])
        except CannotBackUp as error:
            raise CommandError(str(error)) from error
        self.stdout.write(f"entries: {kept.entries}\nhead:    {kept.head}\nfiles:   {kept.files}")
        self.stdout.write(
            f"{options['folder']} holds the plant's signing keys: whoever reads it can sign as anyone. Lock it away."
        )
