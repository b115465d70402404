"""Make a draft from a written plan. It never approves: two people sign a version on its own page."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from plant import clock
from plant.hazard_plan.check import problems
from plant.hazard_plan.content import Plan, PlanError
from plant.hazard_plan.lines import Lines
from plant.hazard_plan.written import read, same_content, store
from plant.people.models import Person

LARGEST_BYTES = 4_000_000


class Command(BaseCommand):
    """`manage.py load_plan FILE [--by SIGN_IN]`."""

    help = "Make a draft of the hazard plan from a written one (TOML). Never approves; the same again adds nothing."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """The file, and who made it."""
        parser.add_argument("file", type=Path, help="the written plan, one TOML file")
        parser.add_argument("--by", metavar="SIGN_IN", help="sign-in name of who made the plan")

    def handle(self, *, file: Path, by: str | None, **_options: Any) -> None:
        """Read, check, store; each trouble with the number of its line."""
        text = _text(file)
        person = _person(by)
        try:
            plan = read(text)
        except PlanError as error:
            raise CommandError(f"{file}: {error}. Nothing was stored.") from error
        self._check(file, text, plan)
        standing = same_content(plan)
        if standing is not None:
            self.stdout.write(f"{file}: version {standing.number} says the same already. Nothing was added.")
            return
        try:
            version = store(plan, person, clock.now())
        except PlanError as error:
            line = Lines(text).line_of(error.path)
            raise CommandError(f"{file}: {PlanError(error.path, error.sentence, line)}. Nothing was stored.") from error
        self.stdout.write(
            f"{file}: stored as the draft of version {version.number}, {len(plan.monitoring)} checks. "
            "It is not in force: the qualified individual and the owner sign it on its page."
        )

    def _check(self, file: Path, text: str, plan: Plan) -> None:
        found = problems(plan)
        if not found:
            return
        lines = Lines(text)
        for one in found:
            kind = "refused" if one.refuses else "to confirm" if one.confirm else "warning"
            self.stderr.write(f"{file}: line {lines.line_of(one.path) or 1}: {kind}: {one}")
        refused = sum(one.refuses for one in found)
        if refused:
            things = "1 thing is" if refused == 1 else f"{refused} things are"
            raise CommandError(f"{file}: {things} refused, named above. Nothing was stored.")


def _text(file: Path) -> str:
    try:
        if file.stat().st_size > LARGEST_BYTES:
            raise CommandError(f"{file}: larger than {LARGEST_BYTES} bytes, so no written plan.")
        return file.read_text(encoding="utf-8")
    except OSError as error:
        raise CommandError(f"{file}: cannot be read ({error.strerror}).") from error
    except UnicodeDecodeError as error:
        line = error.object[: error.start].count(b"\n") + 1
        raise CommandError(f"{file}: line {line}: this is not UTF-8 text. Nothing was stored.") from error


def _person(sign_in: str | None) -> Person | None:
    if sign_in is None:
        return None
    person = Person.objects.filter(sign_in=sign_in).first()
    if person is None:
        raise CommandError(f"Nobody has the sign-in name {sign_in!r}.")
    return person
