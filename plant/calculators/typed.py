"""From what a person typed, in the command or on a page, to a calculator's working; each fault beside its field."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from django.utils.translation import gettext

from plant.calculators.working import Calculator, WrongValue
from plant.process.said import again


def read(
    calculator: Calculator, typed: Mapping[str, str], decimal_mark: str = "."
) -> tuple[dict[str, Any], dict[str, WrongValue]]:
    """The value of each ask, and what is wrong with which."""
    values: dict[str, Any] = {}
    wrong: dict[str, WrongValue] = {}
    for ask in calculator.asks:
        try:
            values[ask.name] = ask.read(typed.get(ask.name, ""), decimal_mark)
        except WrongValue as error:
            wrong[ask.name] = error
    return values, wrong


def in_words(text: Any, translate: Callable[[str], str] = gettext) -> str:
    """A sentence of the working in the reader's language; numbers and names stand as they are."""
    return again(text, translate) if isinstance(text, str) else str(text)
