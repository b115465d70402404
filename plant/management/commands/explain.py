"""A calculation with every step of its working, at the terminal: the same functions that judge the records."""

from __future__ import annotations

from argparse import ArgumentParser, RawDescriptionHelpFormatter
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from plant.calculators import calculators
from plant.calculators.typed import in_words, read
from plant.calculators.working import Ask, Calculator, Table, Working
from plant.process.errors import CalculationError

LAST_WORD = "The legal recorder, the sealed timing pump and the regulator keep the last word."


class Command(BaseCommand):
    """`manage.py explain CALCULATION --name "value" …`."""

    help = "Work a calculation of the plant step by step, with its sources. Nothing is recorded."
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        """One part for each calculator, one option for each thing that it asks."""
        parts = parser.add_subparsers(dest="calculation", required=True, metavar="CALCULATION")
        for key, calculator in calculators().items():
            part = parts.add_parser(
                key,
                help=str(calculator.title),
                description=f"{calculator.purpose}\n\n{_example(calculator)}",
                formatter_class=RawDescriptionHelpFormatter,
            )
            for ask in calculator.asks:
                action: Any = "append" if ask.kind == "rows" else "store"
                name = f"ask_{ask.name}"
                part.add_argument(_option(ask), dest=name, action=action, metavar=_shape(ask), help=_help(ask))
            part.add_argument("--example", action="store_true", help="what is not given is taken from the example")

    def handle(self, *, calculation: str, example: bool, **options: Any) -> None:
        """Read, work, print."""
        calculator = calculators()[calculation]
        typed = {one.name: _typed(one, options.get(f"ask_{one.name}"), example) for one in calculator.asks}
        values, wrong = read(calculator, typed)
        if wrong:
            told = [f"{_option(calculator.ask(name))}: {error.sentence}" for name, error in wrong.items()]
            raise CommandError("\n".join([*told, _example(calculator)]))
        try:
            working = calculator.work(values)
        except CalculationError as error:
            raise CommandError(str(error.sentence)) from error
        self.stdout.write("\n".join(_lines(calculator, typed, working)))


def _option(ask: Ask) -> str:
    return f"--{ask.name.replace('_', '-')}"


def _shape(ask: Ask) -> str:
    if ask.kind == "choice":
        return "|".join(key for key, _label in ask.choices)
    if ask.kind == "rows":
        return '"' + "; ".join(str(one) for one in ask.columns) + '"'
    return '"N UNIT"' if ask.kind == "quantity" and any(ask.units) else "VALUE"


def _help(ask: Ask) -> str:
    parts = [str(ask.label)]
    if ask.kind == "quantity" and any(ask.units):
        parts.append(f"in {', '.join(one for one in ask.units if one)}")
    if ask.kind == "rows":
        parts.append("once for each line")
    if not ask.required:
        parts.append("may be left out")
    return "; ".join(parts).replace("%", "%%")


def _example(calculator: Calculator) -> str:
    given = []
    for ask in calculator.asks:
        for line in ask.example.splitlines() if ask.required else ():
            given.append(f'{_option(ask)} "{line}"')
    return f"For example: python3 manage.py explain {calculator.key} {' '.join(given)}"


def _typed(ask: Ask, given: str | list[str] | None, example: bool) -> str:
    if given is None:
        return ask.example if example else ""
    return given if isinstance(given, str) else "\n".join(given)


def _lines(calculator: Calculator, typed: dict[str, str], working: Working) -> list[str]:
    lines = [str(calculator.title), ""]
    for ask in calculator.asks:
        if typed[ask.name]:
            lines.append(f"  {ask.label}: {'; '.join(typed[ask.name].splitlines())[:400]}")
    lines.append("")
    if working.verdict:
        margin = f", {in_words(working.margin)}" if working.margin else ""
        lines += [f"{in_words(working.verdict).upper()}{margin}"]
    lines += [in_words(working.answer), ""]
    for number, step in enumerate(working.steps, start=1):
        source = f"   [{in_words(step.source)}]" if step.source else ""
        how = f"{in_words(step.how)} = " if step.how else ""
        lines.append(f"{number:2}. {in_words(step.what)}: {how}{in_words(step.result)}{source}")
    for table in working.tables:
        lines += ["", *_table(table)]
    lines += ["", *(f"Caution: {in_words(one)}" for one in working.cautions), f"Caution: {LAST_WORD}"]
    return lines


def _table(table: Table) -> list[str]:
    rows = [[in_words(one) for one in row] for row in (table.head, *table.rows)]
    widths = [max(len(row[place]) for row in rows) for place in range(len(table.head))]
    ruled = ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows]
    return [in_words(table.caption), ruled[0], "-" * len(ruled[0]), *ruled[1:]]
