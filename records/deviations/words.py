"""The words of deviations and dispositions in the reader's language. Records keep the English keys."""

from __future__ import annotations

from django.utils.translation import gettext_lazy as _

WORDS = {
    # what becomes of held product
    "release": _("release"),
    "pasteurize again": _("pasteurize again before it leaves"),
    "rework": _("rework"),
    "sent to another use": _("send to another use"),
    "destroy": _("destroy"),
    "as the regulator wrote": _("as the regulator wrote"),
    "result found nothing": _("the result that it waited for is in"),
    "it did not come in": _("what it waited for did not come in"),
    # why a deviation was opened
    "not met": _("a limit was not met"),
    "not proven": _("a limit was not proven"),
    "missed": _("a check was missed"),
    "legal rule": _("a legal rule was broken"),
    "book": _("the book and the vessel differ"),
    "running rule": _("the running rule of counts"),
    "repeated": _("the same matter had to be put right again"),
    "raised": _("raised from a correction"),
    "outage": _("an outage"),
    # kinds of outage
    "power": _("power"),
    "network": _("network"),
    "daybook": _("this book"),
}

OUTAGES = {"power": _("power outage"), "network": _("network outage"), "daybook": _("daybook outage")}


def outage_in_words(what: str) -> str:
    """'power outage'."""
    return str(OUTAGES.get(what, what))


def in_words(key: str) -> str:
    """The words for a key; a key without words of its own stands as it is."""
    return str(WORDS.get(key, key))
