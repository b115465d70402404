"""manage.py restore DIR: put a backup back."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from records.ledger.backup import CannotRestore, restore


class Command(BaseCommand):
    """Puts database, keys and files of a backup back, into nothing or over the beginning of the same ledger."""

    help = "Put a backup back. Stop the server and the watch first. A longer or different ledger is never overwritten."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", type=Path, metavar="DIR", help="a folder that `manage.py backup` made")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            kept = restore(options["folder"])
        except CannotRestore as error:
            raise CommandError(str(error)) from error
        self.stdout.write(f"entries: {kept.entries}\nhead:    {kept.head}\nfiles:   {kept.files}")
        self.stdout.write("The head is that of the backup. Now run manage.py migrate and manage.py verify.")
