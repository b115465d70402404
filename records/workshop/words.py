"""The words of the workshop's keys in the reader's language. Records keep the English keys."""

from __future__ import annotations

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

WORDS: dict[str, Promise] = {
    # acts on seals
    "applied": _("set"),
    "seen whole": _("seen whole"),
    "renewed": _("renewed"),
    "found broken": _("found broken"),
    "found missing": _("found missing"),
    "broken for work": _("broken for work"),
    # how a seal stands
    "whole": _("whole"),
    "broken": _("broken"),
    "not there": _("not there, or another one"),
    "never recorded": _("never recorded"),
    # what ran in a holding-time test, and what the homogenizer did
    "water": _("water"),
    "product": _("product"),
    "none": _("there is none"),
    "timing pump": _("it is the timing pump"),
    "running": _("running"),
    "bypassed": _("bypassed"),
    # what the regulator was told
    "told": _("told"),
    "form sent": _("written form sent"),
    "answer": _("answered"),
    "telephone": _("telephone"),
    "in person": _("in person"),
    "e-mail": _("e-mail"),
    "fax": _("fax"),
    "mail": _("mail"),
    # kinds of record
    "work done": _("work done"),
    "equipment test": _("equipment test"),
    "holding-time test": _("holding-time test"),
    "seal act": _("seal"),
    "notice to the regulator": _("notice to the regulator"),
    "calibration": _("calibration"),
    # the numbers behind a test's verdict
    "hold_s": _("holding time, s"),
    "set_point": _("set point"),
    "row": _("row"),
    # readings in doubt
    "now not met": _("met as read, not met as corrected"),
    "now met": _("not met as read; a correction never rescues it"),
    "unchanged": _("the same either way"),
}


def in_words(key: str) -> str:
    """The words for a key; a key without words of its own stands as it is."""
    return str(WORDS.get(key, key))
