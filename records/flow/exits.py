"""Where product leaves the plant's vessels: each exit has a name that forms, acts and the balance know alike.

A movement keeps the exit as words (`target_name`), in the plant's language; they are known again in every language of
this book, so that what was typed by hand counts as the same exit.
"""

from __future__ import annotations

from functools import cache

from django.conf import settings
from django.utils.functional import Promise
from django.utils.translation import gettext, override
from django.utils.translation import gettext_lazy as _

from records.flow.data import PACKED

DRAIN, FEED, SAMPLES, SLUDGE, DONATION = "drain", "animal feed", "samples", "separator sludge", "donation"
DESTROYED = "destroyed"
# In the order of the form. What goes anywhere else is named by hand.
EXITS: dict[str, str | Promise] = {
    PACKED: _("packed"),
    DRAIN: _("drain"),
    FEED: _("animal feed"),
    SAMPLES: _("samples"),
    SLUDGE: _("separator sludge"),
    DONATION: _("donation"),
    DESTROYED: _("destroyed"),
}
# Product for people leaves by these; the others are losses.
FOR_PEOPLE = frozenset({PACKED, DONATION})


def exit_of(target: str | None, target_name: str | None) -> str:
    """The exit that a movement leaves by; empty for a vessel, or for a place that only its words name."""
    return "" if target else _keys().get((target_name or "").strip().lower(), "")


@cache
def _keys() -> dict[str, str]:
    """The words of each exit in every language of this book, lower case, with its key."""
    found = {key: key for key in EXITS}
    for code, _name in settings.LANGUAGES:
        with override(code):
            found |= {gettext(key).lower(): key for key in EXITS}
    return found
