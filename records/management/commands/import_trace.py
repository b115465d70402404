"""manage.py import_trace FILE: a recorder's file into the daybook, from the machine that it runs on."""

from __future__ import annotations

import uuid
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from plant import clock
from plant.process.errors import CalculationError
from plant.process.trace_file import Mapping, Shape
from records.deviations.errors import Refused
from records.ledger.actions import Actor
from records.people.plans import InForce, plan_in_force
from records.traces import importing, incoming, kept_files
from records.traces.findings import standing
from records.traces.judging import places_of
from records.traces.models import TraceFile, TraceSource, TraceUpload

HERE = Actor(name="import_trace", role="watch")


class Command(BaseCommand):
    """Reads, keeps and judges a file; prints what came of it and every finding; ends with 1 where it is refused."""

    help = "Keep a recorder's or logger's CSV file and judge it. How a source is read is remembered."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE")
        parser.add_argument("--source", default="", help="the recorder or logger; default: the one whose files look so")
        parser.add_argument(
            "--column",
            action="append",
            default=[],
            metavar="N=INSTRUMENT[:UNIT]",
            help="what column N (from 1) holds; may be given several times; default: as remembered for the source",
        )
        parser.add_argument("--order", choices=("dmy", "mdy", "ymd"), default="", help="how its dates are written")
        parser.add_argument("--decimal", choices=(".", ","), default="", help="its decimal mark")
        parser.add_argument("--clock", default="", help="the recorder's clock: UTC, an offset as -06:00, or a zone")
        parser.add_argument("--look", action="store_true", help="say what the file holds and keep nothing")

    def handle(self, *args: Any, **options: Any) -> None:
        in_force = plan_in_force(clock.now())
        if in_force is None:
            raise CommandError("No plan is in force: the plant's instruments are known once one is approved.")
        try:
            upload = incoming.receive_path(HERE, options["file"])
        except OSError as error:
            raise CommandError(f"{options['file']} cannot be read: {error.strerror}.") from error
        except Refused as refusal:
            raise CommandError(str(refusal.sentence)) from refusal
        try:
            self._read(upload, options, in_force)
        except Refused as refusal:
            raise CommandError(f"{options['file']}: {refusal.sentence}") from refusal
        except CalculationError as error:
            raise CommandError(f"{options['file']}: {error}") from error
        finally:
            incoming.forget(upload)

    def _read(self, upload: TraceUpload, options: dict[str, Any], in_force: InForce) -> None:
        shape = importing.look_at(upload)
        if options["look"]:
            self._say(shape)
            return
        mapping, source = _mapping(shape, options, in_force)
        row, again = importing.import_file(HERE, upload, mapping, source, uuid.uuid4())
        if again:
            self.stdout.write(f"kept before as entry {row.number}, read the same way: nothing was added")
            return
        kept_files.judge(row)
        self._came(row, in_force)

    def _say(self, shape: Shape) -> None:
        self.stdout.write(f"{shape.encoding}, delimiter {shape.delimiter!r}, rows from line {shape.data_row}")
        for one in shape.columns:
            examples = " · ".join(one.examples)
            self.stdout.write(f"  {one.number + 1}: {one.kind} {one.unit} {one.name}  ({examples})")
        for choose in shape.to_choose:
            self.stdout.write(f"to choose: {choose}")

    def _came(self, row: TraceFile, in_force: InForce) -> None:
        self.stdout.write(
            f"entry {row.number}: {row.rows} rows, {row.samples_new} new samples, {row.samples_known} known, "
            f"{row.contradicting} contradicting, {row.rejected_rows} rows left out"
        )
        for one in row.rejected:
            self.stdout.write(f"  left out: row {one['row']} {one['column']}: {one['why']}")
        for found in standing(row.first_at, row.last_at, places_of(row.instruments, in_force), in_force.zone):
            deviation = f", deviation {found.deviation}" if found.deviation else ""
            said = f"{found.row.place_name}: {found.row.sentence}"
            self.stdout.write(f"  {found.outcome}: {found.when} {said}{deviation}")


def _mapping(shape: Shape, options: dict[str, Any], in_force: InForce) -> tuple[Mapping, str]:
    """How the file is read: as the options say, else as its source's last file was."""
    source = options["source"]
    if options["column"]:
        if not source:
            raise CommandError("Say which recorder or logger it comes from: --source NAME.")
        return _said(shape, options, in_force), source
    known = TraceSource.objects.filter(name=source).first() if source else importing.remembered(shape)
    if known is None:
        raise CommandError(
            "How to read this file is not known yet. See its columns with --look, then say --source NAME and "
            "--column N=INSTRUMENT for each that is to be kept; or send it once on the page."
        )
    return Mapping.from_plain(known.mapping), known.name


def _said(shape: Shape, options: dict[str, Any], in_force: InForce) -> Mapping:
    instruments: dict[int, str] = {}
    units: dict[int, str] = {}
    known = {one.code: one for one in importing.known_instruments(in_force)}
    for text in options["column"]:
        number, mark, rest = text.partition("=")
        code, _colon, unit = rest.partition(":")
        if not mark or not number.strip().isdecimal() or not code:
            raise CommandError(f"--column {text}: write it as 2=tr-press-1 or 2=tr-press-1:°C.")
        at = int(number) - 1
        instruments[at] = code
        found = known.get(code)
        if unit:
            units[at] = unit
        elif found is not None and 0 <= at < len(shape.columns) and not shape.columns[at].unit:
            units[at] = found.unit  # the file names none: the plan's
    return shape.mapping(
        instruments, units=units, order=options["order"], decimal=options["decimal"], clock=options["clock"]
    )
