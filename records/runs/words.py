"""What happens in a run, as pages say it."""

from __future__ import annotations

from django.utils.translation import gettext as _

from records.runs.models import (
    DIVERTED,
    ENDED,
    FORWARD,
    FORWARD_AGAIN,
    NOTE,
    OPENED,
    PRODUCT_CHANGE,
    PRODUCT_IN,
    PRODUCT_OUT,
    SET_UP,
    UNUSUAL,
    WASH,
    RunEvent,
)


def what_words(what: str) -> str:
    """The name of an event in the reader's language."""
    return {
        OPENED: _("start begun"),
        FORWARD: _("forward flow begun, on water"),
        PRODUCT_IN: _("water to product"),
        PRODUCT_CHANGE: _("product changed"),
        SET_UP: _("set-up changed"),
        DIVERTED: _("diverted"),
        FORWARD_AGAIN: _("forward flow again"),
        UNUSUAL: _("unusual occurrence"),
        NOTE: _("note"),
        PRODUCT_OUT: _("product to water"),
        ENDED: _("run ended"),
        WASH: _("wash begun"),
    }.get(what, what)


def state_words(state: str) -> str:
    """The state of a run in the reader's language."""
    return {
        "not started": _("not started"),
        "on water": _("in forward flow, on water"),
        "on product": _("in forward flow, on product"),
        "diverted": _("diverted"),
        "ended": _("ended"),
    }[state]


def words_label(what: str) -> str:
    """What the free words of an event are asked for."""
    return {
        DIVERTED: _("Why it diverted"),
        UNUSUAL: _("What happened, and what was done"),
        NOTE: _("Note"),
        ENDED: _("What the chart says at its end: product and amount of each, anything unusual"),
    }.get(what, _("Note"))


def details(row: RunEvent) -> str:
    """What was said of an event, on one line."""
    parts = [row.product_name] if row.what in (OPENED, SET_UP, PRODUCT_IN, PRODUCT_CHANGE) else []
    if row.set_up_name:
        words = {"name": row.set_up_name, "point": row.set_point}
        parts.append(_("set-up %(name)s, set point %(point)s") % words)
    if row.chart_number:
        parts.append(_("chart %(number)s") % {"number": row.chart_number})
    if row.words:
        mixed = row.what in (PRODUCT_IN, PRODUCT_CHANGE, PRODUCT_OUT)
        parts.append(_("the mixture went to: %(where)s") % {"where": row.words} if mixed else row.words)
    return "; ".join(part for part in parts if part)
