"""manage.py verify [--head FILE]: is the record complete and unaltered?"""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError, connection

from records.ledger.heads import OutsideHead, UnreadableHead, read_outside
from records.ledger.models import Entry
from records.ledger.verify import ONLY_OUTSIDE, Report, verify


class Command(BaseCommand):
    """Prints count, head and result; ends with 1 and the exact entry when anything differs."""

    help = "Check that the ledger is complete and unaltered; with --head also against a head kept outside."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--head", type=Path, metavar="FILE", help="a head kept outside: a proof file, or the two lines of a sheet"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        outside = _outside(options["head"])
        try:
            if Entry._meta.db_table not in connection.introspection.table_names():
                raise CommandError("The database holds no tables yet: run manage.py migrate, or see DATABASE_URL.")
            report = verify(outside)
        except DatabaseError as error:
            raise CommandError(
                f"The database cannot be read through: {error}. It is damaged, or was made by another version of the "
                "daybook. Keep it as it is and restore a backup beside it."
            ) from error
        for line in lines(report):
            self.stdout.write(line)
        if not report.good:
            raise SystemExit(1)


def _outside(path: Path | None) -> OutsideHead | None:
    if path is None:
        return None
    try:
        return read_outside(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError) as error:
        raise CommandError(f"{path} cannot be read: {error}") from error
    except UnreadableHead as error:
        raise CommandError(f"{path}: {error}") from error


def lines(report: Report) -> list[str]:
    """The report as printed."""
    shown = [
        f"entries: {report.count}",
        f"head:    {report.head or 'none: the line of entries breaks'}",
        f"closed days: {report.days}; kept files: {report.files}",
    ]
    if report.vouched:
        shown.append(f"outside head: fits; it vouches for entries 1 to {report.vouched}")
    for one in report.found:
        shown.append(f"DIFFERS  {one.sentence}")
    if (more := report.found.count - len(report.found.kept)) > 0:
        shown.append(f"DIFFERS  … and {more} more")
    shown.append("result:  everything fits" if report.good else f"result:  {report.found.count} differences")
    if report.vouched is None:
        shown.append(ONLY_OUTSIDE)
    return shown
