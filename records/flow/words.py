"""States and events in the reader's language; what a plan names otherwise stands as the plan writes it."""

from __future__ import annotations

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from plant.process.contents import Condition

_WORDS: dict[str, Promise] = {
    Condition.HOLDS.value: _("holds product"),
    Condition.WASHING.value: _("being washed"),
    Condition.DIRTY.value: _("empty and dirty"),
    Condition.CLEAN.value: _("empty and clean"),
    Condition.SANITIZED.value: _("sanitized"),
    Condition.OUT.value: _("out of service"),
    "washed": _("washed"),
    "wash begun": _("wash begun"),
    "wash did not happen": _("the wash that was begun did not happen"),
    "batch": _("batch"),
    "label roll": _("label roll"),
    "chart change": _("chart change"),
    "delivery": _("delivery"),
    "visitor": _("visitor"),
    "breakage": _("breakage"),
}


def in_words(text: str) -> str:
    """The words for a state or event."""
    return str(_WORDS.get(text, text))
