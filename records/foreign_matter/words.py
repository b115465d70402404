"""The words of this feature, in the reader's language: records keep the keys."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from plant.process.foreign_matter import FROM_MM, TO_MM, span_of

STRAINER, MAGNET = "strainer", "magnet"
# Answers where the plan has no check of its own; the first of each is the good one.
ANSWERS = {
    STRAINER: ("whole, nothing caught", "something caught", "damaged"),
    MAGNET: ("clean, strong", "metal found", "weak"),
}
METALS = ("ferrous", "non-ferrous", "stainless")
AFTER = ("load", "run", "strip-down", "other")
WHEN = ("start", "hourly", "end", "after work")
MATERIALS = ("glass", "hard plastic", "ceramic", "other material")

_WORDS: dict[str, Any] = {
    STRAINER: gettext_lazy("strainer, sieve or filter"),
    MAGNET: gettext_lazy("magnet"),
    "whole, nothing caught": gettext_lazy("whole, nothing caught"),
    "something caught": gettext_lazy("something caught"),
    "damaged": gettext_lazy("damaged"),
    "clean, strong": gettext_lazy("clean, strong"),
    "metal found": gettext_lazy("metal found"),
    "weak": gettext_lazy("weak"),
    "ferrous": gettext_lazy("ferrous"),
    "non-ferrous": gettext_lazy("non-ferrous"),
    "stainless": gettext_lazy("stainless steel"),
    "load": gettext_lazy("after a load"),
    "run": gettext_lazy("after a run"),
    "strip-down": gettext_lazy("at strip-down"),
    "other": gettext_lazy("at another time"),
    "start": gettext_lazy("at the start"),
    "hourly": gettext_lazy("in the run"),
    "end": gettext_lazy("at the end"),
    "after work": gettext_lazy("after work on it or a stop"),
    "glass": gettext_lazy("glass"),
    "hard plastic": gettext_lazy("hard plastic"),
    "ceramic": gettext_lazy("ceramic"),
    "other material": gettext_lazy("something else that breaks"),
}


def in_words(key: str) -> str:
    """A key in the reader's language; the plan's own answers stand as the plan has them."""
    return str(_WORDS.get(key, key))


def length_words(length_mm: Decimal, hard: str) -> str:
    """What the guide says of such a length: information beside the finding, never a permission."""
    words = {"low": FROM_MM, "high": TO_MM}
    about = {
        "below": _(
            "Shorter than %(low)s mm: CPG Sec. 555.425 (from memory) still asks about infants, the aged and the ill."
        ),
        "within": _("Within %(low)s to %(high)s mm, the lengths that CPG Sec. 555.425 names (from memory)."),
        "above": _("Longer than %(high)s mm: CPG Sec. 555.425 (from memory) leaves it to judgment, and it can injure."),
    }[span_of(length_mm)] % words
    if hard != "yes":
        return _("The guide is about hard or sharp objects. %(about)s") % {"about": about}
    return about
